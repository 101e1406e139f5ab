//! One setting, predicted: the cloud through impact, correction and flight.

use super::mount::Place;
use super::situation::{Evidence, Situation, normal};
use crate::club::FEATURES;
use crate::correction::{Effect, corrected, responses};
use crate::flight::{Flights, Launches, Range};
use crate::head::SettingError;
use crate::impact::{Striker, Swing};
use crate::launch::Launch;
use crate::physics::Physics;
use crate::tendency::Ground;
use crate::units::{DEG, RPM};
use nalgebra::{Matrix4, Matrix4x5, Matrix5, SVector};
use rayon::prelude::*;

/// What the ball does on average with one setting. SI, right-handed frame.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Outcome {
    /// Mean start offline, curve, carry, apex, m.
    pub ground: Ground,
    /// Spread of offline over the player's shots, m.
    pub offline_sd: f64,
    /// Mean spin rate, rad/s.
    pub spin_rate: f64,
    /// Mean angle of descent, rad.
    pub landing_angle: f64,
}

/// A mean with an 80 % interval.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Interval {
    /// Mean.
    pub mean: f64,
    /// 10 % quantile.
    pub low: f64,
    /// 90 % quantile.
    pub high: f64,
}

impl Interval {
    pub(super) fn normal(mean: f64, sd: f64) -> Interval {
        let half = crate::correction::Z80 * sd;
        Interval {
            mean,
            low: mean - half,
            high: mean + half,
        }
    }
}

/// A setting with its outcome and the uncertainty of the change that it makes.
#[derive(Debug, Clone, PartialEq)]
pub struct Prediction {
    /// Outcome.
    pub outcome: Outcome,
    /// Uncertainty of the learned response: standard deviation in the units of `RESPONSES`.
    pub response_sd: [f64; 5],
    /// Its covariance: start line and spin axis err together.
    pub response_covariance: [[f64; 5]; 5],
    /// What that makes on the ground of five standard normals, m.
    pub response_root: Matrix4x5<f64>,
    /// By how much the change against the present setting comes out otherwise, on the ground in m,
    /// when a constant of the model is a standard deviation larger; for each of
    /// [`Physics::uncertain`]. Empty where that was not looked at.
    pub constants: Vec<Ground>,
}

/// Memory that one thread uses again and again.
#[derive(Default)]
pub(super) struct Scratch {
    launches: Launches,
    flights: Flights,
}

/// A situation made ready to predict many settings.
pub(super) struct Predictor<'a> {
    pub situation: &'a Situation<'a>,
    pub physics: &'a Physics,
    range: Range<'a>,
    swings: Vec<Swing>,
    pub base_features: [f64; FEATURES.len()],
    /// Sensitivity of the ground picture to each response, at the mean launch.
    pub gradient: Matrix4x5<f64>,
}

/// Draws of the joint uncertainty with which two settings are compared.
pub(super) const WORLDS: usize = 256;
/// Constants that are not sure.
const CONSTANTS: usize = 7;
/// Deliveries that are enough to see what a constant does: the same ones before and after.
const FEW: usize = 50;

/// What is not known, drawn once for all settings: the error of the player's centre on the ground
/// (m), and standard normals for the learned response and for the constants.
pub(super) struct World {
    pub centre: Ground,
    pub response: SVector<f64, 5>,
    pub constants: [f64; CONSTANTS],
}

