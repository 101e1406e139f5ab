//! What a miss costs: an expected distance in metres.
//!
//! What is wanted of each quantity is a [`Window`]; a point is a window of width 0. The loss is the
//! sum of the distances outside of the windows, each times a weight that makes it comparable to a
//! metre off the line. Of the offline distance the player's spread counts too: what is lost is the
//! mean distance outside over all shots. That alone is flat where the spread is larger than the
//! miss, so that a miss of some yards would be left for the sake of a little curve or work; and the
//! miss is what a club can cure, the spread is not. So how far the mean ball is from what was asked
//! for (line, start, height, landing angle, spin) counts twice ([`ASKED`]); curve and carry, which
//! come along with that, count once.
//!
//! So a straight ball that has no spread costs [`METRE_OFF`] times what it lies off the line. People
//! are shown a loss divided by that ([`super::Row::loss_off_line`]), a distance off the line again:
//! a third of the balls' mean distance, two thirds of the mean ball's, and the rest in proportion.

use super::predict::Outcome;
use crate::hand::Mirror;
use crate::tendency::{Aim, Ground};
use crate::units::{DEG, RPM};
use statrs::distribution::{Continuous, ContinuousCDF, Normal};

/// What is wanted of a quantity: anything from `low` to `high`, either of which may be infinite.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Window {
    /// Lower edge.
    pub low: f64,
    /// Upper edge.
    pub high: f64,
}

impl Window {
    /// Just this value.
    pub fn at(value: f64) -> Window {
        Window {
            low: value,
            high: value,
        }
    }

    /// Half of the width to either side of a value.
    pub fn around(value: f64, width: f64) -> Window {
        Window {
            low: value - 0.5 * width,
            high: value + 0.5 * width,
        }
    }

    /// From and to, as far as they are given; none if neither is.
    pub fn between(from: Option<f64>, to: Option<f64>) -> Option<Window> {
        (from.is_some() || to.is_some()).then(|| Window {
            low: from.unwrap_or(f64::NEG_INFINITY),
            high: to.unwrap_or(f64::INFINITY),
        })
    }

    /// Distance outside.
    pub fn outside(&self, value: f64) -> f64 {
        (self.low - value).max(value - self.high).max(0.0)
    }

    /// Expected distance outside of `X ~ N(m, s²)`.
    ///
    /// With `psi(u) = E max(Z + u, 0) = phi(u) + u Phi(u)` of a standard normal `Z` it is
    /// `s psi((low - m) / s) + s psi((m - high) / s)`. With `low = high` that is the mean of the
    /// folded normal distribution: F. C. Leone, L. S. Nelson, R. B. Nottingham 1961, *The folded
    /// normal distribution*, Technometrics 3, 543-550.
    pub fn expected_outside(&self, m: f64, s: f64) -> f64 {
        if !(s > 0.0) {
            return self.outside(m);
        }
        let beyond = |distance: f64| {
            if distance.is_finite() {
                s * psi(distance / s)
            } else {
                0.0
            }
        };
        beyond(self.low - m) + beyond(m - self.high)
    }
}

impl Mirror for Window {
    fn mirrored(self) -> Self {
        Window {
            low: -self.high,
            high: -self.low,
        }
    }
}

/// `E max(Z + u, 0)` of a standard normal `Z`.
pub(super) fn psi(u: f64) -> f64 {
    let n = Normal::standard();
    n.pdf(u) + u * n.cdf(u)
}

/// What matters more to a player: factors on the parts of the loss, 1 each unless they are said.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Weights {
    /// Where the ball starts and lands.
    pub direction: f64,
    /// How it curves.
    pub shape: f64,
    /// Height, spin and landing angle.
    pub height: f64,
    /// Carry that is lost.
    pub distance: f64,
}

impl Default for Weights {
    fn default() -> Self {
        Weights {
            direction: 1.0,
            shape: 1.0,
            height: 1.0,
            distance: 1.0,
        }
    }
}

