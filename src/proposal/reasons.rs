//! Why a setting works: its effect in shares that add up to the whole.
//!
//! A change of setting does several things at once. Each [`Reason`] gets its Shapley value (see
//! [`crate::shapley`]): no order is preferred, and nothing is left over.

use super::mount::Place;
use super::predict::{Predictor, Scratch};
use crate::head::SettingError;
use crate::impact::Inherit;
use crate::shapley::shapley;
use crate::tendency::Ground;
use serde::Serialize;

/// One of the things that a change of setting does.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Reason {
    /// CG and inertia: how the head twists about its CG, and what the ball's spin takes from it.
    GearEffect,
    /// Where the face looks at the same hands.
    FaceAngle,
    /// Its loft.
    Loft,
    /// Its lie.
    Lie,
    /// Mass of the head, and the head speed that answers to it.
    MassAndSpeed,
    /// What the learned correction adds.
    Learned,
    /// Curvature of the face, and restitution: of another head.
    FaceDesign,
}

impl Reason {
    /// All of them.
    pub const ALL: [Reason; 7] = [
        Reason::GearEffect,
        Reason::FaceAngle,
        Reason::Loft,
        Reason::Lie,
        Reason::MassAndSpeed,
        Reason::Learned,
        Reason::FaceDesign,
    ];
}

impl std::fmt::Display for Reason {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(match self {
            Reason::GearEffect => "CG, gear effect and closing",
            Reason::FaceAngle => "face angle (lie aside)",
            Reason::Loft => "loft",
            Reason::Lie => "lie",
            Reason::MassAndSpeed => "mass and speed",
            Reason::Learned => "learned response",
            Reason::FaceDesign => "bulge, roll and restitution",
        })
    }
}

/// What each reason does on average to start, curve, carry and apex, m; in the order of
/// [`Reason::ALL`].
pub type Reasons = [Ground; 7];

const N: usize = Reason::ALL.len();

impl Predictor<'_> {
    /// Shares of the effect of a setting.
    pub fn reasons(&self, place: Place<'_>) -> Result<Reasons, SettingError> {
        let s = self.situation;
        let club = s.club;
        let base = self
            .physics
            .striker(&club.head, &club.setting, &club.setting)?;
        let changed = self.striker(place)?;
        let effect = self.effect(place).mean;
        let d = base.differs(&changed);
        let differs = [
            d.cg_and_inertia,
            d.face,
            d.loft,
            d.lie,
            d.mass,
            effect != [0.0; 5],
            d.face_design,
        ];
        let active = (0..N)
            .filter(|&i| differs[i])
            .map(|i| 1 << i)
            .sum::<usize>();
        let mut scratch = Scratch::default();
        let mut known = [None; 1 << N];
        let mut value = |set: usize| {
            let has = |i: usize| set >> i & 1 == 1;
            let striker = base.inheriting(
                &changed,
                &Inherit {
                    cg_and_inertia: has(0),
                    face: has(1),
                    loft: has(2),
                    lie: has(3),
                    mass: has(4),
                    face_design: has(6),
                },
            );
            let learned = f64::from(u8::from(has(5)));
            let added = std::array::from_fn(|r| s.offset[r] + learned * effect[r]);
            self.fly(&striker, &added, &mut scratch);
            scratch.summarise().ground
        };
        // What does not change does nothing to any set: it is not struck again.
        Ok(shapley(|set| {
            *known[set & active].get_or_insert_with(|| value(set & active))
        }))
    }
}
