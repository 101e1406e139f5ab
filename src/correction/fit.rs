//! The fit: columns, augmented rows, EM for the variance components.

use super::model::{
    Coefficient, Components, DataSeen, FORMAT, GROUP_FACTOR, Model, ResponseModel, Season, Term,
};
use super::score::{HeldOut, Score};
use super::{RESPONSES, SessionSummary};
use crate::club::FEATURES;
use crate::priors;
use linfa::Dataset;
use linfa::traits::Fit;
use linfa_linear::LinearRegression;
use nalgebra::{DMatrix, DVector};
use ndarray::{Array1, Array2};
use rayon::prelude::*;
use sha2::{Digest, Sha256};
use std::collections::BTreeSet;
use std::ops::Range;

/// Options of a fit.
#[derive(Debug, Clone, PartialEq)]
pub struct FitOptions {
    /// By what factor the covariance of last season's posterior is widened before it serves as
    /// this season's prior: players and their swings change over a winter. Stated, not estimated.
    pub widening: f64,
    /// Most iterations of EM.
    pub max_iterations: usize,
    /// Variance components that are taken as known, in the order of `RESPONSES`; without them they
    /// are estimated.
    pub fixed: Option<[Components; 5]>,
}

impl Default for FitOptions {
    fn default() -> Self {
        FitOptions {
            widening: 1.5,
            max_iterations: 2000,
            fixed: None,
        }
    }
}

/// A fit that cannot be made.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum FitError {
    /// Nothing to fit.
    #[error("no session to learn from: log sessions first")]
    NoSessions,
    /// A session holds a number that is not finite.
    #[error("session {0}: a summary is not finite")]
    NotFinite(String),
    /// A matrix could not be factored.
    #[error("{0}: the normal equations are not positive definite")]
    Singular(String),
    /// An option is out of its range.
    #[error("{0}")]
    Option(String),
}

/// Prior standard deviation of an intercept by response: vague against any launch.
const INTERCEPT_SD: [f64; 5] = [20.0, 10.0, 40.0, 6000.0, 1.0];
/// Day-to-day standard deviation of a player with a head before any data: set-up, ball, swing of
/// the day (common practice, no source).
const VISIT_SD: [f64; 5] = [0.4, 0.5, 1.5, 120.0, 0.008];
/// What sessions of one day still differ by, before any data (common practice, no source).
const SESSION_SD: [f64; 5] = [0.2, 0.25, 0.7, 60.0, 0.004];
/// Weight of the prior guess of a variance component, in observations.
const COMPONENT_WEIGHT: f64 = 4.0;

/// Fits the correction to session summaries, with last season's model as prior if there is one.
///
/// The order of the sessions does not matter: they are put in order by name first, so that the
/// same data give the same bytes.
///
/// # Errors
/// If there are no sessions, a number is not finite, or an option is out of range.
pub fn fit(
    sessions: &[SessionSummary],
    prior: Option<&Model>,
    season: Season,
    version: u32,
    options: &FitOptions,
) -> Result<Model, FitError> {
    if sessions.is_empty() {
        return Err(FitError::NoSessions);
    }
    if !(options.widening.is_finite() && options.widening >= 1.0) || options.max_iterations == 0 {
        return Err(FitError::Option(
            "widening must be a finite number of at least 1, iterations at least 1".into(),
        ));
    }
    if !options.fixed.iter().flatten().all(Components::usable) {
        return Err(FitError::Option(
            "fixed components must be finite, factors and the shot-to-shot spread positive, the \
             others not negative"
                .into(),
        ));
    }
    let mut sessions: Vec<&SessionSummary> = sessions.iter().collect();
    sessions.sort_by(|a, b| {
        visit_of(a)
            .cmp(&visit_of(b))
            .then(a.session.cmp(&b.session))
    });
    for s in &sessions {
        let all = s
            .features
            .iter()
            .chain(&s.mean)
            .chain(&s.variance)
            .chain(&s.count);
        if all.into_iter().any(|v| !v.is_finite()) {
            return Err(FitError::NotFinite(s.session.clone()));
        }
    }
    let responses = (0..RESPONSES.len())
        .into_par_iter()
        .map(|r| {
            let rows: Vec<&SessionSummary> = sessions
                .iter()
                .copied()
                .filter(|s| s.count[r] > 0.0)
                .collect();
            let last = prior.and_then(|m| m.responses.get(r));
            Problem::new(r, &rows, last, options).solve(options)
        })
        .collect::<Result<Vec<_>, _>>()?;
    Ok(Model {
        format: FORMAT,
        version,
        season,
        data: data_seen(&sessions),
        responses,
    })
}

