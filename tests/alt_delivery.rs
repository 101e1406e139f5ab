//! A delivery from what was measured: back again what went forward, with honest errors.

mod stat_common;
use nalgebra::SymmetricEigen;
use proptest::prelude::*;
use stat_common::*;
use trimtab::delivery::{
    COMPONENTS, Centres, Inferred, Matrix7, Reading, Vector7, infer, read_session,
};
use trimtab::flight::Conditions;
use trimtab::head::Head;
use trimtab::impact::{Delivery, Striker};
use trimtab::physics::Physics;
use trimtab::priors::{self, DeliveryPrior};
use trimtab::quantity::{Measured, Quantity, TABLE};
use trimtab::units::MM;

/// A head ready to strike, with the prior of its player.
struct Case {
    striker: Striker,
    prior: DeliveryPrior,
    physics: Physics,
}

impl Case {
    fn new(head: &Head) -> Case {
        let physics = Physics::default();
        let r = &head.reference;
        Case {
            striker: physics.striker(head, r, r).expect("own setting"),
            prior: priors::player(head),
            physics,
        }
    }

    /// The delivery `z` prior standard deviations from the prior's mean.
    fn delivery(&self, z: &Vector7) -> Delivery {
        Delivery::from_vector(&(self.prior.mean + self.prior.sd.component_mul(z)))
    }

    fn seen(&self, d: &Delivery) -> Measured {
        seen(d, &self.striker, &self.physics, &Conditions::default())
    }

    fn infer(&self, readings: &[Reading]) -> Inferred {
        let range = self.physics.range(&Conditions::default());
        infer(readings, &self.prior, &self.striker, &self.physics, &range).expect("an answer")
    }

    /// Squared Mahalanobis distance of the truth by the fit's own covariance.
    fn distance2(&self, fit: &Inferred, truth: &Delivery) -> f64 {
        let scale = Matrix7::from_diagonal(&self.prior.sd.map(|s| 1.0 / s));
        let d = scale * (fit.delivery.to_vector() - truth.to_vector());
        let c = scale * fit.covariance * scale;
        d.dot(&c.cholesky().expect("positive definite").solve(&d))
    }
}

/// Error of one reading of a shot, device and model in quadrature, times a factor.
fn sd(q: Quantity, factor: f64) -> f64 {
    factor * q.info().device_sd.hypot(priors::model_error(q))
}

fn readings(m: &Measured, which: &[Quantity], factor: f64) -> Vec<Reading> {
    which
        .iter()
        .map(|&quantity| Reading {
            quantity,
            value: m.get(quantity).expect("seen"),
            sd: sd(quantity, factor),
        })
        .collect()
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 150, failure_persistence: None, ..ProptestConfig::default() })]

    /// Exact readings of launch and club with a thousandth of their usual errors bring the very
    /// delivery back: within a hundredth of a prior standard deviation in every component.
    #[test]
    fn alt_forward_and_back(kind in 0_usize..5, z in prop::array::uniform7(-2.0_f64..2.0)) {
        let case = Case::new(&plain_heads()[kind]);
        let truth = case.delivery(&Vector7::from(z));
        let all: Vec<Quantity> = LAUNCH.into_iter().chain(COMPONENTS).collect();
        let fit = case.infer(&readings(&case.seen(&truth), &all, 1e-3));
        prop_assert!(fit.converged);
        let off = (fit.delivery.to_vector() - truth.to_vector()).component_div(&case.prior.sd);
        prop_assert!(off.amax() < 0.01, "{off:?}");
        prop_assert!(fit.misfit < 0.1, "{}", fit.misfit);
    }

    /// From the ball alone the truth is as near as the fit's own covariance says. Without noise a
    /// linear model is off by `d² = zᵀ C z <= |z|²` (C the covariance in prior units; exact
    /// algebra): at most what the prior pulls. A tenth and a tenth of a sd for the curvature.
    #[test]
    fn alt_ball_data_alone(kind in 0_usize..5, z in prop::array::uniform7(-2.0_f64..2.0)) {
        let case = Case::new(&plain_heads()[kind]);
        let truth = case.delivery(&Vector7::from(z));
        let fit = case.infer(&readings(&case.seen(&truth), &LAUNCH, 1.0));
        prop_assert!(fit.converged);
        let d = case.distance2(&fit, &truth).sqrt();
        let pull = Vector7::from(z).norm();
        prop_assert!(d < 1.1 * pull + 0.1, "{d:.2} sd, pulled from {pull:.2}");
    }

    /// Any subset of readings gives an answer, and more readings never widen it: the covariance
    /// with them subtracted from the prior's has no negative eigenvalue (to rounding).
    #[test]
    fn inv_missing_values(kind in 0_usize..5, z in prop::array::uniform7(-1.5_f64..1.5), mask in 0_u32..65536) {
        let case = Case::new(&plain_heads()[kind]);
        let m = case.seen(&case.delivery(&Vector7::from(z)));
        let which: Vec<Quantity> = m.iter().enumerate()
            .filter(|(i, _)| mask >> i & 1 == 1).map(|(_, (q, _))| q).collect();
        let fit = case.infer(&readings(&m, &which, 1.0));
        prop_assert!(fit.converged, "{which:?}");
        let scale = Matrix7::from_diagonal(&case.prior.sd.map(|s| 1.0 / s));
        let gain = Matrix7::identity() - scale * fit.covariance * scale;
        let least = SymmetricEigen::new(gain).eigenvalues.min();
        prop_assert!(least > -1e-9, "{least}");
    }
}

