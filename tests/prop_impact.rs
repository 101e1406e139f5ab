//! Impact: conservation laws, mirror symmetry and continuity over random heads and strikes.

mod common;
use common::*;
use nalgebra::{Matrix3, Rotation3, Vector3};
use proptest::prelude::*;
use trimtab::ball::Ball;
use trimtab::constants::{ImpactConstants, Restitution};
use trimtab::hand::Mirror;
use trimtab::head::{Face, MassProperties};
use trimtab::impact::{Delivery, Striker};
use trimtab::units::{DEG, G_CM2, MM};

/// A head, a delivery and the constants of one impact.
#[derive(Debug, Clone)]
struct Case {
    body: MassProperties,
    face: Face,
    loft: f64,
    r: Restitution,
    delivery: Delivery,
    k: ImpactConstants,
}

impl Case {
    fn striker(&self) -> Striker {
        Striker::from_parts(&self.body, self.face, self.loft, self.r)
    }
}

fn cases() -> impl Strategy<Value = Case> {
    let head = (
        0.15..0.35,
        [-15.0..15.0, -60.0..0.0, -15.0..15.0],
        [800.0..3000.0, 800.0..3000.0, 800.0..3000.0],
        [-1.5..1.5, -1.5..1.5, -1.5..1.5],
        prop_oneof![Just(f64::INFINITY), 0.2..0.5],
        5.0..60.0,
    );
    let contact = (0.5..0.95, -0.5..0.5, 0.05..0.6);
    let swing = (
        25.0..60.0,
        [-15.0..15.0, -10.0..8.0, -15.0..15.0],
        5.0..65.0,
        [-30.0..30.0, -20.0..20.0],
    );
    (head, contact, swing).prop_map(|(h, c, s)| {
        let (mass, cg, moments, turn, radius, loft) = h;
        // Three points' worth of spread turned askew: always the inertia of some real body.
        let [a, b, d] = moments;
        let diagonal = Vector3::new(b + d, a + d, a + b) * G_CM2;
        let q = Rotation3::new(Vector3::from(turn)).into_inner();
        let inertia: Matrix3<f64> = q * Matrix3::from_diagonal(&diagonal) * q.transpose();
        let (head_speed, [path, attack, face_angle], dynamic_loft, [toe, up]) = s;
        Case {
            body: MassProperties {
                mass,
                cg: Vector3::from(cg) * MM,
                inertia: (inertia + inertia.transpose()) * 0.5,
            },
            face: face(radius),
            loft: loft * DEG,
            r: Restitution {
                normal: c.0,
                tangential: c.1,
            },
            delivery: Delivery {
                head_speed,
                club_path: path * DEG,
                attack_angle: attack * DEG,
                face_angle: face_angle * DEG,
                dynamic_loft: dynamic_loft * DEG,
                strike_toe: toe * MM,
                strike_up: up * MM,
            },
            k: ImpactConstants {
                friction: c.2,
                ..ImpactConstants::default()
            },
        }
    })
}

