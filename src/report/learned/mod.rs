//! Report of a fitted model: what was learned, for whom, and whether it is in use. Its keys.

mod changes;
mod lever_table;
mod names;
mod scores;
mod text;

pub(super) use names::{listed, response_name};

use super::{Range80, tidy};
use crate::correction::{Drift, Model, ResponseModel, Score, Worth, Z80};
use crate::hand::Hand;
use crate::proposal::Interval;
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
    pub hand: Hand,
    pub head: String,
    /// Toward toe, back, crown; heavier, more loft, more upright, face more open.
    pub feature: String,
    /// Whether the log holds sessions in which this player's lever stood elsewhere.
    pub seen: bool,
    pub physics_offline_m: f64,
    /// What the log says, whether its responses are in use or not.
    pub learned_offline_m: Range80,
    /// By the model that served as prior, if it knows this lever of this player with the head.
    pub last_season_offline_m: Option<f64>,
}

/// Worths of a player and head as report rows; `before` are those by last season's model with the
/// features that it knows, `seen` tells which features the log has varied.
pub fn lever_worths(
    player: &str,
    head: &str,
    hand: Hand,
    worths: &[Worth],
    before: Option<&([Worth; 7], [bool; 7])>,
    seen: &[bool],
) -> Vec<LeverWorth> {
    let s = hand.sign();
    worths
        .iter()
        .zip(seen)
        .enumerate()
        .map(|(f, (w, &seen))| LeverWorth {
            player: player.into(),
            hand,
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
            last_season_offline_m: (before.filter(|(_, known)| known[f]))
                .map(|(b, _)| tidy(b[f].learned * s)),
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
    fn new(response: &str, d: &Drift, hand: Hand) -> DriftReport {
        let s = match is_sided(response) {
            true => hand.sign(),
            false => 1.0,
        };
        let ends = [d.mean * s - Z80 * d.sd, d.mean * s + Z80 * d.sd];
        DriftReport {
            player: d.player.clone(),
            feature: d.feature.clone(),
            response: response.into(),
            change: tidy(d.mean * s),
            change_low: tidy(ends[0]),
            change_high: tidy(ends[1]),
            beyond_noise: d.mean.abs() > 2.0 * d.sd,
        }
    }
}

/// Whether a response has a left and a right.
pub(super) fn is_sided(response: &str) -> bool {
    response.starts_with("launch_direction") || response.starts_with("spin_axis")
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
    /// Whether it is in the bench.
    pub filed: bool,
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
    /// Responses in use that the prior model did not use.
    pub newly_in_use: Vec<String>,
    /// Responses that the prior used, and this model does not.
    pub no_longer_in_use: Vec<String>,
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
    /// From a model with its prior, and the worths of the levers of some of its players with a head,
    /// `of` so many; `hand_of` tells a player's hand.
    pub fn new(
        m: &Model,
        prior: Option<&Model>,
        levers: Vec<LeverWorth>,
        of: usize,
        hand_of: impl Fn(&str) -> Hand,
    ) -> LearnedReport {
        let drift = |r: &ResponseModel| -> Vec<DriftReport> {
            let each = r.drift.iter();
            each.map(|d| DriftReport::new(&r.response, d, hand_of(&d.player)))
                .collect()
        };
        let changed = |of: &dyn Fn(bool, bool) -> bool| -> Vec<String> {
            let before = prior.iter().flat_map(|p| &p.responses);
            let both = m.responses.iter().zip(before);
            let those = both.filter(|(now, then)| of(now.in_use, then.in_use));
            those.map(|(now, _)| now.response.clone()).collect()
        };
        LearnedReport {
            model_version: m.version,
            filed: true,
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
            newly_in_use: changed(&|now, then| now && !then),
            no_longer_in_use: changed(&|now, then| then && !now),
            moved_together: m.data.moved_together.clone(),
            condition_index: tidy(m.data.condition_index),
            drift: m.responses.iter().flat_map(drift).collect(),
            flagged: flagged(m),
        }
    }
}
