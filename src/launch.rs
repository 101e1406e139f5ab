//! The launch of a ball: the five numbers that join impact, correction and flight.

use crate::hand::Mirror;
use nalgebra::Vector3;

/// Launch of a ball. SI and radians, right-handed target frame.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Launch {
    /// Ball speed, m/s.
    pub ball_speed: f64,
    /// Elevation of the start, up positive.
    pub launch_angle: f64,
    /// Horizontal direction of the start, right positive.
    pub launch_direction: f64,
    /// Spin rate, rad/s.
    pub spin_rate: f64,
    /// Tilt of the spin axis; right (a ball that curves right) is positive.
    pub spin_axis: f64,
}

/// Unit vectors of a launch: along the velocity, horizontal to the right of it, and up.
fn triad(launch_angle: f64, launch_direction: f64) -> [Vector3<f64>; 3] {
    let (sd, cd) = launch_direction.sin_cos();
    let (se, ce) = launch_angle.sin_cos();
    let along = Vector3::new(ce * sd, ce * cd, se);
    let right = Vector3::new(cd, -sd, 0.0);
    [along, right, right.cross(&along)]
}

impl Launch {
    /// From the ball's velocity (m/s) and angular velocity (rad/s) in the target frame.
    ///
    /// The part of the spin along the velocity (rifle spin) is left out: it makes no lift, and no
    /// common description of a shot carries it.
    pub fn from_vectors(velocity: &Vector3<f64>, spin: &Vector3<f64>) -> Launch {
        let ball_speed = velocity.norm();
        let launch_direction = velocity.x.atan2(velocity.y);
        let launch_angle = velocity.z.atan2(velocity.x.hypot(velocity.y));
        let [_, right, up] = triad(launch_angle, launch_direction);
        let (back, side) = (spin.dot(&right), -spin.dot(&up));
        Launch {
            ball_speed,
            launch_angle,
            launch_direction,
            spin_rate: back.hypot(side),
            spin_axis: if back == 0.0 && side == 0.0 {
                0.0
            } else {
                side.atan2(back)
            },
        }
    }

    /// Velocity in the target frame, m/s.
    pub fn velocity(&self) -> Vector3<f64> {
        triad(self.launch_angle, self.launch_direction)[0] * self.ball_speed
    }

    /// Angular velocity in the target frame, rad/s; pure backspin points to the right.
    pub fn spin(&self) -> Vector3<f64> {
        let [_, right, up] = triad(self.launch_angle, self.launch_direction);
        let (s, c) = self.spin_axis.sin_cos();
        (right * c - up * s) * self.spin_rate
    }
}

impl Mirror for Launch {
    fn mirrored(self) -> Self {
        Launch {
            launch_direction: -self.launch_direction,
            spin_axis: -self.spin_axis,
            ..self
        }
    }
}
