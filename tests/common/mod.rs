//! What the tests against outside values share: rows with one tolerance and one source each, and
//! the clubs of the calibration rows.
#![allow(dead_code)] // each test file uses its own part of this

use nalgebra::{Matrix3, Rotation3, Vector3};
use serde::Deserialize;
use trimtab::air::Air;
use trimtab::ball::Ball;
use trimtab::constants::{ImpactConstants, Restitution};
use trimtab::flight::{Conditions, Wind};
use trimtab::head::{ClubKind, Face, MassProperties};
use trimtab::impact::{Delivery, Striker};
use trimtab::launch::Launch;
use trimtab::units::{DEG, G_CM2, GRAM, MM, RPM};

/// The one tolerance of a row.
#[derive(Debug, Clone, Copy)]
pub enum Tol {
    Abs(f64),
    Rel(f64),
}
pub use Tol::{Abs, Rel};

/// One comparison with a value from outside the project.
pub struct Row {
    pub what: String,
    pub got: f64,
    pub want: f64,
    pub unit: &'static str,
    pub tol: Tol,
    pub reason: &'static str,
    pub source: &'static str,
}

/// A row in the order: what, got, want, unit, tolerance, its reason, the source.
pub fn row(
    what: impl Into<String>,
    got: f64,
    want: f64,
    unit: &'static str,
    tol: Tol,
    reason: &'static str,
    source: &'static str,
) -> Row {
    let what = what.into();
    Row {
        what,
        got,
        want,
        unit,
        tol,
        reason,
        source,
    }
}

/// Checks rows written one a line: what, got, want, unit, tolerance, its reason, the source.
#[macro_export]
macro_rules! table {
    ($($what:expr, $got:expr, $want:expr, $unit:expr, $tol:expr, $why:expr, $source:expr;)+) => {
        check(&[$(row($what, $got, $want, $unit, $tol, $why, $source)),+])
    };
}

/// Fails with every row that is out of its tolerance, and prints all rows (`--nocapture`).
pub fn check(rows: &[Row]) {
    assert!(!rows.is_empty(), "a table without rows checks nothing");
    let mut bad = String::new();
    for r in rows {
        let limit = match r.tol {
            Abs(a) => a,
            Rel(f) => f * r.want.abs(),
        };
        let line = format!(
            "{}: got {:.6} want {:.6} {} (off {:+.2e}, allowed {:.2e}: {}) [{}]\n",
            r.what,
            r.got,
            r.want,
            r.unit,
            r.got - r.want,
            limit,
            r.reason,
            r.source
        );
        print!("{line}");
        let near = (r.got - r.want).abs() <= limit; // false for a NaN
        if !near {
            bad.push_str(&line);
        }
    }
    note_evidence(rows);
    assert!(bad.is_empty(), "\n{bad}");
}

/// Adds the rows to the evidence table that `tests/evidence/table.rs` makes, if one is being made:
/// a file for each test in the folder that `TRIMTAB_EVIDENCE` names.
fn note_evidence(rows: &[Row]) {
    let Some(folder) = std::env::var_os("TRIMTAB_EVIDENCE") else {
        return;
    };
    let folder = std::path::Path::new(&folder);
    let test = std::thread::current().name().unwrap_or("main").to_string();
    let lines: String = rows
        .iter()
        .map(|r| {
            let (kind, limit) = match r.tol {
                Abs(a) => ("abs", a),
                Rel(f) => ("rel", f),
            };
            let cells = [
                test.as_str(),
                &r.what,
                r.source,
                r.unit,
                &format!("{:e}", r.want),
                &format!("{:e}", r.got),
                kind,
                &format!("{limit:e}"),
                r.reason,
            ];
            cells.map(|c| c.replace(['\t', '\n'], " ")).join("\t") + "\n"
        })
        .collect();
    std::fs::create_dir_all(folder).expect("the folder of the evidence");
    // A test may check several tables: the first in this process starts the file.
    static STARTED: std::sync::Mutex<Vec<String>> = std::sync::Mutex::new(Vec::new());
    let mut started = STARTED.lock().expect("no test panics here");
    let first = !started.contains(&test);
    if first {
        started.push(test.clone());
    }
    let file = folder.join(format!("{}.tsv", test.replace("::", "-")));
    let old = if first {
        String::new()
    } else {
        std::fs::read_to_string(&file).unwrap_or_default()
    };
    std::fs::write(file, old + &lines).expect("the evidence is written");
}

/// A fixed, evenly spread number in `lo..hi`: the `i`-th of dimension `d` (additive recurrence on
/// square roots of primes).
pub fn spread(i: usize, d: usize, lo: f64, hi: f64) -> f64 {
    const PRIMES: [f64; 10] = [2.0, 3.0, 5.0, 7.0, 11.0, 13.0, 17.0, 19.0, 23.0, 29.0];
    lo + (hi - lo) * ((i + 1) as f64 * PRIMES[d].sqrt()).fract()
}

/// A launch in the units of the trade: m/s, deg, deg (right), rpm, deg (right).
pub fn launch(speed: f64, angle: f64, direction: f64, rpm: f64, axis: f64) -> Launch {
    Launch {
        ball_speed: speed,
        launch_angle: angle * DEG,
        launch_direction: direction * DEG,
        spin_rate: rpm * RPM,
        spin_axis: axis * DEG,
    }
}

