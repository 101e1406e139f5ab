//! The search: predict all settings, weigh them under what is not known, rank, and answer.
//!
//! All settings are weighed under the player's own error and that of the learned response. The best
//! of them are weighed again with the errors of the model's constants.

use super::candidates::{Catalogue, candidates};
use super::predict::{Interval, Outcome, Scratch};
use super::reasons::Reasons;
use super::situation::{Evidence, Situation};
use super::steps::{Step, Undo};
use super::weigh::{Scored, Weigher};
use crate::club::Hold;
use crate::head::{Setting, SettingError};
use crate::workshop::SwingWeight;
use rayon::prelude::*;

/// Options of a search.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Options {
    /// How finely and widely to look.
    pub catalogue: Catalogue,
    /// Limits to keep.
    pub hold: Hold,
    /// Rows wanted.
    pub rows: usize,
    /// A miss smaller than this share of the carry is not worth a change.
    pub worth: f64,
    /// Largest probability with which a safe change may add more than a quarter of
    /// [`Options::worth`] to the mean offline: first of all, make no one worse. What is not safe
    /// comes after what is, and is no reason to change the club.
    pub risk: f64,
    /// Show every kind of change, not only those that are likely to help and worth their effort.
    pub every_kind: bool,
    /// Search even if the answer is "nothing" or "too few".
    pub anyway: bool,
    /// Seed of the quasi-random draws.
    pub seed: u32,
}

impl Default for Options {
    fn default() -> Self {
        Options {
            catalogue: Catalogue::default(),
            hold: Hold::default(),
            rows: 5,
            // Four yards of 240.
            worth: 1.0 / 60.0,
            risk: 0.15,
            every_kind: false,
            anyway: false,
            seed: 1,
        }
    }
}

/// What to tell the technician.
#[derive(Debug, Clone, PartialEq)]
pub enum Answer {
    /// There is a change worth making.
    Change,
    /// The miss does not differ from the aim beyond noise, and the data are good enough to say so.
    WithinNoise,
    /// Too early to say; so many more shots are likely to tell.
    TooFew {
        /// Shots to hit yet.
        more: usize,
    },
    /// The figure that is missed was not measured but inferred, and more shots do not help: measure
    /// spin axis and launch direction.
    NotMeasured {
        /// Half-width of the 80 % interval of offline that stays however many are hit, m.
        stays: f64,
    },
    /// The levers reach only part of the miss.
    NotTheClub {
        /// Share that the best setting cures, 0 to 1.
        reach: f64,
        /// Low end of an 80 % interval of what the setting cures that is best in truth.
        low: f64,
        /// High end.
        high: f64,
    },
}

/// One proposed setting.
#[derive(Debug, Clone, PartialEq)]
pub struct Row {
    /// The setting.
    pub setting: Setting,
    /// Work steps.
    pub steps: Vec<Step>,
    /// Outcome on average.
    pub outcome: Outcome,
    /// Start offline, curve, carry, apex, m, with their intervals.
    pub ground: [Interval; 4],
    /// Offline, m.
    pub offline: Interval,
    /// Change of offline against now, m.
    pub offline_change: Interval,
    /// Spin rate, rad/s.
    pub spin_rate: Interval,
    /// Expected loss, m.
    pub loss: f64,
    /// Probability that the expected loss becomes smaller, 0 to 1.
    pub helps: f64,
    /// Probability that the mean offline grows by more than a quarter of what is worth a change.
    pub harms: f64,
    /// Share of the systematic miss that it takes away; negative if it adds to it.
    pub cures: f64,
    /// What each [`super::Reason`] does to start, curve, carry and apex, m: shares of the change.
    pub reasons: Reasons,
    /// Where the ball lands if the player squares the face again after the sleeve was turned, m.
    pub squared: Option<f64>,
    /// Swing weight.
    pub swing_weight: SwingWeight,
    /// Mass of the head, kg.
    pub head_mass: f64,
    /// Hardest step to undo.
    pub undo: Undo,
    /// What to mind.
    pub cautions: Vec<String>,
}

/// The result of a search.
#[derive(Debug, Clone, PartialEq)]
pub struct Proposal {
    /// The answer.
    pub answer: Answer,
    /// The club as it is.
    pub now: Row,
    /// Proposed settings that are likely to help, best first.
    pub rows: Vec<Row>,
    /// How many of the first rows cannot be told from one another; easiest to undo first.
    pub tied: usize,
    /// Settings that were predicted.
    pub settings: usize,
    /// Settings that the limits ruled out.
    pub held_back: usize,
    /// Deliveries each.
    pub deliveries: usize,
    /// Share of the systematic miss that the best setting cures, 0 to 1.
    pub reach: f64,
}

