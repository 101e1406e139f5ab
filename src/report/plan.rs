//! Report of a range plan.

use super::{Page, Report, tidy};
use crate::correction::Z80;
use crate::hand::Hand;
use crate::plan::{Lesson, Schedule, Shots};
use serde::Serialize;

/// Shots on each side.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[allow(missing_docs)] // the keys are the documentation: name and unit
pub struct ShotsReport {
    pub spread_m: f64,
    /// For one look at the end.
    pub shots_each: Option<usize>,
    /// At most, with a look after every block.
    pub shots_each_any_look: Option<usize>,
}

impl ShotsReport {
    /// Whether these are many more shots than others, of another spread, would let one expect.
    fn take_more_than(&self, other: &ShotsReport) -> bool {
        let (Some(own), Some(others)) = (self.shots_each, other.shots_each) else {
            return false;
        };
        let share = self.spread_m / other.spread_m.max(f64::MIN_POSITIVE);
        own as f64 > 2.0 * (others as f64 * share * share).max(1.0)
    }

    /// As it was computed.
    pub fn of(s: &Shots) -> ShotsReport {
        ShotsReport {
            spread_m: tidy(s.spread),
            shots_each: s.one_look,
            shots_each_any_look: s.any_look,
        }
    }
}

/// What would teach most.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[allow(missing_docs)] // the keys are the documentation: name and unit
pub struct LessonReport {
    pub steps: Vec<String>,
    pub setting: String,
    pub setting_file: serde_json::Value,
    pub offline_change_m: f64,
    /// Standard deviation of the learned response's part in that.
    pub doubt_m: f64,
    /// The same after so many shots on each side.
    pub doubt_left_m: f64,
    /// Those of the plan; 20 where it has none.
    pub shots_each: usize,
}

impl LessonReport {
    /// In the player's frame.
    pub fn of(l: &Lesson, hand: Hand, left: f64, shots: usize) -> LessonReport {
        LessonReport {
            steps: Vec::new(),
            setting: String::new(),
            setting_file: serde_json::Value::Null,
            offline_change_m: tidy(l.change * hand.sign()),
            doubt_m: tidy(l.doubt),
            doubt_left_m: tidy(left),
            shots_each: shots,
        }
    }
}

/// A range plan.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[allow(missing_docs)] // the keys are the documentation: name and unit
pub struct PlanReport {
    pub player: String,
    pub build: String,
    pub sessions: Vec<String>,
    /// What to mind of the sessions.
    pub warnings: Vec<String>,
    /// The change in words; none if only its size was said.
    pub change: Option<String>,
    pub proposal: Option<i64>,
    pub offline_change_m: f64,
    pub power_percent: f64,
    /// By the averages alone.
    pub raw: ShotsReport,
    /// At the same delivery, where club data were measured.
    pub adjusted: Option<ShotsReport>,
    pub adjusted_for: Vec<&'static str>,
    /// Blocks: A is the club as it is, B the changed one.
    pub order: Option<String>,
    pub block_shots: Option<usize>,
    pub shots: Option<usize>,
    /// The change cannot go to and fro.
    pub before_and_after_only: bool,
    /// Standard deviation of the learned response's part in the prediction.
    pub response_doubt_m: Option<f64>,
    /// Standard deviation of the whole prediction.
    pub prediction_doubt_m: Option<f64>,
    pub response_is_main_doubt: bool,
    pub teaches_most: Option<LessonReport>,
}

impl PlanReport {
    /// Sets the order of the blocks.
    pub fn set_order(&mut self, s: Option<&Schedule>) {
        self.order = s.map(|s| s.order.clone());
        self.block_shots = s.map(|s| s.block);
        self.shots = s.map(Schedule::shots);
    }
}

impl Report for PlanReport {
    fn text(&self, page: &mut Page) {
        page.heading(&format!("Range plan for {}, {}", self.player, self.build));
        let effect = page.sideways(self.offline_change_m);
        page.answer(&match self.shots {
            Some(all) => format!(
                "Hit {0} with the club as it is and {0} with the change, in the blocks below: {1:.0} \
                 % chance to see {effect}.",
                all / 2,
                self.power_percent
            ),
            _ => format!(
                "A thousand shots on each side would not show {effect} with {:.0} % chance.",
                self.power_percent
            ),
        });
        if let Some(change) = &self.change {
            page.line(&format!("The change: {change}."));
        }
        page.line(&format!(
            "Player's spread from {}.",
            self.sessions.join(", ")
        ));
        for w in &self.warnings {
            page.caution(w);
        }
        let number = |n: Option<usize>| n.map_or("-".into(), |n| n.to_string());
        let row = |name: &str, s: &ShotsReport| {
            vec![
                name.to_string(),
                page.length(s.spread_m),
                number(s.shots_each),
                number(s.shots_each_any_look),
            ]
        };
        let mut rows = vec![row("averages alone", &self.raw)];
        rows.extend(self.adjusted.iter().map(|s| row("same delivery", s)));
        page.heading("Shots on each side");
        page.table(
            &["", "spread", "one look", "looking often, at most"],
            &rows,
            1,
        );
        page.line(&if let Some(adjusted) = &self.adjusted {
            format!(
                "Same delivery: adjusted for {} as measured at the club.{}",
                self.adjusted_for.join(", ").replace('_', " "),
                if adjusted.take_more_than(&self.raw) {
                    " The shots also have to tell how far the change itself turns the \
                     face: that takes more of them than the spread alone."
                } else {
                    ""
                }
            )
        } else {
            "Only the ball was measured: measure face angle, path and strike at the club, and \
             fewer shots will do."
                .to_string()
        });
        if let (Some(order), Some(block)) = (&self.order, self.block_shots) {
            page.heading("Order");
            let spaced: Vec<String> = order.chars().map(String::from).collect();
            page.line(&format!(
                "{} - {block} shots a block; A is the club as it is, B the changed one.",
                spaced.join(" ")
            ));
            page.line(if self.before_and_after_only {
                "The change does not go back, so that drift and fatigue do not cancel: warm up \
                 first, hit both blocks in one visit, and mind the pace."
            } else {
                "In this order drift and fatigue cancel. Log each block as a session of its build; \
                 check takes all of a day. To look after every block, say --every-block."
            });
        }
        self.lesson(page);
    }
}

impl PlanReport {
    fn lesson(&self, page: &mut Page) {
        let Some(l) = &self.teaches_most else { return };
        page.heading("What teaches most");
        if let (Some(part), Some(whole)) = (self.response_doubt_m, self.prediction_doubt_m) {
            page.line(&format!(
                "The prediction is in doubt by {} (80 %), the learned response by {}: {}.",
                page.length(Z80 * whole),
                page.length(Z80 * part),
                if self.response_is_main_doubt {
                    "that is the main doubt"
                } else {
                    "that is not the main doubt"
                }
            ));
        }
        page.line(&format!(
            "Of all that goes back in a minute this tells most of the response: {0}. It should move \
             the ball {1}, give or take {2} (80 %); after {3} and {3} shots give or take {4}.",
            l.steps.join("; then "),
            page.sideways(l.offline_change_m),
            page.length(Z80 * l.doubt_m),
            l.shots_each,
            page.length(Z80 * l.doubt_left_m)
        ));
    }
}
