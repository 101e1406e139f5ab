//! Mass properties against closed forms and sums over points, and the recovery of a bare head.

mod common;
use common::*;
use nalgebra::{Matrix3, Vector3};
use proptest::prelude::*;
use trimtab::head::{
    ClubKind, Head, MassProperties, Port, Setting, Track, TrackSetting, Zone, inertia_tensor,
};
use trimtab::units::G_CM2;

const BOX: &str = "[exact geometry] I = m (a2 + b2)/12 and the parallel-axis theorem";
const ROUND: &str = "rounding";

fn v(x: f64, y: f64, z: f64) -> Vector3<f64> {
    Vector3::new(x, y, z)
}

fn gap(a: &MassProperties, b: &MassProperties) -> f64 {
    let cg = (a.cg - b.cg).norm() / 0.1;
    let inertia = (a.inertia - b.inertia).abs().max() / 1e-4;
    ((a.mass - b.mass).abs() / 0.2).max(cg).max(inertia)
}

#[test]
fn ref_two_half_boxes_are_one_box() {
    let half = |x| MassProperties::solid_box(0.1, v(x, 0.02, -0.01), v(0.03, 0.05, 0.02));
    let whole = half(0.015).with(&half(0.045));
    let i = whole.inertia / G_CM2;
    // 200 g, 6 x 5 x 2 cm: m (b2 + c2)/12 with 200/12 = 16.667.
    table! {
        "mass", whole.mass, 0.2, "kg", Abs(1e-15), ROUND, BOX;
        "cg x", whole.cg.x, 0.03, "m", Abs(1e-15), ROUND, BOX;
        "cg y", whole.cg.y, 0.02, "m", Abs(1e-15), ROUND, BOX;
        "Ixx", i.m11, 200.0 * 29.0 / 12.0, "g cm2", Abs(1e-9), ROUND, BOX;
        "Iyy", i.m22, 200.0 * 40.0 / 12.0, "g cm2", Abs(1e-9), ROUND, BOX;
        "Izz", i.m33, 200.0 * 61.0 / 12.0, "g cm2", Abs(1e-9), ROUND, BOX;
        "Ixy", i.m12, 0.0, "g cm2", Abs(1e-9), ROUND, BOX;
    }
}

#[test]
fn ref_parallel_axis_and_products() {
    // A 100 g box of 4 x 2 x 1 cm seen from a point 3 cm left, 4 cm behind, 12 cm below.
    let b = MassProperties::solid_box(0.1, v(0.03, 0.04, 0.12), v(0.04, 0.02, 0.01));
    let i = b.inertia_about(Vector3::zeros()) / G_CM2;
    // Two 10 g points at +-(1, 1, 0) cm: Ixx = 20, Izz = 40, Ixy = -20.
    let point = |s: f64| MassProperties::solid_box(0.01, v(s, s, 0.0), Vector3::zeros());
    let d = point(0.01).with(&point(-0.01)).inertia / G_CM2;
    table! {
        "Ixx", i.m11, 100.0 * (5.0 / 12.0 + 160.0), "g cm2", Abs(1e-9), ROUND, BOX;
        "Iyy", i.m22, 100.0 * (17.0 / 12.0 + 153.0), "g cm2", Abs(1e-9), ROUND, BOX;
        "Izz", i.m33, 100.0 * (20.0 / 12.0 + 25.0), "g cm2", Abs(1e-9), ROUND, BOX;
        "Ixy", i.m12, -1200.0, "g cm2", Abs(1e-9), "minus in the product", BOX;
        "Iyz", i.m23, -4800.0, "g cm2", Abs(1e-9), "minus in the product", BOX;
        "dumb-bell Ixx", d.m11, 20.0, "g cm2", Abs(1e-9), ROUND, "[exact geometry]";
        "dumb-bell Izz", d.m33, 40.0, "g cm2", Abs(1e-9), ROUND, "[exact geometry]";
        "dumb-bell Ixy", d.m12, -20.0, "g cm2", Abs(1e-9), ROUND, "[exact geometry]";
    }
}

