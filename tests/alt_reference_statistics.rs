//! Robust summary and partially pooled regression against general-purpose libraries: fixtures by
//! the scripts in tests/reference.

mod reference_common;
use nalgebra::SVector;
use reference_common::*;
use serde::Deserialize;
use trimtab::correction::{
    Components, Effects, FitOptions, Model, ResponseModel, Score, Season, SessionSummary, Term, fit,
};
use trimtab::robust::{CONSISTENCY, mad, median_of, outliers, summary};

#[derive(Deserialize)]
struct RobustFit {
    centre: Vec<f64>,
    covariance: Vec<Vec<f64>>,
    weights: Vec<f64>,
    distances: Vec<f64>,
    effective: f64,
}

#[derive(Deserialize)]
struct RobustCase {
    rows: Vec<Vec<f64>>,
    excluded: Vec<bool>,
    prior_sd: Vec<f64>,
    fit: RobustFit,
    mad: Vec<f64>,
    gross: Vec<bool>,
}

struct RobustWorst {
    centre: Worst,
    scatter: Worst,
    weights: Worst,
    distances: Worst,
    effective: Worst,
}

fn robust_case<const P: usize>(c: &RobustCase, i: usize, w: &mut RobustWorst) {
    let rows: Vec<SVector<f64, P>> = c
        .rows
        .iter()
        .map(|r| SVector::from_fn(|k, _| r[k]))
        .collect();
    let prior = SVector::<f64, P>::from_fn(|k, _| c.prior_sd[k]);
    let got = summary(&rows, &c.excluded, &prior).expect("rows");
    assert!(got.converged, "{i}");
    for k in 0..P {
        let unit = c.prior_sd[k];
        w.centre.see((got.centre[k] - c.fit.centre[k]) / unit, i);
        for l in 0..P {
            let size = unit * c.prior_sd[l];
            w.scatter
                .see((got.covariance[(k, l)] - c.fit.covariance[k][l]) / size, i);
        }
    }
    for (r, (g, want)) in got.weights.iter().zip(&c.fit.weights).enumerate() {
        w.weights.see(g - want, i);
        let want = c.fit.distances[r];
        w.distances
            .see((got.distances[r] - want) / want.max(1.0), i);
    }
    w.effective.relative(got.effective, c.fit.effective, i);
}

#[test]
fn alt_robust_equals_optimised_posterior() {
    #[derive(Deserialize)]
    struct File {
        cases: Vec<RobustCase>,
        consistency: [f64; 6],
    }
    let file: File = fixture("robust");
    const EM: &str = "EM stops at steps of 1e-9 of the prior spread and converges at a steady rate";
    let mut w = RobustWorst {
        centre: Worst::new("centre, in prior spreads", 1e-7, EM),
        scatter: Worst::new("scatter, in prior variances", 1e-7, EM),
        weights: Worst::new("weights", 1e-7, EM),
        distances: Worst::new("distances", 1e-7, EM),
        effective: Worst::new("effective rows", 1e-7, EM),
    };
    let mut deviations = Worst::new("MAD", 1e-11, "12 digits in the fixture");
    let mut consistency = Worst::new("consistency", 1e-10, "10 decimals");
    let mut gross = 0;
    for (i, c) in file.cases.iter().enumerate() {
        match c.prior_sd.len() {
            1 => robust_case::<1>(c, i, &mut w),
            2 => robust_case::<2>(c, i, &mut w),
            4 => robust_case::<4>(c, i, &mut w),
            p => panic!("{p} columns"),
        }
        let kept: Vec<usize> = (0..c.rows.len()).filter(|&r| !c.excluded[r]).collect();
        let mut far = vec![false; kept.len()];
        for (k, &want) in c.mad.iter().enumerate() {
            let column: Vec<f64> = kept.iter().map(|&r| c.rows[r][k]).collect();
            let centre = median_of(&mut column.clone()).expect("rows");
            let got = mad(&column, centre).expect("rows");
            deviations.see((got - want) / want.max(1e-3), i);
            for (f, out) in far.iter_mut().zip(outliers(&column, c.prior_sd[k], false)) {
                *f |= out;
            }
        }
        if far.iter().filter(|f| **f).count() * 2 <= far.len() {
            assert_eq!(far, c.gross, "{i}");
            gross += far.iter().filter(|f| **f).count();
        }
    }
    for (p, want) in file.consistency.iter().enumerate() {
        consistency.see(CONSISTENCY[p] - want, p + 1);
    }
    for worst in [
        &w.centre,
        &w.scatter,
        &w.weights,
        &w.distances,
        &w.effective,
    ] {
        worst.check(120);
    }
    deviations.check(120);
    consistency.check(6);
    assert!(gross > 20, "only {gross} gross outliers");
}

