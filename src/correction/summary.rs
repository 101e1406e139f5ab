//! A session boiled down to what the fit needs: seven features, and count, mean and variance of
//! each response. Additive, small, and made once.

use super::responses;
use crate::club::{Club, FEATURES};
use crate::delivery::central_delivery;
use crate::flight::Conditions;
use crate::head::SettingError;
use crate::impact::{Delivery, Striker};
use crate::physics::Physics;
use crate::priors::DeliveryPrior;
use crate::quantity::{Measured, Quantity};
use crate::robust;
use crate::units::{DEG, RPM};
use nalgebra::SVector;
use serde::{Deserialize, Serialize};

/// Sufficient statistics of a session. Right-handed frame, units of `RESPONSES` and `FEATURES`.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct SessionSummary {
    /// Name of the session.
    pub session: String,
    /// Day, `YYYY-MM-DD`.
    pub date: String,
    /// Name of the player.
    pub player: String,
    /// Name of the head.
    pub head: String,
    /// Lever features of the setting against the head's reference.
    pub features: [f64; FEATURES.len()],
    /// Number of shots in the log.
    pub shots: usize,
    /// Effective number of shots for each response; 0 where it was not measured.
    pub count: [f64; 5],
    /// Robust mean of what was observed minus the physical effect of the setting.
    pub mean: [f64; 5],
    /// Variance from shot to shot.
    pub variance: [f64; 5],
}

/// Usual spread of the responses from shot to shot: prior scatter of the robust mean (common
/// practice, no source).
const USUAL: [f64; 5] = [1.5, 2.0, 7.0, 350.0, 0.02];

/// Summarises a session. `shots` are in the right-handed frame.
///
/// # Errors
/// If the club's setting is not one that its head has.
pub fn summarise(
    names: [&str; 3],
    date: &str,
    shots: &[Measured],
    club: &Club,
    prior: &DeliveryPrior,
    physics: &Physics,
    conditions: &Conditions,
) -> Result<SessionSummary, SettingError> {
    let head = &club.head;
    let now = physics.striker(head, &club.setting, &club.setting)?;
    let then = physics.striker(head, &head.reference, &club.setting)?;
    let struck =
        |m: &Measured| m.get(Quantity::StrikeToe).is_some() || m.get(Quantity::StrikeUp).is_some();
    // At its reference and without strike locations there is nothing to take out.
    let strike = (club.setting != head.reference || shots.iter().any(struck)).then(|| {
        let range = physics.range(conditions);
        let delivery = central_delivery(shots, &now, prior, physics, &range).delivery;
        Strike::new(&now, delivery, prior, physics)
    });
    let set = strike.as_ref().map_or([0.0; 5], |s| s.setting(&then));

    let mishit = mishits(shots);
    let effect = |m| strike.as_ref().map_or([0.0; 5], |s| s.effect(m));
    let struck: Vec<[f64; 5]> = shots.iter().map(effect).collect();
    let (mut count, mut mean, mut variance) = ([0.0; 5], [0.0; 5], [0.0; 5]);
    for r in 0..5 {
        let (rows, excluded): (Vec<_>, Vec<_>) = shots
            .iter()
            .zip(&mishit)
            .zip(&struck)
            .filter_map(|((m, out), struck)| {
                Some((SVector::<f64, 1>::new(observed(m, r)? - struck[r]), *out))
            })
            .unzip();
        let prior_sd = SVector::<f64, 1>::new(USUAL[r]);
        if let Some(s) = robust::summary(&rows, &excluded, &prior_sd) {
            count[r] = s.effective;
            mean[r] = s.centre[0] - set[r];
            variance[r] = s.covariance[(0, 0)];
        }
    }
    Ok(SessionSummary {
        session: names[0].into(),
        date: date.into(),
        player: names[1].into(),
        head: names[2].into(),
        features: physics.features(head, &club.setting),
        shots: shots.len(),
        count,
        mean,
        variance,
    })
}

/// What the physics know of a session: the effect of its setting, and that of a measured strike
/// location, which takes most of the scatter away and is no doing of a lever.
struct Strike<'a> {
    striker: &'a Striker,
    physics: &'a Physics,
    delivery: Delivery,
    /// The session's delivery with the usual strike location.
    usual: Delivery,
    /// Its responses.
    without: [f64; 5],
}

impl<'a> Strike<'a> {
    fn new(
        striker: &'a Striker,
        delivery: Delivery,
        prior: &DeliveryPrior,
        physics: &'a Physics,
    ) -> Strike<'a> {
        let usual = Delivery {
            strike_toe: prior.mean[5],
            strike_up: prior.mean[6],
            ..delivery
        };
        let mut strike = Strike {
            striker,
            physics,
            delivery,
            usual,
            without: [0.0; 5],
        };
        strike.without = strike.responses(&usual);
        strike
    }

    fn responses(&self, d: &Delivery) -> [f64; 5] {
        let p = self.physics;
        responses(&self.striker.launch(d, &p.ball, &p.impact), d.head_speed)
    }

    /// Responses less those of the same swing with the head at its reference.
    fn setting(&self, reference: &Striker) -> [f64; 5] {
        let (swing, p) = (self.striker.swing(&self.delivery), self.physics);
        let launch = |s: &Striker| {
            let launch = s.strike(&swing, &p.ball, &p.impact).launch();
            responses(&launch, s.head_speed(&swing))
        };
        let (now, then) = (launch(self.striker), launch(reference));
        std::array::from_fn(|r| now[r] - then[r])
    }

    /// Responses with the shot's strike location less those with the usual one; zero where it was
    /// not measured.
    fn effect(&self, m: &Measured) -> [f64; 5] {
        let (toe, up) = (m.get(Quantity::StrikeToe), m.get(Quantity::StrikeUp));
        if toe.is_none() && up.is_none() {
            return [0.0; 5];
        }
        let with = self.responses(&Delivery {
            strike_toe: toe.unwrap_or(self.usual.strike_toe),
            strike_up: up.unwrap_or(self.usual.strike_up),
            ..self.usual
        });
        std::array::from_fn(|r| with[r] - self.without[r])
    }
}

/// Response `r` of a shot, if it was measured.
fn observed(m: &Measured, r: usize) -> Option<f64> {
    match r {
        0 => Some(m.get(Quantity::LaunchAngle)? / DEG),
        1 => Some(m.get(Quantity::LaunchDirection)? / DEG),
        2 => Some(m.get(Quantity::SpinAxis)? / DEG),
        3 => Some(m.get(Quantity::SpinRate)? / RPM),
        _ => Some(m.get(Quantity::BallSpeed)? / m.get(Quantity::HeadSpeed)?),
    }
}

/// Gross mishits by ball speed and launch angle, where measured.
fn mishits(shots: &[Measured]) -> Vec<bool> {
    let mut out = vec![false; shots.len()];
    for (q, floor, low_only) in [
        (Quantity::BallSpeed, 1.0, true),
        (Quantity::LaunchAngle, 1.5 * DEG, false),
    ] {
        let (index, values): (Vec<usize>, Vec<f64>) = shots
            .iter()
            .enumerate()
            .filter_map(|(i, m)| Some((i, m.get(q)?)))
            .unzip();
        for (i, gross) in index
            .into_iter()
            .zip(robust::outliers(&values, floor, low_only))
        {
            out[i] |= gross;
        }
    }
    out
}
