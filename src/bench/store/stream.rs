//! All sessions in a fixed order, one at a time: what a refit reads.

use super::session_info::{INFO, WHERE};
use super::shots::{measured, quantity_columns};
use super::{Bench, SessionFilter, SessionInfo};
use crate::bench::BenchError;
use crate::quantity::Measured;

impl Bench {
    /// Calls `each` with every session that the filter wants, by id, and what was measured of its
    /// shots, by number, its own to change: the same log gives the same order on every machine. SI,
    /// real-world frame. One consistent view; constant memory. Several threads may read a range of
    /// ids each: a session and its shots never change. Returns the number of sessions.
    ///
    /// # Errors
    /// Storage; the first error of `each`.
    pub fn each_session<E: From<BenchError>>(
        &self,
        filter: &SessionFilter,
        mut each: impl FnMut(&SessionInfo, &mut [Measured]) -> Result<(), E>,
    ) -> Result<usize, E> {
        let prepared = |text: &str| self.connection.prepare_cached(text).map_err(storage);
        let mut sessions = prepared(&format!(
            "SELECT {INFO} FROM sessions s WHERE {WHERE} ORDER BY s.id"
        ))?;
        let mut of_session = prepared(&format!(
            "SELECT {} FROM shots WHERE session = ?1 ORDER BY number",
            quantity_columns()
        ))?;
        // As long as the first statement runs, both see the same state of the file.
        let mut sessions = sessions.query(filter.values()).map_err(storage)?;
        let (mut shots, mut count) = (Vec::new(), 0);
        while let Some(row) = sessions.next().map_err(storage)? {
            let info = self.info(row)?;
            let mut rows = of_session.query([info.id]).map_err(storage)?;
            shots.clear();
            while let Some(row) = rows.next().map_err(storage)? {
                shots.push(measured(row, 0).map_err(storage)?);
            }
            each(&info, &mut shots)?;
            count += 1;
        }
        Ok(count)
    }
}

fn storage(e: rusqlite::Error) -> BenchError {
    e.into()
}
