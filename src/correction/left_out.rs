//! What the fit would have said of each session without having seen it.

use super::fit::FitError;
use super::model::Components;
use super::regression::Problem;
use super::score::HeldOut;
use nalgebra::{DMatrix, DVector};

impl Problem {
    /// Errors of sessions that the fit has not seen, though it has seen all others, those of the
    /// same visit included; see [`Score`].
    pub(super) fn held_out(
        &self,
        c: &Components,
        mean: &DVector<f64>,
        cov: &DMatrix<f64>,
    ) -> Result<Vec<HeldOut>, FitError> {
        let bare = self.intercepts_only();
        let (bare_mean, bare_cov) = bare.posterior(c)?;
        let learned = self.left_out(c, mean, cov)?;
        let physics = bare.left_out(c, &bare_mean, &bare_cov)?;
        Ok((0..self.y.len())
            .filter(|&j| self.siblings[j] > 0)
            .map(|j| HeldOut {
                physics: physics[j].0,
                correction: learned[j].0,
                predicted_sd: learned[j].1,
            })
            .collect())
    }

    /// Error and predicted standard deviation of each session when all others are known.
    ///
    /// With `K` the covariance of the session means before any is seen, they are
    /// `[K⁻¹ (y - X m)]_j / [K⁻¹]_jj` and `1 / sqrt([K⁻¹]_jj)` (C. E. Rasmussen, C. K. I. Williams
    /// 2006, *Gaussian Processes for Machine Learning*, eq. 5.12), where
    /// `K⁻¹ = S - S X V Xᵀ S` with `S` the inverse of the noise and `V` the posterior covariance.
    fn left_out(
        &self,
        c: &Components,
        mean: &DVector<f64>,
        cov: &DMatrix<f64>,
    ) -> Result<Vec<(f64, f64)>, FitError> {
        let residual = self.residual(mean);
        let mut out = Vec::with_capacity(self.y.len());
        for v in &self.visits {
            let precision = self.precision(c, v)?;
            let weighed = &precision * residual.rows(v.start, v.len());
            let explained = &precision * self.spread(cov, v) * &precision;
            for a in 0..v.len() {
                let own = precision[(a, a)] - explained[(a, a)];
                out.push((weighed[a] / own, own.max(f64::MIN_POSITIVE).sqrt().recip()));
            }
        }
        Ok(out)
    }
}
