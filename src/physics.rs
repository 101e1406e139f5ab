//! The physical model as one value: ball, impact constants, coefficient set, attitude; and how sure
//! its constants are.

use crate::ball::Ball;
use crate::club::{FEATURES, features_at};
use crate::constants::{ImpactConstants, Spreads};
use crate::flight::{AeroSet, AsShown, Conditions, Range, Shown, as_shown};
use crate::head::{ClubKind, Head, Setting, SettingError};
use crate::hosel::Attitude;
use crate::impact::Striker;
use crate::quantity::{Measured, Quantity};

/// Everything that turns a delivery into a flight.
#[derive(Debug, Clone)]
pub struct Physics {
    /// The ball.
    pub ball: Ball,
    /// Constants of the impact.
    pub impact: ImpactConstants,
    /// Drag and lift.
    pub aero: AeroSet,
    /// Who decides the head's attitude when the hosel is turned.
    pub attitude: Attitude,
    /// How far the curve of a flight may be off, as a share of it (standard deviation).
    pub curve_share: f64,
}

impl Default for Physics {
    /// A modern ball, the calibrated constants, the default coefficient set, attitude not known.
    fn default() -> Self {
        Physics {
            ball: Ball::modern(),
            impact: ImpactConstants::default(),
            aero: AeroSet::default(),
            attitude: Attitude::default(),
            curve_share: Spreads::read().curve_share,
        }
    }
}

impl Physics {
    /// A head at a setting, ready to strike. `base` is the setting at which head speed was seen.
    ///
    /// # Errors
    /// If the setting is not one that the head has.
    pub fn striker(
        &self,
        head: &Head,
        setting: &Setting,
        base: &Setting,
    ) -> Result<Striker, SettingError> {
        Striker::new(head, setting, base, self.attitude, &self.impact)
    }

    /// The ball in the given conditions, ready to fly.
    pub fn range(&self, conditions: &Conditions) -> Range<'_> {
        Range::new(&self.ball, &self.aero, conditions)
    }

    /// The same with a ball that flies as a device showed it in some sessions, of which the launch
    /// was measured as well; and what was fitted. `None` if there are too few of such shots, or if no
    /// ball flies like that. See [`crate::flight::as_shown`].
    pub fn as_shown<'m>(
        &self,
        sessions: impl Iterator<Item = (Conditions, &'m [Measured])>,
    ) -> Option<(Physics, AsShown)> {
        let shown = |m: &Measured| {
            let figures = [Quantity::Carry, Quantity::Offline, Quantity::Apex].map(|q| m.get(q));
            Some(Shown {
                launch: m.launch()?,
                figures,
            })
        };
        let visits: Vec<_> = sessions
            .map(|(conditions, shots)| (conditions, shots.iter().filter_map(shown).collect()))
            .collect();
        let fit = as_shown(&self.ball, &self.aero, &visits, self.curve_share)?;
        let mut physics = self.clone();
        physics.ball.drag_factor *= 1.0 + fit.drag;
        physics.ball.lift_factor *= 1.0 + fit.lift;
        physics.curve_share = fit.lift_sd;
        Some((physics, fit))
    }

    /// What a setting changed against the head's reference, in the order of [`FEATURES`], with the
    /// share of the sleeve's angles that reaches the ball.
    pub fn features(&self, head: &Head, setting: &Setting) -> [f64; FEATURES.len()] {
        let turn = head.delivered_attitude(setting, self.attitude, &self.impact);
        features_at(head, setting, &turn)
    }

    /// The constants that are not sure, as they bear on a kind of club. Their errors are taken as
    /// independent and normal. Closing and a face that is squared again are not among them: what is
    /// not sure of them is the learned response's.
    pub fn uncertain(kind: ClubKind) -> [Uncertain; 7] {
        let sd = Spreads::read();
        let of_kind = sd.kinds[kind as usize];
        let row = |name, sd, shift| Uncertain {
            name,
            sd,
            kind,
            shift,
        };
        [
            row("restitution", of_kind.normal, |p, k, by| {
                let e = &mut p.impact.kinds[k as usize].normal;
                *e = (*e + by).clamp(0.0, 1.0);
            }),
            row("tangential restitution", of_kind.tangential, |p, k, by| {
                let e = &mut p.impact.kinds[k as usize].tangential;
                *e = (*e + by).clamp(-1.0, 1.0);
            }),
            row("friction", sd.friction, |p, _, by| {
                p.impact.friction = (p.impact.friction + by).max(0.0);
            }),
            row(
                "head-speed mass exponent",
                sd.head_mass_exponent,
                |p, _, by| {
                    p.impact.head_mass_exponent = (p.impact.head_mass_exponent + by).max(1.0);
                },
            ),
            row("sleeve carry-over", sd.sleeve_carry_over, |p, _, by| {
                p.impact.sleeve_carry_over += by;
            }),
            row("drag factor", sd.ball_factor, |p, _, by| {
                p.ball.drag_factor = (p.ball.drag_factor + by).max(0.0);
            }),
            row("lift factor", sd.ball_factor, |p, _, by| {
                p.ball.lift_factor = (p.ball.lift_factor + by).max(0.0);
            }),
        ]
    }

    /// The model with one constant moved by a number of standard deviations, held where it stays
    /// physical (friction and ball factors not negative, restitutions within their range, mass
    /// exponent at least 1).
    ///
    /// A restitution that was measured on a head itself does not move.
    pub fn shifted(&self, constant: &Uncertain, standard_deviations: f64) -> Physics {
        let mut out = self.clone();
        (constant.shift)(&mut out, constant.kind, standard_deviations * constant.sd);
        out
    }
}

/// A constant of the model with its standard deviation: `data/constants.toml` says where each comes
/// from.
#[derive(Debug, Clone, Copy)]
pub struct Uncertain {
    /// What it is.
    pub name: &'static str,
    /// Standard deviation, in the constant's own unit (all are pure numbers).
    pub sd: f64,
    kind: ClubKind,
    shift: fn(&mut Physics, ClubKind, f64),
}
