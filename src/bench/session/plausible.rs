//! Whether a session's numbers are in the columns and in the units that its header says.
//!
//! Only whole sessions are judged, by their medians: a single wild shot is everyday.

use super::columns::ReadColumn;
use super::error::SessionError;
use super::parse::ParsedSession;
use super::swapped::swapped;
use crate::head::ClubKind;
use crate::quantity::{Measured, Quantity};
use std::cmp::Ordering;

/// What is expected of a quantity: centre and standard deviation, SI.
pub type Expected = (Quantity, f64, f64);

/// What a session is held against; what is not known is left out.
#[derive(Debug, Clone, Copy, Default)]
pub struct Usual<'a> {
    /// What is expected of quantities.
    pub expected: &'a [Expected],
    /// What the model flies from each shot's launch, in the order of the shots: see
    /// [`flown`](fn@super::flown).
    pub flown: &'a [Measured],
    /// Kind of the club.
    pub kind: Option<ClubKind>,
}

/// How bad a finding is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Severity {
    /// The session should be refused.
    Error,
    /// Odd, but no other unit or column explains it.
    Warning,
}

/// Something odd about a session as a whole.
#[derive(Debug, Clone, PartialEq)]
pub struct Finding {
    /// How bad.
    pub severity: Severity,
    /// Of which quantity.
    pub quantity: Quantity,
    /// In words, with the numbers.
    pub text: String,
}

/// Fewest values whose median says anything.
const FEWEST: usize = 3;
/// So many standard deviations from the centre a median is odd.
const ODD: f64 = 4.0;
/// So many standard deviations from the centre another unit explains it.
const EXPLAINED: f64 = 2.5;
/// So many times the usual spin, or that part of it, is refused (common practice, no source).
const ODD_SPIN: f64 = 3.0;
/// So near to the usual spin, as a ratio either way, another unit explains it.
const EXPLAINED_SPIN: f64 = 2.0;
/// Ball speed over head speed: a full wedge to a perfect strike (1.62 is beyond any).
const SPEED_RATIO: (f64, f64) = (0.8, 1.62);
impl ParsedSession {
    /// What is odd about this session; see [`plausibility`].
    pub fn plausibility(&self, usual: &Usual<'_>) -> Vec<Finding> {
        let shots: Vec<Measured> = self.shots.iter().map(|s| s.measured).collect();
        plausibility(&shots, usual, &self.columns)
    }

    /// Refuses a session whose numbers are in other units or columns than its header says; returns
    /// the warnings of one that is not refused.
    ///
    /// # Errors
    /// [`SessionError::Implausible`] with everything that was found.
    pub fn check_plausible(&self, usual: &Usual<'_>) -> Result<Vec<Finding>, SessionError> {
        let found = self.plausibility(usual);
        match found.iter().any(|f| f.severity == Severity::Error) {
            false => Ok(found),
            true => Err(SessionError::Implausible {
                file: self.file_name.clone(),
                found,
            }),
        }
    }
}

/// What is odd about a session: medians far from what is expected, columns that look swapped, and
/// quantities that contradict each other or what the model flies. `columns` says in which units the values were read; a quantity without a column is
/// taken as read in the unit in which it is written out.
pub fn plausibility(shots: &[Measured], usual: &Usual<'_>, columns: &[ReadColumn]) -> Vec<Finding> {
    let session = Session { shots, columns };
    let medians = usual.expected.iter().filter_map(|e| session.median(e));
    let mut found: Vec<Finding> = medians.collect();
    found.extend(session.speeds());
    let swaps = swapped(shots, columns, usual.kind);
    if !swaps.is_empty() {
        // What the wrong columns say of the flight is not worth hearing.
        found.extend(swaps);
        return found;
    }
    let mut flights = session.flights(usual);
    let carry = |f: &Finding| f.quantity == Quantity::Carry;
    if !flights
        .iter()
        .any(|f| carry(f) && f.severity == Severity::Error)
    {
        if let Some(finding) = session.carries() {
            flights.retain(|f| !carry(f));
            flights.push(finding);
        }
    }
    flights.retain(|f| found.iter().all(|g| g.quantity != f.quantity));
    found.extend(flights);
    found
}

/// A session with the units in which it was read.
pub(super) struct Session<'a> {
    pub shots: &'a [Measured],
    pub columns: &'a [ReadColumn],
}

