//! Calibrated constants, read from `data/constants.toml`, where each stands with its source.

use crate::ball::Ball;
use crate::head::ClubKind;
use serde::Deserialize;
use std::collections::BTreeMap;
use std::sync::LazyLock;

/// Constants of the impact model.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ImpactConstants {
    /// Normal and tangential restitution by kind of club, in the order of [`ClubKind`].
    pub kinds: [Restitution; 5],
    /// Reference normal speed, m/s.
    pub reference_normal_speed: f64,
    /// Fall of restitution with normal speed, s/m.
    pub restitution_slope: f64,
    /// Coefficient of friction between face and ball.
    pub friction: f64,
    /// Exponent `n` in `M V^n = const` for head mass and head speed.
    pub head_mass_exponent: f64,
}

/// Effective restitution of a head.
#[derive(Debug, Clone, Copy, PartialEq, Deserialize)]
pub struct Restitution {
    /// Normal, at the reference normal speed; 0 to 1.
    #[serde(rename = "restitution")]
    pub normal: f64,
    /// Tangential; -1 (frictionless) through 0 (sticking) to 1.
    pub tangential: f64,
}

impl ImpactConstants {
    /// Restitution at a normal speed (m/s), from its value at the reference speed.
    pub fn restitution_at(&self, reference: f64, normal_speed: f64) -> f64 {
        (reference - self.restitution_slope * (normal_speed - self.reference_normal_speed))
            .clamp(0.0, 1.0)
    }

    /// Effective restitution of a kind of club.
    pub fn restitution(&self, kind: ClubKind) -> Restitution {
        self.kinds[kind as usize]
    }
}

impl Default for ImpactConstants {
    fn default() -> Self {
        CONSTANTS.0
    }
}

impl Ball {
    /// A modern ball: conforming, with the drag and lift factors of the constants file, which hold
    /// for the default coefficient set.
    pub fn modern() -> Ball {
        CONSTANTS.1
    }
}

static CONSTANTS: LazyLock<(ImpactConstants, Ball)> = LazyLock::new(|| {
    let f: File = toml::from_str(include_str!("../data/constants.toml"))
        .expect("the constants file is part of the build and is tested");
    f.into_constants()
});

#[derive(Deserialize)]
struct File {
    restitution: RestitutionSpeed,
    kind: BTreeMap<ClubKind, Restitution>,
    friction: Value,
    head_speed: HeadSpeed,
    ball: BallFactors,
}

#[derive(Deserialize)]
struct RestitutionSpeed {
    reference_normal_speed_m_s: f64,
    slope_s_m: f64,
}

#[derive(Deserialize)]
struct Value {
    value: f64,
}

#[derive(Deserialize)]
struct HeadSpeed {
    mass_exponent: f64,
}

#[derive(Deserialize)]
struct BallFactors {
    drag_factor: f64,
    lift_factor: f64,
}

impl File {
    fn into_constants(self) -> (ImpactConstants, Ball) {
        let constants = ImpactConstants {
            kinds: ClubKind::ALL.map(|k| self.kind[&k]),
            reference_normal_speed: self.restitution.reference_normal_speed_m_s,
            restitution_slope: self.restitution.slope_s_m,
            friction: self.friction.value,
            head_mass_exponent: self.head_speed.mass_exponent,
        };
        let ball = Ball {
            drag_factor: self.ball.drag_factor,
            lift_factor: self.ball.lift_factor,
            ..Ball::conforming()
        };
        (constants, ball)
    }
}
