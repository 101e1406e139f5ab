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
    /// Day to day of a player with a head.
    pub visit_sd: f64,
    /// Session to session within a day.
    pub session_sd: f64,
    /// Player against shared effects, as a factor on the prior scale.
    pub player_factor: f64,
    /// Head against shared effects, as a factor on the prior scale.
    pub head_factor: f64,
}

impl Components {
    /// Whether a fit can take these as known.
    pub(super) fn usable(&self) -> bool {
        let positive = [self.shot_sd, self.player_factor, self.head_factor];
        let others = [self.visit_sd, self.session_sd];
        positive.iter().all(|v| v.is_finite() && *v > 0.0)
            && others.iter().all(|v| v.is_finite() && *v >= 0.0)
    }
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

/// The correction as seen from one player and head: linear in a change of features.
#[derive(Debug, Clone, PartialEq)]
pub struct Local {
    /// `[response][feature]`.
    mean: [[f64; K]; 5],
    /// `[response][feature][feature]`.
    covariance: [[[f64; K]; K]; 5],
}

const K: usize = FEATURES.len();

impl Local {
    /// No learned effect, with the prior's uncertainty: bare physics.
    pub fn unlearned() -> Local {
        let scales = priors::response();
        let inflate = 1.0 + 2.0 * GROUP_FACTOR * GROUP_FACTOR;
        Local {
            mean: [[0.0; K]; 5],
            covariance: std::array::from_fn(|r| {
                std::array::from_fn(|f| {
                    std::array::from_fn(|g| {
                        if f == g {
                            inflate * scales[r][f].powi(2)
                        } else {
                            0.0
                        }
                    })
                })
            }),
        }
    }

    /// What a change of features does beyond the physics.
    pub fn effect(&self, change: &[f64; K]) -> Effect {
        let mut out = Effect {
            mean: [0.0; 5],
            sd: [0.0; 5],
        };
        for r in 0..5 {
            let mut var = 0.0;
            for f in 0..K {
                out.mean[r] += change[f] * self.mean[r][f];
                for g in 0..K {
                    var += change[f] * change[g] * self.covariance[r][f][g];
                }
            }
            out.sd[r] = var.max(0.0).sqrt();
        }
        out
    }
}

impl Model {
    /// The correction for a player on a head; a response that is not in use stays bare physics.
    /// Players and heads that the model has not seen get the shared effect with a wider interval.
    pub fn local(&self, player: &str, head: &str) -> Local {
        let mut out = Local::unlearned();
        for (r, response) in self.responses.iter().enumerate().take(RESPONSES.len()) {
            if response.in_use {
                (out.mean[r], out.covariance[r]) = response.local(r, player, head);
            }
        }
        out
    }
}

impl ResponseModel {
    /// Mean and covariance of the effect of each feature for a player on a head, whether the
    /// response is in use or not.
    pub fn local(&self, response: usize, player: &str, head: &str) -> ([f64; K], [[f64; K]; K]) {
        let scale = priors::response()[response];
        let find = |term: Term| self.coefficients.iter().position(|k| k.term == term);
        let mut columns: [Vec<usize>; K] = Default::default();
        let (mut mean, mut covariance) = ([0.0; K], [[0.0; K]; K]);
        for (f, name) in FEATURES.iter().enumerate() {
            let feature = (*name).to_string();
            let terms = [
                (
                    Term::Shared {
                        feature: feature.clone(),
                    },
                    1.0,
                ),
                (
                    Term::Player {
                        player: player.into(),
                        feature: feature.clone(),
                    },
                    self.components.player_factor,
                ),
                (
                    Term::Head {
                        head: head.into(),
                        feature,
                    },
                    self.components.head_factor,
                ),
            ];
            for (term, factor) in terms {
                match find(term) {
                    Some(i) => {
                        columns[f].push(i);
                        mean[f] += self.coefficients[i].mean;
                    }
                    None => covariance[f][f] += (scale[f] * factor).powi(2),
                }
            }
        }
        for f in 0..K {
            for g in 0..K {
                for &i in &columns[f] {
                    for &j in &columns[g] {
                        covariance[f][g] += self.covariance_of(i, j);
                    }
                }
            }
        }
        (mean, covariance)
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
