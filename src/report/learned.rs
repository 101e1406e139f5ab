//! Report of a fitted model: what was learned, for whom, and whether it is in use.

use super::{Page, Range80, Report, signed, tidy};
use crate::correction::{Drift, Model, ResponseModel, Score, Worth, Z80};
use crate::hand::Hand;
use crate::proposal::Interval;
use crate::units::YARD;
use serde::Serialize;
use std::collections::BTreeMap;

/// Held-out sessions against what three models foretell: bare physics, a pooled model without
/// players, the correction.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[allow(missing_docs)] // the keys are the documentation; errors are in the quantity's unit
pub struct ScoreReport {
    pub sessions: usize,
    pub rmse_physics: f64,
    pub rmse_physics_se: f64,
    pub rmse_pooled: f64,
    pub rmse_pooled_se: f64,
    pub rmse_correction: f64,
    pub rmse_correction_se: f64,
    pub log_score_physics: f64,
    pub log_score_physics_se: f64,
    pub log_score_pooled: f64,
    pub log_score_pooled_se: f64,
    pub log_score_correction: f64,
    pub log_score_correction_se: f64,
    pub gain: f64,
    pub gain_se: f64,
    pub gain_over_pooled: f64,
    pub gain_over_pooled_se: f64,
    pub coverage_50: f64,
    pub coverage_50_se: f64,
    pub coverage_80: f64,
    pub coverage_80_se: f64,
    pub coverage_95: f64,
    pub coverage_95_se: f64,
}

impl From<&Score> for ScoreReport {
    fn from(s: &Score) -> ScoreReport {
        let c = &s.correction;
        ScoreReport {
            sessions: s.sessions,
            rmse_physics: tidy(s.physics.rmse),
            rmse_physics_se: tidy(s.physics.rmse_se),
            rmse_pooled: tidy(s.pooled.rmse),
            rmse_pooled_se: tidy(s.pooled.rmse_se),
            rmse_correction: tidy(c.rmse),
            rmse_correction_se: tidy(c.rmse_se),
            log_score_physics: tidy(s.physics.log_score),
            log_score_physics_se: tidy(s.physics.log_score_se),
            log_score_pooled: tidy(s.pooled.log_score),
            log_score_pooled_se: tidy(s.pooled.log_score_se),
            log_score_correction: tidy(c.log_score),
            log_score_correction_se: tidy(c.log_score_se),
            gain: tidy(s.gain),
            gain_se: tidy(s.gain_se),
            gain_over_pooled: tidy(s.gain_over_pooled),
            gain_over_pooled_se: tidy(s.gain_over_pooled_se),
            coverage_50: tidy(c.coverage[0]),
            coverage_50_se: tidy(c.coverage_se[0]),
            coverage_80: tidy(c.coverage[1]),
            coverage_80_se: tidy(c.coverage_se[1]),
            coverage_95: tidy(c.coverage[2]),
            coverage_95_se: tidy(c.coverage_se[2]),
        }
    }
}

/// One response of a model. The scores beside `response` are those of leaving each session out.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[allow(missing_docs)] // the keys are the documentation; figures are in the response's unit
pub struct ResponseReport {
    pub response: String,
    pub in_use: bool,
    pub held_out_sessions: usize,
    pub rmse_physics: f64,
    pub rmse_correction: f64,
    pub gain: f64,
    pub gain_se: f64,
    pub coverage_80: f64,
    pub shot_sd: f64,
    pub visit_sd: f64,
    pub session_sd: f64,
    pub converged: bool,
    /// Each session foretold by all others.
    pub left_out: ScoreReport,
    /// Sessions foretold by earlier ones.
    pub forward: ScoreReport,
}

/// A score where the ball lands.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[allow(missing_docs)] // the keys are the documentation; figures are in the quantity's unit
pub struct GroundReport {
    pub quantity: String,
    pub left_out: ScoreReport,
    pub forward: ScoreReport,
}

