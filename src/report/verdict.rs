//! Report of the check afterwards.

use super::{Page, Range80, Report, tidy};
use crate::hand::Hand;
use crate::verdict::{Change, Outcome, Verdict};
use serde::{Deserialize, Serialize};
use serde_json::Value;

/// A change with its 80 % interval, m, right positive.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct ChangeReport {
    /// After minus before.
    pub mean_m: f64,
    /// Half-width of its 80 % interval.
    pub half_width_80_m: f64,
}

impl ChangeReport {
    fn of(c: &Change, sign: f64) -> ChangeReport {
        ChangeReport {
            mean_m: tidy(c.mean * sign),
            half_width_80_m: tidy(c.half_width()),
        }
    }
}

/// What a change did.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[allow(missing_docs)] // the keys are the documentation: name and unit
pub struct VerdictReport {
    pub player: String,
    pub before: Vec<String>,
    pub after: Vec<String>,
    /// All of them are of one day; else what a day adds is in the change and in no interval.
    pub one_day: bool,
    /// What to mind of the sessions.
    pub warnings: Vec<String>,
    pub outcome: Outcome,
    pub start_change: ChangeReport,
    pub curve_change: ChangeReport,
    pub offline_change: ChangeReport,
    pub carry_change: ChangeReport,
    pub apex_change: ChangeReport,
    pub offline_before_m: f64,
    pub offline_after_m: f64,
    pub predicted_offline_change_m: Option<Range80>,
    /// The comparison is too wide to tell the size of the effect.
    pub size_within_noise: bool,
    /// The same of the interval that holds however often it is looked at.
    pub size_within_noise_any_look: bool,
    /// The same of the averages alone.
    pub size_within_noise_raw: bool,
    pub proposal: Option<i64>,
    pub effective_shots_before: f64,
    pub effective_shots_after: f64,
    /// Change of offline at the same delivery, where club data were measured.
    pub adjusted_offline_change: Option<ChangeReport>,
    /// What it was adjusted for.
    pub adjusted_for: Vec<&'static str>,
    /// Spread of offline from shot to shot that the delivery leaves.
    pub adjusted_spread_m: Option<f64>,
    /// Half-width of the judged effect's interval that holds however often it is looked at.
    pub half_width_any_look_m: f64,
    pub outcome_any_look: Outcome,
    /// By the averages alone, looked at as often as the verdict is.
    pub outcome_raw: Outcome,
    /// The outcome holds for a look after every block.
    pub every_block: bool,
    /// Half-width of the judged effect's interval that the verdict goes by: for one look, or for any
    /// number of looks.
    pub judged_half_width_m: f64,
    /// Numbers of the verdicts on some of these shots that were filed before.
    pub earlier_looks: Vec<i64>,
}

/// What a verdict says, in words that stand alike in every report. Without a prediction it only
/// tells whether there is an effect.
pub fn outcome_words(outcome: Outcome, predicted: bool, size_within_noise: bool) -> String {
    match (predicted, outcome) {
        (true, Outcome::AsPredicted) if size_within_noise => {
            "the way it was predicted; how much is within noise".into()
        }
        (true, outcome) => outcome.to_string(),
        (false, Outcome::CannotTell) => format!("{outcome} (nothing was predicted)"),
        (false, _) => "there is an effect (nothing was predicted)".into(),
    }
}

/// The same of a filed verdict; its bare outcome if it is none of these.
pub fn filed_words(body: &Value) -> String {
    let said = &body["outcome"];
    match Outcome::deserialize(said) {
        Ok(outcome) => outcome_words(
            outcome,
            body["predicted_offline_change_m"].is_object(),
            body["size_within_noise"] == true,
        ),
        Err(_) => said.as_str().unwrap_or_default().replace('_', " "),
    }
}

impl VerdictReport {
    /// From a verdict in the right-handed frame.
    pub fn new(v: &Verdict, player: &str, hand: Hand, offline: [f64; 2]) -> VerdictReport {
        let s = hand.sign();
        VerdictReport {
            player: player.into(),
            before: Vec::new(),
            after: Vec::new(),
            one_day: false,
            warnings: Vec::new(),
            outcome: v.outcome,
            start_change: ChangeReport::of(&v.changes[0], s),
            curve_change: ChangeReport::of(&v.changes[1], s),
            offline_change: ChangeReport::of(&v.changes[2], s),
            carry_change: ChangeReport::of(&v.changes[3], 1.0),
            apex_change: ChangeReport::of(&v.changes[4], 1.0),
            offline_before_m: tidy(offline[0] * s),
            offline_after_m: tidy(offline[1] * s),
            predicted_offline_change_m: v.predicted.as_ref().map(|p| Range80::of(p, s)),
            size_within_noise: v.is_wide(v.half_width()),
            size_within_noise_any_look: v.is_wide(v.half_width_any_look()),
            size_within_noise_raw: v.is_wide(v.half_width_raw()),
            proposal: None,
            effective_shots_before: tidy(v.shots[0]),
            effective_shots_after: tidy(v.shots[1]),
            adjusted_offline_change: v.adjusted.as_ref().map(|a| ChangeReport::of(&a.effect, s)),
            adjusted_for: v
                .adjusted
                .as_ref()
                .map_or_else(Vec::new, |a| a.used.iter().map(|q| q.info().name).collect()),
            adjusted_spread_m: v.adjusted.as_ref().map(|a| tidy(a.spread)),
            half_width_any_look_m: tidy(v.half_width_any_look()),
            outcome_any_look: v.outcome_any_look(),
            outcome_raw: v.outcome_raw(),
            every_block: v.every_block,
            judged_half_width_m: tidy(v.half_width()),
            earlier_looks: Vec::new(),
        }
    }
}

