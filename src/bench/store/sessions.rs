//! Sessions: logged whole, read whole, withdrawn but never deleted.

use super::session_info::{INFO, SessionFilter, SessionInfo, WHERE};
use super::shots::{self, ShotRecord};
use super::{Bench, SessionMeta, check_time, keys};
use crate::bench::BenchError;
use crate::bench::session::ParsedSession;
use jiff::civil::Date;
use rusqlite::{Connection, OptionalExtension, params};

/// A session that is to be logged.
#[derive(Debug, Clone, PartialEq)]
pub struct NewSession<'a> {
    /// Unique in the bench; not a number, so that it cannot be taken for an id.
    pub name: &'a str,
    /// The build that was played.
    pub build: &'a str,
    /// The day.
    pub date: Date,
    /// The circumstances; the file name of the shots is filled in if it is missing.
    pub meta: SessionMeta,
    /// Now, RFC 3339.
    pub created_at: &'a str,
}

/// A session with its shots.
#[derive(Debug, Clone, PartialEq)]
pub struct SessionRecord {
    /// Everything but the shots.
    pub info: SessionInfo,
    /// The shots, by number.
    pub shots: Vec<ShotRecord>,
}

impl Bench {
    /// Logs a session: whole, or not at all. Returns its id.
    ///
    /// # Errors
    /// Bad input if the name or a circumstance is wrong; not found if there is no such build;
    /// conflict if the name is taken or the same file was logged before, for this build or another
    /// one of its player.
    pub fn log_session(
        &mut self,
        new: &NewSession<'_>,
        parsed: &ParsedSession,
    ) -> Result<i64, BenchError> {
        check_time(new.created_at)?;
        check_name(new.name)?;
        new.meta.check()?;
        let mut meta = new.meta.clone();
        meta.source_file
            .get_or_insert_with(|| parsed.file_name.clone());
        let meta = serde_json::to_string(&meta).map_err(|e| BenchError::BadInput(e.to_string()))?;
        self.build(new.build)?;
        let t = self.write()?;
        check_new(&t, new, &parsed.sha256)?;
        t.execute(
            "INSERT INTO sessions (name, build, date, meta, sha256, created_at)
             VALUES (?1, ?2, ?3, ?4, ?5, ?6)",
            params![
                new.name,
                new.build,
                new.date.to_string(),
                meta,
                parsed.sha256,
                new.created_at
            ],
        )?;
        let id = t.last_insert_rowid();
        shots::insert(&t, id, &parsed.shots)?;
        t.commit()?;
        Ok(id)
    }

    /// Sessions without their shots, in the order in which they were logged.
    ///
    /// # Errors
    /// Storage.
    pub fn sessions(&self, filter: &SessionFilter) -> Result<Vec<SessionInfo>, BenchError> {
        let text = format!("SELECT {INFO} FROM sessions s WHERE {WHERE} ORDER BY s.id");
        let mut query = self.connection.prepare_cached(&text)?;
        let mut rows = query.query(filter.values())?;
        let mut found = Vec::new();
        while let Some(row) = rows.next()? {
            found.push(self.info(row)?);
        }
        Ok(found)
    }

    /// Ids of sessions, in the order in which they were logged.
    ///
    /// # Errors
    /// Storage.
    pub fn session_ids(&self, filter: &SessionFilter) -> Result<Vec<i64>, BenchError> {
        let text = format!("SELECT s.id FROM sessions s WHERE {WHERE} ORDER BY s.id");
        let mut query = self.connection.prepare_cached(&text)?;
        let ids = query.query_map(filter.values(), |r| r.get(0))?;
        Ok(ids.collect::<Result<_, _>>()?)
    }

    /// A session with its shots, by its name or its id; a withdrawn one too.
    ///
    /// # Errors
    /// Not found; storage.
    pub fn session(&self, name_or_id: &str) -> Result<SessionRecord, BenchError> {
        let _view = self.snapshot()?;
        self.session_by_id(id_of(&self.connection, name_or_id)?)
    }

    /// A session with its shots; the caller sees to it that nothing changes between the reads.
    pub(crate) fn session_by_id(&self, id: i64) -> Result<SessionRecord, BenchError> {
        let c = &self.connection;
        let text = format!("SELECT {INFO} FROM sessions s WHERE s.id = ?1");
        let info = c
            .prepare_cached(&text)?
            .query_row([id], |row| Ok(self.info(row)))??;
        let shots = shots::of_session(c, id)?;
        Ok(SessionRecord { info, shots })
    }

    /// Withdraws a session: it stays in the log, but nothing reads it any more unless asked to.
    ///
    /// # Errors
    /// Not found; conflict if it was withdrawn before.
    pub fn withdraw_session(&mut self, name_or_id: &str, at: &str) -> Result<(), BenchError> {
        check_time(at)?;
        let t = self.write()?;
        let id = id_of(&t, name_or_id)?;
        let changed = t.execute(
            "UPDATE sessions SET withdrawn_at = ?2 WHERE id = ?1 AND withdrawn_at IS NULL",
            params![id, at],
        )?;
        if changed == 0 {
            let why = format!("session '{name_or_id}' has been withdrawn before");
            return Err(BenchError::Conflict(why));
        }
        t.commit()?;
        Ok(())
    }
}

fn check_name(name: &str) -> Result<(), BenchError> {
    use crate::bench::describe::source::{at, name_problem};
    let why = match name_problem(at!["name"], name) {
        Some(problem) => problem.allowed,
        None if name.parse::<i64>().is_ok() => "a name of digits only would pass for an id".into(),
        None => return Ok(()),
    };
    Err(BenchError::BadInput(format!(
        "session name {name:?}: {why}"
    )))
}

/// Says in words what the schema would refuse.
fn check_new(c: &Connection, new: &NewSession<'_>, sha256: &str) -> Result<(), BenchError> {
    let taken: Option<Option<String>> = c
        .prepare_cached("SELECT withdrawn_at FROM sessions WHERE name = ?1")?
        .query_row([new.name], |r| r.get(0))
        .optional()?;
    if let Some(withdrawn_at) = taken {
        let withdrawn = withdrawn_at.map_or(String::new(), |at| {
            format!(", withdrawn at {at}: it stays in the log and keeps its name")
        });
        return Err(BenchError::Conflict(format!(
            "there is a session '{}' already{withdrawn}; take another name",
            new.name
        )));
    }
    let logged: Option<(String, String)> = c
        .prepare_cached(
            "SELECT s.name, s.build FROM sessions s JOIN builds b ON b.name = s.build
             WHERE s.sha256 = ?2 AND s.withdrawn_at IS NULL
             AND b.player = (SELECT player FROM builds WHERE name = ?1)",
        )?
        .query_row([new.build, sha256], |r| Ok((r.get(0)?, r.get(1)?)))
        .optional()?;
    match logged {
        Some((name, build)) => Err(BenchError::Conflict(format!(
            "the same file was logged for '{build}' before, as session '{name}'; if that was \
             wrong, withdraw it first"
        ))),
        None => Ok(()),
    }
}

fn id_of(c: &Connection, name_or_id: &str) -> Result<i64, BenchError> {
    let id: Option<i64> = c
        .prepare_cached("SELECT id FROM sessions WHERE name = ?1 OR id = ?2")?
        .query_row(params![name_or_id, name_or_id.parse::<i64>().ok()], |r| {
            r.get(0)
        })
        .optional()?;
    match id {
        Some(id) => Ok(id),
        None => Err(BenchError::NotFound {
            what: "session",
            name: name_or_id.to_string(),
            have: keys(c, "SELECT name FROM sessions ORDER BY id")?,
        }),
    }
}