#[derive(Deserialize)]
struct Answer {
    terms: Vec<Term>,
    mean: Vec<f64>,
    #[serde(default)]
    sd: Vec<f64>,
    #[serde(default)]
    prior_sd: Vec<f64>,
    #[serde(default)]
    covariance: Vec<Vec<f64>>,
    score: Option<Score>,
}

#[derive(Deserialize)]
struct GivenCase {
    components: [Components; 5],
    first: Vec<SessionSummary>,
    first_responses: Vec<Answer>,
    second: Vec<SessionSummary>,
    widening: f64,
    second_responses: Vec<Answer>,
}

#[derive(Deserialize)]
struct EstimatedCase {
    sessions: Vec<SessionSummary>,
    components: [Components; 5],
    responses: Vec<Answer>,
}

#[derive(Deserialize)]
struct Mixed {
    sessions: Vec<SessionSummary>,
    lever: usize,
    response: usize,
    slopes: Vec<f64>,
    player_sd: f64,
    visit_sd: f64,
    residual_sd: f64,
}

#[derive(Deserialize)]
struct RidgeCase {
    sessions: Vec<SessionSummary>,
    components: [Components; 5],
    responses: Vec<Answer>,
}

#[derive(Deserialize)]
struct Regression {
    cases: Vec<GivenCase>,
    estimated: Vec<EstimatedCase>,
    mixed: Mixed,
    ridge: RidgeCase,
}

fn fitted(
    sessions: &[SessionSummary],
    prior: Option<&Model>,
    fixed: Option<&[Components; 5]>,
    widening: f64,
) -> Model {
    let options = FitOptions {
        widening,
        fixed: fixed.copied(),
        heavy_tails: false,
        ..FitOptions::default()
    };
    fit(sessions, prior, Season::default(), 1, &options).expect("a fit")
}

/// Means and standard deviations, in standard deviations.
fn compare(got: &ResponseModel, want: &Answer, mean: &mut Worst, sd: &mut Worst) {
    assert_eq!(got.coefficients.len(), want.terms.len(), "{}", got.response);
    for (k, term) in want.terms.iter().enumerate() {
        let c = got
            .coefficients
            .iter()
            .find(|c| c.term == *term)
            .unwrap_or_else(|| panic!("no {term:?}"));
        let at = format!("{} {term:?}", got.response);
        let unit = want.sd.get(k).copied().unwrap_or(c.sd);
        mean.see((c.mean - want.mean[k]) / unit, &at);
        if let Some(&s) = want.sd.get(k) {
            sd.relative(c.sd, s, &at);
        }
        if let Some(&s) = want.prior_sd.get(k) {
            sd.relative(c.prior_sd, s, &at);
        }
    }
}

/// Covariance of what two levers do for a player with a head, if the data speak of both: the sum
/// over all terms that have a part in them.
fn summed(want: &Answer, (player, head): (&str, &str), f: usize, g: usize) -> Option<f64> {
    let places = |f: usize| {
        let feature = trimtab::club::FEATURES[f].to_string();
        let (player, head) = (player.to_string(), head.to_string());
        let terms = [
            Term::Shared {
                feature: feature.clone(),
            },
            Term::Player {
                player: player.clone(),
                feature: feature.clone(),
            },
            Term::Head {
                head: head.clone(),
                feature: feature.clone(),
            },
            Term::Build {
                player,
                head,
                feature,
            },
        ];
        let place = |t: &Term| want.terms.iter().position(|u| u == t);
        terms.iter().map(place).collect::<Option<Vec<usize>>>()
    };
    let (a, b) = (places(f)?, places(g)?);
    Some(
        (a.iter().flat_map(|i| b.iter().map(move |j| (i, j))))
            .map(|(i, j)| want.covariance[*i][*j])
            .sum(),
    )
}

