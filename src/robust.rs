//! Robust centre and scatter of a small sample.
//!
//! Maximum a posteriori location and scatter of a multivariate t distribution by the EM algorithm:
//! each row gets the weight `(nu + p) / (nu + d²)` with its Mahalanobis distance `d`, so that
//! far-out rows count little, and gross outliers nothing. An inverse-Wishart prior keeps the scatter
//! regular when rows are few. The scatter is scaled to be the covariance of the rows if they are
//! normal: see [`CONSISTENCY`].
//!
//! Source: K. L. Lange, R. J. A. Little, J. M. G. Taylor 1989, *Robust statistical modeling using
//! the t distribution*, J. Am. Stat. Assoc. 84, 881-896.

use nalgebra::{SMatrix, SVector};

/// Degrees of freedom of the t distribution.
pub const NU: f64 = 4.0;
/// Weight of the prior scatter, in rows: as little as keeps the scatter regular, so that a session
/// shows its own spread. It stands in for the degree of freedom that the centre takes.
const PRIOR_ROWS: f64 = 1.0;

/// Steps of the EM are lengthened by this factor, which near the end takes half as many of them:
/// what one leaves of an error, a quarter to a half, changes sign or nearly vanishes. Any factor
/// below 2 converges to the same point. Source: R. A. Redner, H. F. Walker 1984, *Mixture densities,
/// maximum likelihood and the EM algorithm*, SIAM Rev. 26, 195-239 (section 5; from memory).
const RELAXED: f64 = 1.5;

/// Covariance of normal rows in units of their t scatter, for 1 to 6 columns: the `c` that solves
/// `E[(nu + p) c r² / (nu + c r²)] = p` with `r²` chi-squared of `p` degrees of freedom, the fixed
/// point of the EM at the normal. Without it every spread would be a seventh too small.
/// Source: D. E. Tyler 1982, *Radial estimates and the test for sphericity*, Biometrika 69, 429-436
/// (consistency at the normal of radial estimates of scatter; from memory). The tests recompute it.
pub const CONSISTENCY: [f64; 6] = [
    1.448_085_819_3,
    1.375_993_545_1,
    1.322_946_437_8,
    1.282_370_726_2,
    1.250_406_327_9,
    1.224_631_387_7,
];

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

    /// Centre and variance of another value of the same `rows`, as much of each as counts here.
    /// `prior_sd` is its usual spread.
    ///
    /// What is linear in the columns has their centre and variance; of normal rows the mean weight is
    /// 1 and the mean of the weighted squares of the columns `1 / c` ([`CONSISTENCY`]), so that the
    /// part of the variance that the columns do not explain is scaled back.
    pub fn beside(
        &self,
        rows: &[SVector<f64, P>],
        values: &[f64],
        prior_sd: f64,
    ) -> Option<(f64, f64)> {
        let scale = CONSISTENCY[P - 1];
        let weights: Vec<f64> = (self.distances.iter().zip(&self.weights))
            .map(|(d, w)| f64::from(*w > 0.0) * weight::<P>(scale * d))
            .collect();
        let sum = |of: &dyn Fn(usize) -> f64| -> f64 {
            weights.iter().enumerate().map(|(i, w)| w * of(i)).sum()
        };
        let centre = sum(&|i| values[i]) / sum(&|_| 1.0);
        let about = |i: usize| values[i] - centre;
        let count = weights.iter().filter(|w| **w > 0.0).count() as f64 + PRIOR_ROWS - 1.0;
        let squares = scale * sum(&|i| about(i).powi(2));
        let total = (prior_sd * prior_sd * PRIOR_ROWS + squares) / count;
        let with = SVector::<f64, P>::from_fn(|c, _| {
            scale / count * sum(&|i| about(i) * (rows[i][c] - self.centre[c]))
        });
        let explained = with.dot(&(self.covariance.cholesky()?.inverse() * with));
        Some((centre, explained + (total - explained).max(0.0) / scale))
    }
}

/// Weight of a row at a squared distance in units of the t scatter.
fn weight<const P: usize>(distance: f64) -> f64 {
    (NU + P as f64) / (NU + distance)
}

