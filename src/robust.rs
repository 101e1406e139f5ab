//! Robust centre and scatter of a small sample.
//!
//! Maximum a posteriori location and scatter of a multivariate t distribution by the EM algorithm:
//! each row gets the weight `(nu + p) / (nu + d²)` with its Mahalanobis distance `d`, so that
//! far-out rows count little and no row is dropped. An inverse-Wishart prior keeps the scatter
//! regular when rows are few.
//!
//! Source: K. L. Lange, R. J. A. Little, J. M. G. Taylor 1989, *Robust statistical modeling using
//! the t distribution*, J. Am. Stat. Assoc. 84, 881-896.

use nalgebra::{SMatrix, SVector};

/// Degrees of freedom of the t distribution.
pub const NU: f64 = 4.0;
/// Weight of the prior scatter, in rows.
const PRIOR_ROWS: f64 = 4.0;

/// A robust summary.
#[derive(Debug, Clone, PartialEq)]
pub struct Summary<const P: usize> {
    /// Centre.
    pub centre: SVector<f64, P>,
    /// Covariance of one row about the centre, of the bulk of the rows.
    pub covariance: SMatrix<f64, P, P>,
    /// Weight of each row, 0 to 1.
    pub weights: Vec<f64>,
    /// Squared Mahalanobis distance of each row.
    pub distances: Vec<f64>,
    /// Effective number of rows, `(Σ w)² / Σ w²`.
    pub effective: f64,
    /// Whether the iteration settled.
    pub converged: bool,
}

impl<const P: usize> Summary<P> {
    /// Covariance of the centre.
    pub fn centre_covariance(&self) -> SMatrix<f64, P, P> {
        self.covariance / self.effective.max(1.0)
    }
}

/// Robust centre and scatter of `rows`; `prior_sd` is the usual spread of each column.
///
/// `excluded[i]` starts a row with no weight (a known mishit); it gets none in the end either.
/// Returns `None` if no row counts or a value is not finite.
pub fn summary<const P: usize>(
    rows: &[SVector<f64, P>],
    excluded: &[bool],
    prior_sd: &SVector<f64, P>,
) -> Option<Summary<P>> {
    let counts = |i: usize| !excluded.get(i).copied().unwrap_or(false);
    let n = (0..rows.len()).filter(|&i| counts(i)).count();
    if n == 0 || rows.iter().any(|r| r.iter().any(|v| !v.is_finite())) {
        return None;
    }
    let prior = SMatrix::<f64, P, P>::from_diagonal(&prior_sd.component_mul(prior_sd));
    let mut centre = median(rows, counts);
    let mut scatter = prior;
    let mut weights = vec![0.0; rows.len()];
    let mut distances = vec![0.0; rows.len()];
    let mut converged = false;
    for _ in 0..200 {
        let inverse = scatter.cholesky()?.inverse();
        for (i, r) in rows.iter().enumerate() {
            let d = r - centre;
            distances[i] = (d.transpose() * inverse * d)[0];
            weights[i] = if counts(i) {
                (NU + P as f64) / (NU + distances[i])
            } else {
                0.0
            };
        }
        let total: f64 = weights.iter().sum();
        let mut next = SVector::<f64, P>::zeros();
        for (r, w) in rows.iter().zip(&weights) {
            next += r * (w / total);
        }
        let mut spread = prior * PRIOR_ROWS;
        for (r, w) in rows.iter().zip(&weights) {
            let d = r - next;
            spread += d * d.transpose() * *w;
        }
        spread /= n as f64 + PRIOR_ROWS;
        let moved = (next - centre).component_div(prior_sd).amax();
        let turned = (spread - scatter).abs().max() / prior.max();
        (centre, scatter) = (next, spread);
        if moved < 1e-9 && turned < 1e-9 {
            converged = true;
            break;
        }
    }
    for w in &mut weights {
        *w = w.min(1.0);
    }
    let (sum, squares) = weights
        .iter()
        .fold((0.0, 0.0), |(s, q), w| (s + w, q + w * w));
    Some(Summary {
        centre,
        covariance: scatter,
        weights,
        distances,
        effective: sum * sum / squares,
        converged,
    })
}

fn median<const P: usize>(
    rows: &[SVector<f64, P>],
    counts: impl Fn(usize) -> bool,
) -> SVector<f64, P> {
    SVector::from_fn(|c, _| {
        let mut v: Vec<f64> = (0..rows.len())
            .filter(|&i| counts(i))
            .map(|i| rows[i][c])
            .collect();
        median_of(&mut v).unwrap_or(0.0)
    })
}

/// Median of a slice, which is put in order; `None` if it is empty.
pub fn median_of(values: &mut [f64]) -> Option<f64> {
    if values.is_empty() {
        return None;
    }
    values.sort_by(f64::total_cmp);
    let mid = values.len() / 2;
    Some(if values.len() % 2 == 1 {
        values[mid]
    } else {
        0.5 * (values[mid - 1] + values[mid])
    })
}

/// Scaled median absolute deviation, an estimate of the standard deviation.
/// Source: F. R. Hampel 1974, *The influence curve and its role in robust estimation*, J. Am.
/// Stat. Assoc. 69, 383-393; the factor is `1 / Phi⁻¹(3/4)`.
pub fn mad(values: &[f64], centre: f64) -> Option<f64> {
    let mut deviations: Vec<f64> = values.iter().map(|v| (v - centre).abs()).collect();
    Some(1.482_602_218_505_602 * median_of(&mut deviations)?)
}

/// How many robust standard deviations make a gross outlier.
pub const GROSS: f64 = 4.5;

/// Marks gross outliers: values more than [`GROSS`] robust standard deviations (at least `floor`)
/// from the median; with `low_only`, only those below it.
pub fn outliers(values: &[f64], floor: f64, low_only: bool) -> Vec<bool> {
    let Some(centre) = median_of(&mut values.to_vec()) else {
        return Vec::new();
    };
    let limit = GROSS * mad(values, centre).unwrap_or(0.0).max(floor);
    values
        .iter()
        .map(|v| centre - v > limit || (!low_only && v - centre > limit))
        .collect()
}
