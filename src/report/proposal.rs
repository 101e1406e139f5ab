//! Reports of proposals and of one what-if.

use super::{Page, Range80, Report, signed, tidy};
use crate::hand::Hand;
use crate::proposal::{Answer, Proposal, Row, Undo};
use crate::units::{DEG, RPM, YARD};
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
    /// Names of the sessions that it rests on; none if it rests on words.
    pub sessions: Vec<String>,
    pub assumed: Vec<String>,
    pub model_version: Option<u32>,
    pub correction_in_use: Vec<String>,
}

/// One setting with its prediction.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[allow(missing_docs)] // the keys are the documentation: name and unit
pub struct RowReport {
    pub rank: usize,
    pub steps: Vec<String>,
    pub setting: String,
    /// In the form of a build file.
    pub setting_file: serde_json::Value,
    pub start_m: Range80,
    pub curve_m: Range80,
    pub offline_m: Range80,
    pub offline_change_m: Range80,
    pub carry_m: Range80,
    pub apex_m: Range80,
    pub spin_rate_rpm: Range80,
    pub landing_angle_deg: f64,
    pub offline_spread_m: f64,
    pub expected_loss_m: f64,
    pub helps_probability: f64,
    pub swing_weight: String,
    pub swing_weight_change_points: f64,
    pub head_mass_g: f64,
    pub head_mass_change_g: f64,
    pub undo: Undo,
    pub cautions: Vec<String>,
}

impl RowReport {
    /// From a row in the right-handed frame, against the row of the present setting.
    pub fn new(
        rank: usize,
        row: &Row,
        now: &Row,
        hand: Hand,
        setting: String,
        setting_file: serde_json::Value,
    ) -> RowReport {
        let s = hand.sign();
        RowReport {
            rank,
            steps: row.steps.iter().map(|s| s.instruction.clone()).collect(),
            setting,
            setting_file,
            start_m: Range80::of(&row.ground[0], s),
            curve_m: Range80::of(&row.ground[1], s),
            offline_m: Range80::of(&row.offline, s),
            offline_change_m: Range80::of(&row.offline_change, s),
            carry_m: Range80::of(&row.ground[2], 1.0),
            apex_m: Range80::of(&row.ground[3], 1.0),
            spin_rate_rpm: Range80::of(&row.spin_rate, 1.0 / RPM),
            landing_angle_deg: tidy(row.outcome.landing_angle / DEG),
            offline_spread_m: tidy(row.outcome.offline_sd),
            expected_loss_m: tidy(row.loss),
            helps_probability: tidy(row.helps),
            swing_weight: row.swing_weight.to_string(),
            swing_weight_change_points: tidy(row.swing_weight.0 - now.swing_weight.0),
            head_mass_g: tidy(row.head_mass * 1e3),
            head_mass_change_g: tidy((row.head_mass - now.head_mass) * 1e3),
            undo: row.undo,
            cautions: row.cautions.clone(),
        }
    }
}

/// The answer to a miss.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[allow(missing_docs)] // the keys are the documentation: name and unit
pub struct ProposalReport {
    /// Number in the bench; none if it was not filed.
    pub proposal: Option<i64>,
    #[serde(flatten)]
    pub around: Around,
    /// `change`, `within_noise`, `too_few` or `not_the_club`.
    pub answer: &'static str,
    pub more_shots: Option<usize>,
    /// Share of the systematic miss that the best setting cures, 0 to 1.
    pub reach: f64,
    pub settings: usize,
    pub settings_held_back: usize,
    pub deliveries_each: usize,
    pub now: RowReport,
    pub rows: Vec<RowReport>,
}