/// With truth and noise drawn as the fit believes them, the squared Mahalanobis distance averages
/// 7. It is chi-squared with 7 degrees of freedom if the model were linear: standard deviation
/// sqrt(14), so that 400 cases average within 0.19; allowed are 3 of that, 0.56.
#[test]
fn alt_calibrated() {
    let cases = plain_heads().map(|h| Case::new(&h));
    let mut noise = Noise::new(11);
    let mut d2 = Vec::new();
    for i in 0..400 {
        let case = &cases[i % 5];
        let truth = case.delivery(&noise.vector());
        let mut r = readings(&case.seen(&truth), &LAUNCH, 1.0);
        for x in &mut r {
            x.value += x.sd * noise.normal();
        }
        let fit = case.infer(&r);
        assert!(fit.converged, "case {i}");
        d2.push(case.distance2(&fit, &truth));
    }
    let (mean, se) = mean_se(&d2);
    println!("mean squared distance {mean:.3} +- {se:.3}, wanted 7");
    assert!(
        (mean - 7.0).abs() < 3.0 * (14.0_f64 / 400.0).sqrt(),
        "{mean}"
    );
}

/// Laplace's mean and spread against a random-walk Metropolis sampler (N. Metropolis et al. 1953,
/// J. Chem. Phys. 21, 1087-1092) that knows only the posterior density. The chain's own error is
/// about sqrt(50/200 000) of a standard deviation (autocorrelation over some 50 steps, A. Gelman,
/// G. O. Roberts, W. R. Gilks 1996, Bayesian Statistics 5: 1/(0.3 d)), far below what is allowed
/// for the posterior not being quite normal: 0.15 sd of the mean, 5 % of the sd.
#[test]
fn alt_laplace_against_metropolis() {
    let case = Case::new(&plain_heads()[0]);
    let truth = case.delivery(&Vector7::from([0.5, 1.0, -0.5, 0.8, 0.5, 1.0, -0.7]));
    let which = [&LAUNCH[..], &[Quantity::HeadSpeed, Quantity::ClubPath]].concat();
    let r = readings(&case.seen(&truth), &which, 1.0);
    let fit = case.infer(&r);
    let scale = Matrix7::from_diagonal(&case.prior.sd.map(|s| 1.0 / s));
    let root = (scale * fit.covariance * scale).cholesky().expect("pd").l();
    let energy = |x: &Vector7| {
        let d = case.delivery(x);
        let l = case
            .striker
            .launch(&d, &case.physics.ball, &case.physics.impact);
        let model = [
            l.launch_angle,
            l.launch_direction,
            l.spin_axis,
            l.spin_rate,
            l.ball_speed,
            d.head_speed,
            d.club_path,
        ];
        let misfit = r
            .iter()
            .zip(model)
            .map(|(r, m)| ((m - r.value) / r.sd).powi(2));
        0.5 * (x.norm_squared() + misfit.sum::<f64>())
    };
    let mode = (fit.delivery.to_vector() - case.prior.mean).component_div(&case.prior.sd);
    let mut noise = Noise::new(5);
    let (mut x, mut e, mut accepted) = (mode, energy(&mode), 0);
    let (mut sum, mut squares) = (Vector7::zeros(), Matrix7::zeros());
    const STEPS: usize = 200_000;
    for _ in 0..STEPS {
        let y = x + root * noise.vector() * (2.38 / 7.0_f64.sqrt());
        let ey = energy(&y);
        if noise.uniform().ln() < e - ey {
            (x, e, accepted) = (y, ey, accepted + 1);
        }
        sum += x;
        squares += x * x.transpose();
    }
    let n = STEPS as f64;
    let mean = sum / n;
    let cov = squares / n - mean * mean.transpose();
    println!("accepted {:.2}", f64::from(accepted) / n);
    let laplace = root * root.transpose();
    for (i, q) in COMPONENTS.into_iter().enumerate() {
        let (a, b) = (laplace[(i, i)].sqrt(), cov[(i, i)].sqrt());
        let off = (mean[i] - mode[i]) / b;
        println!(
            "{q:?}: sd {a:.4} against {b:.4} ({:+.1} %), mean off {off:+.3} sd",
            100.0 * (a / b - 1.0)
        );
        assert!((a / b - 1.0).abs() < 0.05, "{q:?}: {a} {b}");
        assert!(off.abs() < 0.15, "{q:?}: {off}");
    }
}

