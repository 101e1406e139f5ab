//! The uncertain constants: each one moves the ball the way it must, and by its own amount.

mod common;
use common::*;
use nalgebra::Vector3;
use trimtab::club::features;
use trimtab::constants::ImpactConstants;
use trimtab::flight::{Conditions, Flight};
use trimtab::head::{BendLimits, ClubKind, Head, MassProperties, Port, Setting};
use trimtab::hosel::{Attitude, Sleeve};
use trimtab::impact::Striker;
use trimtab::launch::Launch;
use trimtab::physics::{Physics, Uncertain};
use trimtab::units::{DEG, GRAM, MM};

const NAMES: [&str; 7] = [
    "restitution",
    "tangential restitution",
    "friction",
    "head-speed mass exponent",
    "sleeve carry-over",
    "drag factor",
    "lift factor",
];

/// An invented driver: a sleeve, a bend, and a port in the toe.
fn head(kind: ClubKind) -> Head {
    let screws = vec![2.0 * GRAM, 12.0 * GRAM];
    Head {
        name: "invented".into(),
        kind,
        loft: 10.5 * DEG,
        lie: 58.0 * DEG,
        face: face(0.3),
        restitution: None,
        bounce: None,
        volume: None,
        bare: MassProperties::solid_box(
            0.198,
            Vector3::new(0.0, -35.0, 2.0) * MM,
            Vector3::new(110.0, 90.0, 50.0) * MM,
        ),
        tracks: vec![],
        ports: vec![Port {
            name: "toe".into(),
            at: Vector3::new(45.0, -30.0, -5.0) * MM,
            masses: screws,
            size: Vector3::zeros(),
        }],
        zones: vec![],
        sleeve: Some(Sleeve {
            tilt: 1.5 * DEG,
            positions: vec![0.0, 90.0 * DEG, 180.0 * DEG, 270.0 * DEG],
            reference: 2,
        }),
        bend: Some(BendLimits {
            loft: 2.0 * DEG,
            lie: 2.0 * DEG,
        }),
        reference: reference(),
    }
}

fn reference() -> Setting {
    Setting {
        ports: vec![2.0 * GRAM],
        clock: 2,
        ..Setting::default()
    }
}

/// More loft by the sleeve and a heavy screw in the toe.
fn changed() -> Setting {
    Setting {
        ports: vec![12.0 * GRAM],
        clock: 1,
        ..Setting::default()
    }
}

/// The same swing before and after the change: head speed, launch, flight.
fn hit(p: &Physics, dynamic_loft: f64) -> (f64, Launch, Flight) {
    let h = head(ClubKind::Driver);
    let of = |s: &Setting| -> Striker { p.striker(&h, s, &reference()).expect("fits") };
    let swing = of(&reference()).swing(&straight(45.0, dynamic_loft * DEG));
    let after = of(&changed());
    let launch = after.strike(&swing, &p.ball, &p.impact).launch();
    let flight = p.range(&Conditions::default()).fly(&launch);
    (after.head_speed(&swing), launch, flight)
}

fn named(name: &str) -> Uncertain {
    let all = Physics::uncertain(ClubKind::Driver);
    *all.iter().find(|u| u.name == name).expect("listed")
}

#[test]
fn inv_every_constant_has_a_spread() {
    for kind in ClubKind::ALL {
        let all = Physics::uncertain(kind);
        assert_eq!(all.map(|u| u.name), NAMES);
        for u in all {
            assert!(u.sd > 0.0 && u.sd < 3.0, "{kind}: {u:?}");
        }
    }
}