/// Momentum, angular momentum about the origin of the target frame and kinetic energy, before
/// and after.
fn books(c: &Case) -> [(Vector3<f64>, Vector3<f64>, f64); 2] {
    let ball = Ball::conforming();
    let s = c.striker();
    let swing = s.swing(&c.delivery);
    let out = s.strike(&swing, &ball, &c.k);
    let turn = swing.hands;
    let (point, normal) = c
        .face
        .at(c.delivery.strike_toe, c.delivery.strike_up, c.loft);
    let r_head = turn * c.body.cg;
    let r_ball = turn * (point + normal * ball.radius);
    let inertia = turn.matrix() * c.body.inertia * turn.matrix().transpose();
    let m = c.body.mass;
    let v = swing.velocity;
    let before = (v * m, r_head.cross(&(v * m)), 0.5 * m * v.norm_squared());
    let (vb, vh) = (out.ball_velocity, out.head_velocity);
    let (wb, wh) = (out.ball_spin, out.head_spin);
    let p = vb * ball.mass + vh * m;
    let l = r_ball.cross(&(vb * ball.mass))
        + r_head.cross(&(vh * m))
        + wb * ball.inertia
        + inertia * wh;
    let energy = 0.5
        * (ball.mass * vb.norm_squared()
            + m * vh.norm_squared()
            + ball.inertia * wb.norm_squared()
            + wh.dot(&(inertia * wh)));
    [before, (p, l, energy)]
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 2000, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn prop_momentum_is_kept_and_energy_never_grows(c in cases()) {
        let [(p0, l0, e0), (p1, l1, e1)] = books(&c);
        prop_assert!((p1 - p0).norm() < 1e-9 * p0.norm(), "momentum {p0} {p1}");
        // Scale: the head's momentum at an arm of 0.1 m.
        prop_assert!((l1 - l0).norm() < 1e-9 * 0.1 * p0.norm(), "angular momentum {l0} {l1}");
        prop_assert!(e1 <= e0 * (1.0 + 1e-9), "energy {e0} {e1}");
    }

    #[test]
    fn prop_perfectly_elastic_keeps_energy(c in cases()) {
        let mut c = c;
        c.r = Restitution { normal: 1.0, tangential: 1.0 };
        c.k.friction = 1e6;
        c.k.restitution_slope = 0.0;
        let [(_, _, e0), (_, _, e1)] = books(&c);
        prop_assert!((e1 / e0 - 1.0).abs() < 1e-9, "{e0} {e1}");
    }

    #[test]
    fn prop_contact_law(c in cases()) {
        // The rebound of the contact points, from the outcome alone: normal by e, tangential by
        // e_t while it sticks, and the impulse on the friction cone when it slides.
        let ball = Ball::conforming();
        let s = c.striker();
        let swing = s.swing(&c.delivery);
        let out = s.strike(&swing, &ball, &c.k);
        let (point, normal) = c.face.at(c.delivery.strike_toe, c.delivery.strike_up, c.loft);
        let n = swing.hands * normal;
        let arm = swing.hands * (point - c.body.cg);
        let u0 = swing.velocity;
        prop_assume!(u0.dot(&n) > 1.0);
        let u1 = out.head_velocity + out.head_spin.cross(&arm)
            - out.ball_velocity - out.ball_spin.cross(&(-n * ball.radius));
        let e = c.k.restitution_at(c.r.normal, u0.dot(&n));
        let [(_, _, e0), (_, _, e1)] = books(&c);
        // Where the energy limit scales the impulse back, energy is just kept and no law holds.
        prop_assume!(e1 < e0 * (1.0 - 1e-9));
        prop_assert!((u1.dot(&n) + e * u0.dot(&n)).abs() < 1e-9 * u0.norm());
        let j_n = out.impulse.dot(&n);
        let j_t = (out.impulse - n * j_n).norm();
        if out.sliding {
            prop_assert!((j_t / j_n - c.k.friction).abs() < 1e-9);
        } else {
            prop_assert!(j_t <= c.k.friction * j_n * (1.0 + 1e-9));
            let (t0, t1) = (u0 - n * u0.dot(&n), u1 - n * u1.dot(&n));
            prop_assert!((t1 + t0 * c.r.tangential).norm() < 1e-9 * u0.norm());
        }
    }

    /// No jump where friction gives way, for any head and strike.
    #[test]
    fn prop_sticking_and_sliding_join(c in cases()) {
        let ball = Ball::conforming();
        let s = c.striker();
        let swing = s.swing(&c.delivery);
        let with = |friction: f64| s.strike(&swing, &ball, &ImpactConstants { friction, ..c.k });
        let stuck = with(1e9);
        let (_, normal) = c.face.at(c.delivery.strike_toe, c.delivery.strike_up, c.loft);
        let n = swing.hands * normal;
        let j_n = stuck.impulse.dot(&n);
        prop_assume!(j_n > 0.0);
        let needed = (stuck.impulse - n * j_n).norm() / j_n;
        prop_assume!(needed > 1e-3);
        let (slides, sticks) = (with(needed * (1.0 - 1e-9)), with(needed * (1.0 + 1e-9)));
        prop_assert!(slides.sliding && !sticks.sliding);
        let apart = (slides.impulse - sticks.impulse).norm();
        prop_assert!(apart < 1e-7 * stuck.impulse.norm(), "{apart}");
        prop_assert!((slides.ball_spin - sticks.ball_spin).norm() < 1e-3);
    }

    /// More dynamic loft, higher launch; a CG nearer the heel, more to the left, in its curve.
    #[test]
    fn prop_loft_lifts_and_heelward_cg_draws(
        kind in 0_usize..3, speed in 30.0..55.0, attack in -6.0..5.0, more in 0.5..4.0, cg in 1.0_f64..6.0,
    ) {
        // A driver, an iron and a wedge: mass (kg), CG depth (mm), inertia (g cm2), loft (deg).
        let (mass, depth, inertia, loft) = [
            (0.200, 38.0, [3500.0, 2800.0, 5000.0], 11.0),
            (0.260, 8.0, [720.0, 2520.0, 2650.0], 30.0),
            (0.295, 5.0, [850.0, 2600.0, 2800.0], 52.0),
        ][kind];
        let launch = |toe: f64, dynamic: f64| {
            let tip = Rotation3::from_axis_angle(&Vector3::x_axis(), loft * DEG);
            let body = MassProperties {
                mass,
                cg: tip * Vector3::new(toe, -depth, 0.0) * MM,
                inertia: Matrix3::from_diagonal(&(Vector3::from(inertia) * G_CM2)),
            };
            let r = Restitution { normal: 0.8, tangential: 0.0 };
            let d = Delivery { attack_angle: attack * DEG, ..straight(speed, dynamic * DEG) };
            Striker::from_parts(&body, face(0.3), loft * DEG, r)
                .launch(&d, &Ball::conforming(), &ImpactConstants::default())
        };
        let dynamic = 0.9 * loft + 3.0;
        prop_assert!(launch(0.0, dynamic + more).launch_angle > launch(0.0, dynamic).launch_angle);
        prop_assert!(launch(0.0, dynamic + more).spin_rate > launch(0.0, dynamic).spin_rate);
        let [heel, middle, toe] = [-cg, 0.0, cg].map(|x| launch(x, dynamic).spin_axis);
        prop_assert!(heel < middle && middle < toe, "{heel} {middle} {toe}");
    }

    #[test]
    fn prop_mirror_image(c in cases()) {
        let mut m = c.clone();
        m.body.cg.x = -m.body.cg.x;
        for (a, b) in [(0, 1), (1, 0), (0, 2), (2, 0)] {
            m.body.inertia[(a, b)] = -m.body.inertia[(a, b)];
        }
        m.delivery = m.delivery.mirrored();
        m.delivery.strike_toe = -m.delivery.strike_toe;
        let ball = Ball::conforming();
        let here = c.striker().launch(&c.delivery, &ball, &c.k).mirrored();
        let there = m.striker().launch(&m.delivery, &ball, &m.k);
        for (a, b, scale) in [
            (here.ball_speed, there.ball_speed, 50.0),
            (here.launch_angle, there.launch_angle, 1.0),
            (here.launch_direction, there.launch_direction, 1.0),
            (here.spin_rate * here.spin_axis.cos(), there.spin_rate * there.spin_axis.cos(), 300.0),
            (here.spin_rate * here.spin_axis.sin(), there.spin_rate * there.spin_axis.sin(), 300.0),
        ] {
            prop_assert!((a - b).abs() < 1e-9 * scale, "{here:?} {there:?}");
        }
    }

    #[test]
    fn prop_the_swing_is_what_the_delivery_says(c in cases()) {
        let swing = c.striker().swing(&c.delivery);
        let n = swing.hands * Vector3::new(0.0, c.loft.cos(), c.loft.sin());
        prop_assert!((n.x.atan2(n.y) - c.delivery.face_angle).abs() < 1e-9);
        prop_assert!((n.z.asin() - c.delivery.dynamic_loft).abs() < 1e-9);
        prop_assert!((swing.velocity.norm() - c.delivery.head_speed).abs() < 1e-9);
    }
}

