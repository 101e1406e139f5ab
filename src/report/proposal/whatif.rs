//! Report of one setting that was asked for.

use super::RowReport;
use super::row::{average_balls, row_text};
use crate::report::around::around_text;
use crate::report::{Around, Page, Report};
use crate::units::YARD;
use serde::Serialize;

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
        average_balls("now (0) and then (1)", [&self.now, &self.then], page);
        row_text(&self.then, &self.around, page);
        if !self.then.cautions.is_empty() {
            page.heading("Mind");
            for c in &self.then.cautions {
                page.caution(c);
            }
        }
    }
}
