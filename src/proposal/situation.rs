//! What is known when a player stands there: club, deliveries, miss, and how sure all that is.

use super::{Goal, Mount, Stock, Window};
use crate::club::Club;
use crate::correction::{Local, responses};
use crate::delivery::{InferError, Matrix7, Reading, SessionReading, Vector7, infer};
use crate::flight::Conditions;
use crate::head::SettingError;
use crate::impact::Delivery;
use crate::miss::{Amount, Complaint, Miss};
use crate::physics::Physics;
use crate::priors::{self, DeliveryPrior};
use crate::quantity::Quantity;
use crate::tendency::{Ground, Tendency};
use crate::units::RPM;
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

/// A miss in words, as it was understood. Right-handed frame, SI.
#[derive(Debug, Clone, PartialEq)]
pub struct Words {
    /// Start offline, curve, offline, carry and apex (m) and spin rate (rad/s).
    pub figures: [Taken; 6],
    /// Too high or too low was said.
    pub height: Option<Complaint>,
    /// Too much or too little spin was said.
    pub spin: Option<Complaint>,
    /// Parts of the swing that it takes to explain the words and that are rare: more than
    /// [`RARE`] standard deviations from what is usual; number in `COMPONENTS` and value.
    pub rare: Vec<(usize, f64)>,
}

/// A figure as it was said and as it is taken.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Taken {
    /// Its name: start, curve, offline, carry, apex or spin_rate.
    pub name: &'static str,
    /// What was said of it; an assumed amount if only a direction was.
    pub said: Option<f64>,
    /// Whether the amount was assumed.
    pub assumed: bool,
    /// What the most probable swing gives.
    pub taken: f64,
}

/// A height or a spin that is said is a complaint if it differs from the usual by more than this.
const ODD: f64 = 0.2;

/// Standard deviations beyond which a part of a swing is told as rare.
pub const RARE: f64 = 2.0;

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

    /// From a miss in words: a measurement with wide errors of the player's average ball.
    ///
    /// "High", "low" and "too much spin" are taken against what the prior player's ball does.
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
        let usual_carry = fly(&Delivery::from_vector(&prior.mean)).1.carry();
        let prior = &with_speed_open(prior, miss);
        let mut said = said(miss, miss.carry.unwrap_or(usual_carry));
        // What height and spin a ball of that carry and curve should have: the player's own.
        let level = |q| q == Quantity::Apex || q == Quantity::SpinRate;
        let level_free: Vec<Reading> = said
            .iter()
            .copied()
            .filter(|r| !level(r.quantity))
            .collect();
        let plain = infer(&level_free, prior, &striker, physics, &range)?;
        let (usual, usual_flight) = fly(&plain.delivery);
        let factor = |c: Complaint| match c {
            Complaint::High => 1.25,
            Complaint::Low => 0.75,
        };
        // A number far from the usual is a complaint of itself.
        let odd =
            |said: Option<f64>, usual: f64| said.is_some_and(|v| (v / usual - 1.0).abs() > ODD);
        if miss.height.is_some() || odd(miss.apex, usual_flight.apex) {
            goal.apex = goal.apex.or(Some(Window::at(usual_flight.apex)));
        }
        if miss.spin.is_some() || odd(miss.spin_rate, usual.spin_rate) {
            goal.spin_rate = Some(Window::at(usual.spin_rate));
        }
        if let Some(c) = miss.height.filter(|_| miss.apex.is_none()) {
            said.push(Reading {
                quantity: Quantity::Apex,
                value: usual_flight.apex * factor(c),
                sd: 0.12 * usual_flight.apex,
            });
        }
        if let Some(c) = miss.spin.filter(|_| miss.spin_rate.is_none()) {
            said.push(Reading {
                quantity: Quantity::SpinRate,
                value: usual.spin_rate * factor(c),
                sd: 0.12 * usual.spin_rate,
            });
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
            evidence: Evidence::Words(Box::new(words(miss, &fitted.delivery, prior, fly))),
            stock: None,
            rack: Vec::new(),
        })
    }
}

/// A carry that was said tells of the head speed of the day and of how well the ball is caught, more
/// than of loft and spin: the speed may differ from the player's usual by 8 % (common practice, no
/// source).
fn with_speed_open(prior: &DeliveryPrior, miss: &Miss) -> DeliveryPrior {
    let mut out = *prior;
    if miss.carry.is_some() {
        out.sd[0] = out.sd[0].max(0.08 * out.mean[0]);
    }
    out
}

/// What the words were taken as: the most probable swing, flown.
fn words(
    miss: &Miss,
    swing: &Delivery,
    prior: &DeliveryPrior,
    fly: impl Fn(&Delivery) -> (crate::launch::Launch, crate::flight::Flight),
) -> Words {
    let (launch, flight) = fly(swing);
    let direction = launch.launch_direction;
    let carry = flight.carry();
    let plain = |name, said: Option<f64>, taken| Taken {
        name,
        said,
        assumed: false,
        taken,
    };
    let sideways = |name, said: Option<Amount>, taken| Taken {
        assumed: matches!(said, Some(Amount::Unsaid(_))),
        ..plain(name, said.map(|a| a.at(miss.carry.unwrap_or(carry))), taken)
    };
    let z = (swing.to_vector() - prior.mean).component_div(&prior.sd);
    Words {
        figures: [
            sideways("start", miss.start, flight.start_offline(direction)),
            sideways("curve", miss.curve, flight.curve(direction)),
            sideways("offline", miss.offline, flight.offline),
            plain("carry", miss.carry, carry),
            plain("apex", miss.apex, flight.apex),
            plain("spin_rate", miss.spin_rate, launch.spin_rate),
        ],
        height: miss.height,
        spin: miss.spin,
        rare: (0..7)
            .filter(|&i| z[i].abs() > RARE)
            .map(|i| (i, swing.to_vector()[i]))
            .collect(),
    }
}

/// What was said, as readings with errors (common practice, no source): a start line to 1.25 % of
/// the carry (3 yd of 240), curve and offline to a tenth of themselves more, half of an amount that
/// was assumed, carry to 3 %, apex to 8 %, spin to 10 %. They are narrow against what players
/// differ, so that a number that was said is kept unless no usual swing can explain it.
fn said(miss: &Miss, carry: f64) -> Vec<Reading> {
    let mut out = Vec::new();
    let mut say = |quantity, value: f64, sd: f64| {
        out.push(Reading {
            quantity,
            value,
            sd,
        })
    };
    let eye = 0.0125 * carry;
    let error = |a: Amount| match a {
        Amount::Stated(v) => eye.hypot(0.1 * v),
        Amount::Unsaid(_) => eye.hypot(0.5 * a.at(carry)),
    };
    if let Some(v) = miss.carry {
        say(Quantity::Carry, v, 0.03 * v);
    }
    if let Some(a) = miss.start {
        let sd = match a {
            Amount::Stated(_) => eye,
            Amount::Unsaid(_) => error(a),
        };
        say(
            Quantity::LaunchDirection,
            (a.at(carry) / carry).atan(),
            sd / carry,
        );
    }
    if let Some(a) = miss.curve {
        say(Quantity::Curve, a.at(carry), error(a));
    }
    if let Some(a) = miss.offline {
        say(Quantity::Offline, a.at(carry), error(a));
    }
    if let Some(v) = miss.apex {
        say(Quantity::Apex, v, 0.08 * v.max(5.0));
    }
    if let Some(v) = miss.spin_rate {
        say(Quantity::SpinRate, v, (0.1 * v).max(100.0 * RPM));
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
