//! The learned correction against dense Gaussian conditioning, and against known effects.

mod stat_common;
use nalgebra::DVector;
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

/// Without reweighting: the dense path knows none.
fn normal(sessions: &[SessionSummary]) -> Model {
    let options = FitOptions {
        heavy_tails: false,
        ..FitOptions::default()
    };
    fit(sessions, None, Season::default(), 1, &options).expect("a fit")
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
        let model = normal(&sessions);
        let learned = model.learned();
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
            // All that a player's levers do, together with their covariances.
            for pair in &m.posterior.pairs {
                let (mean, cov) = d.local(r, &pair.player, &pair.head, &m.components);
                let local = learned.local_of_all(&pair.player, &pair.head);
                for change in [
                    [1.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0],
                    [2.0, 0.0, 0.0, -6.0, 1.0, 0.0, 0.0],
                ] {
                    let x = DVector::from_row_slice(&change);
                    let effect = local.effect(&change);
                    let sd = (x.dot(&(&cov * &x))).sqrt();
                    assert!((effect.mean[r] - x.dot(&mean)).abs() < 1e-8 * sd);
                    assert!((effect.sd[r] / (sd * m.inflation.sqrt()) - 1.0).abs() < 1e-8);
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
    let model = normal(&sessions);
    let key = |s: &SessionSummary| (s.player.clone(), s.head.clone());
    let mut number: HashMap<(String, String), usize> = HashMap::new();
    for s in &sessions {
        *number.entry(key(s)).or_default() += 1;
    }
    for (r, m) in model.responses.iter().enumerate() {
        let (mut squares, mut logs, mut inside, mut n) = ([0.0; 3], [0.0; 3], 0.0, 0.0);
        let rivals = [
            (m.physics_components, m.score.physics),
            (m.pooled_components, m.score.pooled),
            (m.components, m.score.correction),
        ];
        for (j, left) in sessions.iter().enumerate() {
            if number[&key(left)] < 2 {
                continue;
            }
            let rest: Vec<&SessionSummary> = (0..sessions.len())
                .filter(|i| *i != j)
                .map(|i| &sessions[i])
                .collect();
            for (k, (c, _)) in rivals.iter().enumerate() {
                let mut terms = Dense::terms(m, k == 0);
                if k == 1 {
                    terms.retain(|t| !matches!(t, Term::Player { .. } | Term::Build { .. }));
                }
                let (mean, sd) = Dense::prior(r, &terms, c).foretells(r, left, &rest, c);
                let error = left.mean[r] - mean;
                squares[k] += error.powi(2);
                logs[k] += -0.5 * ((error / sd).powi(2) + (std::f64::consts::TAU * sd * sd).ln());
                if k == 2 {
                    inside += f64::from(u8::from(error.abs() <= Z80 * sd));
                }
            }
            n += 1.0;
        }
        let close = |a: f64, b: f64| (a / b - 1.0).abs() < 1e-7;
        for (k, (_, score)) in rivals.iter().enumerate() {
            let (rmse, log) = ((squares[k] / n).sqrt(), logs[k] / n);
            println!("{} {k}: rmse {rmse:.4}, log score {log:.4}", m.response);
            assert!(close(score.rmse, rmse), "{} {rmse}", score.rmse);
            assert!(close(score.log_score, log), "{} {log}", score.log_score);
        }
        assert_eq!(m.score.sessions as f64, n);
        assert!((m.score.correction.coverage[1] - inside / n).abs() < 1e-12);
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
/// widened by what a player and a head may add and by the stated factor.
#[test]
fn inv_an_unvaried_lever_keeps_its_prior() {
    let (sessions, _) = Plan::usual(9).simulate();
    let model = fitted(&sessions, None, 1.0);
    let pair = &model.responses[0].posterior.pairs[0];
    let local = model.learned().local_of_all(&pair.player, &pair.head);
    let (never, varied) = (5, 4);
    let unit = |f: usize| std::array::from_fn(|i| f64::from(u8::from(i == f)));
    for (r, m) in model.responses.iter().enumerate() {
        let c = &m.components;
        let scale = priors::response()[r];
        let factor = 1.0 + c.player_factor.powi(2) + c.head_factor.powi(2) + c.build_factor.powi(2);
        let factor = factor * m.inflation;
        let (idle, moved) = (local.effect(&unit(never)), local.effect(&unit(varied)));
        assert!(idle.mean[r].abs() < 1e-12 * scale[never]);
        let prior = scale.map(|s| s * factor.sqrt());
        let ratio = idle.sd[r] / prior[never];
        assert!((ratio - 1.0).abs() < 1e-9, "{ratio}");
        assert!(moved.sd[r] < 0.7 * prior[varied]);
    }
    assert!(
        model
            .data
            .never_moved
            .contains(&FEATURES[never].to_string())
    );
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
    let nobody = model.learned().local_of_all("nobody", "none");
    let one = nobody.effect(&[1.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0]).mean[3];
    assert!((one - shared).abs() < 1e-8, "{one} {shared}");
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
