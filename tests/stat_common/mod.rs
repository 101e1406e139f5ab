//! What the tests of delivery, statistics and proposals share: seeded noise, clubs built in code,
//! and sessions simulated from known deliveries. All figures of the clubs are made up.
#![allow(dead_code)] // each test file uses its own part of this

pub mod calibration;
pub mod dense;
pub mod landed;
pub mod log;
pub mod measured;
pub mod range;
pub mod season;

use nalgebra::{Rotation3, Vector3};
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use trimtab::club::Club;
use trimtab::delivery::{COMPONENTS, Vector7};
use trimtab::flight::Conditions;
use trimtab::head::{
    BendLimits, ClubKind, Face, Head, MassProperties, Port, Setting, Track, Zone, inertia_tensor,
};
use trimtab::hosel::Sleeve;
use trimtab::impact::{Delivery, Striker};
use trimtab::physics::Physics;
use trimtab::priors;
use trimtab::quantity::{Measured, Quantity};
use trimtab::units::{DEG, G_CM2, GRAM, INCH, MM};
use trimtab::workshop::Part;

/// The launch values, in the order in which the fit of a correction has them, ball speed last.
pub const LAUNCH: [Quantity; 5] = [
    Quantity::LaunchAngle,
    Quantity::LaunchDirection,
    Quantity::SpinAxis,
    Quantity::SpinRate,
    Quantity::BallSpeed,
];

/// Standard normal draws from a seed: Box and Muller 1958, Ann. Math. Stat. 29, 610-611.
pub struct Noise(ChaCha8Rng);

impl Noise {
    pub fn new(seed: u64) -> Noise {
        Noise(ChaCha8Rng::seed_from_u64(seed))
    }

    /// Uniform on 0 to 1.
    pub fn uniform(&mut self) -> f64 {
        self.0.random::<f64>()
    }

    /// Standard normal.
    pub fn normal(&mut self) -> f64 {
        let radius = (-2.0 * (1.0 - self.uniform()).ln()).sqrt();
        radius * (std::f64::consts::TAU * self.uniform()).cos()
    }

    /// A vector of standard normals.
    pub fn vector(&mut self) -> Vector7 {
        Vector7::from_fn(|_, _| self.normal())
    }

    /// An index below `n`.
    pub fn below(&mut self, n: usize) -> usize {
        ((self.uniform() * n as f64) as usize).min(n - 1)
    }
}

fn curved(radius: f64) -> Face {
    Face {
        bulge_radius: radius,
        roll_radius: radius,
        half_width: 50.0 * MM,
        half_height: 28.0 * MM,
    }
}

/// A head without levers of a kind: loft (deg), head mass (g), CG depth and height along the
/// face-centre normal (mm). Its CG is neither toe-ward nor heel-ward.
pub fn plain(kind: ClubKind, loft: f64, grams: f64, depth: f64, up: f64) -> Head {
    let tip = Rotation3::from_axis_angle(&Vector3::x_axis(), loft * DEG);
    let wood = matches!(kind, ClubKind::Driver | ClubKind::Fairway);
    Head {
        name: format!("test {kind}"),
        kind,
        loft: loft * DEG,
        lie: if wood { 58.0 } else { 63.0 } * DEG,
        face: curved(if wood { 0.3 } else { f64::INFINITY }),
        restitution: None,
        bounce: None,
        volume: None,
        bare: MassProperties {
            mass: grams * GRAM,
            cg: tip * Vector3::new(0.0, -depth, up) * MM,
            inertia: inertia_tensor([2800.0, 3600.0, 5000.0], [0.0; 3]) * G_CM2,
        },
        tracks: vec![],
        ports: vec![],
        zones: vec![],
        sleeve: None,
        bend: None,
        reference: Setting::default(),
    }
}

/// One plain head of each kind.
pub fn plain_heads() -> [Head; 5] {
    [
        plain(ClubKind::Driver, 10.5, 200.0, 36.0, 3.0),
        plain(ClubKind::Fairway, 15.0, 212.0, 28.0, 0.0),
        plain(ClubKind::Hybrid, 21.0, 235.0, 18.0, 0.0),
        plain(ClubKind::Iron, 31.0, 265.0, 4.0, -2.0),
        plain(ClubKind::Wedge, 54.0, 300.0, 3.0, 0.0),
    ]
}

fn zone(name: &str, at: [f64; 3]) -> Zone {
    Zone {
        name: name.into(),
        at: Vector3::from(at) * MM,
        max: 16.0 * GRAM,
        size: Vector3::repeat(12.0) * MM,
    }
}

