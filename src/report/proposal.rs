//! Reports of proposals and of one what-if.

use super::{Page, Range80, Report, signed, tidy};
use crate::delivery::COMPONENTS;
use crate::hand::Hand;
use crate::hosel::Attitude;
use crate::miss::Complaint;
use crate::proposal::{Answer, Goal, Proposal, Reason, Row, Undo, Words};
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
    /// A miss in words, as it was understood.
    pub understood: Option<Understood>,
    /// Where the player wants the start line to pass at landing distance.
    pub aim_start_m: f64,
    /// Curve that the player wants.
    pub aim_curve_m: f64,
    /// Who decides the head's attitude when the sleeve is turned.
    pub attitude: Attitude,
    /// Names of the sessions that it rests on; none if it rests on words.
    pub sessions: Vec<String>,
    pub model_version: Option<u32>,
    pub correction_in_use: Vec<String>,
    /// What the ball does and why, from logged shots.
    pub cause: Option<String>,
    /// What speaks against the data that it rests on.
    pub warnings: Vec<String>,
}

/// A miss in words, as it was understood and as it is taken.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Understood {
    /// Start, curve, offline, carry, apex, spin rate.
    pub figures: Vec<TakenReport>,
    /// `high` or `low`, of the height.
    pub height: Option<&'static str>,
    /// The same of the spin.
    pub spin: Option<&'static str>,
    /// Height that is wanted instead, if the height is part of the complaint.
    pub wanted_apex_m: Option<f64>,
    /// Spin that is wanted instead, if the spin is part of the complaint.
    pub wanted_spin_rate_rpm: Option<f64>,
    /// Parts of the swing that the words take and that are rare, in words.
    pub rare: Vec<String>,
}

/// A figure as it was said and as it is taken, in the unit that `figure` ends in.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[allow(missing_docs)]
pub struct TakenReport {
    pub figure: &'static str,
    pub said: Option<f64>,
    /// Only a direction was said, the amount is assumed.
    pub amount_assumed: bool,
    pub taken: f64,
}

impl Understood {
    /// From words in the right-handed frame.
    pub fn new(words: &Words, goal: &Goal, hand: Hand) -> Understood {
        let figures = words.figures.iter().map(|f| {
            let (figure, factor) = match f.name {
                "start" => ("start_m", hand.sign()),
                "curve" => ("curve_m", hand.sign()),
                "offline" => ("offline_m", hand.sign()),
                "carry" => ("carry_m", 1.0),
                "apex" => ("apex_m", 1.0),
                _ => ("spin_rate_rpm", 1.0 / RPM),
            };
            TakenReport {
                figure,
                said: f.said.map(|v| tidy(v * factor)),
                amount_assumed: f.assumed,
                taken: tidy(f.taken * factor),
            }
        });
        let level = |c: Complaint| match c {
            Complaint::High => "high",
            Complaint::Low => "low",
        };
        let rare = words.rare.iter().map(|&(i, v)| {
            let q = COMPONENTS[i];
            let v = if q.info().mirrored {
                v * hand.sign()
            } else {
                v
            };
            let v = signed(v / q.unit_size(), 1);
            let unit = q.info().unit.replace('_', "/");
            format!("{} {v} {unit}", q.info().name.replace('_', " "))
        });
        Understood {
            figures: figures.collect(),
            height: words.height.map(level),
            spin: words.spin.map(level),
            wanted_apex_m: goal.apex.map(|w| tidy(w.low)),
            wanted_spin_rate_rpm: goal.spin_rate.map(|w| tidy(w.low / RPM)),
            rare: rare.collect(),
        }
    }