#[test]
fn inv_sticking_and_sliding_join() {
    let body = MassProperties {
        mass: 0.2,
        cg: Vector3::new(2.0, -30.0, -3.0) * MM,
        inertia: Matrix3::from_diagonal(&(Vector3::new(3500.0, 2800.0, 5000.0) * G_CM2)),
    };
    let r = Restitution {
        normal: 0.83,
        tangential: 0.0,
    };
    let s = Striker::from_parts(&body, face(0.3), 0.2, r);
    let (ball, k) = (Ball::conforming(), ImpactConstants::default());
    let hit = |loft: f64| {
        let mut d = straight(45.0, loft);
        (d.club_path, d.strike_toe) = (0.05, 0.01);
        s.strike(&s.swing(&d), &ball, &k)
    };
    let (mut sticks, mut slides) = (10.0 * DEG, 80.0 * DEG);
    assert!(
        !hit(sticks).sliding && hit(slides).sliding,
        "friction must give way in between"
    );
    while slides - sticks > 1e-10 {
        let mid = 0.5 * (sticks + slides);
        if hit(mid).sliding {
            slides = mid;
        } else {
            sticks = mid;
        }
    }
    let (a, b) = (hit(sticks), hit(slides));
    assert!(!a.sliding && b.sliding);
    assert!(
        (a.ball_velocity - b.ball_velocity).norm() < 1e-6,
        "{a:?} {b:?}"
    );
    assert!((a.ball_spin - b.ball_spin).norm() < 1e-5, "{a:?} {b:?}");
    println!(
        "friction gives way at {:.1} deg of dynamic loft",
        sticks / DEG
    );
}
