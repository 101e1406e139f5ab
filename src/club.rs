//! A club as it was built: a head at a setting on a shaft with a grip.

use crate::head::{Head, MassProperties, Setting, SettingError};
use crate::hosel::{AngleChange, Attitude, angle_change};
use crate::units::{DEG, MM};
use crate::workshop::{self, HEAD_BALANCE_SHORT_OF_LENGTH, Part, SwingWeight};
use nalgebra::{Rotation3, Vector3};

/// A build: what the player plays. Lengths in m, masses in kg, angles in rad.
#[derive(Debug, Clone, PartialEq)]
pub struct Club {
    /// The head, with the loft and lie that were measured on this very head.
    pub head: Head,
    /// Where its levers stand.
    pub setting: Setting,
    /// Length from the butt to the sole.
    pub length: f64,
    /// Everything but the head: shaft, grip, tape, with balance points from the butt.
    pub parts: Vec<Part>,
}

/// Limits that the player or technician set for a change.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Hold {
    /// Largest change of swing weight either way, points.
    pub swing_weight_points: Option<f64>,
    /// Largest change of head mass either way, kg.
    pub head_mass: Option<f64>,
    /// Largest change either way of the face angle of the head on its sole, rad: how it looks to the
    /// player.
    pub face_angle: Option<f64>,
    /// Nothing that cannot be undone.
    pub reversible_only: bool,
}

impl Club {
    /// Checks that the setting is one that the head has and that the measures make a club.
    ///
    /// # Errors
    /// Which lever or measure is wrong, and what is allowed.
    pub fn check(&self) -> Result<(), SettingError> {
        self.setting.check(&self.head)?;
        let fail = |lever: &str, why: &str| {
            Err(SettingError {
                lever: lever.into(),
                why: why.into(),
            })
        };
        if !(0.5..=1.5).contains(&self.length) {
            return fail("length", "must be 0.5 to 1.5 m (20 to 59 in)");
        }
        if self
            .parts
            .iter()
            .any(|p| !(p.mass >= 0.0 && p.mass < 1.0 && p.balance.abs() < 2.0))
        {
            return fail(
                "parts",
                "each mass must be 0 to 1000 g and each balance point on the club",
            );
        }
        Ok(())
    }

    /// Face angle of the head on its sole at a setting against its reference, rad, right positive:
    /// how it looks to the player.
    pub fn face_on_the_sole(&self, setting: &Setting) -> f64 {
        let turn = self.head.attitude(setting, Attitude::Soled);
        angle_change(&turn, self.head.loft).face
    }

    /// Swing weight of the club with its head at a setting.
    ///
    /// The head's balance point follows its CG along the shaft, so that a weight moved toward the
    /// heel or up the shaft shows, not only a weight that was added.
    pub fn swing_weight(&self, setting: &Setting) -> SwingWeight {
        let reference = self.head.mass_properties(&self.head.reference);
        self.swing_weight_of(&self.head.mass_properties(setting), &reference)
    }

    /// The same from the head's mass properties at a setting and at its reference.
    pub(crate) fn swing_weight_of(
        &self,
        body: &MassProperties,
        reference: &MassProperties,
    ) -> SwingWeight {
        let shaft = Vector3::new(-self.head.lie.cos(), 0.0, self.head.lie.sin());
        let toward_tip = -(body.cg - reference.cg).dot(&shaft);
        let head = Part {
            mass: body.mass,
            balance: self.length - HEAD_BALANCE_SHORT_OF_LENGTH + toward_tip,
        };
        workshop::swing_weight(self.parts.iter().chain([&head]))
    }
}

/// Names of the lever features, in the order of [`features`], with their units.
pub const FEATURES: [&str; 7] = [
    "cg_toe_mm",
    "cg_back_mm",
    "cg_up_mm",
    "mass_g",
    "loft_deg",
    "lie_deg",
    "face_deg",
];

/// What a setting changed against the head's reference, in the trade's units: CG toe-ward, back
/// and up in mm, mass in g, loft, lie and face angle (right positive) by sleeve or bend in deg.
///
/// The angles are those of a gauge; [`crate::physics::Physics::features`] has those that the ball
/// meets.
pub fn features(head: &Head, setting: &Setting, who: Attitude) -> [f64; 7] {
    features_at(head, setting, &head.attitude(setting, who))
}

/// The same for a turn of the head that is known.
pub(crate) fn features_at(head: &Head, setting: &Setting, turn: &Rotation3<f64>) -> [f64; 7] {
    let (now, then) = (
        head.mass_properties(setting),
        head.mass_properties(&head.reference),
    );
    features_between(&now, &then, &angle_change(turn, head.loft))
}

/// The same from mass properties now and at the reference, and the angles that are changed.
pub(crate) fn features_between(
    now: &MassProperties,
    then: &MassProperties,
    turned: &AngleChange,
) -> [f64; 7] {
    let cg = (now.cg - then.cg) / MM;
    [
        cg.x,
        -cg.y,
        cg.z,
        (now.mass - then.mass) * 1e3,
        turned.loft / DEG,
        turned.lie / DEG,
        turned.face / DEG,
    ]
}
