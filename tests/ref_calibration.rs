//! Recomputes the calibrated constants of data/constants.toml from its own calibration rows.

mod common;
use common::*;
use trimtab::air::Air;
use trimtab::ball::Ball;
use trimtab::constants::ImpactConstants;
use trimtab::flight::{AeroSet, Conditions, Flight, Range, Wind};
use trimtab::head::ClubKind;
use trimtab::units::DEG;

const FILE: &str = "calibration rows of data/constants.toml (common practice, no source)";

/// Mean of a solved value over the rows of a kind.
fn mean(kind: ClubKind, pick: usize) -> f64 {
    let k = ImpactConstants::default();
    let of: Vec<f64> = clubs()
        .iter()
        .filter(|c| c.kind == kind)
        .map(|c| c.solve(&k)[pick])
        .collect();
    of.iter().sum::<f64>() / of.len() as f64
}

#[test]
fn ref_restitution_solves_the_rows() {
    let k = ImpactConstants::default();
    for c in clubs() {
        let [loft, e, e_t] = c.solve(&k);
        println!(
            "{:?} {} m/s: dynamic loft {:.2} deg, restitution {e:.4}, tangential {e_t:.4}",
            c.kind,
            c.head_speed_m_s,
            loft / DEG
        );
    }
    let mut rows = Vec::new();
    for kind in ClubKind::ALL {
        let want = match kind {
            // Halfway between a fairway wood and an iron, as the file says.
            ClubKind::Hybrid => {
                [1, 2].map(|p| 0.5 * (mean(ClubKind::Fairway, p) + mean(ClubKind::Iron, p)))
            }
            _ => [1, 2].map(|p| mean(kind, p)),
        };
        let got = k.restitution(kind);
        let why = "the file gives three and two decimals, rounded by eye";
        let (n, t) = (format!("{kind} normal"), format!("{kind} tangential"));
        rows.push(row(n, got.normal, want[0], "", Abs(0.003), why, FILE));
        rows.push(row(t, got.tangential, want[1], "", Abs(0.01), why, FILE));
    }
    check(&rows);
}

fn fly(c: &Club, drag: f64, lift: f64, aero: &AeroSet) -> Flight {
    let ball = Ball {
        drag_factor: drag,
        lift_factor: lift,
        ..Ball::conforming()
    };
    let conditions = Conditions {
        air: Air::default(),
        wind: Wind::default(),
    };
    Range::new(&ball, aero, &conditions).fly(&c.launch())
}

/// Sum of squared misses of carry in units of 3 % and of apex in units of 7 %.
fn cost(drag: f64, lift: f64, aero: &AeroSet) -> f64 {
    let miss = |c: &Club| {
        let f = fly(c, drag, lift, aero);
        ((f.carry() / c.carry_m - 1.0) / 0.03).powi(2) + ((f.apex / c.apex_m - 1.0) / 0.07).powi(2)
    };
    clubs().iter().map(miss).sum()
}

#[test]
fn ref_ball_factors_are_the_best_fit() {
    let aero = AeroSet::default();
    let mut best = (f64::INFINITY, 0.0, 0.0);
    for i in 80..=120 {
        for j in 80..=120 {
            let (drag, lift) = (f64::from(i) / 100.0, f64::from(j) / 100.0);
            let s = cost(drag, lift, &aero);
            if s < best.0 {
                best = (s, drag, lift);
            }
        }
    }
    let ball = Ball::modern();
    println!(
        "best: cost {:.3} at drag {}, lift {}",
        best.0, best.1, best.2
    );
    for c in clubs() {
        let f = fly(&c, ball.drag_factor, ball.lift_factor, &aero);
        println!(
            "{:?} {} m/s: carry {:.1} of {} m ({:+.1} %), apex {:.1} of {} m ({:+.1} %)",
            c.kind,
            c.ball_speed_m_s,
            f.carry(),
            c.carry_m,
            100.0 * (f.carry() / c.carry_m - 1.0),
            f.apex,
            c.apex_m,
            100.0 * (f.apex / c.apex_m - 1.0)
        );
    }
    let why = "the grid is 0.01";
    table! {
        "drag factor", ball.drag_factor, best.1, "", Abs(0.005), why, FILE;
        "lift factor", ball.lift_factor, best.2, "", Abs(0.005), why, FILE;
    }
}

#[test]
fn inv_the_solution_gives_the_row_back() {
    let k = ImpactConstants::default();
    for c in clubs() {
        let [loft, normal, tangential] = c.solve(&k);
        let r = trimtab::constants::Restitution { normal, tangential };
        let got = c
            .striker(r)
            .launch(&c.delivery(loft), &Ball::conforming(), &k);
        let want = c.launch();
        assert!((got.ball_speed / want.ball_speed - 1.0).abs() < 1e-9);
        assert!((got.launch_angle - want.launch_angle).abs() < 1e-9);
        assert!((got.spin_rate / want.spin_rate - 1.0).abs() < 1e-9);
        assert!(got.launch_direction.abs() + got.spin_axis.abs() < 1e-12);
    }
}
