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
    pub proposal: Option<i64>,
    pub effective_shots_before: f64,
    pub effective_shots_after: f64,
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
            outcome: v.outcome,
            start_change: ChangeReport::of(&v.changes[0], s),
            curve_change: ChangeReport::of(&v.changes[1], s),
            offline_change: ChangeReport::of(&v.changes[2], s),
            carry_change: ChangeReport::of(&v.changes[3], 1.0),
            apex_change: ChangeReport::of(&v.changes[4], 1.0),
            offline_before_m: tidy(offline[0] * s),
            offline_after_m: tidy(offline[1] * s),
            predicted_offline_change_m: v.predicted.as_ref().map(|p| Range80::of(p, s)),
            size_within_noise: v.is_wide(),
            proposal: None,
            effective_shots_before: tidy(v.shots[0]),
            effective_shots_after: tidy(v.shots[1]),
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
        let o = &self.offline_change;
        let moved = format!(
            "The ball moved {}, give or take {} (80 %): {} before, {} after.",
            page.sideways(o.mean_m),
            page.length(o.half_width_80_m),
            page.sideways(self.offline_before_m),
            page.sideways(self.offline_after_m)
        );
        let predicted = &self.predicted_offline_change_m;
        let words = outcome_words(self.outcome, predicted.is_some(), self.size_within_noise);
        page.answer(&format!("Verdict: {words}."));
        match predicted {
            Some(p) => {
                page.line(&moved);
                page.line(&format!(
                    "Predicted: {} ({} to {}).",
                    page.sideways(p.mean),
                    page.sideways(p.low),
                    page.sideways(p.high)
                ));
            }
            None => page.line(&moved),
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
        page.heading("Change");
        page.table(&["", "change", "give or take", ""], &rows, 1);
        page.line(&format!(
            "Counts as {:.1} shots before and {:.1} after. Two days differ by more than shots \
             tell: compare sessions of one visit where you can.",
            self.effective_shots_before, self.effective_shots_after
        ));
    }
}
