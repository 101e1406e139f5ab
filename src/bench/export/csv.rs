//! Sessions as CSV.

use super::{failed, in_unit};
use crate::bench::BenchError;
use crate::bench::session::ShotRow;
use crate::bench::store::SessionRecord;
use crate::quantity::{Measured, Quantity, TABLE};
use std::io::Write;

/// A session as CSV: `shot`, the quantities that any shot has in the units in which they are
/// written out, `note`. Real-world frame. Read in again, it gives the same values to 1e-12.
///
/// # Errors
/// File, if `to` cannot be written.
pub fn session_csv(session: &SessionRecord, to: &mut impl Write) -> Result<(), BenchError> {
    let shots = session
        .shots
        .iter()
        .map(|s| (s.number, &s.measured, s.note.as_deref()));
    write(&shots.collect::<Vec<_>>(), to)
}

/// The same for shots that are not in the log.
///
/// # Errors
/// File, if `to` cannot be written.
pub fn shots_csv(shots: &[ShotRow], to: &mut impl Write) -> Result<(), BenchError> {
    let shots = shots
        .iter()
        .map(|s| (s.number, &s.measured, s.note.as_deref()));
    write(&shots.collect::<Vec<_>>(), to)
}

fn write(shots: &[(u32, &Measured, Option<&str>)], to: &mut impl Write) -> Result<(), BenchError> {
    let seen = |q: Quantity| shots.iter().any(|(_, m, _)| m.get(q).is_some());
    let quantities: Vec<Quantity> = TABLE
        .iter()
        .map(|i| i.quantity)
        .filter(|q| seen(*q))
        .collect();
    let notes = shots.iter().any(|(_, _, note)| note.is_some());
    let mut writer = csv::Writer::from_writer(to);
    let mut row = vec!["shot".to_string()];
    row.extend(quantities.iter().map(|q| q.column_name()));
    row.extend(notes.then(|| "note".to_string()));
    writer.write_record(&row).map_err(csv_failed)?;
    for (number, measured, note) in shots {
        let value = |q: &Quantity| {
            measured
                .get(*q)
                .map(|v| in_unit(v, q.unit_size()).to_string())
        };
        let mut row = vec![number.to_string()];
        row.extend(quantities.iter().map(|q| value(q).unwrap_or_default()));
        row.extend(notes.then(|| note.unwrap_or_default().to_string()));
        writer.write_record(&row).map_err(csv_failed)?;
    }
    writer.flush().map_err(failed)
}

fn csv_failed(e: csv::Error) -> BenchError {
    failed(match e.into_kind() {
        csv::ErrorKind::Io(e) => e,
        other => std::io::Error::other(format!("{other:?}")),
    })
}
