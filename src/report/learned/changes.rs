//! What has changed, over the season and against the model before.

use super::names::{listed, name_of, response_name, unit_ends, unit_of};
use super::text::SMALL;
use super::{DriftReport, LearnedReport, LeverWorth, is_sided};
use crate::report::{Page, signed};

/// At most so many names in a row.
const MOST_NAMES: usize = 6;

impl LearnedReport {
    /// Of what the halves of the season were compared.
    fn compared(&self) -> String {
        let all = |of: &dyn Fn(&DriftReport) -> String| {
            let mut names: Vec<String> = Vec::new();
            for name in self.drift.iter().map(of) {
                if !names.contains(&name) {
                    names.push(name);
                }
            }
            if names.len() > MOST_NAMES {
                let more = names.len() - MOST_NAMES;
                names.truncate(MOST_NAMES);
                names.push(format!("{more} more"));
            }
            listed(&names)
        };
        format!(
            "{} by {}, of {}",
            all(&|d| response_name(&d.response)),
            all(&|d| name_of(&d.feature).into()),
            all(&|d| d.player.clone())
        )
    }

    pub(super) fn changes(&self, page: &mut Page) {
        let beyond: Vec<&DriftReport> = self.drift.iter().filter(|d| d.beyond_noise).collect();
        if !self.drift.is_empty() {
            page.heading("Changed over the season");
            for d in beyond.iter().take(6) {
                let digits = if d.change.abs() < 0.2 { 3 } else { 1 };
                page.indented(
                    "- ",
                    &format!(
                        "{}: what {} does to {} changed by {}{} in the second half ({} to {}{})",
                        d.player,
                        unit_of(&d.feature),
                        response_name(&d.response),
                        signed(d.change, digits),
                        unit_ends(&d.response)
                            .map_or(String::new(), |(_, unit)| format!(" {unit}")),
                        signed(d.change_low, digits),
                        signed(d.change_high, digits),
                        match is_sided(&d.response) {
                            true => ", right positive",
                            false => "",
                        },
                    ),
                );
            }
            let found = match beyond.len() {
                0 => format!(
                    "Of {} responses to a lever, none beyond two standard deviations.",
                    self.drift.len()
                ),
                n => format!(
                    "{n} of {} responses to a lever beyond two standard deviations; by chance \
                     alone it would be one in twenty.",
                    self.drift.len()
                ),
            };
            page.line(&format!("{found} Compared: {}.", self.compared()));
        }
        let mut since: Vec<(&LeverWorth, f64)> = (self.levers.iter())
            .filter(|l| l.seen)
            .filter_map(|l| Some((l, l.learned_offline_m.mean - l.last_season_offline_m?)))
            .collect();
        let known = since.len();
        since.retain(|(_, change)| change.abs() > SMALL);
        since.sort_by(|a, b| b.1.abs().total_cmp(&a.1.abs()));
        if let Some(version) = self.prior_version {
            page.heading(&format!("Against model {version}"));
            for (l, _) in since.iter().take(6) {
                page.indented(
                    "- ",
                    &format!(
                        "{} on {}: {} was worth {}, is worth {} ({} to {})",
                        l.player,
                        l.head,
                        unit_of(&l.feature),
                        page.sideways(l.last_season_offline_m.unwrap_or(0.0)),
                        page.sideways(l.learned_offline_m.mean),
                        page.side(l.learned_offline_m.low).trim(),
                        page.side(l.learned_offline_m.high).trim(),
                    ),
                );
            }
            if known == 0 {
                page.line("It knows none of these levers of these players.");
            } else if since.is_empty() {
                page.line("No lever that both know is worth a quarter of a yard more or less.");
            }
        }
    }
}