/// What the player wants. Right-handed frame.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Goal {
    /// Start line and curve.
    pub aim: Aim,
    /// Width of the fairway there, m: a ball costs what it lies outside of it. 0 is a line.
    pub fairway: f64,
    /// Where the start line may pass at landing distance, m, if the player minds.
    pub start: Option<Window>,
    /// Wanted greatest height, m, if height is part of the complaint.
    pub apex: Option<Window>,
    /// Wanted angle of descent, rad, if the player minds.
    pub landing_angle: Option<Window>,
    /// Wanted spin rate, rad/s, if spin is part of the complaint.
    pub spin_rate: Option<Window>,
    /// Whether lost carry counts in full.
    pub keep_carry: bool,
    /// What matters more.
    pub weights: Weights,
}

/// Weight of curve against offline where nobody asked for one, and where a curve or a start line was
/// asked for: a ball that starts left to land straight is only half a cure.
const CURVE_WEIGHT: [f64; 2] = [0.1, 0.25];
/// Weight in the loss of how far the mean ball is from what was asked for, against the mean distance of
/// the balls from the line (the owner's choice, no source).
pub(super) const ASKED: f64 = 2.0;
/// What a metre off the line costs a straight ball without spread, at weights of 1: its distance, and
/// that of the mean ball again.
pub const METRE_OFF: f64 = 1.0 + ASKED;
/// Weight of height against offline.
const APEX_WEIGHT: f64 = 1.0;
/// Weight of spin against offline, m for each rad/s: 100 rpm are worth a metre (common practice, no
/// source: some metres of carry for 500 rpm too much).
const SPIN_WEIGHT: f64 = 0.01 / RPM;
/// Weight of the landing angle against offline, m for each rad: a degree is worth a metre (common
/// practice, no source: about what it adds to the run).
const LANDING_WEIGHT: f64 = 1.0 / DEG;
/// Weight of lost carry against offline, where carry must be kept and where not: a ball is not
/// straighter for falling short.
const CARRY_WEIGHT: [f64; 2] = [0.5, 0.15];

/// The parts of a loss, m.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LossParts {
    /// Expected distance from the line or the fairway, over the player's shots, and that of the mean
    /// ball.
    pub offline: f64,
    /// Weighted distance of the mean start line from its window.
    pub start: f64,
    /// Weighted distance of the mean curve from the wanted one.
    pub curve: f64,
    /// Weighted distance of the mean apex from the wanted one.
    pub apex: f64,
    /// Weighted distance of the mean landing angle from the wanted one.
    pub landing: f64,
    /// Weighted distance of the mean spin rate from the wanted one.
    pub spin: f64,
    /// Weighted loss of carry.
    pub carry: f64,
}

impl LossParts {
    /// Sum of the parts.
    pub fn total(&self) -> f64 {
        self.offline + self.start + self.curve + self.apex + self.landing + self.spin + self.carry
    }
}

/// A part of the loss that depends on the ground picture: `weight` times the distance of
/// `along · ground` from the window.
#[derive(Debug, Clone, Copy)]
pub(super) struct Target {
    pub weight: f64,
    /// Whether the player asked for it.
    pub asked: bool,
    pub along: Ground,
    pub window: Window,
}

impl Target {
    /// Weight in the loss.
    pub fn in_loss(&self) -> f64 {
        self.weight * if self.asked { ASKED } else { 1.0 }
    }
}

impl Goal {
    /// Where the ball should land.
    pub fn offline(&self) -> Window {
        Window::around(self.aim.offline(), self.fairway)
    }

