//! The check afterwards: what the change did, against what was predicted.
//!
//! Two sessions, before and after, are compared by Welch's test on the robust centres (B. L. Welch
//! 1947, *The generalization of Student's problem when several different population variances are
//! involved*, Biometrika 34, 28-35), on an 80 % level like every interval here. The comparison
//! takes shots within one visit as independent; a second day adds what a day adds.
//!
//! Where club data were measured the adjusted comparison counts: see [`crate::adjusted`].
//!
//! The interval for one look does not hold for somebody who looks after every block and stops when
//! he likes what he sees. [`Change::half_width_any_look`] does.

use crate::adjusted::Adjusted;
use crate::correction::Z80;
use crate::proposal::Interval;
use crate::tendency::{Figure, Tendency};
use serde::{Deserialize, Serialize};
use statrs::distribution::{ContinuousCDF, StudentsT};

/// How a change turned out.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Outcome {
    /// There is an effect in the predicted direction, and its size agrees.
    AsPredicted,
    /// It did less than was predicted, beyond noise.
    Less,
    /// It did more than was predicted, beyond noise.
    More,
    /// It went the other way, beyond noise.
    Opposite,
    /// The shots cannot tell.
    CannotTell,
}

impl std::fmt::Display for Outcome {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(match self {
            Outcome::AsPredicted => "as predicted",
            Outcome::Less => "less than predicted",
            Outcome::More => "more than predicted",
            Outcome::Opposite => "opposite to the prediction",
            Outcome::CannotTell => "can't tell from these shots",
        })
    }
}

/// One figure before and after.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Change {
    /// After minus before.
    pub mean: f64,
    /// Standard error.
    pub se: f64,
    /// Welch's degrees of freedom.
    pub dof: f64,
}

impl Verdict {
    /// Whether an interval of the effect with that half-width (m) is too wide to tell its size: what
    /// was foretold and twice or none of it would have agreed alike.
    pub fn is_wide(&self, half_width: f64) -> bool {
        self.predicted.is_some_and(|p| {
            let predicted_half = 0.5 * (p.high - p.low);
            half_width.hypot(predicted_half) > p.mean.abs()
        })
    }

    /// The change of offline that is judged: the adjusted one where there is one.
    pub fn effect(&self) -> &Change {
        self.adjusted
            .as_ref()
            .map_or(&self.changes[2], |a| &a.effect)
    }

    /// Half-width of the interval of a change that is judged by, m: for one look, or for many.
    fn half_width_of(&self, c: &Change) -> f64 {
        match self.every_block {
            true => c.half_width_any_look(self.scale),
            false => c.half_width(),
        }
    }

    /// Half-width of the effect's interval that is judged by, m.
    pub fn half_width(&self) -> f64 {
        self.half_width_of(self.effect())
    }

    /// The same of the averages alone.
    pub fn half_width_raw(&self) -> f64 {
        self.half_width_of(&self.changes[2])
    }

    /// Half-width of the effect's interval that holds however often it is looked at, m.
    pub fn half_width_any_look(&self) -> f64 {
        self.effect().half_width_any_look(self.scale)
    }

    /// What the averages alone say, looked at as often as the verdict is.
    pub fn outcome_raw(&self) -> Outcome {
        let mean = self.changes[2].mean;
        judge(mean, self.half_width_raw(), self.predicted.as_ref())
    }

    /// What can be said however often it is looked at.
    pub fn outcome_any_look(&self) -> Outcome {
        judge(
            self.effect().mean,
            self.half_width_any_look(),
            self.predicted.as_ref(),
        )
    }

    /// The same judged by an adjusted effect, if there is one, and by the interval for one look or
    /// for a look after every block.
    pub fn by(mut self, adjusted: Option<Adjusted>, every_block: bool) -> Verdict {
        (self.adjusted, self.every_block) = (adjusted, every_block);
        self.outcome = judge(
            self.effect().mean,
            self.half_width(),
            self.predicted.as_ref(),
        );
        self
    }
}

/// Chance that an interval misses the truth, by the level of every interval here.
const MISSED: f64 = 0.2;
/// An effect that is worth seeing, as a share of the carry, where none was predicted: four yards of
/// 240, as for a miss that is worth a change.
const WORTH: f64 = 1.0 / 60.0;

impl Change {
    /// Half-width of the 80 % interval.
    pub fn half_width(&self) -> f64 {
        StudentsT::new(0.0, 1.0, self.dof.max(1.0)).map_or(Z80, |t| t.inverse_cdf(0.9)) * self.se
    }

    /// Half-width of the interval that holds however often it is looked at: over any number of
    /// looks at a growing comparison, the truth is ever left out in at most one of five.
    ///
    /// A confidence sequence from the normal mixture: with `v` the squared standard error and
    /// `scale` (m) a size of effect that was fixed beforehand, at which the interval is tightest,
    /// `h² = v (1 + v/scale²) ln((1 + scale²/v) / 0.2²)`. Source: H. Robbins 1970, *Statistical
    /// methods related to the law of the iterated logarithm*, Ann. Math. Stat. 41, 1397-1409; S. R.
    /// Howard, A. Ramdas, J. McAuliffe, J. Sekhon 2021, *Time-uniform, nonparametric, nonasymptotic
    /// confidence sequences*, Ann. Stat. 49, 1055-1080. That an effect with covariates grows like a
    /// mean of independent shots: C. Jennison, B. W. Turnbull 1997, *Group-sequential analysis
    /// incorporating covariate information*, J. Am. Stat. Assoc. 92, 1330-1341. That the variance is
    /// estimated widens it as it widens the interval for one look; a test looks how often it fails.
    pub fn half_width_any_look(&self, scale: f64) -> f64 {
        let v = self.se * self.se;
        let ratio = (scale * scale / v).max(f64::MIN_POSITIVE);
        let mixture = (1.0 + 1.0 / ratio) * ((1.0 + ratio) / (MISSED * MISSED)).ln();
        self.half_width() / Z80 * mixture.sqrt()
    }
}

