//! Weighs predictions under the uncertainty that all settings share, and makes the rows.

use super::loss::LossParts;
use super::predict::{Interval, Prediction, Predictor, Scratch, World};
use super::search::{Answer, NOT_THE_CLUB, Options, Row};
use super::situation::{Evidence, Situation};
use super::steps::{RULES_CAUTION, Step, Undo, steps};
use crate::head::{ClubKind, Head, Setting, SettingError};
use crate::hosel::Attitude;
use crate::physics::Physics;
use crate::tendency::Ground;
use crate::units::{DEG, G_CM2, YARD};
use crate::workshop::SwingWeight;
use nalgebra::{Rotation3, Vector3};

pub(super) struct Scored {
    pub prediction: Prediction,
    /// Loss in each world.
    losses: Vec<f64>,
    loss: f64,
    effort: f64,
    /// Share of the worlds in which the mean offline grows by more than is allowed.
    risk: f64,
    /// Which levers were changed: rows of one kind of change compete first.
    levers: Vec<String>,
    undo: Undo,
}

impl Scored {
    /// Expected loss and what the change must earn.
    fn price(&self) -> f64 {
        self.loss + self.effort
    }
}

/// A change that helps with less than this probability is not shown.
const FAIR: f64 = 0.55;
/// A row is as good as the first if it costs no more than this share of what the first one gains,
/// and if its loss is lower with a probability of at least [`EVEN`], and at most its complement.
const TIE: f64 = 0.1;
/// See [`TIE`].
const EVEN: f64 = 0.25;
/// So many of the cheapest settings, and of the kinds of change, are weighed with all that is not
/// known.
const FINALISTS: usize = 64;
/// Carry at which the efforts of the steps are stated, m: they are worth the same angle with every
/// club.
const EFFORT_CARRY: f64 = 220.0;

/// Weighs predictions under the uncertainty that all settings share.
pub(super) struct Weigher<'a> {
    situation: &'a Situation<'a>,
    options: &'a Options,
    pub predictor: Predictor<'a>,
    worlds: Vec<World>,
    pub now: Prediction,
    /// Loss of the present setting in each world.
    loss_now: Vec<f64>,
    /// Mean distance from the line of the present setting in each world, m.
    offline_now: Vec<f64>,
    swing_weight: SwingWeight,
    head_mass: f64,
}

impl<'a> Weigher<'a> {
    pub fn new(situation: &'a Situation<'a>, options: &'a Options) -> Result<Self, SettingError> {
        let predictor = Predictor::new(situation)?;
        let club = situation.club;
        let now = predictor.predict(&club.setting, &mut Scratch::default())?;
        let mut w = Weigher {
            worlds: predictor.worlds(options.seed),
            loss_now: Vec::new(),
            offline_now: Vec::new(),
            swing_weight: club.swing_weight(&club.setting),
            head_mass: club.head.mass_properties(&club.setting).mass,
            situation,
            options,
            predictor,
            now,
        };
        w.loss_now = w.losses(&w.now);
        w.offline_now = w.offlines(&w.now);
        Ok(w)
    }

    /// Loss of a prediction in each world.
    fn losses(&self, p: &Prediction) -> Vec<f64> {
        let carry = self.now.outcome.ground[2];
        self.worlds
            .iter()
            .map(|w| {
                let ground = self.predictor.ground_in(w, p);
                let goal = &self.situation.goal;
                goal.loss(
                    &ground,
                    p.outcome.spin_rate,
                    p.outcome.offline_sd,
                    carry + w.centre[2],
                )
                .total()
            })
            .collect()
    }

    /// Mean distance from the line in each world, m.
    fn offlines(&self, p: &Prediction) -> Vec<f64> {
        let aim = self.situation.goal.aim.offline();
        let distance = |w: &World| {
            let ground = self.predictor.ground_in(w, p);
            (ground[0] + ground[1] - aim).abs()
        };
        self.worlds.iter().map(distance).collect()
    }