/// The `i`-th of a fixed set of launches and conditions, wind and shear among them.
pub fn scattered(i: usize) -> (Launch, Conditions) {
    let l = launch(
        spread(i, 0, 25.0, 85.0),
        spread(i, 1, 5.0, 45.0),
        spread(i, 2, -10.0, 10.0),
        spread(i, 3, 1500.0, 10_000.0),
        spread(i, 4, -30.0, 30.0),
    );
    let air = Air {
        temperature: spread(i, 5, 273.0, 313.0),
        pressure: spread(i, 6, 75_000.0, 103_000.0),
        humidity: spread(i, 7, 0.0, 1.0),
    };
    let wind = Wind {
        toward_right: spread(i, 8, -8.0, 8.0),
        toward_target: spread(i, 9, -8.0, 8.0),
        shear: if i % 3 == 0 { 1.0 / 7.0 } else { 0.0 },
    };
    (l, Conditions { air, wind })
}

/// A straight strike in the face centre.
pub fn straight(head_speed: f64, dynamic_loft: f64) -> Delivery {
    Delivery {
        head_speed,
        club_path: 0.0,
        attack_angle: 0.0,
        face_angle: 0.0,
        dynamic_loft,
        strike_toe: 0.0,
        strike_up: 0.0,
    }
}

/// A face of the given bulge and roll radius, m; infinite for flat.
pub fn face(radius: f64) -> Face {
    Face {
        bulge_radius: radius,
        roll_radius: radius,
        half_width: 0.05,
        half_height: 0.03,
    }
}

/// One `[[calibration]]` row of data/constants.toml, or one `[[club]]` of tests/evidence/clubs.toml.
#[derive(Debug, Clone, Deserialize)]
pub struct Club {
    pub name: String,
    pub kind: ClubKind,
    pub head_speed_m_s: f64,
    pub attack_angle_deg: f64,
    pub ball_speed_m_s: f64,
    pub launch_angle_deg: f64,
    pub spin_rate_rpm: f64,
    pub carry_m: f64,
    pub apex_m: f64,
    pub descent_deg: f64,
    pub head_mass_g: f64,
    pub cg_depth_mm: f64,
    pub cg_up_mm: f64,
    /// Where the ball was struck, up the face; the centre if the row does not say.
    #[serde(default)]
    pub strike_up_mm: f64,
    pub inertia_g_cm2: [f64; 3],
    pub loft_deg: f64,
}

/// The calibration rows of the constants file.
pub fn clubs() -> Vec<Club> {
    #[derive(Deserialize)]
    struct File {
        calibration: Vec<Club>,
    }
    let file: File = toml::from_str(include_str!("../../data/constants.toml")).expect("toml");
    file.calibration
}

impl Club {
    /// The head of the row: CG along the face-centre normal and up the face, curved faces for the
    /// woods, flat ones for the others.
    pub fn striker(&self, r: Restitution) -> Striker {
        let loft = self.loft_deg * DEG;
        let tip = Rotation3::from_axis_angle(&Vector3::x_axis(), loft);
        let body = MassProperties {
            mass: self.head_mass_g * GRAM,
            cg: tip * Vector3::new(0.0, -self.cg_depth_mm, self.cg_up_mm) * MM,
            inertia: Matrix3::from_diagonal(&(Vector3::from(self.inertia_g_cm2) * G_CM2)),
        };
        let radius = match self.kind {
            ClubKind::Driver | ClubKind::Fairway => 0.3,
            _ => f64::INFINITY,
        };
        Striker::from_parts(&body, face(radius), loft, r)
    }

    /// The row's delivery at a dynamic loft (rad).
    pub fn delivery(&self, dynamic_loft: f64) -> Delivery {
        Delivery {
            attack_angle: self.attack_angle_deg * DEG,
            strike_up: self.strike_up_mm * MM,
            ..straight(self.head_speed_m_s, dynamic_loft)
        }
    }

    /// The row's launch.
    pub fn launch(&self) -> Launch {
        let (v, a) = (self.ball_speed_m_s, self.launch_angle_deg);
        launch(v, a, 0.0, self.spin_rate_rpm, 0.0)
    }

    /// Dynamic loft (rad), normal and tangential restitution at which the impact gives the row's
    /// ball speed, launch angle and spin: Newton's method with finite differences.
    pub fn solve(&self, k: &ImpactConstants) -> [f64; 3] {
        let want = self.launch();
        let miss = |x: &Vector3<f64>| {
            let r = Restitution {
                normal: x[1],
                tangential: x[2],
            };
            let got = self
                .striker(r)
                .launch(&self.delivery(x[0]), &Ball::conforming(), k);
            Vector3::new(
                got.ball_speed / want.ball_speed - 1.0,
                got.launch_angle - want.launch_angle,
                got.spin_rate / want.spin_rate - 1.0,
            )
        };
        let mut x = Vector3::new(self.launch_angle_deg * 1.2 * DEG, 0.8, 0.0);
        for _ in 0..50 {
            let f = miss(&x);
            if f.norm() < 1e-12 {
                return x.into();
            }
            let mut slope = Matrix3::zeros();
            for c in 0..3 {
                let (mut up, mut down) = (x, x);
                up[c] += 1e-6;
                down[c] -= 1e-6;
                slope.set_column(c, &((miss(&up) - miss(&down)) / 2e-6));
            }
            x -= slope.try_inverse().expect("regular") * f;
        }
        panic!("{:?}: no solution, stuck at {x:?}", self.kind);
    }
}
