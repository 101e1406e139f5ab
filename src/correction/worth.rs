//! What one unit of a lever is worth on the ground: by physics alone, and as learned.

use super::{Local, corrected};
use crate::club::FEATURES;
use crate::flight::Range;
use crate::impact::{Delivery, Striker};
use crate::launch::Launch;
use crate::physics::Physics;
use crate::units::{DEG, GRAM, MM};
use nalgebra::{Matrix5, Rotation3, SVector, Vector3};

/// Change of offline at landing for one unit of a feature, m, right-handed frame.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Worth {
    /// Name of the feature, with its unit.
    pub feature: &'static str,
    /// By physics alone.
    pub physics: f64,
    /// Physics and what was learned.
    pub learned: f64,
    /// Standard deviation of what was learned.
    pub sd: f64,
}

/// The worth of each feature for a player with a delivery and a head at a setting.
pub fn worths(
    striker: &Striker,
    delivery: &Delivery,
    physics: &Physics,
    range: &Range<'_>,
    local: &Local,
) -> [Worth; FEATURES.len()] {
    let swing = striker.swing(delivery);
    let launch = |s: &Striker| s.strike(&swing, &physics.ball, &physics.impact).launch();
    let speed = striker.head_speed(&swing);
    let offline = |l: &Launch| range.fly(l).offline;
    let here = launch(striker);
    let base = offline(&here);
    let turn = |axis: Vector3<f64>| Rotation3::new(axis * DEG);
    let still = (Vector3::zeros(), 0.0, Rotation3::identity());
    let nudges = [
        (Vector3::x() * MM, still.1, still.2),
        (-Vector3::y() * MM, still.1, still.2),
        (Vector3::z() * MM, still.1, still.2),
        (still.0, GRAM, still.2),
        (still.0, still.1, turn(Vector3::x())),
        (still.0, still.1, turn(-Vector3::y())),
        (still.0, still.1, turn(-Vector3::z())),
    ];
    std::array::from_fn(|f| {
        let (cg, mass, turn) = nudges[f];
        let nudged = striker.nudged(cg, mass, turn, &physics.impact);
        let there = launch(&nudged);
        let bare = offline(&there) - base;
        let mut change = [0.0; FEATURES.len()];
        change[f] = 1.0;
        let effect = local.effect(&change);
        let on_ground = |added: &[f64; 5]| offline(&corrected(&here, added, speed)) - base;
        let slope = SVector::<f64, 5>::from_fn(|r, _| {
            let mut one = [0.0; 5];
            one[r] = effect.sd[r];
            on_ground(&one) / effect.sd[r].max(f64::MIN_POSITIVE)
        });
        let covariance = Matrix5::from_fn(|r, s| effect.covariance[r][s]);
        Worth {
            feature: FEATURES[f],
            physics: bare,
            learned: bare + on_ground(&effect.mean),
            sd: slope.dot(&(covariance * slope)).max(0.0).sqrt(),
        }
    })
}
