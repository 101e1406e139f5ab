//! Scores where the ball lands: held-out errors of the launch, pushed through the flight.

use super::corrected;
use super::fit::Scored;
use super::score::{GroundScore, HeldOut, Score};
use crate::flight::Range;
use crate::impact::{Delivery, Striker};
use crate::physics::Physics;
use rayon::prelude::*;

/// What is scored on the ground.
pub const GROUND: [&str; 2] = ["offline_m", "carry_m"];

/// Sensitivity of offline and carry, m, to each response in its unit, about a player's usual ball:
/// central differences.
pub type GroundGradient = [[f64; 5]; 2];

/// The sensitivities for a delivery with a club.
pub fn ground_gradient(
    striker: &Striker,
    delivery: &Delivery,
    physics: &Physics,
    range: &Range<'_>,
) -> GroundGradient {
    const STEP: [f64; 5] = [0.5, 0.5, 1.0, 100.0, 0.005];
    let launch = striker.launch(delivery, &physics.ball, &physics.impact);
    let slope = |r: usize| {
        let at = |sign: f64| {
            let mut added = [0.0; 5];
            added[r] = sign * STEP[r];
            let f = range.fly(&corrected(&launch, &added, delivery.head_speed));
            [f.offline, f.carry()]
        };
        let (up, down) = (at(1.0), at(-1.0));
        [0, 1].map(|g| (up[g] - down[g]) / (2.0 * STEP[r]))
    };
    let slopes: Vec<[f64; 2]> = (0..5).into_par_iter().map(slope).collect();
    [0, 1].map(|g| std::array::from_fn(|r| slopes[r][g]))
}

impl Scored {
    /// Adds the scores on the ground. Errors of a session's responses add up by the sensitivities
    /// that `of` knows for its player and head; a response that it did not measure adds none. The
    /// correction is scored as it is used: a response that is not in use counts as bare physics.
    pub fn score_ground(&mut self, of: impl Fn(&str, &str) -> Option<GroundGradient>) {
        // Sessions of a player with a head are next to each other.
        let mut gradients: Vec<Option<GroundGradient>> = Vec::with_capacity(self.sessions.len());
        for names in self.sessions.chunk_by(|a, b| a == b) {
            let gradient = of(&names[0].0, &names[0].1);
            gradients.extend(std::iter::repeat_n(gradient, names.len()));
        }
        let score = |all: &[Vec<HeldOut>], g: usize| {
            let mut sessions = vec![[None; 5]; self.sessions.len()];
            for (r, held) in all.iter().enumerate().take(5) {
                for h in held {
                    sessions[h.session][r] = Some(h);
                }
            }
            let known = sessions.iter().zip(&gradients);
            let landed = known.filter_map(|(h, gradient)| self.landed(h, &gradient.as_ref()?[g]));
            Score::new(&landed.collect::<Vec<HeldOut>>())
        };
        let both = |g: usize| GroundScore {
            quantity: GROUND[g].into(),
            score: score(&self.left_out, g),
            forward: score(&self.forward, g),
        };
        let ground = (0..2).into_par_iter().map(both).collect();
        self.model.ground = ground;
    }

    /// `None` if no response of the session was foretold.
    fn landed(&self, held: &[Option<&HeldOut>; 5], gradient: &[f64; 5]) -> Option<HeldOut> {
        let first = held.iter().flatten().next()?;
        let mut out = HeldOut {
            error: [0.0; 3],
            sd: [0.0; 3],
            ..**first
        };
        let rho = &self.model.noise_correlation;
        for model in 0..3 {
            let (mut error, mut sd) = ([0.0; 5], [0.0; 5]);
            for (r, h) in held.iter().enumerate() {
                let Some(h) = h else { continue };
                // What stands in for the model where a response is not in use.
                let used = self.model.responses[r].in_use;
                let from = if model == 2 && !used { 0 } else { model };
                (error[r], sd[r]) = (gradient[r] * h.error[from], gradient[r] * h.sd[from]);
            }
            let pairs = (0..5).flat_map(|r| (0..5).map(move |s| (r, s)));
            let variance: f64 = pairs.map(|(r, s)| sd[r] * sd[s] * rho[r][s]).sum();
            out.error[model] = error.iter().sum();
            out.sd[model] = variance.max(f64::MIN_POSITIVE).sqrt();
        }
        Some(out)
    }
}
