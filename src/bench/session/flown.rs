//! What the model flies from the launches of a session, to hold a device's figures against.

use crate::flight::Range;
use crate::launch::Launch;
use crate::quantity::{Measured, Quantity};

/// Carry and height of each shot whose ball speed, launch angle and spin rate were measured, in the
/// conditions of `range`; nothing of the others. Directions that were not measured are straight.
pub fn flown(shots: &[Measured], range: &Range<'_>) -> Vec<Measured> {
    shots
        .iter()
        .map(|s| fly(s, range).unwrap_or_default())
        .collect()
}

fn fly(shot: &Measured, range: &Range<'_>) -> Option<Measured> {
    let flight = range.fly(&Launch {
        ball_speed: shot.get(Quantity::BallSpeed)?,
        launch_angle: shot.get(Quantity::LaunchAngle)?,
        launch_direction: shot.get(Quantity::LaunchDirection).unwrap_or(0.0),
        spin_rate: shot.get(Quantity::SpinRate)?,
        spin_axis: shot.get(Quantity::SpinAxis).unwrap_or(0.0),
    });
    let measured = Measured::default()
        .with(Quantity::Carry, flight.carry())
        .with(Quantity::Apex, flight.apex);
    Some(measured)
}
