//! Handedness, turned once, at the edge.
//!
//! The core computes for a right-handed player: x to the right of the target line, y toward the
//! target, z up. A left-handed player is the mirror image in x. What comes in for a left-handed
//! player is mirrored on the way in and what goes out is mirrored on the way out; nothing between
//! knows. The head frame needs no mirror: x is toe-ward for both hands.

use serde::{Deserialize, Serialize};

/// Which side the player plays from.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Hand {
    /// Right-handed: the frame of the core.
    #[default]
    Right,
    /// Left-handed: the mirror image in x.
    Left,
}

impl Hand {
    /// Takes a value from the real world into the core's right-handed frame, or back again: the
    /// mirror is its own inverse.
    pub fn turn<T: Mirror>(self, value: T) -> T {
        match self {
            Hand::Right => value,
            Hand::Left => value.mirrored(),
        }
    }

    /// `+1` for right-handed, `-1` for left-handed: the factor for a right-positive number.
    pub fn sign(self) -> f64 {
        match self {
            Hand::Right => 1.0,
            Hand::Left => -1.0,
        }
    }
}

/// A value with a mirror image in the vertical plane through the target line.
pub trait Mirror {
    /// The mirror image: every right-positive quantity changes its sign.
    fn mirrored(self) -> Self;
}
