//! The search: predict all settings, weigh them under what is not known, rank, and answer.
//!
//! All settings are weighed under the player's own error and that of the learned response: exactly,
//! or by an estimate that rules out what cannot come first (see [`super::screen`]). The best
//! of them are weighed again with the errors of the model's constants.

use super::candidates::{Catalogue, candidate_count, candidates};
use super::mount::Place;
use super::predict::{Outcome, Scratch};
use super::row::Row;
use super::screen::{FEW, Screen};
use super::situation::{Evidence, Situation};
use super::stock::Part;
use super::weigh::{Draft, Ruled, Scored, Weigher};
use crate::club::Hold;
use crate::correction::Z80;
use crate::head::{Setting, SettingError};
use crate::tendency::Ground;
use rayon::prelude::*;
use std::collections::BTreeMap;

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
    /// What it costs to make a player worse by more than a quarter of [`Options::worth`], as a
    /// multiple of it: each setting pays for the probability that it does.
    pub harm: f64,
    /// Show every kind of change, not only those that are likely to help and worth their effort.
    pub every_kind: bool,
    /// Search even if the answer is "nothing" or "too few".
    pub anyway: bool,
    /// Predict every setting exactly, however many there are, instead of ruling out by an estimate
    /// what cannot come first: the same rows.
    pub exhaustive: bool,
    /// Show effect against ease of undoing.
    pub pareto: bool,
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
            harm: 5.0,
            every_kind: false,
            anyway: false,
            exhaustive: false,
            pareto: false,
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
        /// Half-width of the 80 % interval of offline by those that were hit, m.
        open: f64,
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

/// The result of a search.
#[derive(Debug, Clone, PartialEq)]
pub struct Proposal {
    /// The answer.
    pub answer: Answer,
    /// The club as it is.
    pub now: Row,
    /// Proposed settings that are likely to help, best first.
    pub rows: Vec<Row>,
    /// The best change for each way of undoing it, easiest first, as far as what is harder to undo
    /// takes more of the loss away; the present setting first. Empty unless it was asked for.
    pub pareto: Vec<Row>,
    /// How many of the first rows cannot be told from one another; easiest to undo first.
    pub tied: usize,
    /// Settings that were weighed.
    pub settings: usize,
    /// Those of them that were predicted exactly; an estimate ruled out the others.
    pub predicted: usize,
    /// Settings that the limits ruled out.
    pub held_back: usize,
    /// Parts that are not at hand, with the settings that this ruled out.
    pub missing: Vec<(Part, usize)>,
    /// Deliveries each.
    pub deliveries: usize,
    /// Share of the systematic miss that the best setting cures, 0 to 1, to half a percent.
    pub reach: f64,
}

/// Fewest shots that say anything.
const FEWEST: f64 = 5.0;
/// Below this share of a curable miss it is not the club.
pub(super) const NOT_THE_CLUB: f64 = 0.5;

/// Half-width of the 80 % interval of a miss that just differs from the aim, two-sided at the level of
/// one in ten, as a share of the miss: normal quantiles of 0.9 and 0.95.
const TOLD: f64 = 1.2816 / 1.6449;

/// Searches the settings of a club for a player.
///
/// # Errors
/// If the club's own setting is not one that it has.
pub fn propose(situation: &Situation, options: &Options) -> Result<Proposal, SettingError> {
    let weigher = Weigher::new(situation, options)?;
    let early = first_answer(situation, options, &weigher.now.outcome);
    let mut proposal = Proposal {
        answer: early.clone().unwrap_or(Answer::Change),
        now: weigher.row(Place::own(&situation.club.setting), &weigher.now)?,
        rows: Vec::new(),
        pareto: Vec::new(),
        tied: 0,
        settings: 1,
        predicted: 1,
        held_back: 0,
        missing: Vec::new(),
        deliveries: situation.cloud.len(),
        reach: 0.0,
    };
    if early.is_some() && !options.anyway {
        return Ok(proposal);
    }
    check_count(situation, &options.catalogue)?;
    let all = places(situation, &options.catalogue);
    let drafts: Vec<Result<Draft<'_>, Ruled>> = all
        .par_iter()
        .map(|(mount, setting)| {
            let mount = *mount;
            weigher.draft(Place { mount, setting })
        })
        .collect();
    proposal.settings = all.len() + 1;
    let mut missing: BTreeMap<Part, usize> = BTreeMap::new();
    for ruled in drafts.iter().filter_map(|d| d.as_ref().err()) {
        match ruled {
            Ruled::ByLimits => proposal.held_back += 1,
            Ruled::ByWant(part) => *missing.entry(*part).or_default() += 1,
        }
    }
    proposal.missing = missing.into_iter().collect();
    let drafts: Vec<Draft<'_>> = drafts.into_iter().flatten().collect();
    let (numbers, scored) = weigh_all(&weigher, &drafts)?;
    proposal.predicted = scored.len() + 1;
    proposal.reach = weigher.reach(scored.iter());
    let last = weigher.finalists(&scored);
    let finalists: Vec<&Scored> = last.iter().map(|&i| &scored[i]).collect();
    if early.is_none() {
        proposal.answer = weigher.second_answer(&finalists, &scored, proposal.reach);
    }
    let drafts: Vec<&Draft<'_>> = last.iter().map(|&i| &drafts[numbers[i]]).collect();
    let scored = weigher.rescore(&drafts, &finalists)?;
    let (picked, tied) = weigher.pick(&scored);
    proposal.tied = tied;
    proposal.rows = picked
        .into_par_iter()
        .map(|i| weigher.row(drafts[i].place, &scored[i].prediction))
        .collect::<Result<_, _>>()?;
    if options.pareto {
        proposal.pareto.push(proposal.now.clone());
        let front: Vec<Row> = weigher
            .pareto(&scored)
            .into_par_iter()
            .map(|i| weigher.row(drafts[i].place, &scored[i].prediction))
            .collect::<Result<_, _>>()?;
        proposal.pareto.extend(front);
    }
    Ok(proposal)
}

