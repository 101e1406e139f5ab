//! Hosel geometry: what a clocked sleeve or a bend does to loft, lie and face angle.
//!
//! Everything is a true rotation of the head. In the head frame at address the shaft axis points
//! up the shaft, `a = (-cos lie, 0, sin lie)`. A sleeve whose bore is tilted by `d`, clocked to
//! `p`, turns the head against the shaft by the rotation vector
//! `d (cos p · (-y) + sin p · k)` with `k = (sin lie, 0, cos lie)`: both axes are perpendicular to
//! the shaft. Clock 0° is the most upright, 90° the most loft.
//!
//! How that reaches the ball depends on who decides the head's attitude: see [`Attitude`].
//! The equations are exact geometry, derived here; the tests rebuild them by other means.

use crate::constants::ImpactConstants;
use nalgebra::{Rotation3, Unit, Vector3};
use serde::{Deserialize, Serialize};

/// Who decides the head's attitude when the hosel is turned.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Attitude {
    /// Nobody said: part of the way from a kept grip to a squared face, which part is not known
    /// (`[hosel] squared` in `data/constants.toml`). The default.
    #[default]
    Unknown,
    /// The hands keep the grip as it was: of a fore-and-aft tilt, `sin(lie)` becomes loft and
    /// `cos(lie)` becomes face angle.
    GripKept,
    /// The head sits on its sole: loft stays, the face angle takes the whole fore-and-aft tilt.
    Soled,
    /// The player turns the club about the shaft until the face is square again: face angle is
    /// traded into loft.
    FaceSquared,
}

/// A clocked sleeve.
#[derive(Debug, Clone, PartialEq)]
pub struct Sleeve {
    /// Tilt of the bore, rad.
    pub tilt: f64,
    /// The clock angles that the sleeve can be set to, rad.
    pub positions: Vec<f64>,
    /// Index into `positions` at which the head was measured.
    pub reference: usize,
}

impl Sleeve {
    /// Rotation of the head against the shaft for a position, for a shaft at `lie` (rad).
    fn rotation(&self, position: usize, lie: f64) -> Rotation3<f64> {
        let (sin, cos) = self.positions[position].sin_cos();
        let k = Vector3::new(lie.sin(), 0.0, lie.cos());
        Rotation3::new((k * sin - Vector3::y() * cos) * self.tilt)
    }
}

/// Rotation of the head, relative to its measured attitude, for a bend of loft and lie (rad).
///
/// A bend is defined as the loft and lie gauge shows it, with the face square: more loft tips the
/// face up about x, more lie (upright) lifts the toe about -y.
pub fn bend(loft: f64, lie: f64) -> Rotation3<f64> {
    Rotation3::from_axis_angle(&-Vector3::y_axis(), lie)
        * Rotation3::from_axis_angle(&Vector3::x_axis(), loft)
}

/// Rotation of the head, relative to its attitude in the reference position, when the sleeve is
/// set to `position`.
pub fn sleeve(
    sleeve: &Sleeve,
    position: usize,
    lie: f64,
    loft: f64,
    who: Attitude,
) -> Rotation3<f64> {
    let kept = sleeve.rotation(position, lie) * sleeve.rotation(sleeve.reference, lie).inverse();
    let shaft = Vector3::new(-lie.cos(), 0.0, lie.sin());
    match who {
        Attitude::Unknown => {
            let share = ImpactConstants::default().sleeve_squared;
            part_squared(sleeve, position, lie, loft, share)
        }
        Attitude::GripKept => kept,
        Attitude::Soled => {
            // The shaft as seen from the head, then yawed until it does not lean fore or aft.
            let seen = kept.inverse() * shaft;
            Rotation3::from_axis_angle(&Vector3::z_axis(), seen.y.atan2(-seen.x))
        }
        Attitude::FaceSquared => {
            let normal = kept * face_normal(loft);
            square_about(normal, shaft) * kept
        }
    }
}

/// The same for a player who goes a share of the way from a kept grip (0) to a squared face (1).
pub fn part_squared(
    sleeve: &Sleeve,
    position: usize,
    lie: f64,
    loft: f64,
    share: f64,
) -> Rotation3<f64> {
    let to = |who| self::sleeve(sleeve, position, lie, loft, who);
    let (kept, squared) = (to(Attitude::GripKept), to(Attitude::FaceSquared));
    // One turn about the shaft lies between them.
    Rotation3::new((squared * kept.inverse()).scaled_axis() * share) * kept
}

/// Unit normal at the face centre in the head frame, for a static loft (rad).
pub fn face_normal(loft: f64) -> Vector3<f64> {
    Vector3::new(0.0, loft.cos(), loft.sin())
}

/// The smallest rotation about `axis` that brings `normal` into the plane x = 0; none if no
/// rotation can.
fn square_about(normal: Vector3<f64>, axis: Vector3<f64>) -> Rotation3<f64> {
    // Rodrigues: x(t) = A cos t + B sin t + C with
    let along = axis * axis.dot(&normal);
    let (a, b, c) = ((normal - along).x, axis.cross(&normal).x, along.x);
    let amplitude = a.hypot(b);
    if amplitude <= c.abs() {
        return Rotation3::identity();
    }
    let (mid, half) = (b.atan2(a), (-c / amplitude).acos());
    let wrap = |t: f64| t.sin().atan2(t.cos());
    let (t1, t2) = (wrap(mid + half), wrap(mid - half));
    let t = if t1.abs() <= t2.abs() { t1 } else { t2 };
    Rotation3::from_axis_angle(&Unit::new_normalize(axis), t)
}

/// What a rotation of the head does to the three angles that a gauge reads, rad.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct AngleChange {
    /// Change of loft; more is positive.
    pub loft: f64,
    /// Change of lie (toe up, upright, is positive).
    pub lie: f64,
    /// Change of face angle; right (open, for a right-hander) is positive.
    pub face: f64,
}

/// Reads the change of loft, lie and face angle off a rotation of a head with static loft `loft`.
pub fn angle_change(rotation: &Rotation3<f64>, loft: f64) -> AngleChange {
    let n = rotation * face_normal(loft);
    let toe = rotation * Vector3::x();
    AngleChange {
        loft: n.z.clamp(-1.0, 1.0).asin() - loft,
        lie: toe.z.clamp(-1.0, 1.0).asin(),
        face: n.x.atan2(n.y),
    }
}
