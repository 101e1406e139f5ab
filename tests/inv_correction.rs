//! What the correction must be able to do whatever the data: say what can't be told apart, keep its
//! head when a session is wrong, add and withdraw sessions without a trace, and be an estimator of
//! the linfa family.

mod stat_common;
use linfa::DatasetBase;
use linfa::prelude::ParamGuard;
use linfa::traits::{Fit, FitWith, Predict};
use ndarray::Array2;
use stat_common::season::{Plan, json};
use stat_common::{Noise, mean_se};
use trimtab::club::FEATURES;
use trimtab::correction::{
    Components, Correction, FitError, FitOptions, Model, Season, SessionSummary, Sessions, Term,
    fit,
};
use trimtab::priors;

fn fitted(sessions: &[SessionSummary], options: &FitOptions) -> Model {
    fit(sessions, None, Season::default(), 1, options).expect("a fit")
}

fn unit(f: usize) -> [f64; 7] {
    std::array::from_fn(|i| f64::from(u8::from(i == f)))
}

/// Two levers that are only moved together: named, the prior stands in for what cannot be told,
/// and what can be (their sum) is learned.
#[test]
fn inv_levers_moved_together_are_named() {
    let (mut sessions, _) = Plan::usual(3).simulate();
    for s in &mut sessions {
        s.features[1] = 0.5 * s.features[0];
    }
    let model = fitted(&sessions, &FitOptions::default());
    let names = |f: &[usize]| {
        f.iter()
            .map(|f| FEATURES[*f].to_string())
            .collect::<Vec<_>>()
    };
    assert_eq!(model.data.moved_together, vec![names(&[0, 1])]);
    assert_eq!(model.data.never_moved, names(&[2, 5, 6]));
    assert!(model.data.condition_index > 1e3);
    let local = model.learned().local_of_all("player 1", "head 1");
    for (r, scale) in priors::response().iter().enumerate() {
        // Independent before the data of the direction that was shown: nothing is learned of it.
        let hidden = [
            0.5 / scale[0].powi(2),
            -1.0 / scale[1].powi(2),
            0.0,
            0.0,
            0.0,
            0.0,
            0.0,
        ];
        let shown = [1.0, 0.5, 0.0, 0.0, 0.0, 0.0, 0.0];
        let m = &model.responses[r];
        let c = &m.components;
        let groups = 1.0 + c.player_factor.powi(2) + c.head_factor.powi(2) + c.build_factor.powi(2);
        let before =
            |x: &[f64; 7]| (x[0] * scale[0]).hypot(x[1] * scale[1]) * (groups * m.inflation).sqrt();
        let (h, s) = (local.effect(&hidden), local.effect(&shown));
        assert!(
            (h.sd[r] / before(&hidden) - 1.0).abs() < 1e-6,
            "{r} {}",
            h.sd[r]
        );
        assert!(h.mean[r].abs() < 1e-6 * h.sd[r]);
        assert!(s.sd[r] < 0.75 * before(&shown), "{r}");
    }
    // Levers that were moved freely are told apart.
    let free = fitted(&Plan::usual(3).simulate().0, &FitOptions::default());
    assert!(free.data.moved_together.is_empty(), "{:?}", free.data);
    assert!(free.data.condition_index < 3.0);
}

/// A session that was logged with the wrong club: flagged, and the effects stay within a third of a
/// standard deviation on average of what they are without it. Without reweighting they move more.
#[test]
fn inv_a_wrong_session_loses_its_say() {
    let (mut moved, mut moved_normal) = (Vec::new(), Vec::new());
    for seed in 40..46 {
        let (clean, _) = Plan::usual(seed).simulate();
        let mut wrong = clean.clone();
        let j = 100;
        wrong[j].features[0] = 3.0;
        for (m, day) in wrong[j].mean.iter_mut().zip([0.4, 0.5, 1.5, 120.0, 0.008]) {
            *m += 12.0 * day;
        }
        for (heavy_tails, out) in [(true, &mut moved), (false, &mut moved_normal)] {
            let o = FitOptions {
                heavy_tails,
                ..FitOptions::default()
            };
            let (a, b) = (fitted(&clean, &o), fitted(&wrong, &o));
            for (x, y) in a.responses.iter().zip(&b.responses) {
                let far = y.flagged.iter().find(|f| f.session == wrong[j].session);
                assert_eq!(far.is_some_and(|f| f.weight < 0.5), heavy_tails);
                for c in x
                    .coefficients
                    .iter()
                    .filter(|c| matches!(c.term, Term::Shared { .. }))
                {
                    let d = y
                        .coefficients
                        .iter()
                        .find(|d| d.term == c.term)
                        .expect("a term");
                    out.push((d.mean - c.mean).abs() / c.sd);
                }
            }
        }
    }
    let (a, b) = (mean_se(&moved).0, mean_se(&moved_normal).0);
    println!("moved by {a:.3} sd with reweighting, {b:.3} sd without");
    assert!(a < 0.33 && a < 0.6 * b, "{a} {b}");
}

