//! What every command needs: streams, the time, the bench, and the way from names to core values.

use super::Failure;
use super::args::Global;
use super::names::{Named, full_name};
use crate::bench::describe::{BuildFile, PlayerFile, Source};
use crate::bench::store::Bench;
use crate::club::Club;
use crate::correction::{Local, Model};
use crate::flight::AeroSet;
use crate::hand::Hand;
use crate::physics::Physics;
use crate::priors::{self, DeliveryPrior};
use crate::proposal::Goal;
use crate::report::{Page, Report, Units};
use std::io::{Read, Write};

/// The streams of a command.
pub struct Io<'a> {
    /// Standard input, read where a file is named `-`.
    pub stdin: &'a mut dyn Read,
    /// Results.
    pub out: &'a mut dyn Write,
    /// Complaints and notes.
    pub err: &'a mut dyn Write,
}

/// A command's surroundings.
pub(super) struct Context<'a, 'b> {
    pub global: Global,
    pub io: &'a mut Io<'b>,
    /// Now, RFC 3339.
    pub now: String,
    /// Standard input can be read once.
    stdin_read: bool,
}

/// A player with a build, ready for the core.
pub(super) struct Fitted {
    pub player: PlayerFile,
    pub build: BuildFile,
    pub club: Club,
    pub prior: DeliveryPrior,
    /// In the right-handed frame.
    pub goal: Goal,
}

impl Fitted {
    pub fn hand(&self) -> Hand {
        self.player.hand
    }
}

impl<'a, 'b> Context<'a, 'b> {
    pub fn new(global: Global, io: &'a mut Io<'b>, now: &str) -> Context<'a, 'b> {
        Context {
            global,
            io,
            now: now.into(),
            stdin_read: false,
        }
    }

    /// Today, as a date.
    pub fn today(&self) -> &str {
        self.now.get(..10).unwrap_or(&self.now)
    }

    pub fn units(&self) -> Units {
        if self.global.metric {
            Units::Metric
        } else {
            Units::Imperial
        }
    }

    /// Shows a report as text or JSON.
    pub fn show<R: Report>(&mut self, report: &R) -> Result<(), Failure> {
        let text = if self.global.json {
            let mut json = serde_json::to_string_pretty(report)
                .map_err(|e| Failure::input(format!("cannot be written as JSON: {e}")))?;
            json.push('\n');
            json
        } else {
            let mut page = Page::new(self.units());
            report.text(&mut page);
            page.into_text()
        };
        self.io.out.write_all(text.as_bytes())?;
        Ok(())
    }

    /// A note to the person, beside the result.
    pub fn note(&mut self, text: &str) {
        for line in textwrap::wrap(text, 80) {
            let _ = writeln!(self.io.err, "{line}");
        }
    }

    pub fn open(&self) -> Result<Bench, Failure> {
        Ok(Bench::open(&self.global.bench)?)
    }

    /// The text of a file, or of standard input for `-`.
    pub fn read(&mut self, path: &str) -> Result<String, Failure> {
        let mut bytes = Vec::new();
        if path == "-" {
            if std::mem::replace(&mut self.stdin_read, true) {
                return Err(Failure::usage("only one file can be standard input (-)"));
            }
            self.io
                .stdin
                .read_to_end(&mut bytes)
                .map_err(|e| Failure::file("-", &e))?;
        } else {
            bytes = std::fs::read(path).map_err(|e| Failure::file(path, &e))?;
        }
        String::from_utf8(bytes)
            .map_err(|e| Failure::input(format!("{path}: not UTF-8 text: {}", e.utf8_error())))
    }

    pub fn physics(&self) -> Result<Physics, Failure> {
        let aero = AeroSet::named(&self.global.aero).ok_or_else(|| {
            let names: Vec<&str> = AeroSet::names().collect();
            Failure::usage(format!(
                "--aero {}: there is no such set; there are {}",
                self.global.aero,
                names.join(", ")
            ))
        })?;
        Ok(Physics {
            aero,
            attitude: self.global.attitude.into(),
            ..Physics::default()
        })
    }
}

/// A build by name, or a player's latest; without either, that of the bench's only player.
pub(super) fn fitted(
    bench: &Bench,
    build: Option<&str>,
    player: Option<&str>,
) -> Result<Fitted, Failure> {
    let whole = |what, name: Option<&str>| name.map(|n| full_name(bench, what, n)).transpose();
    let (build, player) = (whole(Named::Build, build)?, whole(Named::Player, player)?);
    let built = match (&build, &player) {
        (Some(b), _) => bench.build(b)?,
        (None, Some(p)) => {
            bench.player(p)?;
            bench.latest_build(p, None)?
        }
        (None, None) => bench.latest_build(&only_player(bench)?, None)?,
    };
    if let Some(p) = player.filter(|p| *p != built.0.player) {
        return Err(Failure::usage(format!(
            "build '{}' is of '{}', not of '{p}'",
            built.0.name, built.0.player
        )));
    }
    fitted_to(bench, built)
}

/// The same; where no build is named, that of the first of some sessions, if any is.
pub(super) fn fitted_in(
    bench: &Bench,
    build: Option<&str>,
    player: Option<&str>,
    sessions: &[String],
) -> Result<Fitted, Failure> {
    let of_session = match (build, sessions.first()) {
        (None, Some(session)) => Some(build_of(bench, session)?),
        _ => None,
    };
    fitted(bench, of_session.as_deref().or(build), player)
}

/// The build with which a session was hit.
pub(super) fn build_of(bench: &Bench, session: &str) -> Result<String, Failure> {
    let name = full_name(bench, Named::Session, session)?;
    Ok(bench.session(&name)?.info.build)
}

/// The player of a bench that has one.
fn only_player(bench: &Bench) -> Result<String, Failure> {
    match &bench.players()?[..] {
        [only] => Ok(only.name.clone()),
        _ => Err(Failure::usage("name a --build or a --player")),
    }
}

/// A build and its club with their player.
pub(super) fn fitted_to(
    bench: &Bench,
    (build, club): (BuildFile, Club),
) -> Result<Fitted, Failure> {
    let player = bench.player(&build.player)?;
    let aim = player.aim();
    Ok(Fitted {
        prior: priors::player_at_speed(&club.head, player.head_speed()),
        goal: aim.goal(player.hand),
        player,
        build,
        club,
    })
}

/// A model from the bench: the one named, or the latest; none if there is none.
pub(super) fn model(bench: &Bench, version: Option<i64>) -> Result<Option<Model>, Failure> {
    let stored = match version {
        Some(v) => Some(bench.model(v)?),
        None => bench.latest_model()?,
    };
    stored
        .map(|m| {
            let mut model: Model = serde_json::from_value(m.body).map_err(|e| {
                Failure::input(format!(
                    "model {}: not a model of this program: {e}",
                    m.version
                ))
            })?;
            model.version = u32::try_from(m.version).unwrap_or(u32::MAX);
            Ok(model)
        })
        .transpose()
}

/// The correction for a player on a head.
pub(super) fn local(model: Option<&Model>, who: &Fitted) -> Local {
    model.map_or_else(Local::unlearned, |m| {
        m.local(&who.player.name, &who.build.head)
    })
}

/// A named text as a source of descriptions.
pub(super) fn source<'t>(name: &'t str, text: &'t str) -> Source<'t> {
    Source { name, text }
}
