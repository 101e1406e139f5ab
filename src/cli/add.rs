//! Add a head, a player or a build.

use super::Failure;
use super::context::{Context, source};
use crate::bench::store::Added;
use clap::{Args, ValueEnum};

/// Add heads, players or builds from TOML files.
///
/// A description never changes once it is in the bench: a changed club is a new build.
#[derive(Debug, Args)]
#[command(after_help = "Example:\n  trimtab add head heron.toml kite.toml")]
pub(super) struct Add {
    /// What the files describe.
    #[arg(value_enum)]
    what: What,
    /// TOML files; - is standard input.
    #[arg(required = true, value_name = "FILE")]
    files: Vec<String>,
}

#[derive(Debug, Clone, Copy, ValueEnum)]
enum What {
    /// A club head with its levers.
    Head,
    /// A player.
    Player,
    /// A club as it was built for a player.
    Build,
}

impl Add {
    pub fn run(self, c: &mut Context<'_, '_>) -> Result<(), Failure> {
        let mut bench = c.open()?;
        for file in &self.files {
            let text = c.read(file)?;
            let source = source(file, &text);
            let (added, name) = match self.what {
                What::Head => {
                    let (added, head) = bench.add_head(&source, &c.now)?;
                    (added, head.name)
                }
                What::Player => {
                    let (added, player) = bench.add_player(&source, &c.now)?;
                    (added, player.name)
                }
                What::Build => {
                    let (added, build, club) = bench.add_build(&source, &c.now)?;
                    if let Some(read) = &build.swing_weight_read {
                        let computed = club.swing_weight(&club.setting);
                        c.note(&format!(
                            "{}: swing weight read {read}, computed {computed}",
                            build.name
                        ));
                    }
                    (added, build.name)
                }
            };
            let what = format!("{:?}", self.what).to_lowercase();
            let new = added == Added::New;
            if c.global.json {
                let json = serde_json::json!({ "kind": what, "name": name, "new": new });
                writeln!(c.io.out, "{json}")?;
            } else {
                let was = if new { "added" } else { "was there already" };
                writeln!(c.io.out, "{what} {name} {was}")?;
            }
        }
        Ok(())
    }
}
