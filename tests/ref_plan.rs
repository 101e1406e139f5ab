//! The range plan: power against published tables and simulation, blocks against drift, and which
//! setting teaches most.

mod common;
mod stat_common;
use common::{Abs, check, row};
use nalgebra::Vector2;
use stat_common::measured::{Player, STEADY, bears, session, usual};
use stat_common::{Noise, build, driver, iron};
use trimtab::adjusted::{Side, Turn, adjusted, scatter};
use trimtab::club::Club;
use trimtab::correction::Local;
use trimtab::delivery::SessionReading;
use trimtab::flight::Conditions;
use trimtab::head::ClubKind;
use trimtab::impact::Delivery;
use trimtab::physics::Physics;
use trimtab::plan::{Bay, Schedule, Wanted, power};
use trimtab::priors;
use trimtab::proposal::{Catalogue, Undo, candidates, steps};
use trimtab::tendency::{Aim, Tendency, tendency};
use trimtab::units::YARD;
use trimtab::verdict::verdict;

/// Shots on each side for a power of 0.80, by effect in standard deviations and level. Source: J.
/// Cohen 1988, *Statistical Power Analysis for the Behavioral Sciences*, 2nd ed., tables 2.4.1
/// (from memory); J. Cohen 1992, *A power primer*, Psychol. Bull. 112, 155-159, table 2.
#[test]
fn ref_numbers_of_cohen() {
    let least = |effect: f64, level: f64| {
        let seen = |n: f64| power(effect, (2.0 / n).sqrt(), 2.0 * n - 2.0, level);
        (2..2000).map(f64::from).find(|n| seen(*n) >= 0.80).unwrap()
    };
    let source = "J. Cohen 1992, Psychol. Bull. 112, 155-159, table 2";
    let why = "whole shots; its table cuts or rounds";
    table! {
        "small effect, 5 %", least(0.2, 0.95), 393.0, "shots", Abs(1.0), why, source;
        "medium effect, 5 %", least(0.5, 0.95), 64.0, "shots", Abs(1.0), why, source;
        "large effect, 5 %", least(0.8, 0.95), 26.0, "shots", Abs(1.0), why, source;
        "small effect, 1 %", least(0.2, 0.99), 586.0, "shots", Abs(1.0), why, source;
        "medium effect, 1 %", least(0.5, 0.99), 95.0, "shots", Abs(1.0), why, source;
        "large effect, 1 %", least(0.8, 0.99), 38.0, "shots", Abs(1.0), why, source;
    }
}

fn read(s: &SessionReading) -> Tendency {
    tendency(s, ClubKind::Driver, &Aim::default()).expect("data")
}

fn side<'a>(reading: &'a SessionReading, tendency: &'a Tendency) -> Side<'a> {
    Side { reading, tendency }
}

/// A plan made from many shots sees the change as often as it says, by averages alone and at the
/// same delivery; and the second takes a fraction of the shots.
#[test]
fn ref_the_planned_power_is_met() {
    let mut noise = Noise::new(31);
    let sure = Turn {
        mean: Vector2::zeros(),
        sd: Vector2::zeros(),
    };
    let pilot = session(400, STEADY, &mut noise);
    let t = read(&pilot);
    let s = scatter(side(&pilot, &t), &sure, &bears(), &usual()).expect("club data");
    let effect = 9.0 * YARD;
    let wanted = Wanted { effect, power: 0.8 };
    let (raw, same) = (
        wanted.raw(&t, ClubKind::Driver),
        wanted.adjusted(&t, &s, &sure),
    );
    let (n_raw, n_same) = (raw.one_look.unwrap(), same.one_look.unwrap());
    println!(
        "spread {:.1} and {:.1} m: {n_raw} and {n_same} shots each; looking often {:?} and {:?}",
        raw.spread, same.spread, raw.any_look, same.any_look
    );
    const PAIRS: usize = 1000;
    let share = |n: usize, by_delivery: bool, noise: &mut Noise| {
        let seen = (0..PAIRS).filter(|_| {
            let moved = Player {
                direct: effect,
                ..STEADY
            };
            let (b, a) = (session(n, STEADY, noise), session(n, moved, noise));
            let (tb, ta) = (read(&b), read(&a));
            let e = if by_delivery {
                adjusted(side(&b, &tb), side(&a, &ta), &sure, &bears(), &usual())
                    .unwrap()
                    .effect
            } else {
                verdict(&tb, &ta, None).changes[2]
            };
            e.mean.abs() > e.half_width()
        });
        seen.count() as f64 / PAIRS as f64
    };
    let why = "3 standard errors of 1000 at 80 %, and 2 % for whole shots";
    let stated = "[exact] the stated power";
    table! {
        "averages alone", share(n_raw, false, &mut noise), 0.80, "", Abs(0.058), why, stated;
        "same delivery", share(n_same, true, &mut noise), 0.80, "", Abs(0.058), why, stated;
    }
    assert!(3 * n_same < n_raw, "{n_same} against {n_raw}");
    // Looking often costs shots at most, and takes no more than some four times as many.
    let often = raw.any_look.unwrap() as f64 / n_raw as f64;
    assert!((1.0..5.0).contains(&often), "{often}");
    // What the hands may answer with another weight costs shots.
    let unsure = Turn {
        sd: Vector2::repeat(0.01),
        ..sure
    };
    assert!(wanted.adjusted(&t, &s, &unsure).one_look.unwrap() > n_same);
}

