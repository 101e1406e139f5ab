//! Variance components by EM, and the fit of one response from start to end.

use super::RESPONSES;
use super::fit::{FitError, FitOptions};
use super::model::{Coefficient, Components, GROUP_FACTOR, ResponseModel, Term};
use super::regression::Problem;
use super::score::Score;
use nalgebra::{DMatrix, DVector};

/// Prior standard deviation of an intercept by response: vague against any launch.
pub(super) const INTERCEPT_SD: [f64; 5] = [20.0, 10.0, 40.0, 6000.0, 1.0];
/// Day-to-day standard deviation of a player with a head before any data: set-up, ball, swing of
/// the day (common practice, no source).
pub(crate) const VISIT_SD: [f64; 5] = [0.4, 0.5, 1.5, 120.0, 0.008];
/// What sessions of one day still differ by, before any data (common practice, no source).
pub(super) const SESSION_SD: [f64; 5] = [0.2, 0.25, 0.7, 60.0, 0.004];
/// Weight of the prior guess of a variance component, in observations.
pub(super) const COMPONENT_WEIGHT: f64 = 4.0;

impl Problem {
    /// One EM step of the variance components (Laird and Ware 1982), each with a weak prior: the
    /// expected squares of visit and session effects and of the group coefficients.
    fn step(
        &self,
        c: &Components,
        mean: &DVector<f64>,
        cov: &DMatrix<f64>,
    ) -> Result<Components, FitError> {
        let (visit2, session2) = (c.visit_sd.powi(2), c.session_sd.powi(2));
        let start = |sd: f64| (COMPONENT_WEIGHT * sd * sd, COMPONENT_WEIGHT);
        let (mut visit_sum, mut visit_count) = start(VISIT_SD[self.r]);
        let (mut session_sum, mut session_count) = start(SESSION_SD[self.r]);
        let residual = self.residual(mean);
        for v in &self.visits {
            let inverse = self.precision(c, v)?;
            let wr = &inverse * residual.rows(v.start, v.len());
            // Uncertainty of the coefficients, as it enters the weighed residuals.
            let spread = &inverse * self.spread(cov, v) * &inverse;
            let effect = visit2 * wr.sum();
            visit_sum +=
                effect * effect + visit2 - visit2 * visit2 * (inverse.sum() - spread.sum());
            visit_count += 1.0;
            for a in 0..v.len() {
                let effect = session2 * wr[a];
                session_sum += effect * effect + session2
                    - session2 * session2 * (inverse[(a, a)] - spread[(a, a)]);
                session_count += 1.0;
            }
        }
        let factor = |player: bool| {
            let mut s = COMPONENT_WEIGHT * GROUP_FACTOR * GROUP_FACTOR;
            let mut n = COMPONENT_WEIGHT;
            for (i, t) in self.terms.iter().enumerate() {
                let mine = match t {
                    Term::Player { .. } => player,
                    Term::Head { .. } => !player,
                    _ => false,
                };
                if mine && !self.is_inherited(i) {
                    s += (mean[i].powi(2) + cov[(i, i)]) / self.scale[i].powi(2);
                    n += 1.0;
                }
            }
            (s / n).sqrt()
        };
        Ok(Components {
            shot_sd: self.shot_var.sqrt(),
            visit_sd: (visit_sum / visit_count).sqrt(),
            session_sd: (session_sum / session_count).sqrt(),
            player_factor: factor(true),
            head_factor: factor(false),
        })
    }

    pub(super) fn solve(&self, options: &FitOptions) -> Result<ResponseModel, FitError> {
        let mut c = Components {
            shot_sd: self.shot_var.sqrt(),
            ..self.start
        };
        let (mut converged, mut iterations) = (self.y.is_empty() || options.fixed.is_some(), 0);
        while !converged && iterations < options.max_iterations {
            let (mean, cov) = self.posterior(&c)?;
            let next = self.step(&c, &mean, &cov)?;
            iterations += 1;
            let moved = [
                next.visit_sd / c.visit_sd,
                next.session_sd / c.session_sd,
                next.player_factor / c.player_factor,
                next.head_factor / c.head_factor,
            ];
            converged = moved.iter().all(|m| (m - 1.0).abs() < 1e-4);
            c = next;
        }
        let (_, cov) = self.posterior(&c)?;
        let mean = self.least_squares(&c)?;
        let score = Score::new(&self.held_out(&c, &mean, &cov)?);
        // Of the marginal, not the conditional distribution: inherited columns hang together.
        let prior_sd = self
            .prior_precision(&c)
            .cholesky()
            .ok_or_else(|| FitError::Singular(RESPONSES[self.r].into()))?
            .inverse()
            .map_diagonal(f64::sqrt);
        let k = self.terms.len();
        Ok(ResponseModel {
            response: RESPONSES[self.r].into(),
            in_use: score.earns_its_place(),
            score,
            components: c,
            converged,
            iterations,
            coefficients: (0..k)
                .map(|i| Coefficient {
                    term: self.terms[i].clone(),
                    mean: mean[i],
                    sd: cov[(i, i)].max(0.0).sqrt(),
                    prior_sd: prior_sd[i],
                })
                .collect(),
            covariance: (0..k)
                .flat_map(|i| (0..=i).map(move |j| (i, j)))
                .map(|ij| cov[ij])
                .collect(),
        })
    }
}
