//! Ball flight: drag, Magnus lift, spin decay, gravity and wind, from launch to landing.
//!
//! The equations of motion, with `w` the wind, `v_a = v - w` and a fixed spin axis `s`:
//!
//! `dv/dt = -(rho A / 2 m) |v_a| (f_d Cd v_a - f_l Cl s × v_a) + g`,
//! `d omega/dt = -k (rho/rho_ref) omega |v_a| / r`.
//!
//! Sources: Smits and Smith 1994, Science and Golf II, 340-347 (forces and spin decay);
//! Bearman and Harvey 1976, Aeronautical Quarterly 27, 112-122 (coefficients). Integrated by the
//! classic fourth-order Runge-Kutta method, whose steps depend on nothing but the ball's speed and
//! height; landing and apex are found on the cubic Hermite interpolant of the last step. Hairer,
//! Nørsett, Wanner 1993, *Solving Ordinary Differential Equations I*, II.1 and II.6.

mod aero;
mod batch;
mod kernel;
mod run;
mod shown;

pub use aero::{AeroError, AeroSet};
pub use batch::{Flights, Launches};
pub use run::{Rest, Turf, run};
pub use shown::{AsShown, Shown, as_shown};

use crate::air::Air;
use crate::ball::Ball;
use crate::hand::Mirror;
use crate::launch::Launch;
use nalgebra::Vector3;
use std::f64::consts::PI;

/// Wind over flat ground.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Wind {
    /// Toward the right, m/s, at the reference height.
    pub toward_right: f64,
    /// Toward the target (a tail wind), m/s, at the reference height.
    pub toward_target: f64,
    /// Exponent of the power law `w(z) = w_ref (z / 10 m)^shear`, held below 1 m; 0 is a uniform
    /// wind. 1/7 is usual over short grass (common practice, no source).
    pub shear: f64,
}

/// Height at which a sheared wind is stated, m: the meteorological standard, WMO-No. 8 (2018),
/// *Guide to Instruments and Methods of Observation*, ch. 5.
pub const WIND_REFERENCE_HEIGHT: f64 = 10.0;
/// Height below which a sheared wind is held, m. The power law has an infinite slope at the ground,
/// which no fixed step can follow (0.6 m error at landing); it does not hold among the grass
/// anyway. Our choice.
const WIND_LOWEST_HEIGHT: f64 = 1.0;

impl Mirror for Wind {
    fn mirrored(self) -> Self {
        Wind {
            toward_right: -self.toward_right,
            ..self
        }
    }
}

/// What the ball flies through.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Conditions {
    /// Air at the range.
    pub air: Air,
    /// Wind.
    pub wind: Wind,
}

impl Mirror for Conditions {
    fn mirrored(self) -> Self {
        Conditions {
            wind: self.wind.mirrored(),
            ..self
        }
    }
}

/// How finely a flight is integrated.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Precision {
    /// Steps of 10 m, for proposals: within 50 mm of the tight flight at landing.
    #[default]
    Fast,
    /// Steps of 2 ms: error below a millimetre.
    Tight,
}

/// A ball, a coefficient set and conditions, made ready for many flights.
#[derive(Debug, Clone)]
pub struct Range<'a> {
    aero: &'a AeroSet,
    wind: Wind,
    /// `rho A / 2 m`, 1/m, with the ball's drag and lift factor.
    drag: f64,
    lift: f64,
    re_per_speed: f64,
    radius: f64,
    decay: f64,
    precision: Precision,
}

/// A landed flight. SI, target frame.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Flight {
    /// Where it landed: to the right, m.
    pub offline: f64,
    /// Where it landed: along the target line, m.
    pub downrange: f64,
    /// Greatest height, m.
    pub apex: f64,
    /// Time in the air, s.
    pub time: f64,
    /// Velocity at landing, m/s.
    pub velocity: Vector3<f64>,
    /// Spin rate at landing, rad/s.
    pub spin_rate: f64,
}

impl Flight {
    /// Horizontal distance from the start to the landing, m; negative if the wind blew the ball back
    /// behind its start.
    pub fn carry(&self) -> f64 {
        self.offline.hypot(self.downrange).copysign(self.downrange)
    }

    /// Where the start line passes at landing distance: offline, m, right positive.
    pub fn start_offline(&self, launch_direction: f64) -> f64 {
        self.downrange * launch_direction.tan()
    }

    /// Offline at landing minus that of the start line carried on to there, m, right positive.
    pub fn curve(&self, launch_direction: f64) -> f64 {
        self.offline - self.start_offline(launch_direction)
    }

    /// Angle of descent below the horizontal, rad.
    pub fn landing_angle(&self) -> f64 {
        (-self.velocity.z).atan2(self.velocity.x.hypot(self.velocity.y))
    }
}

/// One point of a trajectory.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Point {
    /// Time since launch, s.
    pub time: f64,
    /// Position, m.
    pub position: Vector3<f64>,
}

/// Longest flight that is followed, s. No golf ball stays up this long in air; in a vacuum, 100 m/s
/// straight up takes 20 s.
const MAX_TIME: f64 = 40.0;

impl<'a> Range<'a> {
    /// Prepares a ball and a coefficient set for flights in the given conditions.
    pub fn new(ball: &Ball, aero: &'a AeroSet, conditions: &Conditions) -> Range<'a> {
        let density = conditions.air.density();
        let half = density * PI * ball.radius * ball.radius / (2.0 * ball.mass);
        Range {
            aero,
            wind: conditions.wind,
            drag: half * ball.drag_factor,
            lift: half * ball.lift_factor,
            re_per_speed: 2.0 * ball.radius / conditions.air.kinematic_viscosity(),
            radius: ball.radius,
            decay: aero.spin_decay * density / (aero.spin_decay_density * ball.radius),
            precision: Precision::Fast,
        }
    }

    /// The same with another precision.
    pub fn precision(mut self, precision: Precision) -> Self {
        self.precision = precision;
        self
    }

    /// One flight, from the ground to the ground.
    ///
    /// A launch that does not rise lands where it started. Values that are not finite give a
    /// flight that is not finite; it never panics and always ends.
    pub fn fly(&self, launch: &Launch) -> Flight {
        let mut landed = Flight::default();
        self.integrate::<1>(1, |_| *launch, |_, f| landed = f, |_| {});
        landed
    }

    /// One flight with its points, a step apart, landing included.
    pub fn trace(&self, launch: &Launch) -> (Flight, Vec<Point>) {
        let mut points = Vec::new();
        let mut landed = Flight::default();
        self.integrate::<1>(1, |_| *launch, |_, f| landed = f, |p| points.push(p));
        (landed, points)
    }
}
