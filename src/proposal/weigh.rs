//! Weighs predictions under the uncertainty that all settings share.

use super::levers::{Kind, Undo, changes};
use super::loss::LossParts;
use super::mount::Place;
use super::predict::{Prediction, Predictor, Scratch, World};
use super::search::Options;
use super::situation::{Evidence, Situation};
use super::steps::{Step, steps};
use super::stock::Part;
use super::surrogate::Coordinates;
use crate::club::features_between;
use crate::head::{MassProperties, SettingError};
use crate::hosel::angle_change;
use crate::units::YARD;
use crate::workshop::SwingWeight;
use nalgebra::Rotation3;

/// What a setting is and costs, without flying a ball.
pub(super) struct Draft<'s> {
    pub place: Place<'s>,
    body: MassProperties,
    turn: Rotation3<f64>,
    /// What it must earn, m of expected loss.
    pub effort: f64,
    /// The levers that are moved, as a set of bits: rows of one kind of change compete first.
    pub kind: Kind,
    /// Hardest step to undo.
    pub undo: Undo,
}

impl Draft<'_> {
    /// What the ball meets, as numbers.
    pub fn coordinates(&self) -> Coordinates {
        let (cg, i, turn) = (self.body.cg, self.body.inertia, self.turn.scaled_axis());
        Coordinates::from([
            self.body.mass,
            cg.x,
            cg.y,
            cg.z,
            i[(0, 0)],
            i[(1, 1)],
            i[(2, 2)],
            i[(0, 1)],
            i[(0, 2)],
            i[(1, 2)],
            turn.x,
            turn.y,
            turn.z,
        ])
    }
}

/// What rules a setting out before any ball is flown.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Ruled {
    /// The limits that were set.
    ByLimits,
    /// A part that is not at hand.
    ByWant(Part),
}

/// A prediction, weighed.
pub(super) struct Scored {
    pub prediction: Prediction,
    /// Loss in each world.
    pub losses: Vec<f64>,
    /// Their mean.
    pub loss: f64,
    /// Price of the risk that the mean offline grows, m of expected loss.
    pub harm: f64,
    /// As in [`Draft`].
    pub effort: f64,
    /// As in [`Draft`].
    pub kind: Kind,
    /// As in [`Draft`].
    pub undo: Undo,
}

impl Scored {
    /// Expected loss, with the price of what may go wrong and what the change must earn.
    pub fn price(&self) -> f64 {
        self.cost() + self.effort
    }

    /// Expected loss, with the price of what may go wrong.
    pub fn cost(&self) -> f64 {
        self.loss + self.harm
    }
}

/// Carry at which the efforts of the steps are stated, m: they are worth the same angle with every
/// club.
pub(super) const EFFORT_CARRY: f64 = 220.0;

/// Weighs predictions under the uncertainty that all settings share.
pub(super) struct Weigher<'a> {
    pub situation: &'a Situation<'a>,
    pub options: &'a Options,
    pub predictor: Predictor<'a>,
    pub worlds: Vec<World>,
    pub now: Prediction,
    /// Loss of the present setting in each world.
    pub losses_now: Vec<f64>,
    /// Its mean.
    pub loss_now: f64,
    /// Distance of the mean ball from the fairway with the present setting in each world, m.
    pub offline_now: Vec<f64>,
    swing_weight: SwingWeight,
    body: MassProperties,
    /// Of each head at its reference.
    references: Vec<MassProperties>,
}

