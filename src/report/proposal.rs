//! Reports of proposals and of one what-if.

use super::around::around_text;
use super::row::{cells, row_text};
use super::{Around, Page, Report, RowReport, signed, tidy};
use crate::proposal::{Answer, Proposal, Row};
use crate::units::YARD;
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

    /// By what the search was narrowed, if limits or want of parts ruled settings out.
    fn narrowed(&self) -> Option<&'static str> {
        match (self.settings_held_back > 0, !self.missing_parts.is_empty()) {
            (true, true) => Some("within your limits and with the parts at hand"),
            (true, false) => Some("within your limits"),
            (false, true) => Some("with the parts at hand"),
            (false, false) => None,
        }
    }

    fn verdict(&self, page: &Page) -> String {
        match self.answer {
            "not_measured" => format!(
                "Can't say: launch direction or spin axis was not measured, and that leaves {} \
                 of offline open either way, however many shots are hit.",
                page.length(self.stays_open_80_m.unwrap_or(0.0))
            ),
            "within_noise" if self.settings_predicted > 1 => {
                "Nothing: no change takes away enough to be worth its work and its risk.".into()
            }
            "within_noise" if self.around.sessions.is_empty() => {
                "Nothing: what was said is off by less than a change is worth.".into()
            }
            "within_noise" => {
                "Nothing: where the ball lands is off by no more than noise, or by less than a \
                 change is worth."
                    .into()
            }
            "too_few" => format!(
                "Too few shots to say where the ball lands on average: it is known to {} either way. \
                 Hit {} more, then ask again.",
                page.length(self.open_80_m.unwrap_or(0.0)),
                self.more_shots.unwrap_or(0)
            ),
            "not_the_club" if self.around.miss_in.is_empty() => {
                "Nothing: what was asked for has no weight.".into()
            }
            "not_the_club" => {
                let shown = self
                    .rows
                    .iter()
                    .map(|r| r.cures_percent)
                    .fold(0.0, f64::max);
                let pays = if self.rows.is_empty() {
                    ", and none of that pays".to_string()
                } else {
                    format!(", and {shown:.0} % with what pays")
                };
                let percent = |share: Option<f64>| share.unwrap_or(self.reach) * 100.0;
                let (first, last) = match self.narrowed() {
                    Some(how) => (
                        format!("Not {how}: what that leaves takes away"),
                        "Whether it is the club, a search without that tells",
                    ),
                    None => (
                        "Not the club: its levers take away".into(),
                        match self.around.sideways_only() {
                            true => "What remains is path, face or strike",
                            false => "What remains is the swing, or another head or loft",
                        },
                    ),
                };
                format!(
                    "{first} {:.0} % of {} at best ({:.0} to {:.0} %){pays}. {last}.",
                    self.reach * 100.0,
                    self.around.miss(),
                    percent(self.reach_low),
                    percent(self.reach_high)
                )
            }
            _ => match self.rows.first() {
                Some(r) => {
                    let mut text = r.steps.join("; then ");
                    if let Some(first) = text.get_mut(0..1) {
                        first.make_ascii_uppercase();
                    }
                    format!("{text}.")
                }
                None if self.settings_predicted <= 1 => {
                    "Limits and parts at hand leave no other setting.".into()
                }
                None => "Nothing: no setting is likely to help.".into(),
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
        page.answer(&self.verdict(page));
        around_text(&self.around, page);
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

/// Effect against ease of undoing.
fn pareto_text(rows: &[RowReport], page: &mut Page) {
    if rows.is_empty() {
        return;
    }
    page.heading("Effect against ease of undoing: more only for more");
    let letter = |i: usize| char::from(b'a' + u8::try_from(i).unwrap_or(25).min(25));
    let cells: Vec<Vec<String>> = rows
        .iter()
        .enumerate()
        .map(|(i, r)| {
            let start = i == 0 && r.steps.is_empty();
            let percent = |v: f64| format!("{v:.0} %");
            vec![
                letter(i).to_string(),
                r.undo.to_string(),
                page.side(r.offline_m.mean),
                percent(r.cures_percent),
                if start {
                    String::new()
                } else {
                    percent(100.0 * r.helps_probability)
                },
                format!("{:.1}", page.in_unit(r.expected_loss_m)),
                signed(r.swing_weight_change_points, 1),
                signed(r.head_mass_change_g, 1),
            ]
        })
        .collect();
    page.table(
        &[
            "",
            "undo",
            "lands",
            "takes away",
            "helps",
            "loss",
            "points",
            "g",
        ],
        &cells,
        2,
    );
    page.line(&format!(
        "Loss: so many {} off the line a straight ball without spread costs as much.",
        page.length_unit()
    ));
    for (i, r) in rows.iter().enumerate() {
        let steps = match r.steps.is_empty() {
            true => "leave it as it is".to_string(),
            false => r.steps.join("; then "),
        };
        page.indented(&format!("{}. ", letter(i)), &steps);
    }
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
        around_text(&self.around, page);
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
        row_text(&self.then, &self.around, page);
        if !self.then.cautions.is_empty() {
            page.heading("Mind");
            for c in &self.then.cautions {
                page.caution(c);
            }
        }
    }
}
