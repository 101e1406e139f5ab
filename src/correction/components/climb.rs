//! The search for the variance components: a scoring step, then Newton steps up, while sessions that are far off lose
//! weight.

use super::super::fit::FitError;
use super::super::model::Components;
use super::super::rows::Rows;
use super::{Insight, Problem, State, Vector, parts, with};

/// Degrees of freedom of the tail of session means: see [`tail_weight`].
const TAIL_FREEDOM: f64 = 4.0;
/// Squared distance up to which a session counts in full.
const TAIL_FROM: f64 = 4.0;
/// Rounds of reweighting at most, where the components are known.
const TAIL_ROUNDS: usize = 20;
/// Step up to which weights follow.
const NEAR: f64 = 0.5;
/// Longest step in a logarithm.
const LONGEST: f64 = 1.5;
/// Step at which the search ends, in standard deviations of what it seeks.
const SETTLED: f64 = 0.003;
/// Change of a session's weight up to which the weights have settled.
const STEADY: f64 = 3e-3;

/// Weight of a session by the squared distance between its mean and what all others foretell, in
/// variances: 1 up to two standard deviations, then falling as that of a t with four degrees of
/// freedom, `(nu + 4) / (nu + d²)`. Of normal sessions one in twenty is touched, and little, so
/// that the estimates stay those of the normal model; a session that was logged with a wrong club
/// loses its say. Source of the weights: K. L. Lange, R. J. A. Little, J. M. G. Taylor 1989, J. Am.
/// Stat. Assoc. 84, 881-896; that they set in at two standard deviations is ours.
fn tail_weight(squared_distance: f64) -> f64 {
    ((TAIL_FREEDOM + TAIL_FROM) / (TAIL_FREEDOM + squared_distance)).min(1.0)
}

/// Factor on the weights while components are sought: such that normal sessions have the variance
/// that they have. Without it that would come out a twentieth too small, as far ones count less:
/// this is `1 / E[z² w(z²)]`, `w` the weight and `z` a standard normal. Given the components, the
/// weights alone say what sessions tell: `E[w]` is the efficiency `E[(z w)']² / E[(z w)²]` within a
/// hundredth. Source of the idea: D. E. Tyler 1982, Biometrika 69, 429-436 (consistency at the
/// normal; from memory). The tests recompute both.
pub const TAIL_CONSISTENCY: f64 = 1.053_564_602_3;

/// The end of a search.
#[derive(Debug, Clone)]
pub(in crate::correction) struct Found {
    pub state: State,
    pub insight: Insight,
    pub weights: Vec<f64>,
    pub converged: bool,
    pub iterations: usize,
}

impl Found {
    /// Error and its standard deviation of a session that is foretold by all others, as if it had
    /// full weight: how much it deserves is not known beforehand.
    pub fn left_out(&self, rows: &Rows, j: usize) -> (f64, f64) {
        let c = &self.state.components;
        let (error, sd) = self.insight.left_out(j);
        let own = c.session_sd.powi(2) + c.shot_sd.powi(2) / rows.n[j];
        let variance = sd * sd - own * (1.0 / self.weights[j] - 1.0);
        (error, variance.max(own).sqrt())
    }
}

impl Problem {
    /// Newton's step in the logarithms. The first one may have far to go, and scores: what data say of
    /// variances is nearly linear in them, however far off the start. Source: C. R. Rao 1979, *MINQUE
    /// theory and its relation to ML and MML estimation of variance components*, Sankhya B 41,
    /// 138-153 (one such step is unbiased from any start; from memory).
    fn step(&self, insight: &Insight, first: bool) -> Result<Vector, FitError> {
        let matrix = if first {
            insight.expected
        } else {
            insight.information
        };
        let chol = matrix.cholesky().ok_or_else(|| self.singular())?;
        let step = chol.solve(&insight.gradient);
        if first {
            let (least, most) = ((-2.0 * LONGEST).exp(), (2.0 * LONGEST).exp());
            return Ok(step.map(|s| 0.5 * (1.0 + 2.0 * s).clamp(least, most).ln()));
        }
        Ok(step * (LONGEST / step.amax()).min(1.0))
    }

