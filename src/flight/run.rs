//! Bounce and run after landing.
//!
//! After A. R. Penner 2002, *The run of a golf ball*, Can. J. Phys. 80, 931-940 (second-hand):
//! the turf gives way, so that the ball bounces off a ground that is tilted toward it by
//! `theta = 15.4° (v / 18.6 m/s) (phi / 44.4°)` with `phi` from the vertical (by symmetry the tilt
//! must vanish at vertical impact); the normal restitution is
//! `e = 0.510 - 0.0375 v_n + 0.000903 v_n²`; the ball leaves rolling if friction can make it,
//! otherwise sliding (Daish 1972, *The Physics of Ball Games*); then it rolls against
//! `(5/7) rho g`. Here the same bounce is computed in three dimensions, which gives Penner's
//! equations for a ball without side spin.

use super::Flight;
use crate::ball::Ball;
use crate::launch::Launch;
use crate::units::{DEG, STANDARD_GRAVITY as G};
use nalgebra::{Rotation3, Unit, Vector3};

/// What the ball lands on.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Turf {
    /// Factor on the normal restitution; firmer ground gives more.
    pub restitution_factor: f64,
    /// Factor on the tilt of the effective ground; firmer ground gives less.
    pub tilt_factor: f64,
    /// Coefficient of friction in the bounce.
    pub friction: f64,
    /// Rolling resistance `rho`.
    pub rolling: f64,
}

impl Turf {
    /// Turf by firmness, from 0 (soft, wet) through 0.5 (as in Penner's model) to 1 (baked).
    ///
    /// Penner gives one turf; how firmness moves the factors is our own choice (restitution ±30 %,
    /// tilt ∓50 %), as is the rolling resistance of a fairway (twice Penner's green, 0.131).
    pub fn firmness(firmness: f64) -> Turf {
        let f = firmness.clamp(0.0, 1.0) - 0.5;
        Turf {
            restitution_factor: 1.0 + 0.6 * f,
            tilt_factor: 1.0 - f,
            friction: 0.40,
            rolling: 0.262 * (1.0 - 0.6 * f),
        }
    }

    /// A green as in Penner 2002: friction 0.40, rolling resistance 0.131.
    pub fn green() -> Turf {
        Turf {
            rolling: 0.131,
            ..Turf::firmness(0.5)
        }
    }
}

impl Default for Turf {
    fn default() -> Self {
        Turf::firmness(0.5)
    }
}

/// Where the ball came to rest.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Rest {
    /// To the right, m.
    pub offline: f64,
    /// Along the target line, m.
    pub downrange: f64,
    /// Number of bounces.
    pub bounces: u32,
}

impl Rest {
    /// Horizontal distance from the start, m.
    pub fn total(&self) -> f64 {
        self.offline.hypot(self.downrange).copysign(self.downrange)
    }
}

/// Below this rebound height the ball rolls, m (Penner 2002, 5 mm).
const ROLLING_HEIGHT: f64 = 0.005;
/// More bounces than any ball makes: an end for input that makes no sense.
const MAX_BOUNCES: u32 = 60;

/// Vertical speed below which the tilt fades with its square, m/s. Our own addition: Penner's tilt
/// comes from full impacts; carried on to the last low hops of a drive it would kick the ball up
/// again and again.
const FULL_TILT_SPEED: f64 = 4.0;

/// Normal restitution of turf at a normal impact speed (m/s), before the firmness factor.
pub fn turf_restitution(v_n: f64) -> f64 {
    if v_n <= 20.0 {
        0.510 - 0.0375 * v_n + 0.000_903 * v_n * v_n
    } else {
        0.120
    }
}

/// Follows a landed ball to rest on flat ground. Air is neglected in the bounces.
pub fn run(flight: &Flight, launch: &Launch, ball: &Ball, turf: &Turf) -> Rest {
    let axis = if launch.spin_rate > 0.0 {
        launch.spin() / launch.spin_rate
    } else {
        Vector3::x()
    };
    let mut v = flight.velocity;
    let mut spin = axis * flight.spin_rate;
    let mut at = Vector3::new(flight.offline, flight.downrange, 0.0);
    let mut bounces = 0;
    loop {
        (v, spin) = bounce(&v, &spin, ball, turf);
        if !(v.z * v.z / (2.0 * G) >= ROLLING_HEIGHT) || bounces >= MAX_BOUNCES {
            break;
        }
        bounces += 1;
        let time = 2.0 * v.z / G;
        at += Vector3::new(v.x, v.y, 0.0) * time;
        v.z = -v.z;
    }
    at += roll(&v, &spin, ball, turf);
    Rest {
        offline: at.x,
        downrange: at.y,
        bounces,
    }
}

/// Velocity and spin after one bounce.
fn bounce(
    v: &Vector3<f64>,
    spin: &Vector3<f64>,
    ball: &Ball,
    turf: &Turf,
) -> (Vector3<f64>, Vector3<f64>) {
    let speed = v.norm();
    let along = Vector3::new(v.x, v.y, 0.0);
    let from_vertical = along.norm().atan2(-v.z);
    let fade = (v.z / FULL_TILT_SPEED).powi(2).min(1.0);
    let tilt =
        turf.tilt_factor * 15.4 * DEG * (speed / 18.6) * (from_vertical / (44.4 * DEG)) * fade;
    // The normal of the effective ground leans back against the ball's motion, but never so far
    // that the ball would meet it from behind.
    let tilt = tilt.min(std::f64::consts::FRAC_PI_4);
    let n = match Unit::try_new(along.cross(&Vector3::z()), 1e-9) {
        // Rotating z about (motion x up) = right by +tilt leans it backward.
        Some(right) => Rotation3::from_axis_angle(&right, tilt) * Vector3::z(),
        None => Vector3::z(),
    };
    let v_n = -v.dot(&n);
    let e = (turf.restitution_factor * turf_restitution(v_n)).clamp(0.0, 1.0);
    // Velocity of the contact point along the ground, and the impulse (per mass) that stops it.
    let slip = v + n * v_n + spin.cross(&(-n * ball.radius));
    let needed = slip.norm() / (1.0 + ball.mass * ball.radius * ball.radius / ball.inertia);
    let limit = turf.friction * (1.0 + e) * v_n;
    let push = if slip.norm() > 0.0 {
        -slip / slip.norm() * needed.min(limit)
    } else {
        Vector3::zeros()
    };
    let spin_change = (-n * ball.radius).cross(&push) * (ball.mass / ball.inertia);
    (v + n * ((1.0 + e) * v_n) + push, spin + spin_change)
}

/// Displacement while sliding into a roll and rolling out.
fn roll(v: &Vector3<f64>, spin: &Vector3<f64>, ball: &Ball, turf: &Turf) -> Vector3<f64> {
    let v = Vector3::new(v.x, v.y, 0.0);
    let down = Vector3::new(0.0, 0.0, -ball.radius);
    let slip = v + spin.cross(&down);
    let share = 1.0 / (1.0 + ball.mass * ball.radius * ball.radius / ball.inertia);
    // Sliding friction takes `share` of the slip out of the velocity at mu g.
    let sliding_time = slip.norm() * share / (turf.friction * G);
    let rolling = v - slip * share;
    let slid = (v + rolling) * (0.5 * sliding_time);
    let deceleration = 5.0 / 7.0 * turf.rolling * G;
    slid + rolling * (rolling.norm() / (2.0 * deceleration))
}