    /// Share of the worlds in which a setting adds more than a quarter of what is worth a change.
    fn risk(&self, p: &Prediction) -> f64 {
        let slack = 0.25 * self.options.worth * self.now.outcome.ground[2];
        let worse: Vec<f64> = self.offline_now.iter().map(|o| o + slack).collect();
        below(&worse, &self.offlines(p))
    }

    /// Whether a setting makes no one worse, as far as logged shots tell. Words leave too much open to
    /// be held to that.
    fn safe(&self, s: &Scored) -> bool {
        self.options.every_kind
            || matches!(self.situation.evidence, Evidence::Words(_))
            || s.risk <= self.options.risk
    }

    pub fn allowed(&self, setting: &Setting) -> bool {
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
        if let Some(limit) = hold.face_angle {
            let look = |s| club.face_on_the_sole(s);
            if (look(setting) - look(&club.setting)).abs() > limit + 1e-9 {
                return false;
            }
        }
        !hold.reversible_only || setting.zones == club.setting.zones
    }

    pub fn score(&self, setting: &Setting, prediction: Prediction) -> Scored {
        let club = self.situation.club;
        let work = self.work(setting);
        // A tenth of a point cannot be felt or read; beyond half a point it must be balanced.
        let off = (club.swing_weight(setting).0 - self.swing_weight.0).abs();
        let effort: f64 =
            work.iter().map(|s| s.effort).sum::<f64>() + 0.3 * YARD * (off - 0.5).max(0.0);
        let losses = self.losses(&prediction);
        Scored {
            loss: mean(&losses),
            losses,
            risk: self.risk(&prediction),
            effort: effort * self.now.outcome.ground[2] / EFFORT_CARRY,
            undo: hardest(&work),
            levers: work.into_iter().map(|s| s.lever).collect(),
            prediction,
        }
    }

    /// The same with what the constants of the model leave open.
    pub fn rescore(
        &self,
        settings: &[&Setting],
        scored: Vec<&Scored>,
    ) -> Result<Vec<Scored>, SettingError> {
        let constants = self.predictor.constants(settings)?;
        Ok(settings
            .iter()
            .zip(scored)
            .zip(constants)
            .map(|((setting, s), constants)| {
                let p = Prediction {
                    constants,
                    ..s.prediction.clone()
                };
                self.score(setting, p)
            })
            .collect())
    }

    fn work(&self, setting: &Setting) -> Vec<Step> {
        let club = self.situation.club;
        steps(
            &club.head,
            &club.setting,
            setting,
            self.situation.physics.attitude,
        )
    }

    /// Share of the worlds in which the loss becomes smaller.
    fn helps(&self, losses: &[f64]) -> f64 {
        below(losses, &self.loss_now)
    }

    fn systematic(&self, p: &Prediction) -> LossParts {
        let o = &p.outcome;
        self.situation
            .goal
            .systematic(&o.ground, o.spin_rate, self.now.outcome.ground[2])
    }

    /// Share of the miss itself that a prediction takes away; negative if it adds to it.
    fn cures(&self, p: &Prediction) -> f64 {
        let miss = self.systematic(&self.now).total();
        if miss > 0.0 {
            1.0 - self.systematic(p).total() / miss
        } else {
            0.0
        }
    }

    /// Whether a setting is likely to help, and takes away some of the miss itself.
    fn likely(&self, s: &Scored) -> bool {
        s.loss < mean(&self.loss_now)
            && self.helps(&s.losses) >= FAIR
            && self.cures(&s.prediction) > 0.0
    }

    /// Share of the miss that the best setting takes away, of those that lower the expected loss.
    pub fn reach(&self, scored: &[Scored]) -> f64 {
        let now = mean(&self.loss_now);
        let better = scored.iter().filter(|s| s.loss < now);
        better
            .map(|s| self.cures(&s.prediction))
            .fold(0.0, f64::max)
    }

