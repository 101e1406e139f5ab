//! Log a session.

use super::Failure;
use super::args::Weather;
use super::context::{Context, fitted, source};
use crate::bench::session::{Mapping, parse_session, read_mapping};
use crate::bench::store::{NewSession, SessionMeta};
use crate::delivery::expected;
use clap::Args;

/// Log a session: the shots of one player with one build on one day, from a CSV file.
///
/// Columns are named by quantity and unit, such as ball_speed_mph, launch_angle_deg, carry_yd; a
/// mapping file can name others. Missing values are fine. The session is logged whole or not at
/// all, and refused if its numbers are in other units than its columns say.
#[derive(Debug, Args)]
#[command(
    after_help = "Example:\n  trimtab log monday.csv --build MV-1 --date 2026-04-06 --temperature-c 14"
)]
pub(super) struct Log {
    /// CSV file; - is standard input.
    #[arg(value_name = "CSV")]
    file: String,
    /// The build that was played.
    #[arg(long, value_name = "NAME")]
    build: String,
    /// Name of the session [default: the build and the day].
    #[arg(long, value_name = "NAME")]
    name: Option<String>,
    /// The day [default: today].
    #[arg(long, value_name = "YYYY-MM-DD")]
    date: Option<jiff::civil::Date>,
    /// A TOML file that tells which column is what.
    #[arg(long, value_name = "TOML")]
    mapping: Option<String>,
    /// What measured the shots.
    #[arg(long, value_name = "TEXT")]
    device: Option<String>,
    /// Anything else.
    #[arg(long, value_name = "TEXT")]
    note: Option<String>,
    /// Log the session although its numbers look like another unit.
    #[arg(long)]
    units_are_right: bool,
    #[command(flatten)]
    weather: Weather,
}

impl Log {
    pub fn run(self, c: &mut Context<'_, '_>) -> Result<(), Failure> {
        let mut bench = c.open()?;
        let who = fitted(&bench, Some(&self.build), None)?;
        let mapping: Option<Mapping> = match &self.mapping {
            Some(path) => {
                let text = c.read(path)?;
                Some(read_mapping(&source(path, &text))?)
            }
            None => None,
        };
        let text = c.read(&self.file)?;
        let parsed = parse_session(&text, &self.file, mapping.as_ref())?;
        let usual = expected(&who.club, &who.prior, &c.physics()?)?;
        let findings = if self.units_are_right {
            parsed.plausibility(&usual)
        } else {
            parsed.check_units(&usual).map_err(|e| {
                Failure::input(format!(
                    "{e}\nNothing was logged. If file and build are right, say --units-are-right."
                ))
            })?
        };
        for finding in findings {
            c.note(&format!("{}: {}", self.file, finding.text));
        }
        let date = match self.date {
            Some(d) => d,
            None => c
                .today()
                .parse()
                .map_err(|e| Failure::usage(format!("--date: {e}")))?,
        };
        let name = match self.name {
            Some(n) => n,
            None => free_name(&bench, &format!("{}-{date}", self.build))?,
        };
        let meta = SessionMeta {
            device: self.device,
            note: self.note,
            ..self.weather.meta()?
        };
        let new = NewSession {
            name: &name,
            build: &self.build,
            date,
            meta,
            created_at: &c.now,
        };
        let id = bench.log_session(&new, &parsed)?;
        if !parsed.ignored.is_empty() {
            c.note(&format!(
                "columns kept but not understood: {}",
                parsed.ignored.join(", ")
            ));
        }
        if !parsed.skipped_lines.is_empty() {
            c.note(&format!(
                "{} lines hold no value and are no shots",
                parsed.skipped_lines.len()
            ));
        }
        if c.global.json {
            let json = serde_json::json!({
                "session": name, "id": id, "build": self.build, "date": date.to_string(),
                "shots": parsed.shots.len(), "ignored_columns": parsed.ignored,
            });
            writeln!(c.io.out, "{json}")?;
        } else {
            writeln!(
                c.io.out,
                "session {name}: {} shots logged",
                parsed.shots.len()
            )?;
        }
        Ok(())
    }
}

/// The name itself, or the first of `name-b`, `name-c`... that is not taken.
fn free_name(bench: &crate::bench::Bench, name: &str) -> Result<String, Failure> {
    let filter = crate::bench::store::SessionFilter {
        withdrawn: true,
        ..Default::default()
    };
    let taken: Vec<String> = bench
        .sessions(&filter)?
        .into_iter()
        .map(|s| s.name)
        .collect();
    let candidates = std::iter::once(name.to_string())
        .chain(('b'..='z').map(|letter| format!("{name}-{letter}")));
    candidates
        .into_iter()
        .find(|n| !taken.contains(n))
        .ok_or_else(|| Failure::usage("this build has 26 sessions on that day: give a --name"))
}