impl<'a> Weigher<'a> {
    pub fn new(situation: &'a Situation<'a>, options: &'a Options) -> Result<Self, SettingError> {
        let predictor = Predictor::new(situation)?;
        let club = situation.club;
        let now = predictor.predict(Place::own(&club.setting), &mut Scratch::default())?;
        let heads = (0..=situation.rack.len()).map(|m| &situation.club_at(m).head);
        let references = heads.map(|h| h.mass_properties(&h.reference)).collect();
        let mut w = Weigher {
            worlds: predictor.worlds(options.seed),
            losses_now: Vec::new(),
            loss_now: 0.0,
            offline_now: Vec::new(),
            swing_weight: club.swing_weight(&club.setting),
            body: club.head.mass_properties(&club.setting),
            references,
            situation,
            options,
            predictor,
            now,
        };
        w.losses_now = w.losses(&w.now);
        w.loss_now = mean(&w.losses_now);
        w.offline_now = w.offlines(&w.now);
        Ok(w)
    }

    /// Carry with the present setting, m.
    pub fn carry(&self) -> f64 {
        self.now.outcome.ground[2]
    }

    /// Loss of a prediction in each world.
    pub fn losses(&self, p: &Prediction) -> Vec<f64> {
        let in_world = |w: &World| {
            let mut ball = p.outcome;
            ball.ground = self.predictor.ground_in(w, p);
            let goal = &self.situation.goal;
            goal.loss(&ball, self.carry() + w.centre[2]).total()
        };
        self.worlds.iter().map(in_world).collect()
    }

    /// Distance of the mean ball from line or fairway in each world, m.
    fn offlines(&self, p: &Prediction) -> Vec<f64> {
        let wanted = self.situation.goal.offline();
        let distance = |w: &World| {
            let ground = self.predictor.ground_in(w, p);
            wanted.outside(ground[0] + ground[1])
        };
        self.worlds.iter().map(distance).collect()
    }

    /// By how much the mean offline may grow, m: a quarter of what is worth a change.
    pub fn slack(&self) -> f64 {
        0.25 * self.options.worth * self.carry()
    }

    /// Share of the worlds in which a setting adds more than [`Weigher::slack`].
    pub fn risk(&self, p: &Prediction) -> f64 {
        let slack = self.slack();
        let worse: Vec<f64> = self.offline_now.iter().map(|o| o + slack).collect();
        below(&worse, &self.offlines(p))
    }

    /// What it costs to make a player worse, m of expected loss. Words leave too much open to ask for
    /// that.
    pub fn price_of_harm(&self) -> f64 {
        match self.situation.evidence {
            Evidence::Shots(_) => self.options.harm * self.options.worth * self.carry(),
            Evidence::Words(_) => 0.0,
        }
    }

