//! The learned correction against known effects: what was put in comes back, nothing from nothing.

mod stat_common;
use stat_common::season::{Plan, SESSION_SD, Truth};
use stat_common::*;
use trimtab::club::FEATURES;
use trimtab::correction::{Components, FitOptions, Model, Season, SessionSummary, Term, fit};

fn fitted(sessions: &[SessionSummary], prior: Option<&Model>, widening: f64) -> Model {
    let options = FitOptions {
        widening,
        ..FitOptions::default()
    };
    fit(sessions, prior, Season::default(), 1, &options).expect("a fit")
}

/// Known effects come back with honest errors: over 20 seasons whose effects are drawn from the
/// model's own prior, the squared error in units of the stated standard deviation averages 1. Terms
/// of one season hang together, so the standard error is taken over seasons; 3 of those allowed,
/// and the effects must be learned: a stated standard deviation below half of the prior's.
#[test]
fn ref_known_effects_come_back() {
    let mut by_kind: [Vec<f64>; 4] = Default::default();
    let mut learned = Vec::new();
    for seed in 0..20 {
        let plan = Plan::usual(100 + seed);
        let (sessions, truths) = plan.simulate();
        let model = fitted(&sessions, None, 1.0);
        let mut z2: [Vec<f64>; 4] = Default::default();
        for (r, m) in model.responses.iter().enumerate() {
            for (k, &f) in plan.levers.iter().enumerate() {
                let Truth {
                    shared,
                    player,
                    head,
                    build,
                } = &truths[r][k];
                let feature = FEATURES[f].to_string();
                let mut add = |kind: usize, term: Term, truth: f64| {
                    // Not every player has moved every lever on every head.
                    let known = |c: &&trimtab::correction::Coefficient| c.term == term;
                    let Some(c) = m.coefficients.iter().find(known) else {
                        assert_eq!(kind, 3, "no {term:?}");
                        return;
                    };
                    z2[kind].push(((c.mean - truth) / c.sd).powi(2));
                    if kind == 0 {
                        learned.push(c.sd / c.prior_sd);
                    }
                };
                add(
                    0,
                    Term::Shared {
                        feature: feature.clone(),
                    },
                    *shared,
                );
                for (p, t) in player.iter().enumerate() {
                    let (player, feature) = (format!("player {p}"), feature.clone());
                    add(1, Term::Player { player, feature }, *t);
                }
                for (h, t) in head.iter().enumerate() {
                    let (head, feature) = (format!("head {h}"), feature.clone());
                    add(2, Term::Head { head, feature }, *t);
                }
                for (p, h, t) in (build.iter().enumerate())
                    .flat_map(|(p, row)| row.iter().enumerate().map(move |(h, t)| (p, h, t)))
                {
                    let term = Term::Build {
                        player: format!("player {p}"),
                        head: format!("head {h}"),
                        feature: feature.clone(),
                    };
                    add(3, term, *t);
                }
            }
        }
        for (kind, v) in z2.iter().enumerate() {
            by_kind[kind].push(mean_se(v).0);
        }
    }
    for (kind, v) in ["shared", "player", "head", "build"]
        .into_iter()
        .zip(&by_kind)
    {
        let (mean, se) = mean_se(v);
        println!("{kind}: mean squared z {mean:.3} +- {se:.3}, wanted 1");
        assert!((mean - 1.0).abs() < 3.0 * se, "{kind}: {mean} {se}");
    }
    let (ratio, _) = mean_se(&learned);
    println!("shared effects: stated sd {ratio:.2} of the prior's");
    assert!(ratio < 0.6, "{ratio}");
}

/// EM finds the spread from session to session that was put in, within 15 %: some 230 degrees of
/// freedom shared with shot noise of the same size (relative standard error of a spread from half
/// the variance: about 2/sqrt(2*230) = 9 %; averaged over the five responses 4 %).
#[test]
fn ref_session_spread_comes_back() {
    let (sessions, _) = Plan::usual(7).simulate();
    let model = fitted(&sessions, None, 1.0);
    let ratio = |of: fn(&Components) -> f64, truth: f64| -> Vec<f64> {
        let pairs = model.responses.iter().zip(SESSION_SD);
        pairs
            .map(|(m, s)| of(&m.components) / (truth * s))
            .collect()
    };
    // The season's truth: a day adds one unit, a session within the day half of one.
    let visits = ratio(|c| c.visit_sd, 1.0);
    let ratios = ratio(|c| c.session_sd, 0.5);
    let shots: Vec<f64> = model
        .responses
        .iter()
        .zip(SESSION_SD)
        .map(|(m, s)| m.components.shot_sd / (4.0 * s))
        .collect();
    println!("visits over truth {visits:.3?}, sessions {ratios:.3?}, shots {shots:.3?}");
    assert!((mean_se(&visits).0 - 1.0).abs() < 0.15, "{visits:?}");
    assert!((mean_se(&ratios).0 - 1.0).abs() < 0.15, "{ratios:?}");
    assert!((mean_se(&shots).0 - 1.0).abs() < 0.05, "{shots:?}");
}

/// A season without any effect, many times: how often a response is put in use all the same. "More
/// than one standard error" is a one-sided level of 15.9 % for a fair coin of normal gains;
/// shrinkage must keep the rate below it.
#[test]
fn ref_nothing_is_learned_from_nothing() {
    let mut used = 0.0;
    for seed in 0..200 {
        let (sessions, _) = Plan {
            strength: 0.0,
            sessions: 60,
            ..Plan::usual(1000 + seed)
        }
        .simulate();
        let model = fitted(&sessions, None, 1.0);
        used += model.responses.iter().filter(|m| m.in_use).count() as f64;
    }
    let rate = used / 1000.0;
    println!(
        "in use without any effect: {:.1} % of responses",
        100.0 * rate
    );
    assert!(rate < 0.159, "{rate}");
}

/// With real effects of the prior's size nearly every response is in use.
#[test]
fn ref_something_is_learned_from_something() {
    let mut used = 0;
    for seed in 0..10 {
        let model = fitted(&Plan::usual(500 + seed).simulate().0, None, 1.0);
        used += model.responses.iter().filter(|m| m.in_use).count();
    }
    println!("in use with effects: {used} of 50");
    assert!(used >= 45, "{used}");
}
