//! The learned correction against dense Gaussian conditioning, and against known effects.

mod stat_common;
use stat_common::dense::Dense;
use stat_common::season::{Plan, json};
use stat_common::*;
use std::collections::HashMap;
use trimtab::club::FEATURES;
use trimtab::correction::{
    FitError, FitOptions, Model, ResponseModel, Season, SessionSummary, Term, Z80, fit,
};
use trimtab::priors;

fn fitted(sessions: &[SessionSummary], prior: Option<&Model>, widening: f64) -> Model {
    let options = FitOptions {
        widening,
        ..FitOptions::default()
    };
    fit(sessions, prior, Season::default(), 1, &options).expect("a fit")
}

/// Largest difference of means and of standard deviations, in standard deviations of the dense
/// path.
fn apart(m: &ResponseModel, d: &Dense) -> (f64, f64) {
    let mut worst = (0.0_f64, 0.0_f64);
    for (k, c) in m.coefficients.iter().enumerate() {
        let sd = d.cov[(k, k)].sqrt();
        worst.0 = worst.0.max((c.mean - d.mean[k]).abs() / sd);
        worst.1 = worst.1.max((c.sd / sd - 1.0).abs());
    }
    worst
}

/// Mean (the least-squares path through linfa) and covariance equal the dense path for the same
/// variance components, to 1e-8 of a standard deviation.
#[test]
fn alt_equals_dense_conditioning() {
    for seed in 0..3 {
        let (sessions, _) = Plan {
            sessions: 120,
            ..Plan::usual(seed)
        }
        .simulate();
        let all: Vec<&SessionSummary> = sessions.iter().collect();
        let model = fitted(&sessions, None, 1.0);
        for (r, m) in model.responses.iter().enumerate() {
            let terms = Dense::terms(m, false);
            let d = Dense::prior(r, &terms, &m.components).given(r, &all, &m.components);
            let (mean, sd) = apart(m, &d);
            println!("{seed} {}: mean {mean:.1e} sd, sd {sd:.1e}", m.response);
            assert!(
                mean < 1e-8 && sd < 1e-8,
                "{} {mean:.1e} {sd:.1e}",
                m.response
            );
            assert!(m.converged, "{}", m.response);
            for i in 0..terms.len() {
                for j in 0..=i {
                    let unit = (d.cov[(i, i)] * d.cov[(j, j)]).sqrt();
                    let off = (m.covariance_of(i, j) - d.cov[(i, j)]).abs() / unit;
                    assert!(off < 1e-8, "{i} {j} {off:.1e}");
                }
            }
        }
    }
}

/// The stated scores are those of fits that really never saw the session, by the dense path.
#[test]
fn alt_scores_equal_leaving_each_session_out() {
    let plan = Plan {
        sessions: 60,
        players: 5,
        ..Plan::usual(4)
    };
    let (mut sessions, _) = plan.simulate();
    // One player on a head with a single session: nothing predicts it, so it is left out.
    sessions[0].player = "alone".into();
    let model = fitted(&sessions, None, 1.0);
    let key = |s: &SessionSummary| (s.player.clone(), s.head.clone());
    let mut number: HashMap<(String, String), usize> = HashMap::new();
    for s in &sessions {
        *number.entry(key(s)).or_default() += 1;
    }
    for (r, m) in model.responses.iter().enumerate() {
        let (mut squares, mut inside, mut n) = ([0.0; 2], 0.0, 0.0);
        for (j, left) in sessions.iter().enumerate() {
            if number[&key(left)] < 2 {
                continue;
            }
            let rest: Vec<&SessionSummary> = (0..sessions.len())
                .filter(|i| *i != j)
                .map(|i| &sessions[i])
                .collect();
            let mut errors = [0.0; 2];
            let mut predicted = 0.0;
            for (k, bare) in [true, false].into_iter().enumerate() {
                let terms = Dense::terms(m, bare);
                let prior = Dense::prior(r, &terms, &m.components);
                let (mean, sd) = prior.foretells(r, left, &rest, &m.components);
                errors[k] = left.mean[r] - mean;
                predicted = sd;
                squares[k] += errors[k].powi(2);
            }
            inside += f64::from(u8::from(errors[1].abs() <= Z80 * predicted));
            n += 1.0;
        }
        let [physics, correction] = squares.map(|s: f64| (s / n).sqrt());
        println!(
            "{}: physics {physics:.4}, correction {correction:.4}",
            m.response
        );
        let close = |a: f64, b: f64| (a / b - 1.0).abs() < 1e-8;
        assert!(
            close(m.score.rmse_physics, physics),
            "{} {physics}",
            m.score.rmse_physics
        );
        assert!(close(m.score.rmse_correction, correction), "{correction}");
        assert_eq!(m.score.sessions as f64, n);
        assert!((m.score.coverage_80 - inside / n).abs() < 1e-12);
    }
    assert!(model.responses[0].score.sessions < sessions.len());
}

