//! The integrator against a second one written here, and the fast flight against the tight one.

mod common;
use common::*;
use nalgebra::{SVector, Vector3};
use std::f64::consts::PI;
use trimtab::air::Air;
use trimtab::ball::Ball;
use trimtab::flight::{AeroSet, Conditions, Precision, Range, Wind};
use trimtab::launch::Launch;

type State = SVector<f64, 7>;

/// The equations of motion once more, from their definition.
fn slope(y: &State, l: &Launch, b: &Ball, c: &Conditions, aero: &AeroSet) -> State {
    let p = c.wind;
    let profile = (y[2].max(1.0) / 10.0).powf(p.shear);
    let wind = Vector3::new(p.toward_right, p.toward_target, 0.0) * profile;
    let v = Vector3::new(y[3], y[4], y[5]) - wind;
    let (speed, rho) = (v.norm(), c.air.density());
    let (re, s) = (
        rho * speed * 2.0 * b.radius / c.air.viscosity(),
        y[6] * b.radius / speed,
    );
    let (cd, cl) = aero.coefficients(re, s);
    let pressure = 0.5 * rho * speed * speed * PI * b.radius * b.radius;
    // Spin axis of the launch: to the right of the start, dropping to the right by the tilt.
    let (d, e, t) = (l.launch_direction, l.launch_angle, l.spin_axis);
    let right = Vector3::new(d.cos(), -d.sin(), 0.0);
    let up = Vector3::new(-e.sin() * d.sin(), -e.sin() * d.cos(), e.cos());
    let axis = right * t.cos() - up * t.sin();
    let drag = -v / speed * (pressure * cd * b.drag_factor);
    let lift = axis.cross(&v) / speed * (pressure * cl * b.lift_factor);
    let a = (drag + lift) / b.mass - Vector3::z() * 9.80665;
    let decay = -2.0e-5 * rho / 1.225 * y[6] * speed / b.radius;
    State::from_column_slice(&[y[3], y[4], y[5], a.x, a.y, a.z, decay])
}

/// To the ground by Dormand and Prince 1980, J. Comput. Appl. Math. 6, 19-26, order 5(4), with
/// step control; the last step is shortened by bisection. Returns offline, downrange, apex.
fn dormand_prince(f: impl Fn(&State) -> State, start: State) -> [f64; 3] {
    const A: [[f64; 6]; 6] = [
        [1.0 / 5.0, 0.0, 0.0, 0.0, 0.0, 0.0],
        [3.0 / 40.0, 9.0 / 40.0, 0.0, 0.0, 0.0, 0.0],
        [44.0 / 45.0, -56.0 / 15.0, 32.0 / 9.0, 0.0, 0.0, 0.0],
        [
            19372.0 / 6561.0,
            -25360.0 / 2187.0,
            64448.0 / 6561.0,
            -212.0 / 729.0,
            0.0,
            0.0,
        ],
        [
            9017.0 / 3168.0,
            -355.0 / 33.0,
            46732.0 / 5247.0,
            49.0 / 176.0,
            -5103.0 / 18656.0,
            0.0,
        ],
        [
            35.0 / 384.0,
            0.0,
            500.0 / 1113.0,
            125.0 / 192.0,
            -2187.0 / 6784.0,
            11.0 / 84.0,
        ],
    ];
    const E: [f64; 7] = [
        71.0 / 57600.0,
        0.0,
        -71.0 / 16695.0,
        71.0 / 1920.0,
        -17253.0 / 339_200.0,
        22.0 / 525.0,
        -1.0 / 40.0,
    ];
    let step = |y: &State, h: f64| {
        let mut k = vec![f(y)];
        let mut next = *y;
        for a in &A {
            next = *y + k.iter().zip(a).map(|(k, a)| k * (a * h)).sum::<State>();
            k.push(f(&next));
        }
        let error: State = k.iter().zip(E).map(|(k, e)| k * (e * h)).sum();
        (next, error.rows(0, 6).amax())
    };
    let (mut y, mut h, mut apex) = (start, 1e-3, 0.0_f64);
    loop {
        let (next, error) = step(&y, h);
        if error > 1e-8 {
            h *= 0.5;
            continue;
        }
        if y[5] > 0.0 && next[5] <= 0.0 {
            let (mut lo, mut hi) = (0.0, h);
            for _ in 0..50 {
                let mid = 0.5 * (lo + hi);
                if step(&y, mid).0[5] > 0.0 {
                    lo = mid
                } else {
                    hi = mid
                }
            }
            apex = apex.max(step(&y, lo).0[2]);
        }
        if next[2] <= 0.0 {
            let (mut lo, mut hi) = (0.0, h);
            for _ in 0..60 {
                let mid = 0.5 * (lo + hi);
                if step(&y, mid).0[2] > 0.0 {
                    lo = mid
                } else {
                    hi = mid
                }
            }
            let end = step(&y, lo).0;
            return [end[0], end[1], apex];
        }
        y = next;
        h = (h * (0.9 * (1e-9 / error.max(1e-14)).powf(0.2)).min(2.0)).min(0.05);
    }
}