    /// 80 % interval of the share of the miss that the best setting takes away: in each world the best
    /// one there, of those that lower the loss.
    fn reach_interval(&self, scored: &[Scored]) -> [f64; 2] {
        let carry = self.now.outcome.ground[2];
        let miss = |w: &World, p: &Prediction| {
            let ground = self.predictor.ground_in(w, p);
            let spin = p.outcome.spin_rate;
            let goal = &self.situation.goal;
            goal.systematic(&ground, spin, carry + w.centre[2]).total()
        };
        let share = |(i, w): (usize, &World)| {
            let better = scored.iter().filter(|s| s.losses[i] < self.loss_now[i]);
            let left = better.map(|s| miss(w, &s.prediction));
            let now = miss(w, &self.now).max(f64::MIN_POSITIVE);
            1.0 - left.fold(now, f64::min) / now
        };
        let mut shares: Vec<f64> = self.worlds.iter().enumerate().map(share).collect();
        shares.sort_by(f64::total_cmp);
        let at = |q: f64| shares[(q * (shares.len() - 1) as f64).round() as usize];
        [at(0.1), at(0.9)]
    }

    pub fn second_answer(&self, scored: &[Scored], reach: f64) -> Answer {
        let now = mean(&self.loss_now);
        if reach < NOT_THE_CLUB {
            let [low, high] = self.reach_interval(scored);
            Answer::NotTheClub {
                reach,
                low: low.min(reach),
                high: high.max(reach),
            }
        } else if scored
            .iter()
            .any(|s| self.safe(s) && self.likely(s) && s.price() < now)
        {
            Answer::Change
        } else {
            Answer::WithinNoise
        }
    }

    /// Safe before unsafe, then cheap before dear.
    fn cheaper(&self, a: &Scored, b: &Scored) -> std::cmp::Ordering {
        let unsafe_last = self.safe(b).cmp(&self.safe(a));
        unsafe_last.then(a.price().total_cmp(&b.price()))
    }

    /// The settings that may become rows: the cheapest ones and the best of each kind of change.
    pub fn finalists(&self, scored: &[Scored]) -> Vec<usize> {
        let mut order: Vec<usize> = (0..scored.len()).collect();
        order.sort_by(|&a, &b| self.cheaper(&scored[a], &scored[b]));
        let mut kinds: std::collections::HashSet<&[String]> = Default::default();
        let mut rank = 0;
        order.retain(|&i| {
            rank += 1;
            kinds.insert(&scored[i].levers) && kinds.len() <= FINALISTS || rank <= FINALISTS
        });
        order
    }

    /// Best rows: safe ones first, then by loss plus effort, the best of each kind of change, as far
    /// as they are likely to help and pay for their effort; if none pays, those that help. A kind of change
    /// that holds another one and more must earn its additional effort.
    /// The best change of a single lever is among them. Rows that cannot be told from the first
    /// come easiest to undo first; their number is the second value.
    pub fn pick(&self, scored: &[Scored]) -> (Vec<usize>, usize) {
        let (now, rows) = (mean(&self.loss_now), self.options.rows);
        let every = self.options.every_kind;
        let likely = |i: &usize| self.likely(&scored[*i]);
        let pays = |i: &usize| scored[*i].price() < now;
        let mut order: Vec<usize> = (0..scored.len()).filter(|i| every || likely(i)).collect();
        if order.iter().any(pays) && !every {
            order.retain(pays);
        }
        order.sort_by(|&a, &b| self.cheaper(&scored[a], &scored[b]));
        let mut kinds: Vec<usize> = Vec::new();
        for &i in &order {
            let s = &scored[i];
            let idle = |&k: &usize| {
                let less = &scored[k];
                let same = less.levers.iter().all(|l| s.levers.contains(l));
                let idle = less.loss - s.loss < 0.5 * (s.effort - less.effort);
                same && (idle && !every || less.levers.len() == s.levers.len())
            };
            if !kinds.iter().any(idle) {
                kinds.push(i);
            }
        }
        let single = kinds.iter().position(|&i| scored[i].levers.len() == 1);
        if let Some(k) = single.filter(|&k| k >= rows && rows > 1) {
            kinds.swap(k, rows - 1);
        }
        kinds.truncate(rows);
        let Some(&first) = kinds.first() else {
            return (kinds, 0);
        };
        let best = &scored[first];
        let (mut ties, rest): (Vec<usize>, Vec<usize>) = kinds.into_iter().partition(|&i| {
            let s = &scored[i];
            i == first
                || self.safe(s) == self.safe(best)
                    && s.price() - best.price() <= TIE * (now - best.loss)
                    && below(&s.losses, &best.losses) >= EVEN
                    && below(&best.losses, &s.losses) >= EVEN
        });
        ties.sort_by_key(|&i| scored[i].undo);
        let tied = ties.len();
        ties.extend(rest);
        (ties, tied)
    }