/// Mirrored readings of a head that is its own mirror image give the mirrored delivery. The
/// covariance is that of where the search ended, before the last step.
#[test]
fn inv_mirror() {
    for head in plain_heads() {
        let case = Case::new(&head);
        let truth = case.delivery(&Vector7::from([0.3, 1.2, -0.4, -0.9, 0.5, 1.1, -0.6]));
        let which = [
            &LAUNCH[..],
            &[Quantity::Carry, Quantity::Curve, Quantity::StrikeToe],
        ]
        .concat();
        let there = readings(&case.seen(&truth), &which, 1.0);
        let turned = |q: Quantity| q.info().mirrored || q == Quantity::StrikeToe;
        let back: Vec<Reading> = there
            .iter()
            .map(|r| Reading {
                value: if turned(r.quantity) {
                    -r.value
                } else {
                    r.value
                },
                ..*r
            })
            .collect();
        let (a, b) = (case.infer(&there), case.infer(&back));
        for (i, q) in COMPONENTS.into_iter().enumerate() {
            let s = if turned(q) { -1.0 } else { 1.0 };
            let (u, v) = (a.delivery.to_vector()[i], s * b.delivery.to_vector()[i]);
            let unit = case.prior.sd[i];
            assert!((u - v).abs() < 1e-9 * unit, "{} {q:?}: {u} {v}", head.name);
            let (u, v) = (a.covariance[(i, i)], b.covariance[(i, i)]);
            assert!((u - v).abs() < 1e-6 * unit * unit, "{} {q:?}", head.name);
        }
        assert!(
            a.delivery.club_path.abs() > 1e-3,
            "not a case that is its own mirror"
        );
    }
}