fn coefficient<'a>(m: &'a ResponseModel, want: &Term) -> &'a trimtab::correction::Coefficient {
    m.coefficients
        .iter()
        .find(|c| c.term == *want)
        .expect("a term")
}

/// The same sessions in any order give the same bytes.
#[test]
fn inv_order_of_sessions() {
    let (sessions, _) = Plan::usual(8).simulate();
    let want = json(&fitted(&sessions, None, 1.0));
    let mut noise = Noise::new(1);
    for _ in 0..3 {
        let mut shuffled = sessions.clone();
        for i in (1..shuffled.len()).rev() {
            shuffled.swap(i, noise.below(i + 1));
        }
        assert_ne!(shuffled[0].session, sessions[0].session);
        assert!(json(&fitted(&shuffled, None, 1.0)) == want);
    }
}

/// A lever that was never varied keeps its prior: no coefficient, no mean, and the prior's spread,
/// widened by what a player and a head may add.
#[test]
fn inv_an_unvaried_lever_keeps_its_prior() {
    let (sessions, _) = Plan::usual(9).simulate();
    let model = fitted(&sessions, None, 1.0);
    let (never, varied) = (5, 4);
    for (r, m) in model.responses.iter().enumerate() {
        let (mean, cov) = m.local(r, "player 0", "head 0");
        let c = &m.components;
        let scale = priors::response()[r];
        let factor = 1.0 + c.player_factor.powi(2) + c.head_factor.powi(2);
        assert_eq!(mean[never], 0.0);
        assert!((cov[never][never] / (scale[never].powi(2) * factor) - 1.0).abs() < 1e-12);
        assert!(cov[varied][varied] < 0.5 * scale[varied].powi(2) * factor);
    }
}

/// An unknown player's effect is the shared one, and its variance is wider.
#[test]
fn inv_unknown_players_are_less_certain() {
    let (sessions, _) = Plan::usual(10).simulate();
    let model = fitted(&sessions, None, 1.0);
    let change = [2.0, 0.0, 0.0, 4.0, 1.0, 0.0, 0.0];
    let sd = |player: &str, head: &str| model.local(player, head).effect(&change).sd;
    let known = sd("player 1", "head 1");
    for other in [
        sd("nobody", "head 1"),
        sd("player 1", "none"),
        sd("nobody", "none"),
    ] {
        for r in (0..5).filter(|r| model.responses[*r].in_use) {
            assert!(other[r] > known[r], "{r}: {} {}", other[r], known[r]);
        }
    }
    let m = &model.responses[3];
    let feature = FEATURES[0].to_string();
    let shared = coefficient(m, &Term::Shared { feature }).mean;
    assert!((m.local(3, "nobody", "none").0[0] - shared).abs() < 1e-12);
    assert!(model.responses.iter().filter(|m| m.in_use).count() >= 3);
}

#[test]
fn inv_json_round_trip() {
    let (sessions, _) = Plan::usual(11).simulate();
    let model = fitted(&sessions, None, 1.0);
    let text = json(&model);
    let back: Model = serde_json::from_str(&text).expect("its own file");
    assert_eq!(back, model);
    assert_eq!(json(&back), text);
}

#[test]
fn inv_what_is_no_number_is_refused() {
    let (good, _) = Plan::usual(12).simulate();
    for bad in [f64::NAN, f64::INFINITY] {
        for field in 0..4 {
            let mut sessions = good.clone();
            let s = &mut sessions[17];
            [
                &mut s.features[2],
                &mut s.mean[1],
                &mut s.variance[4],
                &mut s.count[0],
            ]
            .into_iter()
            .nth(field)
            .map(|v| *v = bad)
            .expect("a field");
            let e = fit(
                &sessions,
                None,
                Season::default(),
                1,
                &FitOptions::default(),
            );
            assert_eq!(e, Err(FitError::NotFinite("s0017".into())));
        }
    }
    let run = |s: &[SessionSummary], widening| {
        let o = FitOptions {
            widening,
            ..FitOptions::default()
        };
        fit(s, None, Season::default(), 1, &o)
    };
    assert_eq!(run(&[], 1.0), Err(FitError::NoSessions));
    for w in [0.9, f64::NAN, f64::INFINITY] {
        assert!(matches!(run(&good, w), Err(FitError::Option(_))), "{w}");
    }
}
