//! The search: predict all settings, weigh them under what is not known, rank, and answer.

use super::candidates::{Catalogue, candidates};
use super::loss::LossParts;
use super::predict::{Interval, Outcome, Prediction, Predictor, Scratch};
use super::situation::{Evidence, Situation};
use super::steps::{RULES_CAUTION, Step, Undo, steps};
use crate::club::Hold;
use crate::head::{Head, Setting, SettingError};
use crate::tendency::Ground;
use crate::units::{DEG, G_CM2, YARD};
use crate::workshop::SwingWeight;
use nalgebra::{Rotation3, SVector, Vector3};
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
const NOT_THE_CLUB: f64 = 0.5;
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

struct Scored {
    prediction: Prediction,
    loss: f64,
    effort: f64,
    /// Which levers were changed, in words: rows of one kind of change compete first.
    signature: String,
}

/// Weighs predictions under the uncertainty that all settings share.
struct Weigher<'a> {
    situation: &'a Situation<'a>,
    options: &'a Options,
    predictor: Predictor<'a>,
    worlds: Vec<(Ground, SVector<f64, 5>)>,
    now: Prediction,
    /// Loss of the present setting in each world.
    loss_now: Vec<f64>,
    swing_weight: SwingWeight,
    head_mass: f64,
}

impl<'a> Weigher<'a> {
    fn new(situation: &'a Situation<'a>, options: &'a Options) -> Result<Self, SettingError> {
        let predictor = Predictor::new(situation)?;
        let club = situation.club;
        let now = predictor.predict(&club.setting, &mut Scratch::default())?;
        let mut w = Weigher {
            worlds: predictor.worlds(options.seed),
            loss_now: Vec::new(),
            swing_weight: club.swing_weight(&club.setting),
            head_mass: club.head.mass_properties(&club.setting).mass,
            situation,
            options,
            predictor,
            now,
        };
        w.loss_now = w.losses(&w.now);
        Ok(w)
    }

    /// Loss of a prediction in each world.
    fn losses(&self, p: &Prediction) -> Vec<f64> {
        let sd = SVector::<f64, 5>::from(p.response_sd);
        let carry = self.now.outcome.ground[2];
        self.worlds
            .iter()
            .map(|(centre, z)| {
                let error = self.predictor.gradient * sd.component_mul(z);
                let ground = p.outcome.ground + centre + error;
                let goal = &self.situation.goal;
                goal.loss(&ground, p.outcome.offline_sd, carry + centre[2])
                    .total()
            })
            .collect()
    }

    fn allowed(&self, setting: &Setting) -> bool {
        let hold = &self.options.hold;
        let club = self.situation.club;
        if let Some(limit) = hold.swing_weight_points {
            if (club.swing_weight(setting).0 - self.swing_weight.0).abs() > limit + 1e-9 {
                return false;
            }
        }
        if let Some(limit) = hold.head_mass {
            let mass = club.head.mass_properties(setting).mass;
            if (mass - self.head_mass).abs() > limit + 1e-9 {
                return false;
            }
        }
        !hold.reversible_only || setting.zones == club.setting.zones
    }

    fn score(&self, setting: &Setting, prediction: Prediction) -> Scored {
        let club = self.situation.club;
        let work = steps(
            &club.head,
            &club.setting,
            setting,
            self.situation.physics.attitude,
        );
        // A tenth of a point cannot be felt or read; beyond half a point it must be balanced.
        let off = (club.swing_weight(setting).0 - self.swing_weight.0).abs();
        let effort: f64 =
            work.iter().map(|s| s.effort).sum::<f64>() + 0.3 * YARD * (off - 0.5).max(0.0);
        Scored {
            loss: mean(&self.losses(&prediction)),
            effort,
            signature: work
                .iter()
                .map(|s| s.lever.as_str())
                .collect::<Vec<_>>()
                .join("+"),
            prediction,
        }
    }

    fn systematic(&self, p: &Prediction) -> LossParts {
        self.situation
            .goal
            .systematic(&p.outcome.ground, self.now.outcome.ground[2])
    }

    /// Share of the systematic miss that the best setting cures.
    fn reach(&self, scored: &[Scored]) -> f64 {
        let now = self.systematic(&self.now).total();
        let best = scored
            .iter()
            .map(|s| self.systematic(&s.prediction).total())
            .fold(now, f64::min);
        if now > 0.0 { (now - best) / now } else { 0.0 }
    }

