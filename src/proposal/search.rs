//! The search: predict all settings, weigh them under what is not known, rank, and answer.

use super::candidates::{Catalogue, candidates};
use super::predict::{Interval, Outcome, Scratch};
use super::situation::{Evidence, Situation};
use super::steps::{Step, Undo};
use super::weigh::{Scored, Weigher};
use crate::club::Hold;
use crate::head::{Setting, SettingError};
use crate::units::YARD;
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
    /// A miss smaller than this is not worth a change, m.
    pub worth: f64,
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
            worth: 4.0 * YARD,
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
    /// The levers reach only part of the miss.
    NotTheClub {
        /// Share that the best setting cures, 0 to 1.
        reach: f64,
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
    /// Proposed settings, best first.
    pub rows: Vec<Row>,
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
        now: weigher.row(&situation.club.setting, &weigher.now),
        rows: Vec::new(),
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
    proposal.rows = weigher
        .pick(&kept, &scored, options.rows)
        .into_iter()
        .map(|i| weigher.row(kept[i], &scored[i].prediction))
        .collect();
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
    let p = weigher
        .predictor
        .predict(setting, &mut Scratch::default())?;
    Ok((
        weigher.row(&situation.club.setting, &weigher.now),
        weigher.row(setting, &p),
    ))
}

/// "Nothing" or "too few", before any lever is looked at; a complaint of height passes.
fn first_answer(s: &Situation, options: &Options, now: &Outcome) -> Option<Answer> {
    let Evidence::Shots(t) = &s.evidence else {
        let miss = s.goal.systematic(&now.ground, now.ground[2]);
        let small = miss.offline < options.worth && s.goal.apex.is_none();
        let curve = (now.ground[1] - s.goal.aim.curve).abs();
        return (small && curve < options.worth).then_some(Answer::WithinNoise);
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
    if half <= options.worth {
        return Some(Answer::WithinNoise);
    }
    // The half-width shrinks with the square root of the number of shots.
    let need = t.effective * (half / options.worth).powi(2);
    Some(Answer::TooFew {
        more: (need - t.effective).ceil().max(3.0) as usize,
    })
}