impl Report for VerdictReport {
    fn text(&self, page: &mut Page) {
        page.heading(&format!(
            "{}: {} against {}",
            self.player,
            self.before.join(", "),
            self.after.join(", ")
        ));
        let predicted = &self.predicted_offline_change_m;
        let words = outcome_words(self.outcome, predicted.is_some(), self.size_within_noise);
        page.answer(&format!("Verdict: {words}."));
        self.effect(page);
        if let Some(p) = predicted {
            page.line(&format!("Predicted: {}.", p.sideways(page)));
        }
        if self.adjusted_offline_change.is_none() {
            page.line(
                "Not adjusted for the delivery: that takes face, path or strike as measured at the \
                 club in most shots, not inferred from the ball.",
            );
        }
        self.looks(page);
        for w in &self.warnings {
            page.caution(w);
        }
        let rows: Vec<Vec<String>> = [
            ("start line", &self.start_change, true),
            ("curve", &self.curve_change, true),
            ("offline", &self.offline_change, true),
            ("carry", &self.carry_change, false),
            ("height", &self.apex_change, false),
        ]
        .iter()
        .map(|(name, c, sided)| {
            vec![
                (*name).to_string(),
                if *sided {
                    page.side(c.mean_m)
                } else {
                    format!("{:+.1}  ", page.in_unit(c.mean_m))
                },
                format!("{:.1}", page.in_unit(c.half_width_80_m)),
                page.length_unit().to_string(),
            ]
        })
        .collect();
        page.heading(match self.every_block {
            true => "Change, each for one look",
            false => "Change",
        });
        page.table(&["", "change", "give or take", ""], &rows, 1);
        page.line(&format!(
            "Counts as {:.1} shots before and {:.1} after, {}.",
            self.effective_shots_before,
            self.effective_shots_after,
            if self.one_day {
                "of one day"
            } else {
                "not of one day. Days differ by more than shots tell: hit both clubs on one day \
                 where you can"
            }
        ));
    }
}

impl VerdictReport {
    /// What the ball did, and the effect that the verdict goes by, with the interval that it used.
    fn effect(&self, page: &mut Page) {
        let moved = page.sideways(self.offline_change.mean_m);
        let from_to = format!(
            "{} before, {} after",
            page.sideways(self.offline_before_m),
            page.sideways(self.offline_after_m)
        );
        let sure = match self.every_block {
            true => "however often you look, 80 %",
            false => "80 %",
        };
        let sure = format!(
            "give or take {} ({sure})",
            page.length(self.judged_half_width_m)
        );
        let Some(a) = &self.adjusted_offline_change else {
            return page.line(&format!("The ball moved {moved}, {sure}: {from_to}."));
        };
        let predicted = self.predicted_offline_change_m.is_some();
        page.line(&format!("The ball moved {moved}: {from_to}."));
        page.line(&format!(
            "At the same delivery ({}): moved {}, {sure}. The verdict goes by that; by the averages \
             alone: {}.",
            self.adjusted_for.join(", ").replace('_', " "),
            page.sideways(a.mean_m),
            outcome_words(self.outcome_raw, predicted, self.size_within_noise_raw)
        ));
    }

    /// How often the shots were looked at, and what would hold for more looks.
    fn looks(&self, page: &mut Page) {
        page.line(&match (&self.earlier_looks[..], self.every_block) {
            ([], true) => {
                "Judged for a look after every block: however often you look, that is wrong in at \
                 most one of five."
                    .into()
            }
            (earlier, true) => {
                let numbers: Vec<String> = earlier.iter().map(i64::to_string).collect();
                format!(
                    "Some of these shots were judged before (verdict {}), so it is judged for a look \
                     after every block: however often you look, that is wrong in at most one of five.",
                    numbers.join(", ")
                )
            }
            (_, false) => format!(
                "For one look. If you look after every block and stop when it is clear: give or \
                 take {}, {} (--every-block; wrong in at most one of five).",
                page.length(self.half_width_any_look_m),
                outcome_words(
                    self.outcome_any_look,
                    self.predicted_offline_change_m.is_some(),
                    self.size_within_noise_any_look
                )
            ),
        });
    }
}