#[test]
fn alt_tight_flight_against_dormand_prince() {
    for (n, name) in AeroSet::names().enumerate() {
        let aero = AeroSet::named(name).expect("built in");
        let mut worst = 0.0_f64;
        for i in 0..60 {
            let (l, conditions) = scattered(i + 60 * n);
            let range = Range::new(&Ball::modern(), &aero, &conditions);
            let f = range.precision(Precision::Tight).fly(&l);
            let (v, w) = (l.velocity(), l.spin_rate);
            let start = State::from_column_slice(&[0.0, 0.0, 0.0, v.x, v.y, v.z, w]);
            let [x, y, z] =
                dormand_prince(|s| slope(s, &l, &Ball::modern(), &conditions, &aero), start);
            let miss = (f.offline - x)
                .hypot(f.downrange - y)
                .max((f.apex - z).abs());
            assert!(
                miss < 1e-3,
                "{name} {l:?} {conditions:?}: {f:?} against {x} {y} {z}"
            );
            worst = worst.max(miss);
        }
        println!("{name}: worst {:.4} mm", worst * 1e3);
    }
}

/// The promise of `Precision::Fast`, over more than any player hits: all coefficient sets, wind to
/// gale force, and profiles from none to one over forest.
#[test]
fn alt_fast_flight_against_tight() {
    const CASES: usize = 400;
    for name in AeroSet::names() {
        let aero = AeroSet::named(name).expect("built in");
        for shear in [[0.0, 0.0], [0.05, 1.0 / 7.0], [0.15, 0.3], [0.3, 0.5]] {
            let mut misses: Vec<(f64, f64, usize)> = (0..CASES)
                .map(|i| {
                    let (l, conditions) = wild(i, shear);
                    let range = Range::new(&Ball::modern(), &aero, &conditions);
                    let (a, b) = (range.fly(&l), range.precision(Precision::Tight).fly(&l));
                    let place = (a.offline - b.offline).hypot(a.downrange - b.downrange);
                    (place, (a.apex - b.apex).abs(), i)
                })
                .collect();
            misses.sort_by(|a, b| b.0.total_cmp(&a.0));
            let apex = misses.iter().map(|m| m.1).fold(0.0, f64::max);
            println!(
                "{name}, exponent {:.2} to {:.2}: landing worst {:.1}, median {:.1}, apex {:.1} mm",
                shear[0],
                shear[1],
                misses[0].0 * 1e3,
                misses[CASES / 2].0 * 1e3,
                apex * 1e3
            );
            let (l, c) = wild(misses[0].2, shear);
            let worst = misses[0].0;
            assert!(worst < 0.050, "{name}: {worst:.3} m for {l:?} in {c:?}");
            assert!(apex < 0.050, "{name}: apex {apex:.3} m");
        }
    }
}

/// A launch from a chip to faster than any, in wind to gale force with an exponent in a range.
fn wild(i: usize, shear: [f64; 2]) -> (Launch, Conditions) {
    let l = launch(
        spread(i, 0, 10.0, 90.0),
        spread(i, 1, 1.0, 60.0),
        spread(i, 2, -20.0, 20.0),
        spread(i, 3, 300.0, 12_000.0),
        spread(i, 4, -60.0, 60.0),
    );
    let air = Air {
        temperature: spread(i, 5, 263.0, 318.0),
        pressure: spread(i, 6, 65_000.0, 106_000.0),
        humidity: 0.5,
    };
    let wind = Wind {
        toward_right: spread(i, 8, -14.0, 14.0),
        toward_target: spread(i, 9, -14.0, 14.0),
        shear: spread(i, 7, shear[0], shear[1]),
    };
    (l, Conditions { air, wind })
}
