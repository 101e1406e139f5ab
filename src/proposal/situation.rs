//! What is known when a player stands there: club, deliveries, miss, and how sure all that is.

use super::Goal;
use crate::club::Club;
use crate::correction::{Local, responses};
use crate::delivery::{InferError, Matrix7, Reading, SessionReading, Vector7, infer};
use crate::flight::Conditions;
use crate::head::SettingError;
use crate::impact::Delivery;
use crate::miss::{Height, Miss};
use crate::physics::Physics;
use crate::priors::{self, DeliveryPrior};
use crate::quantity::Quantity;
use crate::tendency::{Ground, Tendency};
use crate::units::{RPM, YARD};
use nalgebra::Matrix4;
use statrs::distribution::{ContinuousCDF, Normal};

/// Where the picture of the player comes from.
#[derive(Debug, Clone, PartialEq)]
pub enum Evidence {
    /// Logged shots, with their tendency.
    Shots(Box<Tendency>),
    /// A miss in words.
    Words,
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
fn draw(mean: &Vector7, root: &Matrix7, i: usize, seed: u32) -> Delivery {
    let z = Vector7::from_fn(|c, _| normal(i, c as u32, seed));
    Delivery::from_vector(&(mean + root * z))
}

fn root(covariance: &Matrix7) -> Matrix7 {
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
            let seen = responses(&s.launch, inferred.delivery.head_speed);
            let model = responses(&launch, d.head_speed);
            for r in 0..5 {
                offset[r] += (seen[r] - model[r]) / draws as f64;
            }
            cloud.push(d);
        }
        Ok(Situation {
            club,
            physics,
            conditions,
            cloud,
            offset,
            centre_covariance: tendency.covariance / tendency.effective.max(1.0),
            correction,
            goal,
            evidence: Evidence::Shots(Box::new(tendency.clone())),
        })
    }

    /// From a miss in words: a measurement with wide errors of the player's average ball.
    ///
    /// "High" and "low" are taken against the height that the prior player's ball has.
    ///
    /// # Errors
    /// If the delivery cannot be fitted or the club's setting is not one that it has.
    #[allow(clippy::too_many_arguments)]
    pub fn from_words(
        club: &'a Club,
        physics: &'a Physics,
        conditions: Conditions,
        miss: &Miss,
        prior: &DeliveryPrior,
        mut goal: Goal,
        correction: Local,
        draws: usize,
        seed: u32,
    ) -> Result<Situation<'a>, SituationError> {
        let striker = physics.striker(&club.head, &club.setting, &club.setting)?;
        let range = physics.range(&conditions);
        let fly = |d: &Delivery| {
            let launch = striker.launch(d, &physics.ball, &physics.impact);
            (launch, range.fly(&launch))
        };
        let mut said = said(miss, fly(&Delivery::from_vector(&prior.mean)).1.carry());
        // What height a ball of that carry should have: the player's own, without the complaint.
        let plain = infer(&said, prior, &striker, physics, &range)?;
        let usual_apex = fly(&plain.delivery).1.apex;
        if let Some(h) = miss.height {
            goal.apex = goal.apex.or(Some(usual_apex));
            let factor = match h {
                Height::High => 1.25,
                Height::Low => 0.75,
            };
            if miss.apex.is_none() {
                let value = usual_apex * factor;
                said.push(Reading {
                    quantity: Quantity::Apex,
                    value,
                    sd: 0.12 * usual_apex,
                });
            }
        }
        let fitted = infer(&said, prior, &striker, physics, &range)?;
        let mean = fitted.delivery.to_vector();
        let spread = priors::within(club.head.kind);
        let shot_root = Matrix7::from_diagonal(&spread);
        let cloud: Vec<Delivery> = (0..draws)
            .map(|i| draw(&mean, &shot_root, i, seed))
            .collect();
        // How much the words leave open, on the ground: push the posterior through.
        let posterior_root = root(&fitted.covariance);
        let pushed: Vec<Ground> = (0..draws)
            .map(|i| {
                let (launch, f) = fly(&draw(&mean, &posterior_root, i, seed.wrapping_add(1)));
                let direction = launch.launch_direction;
                Ground::new(
                    f.start_offline(direction),
                    f.curve(direction),
                    f.carry(),
                    f.apex,
                )
            })
            .collect();
        Ok(Situation {
            club,
            physics,
            conditions,
            cloud,
            offset: [0.0; 5],
            centre_covariance: covariance(&pushed),
            correction,
            goal,
            evidence: Evidence::Words,
        })
    }
}

/// What was said, as readings with wide errors (common practice, no source): 3 yd of start line,
/// 4 yd or a quarter of curve and offline, 5 % of carry, 10 % of apex, 15 % of spin.
fn said(miss: &Miss, usual_carry: f64) -> Vec<Reading> {
    let mut out = Vec::new();
    let mut say = |quantity, value: f64, sd: f64| {
        out.push(Reading {
            quantity,
            value,
            sd,
        })
    };
    let carry = miss.carry.unwrap_or(usual_carry);
    if let Some(v) = miss.carry {
        say(Quantity::Carry, v, (0.05 * v).max(3.0));
    }
    if let Some(v) = miss.start {
        say(
            Quantity::LaunchDirection,
            (v / carry).atan(),
            3.0 * YARD / carry,
        );
    }
    let wide = |v: f64| (0.25 * v.abs()).max(4.0 * YARD);
    if let Some(v) = miss.curve {
        say(Quantity::Curve, v, wide(v));
    }
    if let Some(v) = miss.offline {
        say(Quantity::Offline, v, wide(v));
    }
    if let Some(v) = miss.apex {
        say(Quantity::Apex, v, 0.1 * v.max(5.0));
    }
    if let Some(v) = miss.spin_rate {
        say(Quantity::SpinRate, v, (0.15 * v).max(100.0 * RPM));
    }
    out
}

fn covariance(rows: &[Ground]) -> Matrix4<f64> {
    let n = rows.len().max(1) as f64;
    let mean = rows.iter().sum::<Ground>() / n;
    rows.iter()
        .map(|r| (r - mean) * (r - mean).transpose())
        .sum::<Matrix4<f64>>()
        / n
}
