//! The search: predict all settings, weigh them under what is not known, rank, and answer.
//!
//! All settings are weighed under the player's own error and that of the learned response: exactly,
//! or by an estimate that rules out what cannot come first (see [`super::screen`]). The best
//! of them are weighed again with the errors of the model's constants.

use super::candidates::{Catalogue, candidates};
use super::predict::{Outcome, Scratch};
use super::row::Row;
use super::screen::{FEW, Screen};
use super::situation::{Evidence, Situation};
use super::weigh::{Draft, Scored, Weigher};
use crate::club::Hold;
use crate::head::{Setting, SettingError};
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
    /// Predict every setting exactly, however many there are, instead of ruling out by an estimate
    /// what cannot come first: the same rows.
    pub exhaustive: bool,
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
            exhaustive: false,
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
    },
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
    /// Settings that were weighed.
    pub settings: usize,
    /// Those of them that were predicted exactly; an estimate ruled out the others.
    pub predicted: usize,
    /// Settings that the limits ruled out.
    pub held_back: usize,
    /// Deliveries each.
    pub deliveries: usize,
    /// Share of the systematic miss that the best setting cures, 0 to 1, to half a percent.
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
        predicted: 1,
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
    let drafts: Vec<Draft<'_>> = all[1..]
        .par_iter()
        .filter_map(|s| weigher.draft(s))
        .collect();
    proposal.held_back = all.len() - 1 - drafts.len();
    let (numbers, scored) = weigh_all(&weigher, &drafts)?;
    proposal.predicted = scored.len() + 1;
    proposal.reach = weigher.reach(scored.iter());
    let last = weigher.finalists(&scored);
    let finalists: Vec<&Scored> = last.iter().map(|&i| &scored[i]).collect();
    if early.is_none() {
        proposal.answer = weigher.second_answer(&finalists, proposal.reach);
    }
    let drafts: Vec<&Draft<'_>> = last.iter().map(|&i| &drafts[numbers[i]]).collect();
    let scored = weigher.rescore(&drafts, &finalists)?;
    let (picked, tied) = weigher.pick(&scored);
    proposal.tied = tied;
    proposal.rows = picked
        .into_par_iter()
        .map(|i| weigher.row(drafts[i].setting, &scored[i].prediction))
        .collect::<Result<_, _>>()?;
    Ok(proposal)
}

/// Weighs all settings of which one may become a row; the first list holds their numbers.
fn weigh_all(
    weigher: &Weigher<'_>,
    drafts: &[Draft<'_>],
) -> Result<(Vec<usize>, Vec<Scored>), SettingError> {
    if !weigher.options.exhaustive && drafts.len() > FEW {
        return Ok(Screen::new(weigher, drafts).run()?.into_iter().unzip());
    }
    let scored = drafts
        .par_iter()
        .map_init(Scratch::default, |scratch, d| weigher.weigh(d, scratch))
        .collect::<Result<_, _>>()?;
    Ok(((0..drafts.len()).collect(), scored))
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
        let miss = s.goal.systematic(now, now.ground[2]);
        let level = s.goal.apex.is_none() && s.goal.spin_rate.is_none();
        let small = miss.offline < worth && level;
        let curve = (now.ground[1] - s.goal.aim.curve).abs();
        return (small && curve < worth).then_some(Answer::WithinNoise);
    };
    let wants_height = s
        .goal
        .apex
        .is_some_and(|a| a.outside(t.apex.mean) > 2.0 * t.apex.se);
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
