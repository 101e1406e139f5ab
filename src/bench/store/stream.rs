//! All shots in a fixed order, one at a time: what a refit reads.

use super::session_info::{FROM, INFO, WHERE, info};
use super::shots::{measured, quantity_columns};
use super::{Bench, SessionFilter, SessionInfo};
use crate::bench::BenchError;
use crate::quantity::Measured;

impl Bench {
    /// Calls `each` with every shot that the filter wants, by session id and shot number: the same
    /// log gives the same order on every machine. One consistent view; constant memory. Measured
    /// values in SI and in the real-world frame. Returns the number of shots.
    ///
    /// # Errors
    /// Storage.
    pub fn each_shot(
        &self,
        filter: &SessionFilter,
        mut each: impl FnMut(&SessionInfo, u32, &Measured),
    ) -> Result<u64, BenchError> {
        let mut sessions = self.connection.prepare_cached(&format!(
            "SELECT {INFO} FROM {FROM} WHERE {WHERE} ORDER BY s.id"
        ))?;
        let mut shots = self.connection.prepare_cached(&format!(
            "SELECT number, {} FROM shots WHERE session = ?1 ORDER BY number",
            quantity_columns()
        ))?;
        // As long as the first statement runs, both see the same state of the file.
        let mut sessions = sessions.query(filter.values())?;
        let mut count = 0;
        while let Some(row) = sessions.next()? {
            let info = info(row)?;
            let mut rows = shots.query([info.id])?;
            while let Some(row) = rows.next()? {
                each(&info, row.get(0)?, &measured(row, 1)?);
                count += 1;
            }
        }
        Ok(count)
    }
}
