//! Delivery from what was measured: a maximum a posteriori fit.
//!
//! Unknown are the seven [`COMPONENTS`] of a delivery, with a normal prior. Known is any subset of
//! the measured quantities, each with a standard error (device and model in quadrature). The fit
//! minimises the sum of squared whitened residuals of both by Levenberg-Marquardt (Moré 1978,
//! *The Levenberg-Marquardt algorithm: implementation and theory*, Lecture Notes in Mathematics
//! 630, 105-116); the covariance is Laplace's: the inverse of `JᵀJ` at the minimum (Gelman et al.
//! 2013, *Bayesian Data Analysis*, 3rd ed., ch. 4.1).

mod centre;
mod session;

pub use centre::Centres;
pub use session::{LAUNCH, Open, SessionReading, ShotReading, expected, read_session};

pub use crate::impact::{COMPONENTS, Vector7};

use crate::flight::Range;
use crate::impact::{Delivery, Striker};
use crate::launch::Launch;
use crate::physics::Physics;
use crate::priors::DeliveryPrior;
use crate::quantity::Quantity;
use levenberg_marquardt::{LeastSquaresProblem, LevenbergMarquardt};
use nalgebra::{Dyn, OMatrix, OVector, SMatrix, U7, storage::Owned};

/// A covariance of a delivery.
pub type Matrix7 = SMatrix<f64, 7, 7>;

/// Longest last step, in prior standard deviations: beyond it the model is not linear enough.
const POLISH: f64 = 1e-4;

/// One measured value with its standard error, SI.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Reading {
    /// What was measured.
    pub quantity: Quantity,
    /// Value.
    pub value: f64,
    /// Standard error, positive.
    pub sd: f64,
}

/// A fitted delivery.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Inferred {
    /// The most probable delivery.
    pub delivery: Delivery,
    /// Posterior covariance, SI, in the order of [`COMPONENTS`].
    pub covariance: Matrix7,
    /// Sum of squared whitened residuals of the readings at the minimum.
    pub misfit: f64,
    /// Whether the optimiser met its tolerances; if not, it stopped at its limit of evaluations.
    pub converged: bool,
    /// Evaluations of the model.
    pub evaluations: usize,
}

/// A fit that cannot be made.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum InferError {
    /// A reading is not usable.
    #[error("{0:?}: a reading needs a finite value and a positive standard error")]
    Reading(Quantity),
    /// The model gave no finite answer near the prior.
    #[error("the model has no finite answer for this delivery")]
    NoAnswer,
}

/// What the model says of a delivery, for one quantity.
///
/// Ground quantities fly the ball; `flight` must then be given.
struct Prediction {
    delivery: Delivery,
    launch: Launch,
    flight: Option<crate::flight::Flight>,
}

impl Prediction {
    fn of(&self, q: Quantity) -> f64 {
        let (d, l) = (&self.delivery, &self.launch);
        let flown = |f: fn(&crate::flight::Flight, f64) -> f64| {
            self.flight
                .as_ref()
                .map_or(0.0, |x| f(x, l.launch_direction))
        };
        match q {
            Quantity::BallSpeed => l.ball_speed,
            Quantity::LaunchAngle => l.launch_angle,
            Quantity::LaunchDirection => l.launch_direction,
            Quantity::SpinRate => l.spin_rate,
            Quantity::SpinAxis => l.spin_axis,
            Quantity::HeadSpeed => d.head_speed,
            Quantity::ClubPath => d.club_path,
            Quantity::FaceAngle => d.face_angle,
            Quantity::AttackAngle => d.attack_angle,
            Quantity::DynamicLoft => d.dynamic_loft,
            Quantity::StrikeToe => d.strike_toe,
            Quantity::StrikeUp => d.strike_up,
            Quantity::Carry | Quantity::Total => flown(|f, _| f.carry()),
            Quantity::Offline => flown(|f, _| f.offline),
            Quantity::Curve => flown(|f, dir| f.curve(dir)),
            Quantity::Apex => flown(|f, _| f.apex),
        }
    }
}

/// Whether a quantity needs the flight.
fn on_the_ground(q: Quantity) -> bool {
    matches!(
        q,
        Quantity::Carry | Quantity::Offline | Quantity::Curve | Quantity::Apex | Quantity::Total
    )
}

