//! Weighs predictions under the uncertainty that all settings share, and makes the rows.

use super::loss::LossParts;
use super::predict::{Interval, Prediction, Predictor, Scratch};
use super::search::{Answer, NOT_THE_CLUB, Options, Row};
use super::situation::{Evidence, Situation};
use super::steps::{RULES_CAUTION, Step, Undo, steps};
use crate::head::{Head, Setting, SettingError};
use crate::tendency::Ground;
use crate::units::{DEG, G_CM2, YARD};
use crate::workshop::SwingWeight;
use nalgebra::{Rotation3, SVector, Vector3};

pub(super) struct Scored {
    pub prediction: Prediction,
    loss: f64,
    effort: f64,
    /// Which levers were changed, in words: rows of one kind of change compete first.
    signature: String,
}

/// Weighs predictions under the uncertainty that all settings share.
pub(super) struct Weigher<'a> {
    situation: &'a Situation<'a>,
    options: &'a Options,
    pub predictor: Predictor<'a>,
    worlds: Vec<(Ground, SVector<f64, 5>)>,
    pub now: Prediction,
    /// Loss of the present setting in each world.
    loss_now: Vec<f64>,
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
        !hold.reversible_only || setting.zones == club.setting.zones
    }

    pub fn score(&self, setting: &Setting, prediction: Prediction) -> Scored {
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
    pub fn reach(&self, scored: &[Scored]) -> f64 {
        let now = self.systematic(&self.now).total();
        let best = scored
            .iter()
            .map(|s| self.systematic(&s.prediction).total())
            .fold(now, f64::min);
        if now > 0.0 { (now - best) / now } else { 0.0 }
    }

    pub fn second_answer(&self, scored: &[Scored], reach: f64) -> Answer {
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
    pub fn pick(&self, settings: &[&Setting], scored: &[Scored], rows: usize) -> Vec<usize> {
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

    pub fn row(&self, setting: &Setting, p: &Prediction) -> Row {
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
