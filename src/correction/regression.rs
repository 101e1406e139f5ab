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
    /// Design, a row for each session.
    pub(super) x: DMatrix<f64>,
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
        let x = DMatrix::from_fn(rows.len(), terms.len(), |j, c| entry(&terms[c], rows[j]));
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

    /// `noise⁻¹ m` for a matrix with a row for each session, visit by visit.
    pub(super) fn weighed(
        &self,
        c: &Components,
        m: &DMatrix<f64>,
    ) -> Result<DMatrix<f64>, FitError> {
        let mut out = m.clone();
        for v in &self.visits {
            let chol = self.noise(c, v).cholesky().ok_or_else(|| self.singular())?;
            let solved = chol.solve(&m.rows(v.start, v.len()).into_owned());
            out.rows_mut(v.start, v.len()).copy_from(&solved);
        }
        Ok(out)
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
        let wx = self.weighed(c, &self.x)?;
        let prior = self.prior_precision(c);
        let information = self.x.transpose() * &wx + &prior;
        let right = wx.transpose() * &self.y + &prior * &self.prior_mean;
        let chol = information.cholesky().ok_or_else(|| self.singular())?;
        Ok((chol.solve(&right), chol.inverse()))
    }

    pub(super) fn is_inherited(&self, column: usize) -> bool {
        self.inherited
            .as_ref()
            .is_some_and(|(c, _)| c.contains(&column))
    }

    /// The posterior mean as ordinary least squares on augmented rows, by `linfa-linear`: a
    /// whitened row for each session, and the rows of a square root of the prior precision.
    pub(super) fn least_squares(&self, c: &Components) -> Result<DVector<f64>, FitError> {
        let (m, k) = self.x.shape();
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
            let x = whiten(self.x.rows(v.start, v.len()).into_owned());
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
        Problem {
            r: self.r,
            terms: keep.iter().map(|&i| self.terms[i].clone()).collect(),
            x: self.x.select_columns(&keep),
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
