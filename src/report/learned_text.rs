//! What was learned, as a page.

use super::learned::{DriftReport, LearnedReport, LeverWorth, ScoreReport, is_sided};
use super::learned_names::{listed, name_of, response_name, unit_ends, unit_of, words};
use super::lever_table::lever_table;
use super::{Page, Report, signed};
use crate::correction::ENOUGH;
use crate::units::YARD;

/// A lever that is worth less more or less is not told, m.
const SMALL: f64 = 0.25 * YARD;
/// At most so many names in a row.
const MOST_NAMES: usize = 6;

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

    fn scores(&self, page: &mut Page) {
        let ground = self
            .ground
            .iter()
            .map(|g| (&g.quantity, &g.left_out, &g.forward, None));
        let all: Vec<_> = self
            .responses
            .iter()
            .map(|r| (&r.response, &r.left_out, &r.forward, Some(r.in_use)))
            .chain(ground)
            .collect();
        let name = |key: &str| match unit_ends(key) {
            Some((_, unit)) => format!("{}, {unit}", response_name(key)),
            None => response_name(key),
        };
        // Nothing was held out, so nothing was measured.
        let or_dash = |n: usize, text: String| match n {
            0 => "-".to_string(),
            _ => text,
        };
        let of = |s: &ScoreReport, v: f64| {
            let d = if s.rmse_physics.abs() < 0.2 { 4 } else { 2 };
            or_dash(s.sessions, format!("{v:.d$}"))
        };
        page.heading("Held-out sessions: root mean square error");
        let rows: Vec<Vec<String>> = all
            .iter()
            .map(|(key, s, _, in_use)| {
                let used = |used| if used { "in use" } else { "not used" };
                vec![
                    name(key),
                    s.sessions.to_string(),
                    of(s, s.rmse_physics),
                    of(s, s.rmse_pooled),
                    of(s, s.rmse_correction),
                    or_dash(s.sessions, format!("{:.0} %", s.coverage_80 * 100.0)),
                    in_use.map_or("", used).to_string(),
                ]
            })
            .collect();
        let header = ["", "n", "physics", "pooled", "learned", "in 80 %", ""];
        page.table(&header, &rows, 1);
        let rows: Vec<Vec<String>> = all
            .iter()
            .filter(|(_, _, ahead, _)| ahead.sessions > 0)
            .map(|(key, _, s, _)| {
                vec![
                    name(key),
                    s.sessions.to_string(),
                    of(s, s.rmse_physics),
                    of(s, s.rmse_correction),
                ]
            })
            .collect();
        if !rows.is_empty() {
            page.heading("Ahead, from earlier sessions only");
            page.table(&["", "n", "physics", "learned"], &rows, 1);
        }
        page.line(&format!(
            "Each session is foretold by a fit that never saw it: from all others, and ahead, from \
             earlier ones only (n: sessions that have any). Pooled is a model without players. A \
             response is used where the first beats bare physics by more than one standard error, \
             on {ENOUGH} sessions or more{}.",
            match self.prior_version {
                Some(_) => "; where there are fewer, as the prior has it",
                None => "",
            }
        ));
        if let (Some(version), false) = (self.prior_version, self.no_longer_in_use.is_empty()) {
            let names: Vec<String> = (self.no_longer_in_use.iter())
                .map(|r| response_name(r))
                .collect();
            page.caution(&format!(
                "Model {version} used {}; by these sessions that is not proven any more: propose \
                 takes the latest model, --model {version} that one.",
                listed(&names)
            ));
        }
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

    fn changes(&self, page: &mut Page) {
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
                        "{} on {}: {} was worth {}, is worth {}",
                        l.player,
                        l.head,
                        unit_of(&l.feature),
                        page.sideways(l.last_season_offline_m.unwrap_or(0.0)),
                        page.sideways(l.learned_offline_m.mean),
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
