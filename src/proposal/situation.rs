//! What is known when a player stands there: club, deliveries, miss, and how sure all that is.

use super::{Goal, Mount, Stock, Words};
use crate::club::Club;
use crate::correction::{Local, responses};
use crate::delivery::{InferError, Matrix7, SessionReading, Vector7};
use crate::flight::Conditions;
use crate::head::SettingError;
use crate::impact::Delivery;
use crate::physics::Physics;
use crate::tendency::Tendency;
use nalgebra::Matrix4;
use statrs::distribution::{ContinuousCDF, Normal};

/// Where the picture of the player comes from.
#[derive(Debug, Clone, PartialEq)]
pub enum Evidence {
    /// Logged shots, with their tendency.
    Shots(Box<Tendency>),
    /// A miss in words.
    Words(Box<Words>),
}

/// All that a proposal needs. Right-handed frame, SI.
#[derive(Debug, Clone)]
pub struct Situation<'a> {
    /// The club as it is now.
    pub club: &'a Club,
    /// The physical model.
    pub physics: &'a Physics,
    /// Air and wind.
    pub conditions: Conditions,
    /// Deliveries that stand for the player, equally likely.
    pub cloud: Vec<Delivery>,
    /// What the player's launches are beyond the physics of the cloud, in the units of
    /// `RESPONSES`: the same before and after a change.
    pub offset: [f64; 5],
    /// Covariance of the player's mean start, curve, carry and apex, m²: what few shots or mere
    /// words leave open.
    pub centre_covariance: Matrix4<f64>,
    /// The learned correction for this player and head.
    pub correction: Local,
    /// What the player wants.
    pub goal: Goal,
    /// Where the picture comes from.
    pub evidence: Evidence,
    /// Parts at hand; none if all that the head file names is.
    pub stock: Option<Stock>,
    /// Other heads that may be put on the shaft.
    pub rack: Vec<Mount>,
}

/// A situation that cannot be made.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum SituationError {
    /// No shot has data that counts.
    #[error("no shot of the session has data that counts")]
    NoShots,
    /// The club's setting is not one that it has.
    #[error(transparent)]
    Setting(#[from] SettingError),
    /// The delivery cannot be fitted.
    #[error(transparent)]
    Infer(#[from] InferError),
}

/// Quasi-random standard normals: `sample(i, dimension)`, the same for the same seed.
pub(super) fn normal(i: usize, dimension: u32, seed: u32) -> f64 {
    let u = f64::from(sobol_burley::sample(i as u32 & 0xffff, dimension, seed));
    // Centre the cell, so that 0 never comes out: f32 steps of 2^-24.
    Normal::standard().inverse_cdf(u + 0.5f64.powi(25))
}

/// Draws from `N(mean, covariance)` number `i`.
pub(super) fn draw(mean: &Vector7, root: &Matrix7, i: usize, seed: u32) -> Delivery {
    let z = Vector7::from_fn(|c, _| normal(i, c as u32, seed));
    Delivery::from_vector(&(mean + root * z))
}

pub(super) fn root(covariance: &Matrix7) -> Matrix7 {
    covariance.cholesky().map_or_else(Matrix7::zeros, |c| c.l())
}

impl<'a> Situation<'a> {
    /// From a logged session. `draws` deliveries are drawn from the shots' own posteriors, each
    /// shot as often as it counts.
    ///
    /// # Errors
    /// If no shot counts or the club's setting is not one that it has.
    #[allow(clippy::too_many_arguments)]
    pub fn from_session(
        club: &'a Club,
        physics: &'a Physics,
        conditions: Conditions,
        session: &SessionReading,
        tendency: &Tendency,
        goal: Goal,
        correction: Local,
        draws: usize,
        seed: u32,
    ) -> Result<Situation<'a>, SituationError> {
        let striker = physics.striker(&club.head, &club.setting, &club.setting)?;
        let total: f64 = tendency.weights.iter().sum();
        if !(total > 0.0) {
            return Err(SituationError::NoShots);
        }
        // Systematic resampling: evenly spaced pointers into the cumulative weights.
        let mut cloud = Vec::with_capacity(draws);
        let (mut shot, mut reached) = (0, tendency.weights[0]);
        let mut roots: Vec<Option<Matrix7>> = vec![None; session.shots.len()];
        let mut offset = [0.0; 5];
        for i in 0..draws {
            let pointer = (i as f64 + 0.5) / draws as f64 * total;
            while reached < pointer && shot + 1 < session.shots.len() {
                shot += 1;
                reached += tendency.weights[shot];
            }
            let s = &session.shots[shot];
            let inferred = &s.inferred;
            let root = roots[shot].get_or_insert_with(|| root(&inferred.covariance));
            let d = draw(&inferred.delivery.to_vector(), root, i, seed);
            let launch = striker.launch(&d, &physics.ball, &physics.impact);
            for (o, model) in offset.iter_mut().zip(responses(&launch, d.head_speed)) {
                *o -= model / draws as f64;
            }
            cloud.push(d);
        }
        // What was seen on average counts every shot, however many are drawn.
        for (s, weight) in session.shots.iter().zip(&tendency.weights) {
            let seen = responses(&s.launch, s.inferred.delivery.head_speed);
            for (o, seen) in offset.iter_mut().zip(seen) {
                *o += seen * weight / total;
            }
        }
        Ok(Situation {
            club,
            physics,
            conditions,
            cloud,
            offset,
            centre_covariance: tendency.centre_covariance(),
            correction,
            goal,
            evidence: Evidence::Shots(Box::new(tendency.clone())),
            stock: None,
            rack: Vec::new(),
        })
    }
}
