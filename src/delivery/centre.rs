//! The central deliveries of many sessions of a club, without their shots: what a refit needs.
//!
//! The sum of squares is that of [`infer`](super::infer) and so is its minimum, but it is sought by
//! Gauss-Newton steps, the first from slopes that all sessions of the club share, and left when
//! what the last one misses, as its length against the one before tells, is a thousandth of a prior
//! standard deviation: a season has tens of thousands of sessions. (J. E. Dennis, R. B. Schnabel
//! 1983, *Numerical Methods for Unconstrained Optimization and Nonlinear Equations*, ch. 10.2.)

use super::session::{central, fallback};
use super::{Prediction, Reading, Vector7, infer, on_the_ground};
use crate::flight::Range;
use crate::impact::{Delivery, Striker};
use crate::physics::Physics;
use crate::priors::DeliveryPrior;
use crate::quantity::{Measured, Quantity, TABLE};
use nalgebra::SMatrix;

/// How far from the minimum a search may end, in prior standard deviations.
const NEAR: f64 = 1e-3;
/// Steps after which a search is given up.
const MOST: usize = 10;

/// A club whose sessions' central deliveries are sought.
#[derive(Debug, Clone)]
pub struct Centres<'p> {
    /// The club that is swung, right-handed.
    pub striker: Striker,
    /// The player's prior.
    pub prior: DeliveryPrior,
    physics: &'p Physics,
    /// At the prior's mean; launch only.
    start: Tangent,
}

/// What the model says at a point, and its slopes there.
#[derive(Debug, Clone)]
struct Tangent {
    /// In prior standard deviations from the prior's mean.
    x: Vector7,
    values: [f64; Quantity::COUNT],
    slopes: [Vector7; Quantity::COUNT],
}

impl<'p> Centres<'p> {
    /// Those of a club, right-handed, of a player with that prior.
    pub fn new(striker: Striker, prior: DeliveryPrior, physics: &'p Physics) -> Centres<'p> {
        let start = Tangent::at(Vector7::zeros(), |x| {
            values(&striker, &prior, physics, None, x)
        });
        Centres {
            striker,
            prior,
            physics,
            start,
        }
    }

    /// The central delivery of a session. `shots` are in the right-handed frame.
    pub fn of(&self, shots: &[Measured], range: &Range<'_>) -> Delivery {
        let readings = central(shots);
        let (s, p) = (&self.striker, &self.prior);
        self.quick(&readings, range).unwrap_or_else(|| {
            infer(&readings, p, s, self.physics, range)
                .unwrap_or_else(|_| fallback(p))
                .delivery
        })
    }

    /// `None` if the steps do not become short enough.
    fn quick(&self, readings: &[Reading], range: &Range<'_>) -> Option<Delivery> {
        let fly = readings.iter().any(|r| on_the_ground(r.quantity));
        let at = |x: Vector7| {
            Tangent::at(x, |x| {
                let range = fly.then_some(range);
                values(&self.striker, &self.prior, self.physics, range, x)
            })
        };
        let mut step = match fly {
            false => self.start.step(readings)?,
            true => at(Vector7::zeros()).step(readings)?,
        };
        let (mut x, mut missed) = (step, step.amax());
        for _ in 0..MOST {
            if missed < NEAR {
                return Some(at_point(&self.prior, &x));
            }
            let before = step.amax();
            step = at(x).step(readings)?;
            x += step;
            missed = step.amax() * (step.amax() / before);
        }
        None
    }
}

impl Tangent {
    /// Slopes by forward differences of a thousandth of a prior standard deviation.
    fn at(x: Vector7, model: impl Fn(&Vector7) -> [f64; Quantity::COUNT]) -> Tangent {
        const STEP: f64 = 1e-3;
        let values = model(&x);
        let mut slopes = [Vector7::zeros(); Quantity::COUNT];
        for c in 0..7 {
            let mut beside = x;
            beside[c] += STEP;
            for ((slope, there), here) in slopes.iter_mut().zip(model(&beside)).zip(values) {
                slope[c] = (there - here) / STEP;
            }
        }
        Tangent { x, values, slopes }
    }

    /// From here to the minimum as it would be if the model were linear.
    fn step(&self, readings: &[Reading]) -> Option<Vector7> {
        // The prior's rows first.
        let (mut information, mut gradient) = (SMatrix::<f64, 7, 7>::identity(), self.x);
        for r in readings {
            let q = r.quantity as usize;
            let slope = self.slopes[q] / r.sd;
            information.syger(1.0, &slope, &slope, 1.0);
            gradient += slope * ((self.values[q] - r.value) / r.sd);
        }
        let step = -information.cholesky()?.solve(&gradient);
        step.iter().all(|v| v.is_finite()).then_some(step)
    }
}

fn at_point(prior: &DeliveryPrior, x: &Vector7) -> Delivery {
    Delivery::from_vector(&(prior.mean + prior.sd.component_mul(x)))
}

/// All quantities of a delivery; those on the ground only with a range.
fn values(
    striker: &Striker,
    prior: &DeliveryPrior,
    physics: &Physics,
    range: Option<&Range<'_>>,
    x: &Vector7,
) -> [f64; Quantity::COUNT] {
    let delivery = at_point(prior, x);
    let launch = striker.launch(&delivery, &physics.ball, &physics.impact);
    let p = Prediction {
        delivery,
        launch,
        flight: range.map(|r| r.fly(&launch)),
    };
    TABLE.map(|info| p.of(info.quantity))
}
