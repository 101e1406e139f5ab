//! Who and what a proposal is about, and what it rests on.

use super::learned::{listed, response_name};
use super::{FlownReport, Page, Understood, Wanted};
use crate::flight::{Conditions, Wind};
use crate::hand::Hand;
use crate::hosel::Attitude;
use serde::Serialize;

/// Who and what a proposal is about.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[allow(missing_docs)] // the keys are the documentation: name and unit
pub struct Around {
    pub player: String,
    pub hand: Hand,
    pub build: String,
    pub head: String,
    pub evidence: String,
    /// A miss in words, as it was understood.
    pub understood: Option<Understood>,
    /// Where the player wants the start line to pass at landing distance.
    pub aim_start_m: f64,
    /// Curve that the player wants.
    pub aim_curve_m: f64,
    /// What the player wants beyond that.
    pub wanted: Wanted,
    /// What shares of the miss are shares of: the line, and what else was asked for, weighed.
    pub miss_in: Vec<&'static str>,
    /// Who decides the head's attitude when the sleeve is turned.
    pub attitude: Attitude,
    /// The shots were flown again without wind.
    pub calm: bool,
    /// The wind across moves the ball by more than a change is worth: settings are for that wind.
    pub wind_across: bool,
    /// Names of the sessions that it rests on; none if it rests on words.
    pub sessions: Vec<String>,
    pub model_version: Option<u32>,
    pub correction_in_use: Vec<String>,
    /// What the ball does and why, from logged shots.
    pub cause: Option<String>,
    /// The ball that flies as the device shows it, if the sessions show it.
    pub flown_as_shown: Option<FlownReport>,
    /// What speaks against the data that it rests on.
    pub warnings: Vec<String>,
}

impl Around {
    /// The miss, with what it is measured in if that is not the line alone.
    pub(super) fn miss(&self) -> String {
        match &self.miss_in[..] {
            [] | ["line"] => "the miss".into(),
            [only] => format!("the miss in {only}"),
            [first @ .., last] => format!("the miss in {} and {last}", first.join(", ")),
        }
    }

    /// Where the ball should land, m.
    pub(super) fn aim_offline_m(&self) -> f64 {
        self.aim_start_m + self.aim_curve_m
    }

    /// Whether a ball that lands so far to the right, m, is in the fairway that the player has.
    pub(super) fn in_the_fairway(&self, offline_m: f64) -> bool {
        (offline_m - self.aim_offline_m()).abs() < 0.5 * self.wanted.fairway_m
    }

    /// Whether all that was asked for is where the ball starts, curves and lands.
    pub(super) fn sideways_only(&self) -> bool {
        let sideways = ["line", "start", "curve"];
        self.miss_in.iter().all(|m| sideways.contains(m))
    }
}

/// What a prediction rests on.
pub(super) fn around_text(a: &Around, page: &mut Page) {
    page.line(&format!("From {}.", a.evidence));
    if let Some(cause) = &a.cause {
        page.line(cause);
    }
    if a.aim_start_m != 0.0 || a.aim_curve_m != 0.0 {
        let (start, curve) = (page.sideways(a.aim_start_m), page.sideways(a.aim_curve_m));
        let window = a.wanted.start_from_m.or(a.wanted.start_to_m).is_some();
        page.line(&match window {
            true => format!(
                "The player's aim: lands {}, curves {curve}.",
                page.sideways(a.aim_offline_m())
            ),
            false => format!("The player's aim: starts {start}, curves {curve}."),
        });
    }
    a.wanted.text(page);
    if let Some(u) = &a.understood {
        u.text(page);
    }
    page.line(&correction_line(a));
    if let Some(flown) = &a.flown_as_shown {
        flown.text(page);
    }
    for w in &a.warnings {
        page.caution(w);
    }
}

fn correction_line(a: &Around) -> String {
    match a.model_version {
        None => "Bare physics, without a learned correction.".into(),
        Some(v) if a.correction_in_use.is_empty() => {
            format!("Bare physics: model {v} does not beat it on held-out sessions.")
        }
        Some(v) => format!(
            "Learned correction of model {v} for {}.",
            listed(
                &a.correction_in_use
                    .iter()
                    .map(|r| response_name(r))
                    .collect::<Vec<_>>()
            )
        ),
    }
}

/// What to mind where sessions were hit in different air or wind and flown again in `conditions`.
pub fn mixed_air_warning(conditions: &Conditions) -> String {
    let wind = match conditions.wind == Wind::default() {
        true => ", without wind; that is as good as the air and wind that were logged",
        false => "; that is as good as the air that was logged",
    };
    format!(
        "these sessions were not hit in one air and wind: all shots are flown again in the air of the \
         latest{wind}"
    )
}

/// What to mind where sessions of earlier days were left out; none if there are none.
pub fn other_days_warning(left_out: &[String]) -> Option<String> {
    (!left_out.is_empty()).then(|| {
        format!(
            "left out, as the ball did something else than on the latest day, by more than days \
             differ: {}; --session takes what you name",
            listed(left_out)
        )
    })
}
