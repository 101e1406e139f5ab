//! Flight against published coefficients, exact trajectories and typical carries.

mod common;
use common::*;
use trimtab::air::Air;
use trimtab::ball::Ball;
use trimtab::flight::{AeroSet, Conditions, Flight, Precision, Range, Wind};
use trimtab::launch::Launch;
use trimtab::units::{DEG, RPM};

const DIGIT: &str = "half of the last digit given";

fn set(name: &str) -> AeroSet {
    AeroSet::named(name).expect("built in")
}

/// A ball with drag and lift factors.
fn ball(drag_factor: f64, lift_factor: f64) -> Ball {
    Ball {
        drag_factor,
        lift_factor,
        ..Ball::conforming()
    }
}

fn tight(ball: &Ball, aero: &AeroSet, conditions: &Conditions, l: &Launch) -> Flight {
    Range::new(ball, aero, conditions)
        .precision(Precision::Tight)
        .fly(l)
}

#[test]
fn ref_vacuum() {
    let l = launch(70.0, 10.0, 0.0, 2500.0, 0.0);
    let aero = AeroSet::default();
    let f = tight(&ball(0.0, 0.0), &aero, &Conditions::default(), &l);
    let src = "[exact geometry] v2 sin(2a)/g, v2 sin2(a)/2g, 2 v sin(a)/g with g 9.80665";
    table! {
        "carry", f.carry(), 170.89, "m", Abs(0.005), DIGIT, src;
        "apex", f.apex, 7.53, "m", Abs(0.005), DIGIT, src;
        "time", f.time, 2.479, "s", Abs(0.0005), DIGIT, src;
        "descent", f.landing_angle() / DEG, 10.0, "deg", Abs(1e-6), "symmetry", src;
        "speed", f.velocity.norm(), 70.0, "m/s", Abs(1e-6), "energy", src;
    }
}

#[test]
fn ref_smits_smith_coefficients() {
    let aero = set("smits-smith-1994");
    let src = "A. J. Smits, D. R. Smith 1994, A new aerodynamic model of a golf ball in flight, \
               Science and Golf II, 340-347 (second-hand)";
    // By hand: 0.24 + 0.18 S + 0.06 sin(pi (Re - 90000)/200000), 0.54 S^0.4.
    let mut rows = Vec::new();
    for (re, s, cd, cl) in [
        (90_000.0, 0.10, 0.2580, 0.2150),
        (140_000.0, 0.10, 0.3004, 0.2150),
        (190_000.0, 0.15, 0.3270, 0.2528),
        (90_000.0, 0.20, 0.2760, 0.2837),
        (70_000.0, 0.08, 0.2359, 0.1966),
    ] {
        let got = aero.coefficients(re, s);
        rows.push(row(
            format!("Cd {re} {s}"),
            got.0,
            cd,
            "",
            Abs(0.00005),
            DIGIT,
            src,
        ));
        rows.push(row(
            format!("Cl {re} {s}"),
            got.1,
            cl,
            "",
            Abs(0.00005),
            DIGIT,
            src,
        ));
    }
    check(&rows);
}

#[test]
fn ref_indoor_range_coefficients() {
    let aero = set("indoor-range-2001");
    let src = "US patent 6,186,002 (2001), data means of the example ball (second-hand)";
    let why = "the source's own polynomial misses its means by so much";
    let mut rows = Vec::new();
    for (r, s, cd, cl) in [
        (0.81, 0.097, 0.223, 0.146),
        (0.81, 0.218, 0.305, 0.278),
        (1.23, 0.153, 0.256, 0.214),
        (1.25, 0.088, 0.226, 0.146),
        (1.61, 0.090, 0.234, 0.151),
        (2.0, 0.092, 0.241, 0.153),
        (1.98, 0.044, 0.231, 0.115),
    ] {
        let got = aero.coefficients(r * 1e5, s);
        rows.push(row(
            format!("Cd {r} {s}"),
            got.0,
            cd,
            "",
            Abs(0.0025),
            why,
            src,
        ));
        rows.push(row(
            format!("Cl {r} {s}"),
            got.1,
            cl,
            "",
            Abs(0.0035),
            why,
            src,
        ));
    }
    check(&rows);
}

