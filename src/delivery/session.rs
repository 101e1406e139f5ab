//! A whole session: the player's average delivery first, then each shot around it.

use super::{Inferred, Reading, infer, on_the_ground};
use crate::club::Club;
use crate::flight::{Conditions, Flight, Range};
use crate::head::SettingError;
use crate::impact::Striker;
use crate::launch::Launch;
use crate::physics::Physics;
use crate::priors::{self, DeliveryPrior};
use crate::quantity::{Measured, Quantity, TABLE};
use crate::robust::median_and_mad;
use crate::units::{DEG, RPM};
use nalgebra::{DMatrix, Matrix4, Matrix4x5, Matrix5, SMatrix, SVector, Vector4};
use rayon::prelude::*;

/// One shot, completed: what was measured stands, what was not is the model's best guess.
#[derive(Debug, Clone, PartialEq)]
pub struct ShotReading {
    /// Index into the session's shots.
    pub index: usize,
    /// On which day it was hit, counted from 0.
    pub day: usize,
    /// Launch; measured values where there are any.
    pub launch: Launch,
    /// What was measured of it.
    pub measured: Measured,
    /// The delivery behind it.
    pub inferred: Inferred,
    /// Its flight in the session's conditions.
    pub flight: Flight,
}

/// A session, completed. Right-handed frame.
#[derive(Debug, Clone, PartialEq)]
pub struct SessionReading {
    /// The player's central delivery.
    pub centre: Inferred,
    /// The shots that hold at least one usable value.
    pub shots: Vec<ShotReading>,
    /// Indices of shots without any usable value.
    pub empty: Vec<usize>,
    /// What is left open by launch values that were not measured.
    pub open: Open,
}

/// What a session leaves open because parts of the launch were not measured but inferred. More shots
/// shrink it only as far as what was measured tells of them.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Open {
    /// Which of [`LAUNCH`] were measured in fewer than half of the shots.
    pub inferred: [bool; 5],
    /// Covariance of their session means, SI, in the order of [`LAUNCH`].
    pub launch: Matrix5<f64>,
    /// The same on the ground: mean start offline, curve, carry and apex, m².
    pub ground: Matrix4<f64>,
    /// What of that stays, however many shots are hit like these.
    pub stays: Matrix4<f64>,
}

/// The five values of a launch.
pub const LAUNCH: [Quantity; 5] = [
    Quantity::BallSpeed,
    Quantity::LaunchAngle,
    Quantity::LaunchDirection,
    Quantity::SpinRate,
    Quantity::SpinAxis,
];

/// Completes a session. `shots` are in the right-handed frame; `prior` is that of the player.
///
/// Ground values of a shot are used only for a part of the launch that is missing: a device computes
/// them from the launch, by a model that we don't know (what it shows tells of the ball: see
/// [`crate::flight::as_shown`]). Carry and apex tell of a missing ball speed,
/// launch angle or spin rate; offline and curve of a missing launch direction or spin axis.
///
/// # Errors
/// If the club's setting is not one that its head has.
pub fn read_session(
    shots: &[Measured],
    club: &Club,
    prior: &DeliveryPrior,
    physics: &Physics,
    conditions: &Conditions,
) -> Result<SessionReading, SettingError> {
    let striker = physics.striker(&club.head, &club.setting, &club.setting)?;
    let range = physics.range(conditions);
    let readings: Vec<Vec<Reading>> = shots.iter().map(readings).collect();
    let fit = |r: &[Reading], prior: &DeliveryPrior| {
        infer(r, prior, &striker, physics, &range).unwrap_or_else(|_| fallback(prior))
    };
    let centre = fit(&central(shots), prior);
    let around = DeliveryPrior {
        mean: centre.delivery.to_vector(),
        sd: priors::within(club.head.kind),
    };
    let complete = |(index, r): (usize, &Vec<Reading>)| {
        let inferred = fit(r, &around);
        let mut launch = striker.launch(&inferred.delivery, &physics.ball, &physics.impact);
        let m = &shots[index];
        let take = |q, slot: &mut f64| {
            if let Some(v) = m.get(q) {
                *slot = v;
            }
        };
        take(Quantity::BallSpeed, &mut launch.ball_speed);
        take(Quantity::LaunchAngle, &mut launch.launch_angle);
        take(Quantity::LaunchDirection, &mut launch.launch_direction);
        take(Quantity::SpinRate, &mut launch.spin_rate);
        take(Quantity::SpinAxis, &mut launch.spin_axis);
        ShotReading {
            index,
            day: 0,
            launch,
            measured: *m,
            inferred,
            flight: range.fly(&launch),
        }
    };
    let (full, empty): (Vec<_>, Vec<_>) = readings
        .iter()
        .enumerate()
        .partition(|(_, r)| !r.is_empty());
    let endless = || fit(&endless(shots), prior);
    Ok(SessionReading {
        open: open(
            shots,
            full.len(),
            &centre,
            endless,
            prior,
            &striker,
            physics,
            &range,
        ),
        centre,
        shots: full.into_par_iter().map(complete).collect(),
        empty: empty.into_iter().map(|(i, _)| i).collect(),
    })
}