impl<'a> Predictor<'a> {
    pub fn new(situation: &'a Situation<'a>) -> Result<Predictor<'a>, SettingError> {
        let club = situation.club;
        let mut p = Predictor::with(situation, situation.physics, 1)?;
        let base = situation
            .physics
            .striker(&club.head, &club.setting, &club.setting)?;
        p.gradient = p.gradient_at(&base);
        Ok(p)
    }

    /// The same deliveries, every `stride`th of them, struck and flown by another model.
    pub fn with(
        situation: &'a Situation<'a>,
        physics: &'a Physics,
        stride: usize,
    ) -> Result<Predictor<'a>, SettingError> {
        let club = situation.club;
        let base = physics.striker(&club.head, &club.setting, &club.setting)?;
        let cloud = situation.cloud.iter().step_by(stride.max(1));
        Ok(Predictor {
            range: physics.range(&situation.conditions),
            swings: cloud.map(|d| base.swing(d)).collect(),
            base_features: physics.features(&club.head, &club.setting),
            gradient: Matrix4x5::zeros(),
            physics,
            situation,
        })
    }

    /// What each constant of the model does to the change that settings make; see
    /// [`Prediction::constants`].
    pub fn constants(&self, settings: &[Place<'_>]) -> Result<Vec<Vec<Ground>>, SettingError> {
        let s = self.situation;
        let stride = s.cloud.len().div_ceil(FEW);
        let kind = s.club.head.kind;
        let changes = |physics: &Physics| -> Result<Vec<Ground>, SettingError> {
            let p = Predictor::with(s, physics, stride)?;
            let mut scratch = Scratch::default();
            let now = p
                .predict(Place::own(&s.club.setting), &mut scratch)?
                .outcome
                .ground;
            settings
                .iter()
                .map(|x| Ok(p.predict(*x, &mut scratch)?.outcome.ground - now))
                .collect()
        };
        let shifted: Vec<Vec<Ground>> = Physics::uncertain(kind)
            .par_iter()
            .map(|u| changes(&self.physics.shifted(u, 1.0)))
            .collect::<Result<_, _>>()?;
        let plain = changes(self.physics)?;
        Ok((0..settings.len())
            .map(|i| shifted.iter().map(|c| c[i] - plain[i]).collect())
            .collect())
    }

    /// Launch of one swing with a striker, offset and correction included.
    #[inline]
    fn launch(&self, striker: &Striker, swing: &Swing, added: &[f64; 5]) -> Launch {
        let p = self.physics;
        let launch = striker.strike(swing, &p.ball, &p.impact).launch();
        corrected(&launch, added, striker.head_speed(swing))
    }

    /// What a setting does beyond the physics, against the present one.
    pub fn effect(&self, place: Place<'_>) -> Effect {
        let s = self.situation;
        let head = &s.club_at(place.mount).head;
        let features = self.physics.features(head, place.setting);
        let correction = s.correction_at(place.mount);
        correction.effect(&self.change(place.mount, &features))
    }

    /// What features against the reference of a place's head are against the present setting.
    pub fn change(&self, mount: usize, features: &[f64; FEATURES.len()]) -> [f64; FEATURES.len()] {
        let s = self.situation;
        let other = mount.checked_sub(1).and_then(|m| s.rack.get(m));
        let apart = other.map_or([0.0; FEATURES.len()], |m| m.apart(&s.club.head));
        std::array::from_fn(|i| features[i] + apart[i] - self.base_features[i])
    }

    /// A place's head, ready to strike at the player's swings.
    pub fn striker(&self, place: Place<'_>) -> Result<Striker, SettingError> {
        let (s, p) = (self.situation, self.physics);
        Striker::on_the_shaft_of(
            &s.club_at(place.mount).head,
            place.setting,
            &s.club.head,
            &s.club.setting,
            p.attitude,
            &p.impact,
        )
    }

    /// Strikes and flies every delivery, with so much added to the launch.
    pub fn fly(&self, striker: &Striker, added: &[f64; 5], scratch: &mut Scratch) {
        scratch.launches.clear();
        for swing in &self.swings {
            scratch.launches.push(&self.launch(striker, swing, added));
        }
        self.range.fly_each(&scratch.launches, &mut scratch.flights);
    }

    pub fn predict(
        &self,
        place: Place<'_>,
        scratch: &mut Scratch,
    ) -> Result<Prediction, SettingError> {
        let s = self.situation;
        let striker = self.striker(place)?;
        let effect = self.effect(place);
        let added = std::array::from_fn(|r| s.offset[r] + effect.mean[r]);
        self.fly(&striker, &added, scratch);
        Ok(Prediction {
            outcome: scratch.summarise(),
            response_sd: effect.sd,
            response_covariance: effect.covariance,
            response_root: self.on_ground(&effect),
            constants: Vec::new(),
        })
    }

    /// Central differences of the ground picture against each response at the cloud's mean launch.
    fn gradient_at(&self, striker: &Striker) -> Matrix4x5<f64> {
        let n = self.swings.len() as f64;
        let mut mean = [0.0; 5];
        let mut speed = 0.0;
        for swing in &self.swings {
            let l = self.launch(striker, swing, &self.situation.offset);
            let v = striker.head_speed(swing);
            speed += v / n;
            for (m, r) in mean.iter_mut().zip(responses(&l, v)) {
                *m += r / n;
            }
        }
        let centre = Launch {
            launch_angle: mean[0] * DEG,
            launch_direction: mean[1] * DEG,
            spin_axis: mean[2] * DEG,
            spin_rate: mean[3] * RPM,
            ball_speed: mean[4] * speed,
        };
        const STEP: [f64; 5] = [0.5, 0.5, 1.0, 100.0, 0.005];
        let mut out = Matrix4x5::zeros();
        for r in 0..5 {
            let at = |sign: f64| {
                let mut added = [0.0; 5];
                added[r] = sign * STEP[r];
                let l = corrected(&centre, &added, speed);
                let f = self.range.fly(&l);
                let d = l.launch_direction;
                Ground::new(f.start_offline(d), f.curve(d), f.carry(), f.apex)
            };
            out.set_column(r, &((at(1.0) - at(-1.0)) / (2.0 * STEP[r])));
        }
        out
    }

    /// Covariance of the player's usual start, curve, carry and apex, m²: what few shots leave open,
    /// that they are of so many days, and what the flight model makes of a curve. Words are of all
    /// days and of the ground itself.
    pub fn centre_covariance(&self) -> Matrix4<f64> {
        let seen = self.situation.centre_covariance;
        match &self.situation.evidence {
            Evidence::Words(_) => seen,
            Evidence::Shots(t) => {
                let day = self.situation.correction.day() / t.days.max(1.0);
                let curve = self.physics.curve_share * t.curve.mean;
                let flight = Matrix4::from_diagonal(&Ground::new(0.0, curve * curve, 0.0, 0.0));
                seen + flight + self.gradient * day * self.gradient.transpose()
            }
        }
    }

    /// What five standard normals make on the ground of what is not sure of an effect, m.
    pub fn on_ground(&self, effect: &Effect) -> Matrix4x5<f64> {
        self.gradient * root(&effect.covariance)
    }

    /// Covariance on the ground of the uncertainty of the change: of the learned response and of the
    /// constants.
    pub fn effect_covariance(&self, p: &Prediction) -> Matrix4<f64> {
        let covariance = Matrix5::from_fn(|r, s| p.response_covariance[r][s]);
        let constants = p.constants.iter().map(|g| g * g.transpose());
        self.gradient * covariance * self.gradient.transpose() + constants.sum::<Matrix4<f64>>()
    }

    /// What the ball does on average with a setting in a world.
    pub fn ground_in(&self, world: &World, p: &Prediction) -> Ground {
        let constants = p.constants.iter().zip(world.constants).map(|(g, z)| g * z);
        p.outcome.ground
            + world.centre
            + p.response_root * world.response
            + constants.sum::<Ground>()
    }

    /// The worlds of a seed, the same for every setting.
    pub fn worlds(&self, seed: u32) -> Vec<World> {
        let root = self
            .centre_covariance()
            .cholesky()
            .map_or_else(Matrix4::zeros, |c| c.l());
        (0..WORLDS)
            .map(|i| {
                let z = |dimension: usize| normal(i, dimension as u32, seed);
                World {
                    centre: root * Ground::from_fn(|c, _| z(8 + c)),
                    response: SVector::from_fn(|c, _| z(12 + c)),
                    constants: std::array::from_fn(|c| z(17 + c)),
                }
            })
            .collect()
    }
}