/// Fits a delivery to readings.
///
/// `striker` is the club that was swung, right-handed; `range` is needed for ground quantities
/// (carry stands in for total, which depends on the turf).
///
/// # Errors
/// If a reading is not finite or has no positive standard error, or if the model has no finite
/// answer.
pub fn infer(
    readings: &[Reading],
    prior: &DeliveryPrior,
    striker: &Striker,
    physics: &Physics,
    range: &Range<'_>,
) -> Result<Inferred, InferError> {
    for r in readings {
        if !(r.value.is_finite() && r.sd.is_finite() && r.sd > 0.0) {
            return Err(InferError::Reading(r.quantity));
        }
    }
    let problem = Problem {
        x: Vector7::zeros(),
        readings,
        prior,
        striker,
        physics,
        range,
        fly: readings.iter().any(|r| on_the_ground(r.quantity)),
    };
    const TOLERANCE: f64 = 1e-10;
    let (mut solved, report) = LevenbergMarquardt::new()
        .with_ftol(TOLERANCE * 1e-2)
        .with_xtol(TOLERANCE)
        .with_gtol(TOLERANCE)
        .with_patience(30)
        .minimize(problem);
    let (residuals, jacobian) = match (solved.residuals(), solved.jacobian()) {
        (Some(r), Some(j)) => (r, j),
        _ => return Err(InferError::NoAnswer),
    };
    let information: Matrix7 = (jacobian.transpose() * &jacobian)
        .fixed_view::<7, 7>(0, 0)
        .into();
    // The prior's rows are the identity, so that the information is at least that: well conditioned.
    let factor = information.cholesky().ok_or(InferError::NoAnswer)?;
    let covariance = factor.inverse();
    // The search may end a hair's breadth from the minimum: the last step with slopes from there.
    let gradient: Vector7 = jacobian.tr_mul(&residuals).fixed_rows::<7>(0).into();
    let last = factor.solve(&gradient);
    if last.amax() < POLISH {
        solved.x -= last;
    }
    let scale = Matrix7::from_diagonal(&prior.sd);
    Ok(Inferred {
        delivery: solved.delivery(),
        covariance: scale * covariance * scale,
        misfit: residuals.rows(7, readings.len()).norm_squared(),
        converged: report.termination.was_successful(),
        evaluations: report.number_of_evaluations,
    })
}

/// The least-squares problem in whitened components: `x` counts prior standard deviations.
struct Problem<'a> {
    x: Vector7,
    readings: &'a [Reading],
    prior: &'a DeliveryPrior,
    striker: &'a Striker,
    physics: &'a Physics,
    range: &'a Range<'a>,
    fly: bool,
}

impl Problem<'_> {
    fn delivery(&self) -> Delivery {
        Delivery::from_vector(&(self.prior.mean + self.prior.sd.component_mul(&self.x)))
    }

    fn predict(&self, x: &Vector7) -> Option<OVector<f64, Dyn>> {
        let delivery = Delivery::from_vector(&(self.prior.mean + self.prior.sd.component_mul(x)));
        let launch = self
            .striker
            .launch(&delivery, &self.physics.ball, &self.physics.impact);
        let p = Prediction {
            delivery,
            launch,
            flight: self.fly.then(|| self.range.fly(&launch)),
        };
        let mut out = OVector::<f64, Dyn>::zeros(7 + self.readings.len());
        out.rows_mut(0, 7).copy_from(x);
        for (i, r) in self.readings.iter().enumerate() {
            out[7 + i] = (p.of(r.quantity) - r.value) / r.sd;
        }
        out.iter().all(|v| v.is_finite()).then_some(out)
    }
}

impl LeastSquaresProblem<f64, Dyn, U7> for Problem<'_> {
    type ResidualStorage = Owned<f64, Dyn>;
    type JacobianStorage = Owned<f64, Dyn, U7>;
    type ParameterStorage = Owned<f64, U7>;

    fn set_params(&mut self, x: &Vector7) {
        self.x = *x;
    }

    fn params(&self) -> Vector7 {
        self.x
    }

    fn residuals(&self) -> Option<OVector<f64, Dyn>> {
        self.predict(&self.x)
    }

    /// Central differences with a step of a thousandth of a prior standard deviation.
    fn jacobian(&self) -> Option<OMatrix<f64, Dyn, U7>> {
        const STEP: f64 = 1e-3;
        let mut out = OMatrix::<f64, Dyn, U7>::zeros(7 + self.readings.len());
        for c in 0..7 {
            let at = |step: f64| {
                let mut x = self.x;
                x[c] += step;
                self.predict(&x)
            };
            out.set_column(c, &((at(STEP)? - at(-STEP)?) / (2.0 * STEP)));
        }
        Some(out)
    }
}