/// Boxes as eight point masses each, summed from the definition: the two-point Gauss rule, which
/// is exact for the squares in an inertia.
fn points(boxes: &[(f64, Vector3<f64>, Vector3<f64>)]) -> (Vector3<f64>, Matrix3<f64>) {
    let mut points = Vec::new();
    for (mass, at, size) in boxes {
        for corner in 0..8 {
            let f = |bit: i32| (f64::from(corner >> bit & 1) - 0.5) / 3f64.sqrt();
            let u = v(f(0), f(1), f(2));
            points.push((mass / 8.0, at + size.component_mul(&u)));
        }
    }
    let total: f64 = points.iter().map(|p| p.0).sum();
    let cg = points.iter().map(|(m, r)| r * (m / total)).sum();
    let mut i = Matrix3::zeros();
    for (m, r) in &points {
        let [x, y, z] = <[f64; 3]>::from(r - cg);
        let (xx, yy, zz) = (y * y + z * z, x * x + z * z, x * x + y * y);
        i += Matrix3::new(xx, -x * y, -x * z, -x * y, yy, -y * z, -x * z, -y * z, zz) * *m;
    }
    (cg, i)
}

#[test]
fn ref_composite_against_points() {
    let boxes = [
        (0.150, v(0.0, -0.04, 0.0), v(0.10, 0.09, 0.05)),
        (0.012, v(-0.03, -0.08, -0.02), v(0.02, 0.01, 0.01)),
        (0.020, v(0.02, -0.01, -0.03), v(0.01, 0.015, 0.006)),
    ];
    let whole: MassProperties = boxes
        .iter()
        .map(|(m, at, size)| MassProperties::solid_box(*m, *at, *size))
        .sum();
    let (cg, i) = points(&boxes);
    let src = "[exact geometry] eight points a box (Gauss), from the definition of inertia";
    let mut rows = Vec::new();
    for a in 0..3 {
        rows.push(row(
            format!("cg {a}"),
            whole.cg[a],
            cg[a],
            "m",
            Abs(1e-12),
            ROUND,
            src,
        ));
        for b in 0..3 {
            let (got, want) = (whole.inertia[(a, b)] / G_CM2, i[(a, b)] / G_CM2);
            rows.push(row(
                format!("I {a}{b}"),
                got,
                want,
                "g cm2",
                Abs(1e-8),
                ROUND,
                src,
            ));
        }
    }
    check(&rows);
}

fn example_head() -> Head {
    Head {
        name: "test".into(),
        kind: ClubKind::Driver,
        loft: 0.17,
        lie: 1.0,
        face: face(0.3),
        restitution: None,
        bounce: None,
        volume: None,
        bare: MassProperties {
            mass: 0.204,
            cg: v(0.001, -0.0423, 0.0029),
            inertia: inertia_tensor([4085.0, 2843.0, 5679.0], [530.2, 0.5, -733.0]) * G_CM2,
        },
        tracks: vec![Track {
            name: "heel-toe".into(),
            path: vec![
                v(-0.03, -0.08, -0.02),
                v(0.0, -0.09, -0.02),
                v(0.03, -0.08, -0.02),
            ],
            masses: vec![0.008, 0.012],
            size: v(0.01, 0.01, 0.008),
            stops: 0,
        }],
        ports: vec![Port {
            name: "front".into(),
            at: v(0.0, -0.015, -0.03),
            masses: vec![0.003, 0.010],
            size: v(0.01, 0.01, 0.01),
        }],
        zones: vec![Zone {
            name: "heel".into(),
            at: v(-0.04, -0.03, -0.02),
            max: 0.006,
            size: Vector3::zeros(),
        }],
        sleeve: None,
        bend: None,
        reference: Setting {
            tracks: vec![TrackSetting {
                position: 0.25,
                mass: 0.012,
            }],
            ports: vec![0.010],
            zones: vec![0.0],
            ..Setting::default()
        },
    }
}

#[test]
fn ref_bare_head_from_a_measured_reference() {
    let measured = example_head().bare;
    let head = example_head().from_measured().expect("a real head");
    // By moments: M cg - sum m r, by hand. A quarter of the way along is the first leg's middle.
    let (m, slider, screw) = (0.182, v(-0.015, -0.085, -0.02), v(0.0, -0.015, -0.03));
    let cg = (v(0.001, -0.0423, 0.0029) * 0.204 - slider * 0.012 - screw * 0.010) / m;
    let bare = head.bare;
    let src = "[exact geometry] first moments";
    table! {
        "bare mass", bare.mass, m, "kg", Abs(1e-12), ROUND, src;
        "bare cg x", bare.cg.x, cg.x, "m", Abs(1e-12), ROUND, src;
        "bare cg y", bare.cg.y, cg.y, "m", Abs(1e-12), ROUND, src;
        "bare cg z", bare.cg.z, cg.z, "m", Abs(1e-12), ROUND, src;
    }
    let back = head.mass_properties(&head.reference);
    assert!(gap(&back, &measured) < 1e-12, "{back:?}");
    // Weights that outweigh the head are refused.
    let mut heavy = example_head();
    heavy.ports[0].masses = vec![0.010, 0.250];
    heavy.reference.ports = vec![0.250];
    assert!(heavy.from_measured().is_err());
}