/// A typed value on the ground moves the delivery the right way, part of the way.
#[test]
fn prop_ground_readings_pull_the_right_way() {
    let case = Case::new(&plain_heads()[0]);
    let usual = case.seen(&case.delivery(&Vector7::zeros()));
    // Which component answers, and in what direction, to a higher value.
    type Answer = fn(&Delivery) -> f64;
    let rows: [(Quantity, f64, Answer); 4] = [
        (Quantity::Carry, 15.0, |d| d.head_speed),
        (Quantity::Apex, 8.0, |d| d.dynamic_loft),
        (Quantity::Curve, 15.0, |d| d.face_angle - d.club_path),
        (Quantity::Offline, 15.0, |d| d.face_angle),
    ];
    for (quantity, by, answer) in rows {
        let start = usual.get(quantity).expect("seen");
        for sign in [1.0, -1.0] {
            let value = start + sign * by;
            let fit = case.infer(&[Reading {
                quantity,
                value,
                sd: 3.0,
            }]);
            let moved = answer(&fit.delivery) - answer(&case.delivery(&Vector7::zeros()));
            assert!(moved * sign > 0.0, "{quantity:?} {sign}: {moved}");
            let now = case.seen(&fit.delivery).get(quantity).expect("seen");
            let share = (now - start) / (value - start);
            assert!((0.3..1.0).contains(&share), "{quantity:?} {sign}: {share}");
        }
    }
}

#[test]
fn inv_readings_that_are_no_numbers_are_refused() {
    let case = Case::new(&plain_heads()[0]);
    let range = case.physics.range(&Conditions::default());
    let bad = [f64::NAN, f64::INFINITY, f64::NEG_INFINITY];
    let mut pairs: Vec<(f64, f64)> = bad.iter().map(|v| (*v, 1.0)).collect();
    pairs.extend(bad.iter().chain(&[0.0, -1.0]).map(|s| (60.0, *s)));
    for (value, sd) in pairs {
        let r = [Reading {
            quantity: Quantity::BallSpeed,
            value,
            sd,
        }];
        let got = infer(&r, &case.prior, &case.striker, &case.physics, &range);
        let text = got.expect_err("refused").to_string();
        assert!(text.contains("BallSpeed"), "{text}");
    }
    let fit = case.infer(&[]); // the prior, as it is
    assert_eq!(fit.delivery.to_vector(), case.prior.mean);
    assert!((fit.covariance[(5, 5)].sqrt() - case.prior.sd[5]).abs() < 1e-9 * MM);
}

/// The quick search for central deliveries ends where the thorough one does, whatever was measured
/// of launch and club: within a hundredth of a prior standard deviation in every component, on
/// average within a thousandth. (From the ground alone there may be two places as good.)
#[test]
fn alt_quick_centres() {
    let mut noise = Noise::new(17);
    let (mut sum, mut count) = (0.0, 0);
    for head in plain_heads() {
        let case = Case::new(&head);
        let club = build(head, 40.0);
        let centres = Centres::new(case.striker.clone(), case.prior, &case.physics);
        let within = priors::within(club.head.kind).component_div(&case.prior.sd);
        for i in 0..60 {
            let (centre, measured) = (noise.vector(), noise.below(1 << 12));
            let mut shot = || {
                let z = centre + within.component_mul(&noise.vector());
                let mut m = case.seen(&case.delivery(&z));
                for info in TABLE
                    .iter()
                    .filter(|i| measured >> i.quantity as usize & 1 == 0)
                {
                    m.set(info.quantity, None);
                }
                m
            };
            let shots: Vec<Measured> = (0..25).map(|_| shot()).collect();
            let conditions = Conditions::default();
            let quick = centres.of(&shots, &case.physics.range(&conditions));
            let full = read_session(&shots, &club, &case.prior, &case.physics, &conditions);
            let full = full.expect("own setting").centre.delivery;
            let off = (quick.to_vector() - full.to_vector()).component_div(&case.prior.sd);
            assert!(off.amax() < 0.01, "{} {i}: {off:.4?}", club.head.kind);
            (sum, count) = (sum + off.amax(), count + 1);
        }
    }
    let mean = sum / f64::from(count);
    println!("quick centres: off by {mean:.5} prior standard deviations on average");
    assert!(mean < 0.001, "{mean}");
}