impl ProposalReport {
    /// From a proposal; `describe` gives a setting in words and in the form of a build file.
    pub fn new(
        p: &Proposal,
        around: Around,
        describe: impl Fn(&crate::head::Setting) -> (String, serde_json::Value),
    ) -> ProposalReport {
        let hand = around.hand;
        let row = |rank: usize, r: &Row| {
            let (words, file) = describe(&r.setting);
            RowReport::new(rank, r, &p.now, hand, words, file)
        };
        let (answer, more_shots) = match p.answer {
            Answer::Change => ("change", None),
            Answer::WithinNoise => ("within_noise", None),
            Answer::TooFew { more } => ("too_few", Some(more)),
            Answer::NotTheClub { .. } => ("not_the_club", None),
        };
        ProposalReport {
            proposal: None,
            answer,
            more_shots,
            reach: tidy(p.reach),
            settings: p.settings,
            settings_held_back: p.held_back,
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

    fn verdict(&self) -> String {
        match self.answer {
            "within_noise" => {
                "Nothing: the miss is within noise, or smaller than a change is worth.".into()
            }
            "too_few" => format!(
                "Too few shots to say: hit {} more, then ask again.",
                self.more_shots.unwrap_or(0)
            ),
            "not_the_club" => format!(
                "Not the club: its levers reach only {:.0} % of this miss. What remains is path, \
                 face or strike.",
                self.reach * 100.0
            ),
            _ => match self.rows.first() {
                Some(r) => {
                    let mut text = r.steps.join("; then ");
                    if let Some(first) = text.get_mut(0..1) {
                        first.make_ascii_uppercase();
                    }
                    format!("{text}.")
                }
                None => "The limits that were set leave no other setting.".into(),
            },
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
        page.answer(&self.verdict());
        page.line(&format!("From {}.", self.around.evidence));
        for a in &self.around.assumed {
            page.indented("- ", a);
        }
        page.line(&correction_line(&self.around));
        let mut rows = vec![cells(&self.now, page)];
        rows.extend(self.rows.iter().map(|r| cells(r, page)));
        page.heading(&format!(
            "Average ball, now (0) and after ({})",
            page.length_unit()
        ));
        page.table(
            &[
                "", "start", "curve", "offline", "carry", "height", "spin", "helps", "swing",
                "mass",
            ],
            &rows,
            1,
        );
        for r in &self.rows {
            row_text(r, page);
        }
        if self.settings > 1 {
            page.line("");
            page.line(&format!(
                "{} settings, {} deliveries each; {} held back by your limits; 80 % intervals.",
                self.settings, self.deliveries_each, self.settings_held_back
            ));
        }
        let mut all: Vec<&String> = Vec::new();
        for c in self.rows.iter().flat_map(|r| &r.cautions) {
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

fn correction_line(a: &Around) -> String {
    match a.model_version {
        None => "Bare physics, without a learned correction.".into(),
        Some(v) if a.correction_in_use.is_empty() => {
            format!("Bare physics: model {v} does not beat it on held-out sessions.")
        }
        Some(v) => format!(
            "Learned correction of model {v} for {}.",
            a.correction_in_use.join(", ")
        ),
    }
}

fn cells(r: &RowReport, page: &Page) -> Vec<String> {
    let helps = if r.rank == 0 {
        String::new()
    } else {
        format!("{:.0} %", r.helps_probability * 100.0)
    };
    vec![
        r.rank.to_string(),
        page.side(r.start_m.mean),
        page.side(r.curve_m.mean),
        page.side(r.offline_m.mean),
        format!("{:.0}", page.in_unit(r.carry_m.mean)),
        format!("{:.0}", page.in_unit(r.apex_m.mean)),
        format!("{:.0}", r.spin_rate_rpm.mean),
        helps,
        r.swing_weight.clone(),
        format!("{:.0} g", r.head_mass_g),
    ]
}

fn row_text(r: &RowReport, page: &mut Page) {
    page.line("");
    let mark = format!("{}. ", r.rank);
    let steps = match r.steps.is_empty() {
        true => "nothing changes".to_string(),
        false => r.steps.join("; then "),
    };
    page.indented(&mark, &steps);
    let between = |i: &Range80| {
        format!(
            "{} to {}",
            page.side(i.low).trim(),
            page.side(i.high).trim()
        )
    };
    let plain = |i: &Range80| format!("{:.0} to {:.0}", page.in_unit(i.low), page.in_unit(i.high));
    let text = format!(
        "lands {} ({}); moves it {} ({}); start {}, curve {}; carry {}, height {}, spin {:.0} to {:.0}",
        page.sideways(r.offline_m.mean),
        between(&r.offline_m),
        page.sideways(r.offline_change_m.mean),
        between(&r.offline_change_m),
        between(&r.start_m),
        between(&r.curve_m),
        plain(&r.carry_m),
        plain(&r.apex_m),
        r.spin_rate_rpm.low,
        r.spin_rate_rpm.high,
    );
    page.indented("   ", &text);
    page.indented(
        "   ",
        &format!(
            "swing weight {} ({}), head {:.1} g ({}); undo: {}",
            r.swing_weight,
            signed(r.swing_weight_change_points, 1),
            r.head_mass_g,
            signed(r.head_mass_change_g, 1),
            r.undo
        ),
    );
}

/// One given setting against the present one.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[allow(missing_docs)] // the keys are the documentation: name and unit
pub struct WhatIfReport {
    #[serde(flatten)]
    pub around: Around,
    pub now: RowReport,
    pub then: RowReport,
}

impl Report for WhatIfReport {
    fn text(&self, page: &mut Page) {
        page.heading(&format!(
            "What if? {}, {}",
            self.around.player, self.around.build
        ));
        let change = &self.then.offline_change_m;
        page.answer(&if change.mean.abs() < 0.05 * YARD {
            "It hardly moves the ball sideways.".to_string()
        } else {
            format!(
                "It moves the ball {} ({} to {}); helps with {:.0} %.",
                page.sideways(change.mean),
                page.sideways(change.low),
                page.sideways(change.high),
                self.then.helps_probability * 100.0
            )
        });
        page.line(&format!("From {}.", self.around.evidence));
        page.line(&correction_line(&self.around));
        page.heading(&format!(
            "Average ball, now (0) and then (1) ({})",
            page.length_unit()
        ));
        page.table(
            &[
                "", "start", "curve", "offline", "carry", "height", "spin", "helps", "swing",
                "mass",
            ],
            &[cells(&self.now, page), cells(&self.then, page)],
            1,
        );
        row_text(&self.then, page);
        if !self.then.cautions.is_empty() {
            page.heading("Mind");
            for c in &self.then.cautions {
                page.caution(c);
            }
        }
    }
}
