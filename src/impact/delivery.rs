//! What the player brings to the ball.

use crate::hand::Mirror;
use crate::quantity::Quantity;
use nalgebra::SVector;

/// What the player brings to the ball. SI and radians, right-handed frame.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Delivery {
    /// Speed of the head before impact, m/s.
    pub head_speed: f64,
    /// Horizontal direction of the head's motion; right is positive.
    pub club_path: f64,
    /// Vertical direction of the head's motion; up is positive.
    pub attack_angle: f64,
    /// Direction of the face-centre normal; right is positive.
    pub face_angle: f64,
    /// Elevation of the face-centre normal.
    pub dynamic_loft: f64,
    /// Strike location from the face centre, toe-ward, m.
    pub strike_toe: f64,
    /// Strike location from the face centre, crown-ward along the face, m.
    pub strike_up: f64,
}

impl Mirror for Delivery {
    fn mirrored(self) -> Self {
        Delivery {
            club_path: -self.club_path,
            face_angle: -self.face_angle,
            ..self
        }
    }
}

/// Seven numbers of a delivery.
pub type Vector7 = SVector<f64, 7>;
/// The components of a delivery, in the order in which vectors hold them.
pub const COMPONENTS: [Quantity; 7] = [
    Quantity::HeadSpeed,
    Quantity::ClubPath,
    Quantity::AttackAngle,
    Quantity::FaceAngle,
    Quantity::DynamicLoft,
    Quantity::StrikeToe,
    Quantity::StrikeUp,
];

impl Delivery {
    /// From a vector in the order of [`COMPONENTS`].
    pub fn from_vector(v: &Vector7) -> Delivery {
        Delivery {
            head_speed: v[0],
            club_path: v[1],
            attack_angle: v[2],
            face_angle: v[3],
            dynamic_loft: v[4],
            strike_toe: v[5],
            strike_up: v[6],
        }
    }

    /// As a vector in the order of [`COMPONENTS`].
    pub fn to_vector(&self) -> Vector7 {
        Vector7::from([
            self.head_speed,
            self.club_path,
            self.attack_angle,
            self.face_angle,
            self.dynamic_loft,
            self.strike_toe,
            self.strike_up,
        ])
    }
}
