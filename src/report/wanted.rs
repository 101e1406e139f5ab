//! What the player wants beyond start line and curve.

use super::{Page, tidy};
use crate::hand::Hand;
use crate::proposal::{Goal, Window};
use crate::units::DEG;
use serde::Serialize;

/// Windows and weights; real-world frame. An open end of a window is null.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[allow(missing_docs)] // the keys are the documentation: name and unit
pub struct Wanted {
    pub fairway_m: f64,
    pub start_from_m: Option<f64>,
    pub start_to_m: Option<f64>,
    pub apex_from_m: Option<f64>,
    pub apex_to_m: Option<f64>,
    pub landing_from_deg: Option<f64>,
    pub landing_to_deg: Option<f64>,
    pub direction_weight: f64,
    pub shape_weight: f64,
    pub height_weight: f64,
    pub distance_weight: f64,
    pub keep_carry: bool,
}

impl Wanted {
    /// From a goal in the right-handed frame.
    pub fn new(goal: &Goal, hand: Hand) -> Wanted {
        let edges = |w: Option<Window>, unit: f64| {
            let edge = |v: f64| v.is_finite().then(|| tidy(v / unit));
            w.map_or((None, None), |w| (edge(w.low), edge(w.high)))
        };
        let (start_from_m, start_to_m) = edges(goal.start.map(|w| hand.turn(w)), 1.0);
        let (apex_from_m, apex_to_m) = edges(goal.apex, 1.0);
        let (landing_from_deg, landing_to_deg) = edges(goal.landing_angle, DEG);
        Wanted {
            fairway_m: tidy(goal.fairway),
            start_from_m,
            start_to_m,
            apex_from_m,
            apex_to_m,
            landing_from_deg,
            landing_to_deg,
            direction_weight: goal.weights.direction,
            shape_weight: goal.weights.shape,
            height_weight: goal.weights.height,
            distance_weight: goal.weights.distance,
            keep_carry: goal.keep_carry,
        }
    }

    /// Whether the player minds the landing angle.
    pub(super) fn minds_landing(&self) -> bool {
        self.landing_from_deg.or(self.landing_to_deg).is_some()
    }

    /// In words; nothing if nothing is wanted in particular.
    pub(super) fn text(&self, page: &mut Page) {
        let window = |from: Option<f64>, to: Option<f64>, show: &dyn Fn(f64) -> String| {
            Some(match (from, to) {
                (Some(a), Some(b)) if a == b => show(a),
                (Some(a), Some(b)) => format!("{} to {}", show(a), show(b)),
                (Some(a), None) => format!("{} or more", show(a)),
                (None, Some(b)) => format!("{} or less", show(b)),
                (None, None) => return None,
            })
        };
        let side = |v: f64| page.sideways(v);
        let degrees = |v: f64| format!("{v:.1} deg");
        let start = match (self.start_from_m, self.start_to_m) {
            (Some(a), None) => Some(format!("no farther left than {}", side(a))),
            (None, Some(b)) => Some(format!("no farther right than {}", side(b))),
            (a, b) => window(a, b, &side),
        };
        let height = window(self.apex_from_m, self.apex_to_m, &|v| page.length(v));
        let landing = window(self.landing_from_deg, self.landing_to_deg, &degrees);
        let mut words = Vec::new();
        if self.fairway_m > 0.0 {
            words.push(format!("a fairway of {}", page.length(self.fairway_m)));
        }
        words.extend(start.map(|w| format!("start line {w}")));
        words.extend(height.map(|w| format!("height {w}")));
        words.extend(landing.map(|w| format!("landing angle {w}")));
        if self.keep_carry {
            words.push("no carry lost".into());
        }
        for (name, weight) in [
            ("direction", self.direction_weight),
            ("shape", self.shape_weight),
            ("height", self.height_weight),
            ("distance", self.distance_weight),
        ] {
            if weight != 1.0 {
                words.push(format!("{name} counts {weight} times"));
            }
        }
        if !words.is_empty() {
            page.line(&format!("Wanted: {}.", words.join("; ")));
        }
    }
}
