//! Reports: what a result looks like to a person, and to a program.
//!
//! Each report is a plain value with the unit in every key. It turns into JSON as it is, and into
//! text of at most 80 columns by [`Report::text`]. Values are in the player's real-world frame
//! (right positive): the core's right-handed results are turned back here, once, by
//! [`crate::hand::Hand::sign`]. Reports never compute physics and never print.

mod around;
mod blame;
mod card;
mod flown;
mod learned;
mod page;
mod plan;
mod proposal;
mod tendency;
mod understood;
mod verdict;
mod wanted;

pub use around::{Around, mixed_air_warning, other_days_warning};
pub use blame::{BlameReport, PartReport, ShareReport, blame_sentence, wind_warning};
pub use card::{Card, CardBall, CardBuild, CardCheck};
pub use flown::FlownReport;
pub use learned::{
    DriftReport, FlaggedReport, GroundReport, LearnedReport, LeverWorth, ResponseReport,
    ScoreReport, lever_worths,
};
pub use page::{Page, Units, WIDTH};
pub use plan::{LessonReport, PlanReport, ShotsReport};
pub use proposal::{
    MissingReport, ProposalReport, ReasonReport, RowReport, WhatIfReport, measures,
};
pub use tendency::{
    DeviceReport, FigureReport, FlagReport, MissReport, TendencyReport, device_warnings,
};
pub use understood::{TakenReport, Understood};
pub use verdict::{ChangeReport, VerdictReport, filed_words, outcome_words};
pub use wanted::Wanted;

use serde::Serialize;

/// Something that can be shown as text and as JSON.
pub trait Report: Serialize {
    /// Writes the report onto a page.
    fn text(&self, page: &mut Page);
}

/// A mean with an 80 % interval, in the unit that its key names.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Range80 {
    /// Mean.
    pub mean: f64,
    /// 10 % quantile.
    pub low: f64,
    /// 90 % quantile.
    pub high: f64,
}

impl Range80 {
    /// From an interval, with each end multiplied by `factor`; a negative one swaps the ends.
    pub fn of(i: &crate::proposal::Interval, factor: f64) -> Range80 {
        let (a, b) = (i.low * factor, i.high * factor);
        Range80 {
            mean: tidy(i.mean * factor),
            low: tidy(a.min(b)),
            high: tidy(a.max(b)),
        }
    }

    /// As a filed report has it; none if it has none.
    pub fn filed(v: &serde_json::Value) -> Option<Range80> {
        Some(Range80 {
            mean: v["mean"].as_f64()?,
            low: v["low"].as_f64()?,
            high: v["high"].as_f64()?,
        })
    }

    /// A right-positive length (m) in words, with the ends in brackets.
    pub fn sideways(&self, page: &Page) -> String {
        let [mean, low, high] = [self.mean, self.low, self.high].map(|v| page.sideways(v));
        format!("{mean} ({low} to {high})")
    }
}

/// A number with its sign and so many digits; what rounds to nothing is `+0`.
pub(crate) fn signed(v: f64, digits: usize) -> String {
    format!("{:+.digits$}", no_small(v, digits))
}

/// A number with so many digits; what rounds to nothing is `0`, not `-0`.
pub(crate) fn fixed(v: f64, digits: usize) -> String {
    format!("{:.digits$}", no_small(v, digits))
}

fn no_small(v: f64, digits: usize) -> f64 {
    let nothing = v.abs() < 0.5 * 10f64.powi(-(digits as i32));
    if nothing { 0.0 } else { v }
}

/// Rounds for output: nine significant digits, and no negative zero.
pub(crate) fn tidy(v: f64) -> f64 {
    if v == 0.0 || !v.is_finite() {
        return if v == 0.0 { 0.0 } else { v };
    }
    let scale = 10f64.powi(8 - v.abs().log10().floor() as i32);
    (v * scale).round() / scale + 0.0
}