/// A driver with a heel-toe track, a sleeve of eight positions and three zones of hot melt, as
/// measured with the weight in the middle and the sleeve at its flattest.
pub fn driver() -> Head {
    let mut head = Head {
        tracks: vec![Track {
            name: "heel-toe".into(),
            path: vec![
                Vector3::new(-40.0, -50.0, -18.0) * MM,
                Vector3::new(40.0, -50.0, -18.0) * MM,
            ],
            masses: vec![8.0 * GRAM, 14.0 * GRAM],
            size: Vector3::new(14.0, 14.0, 8.0) * MM,
            stops: 0,
        }],
        zones: vec![
            zone("heel", [-38.0, -30.0, -12.0]),
            zone("toe", [38.0, -30.0, -12.0]),
            zone("front", [0.0, -10.0, -24.0]),
        ],
        sleeve: Some(Sleeve {
            tilt: 1.5 * DEG,
            positions: (0..8).map(|k| f64::from(k) * 45.0 * DEG).collect(),
            reference: 4,
        }),
        ..plain(ClubKind::Driver, 10.5, 203.0, 36.0, 3.0)
    };
    head.reference = Setting::neutral(&head);
    head.reference.tracks[0].mass = 14.0 * GRAM;
    head.from_measured().expect("a real head")
}

/// A flat-faced iron with hardly a lever: a screw of 2 or 3 g.
pub fn iron() -> Head {
    let mut head = Head {
        ports: vec![Port {
            name: "sole".into(),
            at: Vector3::new(0.0, -8.0, -15.0) * MM,
            masses: vec![2.0 * GRAM, 3.0 * GRAM],
            size: Vector3::zeros(),
        }],
        ..plain(ClubKind::Iron, 31.0, 265.0, 4.0, -2.0)
    };
    head.reference = Setting::neutral(&head);
    head.from_measured().expect("a real head")
}

/// A wedge whose hosel may be bent by 2 deg either way.
pub fn wedge() -> Head {
    Head {
        bend: Some(BendLimits {
            loft: 2.0 * DEG,
            lie: 2.0 * DEG,
        }),
        bounce: Some(10.0 * DEG),
        ..plain(ClubKind::Wedge, 54.0, 300.0, 3.0, 0.0)
    }
}

/// A build of a head at its reference setting: length in inches, a shaft of 65 g and a grip.
pub fn build(head: Head, length: f64) -> Club {
    let setting = head.reference.clone();
    Club {
        head,
        setting,
        length: length * INCH,
        parts: vec![
            Part {
                mass: 0.065,
                balance: 0.53 * length * INCH,
            },
            Part {
                mass: 0.050,
                balance: 0.1,
            },
        ],
    }
}

/// What a perfect device would show of a delivery: launch, club, and the ball on the ground.
pub fn seen(d: &Delivery, striker: &Striker, physics: &Physics, air: &Conditions) -> Measured {
    let l = striker.launch(d, &physics.ball, &physics.impact);
    let f = physics.range(air).fly(&l);
    let mut m = Measured::default()
        .with(Quantity::LaunchAngle, l.launch_angle)
        .with(Quantity::LaunchDirection, l.launch_direction)
        .with(Quantity::SpinAxis, l.spin_axis)
        .with(Quantity::SpinRate, l.spin_rate)
        .with(Quantity::BallSpeed, l.ball_speed)
        .with(Quantity::Carry, f.carry())
        .with(Quantity::Offline, f.offline)
        .with(Quantity::Curve, f.curve(l.launch_direction))
        .with(Quantity::Apex, f.apex);
    for (q, v) in COMPONENTS.into_iter().zip(d.to_vector().iter()) {
        m.set(q, Some(*v));
    }
    m
}

/// Shots of a player with a central delivery: usual spread from shot to shot times `spread`,
/// measured by a perfect device that tells launch and head speed.
pub fn shots(
    club: &Club,
    centre: &Vector7,
    n: usize,
    spread: f64,
    physics: &Physics,
    noise: &mut Noise,
) -> Vec<Measured> {
    let within = priors::within(club.head.kind) * spread;
    let striker = physics
        .striker(&club.head, &club.setting, &club.setting)
        .expect("the club's own setting");
    (0..n)
        .map(|_| {
            let d = Delivery::from_vector(&(centre + within.component_mul(&noise.vector())));
            let all = seen(&d, &striker, physics, &Conditions::default());
            let mut out = Measured::default();
            for q in LAUNCH.into_iter().chain([Quantity::HeadSpeed]) {
                out.set(q, all.get(q));
            }
            out
        })
        .collect()
}

/// Mean and standard error of a sample.
pub fn mean_se(v: &[f64]) -> (f64, f64) {
    let n = v.len() as f64;
    let mean = v.iter().sum::<f64>() / n;
    let var = v.iter().map(|x| (x - mean).powi(2)).sum::<f64>() / (n - 1.0);
    (mean, (var / n).sqrt())
}
