//! The lines of a session, one after the other, into shots and complaints.

use super::cell;
use super::columns::{Role, Value, What};
use super::error::BadCell;
use super::parse::ShotRow;
use crate::quantity::{Measured, Quantity};
use csv::StringRecord;
use std::collections::{BTreeMap, BTreeSet};

/// Rows on their way into shots.
#[derive(Default)]
pub(super) struct Rows<'a> {
    names: &'a [String],
    roles: &'a [Role],
    decimal_comma: bool,
    numbers: BTreeSet<u32>,
    /// The shots so far.
    pub shots: Vec<ShotRow>,
    /// The cells that could not be read.
    pub bad: Vec<BadCell>,
    /// Lines without any value.
    pub skipped: Vec<u64>,
    /// Bare numbers by column, for the hints.
    seen: BTreeMap<usize, Vec<f64>>,
}

impl<'a> Rows<'a> {
    pub fn new(names: &'a [String], roles: &'a [Role], decimal_comma: bool) -> Self {
        Rows {
            names,
            roles,
            decimal_comma,
            ..Rows::default()
        }
    }

    /// Reads a line: a shot, a line to skip, or complaints.
    pub fn read(&mut self, record: &StringRecord, line: u64) {
        if record.iter().all(|c| c.trim().is_empty()) {
            return;
        }
        let extra = record
            .iter()
            .skip(self.names.len())
            .any(|c| !c.trim().is_empty());
        if record.len() < self.names.len() || extra {
            let (have, want) = (record.len(), self.names.len());
            let allowed = format!("the line has {have} cells, the header line {want}");
            let cells: Vec<&str> = record.iter().collect();
            self.complain(line, "line", &cells.join(","), allowed);
            return;
        }
        // None once the line has said a number that cannot be.
        let mut number = Some(self.numbers.last().map_or(1, |n| n.saturating_add(1)));
        let mut shot = ShotRow {
            number: 0,
            raw: BTreeMap::new(),
            measured: Measured::default(),
            note: None,
        };
        let (mut back, mut side) = (None, None);
        for (n, text) in record.iter().enumerate().take(self.names.len()) {
            shot.raw.insert(self.names[n].clone(), text.to_string());
            match self.roles[n] {
                Role::Ignored => {}
                Role::Note => shot.note = Some(text.trim().to_string()).filter(|t| !t.is_empty()),
                Role::Shot => {
                    let said = text.trim().parse().ok().filter(|n| *n > 0);
                    number = said.filter(|n| !self.numbers.contains(n));
                    match (said, number) {
                        (_, Some(_)) => {}
                        (Some(_), _) => {
                            self.complain(line, n, text, "the number is there twice".into())
                        }
                        (None, _) => self.complain(line, n, text, "a whole number from 1".into()),
                    }
                }
                Role::Value(of) => match self.value(line, n, text, &of) {
                    None => {}
                    Some(si) => match of.what {
                        What::Quantity(q) => shot.measured.set(q, Some(si)),
                        What::BackSpin => back = Some(si),
                        What::SideSpin => side = Some(si),
                    },
                },
            }
        }
        spin_from_parts(&mut shot.measured, back, side);
        if shot.measured.iter().next().is_none() {
            self.skipped.push(line);
        } else if let Some(number) = number {
            self.numbers.insert(number);
            shot.number = number;
            self.shots.push(shot);
        }
    }

    fn value(&mut self, line: u64, n: usize, text: &str, of: &Value) -> Option<f64> {
        if let Some(number) = cell::bare_number(text, of, self.decimal_comma) {
            self.seen.entry(n).or_default().push(number);
        }
        match cell::value(text, of, self.decimal_comma) {
            Ok(value) => value,
            Err(allowed) => {
                self.complain(line, n, text, allowed);
                None
            }
        }
    }

    fn complain(&mut self, line: u64, column: impl InColumn, value: &str, allowed: String) {
        self.bad.push(BadCell {
            line,
            column: column.name(self.names),
            value: value.to_string(),
            allowed,
        });
    }

    /// For each column with bad cells: the unit in which all of its numbers would be allowed.
    pub fn hints(&self) -> Vec<String> {
        let mut hints = Vec::new();
        for (&n, numbers) in &self.seen {
            let Role::Value(of) = self.roles[n] else {
                continue;
            };
            let (low, high) = of.what.bounds();
            let fits = |size: f64| numbers.iter().all(|v| (low..=high).contains(&(v * size)));
            if fits(of.size) {
                continue;
            }
            let other = of
                .what
                .dimension()
                .units()
                .iter()
                .find(|(_, size)| fits(*size));
            if let Some((unit, _)) = other {
                let (name, have) = (&self.names[n], of.unit);
                hints.push(format!(
                    "every number in {name} would be allowed in {unit}, not {have}"
                ));
            }
        }
        hints
    }
}

/// Names a column in a complaint.
trait InColumn {
    fn name(self, names: &[String]) -> String;
}

impl InColumn for usize {
    fn name(self, names: &[String]) -> String {
        names[self].clone()
    }
}

impl InColumn for &str {
    fn name(self, _: &[String]) -> String {
        self.to_string()
    }
}

/// Spin rate and axis from back and side spin, where they were not measured themselves.
///
/// A ball with top spin has no axis between -90 and 90 deg: both stay missing.
fn spin_from_parts(measured: &mut Measured, back: Option<f64>, side: Option<f64>) {
    let (Some(back), Some(side)) = (back, side) else {
        return;
    };
    let rate = back.hypot(side);
    if back < 0.0 || rate > Quantity::SpinRate.info().bounds.1 {
        return;
    }
    if measured.get(Quantity::SpinRate).is_none() {
        measured.set(Quantity::SpinRate, Some(rate));
    }
    if measured.get(Quantity::SpinAxis).is_none() && rate > 0.0 {
        measured.set(Quantity::SpinAxis, Some(side.atan2(back)));
    }
}
