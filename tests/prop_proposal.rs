//! Proposals point the way that the trade knows.

mod stat_common;
use stat_common::range::Bay;
use stat_common::{build, driver, wedge};
use std::sync::LazyLock;
use trimtab::club::features;
use trimtab::flight::{Conditions, Wind};
use trimtab::hand::Hand;
use trimtab::head::Setting;
use trimtab::proposal::{Proposal, Row};
use trimtab::units::DEG;

static DRIVER: LazyLock<Bay> = LazyLock::new(|| Bay::new(build(driver(), 45.0)));
static FADER: LazyLock<Proposal> = LazyLock::new(|| {
    DRIVER.propose_words("starts 2 right, curves 18 right, carries 240", Hand::Right)
});
static DRAWER: LazyLock<Proposal> = LazyLock::new(|| {
    DRIVER.propose_words("starts 2 left, curves 18 left, carries 240", Hand::Right)
});

/// What a row changes: CG toe-ward, back, up (mm), mass (g), loft, lie, face (deg).
fn change(bay: &Bay, row: &Row) -> [f64; 7] {
    let f = |s: &Setting| features(&bay.club.head, s, bay.physics.attitude);
    let (now, then) = (f(&row.setting), f(&bay.club.setting));
    std::array::from_fn(|i| now[i] - then[i])
}

/// The row that changes these levers and no other.
fn only<'a>(p: &'a Proposal, levers: &[&str]) -> &'a Row {
    p.rows
        .iter()
        .find(|r| {
            r.steps
                .iter()
                .map(|s| s.lever.as_str())
                .eq(levers.iter().copied())
        })
        .unwrap_or_else(|| panic!("no row for {levers:?}"))
}

fn words(r: &Row) -> String {
    r.steps
        .iter()
        .map(|s| s.instruction.as_str())
        .collect::<Vec<_>>()
        .join("; ")
}

/// A player fighting a fade gets mass toward the heel, one fighting a draw toward the toe (common
/// practice, no source).
#[test]
fn prop_fade_heel_draw_toe() {
    for (p, toward, sign) in [(&*FADER, "heel", -1.0), (&*DRAWER, "toe", 1.0)] {
        let slid = only(p, &["heel-toe"]);
        assert!(
            words(slid).contains(&format!("toward the {toward}")),
            "{}",
            words(slid)
        );
        assert!(
            change(&DRIVER, slid)[0] * sign > 0.5,
            "{:?}",
            change(&DRIVER, slid)
        );
        assert!(
            slid.offline_change.mean * sign > 0.0,
            "{:?}",
            slid.offline_change
        );
        assert!(slid.helps > 0.7 && slid.loss < p.now.loss, "{}", slid.helps);
        let melted = only(p, &[&format!("hot melt {toward}")]);
        assert!(melted.loss < p.now.loss && melted.helps > 0.5);
        // The other side's melt makes it worse.
        let other = if toward == "heel" { "toe" } else { "heel" };
        let wrong = only(p, &[&format!("hot melt {other}")]);
        assert!(
            wrong.loss > p.now.loss && wrong.helps < 0.5,
            "{}",
            wrong.helps
        );
        let best = &p.rows[0];
        println!(
            "{toward}: {} | {:.1} m of {:.1} m",
            words(best),
            best.loss,
            p.now.loss
        );
        assert!(best.loss < p.now.loss);
    }
}

/// More loft by sleeve turns the face left, so that a fader is told to add loft, a drawer to take
/// it off (common practice; [exact geometry] of the grip kept).
#[test]
fn prop_sleeve_follows_the_side() {
    for (p, sign) in [(&*FADER, 1.0), (&*DRAWER, -1.0)] {
        let c = change(&DRIVER, only(p, &["sleeve"]));
        assert!(c[4] * sign > 0.2 && c[6] * sign < -0.1, "{c:?}");
    }
}

