//! The range plan: how many shots, in which order, to see a change of the club; and which change
//! teaches most.
//!
//! The check afterwards is a two-sided Student's test at the 80 % level (see [`crate::verdict`]); its
//! power is that of the noncentral t (J. Cohen 1988, *Statistical Power Analysis for the Behavioral
//! Sciences*, 2nd ed., ch. 2).

use crate::adjusted::{Scatter, Turn};
use crate::club::{Club, FEATURES};
use crate::correction::{Local, corrected};
use crate::flight::Range;
use crate::head::{ClubKind, Setting, SettingError};
use crate::impact::Delivery;
use crate::launch::Launch;
use crate::physics::Physics;
use crate::proposal::{Catalogue, Undo, candidates, steps};
use crate::tendency::{Tendency, usual_spread};
use crate::verdict::Change;
use statrs::distribution::{ContinuousCDF, Normal, StudentsT};

/// Level of the check: its interval holds with this probability.
const LEVEL: f64 = 0.8;
/// Fewest and most shots on each side that a plan has.
const SHOTS: std::ops::RangeInclusive<usize> = 5..=1000;
/// Most shots in a block: more of one club in a row than that and a player drifts (common practice,
/// no source).
const BLOCK: usize = 10;

/// Chance that a two-sided test at `level` (such as 0.8 for an 80 % interval) sees an effect with a
/// standard error and degrees of freedom: the tail of the noncentral t by M. Abramowitz, I. A.
/// Stegun 1964, *Handbook of Mathematical Functions*, 26.7.10.
pub fn power(effect: f64, se: f64, dof: f64, level: f64) -> f64 {
    let dof = dof.max(1.0);
    let limit =
        StudentsT::new(0.0, 1.0, dof).map_or(f64::INFINITY, |t| t.inverse_cdf(0.5 * (1.0 + level)));
    beyond(limit, effect / se, dof)
}

/// Chance that a noncentral t is beyond a limit on either side.
fn beyond(limit: f64, shift: f64, dof: f64) -> f64 {
    let above = |shift: f64| {
        let z = (limit * (1.0 - 0.25 / dof) - shift) / (1.0 + limit * limit / (2.0 * dof)).sqrt();
        Normal::standard().cdf(-z)
    };
    above(shift) + above(-shift)
}

/// What is to be seen, and how surely.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Wanted {
    /// Predicted change of offline, m.
    pub effect: f64,
    /// Chance to see it, 0 to 1.
    pub power: f64,
}

/// Shots on each side.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Shots {
    /// Spread of offline from shot to shot, m.
    pub spread: f64,
    /// For one look at the end; none if it takes more than a thousand.
    pub one_look: Option<usize>,
    /// At most, with a look after every block: it may be clear sooner.
    pub any_look: Option<usize>,
}

impl Wanted {
    /// Shots on each side by the averages alone, for a player with a tendency and a kind of club.
    ///
    /// The summary of few shots leans on the usual spread by one row: so does the plan.
    pub fn raw(&self, t: &Tendency, kind: ClubKind) -> Shots {
        let spread = t.offline.sd;
        let usual = usual_spread(kind);
        let usual = usual[0].hypot(usual[1]);
        let counts = counts(t);
        self.shots(spread, |n| {
            let n = n * counts;
            let shown = (usual * usual + (n - 1.0) * spread * spread) / n;
            (2.0 * shown / n, 2.0 * n - 2.0)
        })
    }

    /// Shots on each side at the same delivery, for a scatter and what the change does to the
    /// delivery.
    pub fn adjusted(&self, t: &Tendency, scatter: &Scatter, turn: &Turn) -> Shots {
        let counts = counts(t);
        self.shots(scatter.spread, |n| scatter.variance(n * counts, turn))
    }

    /// The smallest number at which a variance (m²) with its degrees of freedom is small enough.
    fn shots(&self, spread: f64, variance: impl Fn(f64) -> (f64, f64)) -> Shots {
        let enough = |any_look: bool| {
            SHOTS.into_iter().find(|&n| {
                let (v, dof) = variance(n as f64);
                let se = v.sqrt();
                let c = Change { mean: 0.0, se, dof };
                let seen = if any_look {
                    let limit = c.half_width_any_look(self.effect.abs()) / se;
                    beyond(limit, self.effect / se, dof.max(1.0))
                } else {
                    power(self.effect, se, dof, LEVEL)
                };
                seen >= self.power
            })
        };
        Shots {
            spread,
            one_look: enough(false),
            any_look: enough(true),
        }
    }
}

/// How many shots one shot counts as: mishits count nothing, far ones little.
fn counts(t: &Tendency) -> f64 {
    (t.effective / t.shots.max(1) as f64).clamp(0.3, 1.0)
}

/// In which order to hit.
#[derive(Debug, Clone, PartialEq)]
pub struct Schedule {
    /// Blocks: A is the club as it is, B the changed one.
    pub order: String,
    /// Shots in each.
    pub block: usize,
}

