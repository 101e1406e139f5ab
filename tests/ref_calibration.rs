//! Recomputes the calibrated constants of data/constants.toml from its own calibration rows.

mod common;
use common::*;
use trimtab::air::Air;
use trimtab::ball::Ball;
use trimtab::constants::ImpactConstants;
use trimtab::flight::{AeroSet, Conditions, Flight, Range, Wind};
use trimtab::head::ClubKind;
use trimtab::physics::Physics;
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

/// Squared misses of carry in units of 3 % and of apex in units of 7 %.
fn miss(c: &Club, drag: f64, lift: f64, aero: &AeroSet) -> f64 {
    let f = fly(c, drag, lift, aero);
    ((f.carry() / c.carry_m - 1.0) / 0.03).powi(2) + ((f.apex / c.apex_m - 1.0) / 0.07).powi(2)
}

/// Drag and lift factor with the smallest sum of misses over some rows, on a grid of 0.01.
fn best_fit(rows: &[Club]) -> [f64; 2] {
    let aero = AeroSet::default();
    let mut best = (f64::INFINITY, [0.0; 2]);
    for i in 80..=120 {
        for j in 80..=120 {
            let [drag, lift] = [i, j].map(|n| f64::from(n) / 100.0);
            let s = rows.iter().map(|c| miss(c, drag, lift, &aero)).sum();
            if s < best.0 {
                best = (s, [drag, lift]);
            }
        }
    }
    best.1
}

#[test]
fn ref_ball_factors_are_the_best_fit() {
    let aero = AeroSet::default();
    let [drag, lift] = best_fit(&clubs());
    let ball = Ball::modern();
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
        "drag factor", ball.drag_factor, drag, "", Abs(0.005), why, FILE;
        "lift factor", ball.lift_factor, lift, "", Abs(0.005), why, FILE;
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

/// The impulse is scaled back where restitution would create energy; no strike of a real club comes
/// near that, even two standard deviations of both restitutions up: some of the energy is always lost.
#[test]
fn inv_the_energy_limit_is_out_of_reach() {
    let mut least = f64::INFINITY;
    for c in clubs() {
        let uncertain = Physics::uncertain(c.kind);
        let p = Physics::default()
            .shifted(&uncertain[0], 2.0)
            .shifted(&uncertain[1], 2.0);
        let striker = c.striker(p.impact.restitution(c.kind));
        for i in 0..500 {
            let mut d = c.delivery((c.loft_deg + spread(i, 0, -10.0, 10.0)) * DEG);
            d.strike_toe = spread(i, 1, -0.03, 0.03);
            d.strike_up = spread(i, 2, -0.02, 0.02);
            d.club_path = spread(i, 3, -8.0, 8.0) * DEG;
            d.face_angle = spread(i, 4, -8.0, 8.0) * DEG;
            let out = striker.strike(&striker.swing(&d), &p.ball, &p.impact);
            let ball = 0.5 * p.ball.mass * out.ball_velocity.norm_squared();
            least = least.min(out.energy_lost / ball);
        }
    }
    println!("least energy lost, as a share of the ball's: {least:.4}");
    assert!(least > 0.01, "{least}");
}

/// Variance of a row's solved values (normal, tangential) from what the row assumes: each
/// assumption moved by one standard deviation, the squares added.
fn variance(c: &Club, k: &ImpactConstants) -> [f64; 2] {
    let assumed: [fn(&mut Club); 9] = [
        |c| c.ball_speed_m_s *= 1.01,
        |c| c.launch_angle_deg += 0.5,
        |c| c.spin_rate_rpm *= 1.05,
        |c| c.attack_angle_deg += 0.5,
        |c| c.head_mass_g += 5.0,
        |c| c.cg_depth_mm += 3.0,
        |c| c.cg_up_mm += 2.0,
        |c| c.strike_up_mm += 2.0,
        |c| c.inertia_g_cm2 = c.inertia_g_cm2.map(|i| 1.1 * i),
    ];
    let [_, normal, tangential] = c.solve(k);
    assumed.iter().fold([0.0; 2], |sum, shift| {
        let mut other = c.clone();
        shift(&mut other);
        let got = other.solve(k);
        [
            sum[0] + (got[1] - normal).powi(2),
            sum[1] + (got[2] - tangential).powi(2),
        ]
    })
}

/// Standard deviation of a constant of a kind: mean variance of its rows and scatter between them.
fn sd(kind: ClubKind, pick: usize, k: &ImpactConstants) -> f64 {
    let rows: Vec<Club> = clubs().into_iter().filter(|c| c.kind == kind).collect();
    let n = rows.len() as f64;
    let centre = mean(kind, pick + 1);
    let own = rows.iter().map(|c| variance(c, k)[pick]).sum::<f64>() / n;
    let between = rows
        .iter()
        .map(|c| (c.solve(k)[pick + 1] - centre).powi(2) / (n - 1.0).max(1.0))
        .sum::<f64>();
    (own + between).sqrt()
}

#[test]
fn ref_spread_of_the_restitutions() {
    let k = ImpactConstants::default();
    let mut rows = Vec::new();
    for kind in ClubKind::ALL {
        let listed = Physics::uncertain(kind);
        for (pick, name) in ["restitution", "tangential restitution"].iter().enumerate() {
            let want = match kind {
                ClubKind::Hybrid => {
                    // Anywhere between its neighbours: a uniform range has its half over root 3.
                    let [a, b] = [ClubKind::Fairway, ClubKind::Iron];
                    let range = (mean(a, pick + 1) - mean(b, pick + 1)) / 12f64.sqrt();
                    let mid = 0.5 * sd(a, pick, &k).hypot(sd(b, pick, &k));
                    range.hypot(mid)
                }
                _ => sd(kind, pick, &k),
            };
            let got = listed.iter().find(|u| u.name == *name).expect("listed").sd;
            let what = format!("{kind}, sd of the {name}");
            let why = "the file gives two decimals";
            rows.push(row(what, got, want, "", Abs(0.005), why, FILE));
        }
    }
    check(&rows);
}

/// The ball factors fitted again with each row left out: the standard deviation of the file covers
/// their jackknife error (Efron, Stein 1981, Ann. Stat. 9, 586-596) and is not idle.
#[test]
fn ref_spread_of_the_ball_factors() {
    let all = clubs();
    let n = all.len() as f64;
    let left_out: Vec<[f64; 2]> = (0..all.len())
        .map(|i| {
            let mut rest = all.clone();
            rest.remove(i);
            best_fit(&rest)
        })
        .collect();
    for (i, name) in ["drag factor", "lift factor"].iter().enumerate() {
        let mean = left_out.iter().map(|f| f[i]).sum::<f64>() / n;
        let squares: f64 = left_out.iter().map(|f| (f[i] - mean).powi(2)).sum();
        let jackknife = ((n - 1.0) / n * squares).sqrt();
        let listed = Physics::uncertain(ClubKind::Driver);
        let sd = listed.iter().find(|u| u.name == *name).expect("listed").sd;
        println!("{name}: jackknife {jackknife:.4}, file {sd}");
        assert!(
            jackknife < sd && sd < 3.0 * jackknife,
            "{name}: {jackknife} {sd}"
        );
    }
}
