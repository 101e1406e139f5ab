//! One response's regression: rows, noise, prior, posterior, and the least-squares path.

use super::columns::{columns, entry, inherit, prior_scale, siblings, visits};
use super::components::{COMPONENT_WEIGHT, SESSION_SD, VISIT_SD};
use super::fit::{FitError, FitOptions};
use super::model::{Components, GROUP_FACTOR, ResponseModel, Term};
use super::{RESPONSES, SessionSummary};
use linfa::Dataset;
use linfa::traits::Fit;
use linfa_linear::LinearRegression;
use nalgebra::{DMatrix, DVector};
use ndarray::{Array1, Array2};
use std::ops::Range;

/// One response's regression.
pub(super) struct Problem {
    pub(super) r: usize,
    pub(super) terms: Vec<Term>,
    /// Design, a row for each session: column and value of what is not zero, some two dozen of
    /// what may be many hundreds.
    pub(super) x: Vec<Vec<(usize, f64)>>,
    pub(super) y: DVector<f64>,
    /// Effective number of shots of each session.
    pub(super) n: DVector<f64>,
    /// Rows of each visit.
    pub(super) visits: Vec<Range<usize>>,
    /// Other sessions of the same player and head.
    pub(super) siblings: Vec<usize>,
    /// Scale of each column's prior before the group factor.
    pub(super) scale: DVector<f64>,
    /// Prior mean and, for the columns that last season's model covers, its widened precision.
    pub(super) prior_mean: DVector<f64>,
    pub(super) inherited: Option<(Vec<usize>, DMatrix<f64>)>,
    pub(super) shot_var: f64,
    pub(super) start: Components,
}

impl Problem {
    pub(super) fn new(
        r: usize,
        rows: &[&SessionSummary],
        last: Option<&ResponseModel>,
        options: &FitOptions,
    ) -> Problem {
        let terms = columns(rows, last);
        let filled = |s: &SessionSummary| {
            let all = terms.iter().enumerate().map(|(c, t)| (c, entry(t, s)));
            all.filter(|(_, v)| *v != 0.0).collect()
        };
        let x = rows.iter().map(|s| filled(s)).collect();
        let scale = DVector::from_fn(terms.len(), |c, _| prior_scale(r, &terms[c]));
        let (mut freedom, mut squares) = (COMPONENT_WEIGHT, 0.0);
        let usual = VISIT_SD[r] * 4.0;
        squares += freedom * usual * usual;
        for s in rows {
            let dof = (s.count[r] - 1.0).max(0.0);
            freedom += dof;
            squares += dof * s.variance[r];
        }
        let fixed = options.fixed.map(|all| all[r]);
        let start = fixed.or(last.map(|l| l.components)).unwrap_or(Components {
            shot_sd: 0.0,
            visit_sd: VISIT_SD[r],
            session_sd: SESSION_SD[r],
            player_factor: GROUP_FACTOR,
            head_factor: GROUP_FACTOR,
        });
        let (prior_mean, inherited) = inherit(&terms, last, options.widening);
        Problem {
            r,
            visits: visits(rows),
            siblings: siblings(rows),
            y: DVector::from_fn(rows.len(), |j, _| rows[j].mean[r]),
            n: DVector::from_fn(rows.len(), |j, _| rows[j].count[r]),
            terms,
            x,
            scale,
            prior_mean,
            inherited,
            shot_var: fixed.map_or(squares / freedom, |c| c.shot_sd.powi(2)),
            start,
        }
    }

    /// Covariance of the session means of a visit, given the coefficients: a visit effect shared
    /// by all, a session effect and shot noise each.
    pub(super) fn noise(&self, c: &Components, visit: &Range<usize>) -> DMatrix<f64> {
        let shared = c.visit_sd.powi(2);
        DMatrix::from_fn(visit.len(), visit.len(), |a, b| {
            let own = c.session_sd.powi(2) + self.shot_var / self.n[visit.start + a];
            shared + if a == b { own } else { 0.0 }
        })
    }

    /// Inverse of the noise of a visit.
    pub(super) fn precision(
        &self,
        c: &Components,
        visit: &Range<usize>,
    ) -> Result<DMatrix<f64>, FitError> {
        let chol = self
            .noise(c, visit)
            .cholesky()
            .ok_or_else(|| self.singular())?;
        Ok(chol.inverse())
    }

    /// What the sessions show beyond given coefficients.
    pub(super) fn residual(&self, mean: &DVector<f64>) -> DVector<f64> {
        DVector::from_fn(self.y.len(), |j, _| {
            self.y[j] - self.x[j].iter().map(|(i, v)| v * mean[*i]).sum::<f64>()
        })
    }

    /// Covariance of the sessions of a visit that a covariance of the coefficients makes.
    pub(super) fn spread(&self, cov: &DMatrix<f64>, visit: &Range<usize>) -> DMatrix<f64> {
        DMatrix::from_fn(visit.len(), visit.len(), |a, b| {
            let mut sum = 0.0;
            for &(i, u) in &self.x[visit.start + a] {
                for &(j, w) in &self.x[visit.start + b] {
                    sum += u * w * cov[(i, j)];
                }
            }
            sum
        })
    }

    pub(super) fn singular(&self) -> FitError {
        FitError::Singular(RESPONSES[self.r].into())
    }

