//! A session without its shots, and which sessions are wanted.

use super::{Bench, SessionMeta, from_json};
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
pub(super) const INFO: &str = "s.id, s.name, s.build, s.date, s.meta, s.created_at, s.withdrawn_at";
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

/// Whose a build is, and of which head: that never changes.
#[derive(Debug, Clone)]
pub(super) struct Whose {
    player: String,
    hand: Hand,
    head: String,
}

impl Bench {
    /// Reads the columns of [`INFO`].
    pub(super) fn info(&self, row: &Row<'_>) -> Result<SessionInfo, BenchError> {
        let (build, date, meta): (String, String, String) = (row.get(2)?, row.get(3)?, row.get(4)?);
        let Whose { player, hand, head } = self.whose(&build)?;
        Ok(SessionInfo {
            id: row.get(0)?,
            name: row.get(1)?,
            player,
            hand,
            build,
            head,
            date: date
                .parse()
                .map_err(|e| BenchError::Damaged(format!("date of a session: {e}")))?,
            meta: from_json("circumstances of a session", &meta)?,
            created_at: row.get(5)?,
            withdrawn_at: row.get(6)?,
        })
    }

    /// Asks once for each build: a log has many sessions of it.
    fn whose(&self, build: &str) -> Result<Whose, BenchError> {
        if let Some(known) = self.whose.borrow().get(build) {
            return Ok(known.clone());
        }
        let mut query = self.connection.prepare_cached(
            "SELECT b.player, p.hand, b.head FROM builds b JOIN players p ON p.name = b.player
             WHERE b.name = ?1",
        )?;
        let whose = query.query_row([build], |row| {
            Ok(Whose {
                player: row.get(0)?,
                hand: match row.get_ref(1)?.as_str()? {
                    "left" => Hand::Left,
                    _ => Hand::Right,
                },
                head: row.get(2)?,
            })
        })?;
        self.whose.borrow_mut().insert(build.into(), whose.clone());
        Ok(whose)
    }
}
