//! A session without its shots, and which sessions are wanted.

use super::{SessionMeta, from_json};
use crate::bench::BenchError;
use crate::hand::Hand;
use jiff::civil::Date;
use rusqlite::Row;

/// A session without its shots.
#[derive(Debug, Clone, PartialEq)]
pub struct SessionInfo {
    /// Counts up; the order in which sessions were logged.
    pub id: i64,
    /// Name.
    pub name: String,
    /// Name of the player.
    pub player: String,
    /// The player's hand.
    pub hand: Hand,
    /// Name of the build.
    pub build: String,
    /// Name of the head.
    pub head: String,
    /// The day.
    pub date: Date,
    /// The circumstances.
    pub meta: SessionMeta,
    /// When it was logged, RFC 3339.
    pub created_at: String,
    /// When it was withdrawn, RFC 3339, if it was.
    pub withdrawn_at: Option<String>,
}

/// Which sessions are wanted; everything that is not withdrawn by default.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct SessionFilter {
    /// Only of this player.
    pub player: Option<String>,
    /// Only with this build.
    pub build: Option<String>,
    /// Only from this day on.
    pub from: Option<Date>,
    /// Only up to this day, inclusive.
    pub to: Option<Date>,
    /// Withdrawn ones too.
    pub withdrawn: bool,
    /// Only those from the first to the last of these ids.
    pub ids: Option<(i64, i64)>,
}

/// The columns of a [`SessionInfo`], in the order in which [`info`] reads them.
pub(super) const INFO: &str = "s.id, s.name, b.player, p.hand, s.build, b.head, s.date, s.meta, \
                               s.created_at, s.withdrawn_at";
/// Where they come from.
pub(super) const FROM: &str =
    "sessions s JOIN builds b ON b.name = s.build JOIN players p ON p.name = b.player";
/// The condition of a filter; its parameters come from [`SessionFilter::values`].
pub(super) const WHERE: &str = "\
     (?1 IS NULL OR s.build IN (SELECT name FROM builds WHERE player = ?1)) \
     AND (?2 IS NULL OR s.build = ?2) \
     AND (?3 IS NULL OR s.date >= ?3) AND (?4 IS NULL OR s.date <= ?4) \
     AND (?5 OR s.withdrawn_at IS NULL) AND s.id BETWEEN ?6 AND ?7";

type FilterValues<'a> = (
    Option<&'a str>,
    Option<&'a str>,
    Option<String>,
    Option<String>,
    bool,
    i64,
    i64,
);

impl SessionFilter {
    pub(super) fn values(&self) -> FilterValues<'_> {
        let (first, last) = self.ids.unwrap_or((i64::MIN, i64::MAX));
        (
            self.player.as_deref(),
            self.build.as_deref(),
            self.from.map(|d| d.to_string()),
            self.to.map(|d| d.to_string()),
            self.withdrawn,
            first,
            last,
        )
    }
}

/// Reads the columns of [`INFO`].
pub(super) fn info(row: &Row<'_>) -> Result<SessionInfo, BenchError> {
    let (hand, date, meta): (String, String, String) = (row.get(3)?, row.get(6)?, row.get(7)?);
    Ok(SessionInfo {
        id: row.get(0)?,
        name: row.get(1)?,
        player: row.get(2)?,
        hand: match hand.as_str() {
            "left" => Hand::Left,
            _ => Hand::Right,
        },
        build: row.get(4)?,
        head: row.get(5)?,
        date: date
            .parse()
            .map_err(|e| BenchError::Damaged(format!("date of a session: {e}")))?,
        meta: from_json("circumstances of a session", &meta)?,
        created_at: row.get(8)?,
        withdrawn_at: row.get(9)?,
    })
}
