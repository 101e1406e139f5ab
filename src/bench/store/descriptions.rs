//! Heads, players and builds: kept as the text that came, read again each time.

use super::{Bench, check_time};
use crate::bench::BenchError;
use crate::bench::describe::{
    BuildFile, HeadFile, PlayerFile, Source, read_build, read_head, read_player,
};
use crate::club::Club;
use crate::head::{ClubKind, Head};
use rusqlite::{Connection, OptionalExtension, params};

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
        check_time(at)?;
        let (file, head) = read_head(source)?;
        let t = self.write()?;
        if let Some(old) = text(&t, HEADS, &file.name)? {
            let same = read_head(&kept(&file.name, &old))?.0 == file;
            return Ok((once(HEADS, &file.name, same)?, head));
        }
        t.execute(
            "INSERT INTO heads (name, kind, toml, created_at) VALUES (?1, ?2, ?3, ?4)",
            params![file.name, file.kind.to_string(), source.text, at],
        )?;
        t.commit()?;
        Ok((Added::New, head))
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
        check_time(at)?;
        let file = read_player(source)?;
        let t = self.write()?;
        if let Some(old) = text(&t, PLAYERS, &file.name)? {
            let same = read_player(&kept(&file.name, &old))? == file;
            return Ok((once(PLAYERS, &file.name, same)?, file));
        }
        let hand = match file.hand {
            crate::hand::Hand::Left => "left",
            crate::hand::Hand::Right => "right",
        };
        t.execute(
            "INSERT INTO players (name, hand, toml, created_at) VALUES (?1, ?2, ?3, ?4)",
            params![file.name, hand, source.text, at],
        )?;
        t.commit()?;
        Ok((Added::New, file))
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

    /// Adds a build of a player and a head that are in the bench. The same again is no error.
    ///
    /// # Errors
    /// Bad input if the file is wrong; not found if the player, the head or the build that it
    /// replaces is not there; conflict if there is another build of that name, or if the one that
    /// it replaces is another player's.
    pub fn add_build(
        &mut self,
        source: &Source<'_>,
        at: &str,
    ) -> Result<(Added, BuildFile, Club), BenchError> {
        check_time(at)?;
        let file = read_build(source)?;
        let t = self.write()?;
        wanted(&t, PLAYERS, &file.player)?;
        let club = file.club(&head(&t, &file.head)?.1, source)?;
        if let Some(old) = text(&t, BUILDS, &file.name)? {
            let same = read_build(&kept(&file.name, &old))? == file;
            return Ok((once(BUILDS, &file.name, same)?, file, club));
        }
        if let Some(replaced) = &file.replaces {
            let old = wanted(&t, BUILDS, replaced)?;
            let theirs = read_build(&kept(replaced, &old))?.player;
            if theirs != file.player {
                let why = format!(
                    "'{replaced}' is a build of '{theirs}', not of '{}'",
                    file.player
                );
                return Err(BenchError::Conflict(why));
            }
        }
        t.execute(
            "INSERT INTO builds (name, player, head, built_on, replaces, toml, created_at)
             VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7)",
            params![
                file.name,
                file.player,
                file.head,
                file.built_on,
                file.replaces,
                source.text,
                at
            ],
        )?;
        t.commit()?;
        Ok((Added::New, file, club))
    }

    /// A build and its club by name.
    ///
    /// # Errors
    /// Not found; storage.
    pub fn build(&self, name: &str) -> Result<(BuildFile, Club), BenchError> {
        build(&*self.snapshot()?, name)
    }

    /// All builds, by name.
    ///
    /// # Errors
    /// Storage.
    pub fn builds(&self) -> Result<Vec<Described>, BenchError> {
        all(&self.connection, BUILDS)
    }

    /// Names of a player's builds, oldest first; only of one kind of club if one is named.
    ///
    /// # Errors
    /// Not found if there is no such player; storage.
    pub fn builds_of(
        &self,
        player: &str,
        kind: Option<ClubKind>,
    ) -> Result<Vec<String>, BenchError> {
        let t = self.snapshot()?;
        wanted(&t, PLAYERS, player)?;
        let mut query = t.prepare_cached(
            "SELECT b.name FROM builds b JOIN heads h ON h.name = b.head
             WHERE b.player = ?1 AND (?2 IS NULL OR h.kind = ?2) ORDER BY b.built_on, b.rowid",
        )?;
        let kind = kind.map(|k| k.to_string());
        let names = query.query_map(params![player, kind], |r| r.get(0))?;
        Ok(names.collect::<Result<_, _>>()?)
    }

    /// A player's latest build: the last day, and of that day the last that was added.
    ///
    /// # Errors
    /// Not found if there is no such player or no such build; storage.
    pub fn latest_build(
        &self,
        player: &str,
        kind: Option<ClubKind>,
    ) -> Result<(BuildFile, Club), BenchError> {
        match self.builds_of(player, kind)?.last() {
            Some(name) => self.build(name),
            None => Err(BenchError::NotFound {
                what: "build of",
                name: player.to_string(),
                have: Vec::new(),
            }),
        }
    }
}

/// A table of descriptions and what a row of it is called.
#[derive(Clone, Copy)]
pub(super) struct Table {
    name: &'static str,
    one: &'static str,
}

const HEADS: Table = Table {
    name: "heads",
    one: "head",
};
const PLAYERS: Table = Table {
    name: "players",
    one: "player",
};
const BUILDS: Table = Table {
    name: "builds",
    one: "build",
};

fn head(c: &Connection, name: &str) -> Result<(HeadFile, Head), BenchError> {
    let toml = wanted(c, HEADS, name)?;
    Ok(read_head(&kept(name, &toml))?)
}

fn build(c: &Connection, name: &str) -> Result<(BuildFile, Club), BenchError> {
    let toml = wanted(c, BUILDS, name)?;
    let source = kept(name, &toml);
    let file = read_build(&source)?;
    let club = file.club(&head(c, &file.head)?.1, &source)?;
    Ok((file, club))
}

/// A text from the bench, named after what it describes.
fn kept<'a>(name: &'a str, text: &'a str) -> Source<'a> {
    Source { name, text }
}

fn once(table: Table, name: &str, same: bool) -> Result<Added, BenchError> {
    match same {
        true => Ok(Added::Same),
        false => Err(BenchError::Conflict(format!(
            "there is another {} '{name}' already; descriptions never change, give it a new name",
            table.one
        ))),
    }
}

fn text(c: &Connection, table: Table, name: &str) -> Result<Option<String>, BenchError> {
    let mut query =
        c.prepare_cached(&format!("SELECT toml FROM {} WHERE name = ?1", table.name))?;
    Ok(query.query_row([name], |r| r.get(0)).optional()?)
}

/// The text of a description that must be there.
fn wanted(c: &Connection, table: Table, name: &str) -> Result<String, BenchError> {
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

fn all(c: &Connection, table: Table) -> Result<Vec<Described>, BenchError> {
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
