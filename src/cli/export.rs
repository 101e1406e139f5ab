//! Everything out again.

use super::Failure;
use super::context::Context;
use crate::bench::ErrorKind;
use crate::bench::export::{bench_json, session_csv};
use crate::bench::store::SessionFilter;
use clap::Args;
use std::fs;
use std::io::BufWriter;
use std::path::{Path, PathBuf};

/// Export the whole bench: TOML, CSV and JSON files in a new folder, or one JSON document.
#[derive(Debug, Args)]
#[command(
    after_help = "Examples:\n  trimtab export --to backup\n  trimtab export --json > backup.json"
)]
pub(super) struct Export {
    /// A folder that does not exist yet.
    #[arg(long, value_name = "FOLDER")]
    to: Option<PathBuf>,
}

impl Export {
    pub fn run(self, c: &mut Context<'_, '_>) -> Result<(), Failure> {
        let bench = c.open()?;
        let Some(to) = self.to else {
            if !c.global.json {
                return Err(Failure::usage(
                    "say --to FOLDER for files, or --json for one document",
                ));
            }
            return Ok(bench_json(&bench, &mut c.io.out)?);
        };
        if to.exists() {
            let why = format!("{}: exists already; nothing was written", to.display());
            return Err(Failure::new(ErrorKind::Conflict, why));
        }
        // Into a folder beside it first, so that a folder of that name is always whole.
        let mut part = to.clone().into_os_string();
        part.push(".part");
        let part = PathBuf::from(part);
        let written = write_all(&bench, &part).and_then(|n| {
            fs::rename(&part, &to).map_err(|e| Failure::written(&to.display().to_string(), &e))?;
            Ok(n)
        });
        let count = written.inspect_err(|_| {
            let _ = fs::remove_dir_all(&part);
        })?;
        if c.global.json {
            let json = serde_json::json!({ "folder": to.display().to_string(), "files": count });
            writeln!(c.io.out, "{json}")?;
        } else {
            writeln!(c.io.out, "{count} files in {}", to.display())?;
        }
        Ok(())
    }
}

fn write_all(bench: &crate::bench::Bench, to: &Path) -> Result<usize, Failure> {
    let mut count = 0;
    let mut write = |folder: &str, name: &str, bytes: &[u8]| -> Result<(), Failure> {
        let folder = to.join(folder);
        let path = folder.join(name);
        fs::create_dir_all(&folder)
            .and_then(|()| fs::write(&path, bytes))
            .map_err(|e| Failure::written(&path.display().to_string(), &e))?;
        count += 1;
        Ok(())
    };
    for (folder, all) in [
        ("heads", bench.heads()?),
        ("players", bench.players()?),
        ("builds", bench.builds()?),
    ] {
        for d in all {
            write(folder, &file_name(&d.name, "toml"), d.toml.as_bytes())?;
        }
    }
    let filter = SessionFilter {
        withdrawn: true,
        ..SessionFilter::default()
    };
    for s in bench.sessions(&filter)? {
        let mut bytes = BufWriter::new(Vec::new());
        session_csv(&bench.session(&s.name)?, &mut bytes)?;
        let bytes = bytes
            .into_inner()
            .map_err(|e| Failure::input(e.to_string()))?;
        write("sessions", &file_name(&s.name, "csv"), &bytes)?;
    }
    let mut bytes = Vec::new();
    bench_json(bench, &mut bytes)?;
    write("", "bench.json", &bytes)?;
    Ok(count)
}

/// A file name that every file system takes; names in a bench may hold anything.
fn file_name(name: &str, ending: &str) -> String {
    let plain = |c: char| c.is_alphanumeric() || matches!(c, '-' | '_' | '.' | ' ');
    let safe: String = name
        .chars()
        .map(|c| {
            if plain(c) {
                c.to_string()
            } else {
                format!("%{:x}", c as u32)
            }
        })
        .collect();
    let safe = if safe.starts_with('.') {
        format!("_{safe}")
    } else {
        safe
    };
    format!("{safe}.{ending}")
}
