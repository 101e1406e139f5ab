//! Columns that look swapped: a ball that starts far to the side and hardly rises, or that lands
//! farther to the side than it carries.
//!
//! The limits are common practice, no source: no player's usual shot lies beyond them.

use super::columns::ReadColumn;
use super::plausible::{Finding, error, median};
use crate::head::ClubKind;
use crate::quantity::{Measured, Quantity};
use crate::units::DEG;

/// Largest usual launch direction, either way.
const MOST_DIRECTION: f64 = 8.0 * DEG;
/// Largest usual tilt of the spin axis, either way.
const MOST_AXIS: f64 = 30.0 * DEG;
/// Smallest usual launch angle of a driver; other clubs launch higher.
const LEAST_ANGLE: f64 = 4.0 * DEG;

/// The angles of a launch that could stand in each other's column.
const ANGLES: [Quantity; 3] = [
    Quantity::LaunchAngle,
    Quantity::LaunchDirection,
    Quantity::SpinAxis,
];

/// What looks swapped; `columns` names the columns, `kind` is that of the club, if it is known.
pub(super) fn swapped(
    shots: &[Measured],
    columns: &[ReadColumn],
    kind: Option<ClubKind>,
) -> Vec<Finding> {
    let angles = swapped_angles(shots, columns, kind);
    angles
        .into_iter()
        .chain(swapped_ground(shots, columns))
        .collect()
}

fn swapped_angles(
    shots: &[Measured],
    columns: &[ReadColumn],
    kind: Option<ClubKind>,
) -> Option<Finding> {
    let size = |q| {
        median(
            shots
                .iter()
                .filter_map(|s: &Measured| s.get(q))
                .map(f64::abs),
        )
    };
    let sizes = ANGLES.map(size);
    let odd = |sizes: [Option<f64>; 3], low: bool| {
        let [angle, direction, axis] = sizes;
        [
            low && angle.is_some_and(|a| a < LEAST_ANGLE),
            direction.is_some_and(|d| d > MOST_DIRECTION),
            axis.is_some_and(|a| a > MOST_AXIS),
        ]
    };
    let found = odd(sizes, kind == Some(ClubKind::Driver));
    let first = found.iter().position(|o| *o)?;
    let limits = [
        ("at least", LEAST_ANGLE, "is usual with a driver"),
        ("at most", MOST_DIRECTION, "to either side is usual"),
        ("at most", MOST_AXIS, "to either side is usual"),
    ];
    let complaints = (0..3).filter(|n| found[*n]).map(|n| {
        let (name, size) = (header(columns, ANGLES[n]), sizes[n].unwrap_or(f64::NAN));
        let (bound, limit, usual) = limits[n];
        format!(
            "{name} is {:.1} deg in the middle, {bound} {:.0} {usual}",
            size / DEG,
            limit / DEG
        )
    });
    // Two columns that would be usual, were they the other way round.
    let pairs = [(0, 1), (1, 2), (0, 2)].into_iter().filter(|&(a, b)| {
        let mut turned = sizes;
        turned.swap(a, b);
        let there = sizes[a].is_some() && sizes[b].is_some();
        there && (found[a] || found[b]) && odd(turned, true) == [false; 3]
    });
    let pairs: Vec<String> = pairs
        .map(|(a, b)| {
            let (a, b) = (header(columns, ANGLES[a]), header(columns, ANGLES[b]));
            format!("{a} and {b}")
        })
        .collect();
    let guess = match pairs.is_empty() {
        true => "no two columns would be usual the other way round".to_string(),
        false => format!("{} look swapped", pairs.join(", or ")),
    };
    let complaints: Vec<String> = complaints.collect();
    Some(error(
        ANGLES[first],
        format!("{}; {guess}", complaints.join(", ")),
    ))
}

fn swapped_ground(shots: &[Measured], columns: &[ReadColumn]) -> Option<Finding> {
    use Quantity::{Carry, Offline};
    let pairs = || {
        let both = |s: &Measured| Some((s.get(Carry)?, s.get(Offline)?.abs()));
        shots.iter().filter_map(both)
    };
    let beyond = median(pairs().map(|(carry, offline)| offline - carry))?;
    if beyond <= 0.0 {
        return None;
    }
    let (carry, offline) = (header(columns, Carry), header(columns, Offline));
    Some(error(
        Carry,
        format!("{offline} is larger than {carry}: {carry} and {offline} look swapped"),
    ))
}

/// Name of a quantity's column; of the quantity if it has none.
fn header(columns: &[ReadColumn], q: Quantity) -> String {
    let column = columns.iter().find(|c| c.quantity == q);
    column.map_or_else(|| q.info().name.to_string(), |c| c.header.clone())
}