/// Sessions added, withdrawn and merged in any order: the same sessions give the same bytes.
#[test]
fn inv_adding_withdrawing_and_merging_leave_no_trace() {
    let (sessions, _) = Plan::usual(5).simulate();
    let (kept, extra) = sessions.split_at(200);
    let run = |s: &Sessions| {
        let data = DatasetBase::new(s.clone(), ());
        json(&Correction::default().fit(&data).expect("a fit"))
    };
    let want = json(&fitted(kept, &FitOptions::default()));
    let mut log: Sessions = extra.iter().rev().cloned().collect();
    for s in kept {
        assert!(log.add(s.clone()).is_none());
    }
    for s in extra {
        assert!(log.withdraw(&s.session).is_some());
        assert!(log.withdraw(&s.session).is_none());
    }
    assert!(run(&log) == want);
    let (mut a, b): (Sessions, Sessions) = (
        kept[120..].iter().cloned().collect(),
        kept[..120].iter().cloned().collect(),
    );
    a.merge(b);
    assert!(run(&a) == want);
    assert_eq!(a.len(), 200);
}

/// One and two threads: the same bytes.
#[test]
fn inv_threads() {
    let (sessions, _) = Plan::usual(6).simulate();
    let on = |threads: usize| {
        let pool = rayon::ThreadPoolBuilder::new()
            .num_threads(threads)
            .build()
            .expect("threads");
        pool.install(|| json(&fitted(&sessions, &FitOptions::default())))
    };
    assert!(on(1) == on(2));
}

/// A second batch on top of the first one's posterior, without widening, is the fit of both at
/// once to 1e-9, if their intercepts are different unknowns (other players) and the components are
/// given.
#[test]
fn alt_incremental_equals_batch() {
    let (sessions, _) = Plan::usual(7).simulate();
    let late = |s: &SessionSummary| s.player.as_str() >= "player 4";
    let (second, first): (Vec<_>, Vec<_>) = sessions.iter().cloned().partition(late);
    let fixed = [0, 1, 2, 3, 4].map(|r| Components {
        shot_sd: 4.0 * [0.4, 0.5, 1.5, 120.0, 0.008][r],
        visit_sd: [0.4, 0.5, 1.5, 120.0, 0.008][r],
        session_sd: [0.2, 0.25, 0.7, 60.0, 0.004][r],
        player_factor: 0.7,
        head_factor: 0.6,
        build_factor: 0.3,
    });
    let o = FitOptions {
        widening: 1.0,
        fixed: Some(fixed),
        heavy_tails: false,
        ..FitOptions::default()
    };
    let once = fitted(&sessions, &o);
    let start = fitted(&first, &o);
    let then = fit(&second, Some(&start), Season::default(), 2, &o).expect("a fit");
    for (a, b) in once.responses.iter().zip(&then.responses) {
        let mut seen = 0;
        for c in a.coefficients.iter().filter(|c| c.term.is_slope()) {
            let d = b
                .coefficients
                .iter()
                .find(|d| d.term == c.term)
                .expect("kept");
            assert!((c.mean - d.mean).abs() < 1e-9 * c.sd, "{:?}", c.term);
            assert!((c.sd / d.sd - 1.0).abs() < 1e-9, "{:?}", c.term);
            seen += 1;
        }
        assert!(seen > 30);
    }
}