/// Pushes what the central delivery leaves open through impact and flight, for the launch values
/// that were measured in fewer than half of the `usable` shots; and what it would leave open after
/// `endless` shots.
#[allow(clippy::too_many_arguments)]
fn open(
    shots: &[Measured],
    usable: usize,
    centre: &Inferred,
    endless: impl Fn() -> Inferred,
    prior: &DeliveryPrior,
    striker: &Striker,
    physics: &Physics,
    range: &Range<'_>,
) -> Open {
    let inferred = LAUNCH.map(|q| 2 * shots.iter().filter(|m| m.get(q).is_some()).count() < usable);
    if inferred == [false; 5] {
        return Open::default();
    }
    let launch_at = |x: &super::Vector7| {
        let d = crate::impact::Delivery::from_vector(x);
        striker.launch(&d, &physics.ball, &physics.impact)
    };
    let vector = |l: &Launch| {
        SVector::from([
            l.ball_speed,
            l.launch_angle,
            l.launch_direction,
            l.spin_rate,
            l.spin_axis,
        ])
    };
    let mean = centre.delivery.to_vector();
    let mut jacobian = SMatrix::<f64, 5, 7>::zeros();
    for c in 0..7 {
        let step = 1e-3 * prior.sd[c];
        let at = |sign: f64| {
            let mut x = mean;
            x[c] += sign * step;
            vector(&launch_at(&x))
        };
        jacobian.set_column(c, &((at(1.0) - at(-1.0)) / (2.0 * step)));
    }
    let keep = Matrix5::from_diagonal(&SVector::from(inferred.map(|i| f64::from(u8::from(i)))));
    let of_launch = |c: &super::Matrix7| keep * jacobian * c * jacobian.transpose() * keep;
    let covariance = of_launch(&centre.covariance);
    let middle = launch_at(&mean);
    const STEP: [f64; 5] = [0.5, 0.5 * DEG, 0.5 * DEG, 100.0 * RPM, 1.0 * DEG];
    let mut ground = Matrix4x5::zeros();
    for (c, step) in STEP.into_iter().enumerate() {
        let at = |sign: f64| {
            let mut l = middle;
            match c {
                0 => l.ball_speed += sign * step,
                1 => l.launch_angle += sign * step,
                2 => l.launch_direction += sign * step,
                3 => l.spin_rate += sign * step,
                _ => l.spin_axis += sign * step,
            }
            let (f, d) = (range.fly(&l), l.launch_direction);
            Vector4::new(f.start_offline(d), f.curve(d), f.carry(), f.apex)
        };
        ground.set_column(c, &((at(1.0) - at(-1.0)) / (2.0 * step)));
    }
    Open {
        inferred,
        launch: covariance,
        ground: ground * covariance * ground.transpose(),
        stays: ground * of_launch(&endless().covariance) * ground.transpose(),
    }
}

/// What a session of a prior player is expected to show on average, as centre and standard
/// deviation: wide enough for any player, narrow enough to catch a wrong unit.
///
/// # Errors
/// If the club's setting is not one that its head has.
pub fn expected(
    club: &Club,
    prior: &DeliveryPrior,
    physics: &Physics,
) -> Result<Vec<(Quantity, f64, f64)>, SettingError> {
    let striker = physics.striker(&club.head, &club.setting, &club.setting)?;
    let delivery = crate::impact::Delivery::from_vector(&prior.mean);
    let launch = striker.launch(&delivery, &physics.ball, &physics.impact);
    let flight = physics.range(&Conditions::default()).fly(&launch);
    // A third of the usual height and spin, for any player at all; a tenth of the usual speed, so
    // that m/s read as mph (0.45 of it) are farther off than any player is.
    Ok(vec![
        (
            Quantity::HeadSpeed,
            delivery.head_speed,
            delivery.head_speed / 10.0,
        ),
        (
            Quantity::BallSpeed,
            launch.ball_speed,
            launch.ball_speed / 10.0,
        ),
        (Quantity::SpinRate, launch.spin_rate, launch.spin_rate / 3.0),
        (Quantity::Apex, flight.apex, flight.apex / 3.0),
    ])
}

impl SessionReading {
    /// Flies all shots again, in other conditions.
    pub fn fly(&mut self, range: &Range<'_>) {
        for shot in &mut self.shots {
            shot.flight = range.fly(&shot.launch);
        }
    }

    /// This session and another one of the same club as one, with the centre of the first; indices
    /// of the second are moved up by `offset`, and its shots are of day number `day`.
    pub fn joined(mut self, other: SessionReading, offset: usize, day: usize) -> SessionReading {
        let counts = [self.shots.len(), other.shots.len()];
        self.shots
            .extend(other.shots.into_iter().map(|s| ShotReading {
                index: s.index + offset,
                day,
                ..s
            }));
        self.empty
            .extend(other.empty.into_iter().map(|i| i + offset));
        let all = self.shots.len();
        let of_all = |q| -> usize {
            let measured = |s: &&ShotReading| s.measured.get(q).is_some();
            self.shots.iter().filter(measured).count()
        };
        let inferred = LAUNCH.map(|q| 2 * of_all(q) < all);
        let weights = counts.map(|n| n as f64 / all.max(1) as f64);
        self.open = self.open.with(&other.open, weights, inferred);
        self
    }
}