impl Session<'_> {
    fn median(&self, &(q, centre, sd): &Expected) -> Option<Finding> {
        let median = median(self.shots.iter().filter_map(|s| s.get(q)))?;
        if q == Quantity::SpinRate {
            return self.spin(median, centre);
        }
        let off = |value: f64| (value - centre).abs() / sd;
        // An expectation that is no number says nothing.
        if off(median).partial_cmp(&ODD) != Some(Ordering::Greater) {
            return None;
        }
        let (unit, size) = self.unit(q);
        let fits = self
            .others(q)
            .map(|(other, factor)| (other, off(median * factor)))
            .filter(|(_, off)| *off <= EXPLAINED)
            .min_by(|a, b| a.1.total_cmp(&b.1));
        let (name, read, usual) = (q.info().name, median / size, centre / size);
        Some(match fits {
            Some((other, _)) => error(
                q,
                format!(
                    "{name} looks like {other}, not {unit}: the median is {read:.1}, usual is {usual:.1} {unit}"
                ),
            ),
            None => warning(
                q,
                format!("{name}: the median is {read:.1} {unit}, usual is {usual:.1}"),
            ),
        })
    }

    /// Spin is judged by its ratio to the usual: a third of it is as odd as three times.
    fn spin(&self, median: f64, centre: f64) -> Option<Finding> {
        let q = Quantity::SpinRate;
        let off = |factor: f64| (median * factor / centre).ln().abs();
        // An expectation that is no number says nothing; no spin at all is infinitely far off.
        if off(1.0).partial_cmp(&ODD_SPIN.ln()) != Some(Ordering::Greater) {
            return None;
        }
        let (unit, size) = self.unit(q);
        let lost_zero = ("every value without its last digit".to_string(), 10.0);
        let fits: Vec<String> = self
            .others(q)
            .map(|(other, factor)| (other.to_string(), factor))
            .chain([lost_zero])
            .filter(|(_, factor)| off(*factor) <= EXPLAINED_SPIN.ln())
            .map(|(what, _)| what)
            .collect();
        let fits = match fits.is_empty() {
            true => "no other unit would fit".to_string(),
            false => format!("it looks like {}, not {unit}", fits.join(", or ")),
        };
        Some(error(
            q,
            format!(
                "{}: the median is {:.1}, usual is {:.1} {unit}, a third to three times that is \
                 possible; {fits}",
                q.info().name,
                median / size,
                centre / size
            ),
        ))
    }

    /// Ball speed against head speed.
    fn speeds(&self) -> Option<Finding> {
        use Quantity::{BallSpeed, HeadSpeed};
        let ratio = |s: &Measured| Some(s.get(BallSpeed)? / s.get(HeadSpeed)?);
        let ratio = median(self.shots.iter().filter_map(ratio))?;
        let good = |r: f64| (SPEED_RATIO.0..=SPEED_RATIO.1).contains(&r);
        if good(ratio) {
            return None;
        }
        let ball = self.others(BallSpeed).filter(|(_, f)| good(ratio * f));
        let head = self.others(HeadSpeed).filter(|(_, f)| good(ratio / f));
        let ball = ball.map(|(unit, _)| format!("ball_speed in {unit}"));
        let fits: Vec<String> = ball
            .chain(head.map(|(unit, _)| format!("head_speed in {unit}")))
            .collect();
        let fits = match fits.is_empty() {
            true => "no other unit of either would fit".to_string(),
            false => format!("it would fit with {}", fits.join(" or ")),
        };
        let (low, high) = SPEED_RATIO;
        Some(error(
            BallSpeed,
            format!(
                "ball_speed / head_speed is {ratio:.2} in the middle, {low} to {high} is possible; {fits}"
            ),
        ))
    }

    /// The unit in which a quantity was read, and its SI size.
    pub fn unit(&self, q: Quantity) -> (&'static str, f64) {
        let column = self.columns.iter().find(|c| c.quantity == q);
        let unit = column.map_or(q.info().unit, |c| c.unit);
        let size = q.info().dimension.unit(unit);
        (unit, size.unwrap_or_else(|| q.unit_size()))
    }

    /// The other units, each with what a value grows by if it was meant.
    pub fn others(&self, q: Quantity) -> impl Iterator<Item = (&'static str, f64)> {
        let (unit, size) = self.unit(q);
        let units = q.info().dimension.units().iter();
        units
            .filter(move |(name, _)| *name != unit)
            .map(move |(name, other)| (*name, other / size))
    }
}

pub(super) fn error(quantity: Quantity, text: String) -> Finding {
    let severity = Severity::Error;
    Finding {
        severity,
        quantity,
        text,
    }
}

pub(super) fn warning(quantity: Quantity, text: String) -> Finding {
    let severity = Severity::Warning;
    Finding {
        severity,
        quantity,
        text,
    }
}

pub(super) fn median(values: impl Iterator<Item = f64>) -> Option<f64> {
    let mut sorted: Vec<f64> = values.collect();
    if sorted.len() < FEWEST {
        return None;
    }
    sorted.sort_by(f64::total_cmp);
    let n = sorted.len();
    Some((sorted[(n - 1) / 2] + sorted[n / 2]) / 2.0)
}