    pub fn row(&self, setting: &Setting, p: &Prediction) -> Result<Row, SettingError> {
        let club = self.situation.club;
        let work = self.work(setting);
        let effect = self.predictor.effect_covariance(p);
        let total = self.predictor.centre_covariance() + effect;
        let g = &p.outcome.ground;
        let line = Ground::new(1.0, 1.0, 0.0, 0.0);
        let sd_of = |m: &nalgebra::Matrix4<f64>| (line.transpose() * m * line)[0].max(0.0).sqrt();
        let offline = g[0] + g[1];
        let before = self.now.outcome.ground[0] + self.now.outcome.ground[1];
        let losses = self.losses(p);
        Ok(Row {
            cautions: self.cautions(setting, &work),
            setting: setting.clone(),
            ground: std::array::from_fn(|i| Interval::normal(g[i], total[(i, i)].max(0.0).sqrt())),
            offline: Interval::normal(offline, sd_of(&total)),
            offline_change: Interval::normal(offline - before, sd_of(&effect)),
            spin_rate: Interval::normal(p.outcome.spin_rate, self.spin_error(p)),
            loss: mean(&losses),
            helps: self.helps(&losses),
            harms: self.risk(p),
            cures: self.cures(p),
            swing_weight: club.swing_weight(setting),
            head_mass: club.head.mass_properties(setting).mass,
            outcome: p.outcome,
            undo: hardest(&work),
            squared: self.squared(setting),
            reasons: self.predictor.reasons(setting)?,
            steps: work,
        })
    }

    /// Where the ball lands if the player squares the face again after the sleeve was turned, m;
    /// none if the sleeve was not turned or that is assumed anyway.
    fn squared(&self, setting: &Setting) -> Option<f64> {
        let s = self.situation;
        if setting.clock == s.club.setting.clock || s.physics.attitude == Attitude::FaceSquared {
            return None;
        }
        let physics = Physics {
            attitude: Attitude::FaceSquared,
            ..s.physics.clone()
        };
        let predictor = Predictor::with(s, &physics, 1).ok()?;
        let p = predictor.predict(setting, &mut Scratch::default()).ok()?;
        Some(p.outcome.ground[0] + p.outcome.ground[1])
    }

    /// Standard error of the mean spin rate, rad/s: of the centre and of the response.
    fn spin_error(&self, p: &Prediction) -> f64 {
        let centre = match &self.situation.evidence {
            Evidence::Shots(t) => t.launch[3].se,
            Evidence::Words(_) => 0.1 * p.outcome.spin_rate,
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
        let driver = self.situation.club.head.kind == ClubKind::Driver;
        if driver && inertia > limit {
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

fn hardest(work: &[Step]) -> Undo {
    work.iter().map(|s| s.undo).max().unwrap_or(Undo::Nothing)
}

/// Share of the worlds in which `a` is below `b`.
fn below(a: &[f64], b: &[f64]) -> f64 {
    let n = a.iter().zip(b).filter(|(a, b)| a < b).count();
    n as f64 / a.len().max(1) as f64
}

fn mean(v: &[f64]) -> f64 {
    v.iter().sum::<f64>() / v.len().max(1) as f64
}
