//! What the sessions of a player with a head say of their line: intercept and lever effects.
//!
//! The noise of the session means of a visit is `tau_v² 11ᵀ + D`, a visit effect shared by all and
//! `d_j = (tau² + sigma²/n_j) / w_j` each. Its inverse is `Q - f q qᵀ` with `Q = diag(q)`,
//! `q_j = 1/d_j` and `f = tau_v² / (1 + tau_v² Σq)` (M. S. Bartlett 1951, *An inverse matrix
//! adjustment arising in discriminant analysis*, Ann. Math. Stat. 22, 107-111), so that a visit
//! costs as much as its sessions, and the sums of a pair are one 8 by 8 matrix.

use super::model::Components;
use super::rows::Rows;
use super::{M7, V7};

/// Noise of the session means: what each session weighs, and what a visit's sessions share.
#[derive(Debug, Clone)]
pub(super) struct Noise {
    /// `1/d_j`.
    pub q: Vec<f64>,
    /// `f` of each visit.
    pub f: Vec<f64>,
    /// `Σ q` of each visit.
    pub sum: Vec<f64>,
    /// Logarithm of the determinant.
    pub log_det: f64,
}

impl Noise {
    pub fn new(rows: &Rows, c: &Components, weights: &[f64]) -> Noise {
        let (session, shot, visit) = (
            c.session_sd * c.session_sd,
            c.shot_sd * c.shot_sd,
            c.visit_sd * c.visit_sd,
        );
        let q: Vec<f64> = (rows.n.iter().zip(weights))
            .map(|(n, w)| w / (session + shot / n))
            .collect();
        let mut log_det = -log_of_product(q.iter().copied());
        let sum: Vec<f64> = (rows.visits.iter().cloned())
            .map(|v| q[v].iter().sum())
            .collect();
        log_det += log_of_product(sum.iter().map(|s| 1.0 + visit * s));
        let f = sum.iter().map(|s| visit / (1.0 + visit * s)).collect();
        Noise { q, f, sum, log_det }
    }

    /// The inverse noise times a value for each row.
    pub fn weigh(&self, rows: &Rows, values: &[f64]) -> Vec<f64> {
        let mut out = vec![0.0; values.len()];
        for (v, visit) in rows.visits.iter().enumerate() {
            let shared: f64 = visit.clone().map(|j| self.q[j] * values[j]).sum();
            for j in visit.clone() {
                out[j] = self.q[j] * (values[j] - self.f[v] * shared);
            }
        }
        out
    }
}

/// The logarithm of a product, of many factors at a time.
fn log_of_product(factors: impl Iterator<Item = f64>) -> f64 {
    let (mut log, mut product) = (0.0, 1.0_f64);
    for factor in factors {
        product *= factor;
        if !(1e-100..1e100).contains(&product) {
            log += product.ln();
            product = 1.0;
        }
    }
    log + product.ln()
}

/// Sums of a pair: the information on its intercept and on its effects.
#[derive(Debug, Clone, Copy)]
pub(super) struct Line {
    /// Of the intercept.
    pub weight: f64,
    /// Of the intercept with the effects.
    pub cross: V7,
    /// Of the effects.
    pub square: M7,
}

/// Information times observations: for the intercept, for the effects.
pub(super) type Right = (f64, V7);

/// The sums of each pair.
pub(super) fn lines(rows: &Rows, noise: &Noise) -> Vec<Line> {
    let of = |pair: &super::rows::Pair| {
        let mut line = Line {
            weight: 0.0,
            cross: V7::zeros(),
            square: M7::zeros(),
        };
        for v in pair.visits.clone() {
            let sessions = rows.visits[v].clone();
            let share = 1.0 - noise.f[v] * noise.sum[v];
            line.weight += noise.sum[v] * share;
            if let [x] = &rows.x[sessions.clone()] {
                let scaled = x * (noise.sum[v] * share);
                line.cross += scaled;
                add_product(&mut line.square, &scaled, x, 1.0);
                continue;
            }
            let mut s = V7::zeros();
            for j in sessions {
                let x = &rows.x[j];
                let scaled = x * noise.q[j];
                s += scaled;
                add_product(&mut line.square, &scaled, x, 1.0);
            }
            line.cross += s * share;
            add_product(&mut line.square, &s, &s, -noise.f[v]);
        }
        line.square.fill_upper_triangle_with_lower_triangle();
        line
    };
    rows.pairs.iter().map(of).collect()
}

/// Adds `factor a bᵀ` to the lower triangle.
#[inline]
fn add_product(m: &mut M7, a: &V7, b: &V7, factor: f64) {
    for c in 0..7 {
        let by = factor * b[c];
        if by != 0.0 {
            for r in c..7 {
                m[(r, c)] += a[r] * by;
            }
        }
    }
}

/// Right sides of each pair from weighed values, `Xᵀ N⁻¹ values`.
pub(super) fn rights(rows: &Rows, weighed: &[f64]) -> Vec<Right> {
    rows.pairs
        .iter()
        .map(|p| {
            let mut out = (0.0, V7::zeros());
            for j in p.rows.clone() {
                out.0 += weighed[j];
                out.1 += rows.x[j] * weighed[j];
            }
            out
        })
        .collect()
}
