//! The ball that flies as it was shown: what another published coefficient set flies is met by drag
//! and lift factors on ours.
//!
//! Sources of the sets: the heads of the files in data/aero.

use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use trimtab::ball::Ball;
use trimtab::flight::{AeroSet, AsShown, Conditions, Range, Shown, as_shown};
use trimtab::hand::Mirror;
use trimtab::launch::Launch;
use trimtab::units::{DEG, RPM};

const PRIOR: f64 = 0.1;

/// Deviates near enough to normal: the sum of twelve uniforms.
fn normal(z: &mut ChaCha8Rng) -> f64 {
    (0..12).map(|_| z.random::<f64>()).sum::<f64>() - 6.0
}

/// Driver shots that fade a little: launches as they are, and as a device logs them.
fn launches(n: usize, seed: u64, noise: f64) -> Vec<[Launch; 2]> {
    let mut z = ChaCha8Rng::seed_from_u64(seed);
    (0..n)
        .map(|_| {
            let l = Launch {
                ball_speed: 64.0 + 1.5 * normal(&mut z),
                launch_angle: (12.0 + 1.5 * normal(&mut z)) * DEG,
                launch_direction: (1.0 + 2.0 * normal(&mut z)) * DEG,
                spin_rate: (2800.0 + 250.0 * normal(&mut z)) * RPM,
                spin_axis: (5.0 + 7.0 * normal(&mut z)) * DEG,
            };
            let logged = Launch {
                ball_speed: l.ball_speed + 0.3 * noise * normal(&mut z),
                launch_angle: l.launch_angle + 0.25 * noise * normal(&mut z) * DEG,
                launch_direction: l.launch_direction + 0.25 * noise * normal(&mut z) * DEG,
                spin_rate: l.spin_rate + 90.0 * noise * normal(&mut z) * RPM,
                spin_axis: l.spin_axis + 1.3 * noise * normal(&mut z) * DEG,
            };
            [l, logged]
        })
        .collect()
}

/// What is shown of launches that fly in a world: carry, offline, and apex if wanted.
fn shown(all: &[[Launch; 2]], ball: &Ball, aero: &AeroSet, apex: bool) -> Vec<Shown> {
    let still = Conditions::default();
    let range = Range::new(ball, aero, &still);
    all.iter()
        .map(|[l, logged]| {
            let f = range.fly(l);
            let figures = [Some(f.carry()), Some(f.offline), apex.then_some(f.apex)];
            Shown {
                launch: *logged,
                figures,
            }
        })
        .collect()
}

fn fit(shots: Vec<Shown>) -> Option<AsShown> {
    let visits = [(Conditions::default(), shots)];
    as_shown(&Ball::modern(), &AeroSet::default(), &visits, PRIOR)
}

fn with(x: &AsShown) -> Ball {
    let ball = Ball::modern();
    Ball {
        drag_factor: ball.drag_factor * (1.0 + x.drag),
        lift_factor: ball.lift_factor * (1.0 + x.lift),
        ..ball
    }
}

/// Root mean squares of the gaps of carry and of offline, of balls on our set against a world.
fn gaps(all: &[[Launch; 2]], ball: &Ball, theirs: (&Ball, &AeroSet)) -> [f64; 2] {
    let (ours, still) = (AeroSet::default(), Conditions::default());
    let (a, b) = (
        Range::new(ball, &ours, &still),
        Range::new(theirs.0, theirs.1, &still),
    );
    let mut sum = [0.0; 2];
    for [l, _] in all {
        let (f, g) = (a.fly(l), b.fly(l));
        sum[0] += (f.carry() - g.carry()).powi(2);
        sum[1] += (f.offline - g.offline).powi(2);
    }
    sum.map(|s| (s / all.len() as f64).sqrt())
}

