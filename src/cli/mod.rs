//! The command line: a thin shell. One file a command; each reads, calls the library, shows.

mod add;
mod args;
mod before;
mod card;
mod check;
mod context;
mod export;
mod failure;
mod filed;
mod flight;
mod followed;
mod impact;
mod list;
mod log;
mod mass;
mod names;
mod new;
mod picture;
mod plan;
mod propose;
mod rebuild;
mod refit;
mod tendency;
mod visit;
mod whatif;

pub use context::Io;
pub use failure::Failure;

use clap::{CommandFactory, Parser, Subcommand};
use context::Context;
use jiff::fmt::temporal::Pieces;
use jiff::tz::TimeZone;
use std::ffi::{OsStr, OsString};

/// Golf-club fitting on real physics: from a player's miss to the smallest change that cures it.
#[derive(Debug, Parser)]
#[command(
    name = "trimtab",
    version,
    max_term_width = 80,
    after_help = "Examples:\n  \
        trimtab new\n  \
        trimtab add head heron.toml\n  \
        trimtab log monday.csv --build MV-1\n  \
        trimtab propose --build MV-1\n  \
        trimtab propose --build MV-1 --miss \"starts 5 right, curves 15 right, high\"\n\n\
        Environment:\n  \
        TRIMTAB_BENCH  the bench, as --bench\n  \
        TRIMTAB_NOW    the time to take for now, such as 2026-04-06T09:00:00Z, so that\n                 \
        the same commands give the same output\n  \
        NO_COLOR       no colours on a terminal\n\n\
        Exit codes: 0 done; 2 usage; 3 bad input; 4 not found; 5 conflict with the log;\n\
        6 the bench is busy; 7 a file or the storage failed."
)]
struct Cli {
    #[command(flatten)]
    global: args::Global,
    #[command(subcommand)]
    command: Command,
}

#[derive(Debug, Subcommand)]
enum Command {
    New(new::New),
    Add(add::Add),
    Log(log::Log),
    Tendency(tendency::TendencyArgs),
    Propose(propose::Propose),
    Whatif(whatif::WhatIf),
    Plan(plan::PlanArgs),
    Rebuild(rebuild::Rebuild),
    Check(check::Check),
    Refit(refit::Refit),
    Card(card::CardArgs),
    List(list::List),
    Show(list::Show),
    Withdraw(list::Withdraw),
    Export(export::Export),
    Mass(mass::Mass),
    Impact(impact::ImpactArgs),
    Flight(flight::FlightArgs),
    /// Print shell completions.
    #[command(after_help = "Example:\n  trimtab completions bash > trimtab.bash")]
    Completions {
        /// Which shell.
        shell: clap_complete::Shell,
    },
}

/// Runs one command line. `args` starts with the program's name; `now` is the present, RFC 3339.
/// Returns the exit code; everything else goes to `io`.
pub fn run<I, A>(args: I, io: &mut Io<'_>, now: &str) -> u8
where
    I: IntoIterator<Item = A>,
    A: Into<OsString> + Clone,
{
    let cli = match Cli::try_parse_from(args) {
        Ok(cli) => cli,
        Err(e) => return usage(&e, io),
    };
    let mut context = Context::new(cli.global, io, now);
    match dispatch(cli.command, &mut context) {
        Ok(()) => 0,
        // Whoever reads has seen enough, as in `trimtab list sessions | head`.
        Err(failure) if failure.is_closed_pipe() => 0,
        Err(failure) => {
            let _ = write!(context.io.err, "{}", failure.told());
            failure.code()
        }
    }
}

/// The present, RFC 3339 with the offset of the place: what `TRIMTAB_NOW` says, or else the clock.
///
/// # Errors
/// Usage, if the variable holds no time.
pub fn now(variable: Option<&OsStr>, clock: jiff::ZonedDateTime) -> Result<String, Failure> {
    let time = match variable {
        None => clock,
        Some(text) => told(text.to_str().unwrap_or_default()).ok_or_else(|| {
            let text = text.to_string_lossy();
            Failure::usage(format!(
                "TRIMTAB_NOW={text}: must be a time such as 2026-04-06T09:00:00Z, 1970 to 9999"
            ))
        })?,
    };
    let offset = match time.offset().is_zero() {
        true => "Z",
        false => "%:z",
    };
    let form = format!("%Y-%m-%dT%H:%M:%S{offset}");
    Ok(time.strftime(&form).to_string())
}

/// A time with the offset in which it was said.
fn told(text: &str) -> Option<jiff::ZonedDateTime> {
    let time: jiff::Timestamp = text.parse().ok()?;
    let offset = Pieces::parse(text).ok()?.to_numeric_offset()?;
    let zoned = time.to_zoned_datetime(TimeZone::fixed(offset));
    // Years of four digits: the first ten characters are the day.
    (1970..=9999).contains(&zoned.year()).then_some(zoned)
}

/// Help and version go to the output, complaints to the error stream.
fn usage(e: &clap::Error, io: &mut Io<'_>) -> u8 {
    let mut text = e.render().ansi().to_string();
    if !text.ends_with('\n') {
        text.push('\n');
    }
    if e.use_stderr() {
        let _ = write!(io.err, "{}", failure::wrapped(&text));
        2
    } else {
        let _ = write!(io.out, "{text}");
        0
    }
}

fn dispatch(command: Command, c: &mut Context<'_, '_>) -> Result<(), Failure> {
    match command {
        Command::New(a) => a.run(c),
        Command::Add(a) => a.run(c),
        Command::Log(a) => a.run(c),
        Command::Tendency(a) => a.run(c),
        Command::Propose(a) => a.run(c),
        Command::Whatif(a) => a.run(c),
        Command::Plan(a) => a.run(c),
        Command::Rebuild(a) => a.run(c),
        Command::Check(a) => a.run(c),
        Command::Refit(a) => a.run(c),
        Command::Card(a) => a.run(c),
        Command::List(a) => a.run(c),
        Command::Show(a) => a.run(c),
        Command::Withdraw(a) => a.run(c),
        Command::Export(a) => a.run(c),
        Command::Mass(a) => a.run(c),
        Command::Impact(a) => a.run(c),
        Command::Flight(a) => a.run(c),
        Command::Completions { shell } => {
            // Into memory first: the generator panics when it cannot write.
            let mut script = Vec::new();
            clap_complete::generate(shell, &mut Cli::command(), "trimtab", &mut script);
            Ok(c.io.out.write_all(&script)?)
        }
    }
}

/// The command line's own consistency, for a test.
#[doc(hidden)]
pub fn command() -> clap::Command {
    Cli::command()
}
