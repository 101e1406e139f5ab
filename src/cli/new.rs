//! Make a bench.

use super::Failure;
use super::context::Context;
use crate::bench::Bench;
use clap::Args;

/// Make a bench: one file that will hold players, heads, builds, sessions and what was learned.
#[derive(Debug, Args)]
#[command(after_help = "Example:\n  trimtab new --bench season.trimtab")]
pub(super) struct New {}

impl New {
    pub fn run(self, c: &mut Context<'_, '_>) -> Result<(), Failure> {
        Bench::create(&c.global.bench)?;
        let path = c.global.bench.display().to_string();
        if c.global.json {
            writeln!(c.io.out, "{}", serde_json::json!({ "bench": path }))?;
        } else {
            writeln!(c.io.out, "A new bench: {path}")?;
        }
        Ok(())
    }
}
