//! Robust centre and scatter.

mod common;
mod stat_common;
use common::{Abs, Rel, check, row};
use nalgebra::{Matrix4, SVector, Vector4};
use stat_common::{Noise, mean_se};
use trimtab::correction::TAIL_CONSISTENCY;
use trimtab::robust::{CONSISTENCY, NU, mad, median_and_mad, median_of, summary};

type Rows = Vec<SVector<f64, 4>>;

fn gaussian(n: usize, noise: &mut Noise) -> Rows {
    // Correlated columns: the second holds half of the first.
    (0..n)
        .map(|_| {
            let z = Vector4::from_fn(|_, _| noise.normal());
            Vector4::new(z[0], 0.5 * z[0] + z[1], z[2], z[3])
        })
        .collect()
}

#[test]
fn ref_median_and_mad() {
    let median = |v: &[f64]| median_of(&mut v.to_vec()).unwrap_or(f64::NAN);
    let mut noise = Noise::new(1);
    let normal: Vec<f64> = (0..20_000).map(|_| noise.normal()).collect();
    let hampel = "[exact] F. R. Hampel 1974, J. Am. Stat. Assoc. 69, 383-393: 1/Phi^-1(3/4)";
    let exact = "rounding";
    // The asymptotic variance of the MAD of a normal sample is 1.361/n: P. J. Rousseeuw, C. Croux
    // 1993, J. Am. Stat. Assoc. 88, 1273-1283 (efficiency 37 % against 1/2n).
    table! {
        "odd", median(&[3.0, 1.0, 2.0]), 2.0, "", Abs(0.0), exact, "[exact algebra]";
        "even", median(&[4.0, 1.0, 3.0, 2.0]), 2.5, "", Abs(0.0), exact, "[exact algebra]";
        "one", median(&[7.0]), 7.0, "", Abs(0.0), exact, "[exact algebra]";
        "mad of 1..5", mad(&[1.0, 2.0, 3.0, 4.0, 5.0], 3.0).unwrap_or(0.0), 1.482_602_218_505_602,
            "", Abs(1e-15), exact, hampel;
        "mad with one gone mad", mad(&[1.0, 2.0, 3.0, 4.0, 1e9], 3.0).unwrap_or(0.0),
            1.482_602_218_505_602, "", Abs(1e-15), exact, hampel;
        "mad of N(0,1)", mad(&normal, 0.0).unwrap_or(0.0), 1.0, "", Abs(0.025),
            "3 standard errors, sqrt(1.361/20000) each", hampel;
    }
    assert_eq!(median_of(&mut []), None);
    assert_eq!(mad(&[], 0.0), None);
    assert_eq!(median_and_mad(&mut []), None);
}

/// By one sort the same numbers as by two selections; ties and infinities too.
#[test]
fn alt_median_and_mad_at_once() {
    let mut noise = Noise::new(5);
    for n in (1..40).cycle().take(2000) {
        let mut values: Vec<f64> = (0..n)
            .map(|_| match noise.below(8) {
                0 => f64::INFINITY,
                1 | 2 => noise.normal().round(),
                _ => noise.normal(),
            })
            .collect();
        let centre = median_of(&mut values.clone()).expect("values");
        let spread = mad(&values, centre).expect("values");
        let (c, s) = median_and_mad(&mut values).expect("values");
        let same = |a: f64, b: f64| a == b || a.is_nan() && b.is_nan();
        assert!(same(c, centre) && same(s, spread), "{c} {s} {values:?}");
    }
}

/// The location of a t distribution with 4 degrees of freedom, fitted to normal data, has an
/// asymptotic efficiency above 0.9 in one dimension and more in four, so that it stays within some
/// sqrt(0.1/n) standard deviations of the sample mean: 0.016 at n = 400; 3 of those allowed.
#[test]
fn alt_clean_data_near_the_sample_mean() {
    let mut noise = Noise::new(2);
    let rows = gaussian(400, &mut noise);
    let mean = rows.iter().sum::<Vector4<f64>>() / 400.0;
    let s = summary(&rows, &[], &Vector4::repeat(1.0)).expect("rows");
    let off = (s.centre - mean).amax();
    println!("off the sample mean by {off:.4}");
    assert!(s.converged && off < 3.0 * (0.1_f64 / 400.0).sqrt(), "{off}");
}

