//! A fitted correction: effects with their information, variance components, scores and
//! provenance. It is a plain value that is saved as JSON; what it says of a player with a head is
//! asked of [`Model::learned`].

use super::learned::Learned;
use super::local::Local;
use super::score::{GroundScore, Score};
use super::{M7, V7};
use serde::{Deserialize, Serialize};

/// Version of the model file's format.
pub const FORMAT: u32 = 2;

/// Factor on the prior scale for what players and heads add, before any data.
pub(super) const GROUP_FACTOR: f64 = 0.7;

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
    /// What a player on this very head adds to it.
    Build {
        /// Name of the player.
        player: String,
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
#[derive(Debug, Clone, Copy, PartialEq, Default, Serialize, Deserialize)]
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
    /// A player on one head against the sum of the others, as a factor on the prior scale.
    pub build_factor: f64,
}

impl Components {
    /// Whether a fit can take these as known.
    pub(super) fn usable(&self) -> bool {
        let others = [
            self.visit_sd,
            self.session_sd,
            self.player_factor,
            self.head_factor,
            self.build_factor,
        ];
        self.shot_sd.is_finite()
            && self.shot_sd > 0.0
            && others.iter().all(|v| v.is_finite() && *v >= 0.0)
    }
}

/// A player or a head, with the prior standard deviation of its effect of each feature; 0 where
/// no data spoke of it yet.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Group {
    /// Name.
    pub name: String,
    /// Prior standard deviations in the order of the features.
    pub prior_sd: [f64; 7],
}

/// What the sessions of a player with a head said of the effects of the features.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct PairInformation {
    /// Name of the player.
    pub player: String,
    /// Name of the head.
    pub head: String,
    /// Prior standard deviations of what the two add together, as in [`Group`].
    pub prior_sd: [f64; 7],
    /// Information, the intercept eliminated: lower triangle by rows.
    pub information: Vec<f64>,
    /// Information times estimate.
    pub vector: [f64; 7],
}

/// The posterior of all effects as information: the prior's standard deviations and a 7 by 7
/// matrix for each pair. It adds up; the covariance of thousands of effects follows from it.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
pub struct Posterior {
    /// Prior standard deviations of the shared effects, as in [`Group`].
    pub shared_prior_sd: [f64; 7],
    /// Players, by name.
    pub players: Vec<Group>,
    /// Heads, by name.
    pub heads: Vec<Group>,
    /// Pairs, by names.
    pub pairs: Vec<PairInformation>,
}

/// Lower triangle by rows.
pub(super) fn pack(m: &M7) -> Vec<f64> {
    (0..7)
        .flat_map(|i| (0..=i).map(move |j| (i, j)))
        .map(|ij| m[ij])
        .collect()
}

/// The symmetric matrix of a lower triangle by rows; what is missing is zero.
pub(super) fn unpack(packed: &[f64]) -> M7 {
    M7::from_fn(|i, j| {
        let (i, j) = (i.max(j), i.min(j));
        packed.get(i * (i + 1) / 2 + j).copied().unwrap_or(0.0)
    })
}

/// A change of a player's response between the halves of the season.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Drift {
    /// Name of the player.
    pub player: String,
    /// Name of the feature.
    pub feature: String,
    /// Late minus early effect of a unit of the feature.
    pub mean: f64,
    /// Its standard deviation.
    pub sd: f64,
}

/// A session that the fit believed less than others.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Flag {
    /// Name of the session.
    pub session: String,
    /// Its mean less what all other sessions foretell.
    pub error: f64,
    /// Standard deviation that this should have.
    pub sd: f64,
    /// The weight that it kept, 0 to 1.
    pub weight: f64,
}

/// The correction of one response.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct ResponseModel {
    /// Name of the response with its unit.
    pub response: String,
    /// Whether proposals use it: it beat bare physics on held-out sessions beyond noise.
    pub in_use: bool,
    /// Each session foretold by all others.
    pub score: Score,
    /// Sessions foretold by earlier ones only.
    pub forward: Score,
    /// Variance components.
    pub components: Components,
    /// Standard deviations of their logarithms; 0 where they were given.
    pub components_log_sd: Components,
    /// By what factor the variances of effects are widened because the components are estimated.
    /// The coefficients' own standard deviations are those for given components.
    pub inflation: f64,
    /// Components of bare physics, the model without any effect, which the scores are against.
    pub physics_components: Components,
    /// Those of the model with shared and head effects only.
    pub pooled_components: Components,
    /// Whether the search settled.
    pub converged: bool,
    /// Newton steps.
    pub iterations: usize,
    /// The coefficients that data speak of.
    pub coefficients: Vec<Coefficient>,
    /// Their posterior.
    pub posterior: Posterior,
    /// Sessions that lost at least a third of their weight.
    pub flagged: Vec<Flag>,
    /// How the players' responses changed over the season.
    pub drift: Vec<Drift>,
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
    /// Features that no session moved.
    pub never_moved: Vec<String>,
    /// Features that were moved only together, so that their effects can't be told apart.
    pub moved_together: Vec<Vec<String>>,
    /// Largest condition index of the levers: above 30 some cannot be told apart.
    pub condition_index: f64,
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
    /// Correlations between the responses of what sessions are off by.
    pub noise_correlation: [[f64; 5]; 5],
    /// Scores where the ball lands, if they were computed.
    pub ground: Vec<GroundScore>,
}

impl Model {
    /// The model made ready to answer: factors the posterior once.
    pub fn learned(&self) -> Learned {
        Learned::new(self)
    }

    /// The correction for a player on a head; a response that is not in use stays bare physics.
    /// Players and heads that the model has not seen get the shared effect with a wider interval.
    pub fn local(&self, player: &str, head: &str) -> Local {
        self.learned().local(player, head)
    }

    /// Which features of a player with a head its data spoke of.
    pub fn knows(&self, player: &str, head: &str) -> [bool; 7] {
        let wanted = |p: &&PairInformation| p.player == player && p.head == head;
        let pairs = (self.responses.iter()).flat_map(|r| r.posterior.pairs.iter().filter(wanted));
        pairs.fold([false; 7], |known, p| {
            std::array::from_fn(|f| known[f] || p.prior_sd[f] > 0.0)
        })
    }
}

/// Prior standard deviations where data spoke, else 0.
pub(super) fn where_seen(sd: &V7, seen: &[bool; 7]) -> [f64; 7] {
    std::array::from_fn(|f| if seen[f] { sd[f] } else { 0.0 })
}
