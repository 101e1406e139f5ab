//! Hosel geometry against closed forms and a second road: reflections and bisection.

mod common;
use common::*;
use nalgebra::{Matrix3, Vector3};
use trimtab::hosel::{AngleChange, Attitude, Sleeve, angle_change, bend, sleeve};
use trimtab::units::DEG;

const EXACT: &str = "[exact geometry]";

fn sleeve_of(tilt_deg: f64, clocks_deg: &[f64], reference: usize) -> Sleeve {
    Sleeve {
        tilt: tilt_deg * DEG,
        positions: clocks_deg.iter().map(|c| c * DEG).collect(),
        reference,
    }
}

#[test]
fn ref_lie_error_turns_the_face() {
    let src = "[exact geometry] direction error atan(tan(loft) sin(error)), left when too upright";
    let digit = "half of the last digit given";
    let mut rows = Vec::new();
    for (loft, want) in [(10.5, -0.371), (28.0, -1.063), (46.0, -2.070)] {
        let up = angle_change(&bend(0.0, 2.0 * DEG), loft * DEG);
        let flat = angle_change(&bend(0.0, -2.0 * DEG), loft * DEG);
        let what = format!("2 deg upright at {loft} deg");
        rows.push(row(what, up.face / DEG, want, "deg", Abs(5e-4), digit, src));
        rows.push(row(
            "the same flat",
            flat.face / DEG,
            -want,
            "deg",
            Abs(5e-4),
            digit,
            src,
        ));
        rows.push(row(
            "lie",
            up.lie / DEG,
            2.0,
            "deg",
            Abs(1e-9),
            "rounding",
            EXACT,
        ));
    }
    let loft = angle_change(&bend(1.5 * DEG, 0.0), 28.0 * DEG);
    rows.push(row(
        "loft bend",
        loft.loft / DEG,
        1.5,
        "deg",
        Abs(1e-9),
        "rounding",
        EXACT,
    ));
    rows.push(row(
        "its face",
        loft.face / DEG,
        0.0,
        "deg",
        Abs(1e-9),
        "rounding",
        EXACT,
    ));
    check(&rows);
}

/// The change from the opposite position to `clock` (deg) of a sleeve of `tilt` (deg).
fn change(tilt: f64, clock: f64, lie: f64, loft: f64, who: Attitude) -> AngleChange {
    let s = sleeve_of(tilt, &[clock, clock + 180.0], 1);
    angle_change(&sleeve(&s, 0, lie * DEG, loft * DEG, who), loft * DEG)
}

#[test]
fn ref_small_fore_and_aft_tilt() {
    // From 180 deg opposite to the most loft: twice the tilt, all fore and aft.
    let (d, lie, loft) = (0.01, 58.0, 10.5);
    let total = 2.0 * d;
    let (s, c) = (lie * DEG).sin_cos();
    let of = |who| change(d, 90.0, lie, loft, who);
    let (kept, soled, squared) = (
        of(Attitude::GripKept),
        of(Attitude::Soled),
        of(Attitude::FaceSquared),
    );
    let why = "second order: tilt squared, 7e-6 deg";
    let first = Abs(7e-6);
    table! {
        "kept, loft", kept.loft / DEG, total * s, "deg", first, why, EXACT;
        "kept, face left", kept.face / DEG, -total * c, "deg", first, why, EXACT;
        "kept, lie", kept.lie / DEG, 0.0, "deg", first, why, EXACT;
        "soled, loft", soled.loft / DEG, 0.0, "deg", Abs(1e-12), "exact", EXACT;
        "soled, face", soled.face / DEG, -total / c, "deg", first, why, EXACT;
        "squared, loft", squared.loft / DEG, total / s, "deg", first, why, EXACT;
        "squared, face", squared.face / DEG, 0.0, "deg", Abs(1e-12), "exact", EXACT;
    }
}

