//! Parts at hand, heads from the rack, and effect against ease of undoing.

mod stat_common;
use nalgebra::Vector3;
use stat_common::range::{Bay, all_rows};
use stat_common::{build, driver, plain, wedge};
use trimtab::correction::Local;
use trimtab::hand::Hand;
use trimtab::head::{ClubKind, Head, Port, Setting};
use trimtab::proposal::{Mount, Options, Part, Proposal, Row, Stock, Undo, propose};
use trimtab::units::{DEG, GRAM, MM};

/// Two ports that take the same screws.
fn two_ports() -> Head {
    let port = |name: &str, at: [f64; 3]| Port {
        name: name.into(),
        at: Vector3::from(at) * MM,
        masses: [0.0, 3.0, 5.0, 9.0].map(|g| g * GRAM).to_vec(),
        size: Vector3::zeros(),
    };
    let mut head = Head {
        ports: vec![
            port("heel", [-30.0, -40.0, -15.0]),
            port("toe", [32.0, -40.0, -12.0]),
        ],
        ..plain(ClubKind::Driver, 10.5, 200.0, 36.0, 3.0)
    };
    head.reference = Setting {
        ports: vec![3.0 * GRAM, 9.0 * GRAM],
        ..Setting::default()
    };
    head.from_measured().expect("a real head")
}

fn with_ports(p: &Proposal) -> Vec<[u32; 2]> {
    let grams = |m: f64| (m / GRAM).round() as u32;
    let of = |r: &Row| [grams(r.setting.ports[0]), grams(r.setting.ports[1])];
    p.rows.iter().map(of).collect()
}

#[test]
fn inv_only_what_is_at_hand() {
    let from = Setting {
        ports: vec![3.0 * GRAM, 9.0 * GRAM],
        ..Setting::default()
    };
    let to = |a: f64, b: f64| Setting {
        ports: vec![a * GRAM, b * GRAM],
        ..Setting::default()
    };
    let nothing = Stock::new(&[], &[], 0.0);
    // Swapping what is in the club, and an empty port, need no part.
    for (a, b) in [(9.0, 3.0), (3.0, 0.0), (0.0, 3.0), (9.0, 0.0)] {
        assert_eq!(nothing.lacks(&from, &to(a, b)), None, "{a} {b}");
    }
    assert_eq!(nothing.lacks(&from, &to(5.0, 9.0)), Some(Part::Screw(50)));
    // Two ports with the same screw need two; one is in the club.
    assert_eq!(nothing.lacks(&from, &to(9.0, 9.0)), Some(Part::Screw(90)));
    let one = Stock::new(&[(9.0 * GRAM, 1), (5.0 * GRAM, 1)], &[], 0.0);
    assert_eq!(one.lacks(&from, &to(9.0, 9.0)), None);
    assert_eq!(one.lacks(&from, &to(5.0, 5.0)), Some(Part::Screw(50)));
    let two = Stock::new(&[(5.0 * GRAM, 1), (5.0 * GRAM, 1)], &[], 0.0);
    assert_eq!(two.lacks(&from, &to(5.0, 5.0)), None);
    let melted = |g: f64| Setting {
        zones: vec![g * GRAM],
        ..Setting::default()
    };
    let some = Stock::new(&[], &[], 4.0 * GRAM);
    assert_eq!(some.lacks(&melted(2.0), &melted(6.0)), None);
    assert_eq!(some.lacks(&melted(2.0), &melted(10.0)), Some(Part::HotMelt));

    // The search proposes what the list allows, and all of that; it tells what was ruled out.
    let bay = Bay::new(build(two_ports(), 45.0));
    let mut s = bay.words("curves 18 right", Hand::Right);
    let free = propose(&s, &all_rows()).expect("a proposal");
    assert!(free.missing.is_empty() && free.settings == 16);
    s.stock = Some(nothing);
    let held = propose(&s, &all_rows()).expect("a proposal");
    // Of 15 others, those with 5 g (7) and with two screws of a kind (2) are out.
    assert_eq!(
        held.missing,
        [
            (Part::Screw(30), 1),
            (Part::Screw(50), 7),
            (Part::Screw(90), 1)
        ]
    );
    assert!(!held.rows.is_empty());
    // With the head's mass held, the two screws can only change places.
    let mut as_heavy = all_rows();
    as_heavy.hold.head_mass = Some(0.5 * GRAM);
    let crossed = propose(&s, &as_heavy).expect("a proposal").rows;
    let crossed = crossed.iter().find(|r| r.setting == to(9.0, 3.0));
    let steps = &crossed.expect("both screws change places").steps;
    assert_eq!(steps.len(), 1);
    let said = "change the heel and toe screws over: 9 g into heel, 3 g into toe";
    assert_eq!(steps[0].instruction, said);
    for ports in with_ports(&held) {
        assert!(ports[0] != 5 && ports[1] != 5, "{ports:?}");
    }
}