#[test]
fn inv_no_shift_is_no_change_and_a_shift_moves_one_thing() {
    let p = Physics::default();
    for u in Physics::uncertain(ClubKind::Driver) {
        assert_eq!(hit(&p.shifted(&u, 0.0), 14.0), hit(&p, 14.0), "{}", u.name);
        let there = p.shifted(&u, 1.5);
        let back = there.shifted(&u, -1.5);
        let moved = there.impact != p.impact || there.ball != p.ball;
        assert!(moved, "{}", u.name);
        let (l, w) = (hit(&back, 14.0).1, hit(&p, 14.0).1);
        assert!((l.ball_speed - w.ball_speed).abs() < 1e-9, "{}", u.name);
    }
    // The constants of one kind leave the others alone.
    for u in &Physics::uncertain(ClubKind::Iron)[..2] {
        assert_eq!(hit(&p.shifted(u, 2.0), 14.0), hit(&p, 14.0), "{}", u.name);
    }
}

#[test]
fn inv_each_constant_moves_the_ball_the_way_it_must() {
    let p = Physics::default();
    let pair = |name: &str, loft: f64| {
        let u = named(name);
        [-1.0, 1.0].map(|z| hit(&p.shifted(&u, z), loft))
    };
    let [less, more] = pair("restitution", 14.0);
    // 0.04 of restitution between them is some 2 % of ball speed: (1 + e).
    let ratio = more.1.ball_speed / less.1.ball_speed - 1.0;
    assert!((0.015..0.025).contains(&ratio), "{ratio}");
    let [less, more] = pair("tangential restitution", 14.0);
    assert!(more.1.spin_rate > 1.1 * less.1.spin_rate);
    // Friction shows only where the ball slides: on a face laid far back.
    let [less, more] = pair("friction", 14.0);
    assert_eq!(less.1, more.1);
    let [less, more] = pair("friction", 72.0);
    assert!(more.1.spin_rate > less.1.spin_rate);
    // A heavier head is swung more slowly, the less so the larger the exponent.
    let [less, more] = pair("head-speed mass exponent", 14.0);
    assert!(less.0 < more.0 && more.0 < 45.0);
    let [less, more] = pair("drag factor", 14.0);
    assert_eq!(less.1, more.1);
    assert!(less.2.carry() > more.2.carry() + 1.0);
    let [less, more] = pair("lift factor", 14.0);
    assert!(more.2.apex > less.2.apex + 0.5);
    // More of a lofted sleeve: higher, and further left.
    let [less, more] = pair("sleeve carry-over", 14.0);
    assert!(more.1.launch_angle > less.1.launch_angle);
    assert!(more.1.launch_direction < less.1.launch_direction);
}

/// With nothing carried over, a turned sleeve leaves the face alone; mass and CG stay changed.
#[test]
fn inv_a_sleeve_that_carries_nothing_over() {
    let mut none = Physics::default();
    none.impact.sleeve_carry_over = 0.0;
    let (h, p) = (head(ClubKind::Driver), Physics::default());
    let unturned = Setting {
        clock: 2,
        ..changed()
    };
    let base = reference();
    let d = straight(45.0, 14.0 * DEG);
    let launch = |p: &Physics, s: &Setting| {
        let of = |s| p.striker(&h, s, &base).expect("fits");
        let swing = of(&base).swing(&d);
        of(s).strike(&swing, &p.ball, &p.impact).launch()
    };
    let without = launch(&p, &unturned);
    let near = |a: &Launch, b: &Launch| {
        (a.velocity() - b.velocity()).norm() < 1e-9 && (a.spin() - b.spin()).norm() < 1e-9
    };
    assert!(near(&launch(&none, &changed()), &without));
    assert!(!near(&launch(&p, &changed()), &without));
    let (f, g) = (none.features(&h, &changed()), p.features(&h, &changed()));
    assert_eq!(f[..4], g[..4], "mass and CG");
    assert!(f[0] > 1.0 && f[3] > 9.9, "{f:?}");
    assert_eq!(f[4..], [0.0; 3]);
    assert!(g[4] > 1.0, "{g:?}");
    // A bend counts in full.
    let bent = Setting {
        bend_lie: DEG,
        bend_loft: -DEG,
        ..reference()
    };
    assert!(near(&launch(&none, &bent), &launch(&p, &bent)));
    let (f, g) = (none.features(&h, &bent), p.features(&h, &bent));
    assert!(f.iter().zip(g).all(|(f, g)| (f - g).abs() < 1e-9));
    assert!(f[4] < -0.9 && f[5] > 0.9, "{f:?}");
}