/// Reflection in the plane through the origin with normal `n`.
fn mirror_in(n: Vector3<f64>) -> Matrix3<f64> {
    Matrix3::identity() - n * n.transpose() * (2.0 / n.norm_squared())
}

/// The turn that takes unit vector `a` to `b` the short way: two reflections.
fn short_way(a: Vector3<f64>, b: Vector3<f64>) -> Matrix3<f64> {
    mirror_in(a + b) * mirror_in(a)
}

/// The turn by `t` about unit vector `axis`: two reflections half of `t` apart.
fn turn(axis: Vector3<f64>, t: f64) -> Matrix3<f64> {
    let u = axis.cross(&Vector3::new(0.3, 0.5, 0.8)).normalize();
    let w = axis.cross(&u);
    mirror_in(u * (t / 2.0).cos() + w * (t / 2.0).sin()) * mirror_in(u)
}

/// Zero of a rising or falling function within +-0.3 rad.
fn bisect(f: impl Fn(f64) -> f64) -> f64 {
    let (mut lo, mut hi) = (-0.3, 0.3);
    let rising = f(hi) > f(lo);
    for _ in 0..100 {
        let mid = 0.5 * (lo + hi);
        if (f(mid) > 0.0) == rising {
            hi = mid;
        } else {
            lo = mid;
        }
    }
    0.5 * (lo + hi)
}

/// The sleeve by its lean: the head's own hosel axis is brought from along the shaft to where the
/// bore puts it, toward the heel (upright) and backward (more loft).
fn rebuilt(tilt: f64, clock: f64, lie: f64) -> Matrix3<f64> {
    let shaft = Vector3::new(-lie.cos(), 0.0, lie.sin());
    let heelward = Vector3::new(-lie.sin(), 0.0, -lie.cos());
    let lean = heelward * clock.cos() - Vector3::y() * clock.sin();
    short_way(shaft, shaft * tilt.cos() + lean * tilt.sin())
}

#[test]
fn ref_sleeve_rebuilt_by_reflections() {
    let src = "[exact geometry] turns as pairs of reflections, attitude by bisection";
    let mut rows = Vec::new();
    for i in 0..40 {
        let (tilt, lie) = (spread(i, 0, 0.2, 2.0), spread(i, 1, 54.0, 64.0));
        let (loft, p) = (spread(i, 2, 8.0, 60.0), spread(i, 3, 0.0, 360.0));
        let q = spread(i, 4, 0.0, 360.0);
        let s = sleeve_of(tilt, &[p, q], 1);
        let (lie, loft) = (lie * DEG, loft * DEG);
        let kept =
            rebuilt(tilt * DEG, p * DEG, lie) * rebuilt(tilt * DEG, q * DEG, lie).transpose();
        let n0 = Vector3::new(0.0, loft.cos(), loft.sin());
        let shaft = Vector3::new(-lie.cos(), 0.0, lie.sin());
        let yaw = bisect(|t| (turn(Vector3::z(), t) * kept.transpose() * shaft).y);
        let twist = bisect(|t| (turn(shaft, t) * kept * n0).x);
        for (who, m) in [
            (Attitude::GripKept, kept),
            (Attitude::Soled, turn(Vector3::z(), yaw)),
            (Attitude::FaceSquared, turn(shaft, twist) * kept),
        ] {
            let got = angle_change(&sleeve(&s, 0, lie, loft, who), loft);
            let n = m * n0;
            let lie_change = (m * Vector3::x()).z.asin();
            let (f, l) = (n.x.atan2(n.y), n.z.asin() - loft);
            for (what, got, want) in [
                ("face", got.face, f),
                ("loft", got.loft, l),
                ("lie", got.lie, lie_change),
            ] {
                let what = format!("{i} {who:?} {what}");
                rows.push(row(what, got, want, "rad", Abs(1e-12), "rounding", src));
            }
        }
    }
    check(&rows);
}

