//! Heads that differ in one thing, by which levers are compared and their effects shared out.

use super::Striker;
use crate::constants::ImpactConstants;
use nalgebra::{Rotation3, Vector3};

impl Striker {
    /// The same head with its CG moved (m), mass added at the CG (kg) and its attitude turned:
    /// the unit changes by which levers are compared.
    pub fn nudged(
        &self,
        cg: Vector3<f64>,
        mass: f64,
        turn: Rotation3<f64>,
        constants: &ImpactConstants,
    ) -> Striker {
        let heavier = (self.mass + mass) / self.mass;
        Striker {
            mass: self.mass + mass,
            cg: self.cg + cg,
            opened: self.opened + self.opens_per_cg_toe * cg.x,
            attitude: turn * self.attitude,
            speed_factor: self.speed_factor * heavier.powf(-1.0 / constants.head_mass_exponent),
            ..self.clone()
        }
        .turn()
    }

    /// This striker with some of the properties of another one.
    pub fn inheriting(&self, other: &Striker, take: &Inherit) -> Striker {
        // Yaw, pitch and roll of the head: face angle, lie and loft.
        let pick = |other_one: bool, a: f64, b: f64| if other_one { b } else { a };
        let (own, new) = (self.attitude.euler_angles(), other.attitude.euler_angles());
        let body = if take.cg_and_inertia { other } else { self };
        let weight = if take.mass { other } else { self };
        let design = if take.face_design { other } else { self };
        Striker {
            face: design.face,
            restitution: design.restitution,
            loft: pick(take.loft, self.loft, other.loft),
            mass: weight.mass,
            speed_factor: weight.speed_factor,
            cg: body.cg,
            inverse_inertia: body.inverse_inertia,
            opened: body.opened,
            opens_per_cg_toe: body.opens_per_cg_toe,
            shaft: if take.lie { other.shaft } else { self.shaft },
            attitude: Rotation3::from_euler_angles(
                pick(take.loft, own.0, new.0),
                pick(take.lie, own.1, new.1),
                pick(take.face, own.2, new.2),
            ),
            turned: self.turned,
        }
        .turn()
    }

    /// In what another striker differs from this one, beyond rounding.
    pub fn differs(&self, other: &Striker) -> Inherit {
        let apart = |a: f64, b: f64| (a - b).abs() > 1e-12 * a.abs().max(1.0);
        let (own, new) = (self.attitude.euler_angles(), other.attitude.euler_angles());
        let inertia = (self.inverse_inertia - other.inverse_inertia).abs().max();
        Inherit {
            cg_and_inertia: (self.cg - other.cg).norm() > 1e-12
                || inertia > 1e-12 * self.inverse_inertia.abs().max(),
            face: apart(own.2, new.2),
            loft: apart(own.0, new.0) || apart(self.loft, other.loft),
            lie: apart(own.1, new.1),
            mass: apart(self.mass, other.mass),
            face_design: self.face != other.face || self.restitution != other.restitution,
        }
    }
}

/// What one striker takes over from another, see [`Striker::inheriting`].
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Inherit {
    /// Place of the CG, inertia about it, and how far the head is closed.
    pub cg_and_inertia: bool,
    /// Yaw of the face.
    pub face: bool,
    /// Pitch of the face.
    pub loft: bool,
    /// Roll of the head about the target line.
    pub lie: bool,
    /// Mass, and the head speed that answers to it.
    pub mass: bool,
    /// Curvature of the face, and restitution.
    pub face_design: bool,
}