    /// What the miss is measured in, weighed: the line, and what else was asked for. A little of curve
    /// and carry always counts.
    pub fn asked_for(&self) -> Vec<&'static str> {
        let w = &self.weights;
        let all = [
            ("line", true, w.direction),
            ("start", self.start.is_some(), w.direction),
            ("curve", self.aim.curve != 0.0, w.shape),
            ("height", self.apex.is_some(), w.height),
            ("landing angle", self.landing_angle.is_some(), w.height),
            ("spin", self.spin_rate.is_some(), w.height),
            ("carry", self.keep_carry, w.distance),
        ];
        let asked = all
            .into_iter()
            .filter(|(_, asked, weight)| *asked && *weight > 0.0);
        asked.map(|(name, ..)| name).collect()
    }

    /// Loss of a player whose ball does that, spread included, against a carry before.
    pub fn loss(&self, ball: &Outcome, carry_before: f64) -> LossParts {
        let mean = ball.ground[0] + ball.ground[1];
        let distance = self.offline().expected_outside(mean, ball.offline_sd);
        self.loss_at(ball, distance, carry_before)
    }

    /// The same, where the mean distance of the player's shots from the line or the fairway is known.
    pub fn loss_at(&self, ball: &Outcome, distance: f64, carry_before: f64) -> LossParts {
        let missed = self.systematic(ball, carry_before);
        LossParts {
            offline: self.weights.direction * distance + ASKED * missed.offline,
            start: ASKED * missed.start,
            apex: ASKED * missed.apex,
            landing: ASKED * missed.landing,
            spin: ASKED * missed.spin,
            ..missed
        }
    }

    /// The same without the player's spread: what is left of the miss itself.
    pub fn systematic(&self, ball: &Outcome, carry_before: f64) -> LossParts {
        let part = |t: Option<Target>| {
            t.map_or(0.0, |t| {
                t.weight * t.window.outside(t.along.dot(&ball.ground))
            })
        };
        let [offline, start, curve, apex, carry] = self.targets(carry_before);
        LossParts {
            offline: part(offline),
            start: part(start),
            curve: part(curve),
            apex: part(apex),
            carry: part(carry),
            landing: self.landing(ball.landing_angle),
            spin: self.spin(ball.spin_rate),
        }
    }

    /// Offline, start line, curve, apex and carry, as far as they count.
    pub(super) fn targets(&self, carry_before: f64) -> [Option<Target>; 5] {
        let w = &self.weights;
        let target = |asked, weight, along: [f64; 4], window| Target {
            asked,
            weight,
            along: Ground::from(along),
            window,
        };
        let kept = Window {
            low: carry_before,
            high: f64::INFINITY,
        };
        let carry_weight = CARRY_WEIGHT[usize::from(!self.keep_carry)];
        let curve_weight = CURVE_WEIGHT[usize::from(self.aim.curve != 0.0)];
        let (line, start) = ([1.0, 1.0, 0.0, 0.0], [1.0, 0.0, 0.0, 0.0]);
        let (curve, carry) = ([0.0, 1.0, 0.0, 0.0], [0.0, 0.0, 1.0, 0.0]);
        let straight = Window::at(self.aim.curve);
        [
            Some(target(true, w.direction, line, self.offline())),
            (self.start).map(|s| target(true, CURVE_WEIGHT[1] * w.direction, start, s)),
            Some(target(false, curve_weight * w.shape, curve, straight)),
            (self.apex).map(|a| target(true, APEX_WEIGHT * w.height, [0.0, 0.0, 0.0, 1.0], a)),
            Some(target(false, carry_weight * w.distance, carry, kept)),
        ]
    }

    pub(super) fn landing(&self, angle: f64) -> f64 {
        let slope = self.landing_slope();
        self.landing_angle.map_or(0.0, |w| slope * w.outside(angle))
    }

    pub(super) fn spin(&self, rate: f64) -> f64 {
        let slope = self.spin_slope();
        self.spin_rate.map_or(0.0, |w| slope * w.outside(rate))
    }

    /// What a rad of landing angle costs outside of its window, m.
    pub(super) fn landing_slope(&self) -> f64 {
        let minds = f64::from(u8::from(self.landing_angle.is_some()));
        minds * LANDING_WEIGHT * self.weights.height
    }

    /// What a rad/s of spin costs outside of its window, m.
    pub(super) fn spin_slope(&self) -> f64 {
        let minds = f64::from(u8::from(self.spin_rate.is_some()));
        minds * SPIN_WEIGHT * self.weights.height
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// By the definition: without spread the mean distance and that of the mean ball are the same.
    #[test]
    fn inv_what_is_shown_of_a_straight_ball_is_its_distance() {
        let ball = Outcome {
            ground: Ground::new(-7.0, 0.0, 200.0, 28.0),
            offline_sd: 0.0,
            spin_rate: 280.0,
            landing_angle: 40.0 * DEG,
        };
        let loss = Goal::default().loss(&ball, 200.0).total();
        assert!((loss / METRE_OFF - 7.0).abs() < 1e-12);
    }
}
