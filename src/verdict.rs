//! The check afterwards: what the change did, against what was predicted.
//!
//! Two sessions, before and after, are compared by Welch's test on the robust centres (B. L. Welch
//! 1947, *The generalization of Student's problem when several different population variances are
//! involved*, Biometrika 34, 28-35), on an 80 % level like every interval here. The comparison
//! takes shots within one visit as independent; a second day adds what a day adds.

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
    /// Whether the comparison is too wide to tell the size of the effect: what was foretold and
    /// twice or none of it would have agreed alike.
    pub fn is_wide(&self) -> bool {
        self.predicted.is_some_and(|p| {
            let predicted_half = 0.5 * (p.high - p.low);
            self.changes[2].half_width().hypot(predicted_half) > p.mean.abs()
        })
    }
}

impl Change {
    /// Half-width of the 80 % interval.
    pub fn half_width(&self) -> f64 {
        StudentsT::new(0.0, 1.0, self.dof.max(1.0)).map_or(Z80, |t| t.inverse_cdf(0.9)) * self.se
    }
}

/// Before against after. SI, right-handed frame.
#[derive(Debug, Clone, PartialEq)]
pub struct Verdict {
    /// How it turned out, judged by offline.
    pub outcome: Outcome,
    /// Change of start line, curve, offline, carry and apex, m.
    pub changes: [Change; 5],
    /// Change of offline that was predicted, m.
    pub predicted: Option<Interval>,
    /// Effective shots before and after.
    pub shots: [f64; 2],
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
    Verdict {
        outcome: judge(&changes[2], predicted.as_ref()),
        changes,
        predicted,
        shots: n,
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

fn judge(seen: &Change, predicted: Option<&Interval>) -> Outcome {
    let half = seen.half_width();
    let clear = seen.mean.abs() > half;
    let Some(p) = predicted else {
        return if clear {
            Outcome::AsPredicted
        } else {
            Outcome::CannotTell
        };
    };
    let predicted_half = 0.5 * (p.high - p.low);
    let gap = seen.mean - p.mean;
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
    if clear && seen.mean * toward < 0.0 {
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
            assert_eq!(judge(&seen(mean), Some(&p)), want, "{mean}");
            // The mirror image is judged alike.
            let q = Interval {
                mean: 10.0,
                low: 7.0,
                high: 13.0,
            };
            assert_eq!(judge(&seen(-mean), Some(&q)), want, "{mean} mirrored");
        }
        let wide = Change {
            mean: -3.0,
            se: 8.0,
            dof: 20.0,
        };
        assert_eq!(judge(&wide, Some(&p)), Outcome::CannotTell);
        assert_eq!(judge(&wide, None), Outcome::CannotTell);
    }
}
