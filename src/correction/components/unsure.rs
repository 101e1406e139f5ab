//! What follows from the components being estimated, not known: their own uncertainty, what it
//! does to the intervals of the effects, and how much of the held-out errors is noise.

use super::super::V7;
use super::super::fit::FitError;
use super::super::model::Components;
use super::{COUNT, Found, Problem, Vector, parts, with};
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;

/// Standard deviation along an axis of the components' logarithms below which it is left alone.
const SURE: f64 = 0.05;
/// Draws from which the share of noise in held-out errors is taken.
const SHARE_DRAWS: u64 = 8;
impl Problem {
    /// Standard deviations of the logarithms of the components, from the information.
    pub fn log_sd(&self, found: &Found) -> Components {
        let covariance = found.insight.information.cholesky().map(|c| c.inverse());
        let sd = covariance.map_or_else(Vector::zeros, |c| c.diagonal().map(f64::sqrt));
        with(0.0, &sd)
    }

    /// By what factor the variances of the effects grow on average over pairs and levers when the
    /// components are not known but estimated: the mean over their posterior of the variance plus
    /// the variance of the mean, by three-point Gauss-Hermite rules along the axes of the
    /// components' covariance. Source: R. E. Kass, D. Steffey 1989, *Approximate Bayesian inference
    /// in conditionally independent hierarchical models*, J. Am. Stat. Assoc. 84, 717-726 (idea;
    /// from memory).
    pub fn inflation(&self, found: &Found) -> Result<f64, FitError> {
        let Some(covariance) = found.insight.information.cholesky().map(|c| c.inverse()) else {
            return Ok(1.0);
        };
        let Some(root) = covariance.cholesky() else {
            return Ok(1.0);
        };
        let (rows, c) = (&self.rows, &found.state.components);
        let spoken = |q: usize| {
            let moved = |f: usize| {
                rows.x[rows.pairs[q].rows.clone()]
                    .iter()
                    .any(|x| x[f] != 0.0)
            };
            V7::from_fn(|f, _| f64::from(u8::from(moved(f))))
        };
        let spoken: Vec<V7> = (0..rows.pairs.len()).map(spoken).collect();
        let (mut total, mut count) = (0.0, 0.0);
        let (axes, variances) = (root.l(), &found.insight.spread.line);
        for (asked, line) in spoken.iter().zip(variances) {
            let known = |f: &usize| asked[*f] > 0.0 && line.effects[(*f, *f)] > 0.0;
            count += (0..7).filter(known).count() as f64;
        }
        let unsure = (0..COUNT).filter(|a| axes.column(*a).norm() >= SURE);
        for (axis, sign) in unsure.flat_map(|a| [(a, 1.0), (a, -1.0)]) {
            let step = axes.column(axis) * (sign * 3.0_f64.sqrt());
            let there = parts(c).component_mul(&step.map(f64::exp));
            let state = self.at(with(c.shot_sd, &there), &found.weights)?;
            let spread = state.arrow.spread();
            for (q, asked) in spoken.iter().enumerate() {
                let here = variances[q].effects.diagonal();
                let there = spread.line[q].effects.diagonal();
                let moved = state.solution.line[q].1 - found.state.solution.line[q].1;
                for f in (0..7).filter(|f| asked[*f] > 0.0 && here[*f] > 0.0) {
                    total += (there[f] + moved[f] * moved[f] - here[f]) / (6.0 * here[f]);
                }
            }
        }
        Ok((1.0 + total / f64::max(count, 1.0)).clamp(1.0, 4.0))
    }

    /// The share of noise in the squares of held-out errors; the rest is that of the effects. From
    /// a few draws of noise, the same every time.
    pub fn noise_share(&self, found: &Found) -> f64 {
        let (rows, c) = (&self.rows, &found.state.components);
        let (mut noise, mut all) = (0.0, 0.0);
        for draw in 0..SHARE_DRAWS {
            let mut random = ChaCha8Rng::seed_from_u64(draw);
            // Signs will do: only second moments count (M. F. Hutchinson 1990).
            let mut sign = || if random.random::<bool>() { 1.0 } else { -1.0 };
            let mut values = vec![0.0; rows.y.len()];
            for v in &rows.visits {
                let shared = c.visit_sd * sign();
                for j in v.clone() {
                    values[j] = shared + sign() / found.state.noise.q[j].sqrt();
                }
            }
            let alpha = self.inverse_times(&found.state, &values);
            for (a, own) in alpha.iter().zip(&found.insight.own) {
                noise += a * a / own.max(f64::MIN_POSITIVE);
                all += 1.0;
            }
        }
        if all > 0.0 {
            (noise / all).clamp(0.05, 1.0)
        } else {
            1.0
        }
    }
}
