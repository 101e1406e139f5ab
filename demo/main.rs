//! The demo: one season of an invented workshop, from a player's miss to a refit and a job card.
//!
//! `cargo run --release --example demo` runs the program's own commands, one after the other, in a
//! fresh folder `target/demo`, and prints what they print. Everything is invented; the shots come
//! from a seeded generator whose hidden truth differs from the model. See `demo/README.md`.

mod generator;
mod season;
mod shell;

use generator::{Day, Device, Dirt, PlayerTruth, Weather};
use season::Session;
use shell::Shell;
use std::collections::BTreeMap;
use std::error::Error;
use std::path::Path;
use trimtab::bench::Bench;

type Outcome = Result<(), Box<dyn Error>>;

fn main() -> Outcome {
    let demo = Path::new(env!("CARGO_MANIFEST_DIR")).join("demo");
    let mut sh =
        Shell::in_fresh_folder(&Path::new(env!("CARGO_MANIFEST_DIR")).join("target/demo"))?;
    let players: BTreeMap<&str, PlayerTruth> = generator::truths()
        .into_iter()
        .map(|p| (p.name, p))
        .collect();
    let sessions = season::sessions();

    sh.say("An invented season. Players, heads, devices and shots are made up.");
    sh.title("1. The bench");
    sh.now("2026-03-02T07:30:00Z");
    sh.run(&["new"])?;
    for what in ["head", "player", "build"] {
        add_all(&mut sh, &demo, what)?;
    }
    sh.run(&["list", "heads"])?;

    sh.title("2. Monday morning: it leaks right");
    first_job(&mut sh, &players, &sessions)?;

    sh.title("3. No shots yet, only words");
    sh.run(&[
        "propose",
        "--build",
        "silas-driver",
        "--miss",
        "starts 5 right, curves 15 right, carries 205",
        "--rows",
        "2",
        "--dry-run",
    ])?;

    sh.title("4. The season goes on");
    rest_of_season(&mut sh, &players, &sessions)?;

    sh.title("5. What the season taught");
    sh.now("2026-10-01T18:00:00Z");
    sh.run(&["refit", "--season", "2026"])?;

    sh.title("6. October: a left-handed fader, with what was learned");
    next_visit(&mut sh, &players)?;

    sh.title("7. Three times no");
    refusals(&mut sh, &players)?;

    sh.say("");
    sh.say("The bench, the shots and the job card are in target/demo: go on from there.");
    Ok(())
}

/// Adds all description files of a folder; says how many.
fn add_all(sh: &mut Shell, demo: &Path, what: &str) -> Outcome {
    let folder = demo.join(format!("{what}s"));
    let mut files = Vec::new();
    for entry in std::fs::read_dir(&folder)? {
        files.push(entry?.path().display().to_string());
    }
    files.sort();
    let mut words = vec!["add", what];
    words.extend(files.iter().map(String::as_str));
    sh.quiet(&words)?;
    sh.say(&format!(
        "$ trimtab add {what} {what}s/*.toml\n{} added",
        files.len()
    ));
    Ok(())
}

/// Writes the shots of a session and logs them.
fn log(sh: &mut Shell, players: &BTreeMap<&str, PlayerTruth>, s: &Session, loud: bool) -> Outcome {
    let csv = shots(players, s.player, &s.build(), &s.day(), s.dirt)?;
    let file = format!("{}.csv", s.id());
    sh.write(&file, &csv)?;
    sh.now(&format!("{}T09:00:00Z", s.date));
    let w = s.weather;
    let numbers = [
        w.celsius,
        w.hpa,
        w.humidity,
        w.toward_right,
        w.toward_target,
    ]
    .map(|v| v.to_string());
    let build = s.build();
    let words = [
        "log",
        &file,
        "--build",
        &build,
        "--date",
        s.date,
        "--temperature-c",
        &numbers[0],
        "--pressure-hpa",
        &numbers[1],
        "--humidity-percent",
        &numbers[2],
        "--wind-toward-right-m-s",
        &numbers[3],
        "--wind-toward-target-m-s",
        &numbers[4],
    ];
    if loud {
        return sh.run(&words);
    }
    if sh.quiet(&words).is_ok() {
        return Ok(());
    }
    // Refused: show it, and bring the mended file.
    sh.expect_refusal(&words)?;
    sh.write(
        &file,
        &shots(players, s.player, &s.build(), &s.day(), Dirt::Clean)?,
    )?;
    sh.say("The export is mended and logged:");
    sh.run(&words)
}

/// The true world's shots with a build that is in the bench.
fn shots(
    players: &BTreeMap<&str, PlayerTruth>,
    player: &str,
    build: &str,
    day: &Day,
    dirt: Dirt,
) -> Result<String, Box<dyn Error>> {
    let (_, club) = Bench::open(Path::new("bench.trimtab"))?.build(build)?;
    let truth = generator::truth();
    let (head, p) = (&club.head, &players[player]);
    let shots = generator::session(&truth, p, head, &club.setting, &head.reference, day)?;
    Ok(generator::to_csv(&shots, day.device, dirt))
}

