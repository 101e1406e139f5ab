//! What was learned, as a page.

use super::learned::{DriftReport, LearnedReport, LeverWorth, ScoreReport};
use super::lever_table::{lever_table, unit_of};
use super::{Page, Report, signed};
use crate::units::YARD;

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
        // The unit ends the name.
        let name = |key: &str| match key.rsplit_once('_') {
            Some((name, unit)) if unit != "ratio" => {
                format!("{}, {unit}", name.replace('_', " "))
            }
            _ => key.replace('_', " "),
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
        page.line(
            "Each session is foretold by a fit that never saw it: from all others, and ahead, from \
             earlier ones only. Pooled is a model without players. A response is used where the \
             first beats bare physics by more than one standard error.",
        );
    }

    fn limits(&self, page: &mut Page) {
        if !self.moved_together.is_empty() {
            for group in &self.moved_together {
                page.caution(&format!(
                    "{} were moved only together: they can't be told apart on this data. What \
                     each does is mostly what was believed before, and their intervals are wide.",
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

    fn changes(&self, page: &mut Page) {
        let beyond: Vec<&DriftReport> = self.drift.iter().filter(|d| d.beyond_noise).collect();
        if !self.drift.is_empty() {
            page.heading("Changed over the season");
            for d in beyond.iter().take(6) {
                let digits = if d.change.abs() < 0.2 { 3 } else { 1 };
                page.indented(
                    "- ",
                    &format!(
                        "{}: {} does {} to {} in the second half ({} to {})",
                        d.player,
                        unit_of(&d.feature),
                        signed(d.change, digits),
                        d.response.replace('_', " "),
                        signed(d.change_low, digits),
                        signed(d.change_high, digits),
                    ),
                );
            }
            page.line(&match beyond.len() {
                0 => format!(
                    "Of {} responses to a lever, none beyond two standard deviations.",
                    self.drift.len()
                ),
                n => format!(
                    "{n} of {} responses to a lever beyond two standard deviations; by chance \
                     alone it would be one in twenty.",
                    self.drift.len()
                ),
            });
        }
        let mut since: Vec<(&LeverWorth, f64)> = (self.levers.iter())
            .filter(|l| l.seen)
            .filter_map(|l| Some((l, l.learned_offline_m.mean - l.last_season_offline_m?)))
            .filter(|(_, change)| change.abs() > 0.25 * YARD)
            .collect();
        since.sort_by(|a, b| b.1.abs().total_cmp(&a.1.abs()));
        if let Some(version) = self.prior_version {
            page.heading(&format!("Since model {version}"));
            for (l, _) in since.iter().take(6) {
                page.indented(
                    "- ",
                    &format!(
                        "{} on {}: {} now moves the ball {}, then {}",
                        l.player,
                        l.head,
                        unit_of(&l.feature),
                        page.sideways(l.learned_offline_m.mean),
                        page.sideways(l.last_season_offline_m.unwrap_or(0.0)),
                    ),
                );
            }
            if since.is_empty() {
                page.line("No lever is worth a quarter of a yard more or less.");
            }
        }
    }

    /// Those players whose levers differ most from physics, beyond noise, in words.
    fn in_words(&self, page: &mut Page) {
        let beyond = |l: &&LeverWorth| {
            let w = &l.learned_offline_m;
            l.seen
                && self.told_apart(&l.feature)
                && (w.low > l.physics_offline_m || w.high < l.physics_offline_m)
                && (w.mean - l.physics_offline_m).abs() > 0.25 * YARD
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
            let (near, far) = if w.mean < 0.0 {
                (w.high, w.low)
            } else {
                (w.low, w.high)
            };
            page.indented(
                "- ",
                &format!(
                    "for {} on {}, {} moves the ball {}, {} to {}; physics alone says {}",
                    l.player,
                    l.head,
                    unit_of(&l.feature),
                    page.sideways(w.mean),
                    page.side(near).trim(),
                    page.side(far).trim(),
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
            "Model {}, season {}",
            self.model_version, self.season
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
            "{says}: o learned, - its 80 % interval, x physics, | no effect; averages as for a \
             right-handed player where both hands play."
        ));
        self.in_words(page);
        let told = self.levers.len() / crate::club::FEATURES.len();
        if told < self.players_with_heads {
            page.line(&format!(
                "Told of the {told} of {} players with a head who have the most sessions; \
                 --tell N tells of more.",
                self.players_with_heads
            ));
        }
        for feature in crate::club::FEATURES {
            let rows: Vec<&LeverWorth> = self
                .levers
                .iter()
                .filter(|l| l.seen && l.feature == feature)
                .collect();
            // What hardly moves the ball sideways is in the JSON, not on the page.
            let matters = |l: &&LeverWorth| {
                let w = &l.learned_offline_m;
                (w.mean - l.physics_offline_m).abs() > 0.25 * YARD
            };
            if rows.iter().any(matters) {
                lever_table(feature, &rows, page);
            }
        }
        self.changes(page);
    }
}

/// Features in words, with "and" before the last.
fn words(features: &[String]) -> String {
    let all: Vec<&str> = features.iter().map(|f| name_of(f)).collect();
    match all.split_last() {
        Some((last, rest)) if !rest.is_empty() => format!("{} and {last}", rest.join(", ")),
        _ => all.join(""),
    }
}

/// A feature in words.
fn name_of(feature: &str) -> &'static str {
    match feature {
        "cg_toe_mm" => "CG toward the toe",
        "cg_back_mm" => "CG toward the back",
        "cg_up_mm" => "CG toward the crown",
        "mass_g" => "head mass",
        "loft_deg" => "loft",
        "lie_deg" => "lie",
        _ => "face angle",
    }
}
