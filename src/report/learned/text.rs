//! What was learned, as a page.

use super::lever_table::lever_table;
use super::names::{listed, response_name, unit_of, words};
use super::{LearnedReport, LeverWorth};
use crate::report::{Page, Report};
use crate::units::YARD;

/// A lever that is worth less more or less is not told, m.
pub(super) const SMALL: f64 = 0.25 * YARD;

impl LearnedReport {
    /// Whether the data tell a lever apart from the others.
    fn told_apart(&self, feature: &str) -> bool {
        let together = self.moved_together.iter().flatten();
        !self
            .never_moved
            .iter()
            .chain(together)
            .any(|f| f == feature)
    }

    fn sideways_in_use(&self) -> bool {
        let sideways = ["launch_direction_deg", "spin_axis_deg"];
        self.responses
            .iter()
            .any(|r| r.in_use && sideways.contains(&r.response.as_str()))
    }

    fn limits(&self, page: &mut Page) {
        if !self.moved_together.is_empty() {
            for group in &self.moved_together {
                page.caution(&format!(
                    "{} were moved only together: they can't be told apart on this data. How \
                     their joint effect is shared out among them (tables marked *) is mostly \
                     what was believed before.",
                    words(group)
                ));
            }
        }
        if !self.never_moved.is_empty() {
            let stands = match self.prior_version {
                Some(version) => format!("what model {version} learned stands, less surely"),
                None => "bare physics stands".into(),
            };
            page.line(&format!(
                "Never moved, so that {stands}: {}.",
                words(&self.never_moved)
            ));
            if let (Some(version), false) = (self.prior_version, self.newly_in_use.is_empty()) {
                let names: Vec<String> =
                    self.newly_in_use.iter().map(|r| response_name(r)).collect();
                page.line(&format!(
                    "Model {version} itself did not use {}: what it learned of these levers there \
                     was never proven on sessions that it had not seen.",
                    listed(&names)
                ));
            }
        }
        if !self.flagged.is_empty() {
            let named: Vec<&str> = (self.flagged.iter())
                .take(8)
                .map(|f| f.session.as_str())
                .collect();
            let more = match self.flagged.len().saturating_sub(8) {
                0 => String::new(),
                n => format!(" and {n} more"),
            };
            page.caution(&format!(
                "Far from what all other sessions foretell, so that they count less than half: \
                 {}{more}. Was it the club that is logged?",
                named.join(", ")
            ));
        }
    }

    /// The levers one by one, and why some are left out.
    fn tables(&self, page: &mut Page) {
        let (mut unmoved, mut small) = (Vec::new(), Vec::new());
        for feature in crate::club::FEATURES {
            let rows: Vec<&LeverWorth> = self
                .levers
                .iter()
                .filter(|l| l.seen && l.feature == feature)
                .collect();
            // What hardly moves the ball sideways is in the JSON, not on the page.
            let matters = |l: &&LeverWorth| {
                let w = &l.learned_offline_m;
                (w.mean - l.physics_offline_m).abs() > SMALL
            };
            if rows.iter().any(matters) {
                let together = self.moved_together.iter().flatten().any(|f| f == feature);
                lever_table(feature, together, &rows, page);
            } else if rows.is_empty() {
                unmoved.push(feature.to_string());
            } else {
                small.push(feature.to_string());
            }
        }
        let why = [
            (unmoved, "never moved by these players"),
            (small, "within a quarter of a yard of physics"),
        ];
        let why: Vec<String> = (why.iter().filter(|(levers, _)| !levers.is_empty()))
            .map(|(levers, why)| format!("{} ({why})", words(levers)))
            .collect();
        if !why.is_empty() {
            page.line("");
            page.line(&format!("Without a table: {}.", why.join("; ")));
        }
    }

    /// Those players whose levers differ most from physics, beyond noise, in words.
    fn in_words(&self, page: &mut Page) {
        let beyond = |l: &&LeverWorth| {
            let w = &l.learned_offline_m;
            l.seen
                && self.told_apart(&l.feature)
                && (w.low > l.physics_offline_m || w.high < l.physics_offline_m)
                && (w.mean - l.physics_offline_m).abs() > SMALL
        };
        let mut rows: Vec<&LeverWorth> = self.levers.iter().filter(beyond).collect();
        let apart = |l: &LeverWorth| (l.learned_offline_m.mean - l.physics_offline_m).abs();
        rows.sort_by(|a, b| apart(b).total_cmp(&apart(a)));
        if rows.is_empty() {
            return;
        }
        page.heading("Farthest from physics");
        for l in rows.iter().take(5) {
            let w = &l.learned_offline_m;
            page.indented(
                "- ",
                &format!(
                    "for {} on {}, {} moves the ball {}, {} to {}; physics alone says {}",
                    l.player,
                    l.head,
                    unit_of(&l.feature),
                    page.sideways(w.mean),
                    page.side(w.low).trim(),
                    page.side(w.high).trim(),
                    page.sideways(l.physics_offline_m),
                ),
            );
        }
    }
}

impl Report for LearnedReport {
    fn text(&self, page: &mut Page) {
        let prior = self
            .prior_version
            .map_or("no earlier season".to_string(), |v| {
                format!("model {v} as prior")
            });
        page.heading(&format!(
            "Model {}, season {}{}",
            self.model_version,
            self.season,
            if self.filed {
                ""
            } else {
                ", a dry run: not filed"
            }
        ));
        page.line(&format!(
            "{} sessions, {} shots, {} to {}; {prior}; data {}.",
            self.sessions,
            self.shots,
            self.first_date,
            self.last_date,
            self.data_digest.get(..12).unwrap_or(&self.data_digest)
        ));
        self.limits(page);
        self.scores(page);
        let says = if self.sideways_in_use() {
            "Below is what the log says of each lever, all responses together"
        } else {
            "Nothing sideways is in use: for the line of the ball, bare physics stands. Below is \
             what the log says so far"
        };
        page.line(&format!(
            "{says}: o learned, - its 80 % interval, x physics, | no effect, the first of them where they meet; averages are those of \
             the rows above, as for a right-handed player where both hands play."
        ));
        let told = self.levers.len() / crate::club::FEATURES.len();
        if told < self.players_with_heads {
            page.line(&format!(
                "Told of the {told} of {} players with a head who have the most sessions; \
                 --tell N tells of more.",
                self.players_with_heads
            ));
        }
        self.in_words(page);
        self.tables(page);
        self.changes(page);
    }
}
