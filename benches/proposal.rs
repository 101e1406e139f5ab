//! One proposal from words: some 2,700 settings of a driver with 200 deliveries each, all predicted
//! exactly and screened; and a hundred thousand settings, screened.
#![allow(missing_docs)] // the macro makes a public function

use criterion::{Criterion, Throughput, criterion_group, criterion_main};
use std::hint::black_box;
use std::time::Duration;
use trimtab::hand::Hand;
use trimtab::proposal::{Options, propose};

#[path = "../tests/stat_common/mod.rs"]
mod stat_common;
use stat_common::range::Bay;
use stat_common::{build, driver};

const MISS: &str = "starts 2 right, curves 18 right, carries 240, high";

fn proposal(c: &mut Criterion) {
    let bay = Bay::new(build(driver(), 45.0));
    let situation = bay.words(MISS, Hand::Right);
    let p = propose(&situation, &Options::default()).expect("a proposal");
    assert!(p.settings >= 2000 && p.deliveries == 200 && !p.rows.is_empty());
    let exhaustive = Options {
        exhaustive: true,
        ..Options::default()
    };
    let mut fine = Options::default();
    fine.catalogue.track_positions = 501;
    let many = propose(&situation, &fine).expect("a proposal");
    assert!(many.settings > 100_000 && many.predicted < 1200);
    let mut group = c.benchmark_group("proposal");
    group
        .sample_size(10)
        .measurement_time(Duration::from_secs(10));
    for (name, options, settings) in [
        ("exhaustive", exhaustive, p.settings),
        ("screened", Options::default(), p.settings),
        ("screened", fine, many.settings),
    ] {
        group.throughput(Throughput::Elements(settings as u64));
        group.bench_function(format!("{settings} settings, {name}"), |b| {
            b.iter(|| propose(black_box(&situation), &options));
        });
    }
    group.finish();
    let mut group = c.benchmark_group("proposal");
    group
        .sample_size(10)
        .measurement_time(Duration::from_secs(2));
    group.bench_function("situation from words", |b| {
        b.iter(|| bay.words(black_box(MISS), Hand::Right));
    });
    group.finish();
}

criterion_group!(benches, proposal);
criterion_main!(benches);