/// The covariance of the bulk is that of the rows if the rows are normal, on average within 3
/// standard errors of 40 samples of 100 rows.
#[test]
fn ref_covariance_of_normal_rows() {
    let want = {
        let mut m = Matrix4::identity();
        m[(0, 1)] = 0.5;
        m[(1, 0)] = 0.5;
        m[(1, 1)] = 1.25;
        m
    };
    let mut noise = Noise::new(3);
    let sd = Vector4::new(1.0, 1.25_f64.sqrt(), 1.0, 1.0);
    let fits: Vec<Matrix4<f64>> = (0..40)
        .map(|_| {
            summary(&gaussian(100, &mut noise), &[], &sd)
                .expect("rows")
                .covariance
        })
        .collect();
    for (i, j) in [(0, 0), (1, 1), (2, 2), (3, 3), (0, 1), (0, 2)] {
        let v: Vec<f64> = fits.iter().map(|m| m[(i, j)]).collect();
        let (mean, se) = mean_se(&v);
        println!("cov[{i},{j}] {mean:.3} +- {se:.3}, wanted {}", want[(i, j)]);
        assert!((mean - want[(i, j)]).abs() < 3.0 * se, "[{i},{j}] {mean}");
    }
}

/// Another value of the same rows: one that is linear in the columns has their centre and their
/// variance; one that is not has its own, within 3 standard errors, whether the columns explain
/// half of it or nothing. That the mean weight is 1: J. T. Kent, D. E. Tyler, Y. Vardi 1994, *A
/// curious likelihood identity for the multivariate t-distribution*, Commun. Stat. Simul. 23,
/// 441-453 (from memory).
#[test]
fn ref_beside_the_columns() {
    let mut noise = Noise::new(9);
    let mut spreads = [Vec::new(), Vec::new()];
    for _ in 0..60 {
        let rows = gaussian(100, &mut noise);
        let s = summary(&rows, &[], &Vector4::repeat(1.0)).expect("rows");
        let along = Vector4::new(1.0, -2.0, 0.5, 3.0);
        let values: Vec<f64> = rows.iter().map(|r| along.dot(r)).collect();
        let (centre, variance) = s.beside(&rows, &values, along.norm()).expect("rows");
        let want = (along.transpose() * s.covariance * along)[0];
        assert!((centre - along.dot(&s.centre)).abs() < 1e-6);
        assert!((variance / want - 1.0).abs() < 0.02, "{variance} {want}");
        for (half, spreads) in [0.0, 0.5_f64.sqrt()].into_iter().zip(&mut spreads) {
            let own = (1.0 - half * half).sqrt();
            let mixed = |r: &Vector4<f64>, z: f64| half * r[2] + own * z;
            let values: Vec<f64> = rows.iter().map(|r| mixed(r, noise.normal())).collect();
            spreads.push(s.beside(&rows, &values, 1.0).expect("rows").1);
        }
    }
    for spreads in &spreads {
        let (mean, se) = mean_se(spreads);
        println!("variance of another value {mean:.3} +- {se:.3}");
        assert!((mean - 1.0).abs() < 3.0 * se, "{mean}");
    }
}

/// A fifth of gross mishits, all to one side and as far as they like, moves the centre by less
/// than 0.3 of a standard deviation; the sample mean is moved by a fifth of the distance.
#[test]
fn prop_breakdown() {
    for distance in [10.0, 100.0, 1e6] {
        for seed in 0..10 {
            let mut noise = Noise::new(100 + seed);
            let mut rows = gaussian(50, &mut noise);
            let clean = summary(&rows, &[], &Vector4::repeat(1.0))
                .expect("rows")
                .centre;
            for r in rows.iter_mut().take(10) {
                *r += Vector4::new(distance, -distance, distance, 0.0);
            }
            let s = summary(&rows, &[], &Vector4::repeat(1.0)).expect("rows");
            let moved = (s.centre - clean).amax();
            assert!(moved < 0.3, "{distance} {seed}: {moved}");
            assert!(
                s.weights[..10].iter().all(|w| *w < 0.1),
                "{distance} {seed}: {:.2?} {:.1?}",
                s.weights,
                s.distances
            );
            assert!(
                s.weights[10..].iter().all(|w| *w > 0.2),
                "{distance} {seed}: {:.2?} {:.1?}",
                s.weights,
                s.distances
            );
        }
    }
}