/// The first visit of the season, step by step.
fn first_job(sh: &mut Shell, players: &BTreeMap<&str, PlayerTruth>, season: &[Session]) -> Outcome {
    log(sh, players, &season[0], true)?;
    sh.run(&[
        "tendency",
        "--player",
        "Ines Varlund",
        "--build",
        "ines-driver",
    ])?;
    sh.run(&[
        "propose",
        "--build",
        "ines-driver",
        "--hold-swing-weight-points",
        "0.5",
        "--rows",
        "3",
    ])?;
    sh.say("The technician takes the simplest step first: the slider, toward the heel.");
    sh.run(&["whatif", "--build", "ines-driver", "--set", "heel-toe=20%"])?;
    sh.run(&[
        "rebuild",
        "--build",
        "ines-driver",
        "--as",
        "ines-driver-2",
        "--set",
        "heel-toe=20%",
    ])?;
    log(sh, players, &season[1], true)?;
    sh.run(&["check", "--build", "ines-driver-2"])
}

/// All other sessions, quietly; what the import refuses is shown.
fn rest_of_season(
    sh: &mut Shell,
    players: &BTreeMap<&str, PlayerTruth>,
    season: &[Session],
) -> Outcome {
    let mut logged = 2;
    for s in &season[2..] {
        let known = Bench::open(Path::new("bench.trimtab"))?
            .build(&s.build())
            .is_ok();
        if !known {
            sh.now(&format!("{}T08:30:00Z", s.date));
            let base = Bench::open(Path::new("bench.trimtab"))?.build(s.base)?.0;
            let file = format!("{}.toml", s.build());
            sh.write(&file, &s.build_file(&base).to_toml())?;
            sh.quiet(&["add", "build", &file])?;
        }
        log(sh, players, s, false)?;
        logged += 1;
    }
    sh.say(&format!("\n{logged} sessions are in the log."));
    sh.run(&["list", "sessions", "--player", "Maren Osterfjell"])
}

/// A visit after the refit: propose, change, shoot, check, file.
fn next_visit(sh: &mut Shell, players: &BTreeMap<&str, PlayerTruth>) -> Outcome {
    let who = "Anselm Tarrowick";
    let weather = Weather {
        celsius: 13.0,
        hpa: 1012.0,
        humidity: 70.0,
        toward_right: 0.0,
        toward_target: 0.0,
    };
    let day = |seed| Day {
        seed,
        visit_seed: 6,
        shots: 24,
        device: Device::Owlpost,
        weather,
    };
    let build = "anselm-spare-driver-2";
    sh.now("2026-10-06T09:00:00Z");
    sh.write(
        "october-before.csv",
        &shots(players, who, build, &day(61), Dirt::Clean)?,
    )?;
    sh.run(&[
        "log",
        "october-before.csv",
        "--build",
        build,
        "--temperature-c",
        "13",
    ])?;
    sh.say("Bare physics first, then with the learned correction:");
    sh.run(&[
        "propose",
        "--build",
        build,
        "--no-correction",
        "--rows",
        "1",
        "--reversible",
        "--dry-run",
    ])?;
    sh.run(&["propose", "--build", build, "--rows", "3", "--reversible"])?;
    let id = Bench::open(Path::new("bench.trimtab"))?
        .latest_proposal(Some(who))?
        .id
        .to_string();
    sh.run(&[
        "rebuild",
        "--build",
        build,
        "--as",
        "anselm-october",
        "--proposal",
        &id,
        "--row",
        "1",
        "--note",
        "Invented.",
    ])?;
    sh.write(
        "october-after.csv",
        &shots(players, who, "anselm-october", &day(62), Dirt::Clean)?,
    )?;
    sh.run(&[
        "log",
        "october-after.csv",
        "--build",
        "anselm-october",
        "--temperature-c",
        "13",
    ])?;
    sh.run(&["check", "--build", "anselm-october"])?;
    sh.run(&["card", "--build", "anselm-october"])?;
    sh.run(&[
        "card",
        "--build",
        "anselm-october",
        "--html",
        "anselm-october.html",
    ])
}

/// Within noise, too few shots, not the club.
fn refusals(sh: &mut Shell, players: &BTreeMap<&str, PlayerTruth>) -> Outcome {
    let weather = Weather {
        celsius: 20.0,
        hpa: 1013.0,
        humidity: 50.0,
        toward_right: 0.0,
        toward_target: 0.0,
    };
    let day = |seed, shots| Day {
        seed,
        visit_seed: 7,
        shots,
        device: Device::Glowtent,
        weather,
    };
    sh.now("2026-10-07T09:00:00Z");
    let few = shots(
        players,
        "Petra Lindwarp",
        "petra-driver-4",
        &day(71, 5),
        Dirt::Clean,
    )?;
    sh.write("five-shots.csv", &few)?;
    sh.run(&["log", "five-shots.csv", "--build", "petra-driver-4"])?;
    sh.run(&["propose", "--build", "petra-driver-4"])?;
    sh.run(&[
        "propose",
        "--build",
        "noor-driver-3",
        "--miss",
        "curves 2 right, carries 225",
        "--dry-run",
    ])?;
    sh.run(&[
        "propose",
        "--build",
        "noor-wedge",
        "--miss",
        "starts 25 right, carries 100",
        "--rows",
        "1",
        "--dry-run",
    ])
}
