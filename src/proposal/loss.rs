//! What a miss costs: an expected distance in metres.

use crate::tendency::{Aim, Ground};
use crate::units::RPM;
use statrs::distribution::{Continuous, ContinuousCDF, Normal};

/// What the player wants.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Goal {
    /// Start line and curve.
    pub aim: Aim,
    /// Wanted greatest height, m, if height is part of the complaint.
    pub apex: Option<f64>,
    /// Wanted spin rate, rad/s, if spin is part of the complaint.
    pub spin_rate: Option<f64>,
    /// Whether lost carry counts in full.
    pub keep_carry: bool,
}

/// Weight of curve against offline: a ball that starts left to land straight is only half a cure.
const CURVE_WEIGHT: f64 = 0.25;
/// Weight of height against offline.
const APEX_WEIGHT: f64 = 1.0;
/// Weight of spin against offline, m for each rad/s: 100 rpm are worth a metre (common practice, no
/// source: some metres of carry for 500 rpm too much).
const SPIN_WEIGHT: f64 = 0.01 / RPM;
/// Weight of lost carry against offline, where carry must be kept and where not: a ball is not
/// straighter for falling short.
const CARRY_WEIGHT: [f64; 2] = [0.5, 0.15];

/// The parts of a loss, m.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LossParts {
    /// Expected distance from the line, over the player's shots.
    pub offline: f64,
    /// Weighted distance of the mean curve from the wanted one.
    pub curve: f64,
    /// Weighted distance of the mean apex from the wanted one.
    pub apex: f64,
    /// Weighted distance of the mean spin rate from the wanted one.
    pub spin: f64,
    /// Weighted loss of carry.
    pub carry: f64,
}

impl LossParts {
    /// Sum of the parts.
    pub fn total(&self) -> f64 {
        self.offline + self.curve + self.apex + self.spin + self.carry
    }
}

impl Goal {
    /// Loss of a player whose ball does `mean` on average and spins at `spin_rate` (rad/s), with an
    /// offline spread of `offline_sd`, against a carry of `carry_before`.
    pub fn loss(
        &self,
        mean: &Ground,
        spin_rate: f64,
        offline_sd: f64,
        carry_before: f64,
    ) -> LossParts {
        LossParts {
            offline: expected_distance(mean[0] + mean[1] - self.aim.offline(), offline_sd),
            ..self.systematic(mean, spin_rate, carry_before)
        }
    }

    /// The same without the player's spread: what is left of the miss itself.
    pub fn systematic(&self, mean: &Ground, spin_rate: f64, carry_before: f64) -> LossParts {
        LossParts {
            offline: (mean[0] + mean[1] - self.aim.offline()).abs(),
            curve: CURVE_WEIGHT * (mean[1] - self.aim.curve).abs(),
            apex: self.apex.map_or(0.0, |a| APEX_WEIGHT * (mean[3] - a).abs()),
            spin: self
                .spin_rate
                .map_or(0.0, |w| SPIN_WEIGHT * (spin_rate - w).abs()),
            carry: CARRY_WEIGHT[usize::from(!self.keep_carry)] * (carry_before - mean[2]).max(0.0),
        }
    }
}

/// `E|X|` for `X ~ N(m, s²)`: the mean of the folded normal distribution.
/// Source: F. C. Leone, L. S. Nelson, R. B. Nottingham 1961, *The folded normal distribution*,
/// Technometrics 3, 543-550.
pub fn expected_distance(m: f64, s: f64) -> f64 {
    if s <= 0.0 {
        return m.abs();
    }
    let n = Normal::standard();
    let z = m / s;
    2.0 * s * n.pdf(z) + m * (1.0 - 2.0 * n.cdf(-z))
}