/// What makes a visit: one player with one head on one day.
fn visit_of(s: &SessionSummary) -> (&str, &str, &str) {
    (&s.date, &s.player, &s.head)
}

fn data_seen(sessions: &[&SessionSummary]) -> DataSeen {
    let mut hash = Sha256::new();
    for s in sessions {
        hash.update(serde_json::to_vec(s).expect("finite numbers and strings"));
    }
    DataSeen {
        sessions: sessions.len(),
        shots: sessions.iter().map(|s| s.shots).sum(),
        first_date: sessions
            .first()
            .map_or_else(String::new, |s| s.date.clone()),
        last_date: sessions.last().map_or_else(String::new, |s| s.date.clone()),
        digest: hash.finalize().iter().map(|b| format!("{b:02x}")).collect(),
    }
}

/// One response's regression.
struct Problem {
    r: usize,
    terms: Vec<Term>,
    /// Design, a row for each session.
    x: DMatrix<f64>,
    y: DVector<f64>,
    /// Effective number of shots of each session.
    n: DVector<f64>,
    /// Rows of each visit.
    visits: Vec<Range<usize>>,
    /// Other sessions of the same player and head.
    siblings: Vec<usize>,
    /// Scale of each column's prior before the group factor.
    scale: DVector<f64>,
    /// Prior mean and, for the columns that last season's model covers, its widened precision.
    prior_mean: DVector<f64>,
    inherited: Option<(Vec<usize>, DMatrix<f64>)>,
    shot_var: f64,
    start: Components,
}

