//! A season refitted: shots boiled down to summaries, and the fit of these; and the whole command
//! on a log of one million shots in 35,000 sessions of 200 players and 50 heads.
#![allow(missing_docs)] // the macro makes a public function

use criterion::{Criterion, Throughput, criterion_group, criterion_main};
use rayon::prelude::*;
use std::hint::black_box;
use std::time::Duration;
use trimtab::cli::Io;
use trimtab::club::Club;
use trimtab::correction::{FitOptions, Model, Season, SessionSummary, fit, summarise};
use trimtab::flight::Conditions;
use trimtab::physics::Physics;
use trimtab::priors;
use trimtab::quantity::Measured;

#[path = "../tests/stat_common/mod.rs"]
mod stat_common;
use stat_common::log::Log;
use stat_common::season::Plan;
use stat_common::{Noise, build, driver, shots};

const SESSIONS: usize = 3500;
const PLAYERS: usize = 200;
const HEADS: usize = 50;
/// How many of the heads a player plays.
const EACH: usize = 6;

struct Logged {
    player: usize,
    head: usize,
    date: String,
    club: Club,
    shots: Vec<Measured>,
}

/// 100,000 shots; each session with a setting of its own: track, sleeve and hot melt.
fn season(physics: &Physics) -> Vec<Logged> {
    (0..SESSIONS)
        .map(|j| {
            let mut noise = Noise::new(j as u64);
            let mut club = build(driver(), 45.0);
            club.setting.tracks[0].position = noise.uniform();
            club.setting.clock = noise.below(8);
            club.setting.zones[noise.below(3)] = 0.004 * noise.below(3) as f64;
            let player = noise.below(PLAYERS);
            let head = (7 * player + noise.below(EACH)) % HEADS;
            let mut centre = priors::player(&club.head).mean;
            centre[0] += player as f64 * 0.03;
            let n = 28 + usize::from(j % 7 < 4);
            Logged {
                player,
                head,
                date: format!("2026-{:02}-{:02}", 1 + j % 12, 1 + j % 28),
                shots: shots(&club, &centre, n, 1.0, physics, &mut noise),
                club,
            }
        })
        .collect()
}

fn summary(s: &Logged, physics: &Physics) -> SessionSummary {
    let names = [
        format!("s {}", s.player),
        format!("player {:03}", s.player),
        format!("head {:02}", s.head),
    ];
    let names = names.each_ref().map(String::as_str);
    let prior = priors::player(&s.club.head);
    let air = Conditions::default();
    summarise(names, &s.date, &s.shots, &s.club, &prior, physics, &air).expect("a setting")
}

/// Sessions side by side, as the command line does it.
fn summaries(log: &[Logged], physics: &Physics) -> Vec<SessionSummary> {
    log.par_iter().map(|s| summary(s, physics)).collect()
}

fn run(s: &[SessionSummary]) -> Model {
    fit(s, None, Season::default(), 1, &FitOptions::default()).expect("a fit")
}

fn tell(name: &str, model: &Model) {
    for m in &model.responses {
        println!(
            "{name}, {}: {} terms, {} steps, converged {}",
            m.response,
            m.coefficients.len(),
            m.iterations,
            m.converged
        );
    }
}

/// The command itself: reads the log, boils down, fits, scores, tells.
fn refit_command(bench: &str) {
    let args = [
        "trimtab",
        "--bench",
        bench,
        "refit",
        "--season",
        "2026",
        "--dry-run",
    ];
    let (mut out, mut err) = (Vec::new(), Vec::new());
    let mut io = Io {
        stdin: &mut std::io::empty(),
        out: &mut out,
        err: &mut err,
    };
    let code = trimtab::cli::run(args, &mut io, "2026-11-01T09:00:00Z");
    assert_eq!(code, 0, "{}", String::from_utf8_lossy(&err));
}

fn refit(c: &mut Criterion) {
    let physics = Physics::default();
    let log = season(&physics);
    let count: usize = log.iter().map(|s| s.shots.len()).sum();
    assert_eq!(count, 100_000);
    let small = summaries(&log, &physics);
    let mut group = c.benchmark_group("refit");
    group
        .sample_size(10)
        .measurement_time(Duration::from_secs(8));
    group.throughput(Throughput::Elements(count as u64));
    group.bench_function("summaries of 100,000 shots", |b| {
        b.iter(|| summaries(black_box(&log), &physics));
    });
    tell("3,500 sessions", &run(&small));
    group.bench_function("fit of 3,500 sessions", |b| {
        b.iter(|| run(black_box(&small)))
    });
    for (name, each) in [("6 heads a player", EACH), ("50 heads a player", HEADS)] {
        let plan = Plan {
            players: PLAYERS,
            heads: HEADS,
            heads_each: each,
            sessions: 35_000,
            levers: vec![0, 1, 2, 3, 4, 6],
            ..Plan::usual(1)
        };
        let (sessions, _) = plan.simulate();
        // For tests/reference/ridge_time.py.
        if let (EACH, Some(file)) = (each, std::env::var_os("TRIMTAB_ROWS")) {
            std::fs::write(file, serde_json::to_vec(&sessions).expect("numbers")).expect("a file");
        }
        group.throughput(Throughput::Elements(sessions.len() as u64));
        tell(name, &run(&sessions));
        group.bench_function(format!("fit of 35,000 sessions, {name}"), |b| {
            b.iter(|| run(black_box(&sessions)));
        });
    }
    let folder = tempfile::tempdir().expect("a folder");
    let file = folder.path().join("bench.db");
    Log::MILLION.write(&file);
    let bench = file.to_str().expect("a plain path");
    group.throughput(Throughput::Elements(Log::MILLION.shots as u64));
    group.bench_function("1,000,000 shots from the log to the report", |b| {
        b.iter(|| refit_command(black_box(bench)));
    });
    group.finish();
}

criterion_group!(benches, refit);
criterion_main!(benches);