    fn text(&self, page: &mut Page) {
        let name = |f: &TakenReport| match f.figure {
            "start_m" => "start line",
            "curve_m" => "curve",
            "offline_m" => "offline",
            "carry_m" => "carry",
            "apex_m" => "height",
            _ => "spin",
        };
        let value = |f: &TakenReport, v: f64, page: &Page| match f.figure {
            "start_m" | "curve_m" | "offline_m" => page.sideways(v),
            "spin_rate_rpm" => format!("{v:.0} rpm"),
            _ => page.length(v),
        };
        let mut said: Vec<String> = Vec::new();
        let mut open: Vec<String> = Vec::new();
        let mut gaps: Vec<String> = Vec::new();
        let carry = self.figures.iter().find(|f| f.figure == "carry_m");
        let hair = carry.map_or(1.0, |f| 0.004 * f.taken);
        for f in &self.figures {
            let Some(v) = f.said else {
                open.push(format!("{} {}", name(f), value(f, f.taken, page)));
                continue;
            };
            let assumed = if f.amount_assumed {
                " (amount assumed)"
            } else {
                ""
            };
            said.push(format!("{} {}{assumed}", name(f), value(f, v, page)));
            let small = if f.figure == "spin_rate_rpm" {
                100.0
            } else {
                hair
            };
            if !f.amount_assumed && (v - f.taken).abs() > (0.05 * v.abs()).max(small) {
                gaps.push(format!(
                    "{} {} was said; the nearest usual swing gives {}",
                    name(f),
                    value(f, v, page),
                    value(f, f.taken, page)
                ));
            }
        }
        said.extend(self.height.map(|h| format!("too {h}")));
        said.extend(
            self.spin
                .map(|s| format!("too {} spin", if s == "high" { "much" } else { "little" })),
        );
        page.line(&format!("Understood: {}.", said.join(", ")));
        page.line(&format!(
            "Not said, so taken from the usual: {}.",
            open.join(", ")
        ));
        let mut wanted: Vec<String> = Vec::new();
        wanted.extend(
            self.wanted_apex_m
                .map(|v| format!("height {}", page.length(v))),
        );
        wanted.extend(
            self.wanted_spin_rate_rpm
                .map(|v| format!("spin {v:.0} rpm")),
        );
        if !wanted.is_empty() {
            page.line(&format!("Wanted: {}.", wanted.join(", ")));
        }
        for g in gaps {
            page.indented("- ", &g);
        }
        if !self.rare.is_empty() {
            page.indented(
                "- ",
                &format!(
                    "that takes a rare swing ({}): check the numbers, or log shots",
                    self.rare.join(", ")
                ),
            );
        }
    }
}