/// A left-handed fader is the right-handed one in a mirror: the same words of heel and toe, the
/// same numbers, in a wind that is mirrored too.
#[test]
fn inv_left_handed() {
    let wind = |toward_right| Conditions {
        wind: Wind {
            toward_right,
            ..Wind::default()
        },
        ..Conditions::default()
    };
    let bay = |right| Bay {
        conditions: wind(right),
        ..Bay::new(build(driver(), 45.0))
    };
    let (right_bay, left_bay) = (bay(2.0), bay(-2.0));
    for (right, left) in [
        (
            "starts 3 right, fades 18, carries 240",
            "starts 3 left, fades 18, carries 240",
        ),
        ("curves 15 left, high", "curves 15 right, high"),
    ] {
        let a = right_bay.propose_words(right, Hand::Right);
        let b = left_bay.propose_words(left, Hand::Left);
        assert_eq!(a.rows.len(), b.rows.len());
        assert_eq!(a.answer, b.answer);
        for (x, y) in a
            .rows
            .iter()
            .chain([&a.now])
            .zip(b.rows.iter().chain([&b.now]))
        {
            assert_eq!(words(x), words(y));
            assert_eq!(x.setting, y.setting);
            let numbers = |r: &Row| {
                let mut v: Vec<f64> = r
                    .ground
                    .iter()
                    .flat_map(|i| [i.mean, i.low, i.high])
                    .collect();
                v.extend([
                    r.loss,
                    r.helps,
                    r.offline.mean,
                    r.offline_change.mean,
                    r.swing_weight.0,
                ]);
                v
            };
            for (u, v) in numbers(x).into_iter().zip(numbers(y)) {
                assert!((u - v).abs() < 1e-9, "{u} {v}");
            }
        }
    }
    // Not for want of a difference: without the mirror the hands part.
    let fade = |hand| DRIVER.propose_words("fades 18", hand);
    assert_eq!(
        words(only(&fade(Hand::Left), &["heel-toe"])),
        words(only(&fade(Hand::Right), &["heel-toe"]))
    );
    let right = |hand| DRIVER.propose_words("curves 18 right", hand);
    assert_ne!(
        words(only(&right(Hand::Left), &["heel-toe"])),
        words(only(&right(Hand::Right), &["heel-toe"]))
    );
}

/// A ballooning flight wants less loft, or a lower or more forward CG (common practice).
#[test]
fn prop_ballooning() {
    let p = DRIVER.propose_words(
        "starts 0 left, curves 0 right, carries 230, balloons",
        Hand::Right,
    );
    let best = &p.rows[0];
    let c = change(&DRIVER, best);
    println!("{} | {c:.2?}", words(best));
    assert!(c[4] < -0.2 || c[2] < -0.1 || c[1] < -0.1, "{c:?}");
    assert!(best.ground[3].mean < p.now.ground[3].mean - 0.5);
    assert!(best.spin_rate.mean < p.now.spin_rate.mean);
    let sleeve = change(&DRIVER, only(&p, &["sleeve"]));
    assert!(sleeve[4] < 0.0, "{sleeve:?}");
    // Mass low in front: forward and down, and it lowers the flight.
    let front = only(&p, &["hot melt front"]);
    let c = change(&DRIVER, front);
    assert!(
        c[1] < 0.0 && c[2] < 0.0 && front.ground[3].mean < p.now.ground[3].mean,
        "{c:?}"
    );
    // Too low asks for the contrary.
    let low = DRIVER.propose_words(
        "starts 0 left, curves 0 right, carries 210, low",
        Hand::Right,
    );
    let c = change(&DRIVER, &low.rows[0]);
    assert!(
        c[4] > 0.2 && low.rows[0].ground[3].mean > low.now.ground[3].mean,
        "{c:?}"
    );
}

/// 4 g of hot melt are two to three swing-weight points (common practice, no source).
#[test]
fn ref_a_squeeze_in_points() {
    let now = DRIVER.club.swing_weight(&DRIVER.club.setting).0;
    for zone in 0..3 {
        let mut s = DRIVER.club.setting.clone();
        s.zones[zone] = 0.004;
        let points = DRIVER.club.swing_weight(&s).0 - now;
        println!("zone {zone}: {points:.2} points");
        assert!((2.0..=3.0).contains(&points), "{zone}: {points}");
    }
}

/// A wedge that starts left gets a flatter lie, one that starts right a more upright one (common
/// practice, no source); an iron's face does the same, a driver's lie hardly matters.
#[test]
fn prop_wedge_lie() {
    let bay = Bay::new(build(wedge(), 35.0));
    for (side, sign, word) in [("left", -1.0, "flatter"), ("right", 1.0, "more upright")] {
        for hand in [Hand::Right, Hand::Left] {
            let p = bay.propose_words(&format!("starts 14 {side}, carries 90"), hand);
            let turn = sign * hand.sign();
            let best = &p.rows[0];
            println!("{side} {hand:?}: {}", words(best));
            assert!(
                best.setting.bend_lie * turn > 0.4 * DEG,
                "{:?}",
                best.setting
            );
            let want = if hand == Hand::Right {
                word
            } else if sign < 0.0 {
                "more upright"
            } else {
                "flatter"
            };
            assert!(words(best).contains(want), "{}", words(best));
            assert!(best.offline_change.mean * turn < 0.0);
        }
    }
}