/// Most settings of a search: a few gigabytes of memory.
const MOST: usize = 2_000_000;

/// Refuses what would take too long.
fn check_count(s: &Situation<'_>, catalogue: &Catalogue) -> Result<(), SettingError> {
    let of = |mount: usize| {
        let club = s.club_at(mount);
        candidate_count(&club.head, &club.setting, catalogue)
    };
    let count = (0..=s.rack.len()).map(of).fold(0, usize::saturating_add);
    if count <= MOST {
        return Ok(());
    }
    Err(SettingError {
        lever: "settings".into(),
        why: format!(
            "{count} are too many, {MOST} are allowed: change fewer levers at once or try fewer \
             places on the tracks"
        ),
    })
}

/// All settings but the present one, of the player's head and of each head from the rack, which
/// counts as a lever of its own. The first number is that of the head.
fn places(s: &Situation<'_>, catalogue: &Catalogue) -> Vec<(usize, Setting)> {
    let own = candidates(&s.club.head, &s.club.setting, catalogue);
    let mut all: Vec<(usize, Setting)> = own.into_iter().skip(1).map(|s| (0, s)).collect();
    let fewer = Catalogue {
        levers: catalogue.levers.saturating_sub(1),
        ..*catalogue
    };
    for (m, mount) in s.rack.iter().enumerate() {
        let of = candidates(&mount.club.head, &mount.club.setting, &fewer);
        all.extend(of.into_iter().map(|s| (m + 1, s)));
    }
    all
}

/// Weighs all settings of which one may become a row; the first list holds their numbers. Each head
/// is screened by itself: what may come first of all may come first of its head.
fn weigh_all(
    weigher: &Weigher<'_>,
    drafts: &[Draft<'_>],
) -> Result<(Vec<usize>, Vec<Scored>), SettingError> {
    let mut all = (Vec::new(), Vec::new());
    let mut first = 0;
    for of_head in drafts.chunk_by(|a, b| a.place.mount == b.place.mount) {
        let found = if !weigher.options.exhaustive && of_head.len() > FEW {
            Screen::new(weigher, of_head).run()?
        } else {
            let exact = |scratch: &mut Scratch, d: &Draft<'_>| weigher.weigh(d, scratch);
            let each = of_head.par_iter().map_init(Scratch::default, exact);
            let scored: Vec<Scored> = each.collect::<Result<_, _>>()?;
            scored.into_iter().enumerate().collect()
        };
        for (i, s) in found {
            all.0.push(first + i);
            all.1.push(s);
        }
        first += of_head.len();
    }
    Ok(all)
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
    let place = Place::own(setting);
    let mut p = weigher.predictor.predict(place, &mut Scratch::default())?;
    if let Some(constants) = weigher.predictor.constants(&[place])?.pop() {
        p.constants = constants;
    }
    Ok((
        weigher.row(Place::own(&situation.club.setting), &weigher.now)?,
        weigher.row(place, &p)?,
    ))
}

/// "Nothing" or "too few", before any lever is looked at; a complaint of height passes.
fn first_answer(s: &Situation, options: &Options, now: &Outcome) -> Option<Answer> {
    let worth = options.worth * now.ground[2];
    let Evidence::Shots(t) = &s.evidence else {
        let miss = s.goal.systematic(now, now.ground[2]);
        let level = s.goal.apex.is_none()
            && s.goal.spin_rate.is_none()
            && miss.start + miss.landing < 0.25 * worth;
        let small = miss.offline < worth && level;
        let curve = (now.ground[1] - s.goal.aim.curve).abs();
        return (small && curve < worth).then_some(Answer::WithinNoise);
    };
    let wants_height = s
        .goal
        .apex
        .is_some_and(|a| a.outside(t.apex.mean) > 2.0 * t.apex.se);
    // Of the variance, what was not measured and stays; the rest shrinks with the number of shots.
    let across = Ground::new(1.0, 1.0, 0.0, 0.0);
    let stays = Z80 * Z80 * across.dot(&(t.open.stays * across)).max(0.0);
    let too_wide = |told: f64| stays > 0.5 * told * told;
    // What is worth a change cannot be told then, but a miss as large as this one may be.
    let told = match too_wide(worth) {
        true => worth.max(TOLD * t.offline_miss.miss.abs()),
        false => worth,
    };
    let not_measured = too_wide(told).then(|| Answer::NotMeasured {
        stays: stays.sqrt(),
    });
    if t.effective < FEWEST {
        return not_measured.or(Some(Answer::TooFew {
            more: (FEWEST * 2.0 - t.effective).ceil() as usize,
            open: t.offline_miss.half_width,
        }));
    }
    let differs = [&t.offline_miss, &t.curve_miss].iter().any(|a| a.differs());
    let miss = s.goal.systematic(now, now.ground[2]);
    if differs || wants_height || miss.start + miss.landing > worth {
        return None;
    }
    let half = t.offline_miss.half_width;
    if half <= worth {
        return Some(Answer::WithinNoise);
    }
    if not_measured.is_some() {
        return not_measured;
    }
    let shrinks = 1.0 - (stays / (Z80 * t.offline.se).powi(2)).clamp(0.0, 1.0);
    let need = t.effective * half * half * shrinks / (told * told - stays);
    Some(Answer::TooFew {
        more: (need - t.effective).ceil().max(3.0) as usize,
        open: half,
    })
}