/// Robust centre and scatter of `rows`; `prior_sd` is the usual spread of each column.
///
/// `excluded[i]` starts a row with no weight (a known mishit); it gets none in the end either.
/// Nor does a row that is a gross outlier in any column, by the usual spread at least: the t
/// alone gives way to a cluster of one row in `nu + p` (D. E. Tyler 1994, *Finite sample breakdown
/// points of projection based multivariate location and scatter statistics*, Ann. Stat. 22,
/// 1024-1044; from memory). Their distances tell, so that the caller can say so.
/// Returns `None` if no row counts or a value is not finite.
pub fn summary<const P: usize>(
    rows: &[SVector<f64, P>],
    excluded: &[bool],
    prior_sd: &SVector<f64, P>,
) -> Option<Summary<P>> {
    let scale = const {
        assert!(P >= 1 && P <= CONSISTENCY.len());
        CONSISTENCY[P - 1]
    };
    if rows.iter().any(|r| r.iter().any(|v| !v.is_finite())) {
        return None;
    }
    let known = |i: usize| excluded.get(i).copied().unwrap_or(false);
    let (gross, mut centre, usual) = gross_rows(rows, known, prior_sd)?;
    let counts = |i: usize| !known(i) && !gross[i];
    let used: Vec<SVector<f64, P>> = (rows.iter().enumerate())
        .filter_map(|(i, r)| counts(i).then_some(*r))
        .collect();
    let n = used.len();
    if n == 0 {
        return None;
    }
    let prior = SMatrix::<f64, P, P>::from_diagonal(&prior_sd.component_mul(prior_sd));
    let mut scatter = SMatrix::<f64, P, P>::from_diagonal(&usual.component_mul(&usual)) / scale;
    let mut inverse = scatter.cholesky()?.inverse();
    let mut converged = false;
    for _ in 0..1000 {
        // Sums of weights, of weighted distances from the centre, and of their squares.
        let (mut total, mut first) = (0.0, SVector::<f64, P>::zeros());
        let mut second = SMatrix::<f64, P, P>::zeros();
        for r in &used {
            let d = r - centre;
            let w = weight::<P>(scale * d.dot(&(inverse * d)));
            total += w;
            first += d * w;
            second += d * d.transpose() * w;
        }
        let step = first / total;
        let about = second - first * step.transpose();
        let spread = (prior * PRIOR_ROWS + about * scale) / (n as f64 + PRIOR_ROWS - 1.0);
        let moved = step.component_div(prior_sd).amax();
        let turned = (spread - scatter).abs().max() / prior.max();
        centre += step * RELAXED;
        let beyond = spread + (spread - scatter) * (RELAXED - 1.0);
        let (relaxed, factor) = match beyond.cholesky() {
            Some(factor) => (beyond, factor),
            None => (spread, spread.cholesky()?),
        };
        scatter = relaxed;
        inverse = factor.inverse();
        if moved < 1e-9 && turned < 1e-9 {
            converged = true;
            break;
        }
    }
    let distances: Vec<f64> = (rows.iter())
        .map(|r| (r - centre).dot(&(inverse * (r - centre))))
        .collect();
    let weights: Vec<f64> = (distances.iter().enumerate())
        .map(|(i, d)| {
            if counts(i) {
                weight::<P>(scale * d).min(1.0)
            } else {
                0.0
            }
        })
        .collect();
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

/// Rows beyond [`GROSS`] in any column, seen from the rows that are not `known` to be out; none if
/// that were most of them. With the medians of the columns and their robust spreads, at least a
/// tenth of the prior's. `None` if all rows are known to be out.
fn gross_rows<const P: usize>(
    rows: &[SVector<f64, P>],
    known: impl Fn(usize) -> bool,
    prior_sd: &SVector<f64, P>,
) -> Option<(Vec<bool>, SVector<f64, P>, SVector<f64, P>)> {
    let mut gross = vec![false; rows.len()];
    let (mut medians, mut spreads) = (SVector::zeros(), SVector::zeros());
    let mut column = Vec::with_capacity(rows.len());
    for c in 0..P {
        column.clear();
        column.extend((0..rows.len()).filter(|&i| !known(i)).map(|i| rows[i][c]));
        let (median, spread) = median_and_mad(&mut column)?;
        let limit = GROSS * spread.max(prior_sd[c]);
        for (i, out) in gross.iter_mut().enumerate() {
            *out |= !known(i) && (rows[i][c] - median).abs() > limit;
        }
        (medians[c], spreads[c]) = (median, spread.max(0.1 * prior_sd[c]));
    }
    if gross.iter().filter(|g| **g).count() * 2 > column.len() {
        gross.fill(false);
    }
    Some((gross, medians, spreads))
}

/// Median of a slice, whose order is changed; `None` if it is empty.
pub fn median_of(values: &mut [f64]) -> Option<f64> {
    if values.is_empty() {
        return None;
    }
    let (mid, odd) = (values.len() / 2, values.len() % 2 == 1);
    let (below, &mut upper, _) = values.select_nth_unstable_by(mid, f64::total_cmp);
    if odd {
        return Some(upper);
    }
    let lower = below.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    Some(0.5 * (lower + upper))
}

/// Standard deviation of a normal in median absolute deviations: `1 / Phi⁻¹(3/4)`.
const NORMAL_MAD: f64 = 1.482_602_218_505_602;

/// Scaled median absolute deviation, an estimate of the standard deviation.
/// Source: F. R. Hampel 1974, *The influence curve and its role in robust estimation*, J. Am.
/// Stat. Assoc. 69, 383-393.
pub fn mad(values: &[f64], centre: f64) -> Option<f64> {
    let mut deviations: Vec<f64> = values.iter().map(|v| (v - centre).abs()).collect();
    Some(NORMAL_MAD * median_of(&mut deviations)?)
}

/// Median, and [`mad`] about it, of a slice, which is sorted; `None` if it is empty.
pub fn median_and_mad(values: &mut [f64]) -> Option<(f64, f64)> {
    sort(values);
    let (mid, odd) = (values.len() / 2, values.len() % 2 == 1);
    let upper = *values.get(mid)?;
    let centre = if odd {
        upper
    } else {
        0.5 * (values[mid - 1] + upper)
    };
    // Deviations in their order: from the middle outward.
    let (mut low, mut high, mut last) = (mid, mid, (0.0, 0.0));
    for _ in 0..=mid {
        let below = low
            .checked_sub(1)
            .map_or(f64::INFINITY, |i| centre - values[i]);
        let above = values.get(high).map_or(f64::INFINITY, |v| v - centre);
        if below < above {
            low -= 1;
            last = (last.1, below);
        } else {
            high += 1;
            last = (last.1, above);
        }
    }
    let middle = if odd { last.1 } else { 0.5 * (last.0 + last.1) };
    Some((centre, NORMAL_MAD * middle))
}

/// Sorts as [`f64::total_cmp`] orders, by whole numbers of the same order: that takes half the time.
fn sort(values: &mut [f64]) {
    // The bits of a negative number count downward, but for its sign; twice gives them back.
    let turned = |bits: u64| bits ^ (((bits as i64) >> 63) as u64 >> 1);
    let mut order: Vec<i64> = (values.iter())
        .map(|v| turned(v.to_bits()) as i64)
        .collect();
    order.sort_unstable();
    for (value, place) in values.iter_mut().zip(order) {
        *value = f64::from_bits(turned(place as u64));
    }
}

/// How many robust standard deviations make a gross outlier.
pub const GROSS: f64 = 4.5;

/// Marks gross outliers: values more than [`GROSS`] robust standard deviations (at least `floor`)
/// from the median; with `low_only`, only those below it.
pub fn outliers(values: &[f64], floor: f64, low_only: bool) -> Vec<bool> {
    let Some((centre, spread)) = median_and_mad(&mut values.to_vec()) else {
        return Vec::new();
    };
    let limit = GROSS * spread.max(floor);
    values
        .iter()
        .map(|v| centre - v > limit || (!low_only && v - centre > limit))
        .collect()
}
