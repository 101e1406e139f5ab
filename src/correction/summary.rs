//! A session boiled down to what the fit needs: seven features, and count, mean and variance of
//! each response. Additive, small, and made once.

use super::responses;
use crate::club::{Club, FEATURES};
use crate::delivery::Centres;
use crate::flight::Conditions;
use crate::head::SettingError;
use crate::impact::{Delivery, Striker, Swing};
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

/// Summarises a session. `shots` are in the right-handed frame. Those who have many sessions of a
/// club make one [`Summariser`].
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
    let club = Summariser::new(club, *prior, physics)?;
    Ok(club.summary(names, date, shots, conditions))
}

/// A club made ready to summarise its sessions.
#[derive(Debug, Clone)]
pub struct Summariser<'p> {
    /// With the club as it is set.
    centres: Centres<'p>,
    /// The same at the head's reference.
    reference: Striker,
    physics: &'p Physics,
    /// Whether the setting is another one than the reference.
    set: bool,
    features: [f64; FEATURES.len()],
}

impl<'p> Summariser<'p> {
    /// For the sessions of a player with that prior.
    ///
    /// # Errors
    /// If the club's setting is not one that its head has.
    pub fn new(
        club: &Club,
        prior: DeliveryPrior,
        physics: &'p Physics,
    ) -> Result<Summariser<'p>, SettingError> {
        let Club { head, setting, .. } = club;
        let now = physics.striker(head, setting, setting)?;
        Ok(Summariser {
            centres: Centres::new(now, prior, physics),
            reference: physics.striker(head, &head.reference, setting)?,
            physics,
            set: *setting != head.reference,
            features: physics.features(head, setting),
        })
    }

    /// The club as it is set, with its player's prior.
    pub fn club(&self) -> (&Striker, &DeliveryPrior) {
        (&self.centres.striker, &self.centres.prior)
    }

    /// Summarises a session. `shots` are in the right-handed frame.
    pub fn summary(
        &self,
        names: [&str; 3],
        date: &str,
        shots: &[Measured],
        conditions: &Conditions,
    ) -> SessionSummary {
        let struck = |m: &Measured| {
            m.get(Quantity::StrikeToe).is_some() || m.get(Quantity::StrikeUp).is_some()
        };
        // At its reference and without strike locations there is nothing to take out.
        let strike = (self.set || shots.iter().any(struck)).then(|| {
            let range = self.physics.range(conditions);
            Strike::new(self, &self.centres.of(shots, &range))
        });
        let set = strike.as_ref().map_or([0.0; 5], Strike::setting);
        let effect = |m| strike.as_ref().map_or([0.0; 5], |s| s.effect(m));
        let struck: Vec<[f64; 5]> = shots.iter().map(effect).collect();
        let mishit = mishits(shots);
        let (mut count, mut mean, mut variance) = ([0.0; 5], [0.0; 5], [0.0; 5]);
        let mut rows = Vec::with_capacity(shots.len());
        let mut excluded = Vec::with_capacity(shots.len());
        for r in 0..5 {
            rows.clear();
            excluded.clear();
            for ((m, out), struck) in shots.iter().zip(&mishit).zip(&struck) {
                if let Some(value) = observed(m, r) {
                    rows.push(SVector::<f64, 1>::new(value - struck[r]));
                    excluded.push(*out);
                }
            }
            let prior_sd = SVector::<f64, 1>::new(USUAL[r]);
            if let Some(s) = robust::summary(&rows, &excluded, &prior_sd) {
                count[r] = s.effective;
                mean[r] = s.centre[0] - set[r];
                variance[r] = s.covariance[(0, 0)];
            }
        }
        SessionSummary {
            session: names[0].into(),
            date: date.into(),
            player: names[1].into(),
            head: names[2].into(),
            features: self.features,
            shots: shots.len(),
            count,
            mean,
            variance,
        }
    }
}

/// What the physics know of a session: the effect of its setting, and that of a measured strike
/// location, which takes most of the scatter away and is no doing of a lever.
struct Strike<'a> {
    club: &'a Summariser<'a>,
    /// The session's central swing.
    swing: Swing,
    /// Its speed of the head, m/s.
    head_speed: f64,
    /// The same swing with the usual strike location.
    usual: Swing,
    /// Its responses.
    without: [f64; 5],
}

impl<'a> Strike<'a> {
    fn new(club: &'a Summariser<'a>, delivery: &Delivery) -> Strike<'a> {
        let (striker, prior) = club.club();
        let swing = striker.swing(delivery);
        let usual = Swing {
            strike_toe: prior.mean[5],
            strike_up: prior.mean[6],
            ..swing
        };
        let mut strike = Strike {
            club,
            swing,
            head_speed: delivery.head_speed,
            usual,
            without: [0.0; 5],
        };
        strike.without = strike.responses(striker, &usual, delivery.head_speed);
        strike
    }

    fn responses(&self, striker: &Striker, swing: &Swing, head_speed: f64) -> [f64; 5] {
        let p = self.club.physics;
        responses(
            &striker.strike(swing, &p.ball, &p.impact).launch(),
            head_speed,
        )
    }

    /// Responses less those of the same swing with the head at its reference.
    fn setting(&self) -> [f64; 5] {
        let at = |s: &Striker| self.responses(s, &self.swing, s.head_speed(&self.swing));
        let (now, then) = (at(self.club.club().0), at(&self.club.reference));
        std::array::from_fn(|r| now[r] - then[r])
    }

    /// Responses with the shot's strike location less those with the usual one; zero where it was
    /// not measured.
    fn effect(&self, m: &Measured) -> [f64; 5] {
        let (toe, up) = (m.get(Quantity::StrikeToe), m.get(Quantity::StrikeUp));
        if toe.is_none() && up.is_none() {
            return [0.0; 5];
        }
        let swing = Swing {
            strike_toe: toe.unwrap_or(self.usual.strike_toe),
            strike_up: up.unwrap_or(self.usual.strike_up),
            ..self.usual
        };
        let with = self.responses(self.club.club().0, &swing, self.head_speed);
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
    let mut values = Vec::with_capacity(shots.len());
    for (q, floor, low_only) in [
        (Quantity::BallSpeed, 1.0, true),
        (Quantity::LaunchAngle, 1.5 * DEG, false),
    ] {
        values.clear();
        values.extend(shots.iter().filter_map(|m| m.get(q)));
        let gross = robust::outliers(&values, floor, low_only);
        let measured = (out.iter_mut().zip(shots)).filter(|(_, m)| m.get(q).is_some());
        for ((out, _), gross) in measured.zip(gross) {
            *out |= gross;
        }
    }
    out
}
