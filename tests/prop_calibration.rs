//! Calibration in small: the figures in full are printed by the example `calibration`.

mod stat_common;
use rayon::prelude::*;
use stat_common::calibration::{
    QUANTITIES, World, chi_squared, coverage, other_physics, seasons, table, z_of,
};
use statrs::distribution::{ChiSquared, ContinuousCDF};

/// Seasons drawn from the prior, components too: the ranks of the truths are uniform (chi-squared
/// of twenty classes, refused below one in a thousand), and intervals cover what they say to within
/// three standard errors. The components are integrated out approximately only, by a factor that
/// is the same for all effects of a response: what that leaves open is told by the full run.
#[test]
fn prop_ranks_are_uniform_on_the_models_own_seasons() {
    let all = seasons(100, World::Model);
    let uniform = ChiSquared::new(19.0).expect("19 degrees of freedom");
    for (q, quantity) in QUANTITIES.iter().enumerate() {
        println!("{}", table(quantity, &z_of(&all, q)));
        let ranks: Vec<usize> = all
            .iter()
            .filter(|p| p.quantity == q)
            .map(|p| p.rank)
            .collect();
        let p = uniform.sf(chi_squared(&ranks));
        println!("{quantity}: {} ranks, p {p:.3}", ranks.len());
        assert!(p > 1e-3, "{quantity} {p}");
        for ((share, se), want) in coverage(&z_of(&all, q)).into_iter().zip([0.5, 0.8, 0.95]) {
            assert!(
                (share - want).abs() < 3.0 * se,
                "{quantity}: {share} ± {se} for {want}"
            );
        }
    }
}

/// Where the model does not hold, intervals may cover less, but not much: at least 70 % of truths
/// in 80 % intervals with heavy tails; a player who changes in June is the one of whom it is wrong
/// to believe the average (60 %), a new player is foretold as well as before.
#[test]
fn prop_coverage_beyond_the_model() {
    for (world, least) in [
        (World::HeavyTails, [0.7, 0.7, 0.7]),
        (World::Changed, [0.6, 0.7, 0.7]),
    ] {
        let all = seasons(60, world);
        for (q, quantity) in QUANTITIES.iter().enumerate() {
            let z = z_of(&all, q);
            println!("{world:?} {}", table(quantity, &z));
            assert!(coverage(&z)[1].0 > least[q], "{world:?} {quantity}");
        }
    }
}

/// Another impact and another flight than the library's: at least 70 % of true changes of the
/// launch, and of the place of landing, lie in the 80 % interval.
#[test]
fn prop_coverage_under_other_physics() {
    let all: Vec<([f64; 5], f64)> = (0..60_u64)
        .into_par_iter()
        .map(|s| other_physics(500 + s))
        .collect();
    let z: Vec<f64> = all.iter().flat_map(|a| a.0).collect();
    let ground: Vec<f64> = all.iter().map(|a| a.1).collect();
    println!("{}\n{}", table("launch", &z), table("offline", &ground));
    assert!(coverage(&z)[1].0 > 0.7);
    assert!(coverage(&ground)[1].0 > 0.7);
}
