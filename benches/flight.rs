//! One flight, and a batch of 100,000 on all threads, with both precisions for the one.
#![allow(missing_docs)] // the macro makes a public function

use criterion::{Criterion, Throughput, criterion_group, criterion_main};
use std::hint::black_box;
use std::time::Duration;
use trimtab::flight::{Conditions, Flights, Launches, Precision};
use trimtab::launch::Launch;
use trimtab::physics::Physics;
use trimtab::units::{DEG, RPM};

/// Driver launches spread about a usual one by an additive recurrence.
fn launch(i: usize) -> Launch {
    let part = |root: f64| ((i + 1) as f64 * root).fract() - 0.5;
    Launch {
        ball_speed: 68.0 + 8.0 * part(2.0_f64.sqrt()),
        launch_angle: (13.0 + 6.0 * part(3.0_f64.sqrt())) * DEG,
        launch_direction: 8.0 * part(5.0_f64.sqrt()) * DEG,
        spin_rate: (2700.0 + 1500.0 * part(7.0_f64.sqrt())) * RPM,
        spin_axis: 30.0 * part(11.0_f64.sqrt()) * DEG,
    }
}

fn flight(c: &mut Criterion) {
    let physics = Physics::default();
    let range = physics.range(&Conditions::default());
    let tight = range.clone().precision(Precision::Tight);
    let mut group = c.benchmark_group("flight");
    group
        .sample_size(20)
        .measurement_time(Duration::from_secs(3));
    group.bench_function("one", |b| b.iter(|| range.fly(black_box(&launch(7)))));
    group.bench_function("one tight", |b| b.iter(|| tight.fly(black_box(&launch(7)))));
    let launches: Vec<Launch> = (0..100_000).map(launch).collect();
    let launches: Launches = launches.iter().collect();
    let mut flights = Flights::default();
    group.throughput(Throughput::Elements(100_000));
    group.bench_function("100,000 at once", |b| {
        b.iter(|| range.fly_all(black_box(&launches), &mut flights));
    });
    group.finish();
}

criterion_group!(benches, flight);
criterion_main!(benches);