impl Schedule {
    /// The order for so many shots on each side.
    ///
    /// `ABBA` has no share in a drift that is steady, `ABBABAAB` none in one that bends either: in
    /// the Prouhet-Thue-Morse order the sums of the powers of the times of both sides agree (D. R.
    /// Cox 1951, *Some systematic experimental designs*, Biometrika 38, 312-323; E. Prouhet 1851,
    /// C. R. Acad. Sci. Paris 33, 225). What cannot be undone is hit before and after.
    pub fn new(each: usize, can_alternate: bool) -> Schedule {
        if !can_alternate {
            return Schedule {
                order: "AB".into(),
                block: each,
            };
        }
        let (pattern, of_side) = if each <= 2 * BLOCK {
            ("ABBA", 2)
        } else {
            ("ABBABAAB", 4)
        };
        let rounds = each.div_ceil(of_side * BLOCK);
        Schedule {
            order: pattern.repeat(rounds),
            block: each.div_ceil(of_side * rounds),
        }
    }

    /// Shots in all.
    pub fn shots(&self) -> usize {
        self.block * self.order.len()
    }

    /// How often the club is changed.
    pub fn changes(&self) -> usize {
        let letters = self.order.as_bytes();
        letters.windows(2).filter(|w| w[0] != w[1]).count()
    }
}

/// What one setting would teach of the learned response.
#[derive(Debug, Clone, PartialEq)]
pub struct Lesson {
    /// The setting.
    pub setting: Setting,
    /// Change of offline against now, by physics and what is learned, m.
    pub change: f64,
    /// Standard deviation of the learned response's part in that, m.
    pub doubt: f64,
}

impl Lesson {
    /// The doubt that a comparison with this variance (m²) leaves, m: two normal sources of the same
    /// number.
    pub fn doubt_left(&self, variance: f64) -> f64 {
        let s = self.doubt * self.doubt;
        (s * variance / (s + variance)).sqrt()
    }
}

/// A player with a club, where the learned response is asked for.
pub struct Bay<'a> {
    /// The club.
    pub club: &'a Club,
    /// The model.
    pub physics: &'a Physics,
    /// The air.
    pub range: Range<'a>,
    /// The player's central delivery.
    pub delivery: Delivery,
    /// What is learned.
    pub local: &'a Local,
}

impl Bay<'_> {
    /// What a change to a setting does, and how far its learned response is in doubt.
    ///
    /// # Errors
    /// If the head does not have the setting.
    pub fn lesson(&self, setting: &Setting) -> Result<Lesson, SettingError> {
        let (p, club) = (self.physics, self.club);
        let base = p.striker(&club.head, &club.setting, &club.setting)?;
        let there = p.striker(&club.head, setting, &club.setting)?;
        let swing = base.swing(&self.delivery);
        let offline = |l: &Launch| self.range.fly(l).offline;
        let launch = |s: &crate::impact::Striker| s.strike(&swing, &p.ball, &p.impact).launch();
        let (before, after) = (launch(&base), launch(&there));
        let effect = self.local.effect(&self.features(setting));
        let speed = there.head_speed(&swing);
        let middle = offline(&corrected(&after, &effect.mean, speed));
        // One response at a time: their errors are independent.
        let doubt = (0..effect.sd.len()).fold(0.0, |sum: f64, r| {
            let mut added = effect.mean;
            added[r] += effect.sd[r];
            sum.hypot(offline(&corrected(&after, &added, speed)) - middle)
        });
        Ok(Lesson {
            setting: setting.clone(),
            change: middle - offline(&before),
            doubt,
        })
    }

    /// What a setting changes of the features against the present one.
    pub fn features(&self, setting: &Setting) -> [f64; FEATURES.len()] {
        let head = &self.club.head;
        let now = self.physics.features(head, &self.club.setting);
        let then = self.physics.features(head, setting);
        std::array::from_fn(|i| then[i] - now[i])
    }

    /// The setting whose learned response is most in doubt, of those that differ in one lever and
    /// go back in a minute: with the same shots it teaches most, since the information of a normal
    /// measurement grows with the prior's variance (D. V. Lindley 1956, *On a measure of the
    /// information provided by an experiment*, Ann. Math. Stat. 27, 986-1005). None if the club has
    /// no such lever.
    ///
    /// # Errors
    /// If the club's setting is not one that its head has.
    pub fn teaches_most(&self) -> Result<Option<Lesson>, SettingError> {
        let one = Catalogue {
            levers: 1,
            squeezes: 0,
            ..Catalogue::default()
        };
        let (head, now) = (&self.club.head, &self.club.setting);
        let mut best: Option<Lesson> = None;
        for setting in candidates(head, now, &one) {
            let work = steps(head, now, &setting, self.physics.attitude);
            if work.is_empty() || work.iter().any(|s| s.undo > Undo::AMinute) {
                continue;
            }
            let lesson = self.lesson(&setting)?;
            // The first of equals, whatever the rounding.
            if best
                .as_ref()
                .is_none_or(|b| lesson.doubt > b.doubt * (1.0 + 1e-9))
            {
                best = Some(lesson);
            }
        }
        Ok(best)
    }
}
