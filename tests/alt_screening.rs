//! The screened search against the exhaustive one, which predicts every setting exactly: the same
//! rows in the same order, from a fraction of the predictions.

mod stat_common;
use nalgebra::Vector3;
use stat_common::range::Bay;
use stat_common::{build, driver, plain, wedge};
use std::time::Instant;
use trimtab::club::Hold;
use trimtab::hand::Hand;
use trimtab::head::{BendLimits, ClubKind, Head, Port, Setting};
use trimtab::proposal::{Catalogue, Options, Proposal, Row, Situation, Window, propose};
use trimtab::units::{DEG, GRAM, MM};

/// A driver with a track, a sleeve, three zones and two ports.
fn full_driver() -> Head {
    let mut head = driver();
    let port = |name: &str, at: [f64; 3]| Port {
        name: name.into(),
        at: Vector3::from(at) * MM,
        masses: [2.0, 5.0, 9.0].map(|g| g * GRAM).to_vec(),
        size: Vector3::new(12.0, 12.0, 8.0) * MM,
    };
    head.ports = vec![
        port("front", [4.0, -12.0, -20.0]),
        port("back", [-3.0, -80.0, -14.0]),
    ];
    head.reference.ports = vec![5.0 * GRAM; 2];
    head.from_measured().expect("a real head")
}

/// A fairway wood that bends, with one port and two zones.
fn bending_wood() -> Head {
    let full = full_driver();
    let mut head = Head {
        bend: Some(BendLimits {
            loft: 2.0 * DEG,
            lie: 2.0 * DEG,
        }),
        ports: vec![full.ports[1].clone()],
        zones: full.zones[..2].to_vec(),
        ..plain(ClubKind::Fairway, 15.0, 215.0, 28.0, 0.0)
    };
    head.reference = Setting::neutral(&head);
    head.from_measured().expect("a real head")
}

fn same(case: &str, situation: &Situation<'_>, options: &Options) -> (Proposal, Proposal) {
    let run = |exhaustive| {
        let from = Instant::now();
        let o = Options {
            exhaustive,
            ..*options
        };
        (propose(situation, &o).expect("a proposal"), from.elapsed())
    };
    let ((screened, quick), (exact, slow)) = (run(false), run(true));
    println!(
        "{case}: {} settings, {} exact, {:.2?} against {:.2?}, reach {:.3} {:.3} {:?}",
        screened.settings,
        screened.predicted,
        quick,
        slow,
        screened.reach,
        exact.reach,
        exact.answer
    );
    let same_kind = |a: &Proposal, b: &Proposal| {
        std::mem::discriminant(&a.answer) == std::mem::discriminant(&b.answer)
    };
    assert!(
        same_kind(&screened, &exact),
        "{case}: {:?} {:?}",
        screened.answer,
        exact.answer
    );
    assert_eq!(screened.tied, exact.tied, "{case}");
    let told = |p: &Proposal| -> Vec<(Setting, f64)> {
        let row = |r: &Row| (r.setting.clone(), r.loss);
        p.rows.iter().map(row).collect()
    };
    assert_eq!(told(&screened), told(&exact), "{case}");
    assert!((screened.reach - exact.reach).abs() < 0.0051, "{case}");
    (screened, exact)
}

fn options(track_positions: usize) -> Options {
    Options {
        rows: 6,
        anyway: true,
        catalogue: Catalogue {
            track_positions,
            ..Catalogue::default()
        },
        ..Options::default()
    }
}

#[test]
fn alt_screened_words() {
    let bay = Bay::new(build(full_driver(), 45.0));
    let plain = Bay::new(build(driver(), 45.5));
    let iron = Bay::new(build(wedge(), 35.25));
    let wood = Bay::new(build(bending_wood(), 43.0));
    for (words, hand) in [
        ("starts 2 right, curves 18 right, carries 240", Hand::Right),
        (
            "starts 4 left, curves 12 right, carries 215, high",
            Hand::Left,
        ),
        ("push hook", Hand::Right),
        ("too much spin, carries 230", Hand::Left),
    ] {
        same(words, &bay.words(words, hand), &options(5));
        same(words, &plain.words(words, hand), &options(17));
    }
    same(
        "wood",
        &wood.words("pulls 8, low", Hand::Right),
        &options(5),
    );
    same("wedge", &iron.words("pulls 8", Hand::Right), &options(5));
}

/// Logged shots, where the risk of making the miss worse has a price, with limits and with other
/// wishes.
#[test]
fn alt_screened_shots() {
    let bay = Bay::new(build(full_driver(), 45.0));
    let left = Bay::new(build(driver(), 44.5));
    for (bay, off, n, seed, positions) in [
        (&bay, [0.0, 0.6, 0.3, 1.2, 0.2, 0.5, -0.4], 14, 3, 5),
        (&left, [0.4, -0.8, 0.0, -1.0, 0.8, -0.6, 0.9], 20, 5, 17),
        (&bay, [-0.5, 1.0, -0.6, 0.3, -0.9, 0.0, 0.3], 9, 8, 5),
    ] {
        let session = bay.session(off, n, 1.0, seed);
        let tendency = bay.tendency(&session);
        let mut s = bay.shots(&session, &tendency);
        same("shots", &s, &options(positions));
        let hold = Hold {
            swing_weight_points: Some(4.0),
            face_angle: Some(2.0 * DEG),
            ..Hold::default()
        };
        let held = Options {
            hold,
            ..options(3 * positions)
        };
        same("held", &s, &held);
        s.goal.apex = Some(Window::at(32.0));
        s.goal.fairway = 25.0;
        s.goal.keep_carry = true;
        same("fairway and height", &s, &options(positions));
        s.goal.apex = None;
        s.goal.start = Window::between(Some(-4.0), None);
        s.goal.landing_angle = Window::between(Some(40.0 * DEG), None);
        s.goal.weights.shape = 3.0;
        s.goal.weights.direction = 0.5;
        same("start, landing, shape", &s, &options(positions));
    }
}

/// A single lever in fine steps: few dimensions, and the other levers lie far out.
#[test]
fn alt_screened_single_lever() {
    let bay = Bay::new(build(driver(), 45.0));
    let mut fine = options(801);
    fine.catalogue.levers = 1;
    let s = bay.words("starts 4 left, curves 12 right, carries 215", Hand::Left);
    let (screened, exact) = same("single lever", &s, &fine);
    assert!(2 * screened.predicted < exact.predicted);
}

/// Every kind of change, help or not.
#[test]
fn alt_screened_every_kind() {
    let bay = Bay::new(build(full_driver(), 45.0));
    let session = bay.session([0.0, 0.6, 0.3, 1.2, 0.2, 0.5, -0.4], 14, 1.0, 3);
    let tendency = bay.tendency(&session);
    let every = Options {
        rows: 50,
        every_kind: true,
        ..options(5)
    };
    same("every kind", &bay.shots(&session, &tendency), &every);
}

/// A hundred thousand settings: how many are predicted exactly.
#[test]
fn inv_a_hundred_thousand() {
    let bay = Bay::new(build(full_driver(), 45.0));
    let s = bay.words(
        "starts 2 right, curves 18 right, carries 240, high",
        Hand::Right,
    );
    let from = Instant::now();
    let p = propose(&s, &options(301)).expect("a proposal");
    println!(
        "{} settings, {} exact, {:.2?}",
        p.settings,
        p.predicted,
        from.elapsed()
    );
    assert!(p.settings > 100_000 && p.predicted < 1200);
}