/// Fewest shots that say anything.
const FEWEST: f64 = 5.0;
/// Below this share of a curable miss it is not the club.
pub(super) const NOT_THE_CLUB: f64 = 0.5;
/// A miss differs from the aim if a two-sided test says so at this level.
const LEVEL: f64 = 0.10;

/// Searches the settings of a club for a player.
///
/// # Errors
/// If the club's own setting is not one that it has.
pub fn propose(situation: &Situation, options: &Options) -> Result<Proposal, SettingError> {
    let weigher = Weigher::new(situation, options)?;
    let early = first_answer(situation, options, &weigher.now.outcome);
    let mut proposal = Proposal {
        answer: early.clone().unwrap_or(Answer::Change),
        now: weigher.row(&situation.club.setting, &weigher.now)?,
        rows: Vec::new(),
        tied: 0,
        settings: 1,
        held_back: 0,
        deliveries: situation.cloud.len(),
        reach: 0.0,
    };
    if early.is_some() && !options.anyway {
        return Ok(proposal);
    }
    let all = candidates(
        &situation.club.head,
        &situation.club.setting,
        &options.catalogue,
    );
    proposal.settings = all.len();
    let kept: Vec<&Setting> = all.iter().skip(1).filter(|s| weigher.allowed(s)).collect();
    proposal.held_back = all.len() - 1 - kept.len();
    let scored = kept
        .par_iter()
        .map_init(Scratch::default, |scratch, setting| {
            let p = weigher.predictor.predict(setting, scratch)?;
            Ok(weigher.score(setting, p))
        })
        .collect::<Result<Vec<Scored>, SettingError>>()?;
    proposal.reach = weigher.reach(&scored);
    if early.is_none() {
        proposal.answer = weigher.second_answer(&scored, proposal.reach);
    }
    let last = weigher.finalists(&scored);
    let kept: Vec<&Setting> = last.iter().map(|&i| kept[i]).collect();
    let scored = weigher.rescore(&kept, last.iter().map(|&i| &scored[i]).collect())?;
    let (picked, tied) = weigher.pick(&scored);
    proposal.tied = tied;
    proposal.rows = picked
        .into_par_iter()
        .map(|i| weigher.row(kept[i], &scored[i].prediction))
        .collect::<Result<_, _>>()?;
    Ok(proposal)
}

/// Predicts one given setting against the present one: what if?
///
/// # Errors
/// If the setting is not one that the head has.
pub fn what_if(
    situation: &Situation,
    setting: &Setting,
    options: &Options,
) -> Result<(Row, Row), SettingError> {
    let weigher = Weigher::new(situation, options)?;
    let mut p = weigher
        .predictor
        .predict(setting, &mut Scratch::default())?;
    if let Some(constants) = weigher.predictor.constants(&[setting])?.pop() {
        p.constants = constants;
    }
    Ok((
        weigher.row(&situation.club.setting, &weigher.now)?,
        weigher.row(setting, &p)?,
    ))
}

/// "Nothing" or "too few", before any lever is looked at; a complaint of height passes.
fn first_answer(s: &Situation, options: &Options, now: &Outcome) -> Option<Answer> {
    let worth = options.worth * now.ground[2];
    let Evidence::Shots(t) = &s.evidence else {
        let miss = s.goal.systematic(&now.ground, now.spin_rate, now.ground[2]);
        let level = s.goal.apex.is_none() && s.goal.spin_rate.is_none();
        let small = miss.offline < worth && level;
        let curve = (now.ground[1] - s.goal.aim.curve).abs();
        return (small && curve < worth).then_some(Answer::WithinNoise);
    };
    let wants_height = s
        .goal
        .apex
        .is_some_and(|a| (t.apex.mean - a).abs() > 2.0 * t.apex.se);
    if t.effective < FEWEST {
        return Some(Answer::TooFew {
            more: (FEWEST * 2.0 - t.effective).ceil() as usize,
        });
    }
    let differs = [&t.offline_miss, &t.curve_miss]
        .iter()
        .any(|a| a.p < LEVEL && a.miss.abs() > a.half_width * 0.5);
    if differs || wants_height {
        return None;
    }
    let half = t.offline_miss.half_width;
    if half <= worth {
        return Some(Answer::WithinNoise);
    }
    // Of the squared half-width, what the shots scatter shrinks with their number; what was not
    // measured stays.
    let scatter = t.offline.sd.powi(2) / t.effective;
    let share = scatter / t.offline.se.powi(2).max(f64::MIN_POSITIVE);
    let stays = half * half * (1.0 - share).max(0.0);
    if stays > 0.5 * worth * worth {
        return Some(Answer::NotMeasured {
            stays: stays.sqrt(),
        });
    }
    let need = t.effective * half * half * share / (worth * worth - stays);
    Some(Answer::TooFew {
        more: (need - t.effective).ceil().max(3.0) as usize,
    })
}
