//! The ball that flies as a device shows it, against the one assumed.

use super::{Page, tidy};
use crate::flight::AsShown;
use serde::Serialize;

/// How the ball differs that flies as the device shows it.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct FlownReport {
    /// Drag against that of the ball assumed, as a factor.
    pub drag_factor: f64,
    /// Lift against that of the ball assumed, as a factor.
    pub lift_factor: f64,
    /// Standard deviation of the latter.
    pub lift_factor_sd: f64,
    /// Shots that it rests on.
    pub shots: usize,
}

impl From<AsShown> for FlownReport {
    fn from(s: AsShown) -> Self {
        FlownReport {
            drag_factor: tidy(1.0 + s.drag),
            lift_factor: tidy(1.0 + s.lift),
            lift_factor_sd: tidy(s.lift_sd),
            shots: s.shots,
        }
    }
}

impl FlownReport {
    pub(super) fn text(&self, page: &mut Page) {
        page.line(&format!(
            "Balls are flown as the device shows them: drag {:.2}, lift {:.2} times the usual.",
            self.drag_factor, self.lift_factor
        ));
    }
}