#[test]
fn ref_bearman_harvey_nodes() {
    let aero = AeroSet::default();
    let src = "P. W. Bearman, J. K. Harvey 1976, Golf ball aerodynamics, Aeronautical Quarterly \
               27, 112-122, digitised (second-hand)";
    let (d, nu) = (0.0411, 1.5e-5);
    let mut rows = Vec::new();
    for (v, rpm, cd, cl) in [
        (13.7, 2000.0, 0.3624, 0.1040),
        (38.4, 2000.0, 0.2529, 0.1984),
        (88.1, 2000.0, 0.2470, 0.1276),
        (63.1, 3000.0, 0.2560, 0.1702),
        (13.7, 4000.0, 0.4288, 0.4005),
        (38.4, 4000.0, 0.3084, 0.2862),
        (63.1, 4000.0, 0.2659, 0.1977),
        (88.1, 4000.0, 0.2605, 0.1582),
        (46.9, 6000.0, 0.3285, 0.3005),
        (13.7, 6000.0, 0.5180, 0.4644),
        (88.1, 6000.0, 0.2740, 0.2000),
    ] {
        let got = aero.coefficients(v * d / nu, rpm * RPM * d / 2.0 / v);
        let why = "rounding: the table's own nodes";
        rows.push(row(
            format!("Cd {v} {rpm}"),
            got.0,
            cd,
            "",
            Abs(1e-9),
            why,
            src,
        ));
        rows.push(row(
            format!("Cl {v} {rpm}"),
            got.1,
            cl,
            "",
            Abs(1e-9),
            why,
            src,
        ));
    }
    check(&rows);
}

#[test]
fn ref_carry_and_apex_of_typical_launches() {
    let aero = AeroSet::default();
    let src = "typical skilled launches (common practice, no source)";
    let (carry, apex) = (
        "published models scatter by 5 % in carry, the figures by 0.5",
        "published models scatter by 20 % in apex",
    );
    let mut rows = Vec::new();
    for (v, angle, rpm, far, high) in [
        (74.7, 10.9, 2686.0, 251.0, 29.0),
        (70.6, 9.2, 3655.0, 222.0, 27.0),
        (59.0, 12.1, 5361.0, 177.0, 28.0),
        (53.6, 16.3, 7097.0, 157.0, 29.0),
        (45.6, 24.2, 9304.0, 124.0, 27.0),
    ] {
        let l = launch(v, angle, 0.0, rpm, 0.0);
        let f = tight(&Ball::modern(), &aero, &Conditions::default(), &l);
        rows.push(row(
            format!("carry {v}"),
            f.carry(),
            far,
            "m",
            Rel(0.055),
            carry,
            src,
        ));
        rows.push(row(
            format!("apex {v}"),
            f.apex,
            high,
            "m",
            Rel(0.20),
            apex,
            src,
        ));
    }
    check(&rows);
}

#[test]
fn ref_spin_decay() {
    // No forces, so the path is a parabola whose length is known, and the spin falls by
    // exp(-k length / r). Time constant at a constant 44.7 m/s in standard air.
    let mut rows = Vec::new();
    for name in AeroSet::names() {
        let aero = set(name);
        let conditions = Conditions {
            air: Air {
                temperature: 288.15,
                pressure: 101_325.0,
                humidity: 0.0,
            },
            wind: Wind::default(),
        };
        let (v, a) = (60.0, 30.0 * DEG);
        let l = launch(v, 30.0, 0.0, 3000.0, 0.0);
        let f = tight(&ball(0.0, 0.0), &aero, &conditions, &l);
        let length =
            v * v / 9.80665 * (a.sin() + a.cos().powi(2) * ((1.0 + a.sin()) / a.cos()).ln());
        let tau = -length / 44.7 / (f.spin_rate / l.spin_rate).ln();
        let src = "A. J. Smits, D. R. Smith 1994, Science and Golf II, 340-347 (second-hand): \
                   2.0e-5, 23.8 s at 44.7 m/s";
        let why = "0.05 from the last digit, 0.02 from the radius, 0.01 from real air";
        rows.push(row(name, tau, 23.8, "s", Abs(0.08), why, src));
    }
    check(&rows);
}

#[test]
fn ref_carry_against_drag() {
    let aero = AeroSet::default();
    let l = launch(74.7, 10.9, 0.0, 2686.0, 0.0);
    let carry = |factor: f64| tight(&ball(factor, 1.0), &aero, &Conditions::default(), &l).carry();
    // Mean drag coefficient of the flight is about 0.25: 1 % of it is 0.0025.
    let loss = carry(1.0) - carry(1.01);
    table! {
        "0.0025 in Cd", loss, 2.3, "m", Rel(0.5),
            "the source's launch is not known; carry itself differs by up to a third between clubs",
            "Lyu, Kensrud, Smith, Tosaya 2018, Proceedings 2(6):238 (second-hand)";
    }
}
