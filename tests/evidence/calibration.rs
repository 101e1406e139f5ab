//! Calibration of the learned correction on a thousand simulated seasons: prints the figures that
//! the tests check in small.
//!
//!     cargo run --release --example calibration [-- SEASONS]

#[path = "../stat_common/mod.rs"]
mod stat_common;

use rayon::prelude::*;
use stat_common::calibration::{
    QUANTITIES, World, chi_squared, other_physics, seasons, table, z_of,
};
use statrs::distribution::{ChiSquared, ContinuousCDF};

fn main() {
    let count = (std::env::args().nth(1)).map_or(1000, |n| n.parse().expect("a number of seasons"));
    println!("{count} seasons a table. Coverage of intervals, wanted 50, 80 and 95 %:\n");
    for (world, name) in [
        (World::Model, "drawn from the prior"),
        (World::HeavyTails, "session noise t of 3 degrees of freedom"),
        (World::Changed, "a player who changes in June"),
    ] {
        let all = seasons(count, world);
        println!("{name}");
        for (q, quantity) in QUANTITIES.iter().enumerate() {
            println!("  {}", table(quantity, &z_of(&all, q)));
        }
        if world == World::Model {
            let uniform = ChiSquared::new(19.0).expect("19 degrees of freedom");
            for (q, quantity) in QUANTITIES.iter().enumerate() {
                let ranks: Vec<usize> = all
                    .iter()
                    .filter(|p| p.quantity == q)
                    .map(|p| p.rank)
                    .collect();
                let chi2 = chi_squared(&ranks);
                println!(
                    "  ranks of {quantity}: chi-squared {chi2:.1} of 19, p {:.3}, {} ranks",
                    uniform.sf(chi2),
                    ranks.len()
                );
            }
        }
    }
    println!(
        "other impact and aerodynamics, {} seasons of shots",
        count / 4
    );
    let all: Vec<([f64; 5], f64)> = (0..count as u64 / 4)
        .into_par_iter()
        .map(|s| other_physics(500 + s))
        .collect();
    for (r, name) in trimtab::correction::RESPONSES.iter().enumerate() {
        let z: Vec<f64> = all.iter().map(|a| a.0[r]).collect();
        println!("  {}", table(name, &z));
    }
    let z: Vec<f64> = all.iter().map(|a| a.1).collect();
    println!("  {}", table("offline", &z));
}