/// The centre is where the score of the t likelihood vanishes: climbed to by plain gradient steps
/// on the penalised log likelihood, written out here on its own, in one dimension.
#[test]
fn alt_maximum_likelihood() {
    let data = [-1.3, 0.2, 0.4, 0.9, 1.1, 1.7, 2.4, 4.5];
    let rows: Vec<SVector<f64, 1>> = data.iter().map(|v| SVector::from([*v])).collect();
    let prior = 0.8_f64;
    // The prior is a covariance, the likelihood has a scatter.
    let sd = prior * CONSISTENCY[0].sqrt();
    let s = summary(&rows, &[], &SVector::from([sd])).expect("rows");
    // log density of t: -(log v)/2 - (nu+1)/2 log(1 + (x-m)^2/(nu v)); the prior scatter of one
    // row, less the degree of freedom of the centre, adds -(1 - 1)/2 log v - s^2/(2 v).
    let value = |m: f64, log_v: f64| {
        let v = log_v.exp();
        let like = |x: &f64| -0.5 * log_v - 0.5 * (NU + 1.0) * ((x - m).powi(2) / (NU * v)).ln_1p();
        data.iter().map(like).sum::<f64>() - 0.5 * prior * prior / v
    };
    // A grid that is refined around its best point: no derivative, no iteration of the library's.
    let (mut m, mut l, mut step) = (1.0, 0.0, 1.0);
    while step > 1e-10 {
        let better = [(step, 0.0), (-step, 0.0), (0.0, step), (0.0, -step)]
            .into_iter()
            .find(|(a, b)| value(m + a, l + b) > value(m, l));
        match better {
            Some((a, b)) => (m, l) = (m + a, l + b),
            None => step *= 0.5,
        }
    }
    let scatter = s.covariance[(0, 0)] / CONSISTENCY[0];
    table! {
        "centre", s.centre[0], m, "", Abs(1e-6), "flat top of the likelihood in rounding",
            "K. L. Lange et al. 1989, J. Am. Stat. Assoc. 84, 881-896";
        "scatter", scatter, l.exp(), "", Rel(1e-5), "flat top of the likelihood in rounding",
            "K. L. Lange et al. 1989, J. Am. Stat. Assoc. 84, 881-896";
    }
}

/// The constants again, from the integral that defines them, by Simpson's rule.
#[test]
fn ref_consistency_at_the_normal() {
    let mut rows = Vec::new();
    for (i, &c) in CONSISTENCY.iter().enumerate() {
        let p = (i + 1) as f64;
        let density = |r: f64| r.powf(p - 1.0) * (-0.5 * r * r).exp();
        let pulled = |r: f64| (NU + p) * c * r * r / (NU + c * r * r) * density(r);
        let simpson = |f: &dyn Fn(f64) -> f64| {
            let (n, h) = (4000, 12.0 / 4000.0);
            let weight = |k: usize| match k {
                0 | 4000 => 1.0,
                k if k % 2 == 1 => 4.0,
                _ => 2.0,
            };
            (0..=n).map(|k| weight(k) * f(k as f64 * h)).sum::<f64>() * h / 3.0
        };
        rows.push(row(
            format!("{p} columns"),
            simpson(&pulled) / simpson(&density),
            p,
            "",
            Rel(1e-8),
            "ten digits of the constant",
            "[exact algebra] fixed point of the EM at the normal",
        ));
    }
    check(&rows);
}

#[test]
fn inv_summary_refuses_what_is_no_number() {
    let sd = SVector::from([1.0]);
    let rows = |v: &[f64]| v.iter().map(|x| SVector::from([*x])).collect::<Vec<_>>();
    assert!(summary(&rows(&[]), &[], &sd).is_none());
    assert!(summary(&rows(&[1.0, f64::NAN]), &[], &sd).is_none());
    assert!(summary(&rows(&[1.0, f64::INFINITY]), &[], &sd).is_none());
    assert!(summary(&rows(&[1.0]), &[true], &sd).is_none());
    let one = summary(&rows(&[3.0]), &[], &sd).expect("one row is a row");
    assert!((one.centre[0] - 3.0).abs() < 1e-9 && one.converged);
}

/// Sessions far off lose weight: what that does to the variance of normal ones, and what their
/// weights say of a mean against the variance that it has.
#[test]
fn ref_tails_of_sessions_at_the_normal() {
    let weight = |z: f64| (8.0 / (4.0 + z * z)).min(1.0);
    // The mean of a function of a standard normal, by the midpoint rule; it has a kink at 2.
    let mean = |f: &dyn Fn(f64) -> f64| {
        let (n, h) = (200_000, 1e-4);
        let at = |k: usize| (k as f64 + 0.5) * h;
        let density = |z: f64| (-0.5 * z * z).exp() * (2.0 / std::f64::consts::PI).sqrt();
        (0..n).map(|k| f(at(k)) * density(at(k)) * h).sum::<f64>()
    };
    let pulled = mean(&|z| weight(z) * z * z);
    // By parts, E[(z w)'] = E[z · z w].
    let precision = pulled.powi(2) / mean(&|z| (weight(z) * z).powi(2));
    table! {
        "variance", TAIL_CONSISTENCY, 1.0 / pulled, "", Abs(1e-9), "midpoint rule",
            "[exact] the integral that defines it";
        "precision", mean(&|z| weight(z)), precision, "", Rel(0.01), "stated in the docs",
            "P. J. Huber 1964, Ann. Math. Stat. 35, 73-101 (variance of an M-estimate)";
    }
}
