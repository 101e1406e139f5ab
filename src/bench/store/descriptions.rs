//! Heads and players: kept as the text that came, read again each time.

use super::{Bench, check_time};
use crate::bench::BenchError;
use crate::bench::describe::{HeadFile, PlayerFile, Source, kept_head, read_head, read_player};
use crate::head::Head;
use rusqlite::{Connection, OptionalExtension, Transaction, params};

/// What became of a description that was added.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Added {
    /// It is in the bench now.
    New,
    /// The very same was there already; nothing was done.
    Same,
}

/// A description as it is kept.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Described {
    /// Name.
    pub name: String,
    /// The text as it came.
    pub toml: String,
    /// When it was added, RFC 3339.
    pub created_at: String,
}

impl Bench {
    /// Adds a head. The same description again is no error.
    ///
    /// # Errors
    /// Bad input if the file is wrong; conflict if there is another head of that name.
    pub fn add_head(&mut self, source: &Source<'_>, at: &str) -> Result<(Added, Head), BenchError> {
        self.all_or_nothing(at, |adding| adding.head(source))
    }

    /// A head by its name.
    ///
    /// # Errors
    /// Not found; storage.
    pub fn head(&self, name: &str) -> Result<(HeadFile, Head), BenchError> {
        head(&*self.snapshot()?, name)
    }

    /// All heads, by name.
    ///
    /// # Errors
    /// Storage.
    pub fn heads(&self) -> Result<Vec<Described>, BenchError> {
        all(&self.connection, HEADS)
    }

    /// Adds a player. The same description again is no error.
    ///
    /// # Errors
    /// Bad input if the file is wrong; conflict if there is another player of that name.
    pub fn add_player(
        &mut self,
        source: &Source<'_>,
        at: &str,
    ) -> Result<(Added, PlayerFile), BenchError> {
        self.all_or_nothing(at, |adding| adding.player(source))
    }

    /// Adds several descriptions in one write: all of them, or none if `work` fails.
    ///
    /// # Errors
    /// What `work` says; storage.
    pub fn all_or_nothing<T, E: From<BenchError>>(
        &mut self,
        at: &str,
        work: impl FnOnce(&Adding<'_>) -> Result<T, E>,
    ) -> Result<T, E> {
        check_time(at)?;
        let t = self.write()?;
        let adding = Adding { c: t, at };
        let done = work(&adding)?;
        adding.c.commit().map_err(BenchError::from)?;
        Ok(done)
    }

    /// A player by their name.
    ///
    /// # Errors
    /// Not found; storage.
    pub fn player(&self, name: &str) -> Result<PlayerFile, BenchError> {
        let toml = wanted(&*self.snapshot()?, PLAYERS, name)?;
        Ok(read_player(&kept(name, &toml))?)
    }

    /// All players, by name.
    ///
    /// # Errors
    /// Storage.
    pub fn players(&self) -> Result<Vec<Described>, BenchError> {
        all(&self.connection, PLAYERS)
    }
}

/// Descriptions on their way into the bench, in one write.
#[derive(Debug)]
pub struct Adding<'a> {
    pub(super) c: Transaction<'a>,
    pub(super) at: &'a str,
}

impl Adding<'_> {
    /// As [`Bench::add_head`].
    ///
    /// # Errors
    /// As there.
    pub fn head(&self, source: &Source<'_>) -> Result<(Added, Head), BenchError> {
        let (file, head) = read_head(source)?;
        if let Some(old) = text(&self.c, HEADS, &file.name)? {
            let same = kept_head(&kept(&file.name, &old))?.0 == file;
            return Ok((once(HEADS, &file.name, same)?, head));
        }
        self.c.execute(
            "INSERT INTO heads (name, kind, toml, created_at) VALUES (?1, ?2, ?3, ?4)",
            params![file.name, file.kind.to_string(), source.text, self.at],
        )?;
        Ok((Added::New, head))
    }

    /// As [`Bench::add_player`].
    ///
    /// # Errors
    /// As there.
    pub fn player(&self, source: &Source<'_>) -> Result<(Added, PlayerFile), BenchError> {
        let file = read_player(source)?;
        if let Some(old) = text(&self.c, PLAYERS, &file.name)? {
            let same = read_player(&kept(&file.name, &old))? == file;
            return Ok((once(PLAYERS, &file.name, same)?, file));
        }
        let hand = match file.hand {
            crate::hand::Hand::Left => "left",
            crate::hand::Hand::Right => "right",
        };
        self.c.execute(
            "INSERT INTO players (name, hand, toml, created_at) VALUES (?1, ?2, ?3, ?4)",
            params![file.name, hand, source.text, self.at],
        )?;
        Ok((Added::New, file))
    }
}

/// A table of descriptions and what a row of it is called.
#[derive(Clone, Copy)]
pub(super) struct Table {
    /// Of the table.
    pub name: &'static str,
    /// A row.
    pub one: &'static str,
}

const HEADS: Table = Table {
    name: "heads",
    one: "head",
};
pub(super) const PLAYERS: Table = Table {
    name: "players",
    one: "player",
};

pub(super) fn head(c: &Connection, name: &str) -> Result<(HeadFile, Head), BenchError> {
    let toml = wanted(c, HEADS, name)?;
    Ok(kept_head(&kept(name, &toml))?)
}

/// A text from the bench, named after what it describes.
pub(super) fn kept<'a>(name: &'a str, text: &'a str) -> Source<'a> {
    Source { name, text }
}

pub(super) fn once(table: Table, name: &str, same: bool) -> Result<Added, BenchError> {
    match same {
        true => Ok(Added::Same),
        false => Err(BenchError::Conflict(format!(
            "there is another {} '{name}' already; descriptions never change, give it a new name",
            table.one
        ))),
    }
}

pub(super) fn text(c: &Connection, table: Table, name: &str) -> Result<Option<String>, BenchError> {
    let mut query =
        c.prepare_cached(&format!("SELECT toml FROM {} WHERE name = ?1", table.name))?;
    Ok(query.query_row([name], |r| r.get(0)).optional()?)
}

/// The text of a description that must be there.
pub(super) fn wanted(c: &Connection, table: Table, name: &str) -> Result<String, BenchError> {
    if let Some(toml) = text(c, table, name)? {
        return Ok(toml);
    }
    let have = all(c, table)?.into_iter().map(|d| d.name).collect();
    Err(BenchError::NotFound {
        what: table.one,
        name: name.to_string(),
        have,
    })
}

pub(super) fn all(c: &Connection, table: Table) -> Result<Vec<Described>, BenchError> {
    let name = table.name;
    let mut query = c.prepare(&format!(
        "SELECT name, toml, created_at FROM {name} ORDER BY name"
    ))?;
    let rows = query.query_map([], |r| {
        Ok(Described {
            name: r.get(0)?,
            toml: r.get(1)?,
            created_at: r.get(2)?,
        })
    })?;
    Ok(rows.collect::<Result<_, _>>()?)
}
