//! Builds: as-built records that never change.

use super::descriptions::{Added, Described, PLAYERS, Table, all, head, kept, once, text, wanted};
use super::{Bench, check_time};
use crate::bench::BenchError;
use crate::bench::describe::{BuildFile, Source, read_build};
use crate::club::Club;
use crate::head::ClubKind;
use rusqlite::{Connection, params};

const BUILDS: Table = Table {
    name: "builds",
    one: "build",
};

impl Bench {
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

fn build(c: &Connection, name: &str) -> Result<(BuildFile, Club), BenchError> {
    let toml = wanted(c, BUILDS, name)?;
    let source = kept(name, &toml);
    let file = read_build(&source)?;
    let club = file.club(&head(c, &file.head)?.1, &source)?;
    Ok((file, club))
}