    fn moved(&self, from: &State, step: &Vector, weights: &[f64]) -> Result<State, FitError> {
        let there = parts(&from.components).component_mul(&step.map(f64::exp));
        self.at(with(from.components.shot_sd, &there), weights)
    }

    /// A step, shortened until it leads up; and how long it was. `None` at the top.
    fn climb(
        &self,
        from: &Found,
        mut step: Vector,
        weights: &[f64],
    ) -> Result<Option<(State, f64)>, FitError> {
        while from.insight.size(&step) > SETTLED {
            let tried = self.moved(&from.state, &step, weights)?;
            if tried.log_posterior >= from.state.log_posterior {
                return Ok(Some((tried, step.amax())));
            }
            step *= 0.5;
        }
        Ok(None)
    }

    /// The mode for given weights of the sessions, from a start, or what a step of no more than
    /// `settled` leads to. Without steps, the start.
    pub fn find_with(
        &self,
        start: Components,
        most: usize,
        settled: f64,
        weights: &[f64],
    ) -> Result<Found, FitError> {
        let mut found = Found {
            insight: Insight::default(),
            state: self.at(start, weights)?,
            weights: weights.to_vec(),
            converged: most == 0 || self.rows.y.is_empty(),
            iterations: 0,
        };
        found.insight = self.insight(&found.state);
        while found.iterations < most {
            let step = self.step(&found.insight, found.iterations == 0)?;
            let Some((state, length)) = self.climb(&found, step, weights)? else {
                found.converged = true;
                break;
            };
            found.insight = self.insight(&state);
            found.state = state;
            found.iterations += 1;
            if length <= settled {
                found.converged = true;
                break;
            }
        }
        Ok(found)
    }

    /// The same with sessions that are far off losing weight, until steps and weights settle.
    pub fn find(&self, start: Components, most: usize) -> Result<Found, FitError> {
        let mut found = self.find_with(start, 0, 0.0, &vec![1.0; self.rows.y.len()])?;
        found.converged = self.rows.y.is_empty();
        let consistent = if most > 0 { TAIL_CONSISTENCY } else { 1.0 };
        let mut before = f64::INFINITY;
        for _ in 0..most.max(TAIL_ROUNDS) {
            let next: Vec<f64> = (0..found.weights.len())
                .map(|j| {
                    let (error, sd) = found.left_out(&self.rows, j);
                    consistent * tail_weight((error / sd).powi(2))
                })
                .collect();
            let change = (next.iter().zip(&found.weights)).map(|(a, b)| (a - b).abs());
            let settled = change.fold(0.0, f64::max) < STEADY;
            let step = match most {
                0 => Vector::zeros(),
                _ => self.step(&found.insight, found.iterations == 0)?,
            };
            let mut length = step.amax();
            let near = length <= NEAR;
            if near && length < before && !settled {
                // Both at once: nearly at the top, a step that is shorter than the last leads up.
                found.weights = next;
                found.state = self.moved(&found.state, &step, &found.weights)?;
            } else {
                let climbed = self.climb(&found, step, &found.weights)?;
                length = climbed.as_ref().map_or(0.0, |c| c.1);
                if settled && length == 0.0 {
                    found.converged = true;
                    break;
                }
                if let Some((state, _)) = climbed {
                    found.state = state;
                }
                if near && !settled {
                    found.weights = next;
                    found.state = self.at(found.state.components, &found.weights)?;
                }
            }
            before = length;
            found.iterations += usize::from(length > 0.0);
            found.insight = self.insight(&found.state);
        }
        if most > 0 {
            found.weights.iter_mut().for_each(|w| *w /= consistent);
            found.state = self.at(found.state.components, &found.weights)?;
            found.insight = self.insight(&found.state);
        }
        Ok(found)
    }
}