    pub(super) fn prior_sd(&self, c: &Components) -> DVector<f64> {
        DVector::from_fn(self.terms.len(), |i, _| {
            self.scale[i]
                * match self.terms[i] {
                    Term::Player { .. } => c.player_factor,
                    Term::Head { .. } => c.head_factor,
                    _ => 1.0,
                }
        })
    }

    /// Prior precision of the columns.
    pub(super) fn prior_precision(&self, c: &Components) -> DMatrix<f64> {
        let mut p = DMatrix::from_diagonal(&self.prior_sd(c).map(|s| 1.0 / (s * s)));
        if let Some((columns, precision)) = &self.inherited {
            for (a, &i) in columns.iter().enumerate() {
                for (b, &j) in columns.iter().enumerate() {
                    p[(i, j)] = precision[(a, b)];
                }
            }
        }
        p
    }

    /// Posterior mean and covariance for given components.
    pub(super) fn posterior(
        &self,
        c: &Components,
    ) -> Result<(DVector<f64>, DMatrix<f64>), FitError> {
        let mut information = self.prior_precision(c);
        let mut right = &information * &self.prior_mean;
        for v in &self.visits {
            let precision = self.precision(c, v)?;
            for (a, b) in (0..v.len()).flat_map(|a| (0..v.len()).map(move |b| (a, b))) {
                let weight = precision[(a, b)];
                for &(i, u) in &self.x[v.start + a] {
                    right[i] += weight * u * self.y[v.start + b];
                    for &(j, w) in &self.x[v.start + b] {
                        information[(i, j)] += weight * u * w;
                    }
                }
            }
        }
        let chol = information.cholesky().ok_or_else(|| self.singular())?;
        Ok((chol.solve(&right), inverse(&chol.l())))
    }

    pub(super) fn is_inherited(&self, column: usize) -> bool {
        self.inherited
            .as_ref()
            .is_some_and(|(c, _)| c.contains(&column))
    }

    /// The posterior mean as ordinary least squares on augmented rows, by `linfa-linear`: a
    /// whitened row for each session, and the rows of a square root of the prior precision.
    pub(super) fn least_squares(&self, c: &Components) -> Result<DVector<f64>, FitError> {
        let (m, k) = (self.x.len(), self.terms.len());
        if k == 0 {
            return Ok(DVector::zeros(0));
        }
        let mut rows = Array2::zeros((m + k, k));
        let mut right = Array1::zeros(m + k);
        for v in &self.visits {
            let root = self
                .noise(c, v)
                .cholesky()
                .ok_or_else(|| self.singular())?
                .unpack();
            let whiten = |m: DMatrix<f64>| root.solve_lower_triangular(&m);
            let mut dense = DMatrix::zeros(v.len(), k);
            for a in 0..v.len() {
                for &(i, u) in &self.x[v.start + a] {
                    dense[(a, i)] = u;
                }
            }
            let x = whiten(dense);
            let y = whiten(DMatrix::from_fn(v.len(), 1, |a, _| self.y[v.start + a]));
            let (x, y) = x.zip(y).ok_or_else(|| self.singular())?;
            for a in 0..v.len() {
                right[v.start + a] = y[(a, 0)];
                for i in 0..k {
                    rows[(v.start + a, i)] = x[(a, i)];
                }
            }
        }
        let root = self
            .prior_precision(c)
            .cholesky()
            .ok_or_else(|| self.singular())?;
        let root = root.l().transpose();
        let target = &root * &self.prior_mean;
        for j in 0..k {
            right[m + j] = target[j];
            for i in 0..k {
                rows[(m + j, i)] = root[(j, i)];
            }
        }
        let fitted = LinearRegression::new()
            .with_intercept(false)
            .fit(&Dataset::new(rows, right))
            .map_err(|_| self.singular())?;
        Ok(DVector::from_iterator(k, fitted.params().iter().copied()))
    }

    /// The same regression without lever effects: bare physics.
    pub(super) fn intercepts_only(&self) -> Problem {
        let keep: Vec<usize> = (0..self.terms.len())
            .filter(|&i| !self.terms[i].is_slope())
            .collect();
        let kept = |row: &[(usize, f64)]| {
            let place = |&(i, v): &(usize, f64)| Some((keep.binary_search(&i).ok()?, v));
            row.iter().filter_map(place).collect()
        };
        Problem {
            r: self.r,
            terms: keep.iter().map(|&i| self.terms[i].clone()).collect(),
            x: self.x.iter().map(|row| kept(row)).collect(),
            y: self.y.clone(),
            n: self.n.clone(),
            visits: self.visits.clone(),
            siblings: self.siblings.clone(),
            scale: self.scale.select_rows(&keep),
            prior_mean: DVector::zeros(keep.len()),
            inherited: None,
            shot_var: self.shot_var,
            start: self.start,
        }
    }
}

/// Inverse of `L Lᵀ` by way of that of `L`, whose columns start with zeros: a third of the work,
/// the rest a product.
fn inverse(l: &DMatrix<f64>) -> DMatrix<f64> {
    let k = l.nrows();
    let mut out = DMatrix::<f64>::identity(k, k);
    for c in 0..k {
        let rest = l.view((c, c), (k - c, k - c));
        rest.solve_lower_triangular_mut(&mut out.view_mut((c, c), (k - c, 1)));
    }
    out.transpose() * out
}