/// Each other published set, with and without the apex, through a device's noise: the launches of
/// another day then fly as they do there to a metre and a half.
#[test]
fn alt_another_published_set_is_met() {
    let others = AeroSet::names().filter(|n| *n != AeroSet::default().name);
    for name in others {
        let aero = AeroSet::named(name).expect("listed");
        let theirs = Ball {
            drag_factor: 1.02,
            lift_factor: 0.96,
            ..Ball::conforming()
        };
        for apex in [false, true] {
            let seen = shown(&launches(40, 1, 1.0), &theirs, &aero, apex);
            let x = fit(seen).expect("a ball of this world");
            let later = launches(200, 2, 0.0);
            let before = gaps(&later, &Ball::modern(), (&theirs, &aero));
            let after = gaps(&later, &with(&x), (&theirs, &aero));
            println!("{name}, apex {apex}: {x:?}, gaps m {before:.2?} to {after:.2?}");
            assert!(before[0].max(before[1]) > 2.0, "{name}: nothing to meet");
            assert!(after[0] < 1.5 && after[1] < 1.5, "{name}");
        }
    }
}

/// What was put in comes out, as far as the prior lets it; on the other side too.
#[test]
fn inv_known_factors_come_back() {
    let ball = Ball::modern();
    let theirs = Ball {
        drag_factor: 1.06 * ball.drag_factor,
        lift_factor: 0.91 * ball.lift_factor,
        ..ball
    };
    let seen = shown(&launches(60, 3, 0.0), &theirs, &AeroSet::default(), true);
    let mirrored = seen.iter().map(|s| Shown {
        launch: s.launch.mirrored(),
        figures: [s.figures[0], s.figures[1].map(|v| -v), s.figures[2]],
    });
    let mirrored = fit(mirrored.collect()).expect("factors");
    let x = fit(seen).expect("factors");
    assert!(
        (x.drag - 0.06).abs() < 2e-3 && (x.lift + 0.09).abs() < 2e-3,
        "{x:?}"
    );
    assert!((x.drag - mirrored.drag).abs() < 1e-9 && (x.lift - mirrored.lift).abs() < 1e-9);
}

/// A device that looks two degrees past the target moves every ball, and no ball's lift.
#[test]
fn inv_an_aim_of_the_device_is_no_lift() {
    let ball = Ball::modern();
    let all = launches(40, 4, 1.0);
    let straight = shown(&all, &ball, &AeroSet::default(), false);
    let aside = straight.iter().map(|s| Shown {
        figures: [s.figures[0], s.figures[1].map(|v| v + 7.0), None],
        ..*s
    });
    let (aside, straight) = (fit(aside.collect()), fit(straight));
    let (aside, straight) = (aside.expect("factors"), straight.expect("factors"));
    assert!((aside.lift - straight.lift).abs() < 1e-6);
}

/// One in eight shots misread moves the factors by less than two of their standard deviations.
#[test]
fn prop_misread_shots_count_little() {
    let all = launches(40, 5, 1.0);
    let good = shown(&all, &Ball::modern(), &AeroSet::default(), true);
    let mut bad = good.clone();
    for s in bad.iter_mut().step_by(8) {
        s.figures = s.figures.map(|f| f.map(|v| 0.4 * v + 20.0));
    }
    let (good, bad) = (fit(good).expect("factors"), fit(bad).expect("factors"));
    assert!(
        (good.lift - bad.lift).abs() < 2.0 * good.lift_sd,
        "{good:?} {bad:?}"
    );
    assert!((good.drag - bad.drag).abs() < 0.02, "{good:?} {bad:?}");
}

/// Five shots say nothing of a ball, and a carry of a third is no ball's.
#[test]
fn prop_no_ball_is_said_where_none_is_shown() {
    let all = launches(40, 6, 1.0);
    let good = shown(&all, &Ball::modern(), &AeroSet::default(), true);
    assert!(fit(good[..5].to_vec()).is_none());
    assert!(fit(good[..6].to_vec()).is_some());
    let feet = good.iter().map(|s| Shown {
        figures: s.figures.map(|f| f.map(|v| v / 3.0)),
        ..*s
    });
    assert!(fit(feet.collect()).is_none());
}