/// What one unit of a lever does to where the ball lands, for one player with one head.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[allow(missing_docs)] // the keys are the documentation: name and unit
pub struct LeverWorth {
    pub player: String,
    pub head: String,
    /// Toward toe, back, crown; heavier, more loft, more upright, face more open.
    pub feature: String,
    /// Whether the log holds sessions in which this player's lever stood elsewhere.
    pub seen: bool,
    pub physics_offline_m: f64,
    pub learned_offline_m: Range80,
    /// By the model that served as prior, if any.
    pub last_season_offline_m: Option<f64>,
}

/// Worths of a player and head as report rows; `before` are those by last season's model, `seen`
/// tells which features the log has varied.
pub fn lever_worths(
    player: &str,
    head: &str,
    hand: Hand,
    worths: &[Worth],
    before: Option<&[Worth; 7]>,
    seen: &[bool],
) -> Vec<LeverWorth> {
    let s = hand.sign();
    worths
        .iter()
        .zip(seen)
        .enumerate()
        .map(|(f, (w, &seen))| LeverWorth {
            player: player.into(),
            head: head.into(),
            feature: w.feature.into(),
            seen,
            physics_offline_m: tidy(w.physics * s),
            learned_offline_m: Range80::of(
                &Interval {
                    mean: w.learned,
                    low: w.learned - Z80 * w.sd,
                    high: w.learned + Z80 * w.sd,
                },
                s,
            ),
            last_season_offline_m: before.map(|b| tidy(b[f].learned * s)),
        })
        .collect()
}

/// A change of a player's response over the season: late less early, for one unit of a lever, in
/// the unit of the response and the right-handed frame.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[allow(missing_docs)] // the keys are the documentation
pub struct DriftReport {
    pub player: String,
    pub feature: String,
    pub response: String,
    pub change: f64,
    pub change_low: f64,
    pub change_high: f64,
    /// Whether zero is more than two standard deviations away.
    pub beyond_noise: bool,
}

impl DriftReport {
    fn new(response: &str, d: &Drift) -> DriftReport {
        DriftReport {
            player: d.player.clone(),
            feature: d.feature.clone(),
            response: response.into(),
            change: tidy(d.mean),
            change_low: tidy(d.mean - Z80 * d.sd),
            change_high: tidy(d.mean + Z80 * d.sd),
            beyond_noise: d.mean.abs() > 2.0 * d.sd,
        }
    }
}

/// A session that the fit believed less than others.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[allow(missing_docs)] // the keys are the documentation
pub struct FlaggedReport {
    pub session: String,
    /// Responses in which it is far off.
    pub responses: Vec<String>,
    /// Least weight that it kept in any of them.
    pub weight: f64,
}

/// A fitted model for people.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[allow(missing_docs)] // the keys are the documentation: name and unit
pub struct LearnedReport {
    pub model_version: u32,
    pub season: String,
    pub fitted_at: String,
    pub prior_version: Option<u32>,
    pub sessions: usize,
    pub shots: usize,
    pub first_date: String,
    pub last_date: String,
    pub data_digest: String,
    pub responses: Vec<ResponseReport>,
    pub ground: Vec<GroundReport>,
    pub levers: Vec<LeverWorth>,
    /// Players with a head whom the sessions know; `levers` tells of those with the most sessions.
    pub players_with_heads: usize,
    /// Levers that no session moved.
    pub never_moved: Vec<String>,
    /// Levers that were only moved together.
    pub moved_together: Vec<Vec<String>>,
    pub condition_index: f64,
    pub drift: Vec<DriftReport>,
    pub flagged: Vec<FlaggedReport>,
}

fn response_report(r: &ResponseModel) -> ResponseReport {
    ResponseReport {
        response: r.response.clone(),
        in_use: r.in_use,
        held_out_sessions: r.score.sessions,
        rmse_physics: tidy(r.score.physics.rmse),
        rmse_correction: tidy(r.score.correction.rmse),
        gain: tidy(r.score.gain),
        gain_se: tidy(r.score.gain_se),
        coverage_80: tidy(r.score.correction.coverage[1]),
        shot_sd: tidy(r.components.shot_sd),
        visit_sd: tidy(r.components.visit_sd),
        session_sd: tidy(r.components.session_sd),
        converged: r.converged,
        left_out: (&r.score).into(),
        forward: (&r.forward).into(),
    }
}

