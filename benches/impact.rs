//! One impact, and one delivery inferred from what a device tells of one shot.
#![allow(missing_docs)] // the macro makes a public function

use criterion::{Criterion, criterion_group, criterion_main};
use std::hint::black_box;
use std::time::Duration;
use trimtab::delivery::{Reading, infer};
use trimtab::flight::Conditions;
use trimtab::impact::Delivery;
use trimtab::physics::Physics;
use trimtab::priors;

#[path = "../tests/stat_common/mod.rs"]
mod stat_common;
use stat_common::{LAUNCH, driver, seen};

fn impact(c: &mut Criterion) {
    let physics = Physics::default();
    let head = driver();
    let striker = physics
        .striker(&head, &head.reference, &head.reference)
        .expect("own setting");
    let prior = priors::player(&head);
    let delivery = Delivery::from_vector(&(prior.mean + prior.sd * 0.5));
    let swing = striker.swing(&delivery);
    let mut group = c.benchmark_group("impact");
    group
        .sample_size(20)
        .measurement_time(Duration::from_secs(2));
    group.bench_function("one", |b| {
        b.iter(|| {
            striker
                .strike(black_box(&swing), &physics.ball, &physics.impact)
                .launch()
        });
    });
    let range = physics.range(&Conditions::default());
    let m = seen(&delivery, &striker, &physics, &Conditions::default());
    let readings: Vec<Reading> = LAUNCH
        .into_iter()
        .map(|quantity| Reading {
            quantity,
            value: m.get(quantity).expect("seen"),
            sd: quantity
                .info()
                .device_sd
                .hypot(priors::model_error(quantity)),
        })
        .collect();
    group.bench_function("delivery from one launch", |b| {
        b.iter(|| infer(black_box(&readings), &prior, &striker, &physics, &range));
    });
    group.finish();
}

criterion_group!(benches, impact);
criterion_main!(benches);