#[test]
fn inv_soled_keeps_loft_and_squared_keeps_face() {
    for i in 0..200 {
        let (tilt, clock) = (spread(i, 0, 0.1, 2.5), spread(i, 1, 0.0, 360.0));
        let (lie, loft) = (spread(i, 2, 54.0, 65.0), spread(i, 3, 8.0, 60.0));
        let soled = change(tilt, clock, lie, loft, Attitude::Soled);
        let squared = change(tilt, clock, lie, loft, Attitude::FaceSquared);
        assert!(soled.loft.abs() < 1e-12, "{soled:?}");
        assert!(squared.face.abs() < 1e-12, "{squared:?}");
    }
}

#[test]
fn inv_more_loft_turns_the_face_left() {
    for i in 0..100 {
        let (tilt, lie) = (spread(i, 0, 0.2, 2.0), spread(i, 1, 54.0, 64.0));
        let loft = spread(i, 2, 8.0, 50.0);
        for who in [Attitude::GripKept, Attitude::Soled] {
            let more = change(tilt, 90.0, lie, loft, who);
            let less = change(tilt, 270.0, lie, loft, who);
            assert!(
                more.face < 0.0 && less.face > 0.0,
                "{who:?} {more:?} {less:?}"
            );
        }
        assert!(change(tilt, 90.0, lie, loft, Attitude::GripKept).loft > 0.0);
        assert!(
            change(tilt, 0.0, lie, loft, Attitude::GripKept).lie > 0.0,
            "0 is upright"
        );
    }
}

#[test]
fn inv_there_and_back_is_no_change() {
    let clocks = [0.0, 45.0, 90.0, 135.0, 180.0, 225.0, 270.0, 315.0];
    for reference in 0..8 {
        let s = sleeve_of(1.5, &clocks, reference);
        for who in [Attitude::GripKept, Attitude::Soled, Attitude::FaceSquared] {
            let c = angle_change(&sleeve(&s, reference, 1.0, 0.18, who), 0.18);
            assert!(
                c.face.abs() + c.loft.abs() + c.lie.abs() < 1e-12,
                "{who:?} {c:?}"
            );
        }
    }
}

/// What `add --help` says of the clock: 0 the most upright, 90 the most loft, 180 the flattest, 270
/// the least loft, counter-clockwise as seen from the grip on a right-handed head. By hand: toward
/// the toe and up, then out of the face; from above the grip the toe of a right-handed head is on
/// the right when the face looks up the page.
#[test]
fn ref_sense_of_the_clock() {
    let (lie, loft) = (58.0 * DEG, 10.5 * DEG);
    let s = sleeve_of(1.5, &[0.0, 90.0, 180.0, 270.0], 0);
    let turned = |p| sleeve(&s, p, lie, loft, Attitude::GripKept);
    let all = [0, 1, 2, 3].map(|p| angle_change(&turned(p), loft));
    let most =
        |of: fn(&AngleChange) -> f64| (0..4).max_by(|a, b| of(&all[*a]).total_cmp(&of(&all[*b])));
    assert_eq!(most(|c| c.lie), Some(0));
    assert_eq!(most(|c| c.loft), Some(1));
    assert_eq!(most(|c| -c.lie), Some(2));
    assert_eq!(most(|c| -c.loft), Some(3));
    // Where the upper end of the shaft leans in the head, from position to position.
    let up = Vector3::new(-lie.cos(), 0.0, lie.sin());
    let lean = [0, 1, 2, 3].map(|p| turned(p).inverse() * up);
    for p in 0..4 {
        let (from, to) = (
            lean[(p + 1) % 4] - lean[p],
            lean[(p + 2) % 4] - lean[(p + 1) % 4],
        );
        // Whoever looks from the grip looks against `up`: about it is counter-clockwise.
        assert!(from.cross(&to).dot(&up) > 0.0, "at {p}");
    }
}