impl Problem {
    fn new(
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
    fn noise(&self, c: &Components, visit: &Range<usize>) -> DMatrix<f64> {
        let shared = c.visit_sd.powi(2);
        DMatrix::from_fn(visit.len(), visit.len(), |a, b| {
            let own = c.session_sd.powi(2) + self.shot_var / self.n[visit.start + a];
            shared + if a == b { own } else { 0.0 }
        })
    }

    /// `noise⁻¹ m` for a matrix with a row for each session, visit by visit.
    fn weighed(&self, c: &Components, m: &DMatrix<f64>) -> Result<DMatrix<f64>, FitError> {
        let mut out = m.clone();
        for v in &self.visits {
            let chol = self.noise(c, v).cholesky().ok_or_else(|| self.singular())?;
            let solved = chol.solve(&m.rows(v.start, v.len()).into_owned());
            out.rows_mut(v.start, v.len()).copy_from(&solved);
        }
        Ok(out)
    }

    fn singular(&self) -> FitError {
        FitError::Singular(RESPONSES[self.r].into())
    }

    fn prior_sd(&self, c: &Components) -> DVector<f64> {
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
    fn prior_precision(&self, c: &Components) -> DMatrix<f64> {
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
    fn posterior(&self, c: &Components) -> Result<(DVector<f64>, DMatrix<f64>), FitError> {
        let wx = self.weighed(c, &self.x)?;
        let prior = self.prior_precision(c);
        let information = self.x.transpose() * &wx + &prior;
        let right = wx.transpose() * &self.y + &prior * &self.prior_mean;
        let chol = information.cholesky().ok_or_else(|| self.singular())?;
        Ok((chol.solve(&right), chol.inverse()))
    }

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
        let residual = &self.y - &self.x * mean;
        for v in &self.visits {
            let chol = self.noise(c, v).cholesky().ok_or_else(|| self.singular())?;
            let inverse = chol.inverse();
            let wr = &inverse * residual.rows(v.start, v.len());
            let wx = &inverse * self.x.rows(v.start, v.len());
            // Uncertainty of the coefficients, as it enters the weighed residuals.
            let spread = &wx * cov * wx.transpose();
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

    fn is_inherited(&self, column: usize) -> bool {
        self.inherited
            .as_ref()
            .is_some_and(|(c, _)| c.contains(&column))
    }

    fn solve(&self, options: &FitOptions) -> Result<ResponseModel, FitError> {
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
            converged = moved.iter().all(|m| (m - 1.0).abs() < 1e-5);
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

    /// The posterior mean as ordinary least squares on augmented rows, by `linfa-linear`: a
    /// whitened row for each session, and the rows of a square root of the prior precision.
    fn least_squares(&self, c: &Components) -> Result<DVector<f64>, FitError> {
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

    /// Errors of sessions that the fit has not seen, though it has seen all others, those of the
    /// same visit included; see [`Score`].
    fn held_out(
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
        let residual = &self.y - &self.x * mean;
        let as_matrix = DMatrix::from_column_slice(residual.len(), 1, residual.as_slice());
        let wr = self.weighed(c, &as_matrix)?;
        let wx = self.weighed(c, &self.x)?;
        let wxv = &wx * cov;
        let mut out = Vec::with_capacity(self.y.len());
        for v in &self.visits {
            let inverse = self
                .noise(c, v)
                .cholesky()
                .ok_or_else(|| self.singular())?
                .inverse();
            for (a, j) in v.clone().enumerate() {
                let own = inverse[(a, a)] - wxv.row(j).dot(&wx.row(j));
                out.push((wr[(j, 0)] / own, own.max(f64::MIN_POSITIVE).sqrt().recip()));
            }
        }
        Ok(out)
    }

    /// The same regression without lever effects: bare physics.
    fn intercepts_only(&self) -> Problem {
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

/// Columns that the data speak of, and those of last season's model, in a fixed order.
fn columns(rows: &[&SessionSummary], last: Option<&ResponseModel>) -> Vec<Term> {
    let mut terms = BTreeSet::new();
    for s in rows {
        terms.insert(Term::Intercept {
            player: s.player.clone(),
            head: s.head.clone(),
        });
        for (f, feature) in FEATURES.iter().enumerate() {
            if s.features[f].abs() > 1e-9 {
                let feature = (*feature).to_string();
                terms.insert(Term::Shared {
                    feature: feature.clone(),
                });
                terms.insert(Term::Player {
                    player: s.player.clone(),
                    feature: feature.clone(),
                });
                terms.insert(Term::Head {
                    head: s.head.clone(),
                    feature,
                });
            }
        }
    }
    if let Some(l) = last {
        terms.extend(
            l.coefficients
                .iter()
                .map(|c| c.term.clone())
                .filter(Term::is_slope),
        );
    }
    terms.into_iter().collect()
}

/// Entry of the design matrix.
fn entry(term: &Term, s: &SessionSummary) -> f64 {
    let value = |feature: &str| {
        FEATURES
            .iter()
            .position(|f| *f == feature)
            .map_or(0.0, |f| s.features[f])
    };
    match term {
        Term::Shared { feature } => value(feature),
        Term::Player { player, feature } if *player == s.player => value(feature),
        Term::Head { head, feature } if *head == s.head => value(feature),
        Term::Intercept { player, head } if *player == s.player && *head == s.head => 1.0,
        _ => 0.0,
    }
}

fn prior_scale(r: usize, term: &Term) -> f64 {
    match term {
        Term::Intercept { .. } => INTERCEPT_SD[r],
        Term::Shared { feature } | Term::Player { feature, .. } | Term::Head { feature, .. } => {
            FEATURES
                .iter()
                .position(|f| f == feature)
                .map_or(1.0, |f| priors::response()[r][f])
        }
    }
}

/// Rows of each visit; the rows are in order of visits.
fn visits(rows: &[&SessionSummary]) -> Vec<Range<usize>> {
    let mut out = Vec::new();
    let mut start = 0;
    for group in rows.chunk_by(|a, b| visit_of(a) == visit_of(b)) {
        out.push(start..start + group.len());
        start += group.len();
    }
    out
}

/// How many other sessions each session has of the same player and head.
fn siblings(rows: &[&SessionSummary]) -> Vec<usize> {
    let mut counts = std::collections::HashMap::new();
    for s in rows {
        *counts.entry((&s.player, &s.head)).or_insert(0_usize) += 1;
    }
    rows.iter()
        .map(|s| counts[&(&s.player, &s.head)] - 1)
        .collect()
}

type Inherited = Option<(Vec<usize>, DMatrix<f64>)>;

/// Prior mean of the columns and the widened precision of those slopes that last season's model
/// holds. Intercepts start afresh: clubs, balls and swings change over a winter.
fn inherit(
    terms: &[Term],
    last: Option<&ResponseModel>,
    widening: f64,
) -> (DVector<f64>, Inherited) {
    let mut mean = DVector::zeros(terms.len());
    let Some(last) = last else {
        return (mean, None);
    };
    let pairs: Vec<(usize, usize)> = terms
        .iter()
        .enumerate()
        .filter(|(_, t)| t.is_slope())
        .filter_map(|(i, t)| Some((i, last.coefficients.iter().position(|c| c.term == *t)?)))
        .collect();
    for &(i, k) in &pairs {
        mean[i] = last.coefficients[k].mean;
    }
    let covariance = DMatrix::from_fn(pairs.len(), pairs.len(), |a, b| {
        widening * last.covariance_of(pairs[a].1, pairs[b].1)
    });
    match covariance.cholesky() {
        Some(chol) if !pairs.is_empty() => (
            mean,
            Some((pairs.into_iter().map(|(i, _)| i).collect(), chol.inverse())),
        ),
        _ => (DVector::zeros(terms.len()), None),
    }
}