    fn second_answer(&self, scored: &[Scored], reach: f64) -> Answer {
        let now = mean(&self.loss_now);
        let pays = scored.iter().any(|s| s.loss + s.effort < now);
        if reach < NOT_THE_CLUB {
            Answer::NotTheClub { reach }
        } else if !pays && matches!(self.situation.evidence, Evidence::Shots(_)) {
            Answer::WithinNoise
        } else {
            Answer::Change
        }
    }

    /// Best rows: by loss plus effort, the best of each kind of change.
    fn pick(&self, settings: &[&Setting], scored: &[Scored], rows: usize) -> Vec<usize> {
        let mut order: Vec<usize> = (0..settings.len()).collect();
        let key = |i: &usize| scored[*i].loss + scored[*i].effort;
        order.sort_by(|a, b| key(a).total_cmp(&key(b)));
        let mut seen = std::collections::HashSet::new();
        order
            .into_iter()
            .filter(|&i| seen.insert(scored[i].signature.as_str()))
            .take(rows)
            .collect()
    }

    fn row(&self, setting: &Setting, p: &Prediction) -> Row {
        let club = self.situation.club;
        let work = steps(
            &club.head,
            &club.setting,
            setting,
            self.situation.physics.attitude,
        );
        let effect = self.predictor.effect_covariance(p);
        let total = self.situation.centre_covariance + effect;
        let g = &p.outcome.ground;
        let line = Ground::new(1.0, 1.0, 0.0, 0.0);
        let sd_of = |m: &nalgebra::Matrix4<f64>| (line.transpose() * m * line)[0].max(0.0).sqrt();
        let offline = g[0] + g[1];
        let before = self.now.outcome.ground[0] + self.now.outcome.ground[1];
        let losses = self.losses(p);
        let better = losses
            .iter()
            .zip(&self.loss_now)
            .filter(|(a, b)| a < b)
            .count();
        let undo = work.iter().map(|s| s.undo).max().unwrap_or(Undo::Nothing);
        Row {
            cautions: self.cautions(setting, &work),
            setting: setting.clone(),
            ground: std::array::from_fn(|i| Interval::normal(g[i], total[(i, i)].max(0.0).sqrt())),
            offline: Interval::normal(offline, sd_of(&total)),
            offline_change: Interval::normal(offline - before, sd_of(&effect)),
            spin_rate: Interval::normal(p.outcome.spin_rate, self.spin_error(p)),
            loss: mean(&losses),
            helps: better as f64 / losses.len() as f64,
            swing_weight: club.swing_weight(setting),
            head_mass: club.head.mass_properties(setting).mass,
            outcome: p.outcome,
            steps: work,
            undo,
        }
    }

    /// Standard error of the mean spin rate, rad/s: of the centre and of the response.
    fn spin_error(&self, p: &Prediction) -> f64 {
        let centre = match &self.situation.evidence {
            Evidence::Shots(t) => t.launch[3].se,
            Evidence::Words => 0.12 * p.outcome.spin_rate,
        };
        centre.hypot(p.response_sd[3] * crate::units::RPM)
    }

    fn cautions(&self, setting: &Setting, work: &[Step]) -> Vec<String> {
        let mut out: Vec<String> = Vec::new();
        for c in work.iter().flat_map(|s| &s.cautions) {
            if !out.iter().any(|o| o == c) {
                out.push((*c).to_string());
            }
        }
        let limit = (5900.0 + 100.0) * G_CM2;
        let inertia = vertical_inertia(&self.situation.club.head, setting);
        if inertia > limit {
            out.push(format!(
                "Conformity: inertia about the vertical axis comes to {:.0} g cm2; the rules allow \
                 5900 with a tolerance of 100. The rules' bodies decide.",
                inertia / G_CM2
            ));
        }
        if !work.is_empty() {
            out.push(RULES_CAUTION.to_string());
        }
        out
    }
}

/// Inertia of the head about the vertical axis through its CG, the head at a lie of 60 deg, kg m²
/// (Equipment Rules, Part 2, section 4).
pub fn vertical_inertia(head: &Head, setting: &Setting) -> f64 {
    let turn = Rotation3::from_axis_angle(&Vector3::y_axis(), head.lie - 60.0 * DEG);
    let inertia = head.mass_properties(setting).inertia;
    (turn * inertia * turn.inverse())[(2, 2)]
}

fn mean(v: &[f64]) -> f64 {
    v.iter().sum::<f64>() / v.len().max(1) as f64
}
