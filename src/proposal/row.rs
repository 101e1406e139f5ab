//! A proposed setting with all that is told of it.

use super::levers::Undo;
use super::loss::METRE_OFF;
use super::mount::Place;
use super::predict::{Interval, Outcome, Prediction, Predictor, Scratch};
use super::reasons::Reasons;
use super::situation::Evidence;
use super::steps::{RULES_CAUTION, Step};
use super::weigh::{Weigher, mean};
use crate::head::{Head, Setting, SettingError};
use crate::hosel::Attitude;
use crate::physics::Physics;
use crate::rules::{inertia_limit, vertical_inertia};
use crate::tendency::Ground;
use crate::workshop::SwingWeight;

/// One proposed setting.
#[derive(Debug, Clone, PartialEq)]
pub struct Row {
    /// Name of the head, if it is another one from the rack.
    pub other_head: Option<String>,
    /// The setting of the head.
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
    /// By how much farther from what is wanted start line and curve are, both counted, m: a ball that
    /// is bent back lands nearer all the same.
    pub bends: f64,
    /// What each [`super::Reason`] does to start, curve, carry and apex, m: shares of the change.
    pub reasons: Reasons,
    /// Where the ball lands if the player squares the face again after the sleeve was turned, m.
    pub squared: Option<f64>,
    /// Face angle of the head on its sole against now, rad, right positive: how it looks.
    pub look: f64,
    /// Inertia of the head about the vertical axis through its CG, kg m².
    pub inertia: f64,
    /// Swing weight.
    pub swing_weight: SwingWeight,
    /// Mass of the head, kg.
    pub head_mass: f64,
    /// Hardest step to undo.
    pub undo: Undo,
    /// What to mind.
    pub cautions: Vec<String>,
}

impl Row {
    /// The expected loss as a distance: so far off the line a straight ball without spread costs as
    /// much, m.
    pub fn loss_off_line(&self) -> f64 {
        self.loss / METRE_OFF
    }
}

impl Weigher<'_> {
    /// The row of a setting and its prediction.
    pub fn row(&self, place: Place<'_>, p: &Prediction) -> Result<Row, SettingError> {
        let (own, setting) = (self.situation.club, place.setting);
        let club = self.situation.club_at(place.mount);
        let work = self.work(place);
        let effect = self.predictor.effect_covariance(p);
        let total = self.predictor.centre_covariance() + effect;
        let g = &p.outcome.ground;
        let line = Ground::new(1.0, 1.0, 0.0, 0.0);
        let sd_of = |m: &nalgebra::Matrix4<f64>| (line.transpose() * m * line)[0].max(0.0).sqrt();
        let offline = g[0] + g[1];
        let before = self.now.outcome.ground[0] + self.now.outcome.ground[1];
        let losses = self.losses(p);
        let aim = &self.situation.goal.aim;
        let off_shape = |g: &Ground| (g[0] - aim.start).abs() + (g[1] - aim.curve).abs();
        Ok(Row {
            cautions: cautions(&club.head, setting, &work),
            other_head: (place.mount > 0).then(|| club.head.name.clone()),
            setting: setting.clone(),
            look: club.face_on_the_sole(setting) - own.face_on_the_sole(&own.setting),
            inertia: vertical_inertia(&club.head, setting),
            ground: std::array::from_fn(|i| Interval::normal(g[i], total[(i, i)].max(0.0).sqrt())),
            offline: Interval::normal(offline, sd_of(&total)),
            offline_change: Interval::normal(offline - before, sd_of(&effect)),
            spin_rate: Interval::normal(p.outcome.spin_rate, self.spin_error(p)),
            loss: mean(&losses),
            helps: self.helps(&losses),
            harms: self.risk(p),
            cures: self.cures(p),
            bends: off_shape(g) - off_shape(&self.now.outcome.ground),
            swing_weight: club.swing_weight(setting),
            head_mass: club.head.mass_properties(setting).mass,
            outcome: p.outcome,
            undo: hardest(&work),
            squared: self.squared(place),
            reasons: self.predictor.reasons(place)?,
            steps: work,
        })
    }

    /// Where the ball lands if the player squares the face again after the sleeve was turned, m;
    /// none if the sleeve was not turned or that is assumed anyway.
    fn squared(&self, place: Place<'_>) -> Option<f64> {
        let s = self.situation;
        let turned = place.setting.clock != s.club_at(place.mount).setting.clock;
        if !turned || s.physics.attitude == Attitude::FaceSquared {
            return None;
        }
        let physics = Physics {
            attitude: Attitude::FaceSquared,
            ..s.physics.clone()
        };
        let predictor = Predictor::with(s, &physics, 1).ok()?;
        let p = predictor.predict(place, &mut Scratch::default()).ok()?;
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
}

fn cautions(head: &Head, setting: &Setting, work: &[Step]) -> Vec<String> {
    let mut out: Vec<String> = Vec::new();
    for c in work.iter().flat_map(|s| &s.cautions) {
        if !out.iter().any(|o| o == c) {
            out.push((*c).to_string());
        }
    }
    out.extend(inertia_limit(head, setting));
    if !work.is_empty() {
        out.push(RULES_CAUTION.to_string());
    }
    out
}

fn hardest(work: &[Step]) -> Undo {
    work.iter().map(|s| s.undo).max().unwrap_or(Undo::Nothing)
}
