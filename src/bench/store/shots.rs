//! Shots in rows.

use super::from_json;
use crate::bench::BenchError;
use crate::bench::session::ShotRow;
use crate::quantity::{Measured, TABLE};
use rusqlite::{Connection, Row, ToSql};
use std::collections::BTreeMap;

/// A shot from the log. SI, real-world frame.
#[derive(Debug, Clone, PartialEq)]
pub struct ShotRecord {
    /// Number within the session.
    pub number: u32,
    /// Every cell as it came, by its column name.
    pub raw: BTreeMap<String, String>,
    /// What was measured.
    pub measured: Measured,
    /// The note, if any.
    pub note: Option<String>,
}

/// The columns of the quantities, in the order of the table.
pub(super) fn quantity_columns() -> String {
    TABLE.map(|i| i.name).join(", ")
}

/// Writes the shots of a session.
pub(super) fn insert(c: &Connection, session: i64, shots: &[ShotRow]) -> Result<(), BenchError> {
    let marks = vec!["?"; 4 + TABLE.len()].join(", ");
    let mut insert = c.prepare_cached(&format!(
        "INSERT INTO shots (session, number, raw, note, {}) VALUES ({marks})",
        quantity_columns()
    ))?;
    for shot in shots {
        if let Some((q, _)) = shot.measured.iter().find(|(_, v)| !v.is_finite()) {
            let (number, name) = (shot.number, q.info().name);
            return Err(BenchError::BadInput(format!(
                "shot {number}: {name} is not a number"
            )));
        }
        let raw = serde_json::to_string(&shot.raw)
            .map_err(|e| BenchError::BadInput(format!("shot {}: {e}", shot.number)))?;
        let values = TABLE.map(|i| shot.measured.get(i.quantity));
        let head: [&dyn ToSql; 4] = [&session, &shot.number, &raw, &shot.note];
        let all = head
            .into_iter()
            .chain(values.iter().map(|v| v as &dyn ToSql));
        insert.execute(rusqlite::params_from_iter(all))?;
    }
    Ok(())
}

/// The quantities from a row whose columns start at `first`.
pub(super) fn measured(row: &Row<'_>, first: usize) -> rusqlite::Result<Measured> {
    let mut measured = Measured::default();
    for (n, info) in TABLE.iter().enumerate() {
        measured.set(info.quantity, row.get_ref(first + n)?.as_f64_or_null()?);
    }
    Ok(measured)
}

/// All shots of a session, by number.
pub(super) fn of_session(c: &Connection, session: i64) -> Result<Vec<ShotRecord>, BenchError> {
    let mut query = c.prepare_cached(&format!(
        "SELECT number, raw, note, {} FROM shots WHERE session = ?1 ORDER BY number",
        quantity_columns()
    ))?;
    let mut rows = query.query([session])?;
    let mut shots = Vec::new();
    while let Some(row) = rows.next()? {
        let raw: String = row.get(1)?;
        shots.push(ShotRecord {
            number: row.get(0)?,
            raw: from_json("cells of a shot", &raw)?,
            note: row.get(2)?,
            measured: measured(row, 3)?,
        });
    }
    Ok(shots)
}