/// Lower triangular square root of a positive semidefinite matrix; columns without anything left are
/// zero.
fn root(m: &[[f64; 5]; 5]) -> Matrix5<f64> {
    let mut l = Matrix5::zeros();
    for c in 0..5 {
        let left = m[c][c] - (0..c).map(|k| l[(c, k)] * l[(c, k)]).sum::<f64>();
        if left <= 1e-12 * m[c][c] {
            continue;
        }
        l[(c, c)] = left.sqrt();
        for r in c + 1..5 {
            let dot: f64 = (0..c).map(|k| l[(r, k)] * l[(c, k)]).sum();
            l[(r, c)] = (m[r][c] - dot) / l[(c, c)];
        }
    }
    l
}

impl Scratch {
    /// Means over the deliveries that were flown last.
    pub fn summarise(&self) -> Outcome {
        let (launches, flights) = (&self.launches, &self.flights);
        let n = flights.len() as f64;
        let mut ground = Ground::zeros();
        let (mut spin_rate, mut landing_angle, mut square) = (0.0, 0.0, 0.0);
        for i in 0..flights.len() {
            let (x, y) = (flights.offline[i], flights.downrange[i]);
            let start = y * launches.launch_direction[i].tan();
            ground += Ground::new(start, x - start, x.hypot(y).copysign(y), flights.apex[i]) / n;
            spin_rate += launches.spin_rate[i] / n;
            landing_angle += flights.landing_angle[i] / n;
            square += x * x / n;
        }
        let offline = ground[0] + ground[1];
        Outcome {
            ground,
            offline_sd: (square - offline * offline).max(0.0).sqrt(),
            spin_rate,
            landing_angle,
        }
    }
}
