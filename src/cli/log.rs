//! Log a session.

use super::Failure;
use super::args::Weather;
use super::context::{Context, fitted, source};
use super::visit::see;
use crate::bench::session::{Mapping, Usual, flown, parse_session, read_mapping};
use crate::bench::store::{NewSession, SessionMeta};
use crate::delivery::expected;
use crate::quantity::Measured;
use crate::report::device_warnings;
use clap::Args;
use jiff::civil::Date;

const EXAMPLE: &str =
    "Example:\n  trimtab log monday.csv --build MV-1 --date 2026-04-06 --temperature-c 14";

/// What a session file and a mapping file may say.
fn columns_help() -> String {
    let rows = crate::bench::session::column_names();
    let rows: String = rows
        .iter()
        .map(|(name, units)| format!("  {name:<17} {}\n", units.join(", ")))
        .collect();
    format!(
        "Columns: a name, an underscore and a unit, such as ball_speed_mph; also shot and\n\
         note. Right is positive for everything sideways, for both hands; 5.2 R and 3 L\n\
         are read too. Empty, - and NA are missing values.\n{rows}\n\
         A mapping file names the columns of another program, here left positive:\n  \
         [columns.ball_speed]\n  \
         column = \"Speed of ball\"\n  \
         unit = \"mph\"\n  \
         [columns.launch_direction]\n  \
         column = \"Start\"\n  \
         unit = \"deg\"\n  \
         positive = \"left\""
    )
}

/// Log a session: the shots of one player with one build on one day, from a CSV file.
///
/// Columns are named by quantity and unit, such as ball_speed_mph, launch_angle_deg, carry_yd; a
/// mapping file can name others; --help lists them all. Missing values are fine. The session is
/// logged whole or not at all, and refused if its medians show a wrong unit or swapped columns.
#[derive(Debug, Args)]
#[command(after_help = EXAMPLE, after_long_help = format!("{EXAMPLE}\n\n{}", columns_help()))]
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
    date: Option<Date>,
    /// A TOML file that tells which column is what.
    #[arg(long, value_name = "TOML")]
    mapping: Option<String>,
    /// What measured the shots.
    #[arg(long, value_name = "TEXT")]
    device: Option<String>,
    /// Anything else.
    #[arg(long, value_name = "TEXT")]
    note: Option<String>,
    /// Log the session although its numbers look like another unit or like swapped columns.
    #[arg(long, visible_alias = "units-are-right")]
    as_logged: bool,
    #[command(flatten)]
    weather: Weather,
}

impl Log {
    pub fn run(self, c: &mut Context<'_, '_>) -> Result<(), Failure> {
        let mut bench = c.open()?;
        let who = fitted(&bench, Some(&self.build), None)?;
        let build = who.build.name.clone();
        let today: Date = c
            .today()
            .parse()
            .map_err(|e| Failure::usage(format!("--date: {e}")))?;
        let date = self.date.unwrap_or(today);
        if date > today {
            return Err(Failure::usage(format!(
                "--date {date}: is still to come, today is {today}; nothing was logged"
            )));
        }
        let mapping: Option<Mapping> = match &self.mapping {
            Some(path) => {
                let text = c.read(path)?;
                Some(read_mapping(&source(path, &text))?)
            }
            None => None,
        };
        let text = c.read(&self.file)?;
        let parsed = parse_session(&text, &self.file, mapping.as_ref())?;
        let meta = self.weather.meta()?;
        let physics = c.physics()?;
        let shots: Vec<Measured> = parsed.shots.iter().map(|s| s.measured).collect();
        let usual = Usual {
            expected: &expected(&who.club, &who.prior, &physics)?,
            flown: &flown(&shots, &physics.range(&meta.conditions())),
            kind: Some(who.club.head.kind),
        };
        let findings = if self.as_logged {
            parsed.plausibility(&usual)
        } else {
            parsed.check_plausible(&usual).map_err(|e| {
                Failure::input(format!(
                    "{e}\nNothing was logged. If file and build are right, say --as-logged."
                ))
            })?
        };
        for finding in findings {
            c.note(&format!("{}: {}", self.file, finding.text));
        }
        let name = match self.name {
            Some(n) => n,
            None => free_name(&bench, &format!("{build}-{date}"))?,
        };
        let meta = SessionMeta {
            device: self.device,
            note: self.note,
            ..meta
        };
        let new = NewSession {
            name: &name,
            build: &build,
            date,
            meta,
            created_at: &c.now,
        };
        let id = bench.log_session(&new, &parsed)?;
        if who
            .build
            .built_on
            .parse()
            .is_ok_and(|built: Date| date < built)
        {
            c.note(&format!(
                "{name}: {date} is before {build} was built, {}",
                who.build.built_on
            ));
        }
        // What `tendency` would warn of; a session without a tendency is logged all the same.
        if let Ok(seen) = see(&[bench.session(&name)?], &who, &physics) {
            for warning in device_warnings(&seen.tendency, who.hand()) {
                c.note(&format!("{name}: {warning}"));
            }
        }
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
                "session": name, "id": id, "build": build, "date": date.to_string(),
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