/// A head of the rack that is the same head, a more upright one, and one of more loft.
#[test]
fn alt_heads_from_the_rack() {
    let mut bay = Bay::new(build(wedge(), 35.25));
    bay.club.head.face.bulge_radius = 0.4;
    let own = bay.club.head.clone();
    let other = |name: &str, lie: f64, loft: f64| Head {
        name: name.into(),
        lie: own.lie + lie * DEG,
        loft: own.loft + loft * DEG,
        bend: None,
        ..own.clone()
    };
    for (hand, words) in [
        (Hand::Right, "pulls 8, carries 95"),
        (Hand::Left, "pulls 8, carries 95"),
    ] {
        let mut s = bay.words(words, hand);
        for head in [
            other("same", 0.0, 0.0),
            other("upright", 1.0, 0.0),
            other("weak", 0.0, 2.0),
        ] {
            s.rack.push(Mount::new(&bay.club, head, Local::unlearned()));
        }
        let p = propose(&s, &all_rows()).expect("a proposal");
        let row = |name: &str| {
            let of = |r: &&Row| r.other_head.as_deref() == Some(name);
            p.rows
                .iter()
                .find(of)
                .unwrap_or_else(|| panic!("no row of {name}"))
        };
        let off = |a: &Row, b: &Row| (a.outcome.ground - b.outcome.ground).amax();
        assert!(off(row("same"), &p.now) < 1e-9);
        assert!(row("same").helps < 0.6 && row("same").undo == Undo::Reshaft);
        assert!(row("same").steps[0].instruction.contains("epoxy"));
        // A head that is a degree more upright is the player's own, bent by a degree.
        let bent = Setting {
            bend_lie: 1.0 * DEG,
            ..bay.club.setting.clone()
        };
        let (_, bent) =
            trimtab::proposal::what_if(&s, &bent, &Options::default()).expect("a setting");
        assert!(off(row("upright"), &bent) < 1e-9);
        assert!(off(row("upright"), &p.now) > 0.5);
        // More loft: steeper and shorter, and it says why.
        let weak = row("weak");
        assert!(weak.outcome.landing_angle > p.now.outcome.landing_angle);
        assert!(weak.outcome.ground[2] < p.now.outcome.ground[2]);
        let whole = weak.outcome.ground - p.now.outcome.ground;
        let shares: trimtab::tendency::Ground = weak.reasons.iter().sum();
        assert!((whole - shares).amax() < 1e-9);
    }
}

/// Two heads with the same sleeve unscrew; else it is heat and epoxy.
#[test]
fn inv_sleeves_that_are_alike() {
    let club = build(driver(), 45.0);
    let other = |tilt: f64| {
        let mut h = driver();
        h.name = "other".into();
        if let Some(s) = &mut h.sleeve {
            s.tilt *= tilt;
        }
        h
    };
    assert!(Mount::new(&club, other(1.0), Local::unlearned()).unscrews);
    assert!(!Mount::new(&club, other(1.2), Local::unlearned()).unscrews);
    let bare = Head {
        sleeve: None,
        ..other(1.0)
    };
    assert!(!Mount::new(&club, bare, Local::unlearned()).unscrews);
}

/// Along the front what is harder to undo takes more away, and no row beats one of the front in both.
#[test]
fn inv_pareto() {
    let bay = Bay::new(build(driver(), 45.0));
    let s = bay.words("starts 2 right, curves 18 right, carries 240", Hand::Right);
    let o = Options {
        pareto: true,
        rows: 50,
        ..Options::default()
    };
    let p = propose(&s, &o).expect("a proposal");
    assert!(p.pareto.len() >= 3 && p.pareto[0] == p.now);
    for pair in p.pareto.windows(2) {
        assert!(pair[0].undo < pair[1].undo && pair[0].loss > pair[1].loss);
    }
    for r in &p.rows {
        let as_easy = p.pareto.iter().filter(|f| f.undo <= r.undo);
        let least = as_easy.map(|f| f.loss).fold(f64::INFINITY, f64::min);
        assert!(least <= r.loss + 1e-12, "{} {least}", r.loss);
    }
}