impl Open {
    /// What the mean of two sessions leaves open, of so much weight each. What was inferred errs the
    /// same way in both: standard deviations add up, not variances.
    fn with(&self, other: &Open, [own, its]: [f64; 2], inferred: [bool; 5]) -> Open {
        fn sum<const N: usize>(
            a: &SMatrix<f64, N, N>,
            b: &SMatrix<f64, N, N>,
            [own, its]: [f64; 2],
        ) -> SMatrix<f64, N, N> {
            let both = root(a) * own + root(b) * its;
            both * both
        }
        let weights = [own, its];
        Open {
            inferred,
            launch: sum(&self.launch, &other.launch, weights),
            ground: sum(&self.ground, &other.ground, weights),
            stays: sum(&self.stays, &other.stays, weights),
        }
    }
}

/// The symmetric square root of a covariance.
fn root<const N: usize>(covariance: &SMatrix<f64, N, N>) -> SMatrix<f64, N, N> {
    let eigen = DMatrix::from_fn(N, N, |i, j| covariance[(i, j)]).symmetric_eigen();
    let sd = eigen.eigenvalues.map(|v| v.max(0.0).sqrt());
    let of = &eigen.eigenvectors;
    let root = of * DMatrix::from_diagonal(&sd) * of.transpose();
    SMatrix::from_fn(|i, j| root[(i, j)])
}

/// The prior itself, marked as not converged: what is left when a fit has no answer.
pub(super) fn fallback(prior: &DeliveryPrior) -> Inferred {
    Inferred {
        delivery: crate::impact::Delivery::from_vector(&prior.mean),
        covariance: super::Matrix7::from_diagonal(&prior.sd.component_mul(&prior.sd)),
        misfit: f64::NAN,
        converged: false,
        evaluations: 0,
    }
}

/// What of a shot a fit may use: of launch and ground the former, where it is whole.
struct Usable {
    /// Whether the ball's speed and height are told by its launch.
    height: bool,
    /// Whether its direction and curve are.
    side: bool,
}

impl Usable {
    fn of(m: &Measured) -> Usable {
        let all = |q: &[Quantity]| q.iter().all(|q| m.get(*q).is_some());
        Usable {
            height: all(&[
                Quantity::BallSpeed,
                Quantity::LaunchAngle,
                Quantity::SpinRate,
            ]),
            side: all(&[Quantity::LaunchDirection, Quantity::SpinAxis]),
        }
    }

    fn wants(&self, q: Quantity) -> bool {
        match q {
            Quantity::Total => false,
            Quantity::Carry | Quantity::Apex => !self.height,
            Quantity::Offline | Quantity::Curve => !self.side,
            _ => true,
        }
    }
}

/// The readings of a shot that a fit may use, with device and model error in quadrature.
fn readings(m: &Measured) -> Vec<Reading> {
    let usable = Usable::of(m);
    m.iter()
        .filter(|(q, _)| usable.wants(*q))
        .map(|(quantity, value)| Reading {
            quantity,
            value,
            sd: quantity
                .info()
                .device_sd
                .hypot(priors::model_error(quantity)),
        })
        .collect()
}

/// The same as [`central`] of so many shots that only what the model errs is left.
fn endless(shots: &[Measured]) -> Vec<Reading> {
    const MANY: f64 = 1e-2;
    let less = |r: Reading| Reading {
        sd: (MANY * r.sd).hypot(priors::model_error(r.quantity)),
        ..r
    };
    central(shots).into_iter().map(less).collect()
}

/// The median of each quantity, with the standard error of a median of so many shots.
pub(super) fn central(shots: &[Measured]) -> Vec<Reading> {
    let usable: Vec<Usable> = shots.iter().map(Usable::of).collect();
    let mut values = Vec::with_capacity(shots.len());
    let mut readings = Vec::with_capacity(TABLE.len());
    for info in &TABLE {
        let q = info.quantity;
        values.clear();
        values.extend(
            (shots.iter().zip(&usable))
                .filter_map(|(m, usable)| m.get(q).filter(|_| usable.wants(q))),
        );
        // What a few shots had to lean on says little of the others.
        if on_the_ground(q) && 2 * values.len() < shots.len() {
            continue;
        }
        let Some((value, spread)) = median_and_mad(&mut values) else {
            continue;
        };
        // Asymptotic efficiency of the median at the normal: 2/pi.
        let efficiency = std::f64::consts::FRAC_2_PI;
        let se = spread.max(info.device_sd) / (efficiency * values.len() as f64).sqrt();
        readings.push(Reading {
            quantity: q,
            value,
            sd: se.hypot(priors::model_error(q)),
        });
    }
    readings
}
