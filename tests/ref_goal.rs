//! What a miss costs: the expected distance outside of a window against numerical integration, and
//! what the windows of a goal mean.

use trimtab::hand::{Hand, Mirror};
use trimtab::proposal::{Goal, Outcome, Window};
use trimtab::tendency::{Aim, Ground};
use trimtab::units::DEG;

/// `∫ distance(x) N(x; m, s²) dx` by Simpson's rule on each side of the kinks.
fn integrated(w: Window, m: f64, s: f64) -> f64 {
    let density =
        |x: f64| (-0.5 * ((x - m) / s).powi(2)).exp() / (s * std::f64::consts::TAU.sqrt());
    let simpson = |a: f64, b: f64, f: &dyn Fn(f64) -> f64| {
        if !(b > a) {
            return 0.0;
        }
        let n = 4000;
        let h = (b - a) / f64::from(n);
        let inner: f64 = (1..n)
            .map(|i| f64::from(2 + 2 * (i % 2)) * f(a + f64::from(i) * h))
            .sum();
        h / 3.0 * (f(a) + inner + f(b))
    };
    let (first, last) = (m - 12.0 * s, m + 12.0 * s);
    simpson(first, w.low.min(last), &|x| (w.low - x) * density(x))
        + simpson(w.high.max(first), last, &|x| (x - w.high) * density(x))
}

#[test]
fn alt_expected_distance_outside() {
    let inf = f64::INFINITY;
    for (low, high) in [
        (0.0, 0.0),
        (-12.5, 12.5),
        (3.0, 20.0),
        (30.0, inf),
        (-inf, -4.0),
    ] {
        let w = Window { low, high };
        for m in [-40.0, -12.5, -3.0, 0.0, 0.7, 15.0, 90.0] {
            for s in [0.3, 2.0, 9.0, 25.0] {
                let (got, want) = (w.expected_outside(m, s), integrated(w, m, s));
                assert!(
                    (got - want).abs() < 1e-8 * (1.0 + want),
                    "{w:?} {m} {s}: {got} {want}"
                );
            }
            // Without spread it is the plain distance.
            assert_eq!(w.expected_outside(m, 0.0), w.outside(m));
            assert!((w.expected_outside(m, 1e-9) - w.outside(m)).abs() < 1e-8);
        }
    }
    // E|Z| = sqrt(2/pi) of a standard normal: exact.
    let mean = Window::at(0.0).expected_outside(0.0, 1.0);
    assert!((mean - (2.0 / std::f64::consts::PI).sqrt()).abs() < 1e-12);
}

#[test]
fn inv_windows_of_a_goal() {
    let ball = |start: f64, curve: f64, landing: f64| Outcome {
        ground: Ground::new(start, curve, 200.0, 28.0),
        offline_sd: 8.0,
        spin_rate: 280.0,
        landing_angle: landing * DEG,
    };
    let loss = |g: &Goal, b: Outcome| g.loss(&b, 200.0);
    let free = Goal {
        start: Window::between(Some(-5.0), Some(2.0)),
        apex: Window::between(Some(25.0), Some(30.0)),
        landing_angle: Window::between(Some(40.0 * DEG), None),
        fairway: 30.0,
        aim: Aim {
            start: 0.0,
            curve: 4.0,
        },
        ..Goal::default()
    };
    let fits = loss(&free, ball(1.0, 4.0, 44.0));
    assert_eq!([fits.start, fits.apex, fits.landing, fits.curve], [0.0; 4]);
    // A fairway costs less than a line, and more the farther off.
    let line = Goal {
        fairway: 0.0,
        ..free
    };
    assert!(fits.offline < loss(&line, ball(1.0, 4.0, 44.0)).offline);
    assert!(fits.offline < loss(&free, ball(2.0, 12.0, 44.0)).offline);
    // Two degrees too flat are a miss of two metres, at twice the weight four; what was asked for
    // counts twice in the loss.
    let flat = ball(1.0, 4.0, 38.0);
    let missed = |g: &Goal| g.systematic(&flat, 200.0).landing;
    assert!((missed(&free) - 2.0).abs() < 1e-9);
    let mut heavy = free;
    heavy.weights.height = 2.0;
    assert!((missed(&heavy) - 4.0).abs() < 1e-9);
    assert!((loss(&heavy, flat).landing - 8.0).abs() < 1e-9);
    // Outside of the start window by one metre to the right, or to the left in the mirror.
    assert!(loss(&free, ball(3.0, 4.0, 44.0)).start > 0.0);
    let turned = Hand::Left.turn(Window {
        low: -5.0,
        high: 2.0,
    });
    assert_eq!(
        turned,
        Window {
            low: -2.0,
            high: 5.0
        }
    );
    assert_eq!(
        turned.mirrored(),
        Window {
            low: -5.0,
            high: 2.0
        }
    );
}
