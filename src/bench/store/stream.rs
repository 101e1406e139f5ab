//! All shots in a fixed order, one at a time: what a refit reads.

use super::session_info::{FROM, INFO, INFO_COLUMNS, WHERE, info};
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
        let quantities = quantity_columns();
        let mut query = self.connection.prepare_cached(&format!(
            "SELECT {INFO}, number, {quantities} FROM {FROM} JOIN shots ON shots.session = s.id
             WHERE {WHERE} ORDER BY s.id, number"
        ))?;
        let mut rows = query.query(filter.values())?;
        let mut session: Option<SessionInfo> = None;
        let mut count = 0;
        while let Some(row) = rows.next()? {
            let id: i64 = row.get(0)?;
            let current = match session.take() {
                Some(same) if same.id == id => same,
                _ => info(row)?,
            };
            each(
                &current,
                row.get(INFO_COLUMNS)?,
                &measured(row, INFO_COLUMNS + 1)?,
            );
            session = Some(current);
            count += 1;
        }
        Ok(count)
    }
}