/// A share of what a change does.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[allow(missing_docs)] // the keys are the documentation: name and unit
pub struct ReasonReport {
    pub reason: Reason,
    pub offline_m: f64,
    pub carry_m: f64,
    pub apex_m: f64,
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
    /// That the ball lands farther off on average, by more than a yard or so.
    pub harms_probability: f64,
    /// Share of the systematic miss that it takes away.
    pub cures_percent: f64,
    /// What each thing that the change does adds to the change, in shares that add up.
    pub reasons: Vec<ReasonReport>,
    /// Where the ball lands if the player squares the face after a turn of the sleeve.
    pub offline_if_squared_m: Option<f64>,
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
            harms_probability: tidy(row.harms),
            cures_percent: tidy(100.0 * row.cures),
            reasons: Reason::ALL
                .iter()
                .zip(&row.reasons)
                .map(|(reason, g)| ReasonReport {
                    reason: *reason,
                    offline_m: tidy((g[0] + g[1]) * s),
                    carry_m: tidy(g[2]),
                    apex_m: tidy(g[3]),
                })
                .collect(),
            offline_if_squared_m: row.squared.map(|v| tidy(v * s)),
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
    /// `change`, `within_noise`, `too_few`, `not_measured` or `not_the_club`.
    pub answer: &'static str,
    pub more_shots: Option<usize>,
    /// What stays open of offline because parts of the launch were not measured.
    pub stays_open_80_m: Option<f64>,
    /// Share of the systematic miss that the best setting cures, 0 to 1.
    pub reach: f64,
    pub settings: usize,
    /// Those that were predicted exactly; an estimate ruled out the others.
    pub settings_predicted: usize,
    pub settings_held_back: usize,
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
        describe: impl Fn(&crate::head::Setting) -> (String, serde_json::Value),
    ) -> ProposalReport {
        let hand = around.hand;
        let row = |rank: usize, r: &Row| {
            let (words, file) = describe(&r.setting);
            RowReport::new(rank, r, &p.now, hand, words, file)
        };
        let (answer, more_shots, stays) = match p.answer {
            Answer::Change => ("change", None, None),
            Answer::WithinNoise => ("within_noise", None, None),
            Answer::TooFew { more } => ("too_few", Some(more), None),
            Answer::NotMeasured { stays } => ("not_measured", None, Some(stays)),
            Answer::NotTheClub { .. } => ("not_the_club", None, None),
        };
        ProposalReport {
            proposal: None,
            answer,
            more_shots,
            stays_open_80_m: stays.map(tidy),
            tied_rows: p.tied,
            reach: tidy(p.reach),
            settings: p.settings,
            settings_predicted: p.predicted,
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

    fn verdict(&self, page: &Page) -> String {
        match self.answer {
            "not_measured" => format!(
                "Can't say: launch direction or spin axis was not measured, and that leaves {} \
                 of offline open either way, however many shots are hit.",
                page.length(self.stays_open_80_m.unwrap_or(0.0))
            ),
            "within_noise" => {
                "Nothing: the miss is within noise, or smaller than a change is worth.".into()
            }
            "too_few" => format!(
                "Too few shots to say: hit {} more, then ask again.",
                self.more_shots.unwrap_or(0)
            ),
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
                format!(
                    "Not the club: its levers take away {:.0} % of this miss at best{pays}. What \
                     remains is path, face or strike.",
                    self.reach * 100.0
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
                None if self.settings_held_back + 1 >= self.settings => {
                    "The limits that were set leave no other setting.".into()
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
        if self.answer != "change" && !self.rows.is_empty() {
            page.line("");
            page.line("The best there is, which is no cure:");
        }
        for r in &self.rows {
            row_text(r, page);
        }
        if self.tied_rows > 1 {
            page.line("");
            page.line(&format!(
                "Rows 1 to {} cannot be told apart by what is known: the easiest to undo is first.",
                self.tied_rows
            ));
        }
        if self.settings > 1 {
            page.line("");
            page.line(&format!(
                "{} settings, {} of them predicted exactly with {} deliveries each, the others ruled \
                 out by an estimate; {} held back by your limits; 80 % intervals.",
                self.settings,
                self.settings_predicted,
                self.deliveries_each,
                self.settings_held_back
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

/// What a prediction rests on.
fn around_text(a: &Around, page: &mut Page) {
    page.line(&format!("From {}.", a.evidence));
    if let Some(cause) = &a.cause {
        page.line(cause);
    }
    if a.aim_start_m != 0.0 || a.aim_curve_m != 0.0 {
        page.line(&format!(
            "The player's aim: starts {}, curves {}.",
            page.sideways(a.aim_start_m),
            page.sideways(a.aim_curve_m)
        ));
    }
    if let Some(u) = &a.understood {
        u.text(page);
    }
    page.line(&correction_line(a));
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
        "{} {:.0} % of the miss: lands {} ({}); moves it {} ({}); start {}, curve {}; carry {}, height {}, spin {:.0} to {:.0}",
        if r.cures_percent < 0.0 {
            "adds"
        } else {
            "takes away"
        },
        r.cures_percent.abs(),
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
    // Sideways and upward shares, as far as they show.
    let hair = 0.3 * YARD;
    let mut why: Vec<String> = Vec::new();
    for s in &r.reasons {
        let mut parts = Vec::new();
        if s.offline_m.abs() > hair {
            parts.push(page.sideways(s.offline_m));
        }
        if s.apex_m.abs() > hair {
            let word = if s.apex_m > 0.0 { "higher" } else { "lower" };
            parts.push(format!("{} {word}", page.length(s.apex_m.abs())));
        }
        if !parts.is_empty() {
            why.push(format!("{} {}", s.reason, parts.join(" and ")));
        }
    }
    if !why.is_empty() {
        page.indented("   ", &format!("why: {}", why.join("; ")));
    }
    if let Some(v) = r.offline_if_squared_m {
        page.indented(
            "   ",
            &format!(
                "if the player squares the face again after the turn: lands {}",
                page.sideways(v)
            ),
        );
    }
    page.indented(
        "   ",
        &format!(
            "lands farther off with {:.0} %; swing weight {} ({}), head {:.1} g ({}); undo: {}",
            100.0 * r.harms_probability,
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
        row_text(&self.then, page);
        if !self.then.cautions.is_empty() {
            page.heading("Mind");
            for c in &self.then.cautions {
                page.caution(c);
            }
        }
    }
}