    /// A setting, if limits and parts allow it.
    pub fn draft<'s>(&self, place: Place<'s>) -> Result<Draft<'s>, Ruled> {
        let hold = &self.options.hold;
        let s = self.situation;
        let (club, own, setting) = (s.club_at(place.mount), s.club, place.setting);
        let body = club.head.mass_properties(setting);
        let within =
            |limit: Option<f64>, change: f64| limit.is_none_or(|l| change.abs() <= l + 1e-9);
        let weight = club.swing_weight_of(&body, &self.references[place.mount]);
        let points = weight.0 - self.swing_weight.0;
        let look = || club.face_on_the_sole(setting) - own.face_on_the_sole(&own.setting);
        let glued = s
            .rack
            .get(place.mount.wrapping_sub(1))
            .is_some_and(|m| !m.unscrews);
        if !within(hold.swing_weight_points, points)
            || !within(hold.head_mass, body.mass - self.body.mass)
            || hold.reversible_only && (setting.zones != club.setting.zones || glued)
            || hold.face_angle.is_some() && !within(hold.face_angle, look())
        {
            return Err(Ruled::ByLimits);
        }
        let lacks = s
            .stock
            .as_ref()
            .and_then(|s| s.lacks(&club.setting, setting));
        if let Some(part) = lacks {
            return Err(Ruled::ByWant(part));
        }
        let who = s.physics.attitude;
        // A tenth of a point cannot be felt or read; beyond half a point it must be balanced.
        let mut draft = Draft {
            place,
            turn: club
                .head
                .delivered_attitude(setting, who, &s.physics.impact),
            body,
            effort: 0.3 * YARD * (points.abs() - 0.5).max(0.0),
            kind: Kind {
                mount: place.mount,
                levers: 0,
            },
            undo: Undo::Nothing,
        };
        if let Some(m) = s.rack.get(place.mount.wrapping_sub(1)) {
            draft.effort += m.effort();
            draft.undo = m.undo();
        }
        changes(&club.head, &club.setting, setting, |c| {
            draft.effort += c.effort;
            draft.kind.levers |= c.lever.bit(&club.head);
            draft.undo = draft.undo.max(c.undo);
        });
        draft.effort *= self.carry() / EFFORT_CARRY;
        Ok(draft)
    }

    /// What a setting changes of the features against the present one.
    pub fn features(&self, draft: &Draft<'_>) -> [f64; crate::club::FEATURES.len()] {
        let mount = draft.place.mount;
        let turned = angle_change(&draft.turn, self.situation.club_at(mount).head.loft);
        let features = features_between(&draft.body, &self.references[mount], &turned);
        self.predictor.change(mount, &features)
    }

    pub fn score(&self, draft: &Draft<'_>, prediction: Prediction) -> Scored {
        let losses = self.losses(&prediction);
        Scored {
            loss: mean(&losses),
            losses,
            harm: self.price_of_harm() * self.risk(&prediction),
            effort: draft.effort,
            undo: draft.undo,
            kind: draft.kind,
            prediction,
        }
    }

    /// Predicts and weighs a setting exactly.
    pub fn weigh(&self, draft: &Draft<'_>, scratch: &mut Scratch) -> Result<Scored, SettingError> {
        let p = self.predictor.predict(draft.place, scratch)?;
        Ok(self.score(draft, p))
    }

    /// The same with what the constants of the model leave open.
    pub fn rescore(
        &self,
        drafts: &[&Draft<'_>],
        scored: &[&Scored],
    ) -> Result<Vec<Scored>, SettingError> {
        let settings: Vec<Place<'_>> = drafts.iter().map(|d| d.place).collect();
        let constants = self.predictor.constants(&settings)?;
        Ok(drafts
            .iter()
            .zip(scored)
            .zip(constants)
            .map(|((draft, s), constants)| {
                let p = Prediction {
                    constants,
                    ..s.prediction.clone()
                };
                self.score(draft, p)
            })
            .collect())
    }

    pub fn work(&self, place: Place<'_>) -> Vec<Step> {
        let s = self.situation;
        let club = s.club_at(place.mount);
        let mount = s.rack.get(place.mount.wrapping_sub(1));
        let mut work: Vec<Step> = mount.map(|m| m.step(&s.club.head)).into_iter().collect();
        let who = s.physics.attitude;
        work.extend(steps(&club.head, &club.setting, place.setting, who));
        work
    }

    /// Share of the worlds in which the loss becomes smaller.
    pub fn helps(&self, losses: &[f64]) -> f64 {
        below(losses, &self.losses_now)
    }

    pub fn systematic(&self, p: &Prediction) -> LossParts {
        self.situation.goal.systematic(&p.outcome, self.carry())
    }

    /// Share of the miss itself that a prediction takes away; negative if it adds to it.
    pub fn cures(&self, p: &Prediction) -> f64 {
        let miss = self.systematic(&self.now).total();
        if miss > 0.0 {
            1.0 - self.systematic(p).total() / miss
        } else {
            0.0
        }
    }
}

/// Share of the worlds in which `a` is below `b`.
pub(super) fn below(a: &[f64], b: &[f64]) -> f64 {
    let n = a.iter().zip(b).filter(|(a, b)| a < b).count();
    n as f64 / a.len().max(1) as f64
}

pub(super) fn mean(v: &[f64]) -> f64 {
    v.iter().sum::<f64>() / v.len().max(1) as f64
}