const SAME: &str = "one problem, two ways to solve it";

#[test]
fn alt_regression_equals_dense_conditioning() {
    let file: Regression = fixture("regression");
    let mut mean = Worst::new("means, in their sd", 1e-6, SAME);
    let mut sd = Worst::new("standard deviations", 1e-6, SAME);
    let mut covariance = Worst::new("covariances, in sd", 1e-6, SAME);
    let mut score = Worst::new("held-out score", 1e-6, "leaving out by formula and by hand");
    let mut next = Worst::new("next season's means, in their sd", 1e-6, SAME);
    let mut next_sd = Worst::new("next season's sd", 1e-6, SAME);
    for (i, c) in file.cases.iter().enumerate() {
        let model = fitted(&c.first, None, Some(&c.components), 1.0);
        let learned = model.learned();
        for (r, (got, want)) in model.responses.iter().zip(&c.first_responses).enumerate() {
            compare(got, want, &mut mean, &mut sd);
            for pair in got
                .posterior
                .pairs
                .iter()
                .filter(|_| !want.covariance.is_empty())
            {
                let names = (pair.player.as_str(), pair.head.as_str());
                let local = learned.local_of_all(names.0, names.1);
                for f in 0..7 {
                    for g in 0..=f {
                        let Some(w) = summed(want, names, f, g) else {
                            continue;
                        };
                        // By polarisation: the effect of two levers at once.
                        let at = |f: usize, g: usize| {
                            let mut change = [0.0; 7];
                            change[f] += 1.0;
                            change[g] += 1.0;
                            local.effect(&change).covariance[r][r]
                        };
                        let got = (at(f, g) - at(f, f) / 4.0 - at(g, g) / 4.0) / 2.0;
                        let unit = (at(f, f) * at(g, g)).sqrt() / 4.0;
                        covariance.see((got - w) / unit, i);
                    }
                }
            }
            let (g, w) = (&got.score, want.score.as_ref().expect("a score"));
            assert_eq!(g.sessions, w.sessions);
            let mut figures = vec![
                (g.gain, w.gain),
                (g.gain_se, w.gain_se),
                (g.gain_over_pooled, w.gain_over_pooled),
                (g.gain_over_pooled_se, w.gain_over_pooled_se),
            ];
            for (g, w) in [
                (g.physics, w.physics),
                (g.pooled, w.pooled),
                (g.correction, w.correction),
            ] {
                figures.extend([
                    (g.rmse, w.rmse),
                    (g.rmse_se, w.rmse_se),
                    (g.log_score, w.log_score),
                    (g.log_score_se, w.log_score_se),
                ]);
                figures.extend(g.coverage.into_iter().zip(w.coverage));
                figures.extend(g.coverage_se.into_iter().zip(w.coverage_se));
            }
            for (g, w) in figures {
                score.see((g - w) / w.abs().max(1e-3), format!("{i} {}", got.response));
            }
        }
        let season = fitted(&c.second, Some(&model), Some(&c.components), c.widening);
        for (got, want) in season.responses.iter().zip(&c.second_responses) {
            compare(got, want, &mut next, &mut next_sd);
        }
    }
    for w in [&mean, &sd, &covariance, &next, &next_sd] {
        w.check(200);
    }
    score.check(500);
}

