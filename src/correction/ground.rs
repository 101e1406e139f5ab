//! Scores where the ball lands: held-out errors of the launch, pushed through the flight.

use super::corrected;
use super::fit::Scored;
use super::score::{GroundScore, HeldOut, Score};
use crate::flight::Range;
use crate::impact::{Delivery, Striker};
use crate::physics::Physics;
use std::collections::{BTreeMap, HashMap};

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
    let mut out = [[0.0; 5]; 2];
    for r in 0..5 {
        let at = |sign: f64| {
            let mut added = [0.0; 5];
            added[r] = sign * STEP[r];
            let f = range.fly(&corrected(&launch, &added, delivery.head_speed));
            [f.offline, f.carry()]
        };
        let (up, down) = (at(1.0), at(-1.0));
        for g in 0..2 {
            out[g][r] = (up[g] - down[g]) / (2.0 * STEP[r]);
        }
    }
    out
}

impl Scored {
    /// Adds the scores on the ground. Errors of a session's responses add up by the sensitivities
    /// that `of` knows for its player and head; a response that it did not measure adds none. The
    /// correction is scored as it is used: a response that is not in use counts as bare physics.
    pub fn score_ground(&mut self, of: impl Fn(&str, &str) -> Option<GroundGradient>) {
        let mut known = HashMap::new();
        for names in &self.sessions {
            known.entry(names).or_insert_with(|| of(&names.0, &names.1));
        }
        let scores = |all: &[Vec<HeldOut>]| -> [Score; 2] {
            let mut sessions: BTreeMap<usize, [Option<HeldOut>; 5]> = BTreeMap::new();
            for (r, held) in all.iter().enumerate().take(5) {
                for h in held {
                    sessions.entry(h.session).or_default()[r] = Some(*h);
                }
            }
            [0, 1].map(|g| {
                let held: Vec<HeldOut> = sessions
                    .iter()
                    .filter_map(|(session, h)| {
                        let gradient = known.get(&self.sessions[*session]).copied().flatten()?;
                        Some(self.landed(h, &gradient[g]))
                    })
                    .collect();
                Score::new(&held)
            })
        };
        let (left_out, forward) = (scores(&self.left_out), scores(&self.forward));
        self.model.ground = (0..2)
            .map(|g| GroundScore {
                quantity: GROUND[g].into(),
                score: left_out[g],
                forward: forward[g],
            })
            .collect();
    }

    fn landed(&self, held: &[Option<HeldOut>; 5], gradient: &[f64; 5]) -> HeldOut {
        let mut out = HeldOut {
            session: 0,
            visit: 0,
            error: [0.0; 3],
            sd: [0.0; 3],
        };
        let rho = &self.model.noise_correlation;
        for model in 0..3 {
            // What stands in for the model where a response is not in use.
            let of = |r: usize| {
                let h = held[r].as_ref()?;
                let used = self.model.responses[r].in_use;
                let from = if model == 2 && !used { 0 } else { model };
                Some((gradient[r] * h.error[from], gradient[r] * h.sd[from]))
            };
            let parts: Vec<(usize, (f64, f64))> =
                (0..5).filter_map(|r| Some((r, of(r)?))).collect();
            let mut variance = 0.0;
            for (r, (error, sd)) in &parts {
                out.error[model] += error;
                for (s, (_, other)) in &parts {
                    variance += sd * other * rho[*r][*s];
                }
            }
            out.sd[model] = variance.max(f64::MIN_POSITIVE).sqrt();
        }
        if let Some(h) = held.iter().flatten().next() {
            (out.session, out.visit) = (h.session, h.visit);
        }
        out
    }
}
