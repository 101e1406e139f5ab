//! The parts of an estimate: prices in all worlds.

use super::loss::{Target, psi};
use super::predict::{WORLDS, World};
use std::sync::LazyLock;

/// `psi` in steps of 1/256, which is 2e-6 from it at most.
pub(super) static PSI: LazyLock<Vec<f64>> =
    LazyLock::new(|| (-2048..=2049).map(|i| psi(f64::from(i) / 256.0)).collect());

/// `psi` from its table; straight beyond 8 standard deviations.
#[inline]
pub(super) fn psi_fast(table: &[f64], u: f64) -> f64 {
    let inside = u.clamp(-8.0, 8.0);
    let at = (inside + 8.0) * 256.0;
    let i = at as usize;
    let share = at - i as f64;
    table[i] + (table[i + 1] - table[i]) * share + (u - inside).max(0.0)
}

/// Sum over the worlds, in four lanes that do not wait for each other.
#[inline]
pub(super) fn sum(line: &Line, of: impl Fn(f64) -> f64) -> f64 {
    let mut lanes = [0.0; 4];
    for four in line.chunks_exact(4) {
        for (lane, v) in lanes.iter_mut().zip(four) {
            *lane += of(*v);
        }
    }
    lanes.iter().sum()
}

/// What a setting is estimated to cost.
#[derive(Debug, Clone, Copy)]
pub(super) struct Guess {
    /// Price.
    pub price: f64,
    /// By how much it may be off.
    pub error: f64,
    /// Most that it may cure; nothing if it cannot lower the loss.
    pub cure: f64,
}

impl Guess {
    /// Price if the error is kind.
    pub fn at_best(&self) -> f64 {
        self.price - self.error
    }

    /// Price if it is not.
    pub fn at_worst(&self) -> f64 {
        self.price + self.error
    }
}

/// A number for each world.
pub(super) type Line = [f64; WORLDS];

pub(super) fn line(of: impl Fn(&World) -> f64, worlds: &[World]) -> Line {
    let mut out = [0.0; WORLDS];
    for (v, w) in out.iter_mut().zip(worlds) {
        *v = of(w);
    }
    out
}

/// A part of the loss in all worlds.
pub(super) struct Part {
    pub target: Target,
    /// What each world adds.
    pub centre: Line,
    /// Whether the player's spread counts.
    pub spread: bool,
}

/// Errors of the polynomial: of each part, of the spread, of landing angle and spin; as losses.
pub(super) struct Errors {
    /// Of the whole loss.
    pub loss: f64,
    /// Of the offline distance, m.
    pub offline: f64,
    /// Of the loss without spread.
    pub systematic: f64,
}
