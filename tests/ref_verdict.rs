//! The check afterwards: Welch's test by hand, and how often each outcome comes up by chance.

mod common;
mod stat_common;
use common::{Abs, check, row};
use stat_common::Noise;
use stat_common::landed::landed;
use trimtab::head::ClubKind;
use trimtab::proposal::Interval;
use trimtab::tendency::{Aim, Figure, Tendency, tendency};
use trimtab::verdict::{Outcome, verdict};

fn session(n: usize, start: f64, noise: &mut Noise) -> Tendency {
    tendency(&landed(n, start, noise), ClubKind::Driver, &Aim::default()).expect("data")
}

/// A session of `n` shots with a given mean and sample variance of offline.
fn given(n: f64, mean: f64, variance: f64) -> Tendency {
    let mut t = session(12, 0.0, &mut Noise::new(1));
    t.effective = n;
    t.offline = Figure {
        mean,
        sd: variance.sqrt(),
        se: (variance / n).sqrt(),
    };
    t
}

fn exactly(mean: f64, half: f64) -> Option<Interval> {
    Some(Interval {
        mean,
        low: mean - half,
        high: mean + half,
    })
}

/// By hand: 5 shots with variance 4 against 10 with variance 9 have squared standard errors of 0.8
/// and 0.9; together 1.7, degrees of freedom 1.7² / (0.8²/4 + 0.9²/9) = 2.89 / 0.25 = 11.56.
#[test]
fn ref_welch_by_hand() {
    let v = verdict(&given(5.0, 10.0, 4.0), &given(10.0, 14.0, 9.0), None);
    let c = v.changes[2];
    let welch = "[exact algebra] B. L. Welch 1947, Biometrika 34, 28-35";
    // 90 % quantiles of Student's t at 11 and 12 degrees of freedom: 1.363 and 1.356 (R. A. Fisher,
    // F. Yates 1963, Statistical Tables, table III), by straight line between them.
    let t = 1.363 + 0.56 * (1.356 - 1.363);
    table! {
        "change", c.mean, 4.0, "m", Abs(1e-12), "rounding", welch;
        "standard error", c.se, 1.303_840_481_040_53, "m", Abs(1e-12), "rounding", welch;
        "degrees of freedom", c.dof, 11.56, "", Abs(1e-12), "rounding", welch;
        "half of the interval", c.half_width() / c.se, t, "", Abs(1e-3), "three digits of the table",
            "Fisher and Yates 1963";
    }
    assert_eq!(v.shots, [5.0, 10.0]);
    // Turned round, only the sign changes.
    let w = verdict(&given(10.0, 14.0, 9.0), &given(5.0, 10.0, 4.0), None);
    assert_eq!((w.changes[2].mean, w.changes[2].se), (-4.0, c.se));
}

/// What is called as predicted goes in the predicted direction; what goes the other way beyond
/// noise is called opposite, however wide the prediction was.
#[test]
fn inv_as_predicted_means_the_predicted_direction() {
    let before = given(20.0, 0.0, 20.0);
    for after in [-6.0, -3.0, -1.0, 0.0, 1.0, 3.0, 6.0] {
        for half in [0.0, 1.0, 5.0, 20.0] {
            for predicted in [-4.0, -1.0, 1.0, 4.0] {
                let v = verdict(&before, &given(20.0, after, 20.0), exactly(predicted, half));
                let c = v.changes[2];
                let clear = c.mean.abs() > c.half_width();
                let along = c.mean * predicted > 0.0;
                match v.outcome {
                    Outcome::AsPredicted => assert!(clear && along, "{after} {predicted} {half}"),
                    Outcome::Opposite => assert!(clear && !along, "{after} {predicted} {half}"),
                    _ => assert!(!clear || along, "{after} {predicted} {half}"),
                }
            }
        }
    }
}

/// Share of each outcome over 2000 pairs of sessions of 30 shots, the second moved by `by`.
fn shares(by: f64, predicted: Option<Interval>, seed: u64) -> impl Fn(Outcome) -> f64 {
    let mut noise = Noise::new(seed);
    let outcomes: Vec<Outcome> = (0..2000)
        .map(|_| {
            let before = session(30, 0.0, &mut noise);
            let after = session(30, by, &mut noise);
            verdict(&before, &after, predicted).outcome
        })
        .collect();
    move |o| outcomes.iter().filter(|x| **x == o).count() as f64 / 2000.0
}

/// The 80 % level: 3 Monte-Carlo standard errors of a proportion of 2000 are 2.7 % at 20 % and 2 %
/// at 10 %. Less and more are what is left of agreement, to both sides.
#[test]
fn ref_error_rates() {
    let (at20, at10) = (
        "3 standard errors of 2000 at 20 %",
        "3 standard errors of 2000 at 10 %",
    );
    let level = "[exact] the stated 80 % level";
    // Nothing changed and nothing was predicted: "an effect" in one of five.
    let none = shares(0.0, None, 1);
    // Nothing changed, much was predicted: opposite in half of those.
    let far = shares(0.0, exactly(-60.0, 0.0), 2);
    // What was predicted came true: a disagreement in one of five, half to each side.
    let truth = shares(-25.0, exactly(-25.0, 0.0), 3);
    use Outcome::{AsPredicted, CannotTell, Less, More, Opposite};
    println!(
        "true: {:.3}, less {:.3}, more {:.3}",
        truth(AsPredicted),
        truth(Less),
        truth(More)
    );
    table! {
        "null, no prediction: effect", none(AsPredicted), 0.20, "", Abs(0.027), at20, level;
        "null, no prediction: can't tell", none(CannotTell), 0.80, "", Abs(0.027), at20, level;
        "null, far prediction: opposite", far(Opposite), 0.10, "", Abs(0.020), at10, level;
        "null, far prediction: as predicted", far(AsPredicted), 0.0, "", Abs(0.0), at10, level;
        "true: as predicted", truth(AsPredicted), 0.80, "", Abs(0.027), at20, level;
        "true: less", truth(Less), 0.10, "", Abs(0.020), at10, level;
        "true: more", truth(More), 0.10, "", Abs(0.020), at10, level;
        "true: opposite", truth(Opposite), 0.0, "", Abs(0.0), at10, level;
    }
}

/// Where twice what was foretold, or none of it, would have agreed alike, only the direction is
/// confirmed; where nothing was foretold, a clear effect is more than that.
#[test]
fn inv_a_wide_comparison_confirms_the_direction_only() {
    let (before, after) = (given(20.0, 0.0, 20.0), given(20.0, -4.0, 20.0));
    let wide = |predicted| {
        let v = verdict(&before, &after, predicted);
        v.is_wide(v.half_width())
    };
    assert!(!wide(exactly(-4.0, 0.5)));
    assert!(wide(exactly(-4.0, 4.0)));
    assert!(!wide(None));
    let nothing = exactly(0.0, 0.5);
    assert_eq!(verdict(&before, &after, nothing).outcome, Outcome::More);
    let opposite_side = given(20.0, 4.0, 20.0);
    assert_eq!(
        verdict(&before, &opposite_side, nothing).outcome,
        Outcome::More
    );
}
