//! What the demo's season holds, session by session. `cargo run --example demo`
//!
//! All of it is invented; see `demo/README.md`. Figures are means of the shots that are no mishits.

mod generator;
mod season;

use std::collections::BTreeMap;
use std::error::Error;
use std::fs;
use std::path::Path;
use trimtab::bench::describe::{BuildFile, Source, read_build, read_head};
use trimtab::bench::session::{Severity, parse_session};
use trimtab::club::Club;
use trimtab::head::Head;
use trimtab::quantity::Quantity;
use trimtab::units::{DEG, RPM, YARD};

fn main() -> Result<(), Box<dyn Error>> {
    let here = Path::new(env!("CARGO_MANIFEST_DIR")).join("demo");
    let heads = heads(&here)?;
    let builds = builds(&here)?;
    for (name, build) in &builds {
        let club = club(build, &heads)?;
        let read = build.swing_weight_read.as_deref().unwrap_or("not read");
        println!(
            "{name}: swing weight {read}, computed {}",
            club.swing_weight(&club.setting)
        );
    }
    let truth = generator::truth();
    let players: BTreeMap<_, _> = generator::truths()
        .into_iter()
        .map(|p| (p.name, p))
        .collect();
    println!(
        "\n{:10} {:17} {:11} {:22} {:>3} {:>5} {:>6} {:>6} {:>5} {:>6} {:>6} {:>7}  setting",
        "day",
        "player",
        "head",
        "build",
        "n",
        "m/s",
        "launch",
        "start",
        "rpm",
        "axis",
        "carry",
        "offline"
    );
    for s in season::sessions() {
        let head = &heads[s.head];
        let build = s.build_file(&builds[s.base]);
        let setting = club(&build, &heads)?.setting;
        let player = &players[s.player];
        let shots = generator::session(&truth, player, head, &setting, &head.reference, &s.day())?;
        let mean = |q: Quantity, size: f64| {
            let usual = shots.iter().filter(|s| s.note.is_empty());
            let values: Vec<f64> = usual.filter_map(|s| s.measured.get(q)).collect();
            values.iter().sum::<f64>() / values.len() as f64 / size
        };
        println!(
            "{:10} {:17} {:11} {:22} {:3} {:5.1} {:6.1} {:+6.1} {:5.0} {:+6.1} {:6.0} {:+7.1}  {}",
            s.date,
            s.player,
            s.head,
            s.build(),
            s.shots,
            mean(Quantity::BallSpeed, 1.0),
            mean(Quantity::LaunchAngle, DEG),
            mean(Quantity::LaunchDirection, DEG),
            mean(Quantity::SpinRate, RPM),
            mean(Quantity::SpinAxis, DEG),
            mean(Quantity::Carry, YARD),
            mean(Quantity::Offline, YARD),
            setting.describe(head),
        );
        let csv = generator::to_csv(&shots, s.device, s.dirt);
        for why in complaints(&csv, &s.id()) {
            println!("{:10} refused: {why}", "");
        }
    }
    Ok(())
}

/// Why the import refuses an export; nothing if it takes it.
fn complaints(csv: &str, name: &str) -> Vec<String> {
    match parse_session(csv, name, None) {
        Err(e) => vec![e.to_string()],
        Ok(parsed) => {
            let found = parsed.plausibility(&[]);
            let errors = found.iter().filter(|f| f.severity == Severity::Error);
            errors.map(|f| f.text.clone()).collect()
        }
    }
}

/// The heads in `demo/heads`, by name.
fn heads(here: &Path) -> Result<BTreeMap<String, Head>, Box<dyn Error>> {
    let mut heads = BTreeMap::new();
    for (name, text) in texts(&here.join("heads"))? {
        let (_, head) = read_head(&Source {
            name: &name,
            text: &text,
        })?;
        heads.insert(head.name.clone(), head);
    }
    Ok(heads)
}

/// The starting clubs in `demo/builds`, by name.
fn builds(here: &Path) -> Result<BTreeMap<String, BuildFile>, Box<dyn Error>> {
    let mut builds = BTreeMap::new();
    for (name, text) in texts(&here.join("builds"))? {
        let build = read_build(&Source {
            name: &name,
            text: &text,
        })?;
        builds.insert(build.name.clone(), build);
    }
    Ok(builds)
}

fn club(build: &BuildFile, heads: &BTreeMap<String, Head>) -> Result<Club, Box<dyn Error>> {
    let text = build.to_toml();
    let source = Source {
        name: &build.name,
        text: &text,
    };
    Ok(build.club(&heads[&build.head], &source)?)
}

/// Names and texts of the files in a folder, sorted.
fn texts(folder: &Path) -> Result<Vec<(String, String)>, Box<dyn Error>> {
    let mut files = Vec::new();
    for entry in fs::read_dir(folder)? {
        let path = entry?.path();
        let name = path.display().to_string();
        files.push((name, fs::read_to_string(&path)?));
    }
    files.sort();
    Ok(files)
}