/// Checked hyper-parameters, `Fit`, `FitWith` and `Predict` are those of the plain functions.
#[test]
fn inv_an_estimator_of_the_linfa_family() {
    let (sessions, _) = Plan::usual(8).simulate();
    let data = DatasetBase::new(sessions.iter().cloned().collect::<Sessions>(), ());
    let plain = fitted(&sessions, &FitOptions::default());
    let model = Correction::default().fit(&data).expect("a fit");
    assert_eq!(model, plain);
    let effects: Array2<f64> = model.predict(&data);
    for (s, row) in data.records.iter().zip(effects.rows()) {
        let want = plain.local(&s.player, &s.head).effect(&s.features).mean;
        assert_eq!(row.to_vec(), want.to_vec());
    }
    let next = Correction::default()
        .check()
        .expect("good defaults")
        .fit_with(Some(&model), &data);
    let want = fit(
        &sessions,
        Some(&plain),
        Season {
            prior_version: Some(1),
            ..Season::default()
        },
        2,
        &FitOptions::default(),
    );
    assert_eq!(next, want);
    for bad in [f64::NAN, 0.5, f64::INFINITY] {
        let refused = Correction::from(FitOptions {
            widening: bad,
            ..FitOptions::default()
        });
        assert!(matches!(refused.check_ref(), Err(FitError::Option(_))));
        assert!(matches!(refused.fit(&data), Err(FitError::Option(_))));
    }
    let nothing = DatasetBase::new(Sessions::new(), ());
    assert_eq!(
        Correction::default().fit(&nothing),
        Err(FitError::NoSessions)
    );
}

/// Start line and spin axis err together: over seasons whose session noise is correlated by 0.8
/// between two responses, the errors of their effects have the correlation that is stated.
#[test]
fn ref_errors_of_responses_hang_together() {
    let (mut found, mut stated) = (Vec::new(), Vec::new());
    let (a, b, rho) = (1, 2, 0.8_f64);
    for seed in 0..300 {
        let plan = Plan {
            players: 3,
            heads: 2,
            heads_each: 2,
            sessions: 60,
            ..Plan::usual(2000 + seed)
        };
        let (mut sessions, truths) = plan.simulate();
        // Noise of its own on top, of twice the usual day and with the same number of shots.
        let mut noise = Noise::new(seed);
        let sd = [0.4, 0.5, 1.5, 120.0, 0.008].map(|s| 3.0 * s);
        for s in &mut sessions {
            let (u, v) = (noise.normal(), noise.normal());
            s.mean[a] += sd[a] * u;
            s.mean[b] += sd[b] * (rho * u + (1.0 - rho * rho).sqrt() * v);
        }
        let model = fitted(&sessions, &FitOptions::default());
        let e = model
            .learned()
            .local_of_all("player 0", "head 0")
            .effect(&unit(0));
        let truth = |r: usize| {
            let t = &truths[r][0];
            t.shared + t.player[0] + t.head[0] + t.build[0][0]
        };
        let error = |r: usize| (e.mean[r] - truth(r)) / priors::response()[r][0];
        found.push(error(a) * error(b));
        let unit = priors::response()[a][0] * priors::response()[b][0];
        stated.push(e.covariance[a][b] / unit);
        assert!((e.covariance[a][b] - e.covariance[b][a]).abs() < 1e-12);
    }
    let ((found, se), (stated, _)) = (mean_se(&found), mean_se(&stated));
    println!("covariance of errors {found:.4} ± {se:.4}, stated {stated:.4}, in prior units");
    assert!((found - stated).abs() < 3.0 * se);
    assert!(stated > 4.0 * se, "nothing to see: {stated}");
}

/// A player whose response to a lever changes in the second half is named, with the right sign;
/// others are named no more often than chance has it.
#[test]
fn inv_a_player_who_changes_is_named() {
    let (mut hits, mut named, mut all) = (0, 0, 0);
    for seed in 60..70 {
        let (mut sessions, _) = Plan {
            sessions: 400,
            ..Plan::usual(seed)
        }
        .simulate();
        let mut dates: Vec<String> = sessions.iter().map(|s| s.date.clone()).collect();
        dates.sort();
        let middle = dates[dates.len() / 2].clone();
        for s in sessions
            .iter_mut()
            .filter(|s| s.player == "player 2" && s.date >= middle)
        {
            s.mean[2] += 2.0 * priors::response()[2][0] * s.features[0];
        }
        let model = fitted(&sessions, &FitOptions::default());
        for (r, m) in model.responses.iter().enumerate() {
            for d in &m.drift {
                let beyond = d.mean.abs() > 2.0 * d.sd;
                if r == 2 && d.player == "player 2" && d.feature == FEATURES[0] {
                    hits += usize::from(beyond && d.mean > 0.0);
                } else {
                    named += usize::from(beyond);
                    all += 1;
                }
            }
        }
    }
    let rate = named as f64 / all as f64;
    println!(
        "named {hits} of 10 who changed, {:.1} % of {all} who did not",
        100.0 * rate
    );
    assert!(hits >= 8, "{hits}");
    assert!(rate < 0.06, "{rate}");
}
