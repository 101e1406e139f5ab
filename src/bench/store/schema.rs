//! The schema, step by step, and the way from an older one.
//!
//! A step never changes once it has been released: a change of the schema is one more step.

use crate::bench::BenchError;
use rusqlite::{Connection, TransactionBehavior};

/// Marks an SQLite file as a bench: `Trim` in ASCII.
pub(crate) const APPLICATION_ID: i32 = 0x5472_696d;

/// The steps; `PRAGMA user_version` counts those that were taken.
pub(crate) const STEPS: [&str; 3] = [RECORDS, RESULTS, FOLLOWED];

/// Step 1: descriptions, sessions and shots. Measured values in SI, angles in rad, real-world
/// frame; NULL was not measured.
const RECORDS: &str = "
CREATE TABLE players (
    name TEXT PRIMARY KEY NOT NULL,
    hand TEXT NOT NULL CHECK (hand IN ('left', 'right')),
    toml TEXT NOT NULL,
    created_at TEXT NOT NULL
);
CREATE TABLE heads (
    name TEXT PRIMARY KEY NOT NULL,
    kind TEXT NOT NULL,
    toml TEXT NOT NULL,
    created_at TEXT NOT NULL
);
CREATE TABLE builds (
    name TEXT PRIMARY KEY NOT NULL,
    player TEXT NOT NULL REFERENCES players (name),
    head TEXT NOT NULL REFERENCES heads (name),
    built_on TEXT NOT NULL,
    replaces TEXT REFERENCES builds (name),
    toml TEXT NOT NULL,
    created_at TEXT NOT NULL
);
CREATE INDEX builds_by_player ON builds (player, built_on);
CREATE TABLE sessions (
    id INTEGER PRIMARY KEY,
    name TEXT NOT NULL UNIQUE,
    build TEXT NOT NULL REFERENCES builds (name),
    date TEXT NOT NULL,
    meta TEXT NOT NULL,
    sha256 TEXT NOT NULL,
    created_at TEXT NOT NULL,
    withdrawn_at TEXT
);
CREATE UNIQUE INDEX sessions_once ON sessions (build, sha256) WHERE withdrawn_at IS NULL;
CREATE TABLE shots (
    session INTEGER NOT NULL REFERENCES sessions (id),
    number INTEGER NOT NULL CHECK (number > 0),
    raw TEXT NOT NULL,
    note TEXT,
    ball_speed REAL,
    launch_angle REAL,
    launch_direction REAL,
    spin_rate REAL,
    spin_axis REAL,
    head_speed REAL,
    club_path REAL,
    face_angle REAL,
    attack_angle REAL,
    dynamic_loft REAL,
    strike_toe REAL,
    strike_up REAL,
    carry REAL,
    offline REAL,
    curve REAL,
    apex REAL,
    total REAL,
    PRIMARY KEY (session, number)
) WITHOUT ROWID;
";

/// Step 2: what was proposed, what came of it, and the models of each season.
const RESULTS: &str = "
CREATE TABLE proposals (
    id INTEGER PRIMARY KEY,
    player TEXT NOT NULL REFERENCES players (name),
    build TEXT NOT NULL REFERENCES builds (name),
    name TEXT NOT NULL,
    body TEXT NOT NULL,
    created_at TEXT NOT NULL
);
CREATE TABLE verdicts (
    id INTEGER PRIMARY KEY,
    proposal INTEGER REFERENCES proposals (id),
    body TEXT NOT NULL,
    created_at TEXT NOT NULL
);
CREATE TABLE models (
    version INTEGER PRIMARY KEY,
    season TEXT NOT NULL,
    body TEXT NOT NULL,
    digest TEXT NOT NULL,
    created_at TEXT NOT NULL
);
";

/// Step 3: which row of which proposal a build is.
const FOLLOWED: &str = "
CREATE TABLE followed (
    build TEXT PRIMARY KEY NOT NULL REFERENCES builds (name),
    proposal INTEGER NOT NULL REFERENCES proposals (id),
    row INTEGER NOT NULL CHECK (row > 0)
);
";

/// Takes the steps that are still to be taken, each in a transaction of its own.
pub(crate) fn migrate(connection: &mut Connection) -> Result<(), BenchError> {
    loop {
        let t = connection.transaction_with_behavior(TransactionBehavior::Immediate)?;
        // Read inside the transaction: somebody else may have taken the step meanwhile.
        let taken = version(&t)?;
        let Some(step) = STEPS.get(taken) else {
            return Ok(());
        };
        t.execute_batch(step)?;
        t.pragma_update(None, "application_id", APPLICATION_ID)?;
        t.pragma_update(None, "user_version", taken as i64 + 1)?;
        t.commit()?;
    }
}

/// Number of steps that a file has taken.
pub(crate) fn version(connection: &Connection) -> Result<usize, BenchError> {
    let version: i64 = connection.pragma_query_value(None, "user_version", |r| r.get(0))?;
    usize::try_from(version)
        .map_err(|_| BenchError::Damaged(format!("its schema version is {version}")))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::quantity::TABLE;

    /// A new quantity needs a new step.
    #[test]
    fn inv_shots_have_a_column_for_each_quantity() {
        let mut connection = Connection::open_in_memory().unwrap();
        migrate(&mut connection).unwrap();
        assert_eq!(version(&connection).unwrap(), STEPS.len());
        let names = connection.prepare("SELECT * FROM shots").unwrap();
        let columns: Vec<String> = names.column_names().iter().map(|c| c.to_string()).collect();
        for info in TABLE {
            assert!(columns.contains(&info.name.to_string()), "{}", info.name);
        }
    }
}