#[test]
fn alt_components_equal_optimised_marginal_posterior() {
    let file: Regression = fixture("regression");
    let mut components = Worst::new(
        "estimated components",
        0.01,
        "Newton stops at steps of 0.3 % of a standard deviation, the search at its mode",
    );
    let mut mean = Worst::new("means, in their sd", 0.01, "follows from the components");
    let mut sd = Worst::new("standard deviations", 0.01, "follows from the components");
    for (i, c) in file.estimated.iter().enumerate() {
        let model = fitted(&c.sessions, None, None, 1.0);
        for (r, got) in model.responses.iter().enumerate() {
            assert!(got.converged, "{}", got.response);
            let (g, w) = (got.components, c.components[r]);
            for (name, g, w) in [
                ("shot", g.shot_sd, w.shot_sd),
                ("visit", g.visit_sd, w.visit_sd),
                ("session", g.session_sd, w.session_sd),
                ("player", g.player_factor, w.player_factor),
                ("head", g.head_factor, w.head_factor),
                ("build", g.build_factor, w.build_factor),
            ] {
                println!(
                    "{i} {} {name}: {g:.5} {w:.5} {:+.2} %",
                    got.response,
                    100.0 * (g / w - 1.0)
                );
                components.relative(g, w, format!("{i} {} {name}", got.response));
            }
            compare(got, &c.responses[r], &mut mean, &mut sd);
        }
    }
    components.check(50);
    mean.check(200);
    sd.check(200);
}

#[test]
fn alt_regression_equals_mixed_model() {
    let file: Regression = fixture("regression");
    let m = &file.mixed;
    let options = FitOptions {
        heavy_tails: false,
        effects: Effects {
            players: true,
            heads: true,
            builds: false,
        },
        ..FitOptions::default()
    };
    let model = fit(&m.sessions, None, Season::default(), 1, &options).expect("a fit");
    let learned = model.learned();
    let got = &model.responses[m.response];
    let mut slopes = Worst::new(
        "slopes of forty players, in the spread of players",
        0.01,
        "the library's prior of the shared slope and of the components, MixedLM has none",
    );
    let head = &m.sessions[0].head;
    for (p, want) in m.slopes.iter().enumerate() {
        let mut change = [0.0; 7];
        change[m.lever] = 1.0;
        let local = learned.local_of_all(&format!("player {p:02}"), head);
        slopes.see(
            (local.effect(&change).mean[m.response] - want) / m.player_sd,
            p,
        );
    }
    let mut spread = Worst::new(
        "components, REML",
        0.01,
        "four observations of a guess against 40 players, 480 days, 960 sessions",
    );
    let c = got.components;
    let scale = trimtab::priors::response()[m.response][m.lever];
    let residual = (c.session_sd.powi(2) + c.shot_sd.powi(2) / m.sessions[0].count[0]).sqrt();
    for (name, g, w) in [
        ("player", c.player_factor * scale, m.player_sd),
        ("visit", c.visit_sd, m.visit_sd),
        ("residual", residual, m.residual_sd),
    ] {
        println!("{name}: {g:.5} {w:.5}");
        spread.relative(g, w, name);
    }
    slopes.check(40);
    spread.check(3);
}

#[test]
fn alt_regression_equals_ridge() {
    let file: Regression = fixture("regression");
    let model = fitted(
        &file.ridge.sessions,
        None,
        Some(&file.ridge.components),
        1.0,
    );
    let mut mean = Worst::new("means, in their sd", 1e-8, "the same rows, solved twice");
    let mut sd = Worst::new("unused", 1.0, "a ridge has no covariance");
    for (got, want) in model.responses.iter().zip(&file.ridge.responses) {
        compare(got, want, &mut mean, &mut sd);
    }
    mean.check(5 * 17);
}

#[test]
fn inv_fixed_components_are_kept_or_refused() {
    let file: Regression = fixture("regression");
    let c = &file.cases[0];
    let model = fitted(&c.first, None, Some(&c.components), 1.0);
    for (got, want) in model.responses.iter().zip(&c.components) {
        assert_eq!(got.components, *want);
        assert!(got.converged && got.iterations == 0);
    }
    for bad in [f64::NAN, f64::INFINITY, -1.0, 0.0] {
        let mut fixed = c.components;
        fixed[3].shot_sd = bad;
        let options = FitOptions {
            fixed: Some(fixed),
            ..FitOptions::default()
        };
        let refused = fit(&c.first, None, Season::default(), 1, &options);
        assert!(refused.is_err(), "{bad} was accepted");
    }
}
