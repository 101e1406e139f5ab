//! Reports of proposals and of one what-if.

mod answer;
mod effort;
mod row;
mod whatif;

pub use row::{ReasonReport, RowReport, measures};
pub use whatif::WhatIfReport;

use super::around::around_text;
use super::{Around, Page, Report, tidy};
use crate::proposal::{Answer, Proposal, Row};
use effort::pareto_text;
use row::{average_balls, row_text};
use serde::Serialize;

/// The answer to a miss.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[allow(missing_docs)] // the keys are the documentation: name and unit
pub struct ProposalReport {
    /// Number in the bench; none if it was not filed.
    pub proposal: Option<i64>,
    #[serde(flatten)]
    pub around: Around,
    /// `change`, `within_noise`, `too_few`, `not_measured` or `not_the_club`.
    pub answer: &'static str,
    pub more_shots: Option<usize>,
    /// Half-width of the 80 % interval of offline by these shots, if they are too few.
    pub open_80_m: Option<f64>,
    /// What stays open of offline because parts of the launch were not measured.
    pub stays_open_80_m: Option<f64>,
    /// Share of the systematic miss that the best setting cures, 0 to 1.
    pub reach: f64,
    /// 80 % interval of that, if it is not the club.
    pub reach_low: Option<f64>,
    pub reach_high: Option<f64>,
    pub settings: usize,
    /// Those that were predicted exactly; an estimate ruled out the others.
    pub settings_predicted: usize,
    pub settings_held_back: usize,
    /// Parts that are not at hand, with the settings that this ruled out.
    pub missing_parts: Vec<MissingReport>,
    /// The best change for each way of undoing it, easiest first, as far as more effort buys more.
    pub pareto: Vec<RowReport>,
    pub deliveries_each: usize,
    /// How many of the first rows cannot be told from one another.
    pub tied_rows: usize,
    pub now: RowReport,
    pub rows: Vec<RowReport>,
}

impl ProposalReport {
    /// From a proposal; `describe` gives a setting in words and in the form of a build file.
    pub fn new(
        p: &Proposal,
        around: Around,
        describe: impl Fn(&Row) -> (String, serde_json::Value),
    ) -> ProposalReport {
        let hand = around.hand;
        let row = |rank: usize, r: &Row| {
            let (words, file) = describe(r);
            RowReport::new(rank, r, &p.now, hand, words, file)
        };
        let ends = match p.answer {
            Answer::NotTheClub { low, high, .. } => Some([low, high]),
            _ => None,
        };
        let answer = match p.answer {
            Answer::Change => "change",
            Answer::WithinNoise => "within_noise",
            Answer::TooFew { .. } => "too_few",
            Answer::NotMeasured { .. } => "not_measured",
            Answer::NotTheClub { .. } => "not_the_club",
        };
        let (more_shots, open, stays) = match p.answer {
            Answer::TooFew { more, open } => (Some(more), Some(open), None),
            Answer::NotMeasured { stays } => (None, None, Some(stays)),
            _ => (None, None, None),
        };
        ProposalReport {
            proposal: None,
            answer,
            more_shots,
            open_80_m: open.map(tidy),
            stays_open_80_m: stays.map(tidy),
            tied_rows: p.tied,
            reach: tidy(p.reach),
            reach_low: ends.map(|e| tidy(e[0])),
            reach_high: ends.map(|e| tidy(e[1])),
            settings: p.settings,
            settings_predicted: p.predicted,
            settings_held_back: p.held_back,
            missing_parts: p
                .missing
                .iter()
                .map(|(part, settings)| MissingReport {
                    part: part.to_string(),
                    settings: *settings,
                })
                .collect(),
            pareto: (p.pareto.iter().enumerate())
                .map(|(i, r)| row(i, r))
                .collect(),
            deliveries_each: p.deliveries,
            now: row(0, &p.now),
            rows: p
                .rows
                .iter()
                .enumerate()
                .map(|(i, r)| row(i + 1, r))
                .collect(),
            around,
        }
    }
}

impl Report for ProposalReport {
    fn text(&self, page: &mut Page) {
        let number = self.proposal.map_or(String::new(), |n| format!(" {n}"));
        page.heading(&format!(
            "Proposal{number} for {}, {} ({})",
            self.around.player, self.around.build, self.around.head
        ));
        page.answer(&self.verdict(page));
        around_text(&self.around, page);
        average_balls(
            "now (0) and after",
            [&self.now].into_iter().chain(&self.rows),
            page,
        );
        if self.answer != "change" && self.settings_predicted > 1 {
            page.line("");
            page.line(match &self.rows[..] {
                [] => "No kind of change is likely to pay; --every-kind shows what each does.",
                rows if rows.iter().all(|r| r.cures_percent <= 0.0) => {
                    "What there is makes it no better:"
                }
                _ if self.answer == "not_the_club" => "The best there is, which is no cure:",
                _ => "The best there is, by what is known:",
            });
        }
        for r in &self.rows {
            row_text(r, &self.around, page);
        }
        if self.tied_rows > 1 {
            page.line("");
            page.line(&format!(
                "Rows 1 to {} cannot be told apart by what is known: the easiest to undo is first, \
                 of these the one of least work, steps and swing weight together.",
                self.tied_rows
            ));
        }
        pareto_text(&self.pareto, page);
        if self.settings > 1 {
            page.line("");
            let missing: usize = self.missing_parts.iter().map(|m| m.settings).sum();
            let out = self.settings_held_back + missing + self.settings_predicted;
            let mut ruled = vec![format!("{} by your limits", self.settings_held_back)];
            if missing > 0 {
                ruled.push(format!("{missing} by parts that are not at hand"));
            }
            ruled.push(format!(
                "{} by an estimate",
                self.settings.saturating_sub(out)
            ));
            page.line(&format!(
                "{} settings, ruled out {}; {} predicted exactly with {} deliveries each; 80 % \
                 intervals.",
                self.settings,
                ruled.join(", "),
                self.settings_predicted,
                self.deliveries_each
            ));
        }
        if !self.missing_parts.is_empty() {
            let list = self.missing_parts.iter();
            let list: Vec<String> = list
                .map(|m| format!("{} ({} settings)", m.part, m.settings))
                .collect();
            page.line(&format!("Not at hand: {}.", list.join(", ")));
        }
        let mut all: Vec<&String> = Vec::new();
        for c in self
            .rows
            .iter()
            .chain(&self.pareto)
            .flat_map(|r| &r.cautions)
        {
            if !all.contains(&c) {
                all.push(c);
            }
        }
        if !all.is_empty() {
            page.heading("Mind");
            for c in all {
                page.caution(c);
            }
        }
    }
}

/// A part that is not at hand.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[allow(missing_docs)] // the keys are the documentation: name and unit
pub struct MissingReport {
    pub part: String,
    /// Settings that this ruled out.
    pub settings: usize,
}
