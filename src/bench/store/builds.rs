//! Builds: as-built records that never change.

use super::Bench;
use super::descriptions::{
    Added, Adding, Described, PLAYERS, Table, all, head, kept, once, text, wanted,
};
use crate::bench::BenchError;
use crate::bench::describe::{BuildFile, Source, kept_build, read_build, read_player};
use crate::club::Club;
use crate::head::{ClubKind, Head};
use rusqlite::{OptionalExtension, params};
use std::collections::HashMap;

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
        self.all_or_nothing(at, |adding| adding.build(source))
    }

    /// A build and its club by name.
    ///
    /// # Errors
    /// Not found; storage.
    pub fn build(&self, name: &str) -> Result<(BuildFile, Club), BenchError> {
        self.build_among(name, &mut HashMap::new())
    }

    /// The same for many builds: each head is read once, and kept in `heads`.
    ///
    /// # Errors
    /// Not found; storage.
    pub fn build_among(
        &self,
        name: &str,
        heads: &mut HashMap<String, Head>,
    ) -> Result<(BuildFile, Club), BenchError> {
        let view = self.snapshot()?;
        let toml = wanted(&view, BUILDS, name)?;
        let source = kept(name, &toml);
        let file = kept_build(&source)?;
        if !heads.contains_key(&file.head) {
            heads.insert(file.head.clone(), head(&view, &file.head)?.1);
        }
        let club = file.club(&heads[&file.head], &source)?;
        Ok((file, club))
    }

    /// The proposal and its row, counted from 1, of which a build was filed to be.
    ///
    /// # Errors
    /// Storage.
    pub fn followed(&self, build: &str) -> Result<Option<(i64, i64)>, BenchError> {
        let mut query = self
            .connection
            .prepare_cached("SELECT proposal, row FROM followed WHERE build = ?1")?;
        let found = query.query_row([build], |r| Ok((r.get(0)?, r.get(1)?)));
        Ok(found.optional()?)
    }

    /// Names of the builds that replace a build, in the order in which they were added.
    ///
    /// # Errors
    /// Storage.
    pub fn replaced_by(&self, build: &str) -> Result<Vec<String>, BenchError> {
        let mut query = self
            .connection
            .prepare_cached("SELECT name FROM builds WHERE replaces = ?1 ORDER BY rowid")?;
        let names = query.query_map([build], |r| r.get(0))?;
        Ok(names.collect::<Result<_, _>>()?)
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

    /// Name of a player's latest build with a head, if there is one.
    ///
    /// # Errors
    /// Storage.
    pub fn latest_with(&self, player: &str, head: &str) -> Result<Option<String>, BenchError> {
        let mut query = self.connection.prepare_cached(
            "SELECT name FROM builds WHERE player = ?1 AND head = ?2
             ORDER BY built_on DESC, rowid DESC LIMIT 1",
        )?;
        let found = query.query_row([player, head], |r| r.get(0));
        Ok(found.optional()?)
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

impl Adding<'_> {
    /// As [`Bench::add_build`].
    ///
    /// # Errors
    /// As there.
    pub fn build(&self, source: &Source<'_>) -> Result<(Added, BuildFile, Club), BenchError> {
        let file = read_build(source)?;
        let c = &self.c;
        let player = wanted(c, PLAYERS, &file.player)?;
        let hand = read_player(&kept(&file.player, &player))?.hand;
        let (head_file, head) = head(c, &file.head)?;
        let club = file.club(&head, source)?;
        if let Some(old) = text(c, BUILDS, &file.name)? {
            let same = kept_build(&kept(&file.name, &old))? == file;
            return Ok((once(BUILDS, &file.name, same)?, file, club));
        }
        if head_file.hand.is_some_and(|of_head| of_head != hand) {
            return Err(BenchError::Conflict(format!(
                "'{}' is a head for the other hand than '{}' plays with",
                file.head, file.player
            )));
        }
        if let Some(replaced) = &file.replaces {
            let old = wanted(c, BUILDS, replaced)?;
            let theirs = kept_build(&kept(replaced, &old))?.player;
            if theirs != file.player {
                let why = format!(
                    "'{replaced}' is a build of '{theirs}', not of '{}'",
                    file.player
                );
                return Err(BenchError::Conflict(why));
            }
        }
        c.execute(
            "INSERT INTO builds (name, player, head, built_on, replaces, toml, created_at)
             VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7)",
            params![
                file.name,
                file.player,
                file.head,
                file.built_on,
                file.replaces,
                source.text,
                self.at
            ],
        )?;
        Ok((Added::New, file, club))
    }

    /// Files that a build is a row of a proposal, counted from 1.
    ///
    /// # Errors
    /// Conflict if there is no such proposal; storage.
    pub fn followed(&self, build: &str, proposal: i64, row: i64) -> Result<(), BenchError> {
        self.c.execute(
            "INSERT INTO followed (build, proposal, row) VALUES (?1, ?2, ?3)",
            params![build, proposal, row],
        )?;
        Ok(())
    }
}
