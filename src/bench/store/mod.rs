//! The log of record: one bench, one SQLite file.
//!
//! Every write is one immediate transaction: whole or not at all. Readers never wait for writers
//! (write-ahead log); writers wait up to ten seconds for each other. Nothing is ever changed or
//! deleted, except that a session can be withdrawn and that a verdict on the same sessions takes
//! the place of the one before. The module has no clock: each row carries the
//! time that the caller gives, in RFC 3339.

mod builds;
mod descriptions;
mod documents;
mod door;
mod meta;
mod models;
mod schema;
mod session_info;
mod sessions;
mod shots;
mod stream;

pub use descriptions::{Added, Adding, Described};
pub use documents::{NewProposal, Proposal, Verdict};
pub use door::Door;
pub use meta::SessionMeta;
pub use models::Model;
pub use session_info::{SessionFilter, SessionInfo};
pub use sessions::{NewSession, SessionRecord};
pub use shots::ShotRecord;

use crate::bench::BenchError;
use rusqlite::{Connection, Transaction, TransactionBehavior};
use session_info::Whose;
use std::cell::RefCell;
use std::collections::HashMap;
use std::fs;
use std::path::Path;

/// An open bench.
#[derive(Debug)]
pub struct Bench {
    connection: Connection,
    door: Door,
    /// Of the builds whose sessions have been read.
    whose: RefCell<HashMap<String, Whose>>,
}

impl Bench {
    /// Makes a new bench in a file that must not exist yet.
    ///
    /// # Errors
    /// Conflict if there is such a file; storage if it cannot be written.
    pub fn create(path: &Path) -> Result<Bench, BenchError> {
        let shown = path.display().to_string();
        fs::File::create_new(path).map_err(|source| match source.kind() {
            std::io::ErrorKind::AlreadyExists => {
                BenchError::Conflict(format!("{shown} exists already"))
            }
            _ => BenchError::File {
                path: shown,
                source,
            },
        })?;
        let door = Door::to_write(path);
        let made = door.connect().and_then(|mut connection| {
            connection.pragma_update(None, "journal_mode", "WAL")?;
            schema::migrate(&mut connection)?;
            Ok(Bench::new(connection, door))
        });
        if made.is_err() {
            // Ours, empty, and of no use to anybody.
            let _ = fs::remove_file(path);
        }
        made
    }

    /// Opens a bench; one of an older version is brought up to date. One that cannot be written, or
    /// in a folder that cannot, is opened to be read.
    ///
    /// # Errors
    /// Not found if there is no such file; bad input if it is no bench or one of a newer program;
    /// storage if it is of an older version and cannot be written.
    pub fn open(path: &Path) -> Result<Bench, BenchError> {
        let shown = path.display().to_string();
        if !path.is_file() {
            return Err(BenchError::NotFound {
                what: "bench",
                name: shown,
                have: Vec::new(),
            });
        }
        let no_bench = |why: &str| BenchError::BadInput(format!("{shown} is not a bench: {why}"));
        let mut door = Door::to_write(path);
        let mut connection = door.connect()?;
        let application_id =
            |c: &Connection| c.pragma_query_value(None, "application_id", |r| r.get::<_, i32>(0));
        let mut id = application_id(&connection);
        let cannot = id.as_ref().is_err_and(|e| {
            use rusqlite::ErrorCode::{CannotOpen, ReadOnly};
            matches!(e.sqlite_error_code(), Some(CannotOpen | ReadOnly))
        });
        if cannot && !door::beside(path, "-wal").exists() {
            door = Door::to_read(path);
            connection = door.connect()?;
            id = application_id(&connection);
        }
        match id {
            Ok(schema::APPLICATION_ID) => {}
            Ok(_) => return Err(no_bench("it was made by another program")),
            Err(e) if e.sqlite_error_code() == Some(rusqlite::ErrorCode::NotADatabase) => {
                return Err(no_bench("it is no SQLite file"));
            }
            Err(e) => return Err(e.into()),
        }
        let (version, known) = (schema::version(&connection)?, schema::STEPS.len());
        if version > known {
            return Err(BenchError::BadInput(format!(
                "{shown} is of schema {version}; this program knows up to {known}: a newer one made it"
            )));
        }
        if version < known {
            schema::migrate(&mut connection)?;
        }
        Ok(Bench::new(connection, door))
    }

    fn new(connection: Connection, door: Door) -> Bench {
        Bench {
            connection,
            door,
            whose: RefCell::default(),
        }
    }

    /// The way to this bench, for other threads.
    pub fn door(&self) -> Door {
        self.door.clone()
    }

    /// Number of the schema that the file is of.
    ///
    /// # Errors
    /// Storage.
    pub fn schema_version(&self) -> Result<usize, BenchError> {
        schema::version(&self.connection)
    }

    fn write(&mut self) -> Result<Transaction<'_>, BenchError> {
        let immediate = TransactionBehavior::Immediate;
        Ok(self.connection.transaction_with_behavior(immediate)?)
    }

    /// A view in which several reads see the same state.
    pub(crate) fn snapshot(&self) -> Result<Transaction<'_>, BenchError> {
        Ok(self.connection.unchecked_transaction()?)
    }
}

/// Checks that a time is one, in RFC 3339.
fn check_time(at: &str) -> Result<(), BenchError> {
    match at.parse::<jiff::Timestamp>() {
        Ok(_) => Ok(()),
        Err(e) => Err(BenchError::Usage(format!(
            "'{at}' is no time in RFC 3339: {e}"
        ))),
    }
}

/// The first column of a query as text: the names or numbers of what there is.
fn keys(c: &Connection, query: &str) -> Result<Vec<String>, BenchError> {
    let mut query = c.prepare(query)?;
    let names = query.query_map([], |r| {
        r.get_ref(0).map(|v| match v.as_i64() {
            Ok(n) => n.to_string(),
            Err(_) => v.as_str().unwrap_or_default().to_string(),
        })
    })?;
    Ok(names.collect::<Result<_, _>>()?)
}

/// Reads JSON out of the bench.
fn from_json<T: serde::de::DeserializeOwned>(what: &str, text: &str) -> Result<T, BenchError> {
    serde_json::from_str(text).map_err(|e| BenchError::Damaged(format!("{what}: {e}")))
}