fn flagged(m: &Model) -> Vec<FlaggedReport> {
    let mut out: BTreeMap<&str, FlaggedReport> = BTreeMap::new();
    for r in &m.responses {
        for f in &r.flagged {
            let entry = out.entry(&f.session).or_insert_with(|| FlaggedReport {
                session: f.session.clone(),
                responses: vec![],
                weight: 1.0,
            });
            entry.responses.push(r.response.clone());
            entry.weight = tidy(entry.weight.min(f.weight));
        }
    }
    out.into_values().collect()
}

impl LearnedReport {
    /// From a model and the worths of the levers of some of its players with a head, `of` so many.
    pub fn new(m: &Model, levers: Vec<LeverWorth>, of: usize) -> LearnedReport {
        let drift = |r: &ResponseModel| -> Vec<DriftReport> {
            let each = r.drift.iter();
            each.map(|d| DriftReport::new(&r.response, d)).collect()
        };
        LearnedReport {
            model_version: m.version,
            season: m.season.name.clone(),
            fitted_at: m.season.fitted_at.clone(),
            prior_version: m.season.prior_version,
            sessions: m.data.sessions,
            shots: m.data.shots,
            first_date: m.data.first_date.clone(),
            last_date: m.data.last_date.clone(),
            data_digest: m.data.digest.clone(),
            responses: m.responses.iter().map(response_report).collect(),
            ground: (m.ground.iter())
                .map(|g| GroundReport {
                    quantity: g.quantity.clone(),
                    left_out: (&g.score).into(),
                    forward: (&g.forward).into(),
                })
                .collect(),
            levers,
            players_with_heads: of,
            never_moved: m.data.never_moved.clone(),
            moved_together: m.data.moved_together.clone(),
            condition_index: tidy(m.data.condition_index),
            drift: m.responses.iter().flat_map(drift).collect(),
            flagged: flagged(m),
        }
    }

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
            page.line(&format!(
                "Never moved, so that bare physics stands: {}.",
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
        if !self.sideways_in_use() {
            page.line("Nothing sideways is in use: for the line of the ball, bare physics stands.");
        } else {
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
        }
        self.changes(page);
    }
}

/// One lever over players and heads, and its average.
fn lever_table(feature: &str, rows: &[&LeverWorth], page: &mut Page) {
    page.heading(&format!(
        "{} moves the ball ({})",
        unit_of(feature),
        page.length_unit()
    ));
    let cell = |m: f64| page.side(m);
    let mut cells: Vec<Vec<String>> = rows
        .iter()
        .map(|l| {
            let w = &l.learned_offline_m;
            vec![
                l.player.clone(),
                l.head.clone(),
                cell(l.physics_offline_m),
                cell(w.mean),
                format!("{} to {}", cell(w.low).trim(), cell(w.high).trim()),
            ]
        })
        .collect();
    // Right- and left-handed players go opposite ways: no average of both.
    let one_way = |sign: f64| rows.iter().all(|l| l.physics_offline_m * sign >= 0.0);
    if rows.len() > 1 && (one_way(1.0) || one_way(-1.0)) {
        let mean = |of: &dyn Fn(&LeverWorth) -> f64| {
            rows.iter().map(|l| of(l)).sum::<f64>() / rows.len() as f64
        };
        cells.push(vec![
            "on average".into(),
            String::new(),
            cell(mean(&|l| l.physics_offline_m)),
            cell(mean(&|l| l.learned_offline_m.mean)),
            String::new(),
        ]);
    }
    page.table(&["player", "head", "physics", "learned", "80 %"], &cells, 2);
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

/// What a unit of a feature is, in words.
fn unit_of(feature: &str) -> &'static str {
    match feature {
        "cg_toe_mm" => "1 mm of CG toward the toe",
        "cg_back_mm" => "1 mm of CG toward the back",
        "cg_up_mm" => "1 mm of CG toward the crown",
        "mass_g" => "1 g more head",
        "loft_deg" => "1 deg more loft",
        "lie_deg" => "1 deg more upright",
        // Right in the right-handed frame of the features: open for either hand.
        _ => "1 deg of face more open",
    }
}