/// A drift that is steady, and from 21 shots on one that bends too, moves both sides alike, whatever
/// the number of shots.
#[test]
fn inv_blocks_cancel_drift() {
    for each in 5..200 {
        let s = Schedule::new(each, true);
        let of = |c: char| s.order.chars().filter(|x| *x == c).count() * s.block;
        assert!(
            of('A') >= each && of('A') == of('B') && s.block <= 10,
            "{s:?}"
        );
        assert_eq!(s.shots(), of('A') + of('B'));
        // Times of the shots about the middle, so that powers stay small.
        let middle = (s.shots() as f64 - 1.0) / 2.0;
        let drift = |power: i32| -> f64 {
            let sign = s.order.chars().map(|c| if c == 'A' { 1.0 } else { -1.0 });
            let signs = sign.flat_map(|v| std::iter::repeat_n(v, s.block));
            signs
                .enumerate()
                .map(|(i, v)| v * (i as f64 - middle).powi(power))
                .sum()
        };
        assert_eq!(drift(0), 0.0);
        assert!(drift(1).abs() < 1e-6, "{s:?}: {}", drift(1));
        assert!(each <= 20 || drift(2).abs() < 1e-6, "{s:?}: {}", drift(2));
    }
    // Before and after, a drift is all in the difference.
    let s = Schedule::new(12, false);
    assert_eq!((s.order.as_str(), s.block, s.changes()), ("AB", 12, 1));
    assert_eq!(Schedule::new(12, true).changes(), 2);
}

/// The setting that teaches most is the one whose learned response is most in doubt, and it goes
/// back in a minute; a club without such a lever has none.
#[test]
fn prop_teaches_most() {
    let physics = Physics::default();
    let local = Local::unlearned();
    let club = build(driver(), 45.0);
    fn stand<'a>(club: &'a Club, physics: &'a Physics, local: &'a Local) -> Bay<'a> {
        Bay {
            club,
            physics,
            range: physics.range(&Conditions::default()),
            delivery: Delivery::from_vector(&priors::player(&driver()).mean),
            local,
        }
    }
    let bay = |club| stand(club, &physics, &local);
    let best = bay(&club)
        .teaches_most()
        .unwrap()
        .expect("a track and a sleeve");
    let work = steps(&club.head, &club.setting, &best.setting, physics.attitude);
    assert!(work.len() == 1 && work[0].undo <= Undo::AMinute, "{work:?}");
    let all = Catalogue {
        levers: 1,
        squeezes: 0,
        ..Catalogue::default()
    };
    for setting in candidates(&club.head, &club.setting, &all) {
        let other = bay(&club).lesson(&setting).unwrap();
        assert!(other.doubt <= best.doubt * (1.0 + 1e-9), "{other:?}");
    }
    println!(
        "{}: {:.1} m, in doubt by {:.1}",
        work[0].instruction, best.change, best.doubt
    );
    assert!(best.doubt > 1.0, "{best:?}");
    // Half the squared doubt goes when the comparison is as good as the prior.
    let left = best.doubt_left(best.doubt.powi(2));
    assert!((left - best.doubt / 2f64.sqrt()).abs() < 1e-12);
    // To stay where it is teaches nothing.
    let still = bay(&club).lesson(&club.setting).unwrap();
    assert_eq!((still.change, still.doubt), (0.0, 0.0));
    // An iron without a lever that goes back.
    let mut bare = build(iron(), 37.0);
    bare.head.ports.clear();
    bare.setting.ports.clear();
    bare.head.reference.ports.clear();
    assert_eq!(bay(&bare).teaches_most().unwrap(), None);
}
