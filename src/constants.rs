//! Calibrated constants, read from `data/constants.toml`, where each stands with its source.

use crate::ball::Ball;
use crate::head::ClubKind;
use crate::units::{DEG, MM};
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
    /// Share of a sleeve's turn of the head that reaches the ball; 1 is all of it.
    pub sleeve_carry_over: f64,
    /// Share of the way from a kept grip (0) to a squared face (1), for [`Attitude::Unknown`].
    ///
    /// [`Attitude::Unknown`]: crate::hosel::Attitude::Unknown
    pub sleeve_squared: f64,
    /// Turn of the head about the shaft, open positive, for each metre by which its CG is moved
    /// toward the toe, rad/m: it is closed more slowly.
    pub opens_per_cg_toe: f64,
}

/// Effective restitution of a head.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Restitution {
    /// Normal, at the reference normal speed; 0 to 1.
    pub normal: f64,
    /// Tangential; -1 (frictionless) through 0 (sticking) to 1.
    pub tangential: f64,
}

/// Standard deviations of the constants, each in the constant's own unit: how wrong the model's
/// values may be for one club, ball and player.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Spreads {
    /// Of both restitutions by kind of club, in the order of [`ClubKind`].
    pub kinds: [Restitution; 5],
    /// Of the coefficient of friction.
    pub friction: f64,
    /// Of the exponent of head mass and head speed.
    pub head_mass_exponent: f64,
    /// Of the share of a sleeve's turn.
    pub sleeve_carry_over: f64,
    /// Of each of the ball's drag and lift factor.
    pub ball_factor: f64,
    /// Of a curve that is flown from a launch, as a share of it.
    pub curve_share: f64,
}

impl Spreads {
    /// Those of the constants file.
    pub fn read() -> Spreads {
        CONSTANTS.2
    }
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

static CONSTANTS: LazyLock<(ImpactConstants, Ball, Spreads)> = LazyLock::new(|| {
    let f: File = toml::from_str(include_str!("../data/constants.toml"))
        .expect("the constants file is part of the build and is tested");
    f.into_constants()
});

#[derive(Deserialize)]
struct File {
    restitution: RestitutionSpeed,
    kind: BTreeMap<ClubKind, Kind>,
    friction: Value,
    head_speed: HeadSpeed,
    hosel: Hosel,
    closing: Closing,
    flight: Flight,
    ball: BallFactors,
}

#[derive(Deserialize)]
struct RestitutionSpeed {
    reference_normal_speed_m_s: f64,
    slope_s_m: f64,
}

#[derive(Deserialize)]
struct Kind {
    restitution: f64,
    restitution_sd: f64,
    tangential: f64,
    tangential_sd: f64,
}

#[derive(Deserialize)]
struct Value {
    value: f64,
    sd: f64,
}

#[derive(Deserialize)]
struct HeadSpeed {
    mass_exponent: f64,
    sd: f64,
}

#[derive(Deserialize)]
struct Hosel {
    carry_over: f64,
    sd: f64,
    squared: f64,
}

#[derive(Deserialize)]
struct Flight {
    curve_share_sd: f64,
}

#[derive(Deserialize)]
struct Closing {
    deg_per_mm: f64,
}

#[derive(Deserialize)]
struct BallFactors {
    drag_factor: f64,
    lift_factor: f64,
    sd: f64,
}

impl File {
    fn into_constants(self) -> (ImpactConstants, Ball, Spreads) {
        let by_kind = |pick: fn(&Kind) -> (f64, f64)| {
            ClubKind::ALL.map(|k| {
                let (normal, tangential) = pick(&self.kind[&k]);
                Restitution { normal, tangential }
            })
        };
        let constants = ImpactConstants {
            kinds: by_kind(|k| (k.restitution, k.tangential)),
            reference_normal_speed: self.restitution.reference_normal_speed_m_s,
            restitution_slope: self.restitution.slope_s_m,
            friction: self.friction.value,
            head_mass_exponent: self.head_speed.mass_exponent,
            sleeve_carry_over: self.hosel.carry_over,
            sleeve_squared: self.hosel.squared,
            opens_per_cg_toe: self.closing.deg_per_mm * DEG / MM,
        };
        let ball = Ball {
            drag_factor: self.ball.drag_factor,
            lift_factor: self.ball.lift_factor,
            ..Ball::conforming()
        };
        let spreads = Spreads {
            kinds: by_kind(|k| (k.restitution_sd, k.tangential_sd)),
            friction: self.friction.sd,
            head_mass_exponent: self.head_speed.sd,
            sleeve_carry_over: self.hosel.sd,
            ball_factor: self.ball.sd,
            curve_share: self.flight.curve_share_sd,
        };
        (constants, ball, spreads)
    }
}
