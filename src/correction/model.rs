//! A fitted correction: coefficients with their covariance, variance components, scores and
//! provenance. It is a plain value that is saved as JSON, and it answers one question: what does a
//! change of the levers do beyond the physics, for this player and head, and how sure is that?

use super::RESPONSES;
use super::score::Score;
use crate::club::FEATURES;
use crate::priors;
use serde::{Deserialize, Serialize};

/// Version of the model file's format.
pub const FORMAT: u32 = 1;

/// What a coefficient belongs to.
#[derive(Debug, Clone, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "snake_case", tag = "term")]
pub enum Term {
    /// Effect of a feature, shared by all.
    Shared {
        /// Name of the feature.
        feature: String,
    },
    /// What a player adds to it.
    Player {
        /// Name of the player.
        player: String,
        /// Name of the feature.
        feature: String,
    },
    /// What a head adds to it.
    Head {
        /// Name of the head.
        head: String,
        /// Name of the feature.
        feature: String,
    },
    /// Launch of a player with a head at its reference setting.
    Intercept {
        /// Name of the player.
        player: String,
        /// Name of the head.
        head: String,
    },
}

impl Term {
    /// Whether it is an effect of a lever, not an intercept.
    pub fn is_slope(&self) -> bool {
        !matches!(self, Term::Intercept { .. })
    }
}

/// A coefficient with its posterior mean and standard deviation.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Coefficient {
    /// What it belongs to.
    #[serde(flatten)]
    pub term: Term,
    /// Posterior mean.
    pub mean: f64,
    /// Posterior standard deviation.
    pub sd: f64,
    /// Standard deviation that it had before the data.
    pub prior_sd: f64,
}

/// Variance components of one response, as standard deviations in the response's unit.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Components {
    /// Shot to shot.
    pub shot_sd: f64,
    /// Session to session.
    pub session_sd: f64,
    /// Player against shared effects, as a factor on the prior scale.
    pub player_factor: f64,
    /// Head against shared effects, as a factor on the prior scale.
    pub head_factor: f64,
}

/// The correction of one response.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct ResponseModel {
    /// Name of the response with its unit.
    pub response: String,
    /// Whether proposals use it: it beat bare physics on held-out sessions beyond noise.
    pub in_use: bool,
    /// Held-out score.
    pub score: Score,
    /// Variance components.
    pub components: Components,
    /// Whether EM settled.
    pub converged: bool,
    /// Iterations of EM.
    pub iterations: usize,
    /// The coefficients.
    pub coefficients: Vec<Coefficient>,
    /// Posterior covariance, lower triangle by rows.
    pub covariance: Vec<f64>,
}

/// What a model has seen.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
pub struct DataSeen {
    /// Sessions.
    pub sessions: usize,
    /// Shots.
    pub shots: usize,
    /// First day.
    pub first_date: String,
    /// Last day.
    pub last_date: String,
    /// SHA-256 of the session summaries, so that the same data can be told.
    pub digest: String,
}

/// Name and moment of a fit, given by the caller: the library has no clock.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
pub struct Season {
    /// Name of the season, such as `2026`.
    pub name: String,
    /// When it was fitted, RFC 3339.
    pub fitted_at: String,
    /// Version of the model that served as prior, if any.
    pub prior_version: Option<u32>,
}

/// A fitted correction.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Model {
    /// Version of the file format.
    pub format: u32,
    /// Version of the model in its bench, counted from 1.
    pub version: u32,
    /// Season.
    pub season: Season,
    /// Data.
    pub data: DataSeen,
    /// One for each response.
    pub responses: Vec<ResponseModel>,
}

/// What a change of features does beyond the physics, in the units of `RESPONSES`.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Effect {
    /// Mean.
    pub mean: [f64; 5],
    /// Standard deviation; errors of different responses are taken as independent.
    pub sd: [f64; 5],
}

/// Factor on the prior scale for what players and heads add, before any data.
pub(super) const GROUP_FACTOR: f64 = 0.7;

impl Model {
    /// The effect of a change of features for a player on a head. Players and heads that the model
    /// has not seen get the shared effect with a wider interval.
    pub fn effect(&self, player: &str, head: &str, change: &[f64; FEATURES.len()]) -> Effect {
        let mut out = unlearned(change);
        for (r, response) in self.responses.iter().enumerate().take(RESPONSES.len()) {
            if response.in_use {
                (out.mean[r], out.sd[r]) = response.effect(r, player, head, change);
            }
        }
        out
    }
}

/// The effect without any model: none, with the prior's uncertainty.
pub fn unlearned(change: &[f64; FEATURES.len()]) -> Effect {
    let scales = priors::response();
    let inflate = 1.0 + 2.0 * GROUP_FACTOR * GROUP_FACTOR;
    Effect {
        mean: [0.0; 5],
        sd: std::array::from_fn(|r| {
            let var: f64 = scales[r]
                .iter()
                .zip(change)
                .map(|(s, x)| (s * x).powi(2))
                .sum();
            (var * inflate).sqrt()
        }),
    }
}

impl ResponseModel {
    /// Mean and standard deviation of an effect, whether the response is in use or not.
    pub fn effect(
        &self,
        response: usize,
        player: &str,
        head: &str,
        change: &[f64; FEATURES.len()],
    ) -> (f64, f64) {
        let scale = priors::response()[response];
        // Weight of each coefficient, and the prior variance of the terms that are not there.
        let mut weights = vec![0.0; self.coefficients.len()];
        let mut missing = 0.0;
        for (f, (&x, s)) in change.iter().zip(scale).enumerate() {
            let feature = FEATURES[f];
            let c = &self.components;
            for (term, factor) in [
                (
                    Term::Shared {
                        feature: feature.into(),
                    },
                    1.0,
                ),
                (
                    Term::Player {
                        player: player.into(),
                        feature: feature.into(),
                    },
                    c.player_factor,
                ),
                (
                    Term::Head {
                        head: head.into(),
                        feature: feature.into(),
                    },
                    c.head_factor,
                ),
            ] {
                if x == 0.0 {
                    continue;
                }
                match self.coefficients.iter().position(|k| k.term == term) {
                    Some(i) => weights[i] = x,
                    None => missing += (x * s * factor).powi(2),
                }
            }
        }
        let used: Vec<usize> = (0..weights.len()).filter(|&i| weights[i] != 0.0).collect();
        let mean = used
            .iter()
            .map(|&i| weights[i] * self.coefficients[i].mean)
            .sum();
        let mut var = missing;
        for &i in &used {
            for &j in &used {
                var += weights[i] * weights[j] * self.covariance_of(i, j);
            }
        }
        (mean, var.max(0.0).sqrt())
    }

    /// Posterior covariance of two coefficients.
    pub fn covariance_of(&self, i: usize, j: usize) -> f64 {
        let (i, j) = (i.max(j), i.min(j));
        self.covariance
            .get(i * (i + 1) / 2 + j)
            .copied()
            .unwrap_or(f64::NAN)
    }
}