/// Before against after. SI, right-handed frame.
#[derive(Debug, Clone, PartialEq)]
pub struct Verdict {
    /// How it turned out, judged by the effect on offline.
    pub outcome: Outcome,
    /// Change of start line, curve, offline, carry and apex, m.
    pub changes: [Change; 5],
    /// Change of offline that was predicted, m.
    pub predicted: Option<Interval>,
    /// Effective shots before and after.
    pub shots: [f64; 2],
    /// The effect with what the player did differently taken out, where club data were measured.
    pub adjusted: Option<Adjusted>,
    /// Size of effect at which the interval for any number of looks is tightest, m.
    pub scale: f64,
    /// Judged as one of many looks, after every block, not as the only one.
    pub every_block: bool,
}

/// Compares two sessions with what was predicted for offline; without a prediction the outcome only
/// says whether there is an effect (as predicted) or the shots can't tell.
pub fn verdict(before: &Tendency, after: &Tendency, predicted: Option<Interval>) -> Verdict {
    let n = [before.effective, after.effective];
    let change = |pick: fn(&Tendency) -> Figure| welch(&pick(before), &pick(after), n);
    let changes = [
        change(|t| t.start),
        change(|t| t.curve),
        change(|t| t.offline),
        change(|t| t.carry),
        change(|t| t.apex),
    ];
    let worth = WORTH * before.carry.mean;
    Verdict {
        outcome: judge(changes[2].mean, changes[2].half_width(), predicted.as_ref()),
        changes,
        predicted,
        shots: n,
        adjusted: None,
        scale: predicted.map_or(worth, |p| p.mean.abs().max(worth)),
        every_block: false,
    }
}

fn welch(before: &Figure, after: &Figure, n: [f64; 2]) -> Change {
    let (a, b) = (before.se.powi(2), after.se.powi(2));
    let dof = (a + b).powi(2) / (a * a / (n[0] - 1.0).max(1.0) + b * b / (n[1] - 1.0).max(1.0));
    Change {
        mean: after.mean - before.mean,
        se: (a + b).sqrt(),
        dof,
    }
}

fn judge(seen: f64, half: f64, predicted: Option<&Interval>) -> Outcome {
    let clear = seen.abs() > half;
    let Some(p) = predicted else {
        return if clear {
            Outcome::AsPredicted
        } else {
            Outcome::CannotTell
        };
    };
    let predicted_half = 0.5 * (p.high - p.low);
    let gap = seen - p.mean;
    let agrees = gap.abs() <= half.hypot(predicted_half);
    if p.mean == 0.0 {
        // Nothing was foretold: a clear effect that disagrees is more than that.
        return match (clear, agrees) {
            (true, false) => Outcome::More,
            _ => Outcome::CannotTell,
        };
    }
    let toward = p.mean.signum();
    // However wide the prediction was: an effect the other way is not as predicted.
    if clear && seen * toward < 0.0 {
        Outcome::Opposite
    } else if agrees {
        if clear {
            Outcome::AsPredicted
        } else {
            Outcome::CannotTell
        }
    } else if gap * toward < 0.0 {
        Outcome::Less
    } else {
        Outcome::More
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn seen(mean: f64) -> Change {
        Change {
            mean,
            se: 2.0,
            dof: 20.0,
        }
    }

    fn of(c: &Change, predicted: Option<&Interval>) -> Outcome {
        judge(c.mean, c.half_width(), predicted)
    }

    /// Student's t at 20 degrees of freedom: 90 % quantile 1.325 (standard tables; R. A. Fisher
    /// and F. Yates 1963, Statistical Tables, table III).
    #[test]
    fn ref_half_width() {
        assert!((seen(0.0).half_width() / 2.0 - 1.325).abs() < 5e-4);
    }

    #[test]
    fn inv_each_outcome_is_reached() {
        let p = Interval {
            mean: -10.0,
            low: -13.0,
            high: -7.0,
        };
        for (mean, want) in [
            (-10.0, Outcome::AsPredicted),
            (-1.0, Outcome::Less),
            (-20.0, Outcome::More),
            (6.0, Outcome::Opposite),
        ] {
            assert_eq!(of(&seen(mean), Some(&p)), want, "{mean}");
            // The mirror image is judged alike.
            let q = Interval {
                mean: 10.0,
                low: 7.0,
                high: 13.0,
            };
            assert_eq!(of(&seen(-mean), Some(&q)), want, "{mean} mirrored");
        }
        let wide = Change {
            mean: -3.0,
            se: 8.0,
            dof: 20.0,
        };
        assert_eq!(of(&wide, Some(&p)), Outcome::CannotTell);
        assert_eq!(of(&wide, None), Outcome::CannotTell);
    }
}