/// At 1 all is as without the constant, to the last bit; between, the turn's angle is shared out.
#[test]
fn inv_carry_over_shares_out_the_angle() {
    let h = head(ClubKind::Driver);
    let p = Physics::default();
    assert_eq!(p.impact.sleeve_carry_over, 1.0);
    for clock in 0..4 {
        let s = Setting {
            clock,
            ..reference()
        };
        assert_eq!(p.features(&h, &s), features(&h, &s, p.attitude));
        let k = |sleeve_carry_over| ImpactConstants {
            sleeve_carry_over,
            ..p.impact
        };
        for who in [
            Attitude::Unknown,
            Attitude::GripKept,
            Attitude::Soled,
            Attitude::FaceSquared,
        ] {
            let full = h.attitude(&s, who);
            assert_eq!(h.delivered_attitude(&s, who, &k(1.0)), full);
            for share in [-0.3, 0.0, 0.4, 0.999_999, 1.15] {
                let part = h.delivered_attitude(&s, who, &k(share));
                let (a, b) = (part.scaled_axis(), full.scaled_axis() * share);
                assert!((a - b).norm() < 1e-12, "{who:?} {clock} {share}");
            }
        }
    }
}

/// A CG toward the toe opens the head about the shaft, by its constant: of the turn, sin(lie) is face
/// angle and cos(lie) loft. Nothing else of the delivery changes.
#[test]
fn inv_a_cg_toward_the_toe_opens_the_head() {
    let (h, p) = (head(ClubKind::Driver), Physics::default());
    let heavy_toe = Setting {
        ports: vec![12.0 * GRAM],
        ..reference()
    };
    let base = reference();
    let mm = features(&h, &heavy_toe, Attitude::GripKept)[0];
    assert!(mm > 1.0, "{mm}");
    let delivery = |p: &Physics| {
        let of = |s| p.striker(&h, s, &base).expect("fits");
        let swing = of(&base).swing(&straight(45.0, h.loft));
        of(&heavy_toe).delivery(&swing)
    };
    let mut rigid = p.clone();
    rigid.impact.opens_per_cg_toe = 0.0;
    let (with, without) = (delivery(&p), delivery(&rigid));
    let turn = p.impact.opens_per_cg_toe * mm * MM;
    // At small angles, the head at its static loft: dn = w x n.
    let face = turn * h.lie.sin();
    let loft = turn * h.lie.cos();
    assert!((with.face_angle - without.face_angle - face).abs() < 0.03 * face);
    assert!((with.dynamic_loft - without.dynamic_loft - loft).abs() < 0.03 * loft);
    assert!((without.face_angle).abs() < 1e-12);
    assert_eq!(with.club_path, without.club_path);
    assert_eq!(with.head_speed, without.head_speed);
}

/// Nobody said who decides the attitude: as far from a kept grip as from a squared face.
#[test]
fn inv_an_unknown_habit_is_halfway() {
    let h = head(ClubKind::Driver);
    for clock in 0..4 {
        let s = Setting {
            clock,
            ..reference()
        };
        let of = |who| h.attitude(&s, who);
        let (kept, squared) = (of(Attitude::GripKept), of(Attitude::FaceSquared));
        let unknown = of(Attitude::Unknown);
        let (a, b) = (unknown.angle_to(&kept), unknown.angle_to(&squared));
        // An angle comes out of a cosine: half of the digits are left of a small one.
        assert!((a - b).abs() < 1e-6, "{clock}: {a} {b}");
        assert!((a + b - kept.angle_to(&squared)).abs() < 1e-6);
        assert!(clock == 2 || a > 0.01 * DEG, "{clock}: {a}");
    }
}
