//! Priors, read from `data/priors.toml`, where each stands with its source.

use crate::club::FEATURES;
use crate::head::{ClubKind, Head};
use crate::impact::Vector7;
use crate::quantity::Quantity;
use crate::units::{DEG, MM, RPM};
use serde::Deserialize;
use std::collections::BTreeMap;
use std::sync::LazyLock;

/// A normal prior of a delivery with independent components, in the order of
/// [`crate::impact::COMPONENTS`]; SI and radians.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct DeliveryPrior {
    /// Mean.
    pub mean: Vector7,
    /// Standard deviation.
    pub sd: Vector7,
}

#[derive(Deserialize, Clone, Copy)]
struct Line {
    mean: f64,
    between: f64,
    within: f64,
}

#[derive(Deserialize)]
struct Kind {
    head_speed_m_s: Line,
    club_path_deg: Line,
    attack_angle_deg: Line,
    face_angle_deg: Line,
    dynamic_loft_deg: Line,
    strike_toe_mm: Line,
    strike_up_mm: Line,
}

#[derive(Deserialize)]
struct ModelError {
    ball_speed_m_s: f64,
    launch_angle_deg: f64,
    launch_direction_deg: f64,
    spin_rate_rpm: f64,
    spin_axis_deg: f64,
    ground_m: f64,
}

/// Prior standard deviation of a learned response, per unit of one lever feature.
#[derive(Debug, Deserialize, Clone, Copy)]
struct Response {
    launch_angle_deg: f64,
    launch_direction_deg: f64,
    spin_axis_deg: f64,
    spin_rate_rpm: f64,
    speed_ratio: f64,
}

#[derive(Deserialize)]
struct File {
    driver: Kind,
    fairway: Kind,
    hybrid: Kind,
    iron: Kind,
    wedge: Kind,
    model_error: ModelError,
    response: BTreeMap<String, Response>,
}

static FILE: LazyLock<File> = LazyLock::new(|| {
    toml::from_str(include_str!("../data/priors.toml"))
        .expect("the priors file is part of the build and is tested")
});

/// The components of a kind's prior with their SI unit sizes, in the order of a delivery.
fn lines(kind: ClubKind) -> [(Line, f64); 7] {
    let k = match kind {
        ClubKind::Driver => &FILE.driver,
        ClubKind::Fairway => &FILE.fairway,
        ClubKind::Hybrid => &FILE.hybrid,
        ClubKind::Iron => &FILE.iron,
        ClubKind::Wedge => &FILE.wedge,
    };
    [
        (k.head_speed_m_s, 1.0),
        (k.club_path_deg, DEG),
        (k.attack_angle_deg, DEG),
        (k.face_angle_deg, DEG),
        (k.dynamic_loft_deg, DEG),
        (k.strike_toe_mm, MM),
        (k.strike_up_mm, MM),
    ]
}

/// Prior of a player's average delivery with a head.
pub fn player(head: &Head) -> DeliveryPrior {
    let mut prior = DeliveryPrior {
        mean: Vector7::zeros(),
        sd: Vector7::zeros(),
    };
    for (i, (line, unit)) in lines(head.kind).into_iter().enumerate() {
        prior.mean[i] = line.mean * unit;
        prior.sd[i] = line.between * unit;
    }
    prior.mean[4] += head.loft;
    prior
}

/// The same for a player whose head speed with a driver is known (m/s): other clubs in proportion
/// to the usual speeds, give or take 5 %.
pub fn player_at_speed(head: &Head, driver_speed: Option<f64>) -> DeliveryPrior {
    let mut prior = player(head);
    if let Some(v) = driver_speed {
        prior.mean[0] *= v / FILE.driver.head_speed_m_s.mean;
        prior.sd[0] = 0.05 * prior.mean[0];
    }
    prior
}

/// Shot-to-shot standard deviations of a delivery.
pub fn within(kind: ClubKind) -> Vector7 {
    Vector7::from_iterator(
        lines(kind)
            .into_iter()
            .map(|(line, unit)| line.within * unit),
    )
}

/// Standard error of the model's prediction of a quantity for one shot, SI; zero for what is a
/// component of the delivery itself.
pub fn model_error(q: Quantity) -> f64 {
    let m = &FILE.model_error;
    match q {
        Quantity::BallSpeed => m.ball_speed_m_s,
        Quantity::LaunchAngle => m.launch_angle_deg * DEG,
        Quantity::LaunchDirection => m.launch_direction_deg * DEG,
        Quantity::SpinRate => m.spin_rate_rpm * RPM,
        Quantity::SpinAxis => m.spin_axis_deg * DEG,
        Quantity::Carry
        | Quantity::Offline
        | Quantity::Curve
        | Quantity::Apex
        | Quantity::Total => m.ground_m,
        _ => 0.0,
    }
}

/// Prior standard deviation of the learned response: `[response][feature]`, in the units of
/// [`crate::correction::RESPONSES`] per unit of [`FEATURES`].
pub fn response() -> [[f64; FEATURES.len()]; 5] {
    let mut out = [[0.0; FEATURES.len()]; 5];
    for (f, name) in FEATURES.iter().enumerate() {
        let r = &FILE.response[*name];
        let row = [
            r.launch_angle_deg,
            r.launch_direction_deg,
            r.spin_axis_deg,
            r.spin_rate_rpm,
            r.speed_ratio,
        ];
        for (k, v) in row.into_iter().enumerate() {
            out[k][f] = v;
        }
    }
    out
}
