//! Proposals and verdicts: JSON bodies with what they hang on.

use super::{Bench, check_time, from_json, keys};
use crate::bench::BenchError;
use rusqlite::{Row, params};
use serde_json::Value;

/// A proposal that is to be kept.
#[derive(Debug, Clone, PartialEq)]
pub struct NewProposal<'a> {
    /// Name of the player.
    pub player: &'a str,
    /// Name of the build that it starts from.
    pub build: &'a str,
    /// What it is called; need not be unique.
    pub name: &'a str,
    /// Everything else.
    pub body: &'a Value,
    /// Now, RFC 3339.
    pub created_at: &'a str,
}

/// A proposal from the log.
#[derive(Debug, Clone, PartialEq)]
#[allow(missing_docs)] // as in `NewProposal`
pub struct Proposal {
    pub id: i64,
    pub player: String,
    pub build: String,
    pub name: String,
    pub body: Value,
    pub created_at: String,
}

/// What came of a proposal.
#[derive(Debug, Clone, PartialEq)]
pub struct Verdict {
    /// Counts up.
    pub id: i64,
    /// Of which proposal, if of one.
    pub proposal: Option<i64>,
    /// Everything else.
    pub body: Value,
    /// When, RFC 3339.
    pub created_at: String,
}

impl Bench {
    /// Keeps a proposal; returns its id.
    ///
    /// # Errors
    /// Not found if the player or build is not there; conflict if the build is another player's.
    pub fn add_proposal(&mut self, new: &NewProposal<'_>) -> Result<i64, BenchError> {
        check_time(new.created_at)?;
        self.player(new.player)?;
        let theirs = self.build(new.build)?.0.player;
        if theirs != new.player {
            let why = format!(
                "'{}' is a build of '{theirs}', not of '{}'",
                new.build, new.player
            );
            return Err(BenchError::Conflict(why));
        }
        self.insert(
            "INSERT INTO proposals (player, build, name, body, created_at)
             VALUES (?1, ?2, ?3, ?4, ?5)",
            params![
                new.player,
                new.build,
                new.name,
                new.body.to_string(),
                new.created_at
            ],
        )
    }

    /// A proposal by its id.
    ///
    /// # Errors
    /// Not found; storage.
    pub fn proposal(&self, id: i64) -> Result<Proposal, BenchError> {
        let found = self.select(PROPOSALS, "WHERE id = ?1", [id], proposal)?;
        match found.into_iter().next() {
            Some(found) => Ok(found),
            None => Err(BenchError::NotFound {
                what: "proposal",
                name: id.to_string(),
                have: keys(&self.connection, "SELECT id FROM proposals ORDER BY id")?,
            }),
        }
    }

    /// All proposals, oldest first; only of one player if one is named.
    ///
    /// # Errors
    /// Storage.
    pub fn proposals(&self, player: Option<&str>) -> Result<Vec<Proposal>, BenchError> {
        let only = "WHERE ?1 IS NULL OR player = ?1 ORDER BY id";
        self.select(PROPOSALS, only, [player], proposal)
    }

    /// The last proposal; only of one player if one is named.
    ///
    /// # Errors
    /// Not found if there is none; storage.
    pub fn latest_proposal(&self, player: Option<&str>) -> Result<Proposal, BenchError> {
        let last = "WHERE ?1 IS NULL OR player = ?1 ORDER BY id DESC LIMIT 1";
        let found = self.select(PROPOSALS, last, [player], proposal)?;
        found.into_iter().next().ok_or(BenchError::NotFound {
            what: "proposal",
            name: player.unwrap_or("of any player").to_string(),
            have: Vec::new(),
        })
    }

    /// Keeps a verdict; returns its id.
    ///
    /// # Errors
    /// Not found if there is no such proposal; storage.
    pub fn add_verdict(
        &mut self,
        proposal: Option<i64>,
        body: &Value,
        at: &str,
    ) -> Result<i64, BenchError> {
        check_time(at)?;
        if let Some(id) = proposal {
            self.proposal(id)?;
        }
        self.insert(
            "INSERT INTO verdicts (proposal, body, created_at) VALUES (?1, ?2, ?3)",
            params![proposal, body.to_string(), at],
        )
    }

    /// Puts a verdict in the place of an earlier one of the same sessions.
    ///
    /// # Errors
    /// Not found if there is no such proposal or verdict; storage.
    pub fn replace_verdict(
        &mut self,
        id: i64,
        proposal: Option<i64>,
        body: &Value,
        at: &str,
    ) -> Result<(), BenchError> {
        check_time(at)?;
        if let Some(id) = proposal {
            self.proposal(id)?;
        }
        let t = self.write()?;
        let changed = t.execute(
            "UPDATE verdicts SET proposal = ?2, body = ?3, created_at = ?4 WHERE id = ?1",
            params![id, proposal, body.to_string(), at],
        )?;
        if changed == 0 {
            return Err(BenchError::NotFound {
                what: "verdict",
                name: id.to_string(),
                have: keys(&t, "SELECT id FROM verdicts ORDER BY id")?,
            });
        }
        t.commit()?;
        Ok(())
    }

    /// All verdicts, oldest first; only of one proposal if one is named.
    ///
    /// # Errors
    /// Storage.
    pub fn verdicts(&self, proposal: Option<i64>) -> Result<Vec<Verdict>, BenchError> {
        let only = "WHERE ?1 IS NULL OR proposal = ?1 ORDER BY id";
        self.select(VERDICTS, only, [proposal], verdict)
    }

    pub(super) fn insert(
        &mut self,
        text: &str,
        values: impl rusqlite::Params,
    ) -> Result<i64, BenchError> {
        let t = self.write()?;
        t.execute(text, values)?;
        let id = t.last_insert_rowid();
        t.commit()?;
        Ok(id)
    }

    pub(super) fn select<T>(
        &self,
        from: &str,
        which: &str,
        values: impl rusqlite::Params,
        read: fn(&Row<'_>) -> Result<T, BenchError>,
    ) -> Result<Vec<T>, BenchError> {
        let mut query = self.connection.prepare_cached(&format!("{from} {which}"))?;
        let mut rows = query.query(values)?;
        let mut found = Vec::new();
        while let Some(row) = rows.next()? {
            found.push(read(row)?);
        }
        Ok(found)
    }
}

const PROPOSALS: &str = "SELECT id, player, build, name, body, created_at FROM proposals";
const VERDICTS: &str = "SELECT id, proposal, body, created_at FROM verdicts";

fn proposal(row: &Row<'_>) -> Result<Proposal, BenchError> {
    Ok(Proposal {
        id: row.get(0)?,
        player: row.get(1)?,
        build: row.get(2)?,
        name: row.get(3)?,
        body: from_json("body of a proposal", &row.get::<_, String>(4)?)?,
        created_at: row.get(5)?,
    })
}

fn verdict(row: &Row<'_>) -> Result<Verdict, BenchError> {
    Ok(Verdict {
        id: row.get(0)?,
        proposal: row.get(1)?,
        body: from_json("body of a verdict", &row.get::<_, String>(2)?)?,
        created_at: row.get(3)?,
    })
}
