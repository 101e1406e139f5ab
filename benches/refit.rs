//! A season refitted: 100,000 shots in 3,500 sessions of 20 players and 10 heads, boiled down to
//! summaries, and the fit of these.
#![allow(missing_docs)] // the macro makes a public function

use criterion::{Criterion, Throughput, criterion_group, criterion_main};
use std::hint::black_box;
use std::time::Duration;
use trimtab::club::Club;
use trimtab::correction::{FitOptions, Season, SessionSummary, fit, summarise};
use trimtab::flight::Conditions;
use trimtab::physics::Physics;
use trimtab::priors;
use trimtab::quantity::Measured;

#[path = "../tests/stat_common/mod.rs"]
mod stat_common;
use stat_common::{Noise, build, driver, shots};

const SESSIONS: usize = 3500;

struct Logged {
    names: [String; 3],
    date: String,
    club: Club,
    shots: Vec<Measured>,
}

/// Each session with a setting of its own: track, sleeve and hot melt.
fn season(physics: &Physics) -> Vec<Logged> {
    (0..SESSIONS)
        .map(|j| {
            let mut noise = Noise::new(j as u64);
            let mut club = build(driver(), 45.0);
            club.setting.tracks[0].position = noise.uniform();
            club.setting.clock = noise.below(8);
            club.setting.zones[noise.below(3)] = 0.004 * noise.below(3) as f64;
            let (player, head) = (noise.below(20), noise.below(10));
            let mut centre = priors::player(&club.head).mean;
            centre[0] += player as f64 * 0.3;
            let n = 28 + usize::from(j % 7 < 4); // 100,000 in all
            Logged {
                names: [
                    format!("s{j}"),
                    format!("player {player}"),
                    format!("head {head}"),
                ],
                date: format!("2026-{:02}-{:02}", 1 + j % 12, 1 + j % 28),
                shots: shots(&club, &centre, n, 1.0, physics, &mut noise),
                club,
            }
        })
        .collect()
}

/// One after the other, as the command line does it.
fn summaries(log: &[Logged], physics: &Physics) -> Vec<SessionSummary> {
    log.iter()
        .map(|s| {
            let names = [
                s.names[0].as_str(),
                s.names[1].as_str(),
                s.names[2].as_str(),
            ];
            let prior = priors::player(&s.club.head);
            let air = Conditions::default();
            summarise(names, &s.date, &s.shots, &s.club, &prior, physics, &air).expect("a setting")
        })
        .collect()
}

fn refit(c: &mut Criterion) {
    let physics = Physics::default();
    let log = season(&physics);
    let count: usize = log.iter().map(|s| s.shots.len()).sum();
    assert_eq!(count, 100_000);
    let small = summaries(&log, &physics);
    let run = |s: &[SessionSummary]| {
        fit(s, None, Season::default(), 1, &FitOptions::default()).expect("a fit")
    };
    let model = run(&small);
    for m in &model.responses {
        let n = m.coefficients.len();
        println!(
            "{}: {n} terms, {} iterations, converged {}",
            m.response, m.iterations, m.converged
        );
    }
    let mut group = c.benchmark_group("refit");
    group
        .sample_size(10)
        .measurement_time(Duration::from_secs(8));
    group.throughput(Throughput::Elements(count as u64));
    group.bench_function("summaries of 100,000 shots", |b| {
        b.iter(|| summaries(black_box(&log), &physics));
    });
    group.bench_function("fit of 3,500 sessions", |b| {
        b.iter(|| run(black_box(&small)))
    });
    group.finish();
}

criterion_group!(benches, refit);
criterion_main!(benches);
