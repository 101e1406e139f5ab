//! A miss in words: "starts 5 right, curves 15 right, carries 240, high".
//!
//! Clauses are separated by commas, "and", "but", "then"; within a clause each word that names what
//! the ball does begins a new statement, so that "pull hook" and "low fade" say two things.
//! Distances are in yards unless they carry their own unit. Nothing is passed over: a word that is
//! not understood, a thing said twice, or a direction against its own word is refused.

mod read;
mod words;

pub use read::parse;

use crate::hand::Mirror;

/// More or less than it should be.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Complaint {
    /// Too high, or too much spin.
    High,
    /// Too low, or too little spin.
    Low,
}

/// How far, as far as it was said; right positive.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Amount {
    /// A number was said, m.
    Stated(f64),
    /// Only a direction was said: so many usual misses, see [`USUAL_MISS`].
    Unsaid(f64),
}

impl Amount {
    /// In m, at a carry.
    pub fn at(self, carry: f64) -> f64 {
        match self {
            Amount::Stated(v) => v,
            Amount::Unsaid(n) => n * USUAL_MISS * carry,
        }
    }
}

impl Mirror for Amount {
    fn mirrored(self) -> Self {
        match self {
            Amount::Stated(v) => Amount::Stated(-v),
            Amount::Unsaid(n) => Amount::Unsaid(-n),
        }
    }
}

/// What stands in for an amount that was not said, as a share of carry: ten yards of 250 (common
/// practice, no source).
pub const USUAL_MISS: f64 = 0.04;

/// A miss as it was said, in m and rad/s; real-world frame, right positive, until turned.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Miss {
    /// Where the start line passes at landing distance.
    pub start: Option<Amount>,
    /// Curve from the start line.
    pub curve: Option<Amount>,
    /// Where it lands.
    pub offline: Option<Amount>,
    /// Carry.
    pub carry: Option<f64>,
    /// Greatest height.
    pub apex: Option<f64>,
    /// Spin rate.
    pub spin_rate: Option<f64>,
    /// Too high or too low.
    pub height: Option<Complaint>,
    /// Too much or too little spin.
    pub spin: Option<Complaint>,
}

impl Mirror for Miss {
    fn mirrored(mut self) -> Self {
        for v in [&mut self.start, &mut self.curve, &mut self.offline] {
            *v = v.map(Mirror::mirrored);
        }
        self
    }
}

/// A phrase that is not understood.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[error(
    "'{clause}' is not understood: {why}. Say for instance: starts 5 right, curves 15 right, \
     carries 240 (yd; or 220 m), apex 30, spins 3200, high, low, too much spin, offline 12 left, \
     pull hook, push fade"
)]
pub struct MissError {
    /// The clause.
    pub clause: String,
    /// What is wrong with it.
    pub why: String,
}
