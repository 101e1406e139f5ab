//! The physical model as one value: ball, impact constants, coefficient set, attitude.

use crate::ball::Ball;
use crate::constants::ImpactConstants;
use crate::flight::{AeroSet, Conditions, Range};
use crate::head::{Head, Setting, SettingError};
use crate::hosel::Attitude;
use crate::impact::Striker;

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
}

impl Default for Physics {
    /// A modern ball, the calibrated constants, the default coefficient set, grip kept.
    fn default() -> Self {
        Physics {
            ball: Ball::modern(),
            impact: ImpactConstants::default(),
            aero: AeroSet::default(),
            attitude: Attitude::default(),
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
}