#[test]
fn ref_hot_melt_by_the_lever_rule() {
    let mut head = example_head();
    head.bare.mass = 0.2;
    head.bare.inertia = inertia_tensor([4000.0, 3000.0, 5000.0], [0.0; 3]) * G_CM2;
    head.bare.cg = v(0.0, -0.03, -0.02);
    head.tracks.clear();
    head.ports.clear();
    let set = |melt| Setting {
        zones: vec![melt],
        ..Setting::default()
    };
    let before = head.mass_properties(&set(0.0));
    let after = head.mass_properties(&set(0.004));
    let src = "[exact geometry] lever rule and reduced mass, 4 g at 40 mm from the CG of 200 g";
    let more = (after.inertia - before.inertia) / G_CM2;
    table! {
        "CG toe-ward", after.cg.x * 1e3, -40.0 * 4.0 / 204.0, "mm", Abs(1e-9), ROUND, src;
        "CG depth", after.cg.y * 1e3, -30.0, "mm", Abs(1e-9), ROUND, src;
        "Izz", more.m33, 16.0 * 800.0 / 204.0, "g cm2", Abs(1e-8), ROUND, src;
        "Ixx", more.m11, 0.0, "g cm2", Abs(1e-8), ROUND, src;
    }
}

#[test]
fn inv_impossible_bodies_are_refused() {
    let body = |mass: f64, moments, products| MassProperties {
        mass,
        cg: Vector3::zeros(),
        inertia: inertia_tensor(moments, products) * G_CM2,
    };
    let fine = [2000.0, 3000.0, 4000.0];
    assert!(body(0.2, fine, [0.0; 3]).check().is_ok());
    let mut lopsided = body(0.2, fine, [0.0; 3]);
    lopsided.inertia.m12 = 1e-5;
    for (what, bad) in [
        ("no mass", body(0.0, fine, [0.0; 3])),
        ("negative mass", body(-0.2, fine, [0.0; 3])),
        ("not a number", body(f64::NAN, fine, [0.0; 3])),
        (
            "moment beyond the sum of two",
            body(0.2, [1000.0, 1000.0, 2001.0], [0.0; 3]),
        ),
        (
            "negative moment",
            body(0.2, [-10.0, 1000.0, 1000.0], [0.0; 3]),
        ),
        (
            "negative by its product",
            body(0.2, [100.0, 100.0, 150.0], [120.0, 0.0, 0.0]),
        ),
        ("not symmetric", lopsided),
    ] {
        assert!(bad.check().is_err(), "{what} was accepted");
    }
}

fn a_box() -> impl Strategy<Value = MassProperties> {
    let r = -0.1..0.1;
    let s = 0.001..0.1;
    (
        0.001..0.3,
        [r.clone(), r.clone(), r],
        [s.clone(), s.clone(), s],
    )
        .prop_map(|(m, at, size)| MassProperties::solid_box(m, at.into(), size.into()))
}

proptest! {
    #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn prop_removal_inverts_adding(a in a_box(), b in a_box()) {
        prop_assert!(gap(&a.with(&b).without(&b), &a) < 1e-9);
    }

    #[test]
    fn prop_order_of_adding_does_not_matter(a in a_box(), b in a_box(), c in a_box()) {
        prop_assert!(gap(&a.with(&b).with(&c), &c.with(&a).with(&b)) < 1e-12);
        prop_assert!(gap(&a.with(&b.with(&c)), &b.with(&a.with(&c))) < 1e-12);
    }

    #[test]
    fn prop_inertia_does_not_depend_on_the_place(a in a_box(), b in a_box(), d in [-0.1..0.1, -0.1..0.1, -0.1..0.1f64]) {
        let shift = |p: MassProperties| MassProperties { cg: p.cg + Vector3::from(d), ..p };
        let (there, here) = (shift(a).with(&shift(b)), shift(a.with(&b)));
        prop_assert!(gap(&there, &here) < 1e-12);
        prop_assert!(a.with(&b).check().is_ok());
    }
}
