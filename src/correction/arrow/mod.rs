//! The normal equations of all effects, solved block by block.
//!
//! Each session speaks of one line, that of its player with its head: intercept `a` and effects
//! `gamma = beta + b_p + c_h + d_ph`. The precision of all unknowns is therefore a nested arrow.
//! Eliminated are, each by its Schur complement, the intercept and `d` of a pair (8 by 8), then the
//! `b` of a player (7 by 7); what is left are shared effects and those of the heads, a dense system
//! of 7 and 7 for each head. The work grows with the number of pairs, not with its cube.
//!
//! Effects are counted in units of their prior standard deviation, so that every block is the
//! identity plus something positive semidefinite: its eigenvalues are at least 1, nothing is
//! inverted that could be singular, and an effect without variance is simply absent.
//!
//! Source: S. R. Searle, G. Casella, C. E. McCulloch 1992, *Variance Components*, ch. 7.6 (mixed
//! model equations and their absorption; from memory).

mod covariance;
mod dense;
mod solve;

pub(super) use covariance::Spread;
pub(super) use solve::{Rights, Solution};

use super::lines::{Line, Right};
use super::rows::Rows;
use super::{M7, V7};
use crate::club::FEATURES;
use nalgebra::DMatrix;
use std::ops::Range;

const K: usize = FEATURES.len();

/// Prior standard deviations.
#[derive(Debug, Clone)]
pub(super) struct PriorSd {
    pub intercept: f64,
    pub shared: V7,
    pub players: Vec<V7>,
    pub heads: Vec<V7>,
    pub pairs: Vec<V7>,
}

/// What earlier seasons say of a pair's effects: information, and information times mean.
pub(super) type Earlier = (M7, V7);

/// A pair, with its intercept and its own effects eliminated.
#[derive(Debug, Clone)]
struct Own {
    /// Precision of the intercept.
    p: f64,
    /// What the intercept gives way by, for each effect.
    slope: V7,
    /// Information on the effects.
    m: M7,
    /// Covariance of the pair's own effects in prior units, the others known.
    w: M7,
    /// Covariance of the pair's own effects, the others known.
    inner: M7,
    /// `d gamma / d (beta + b + c)`.
    shrink: M7,
    /// Information on `beta + b + c`.
    eff: M7,
}

/// A player, eliminated.
#[derive(Debug, Clone)]
struct Block {
    pairs: Range<usize>,
    /// Where shared effects and those of the player's heads stand in what is left.
    places: Vec<usize>,
    inv: M7,
    /// How the player's effects give way to shared ones and those of the player's heads.
    y: DMatrix<f64>,
}

/// The factored system.
#[derive(Debug, Clone)]
pub(super) struct Arrow {
    pub prior: PriorSd,
    /// Player and head of each pair.
    of: Vec<(usize, usize)>,
    own: Vec<Own>,
    blocks: Vec<Block>,
    /// What is left, shared effects and heads: precision, lower triangle, and covariance.
    reduced: DMatrix<f64>,
    covariance: DMatrix<f64>,
    /// Logarithm of the determinant of posterior over prior precision.
    pub log_det: f64,
}

/// `diag(a) m diag(b)`.
fn scaled(a: &V7, m: &M7, b: &V7) -> M7 {
    M7::from_fn(|i, j| a[i] * m[(i, j)] * b[j])
}

/// The inverse of the identity plus a positive semidefinite matrix, and its log determinant: sweeps,
/// column by column.
fn invert(m: &M7) -> Option<(M7, f64)> {
    let mut a = M7::identity() + m;
    let mut det = 1.0;
    for k in 0..K {
        let pivot = std::mem::replace(&mut a[(k, k)], 1.0);
        det *= pivot;
        let column = a.column(k) / pivot;
        for j in 0..K {
            let by = std::mem::take(&mut a[(k, j)]);
            if j != k {
                let mut there = a.column_mut(j);
                there -= column * by;
            }
        }
        a.set_column(k, &column);
    }
    (det > 0.0).then(|| (a, det.ln()))
}

impl Arrow {
    /// Factors; `None` if a number is not finite.
    pub fn new(
        rows: &Rows,
        lines: &[Line],
        earlier: &[Option<Earlier>],
        prior: PriorSd,
    ) -> Option<Arrow> {
        let pa = prior.intercept.powi(-2);
        let mut log_det = 0.0;
        let mut own = Vec::with_capacity(lines.len());
        for (q, line) in lines.iter().enumerate() {
            let p = line.weight + pa;
            let slope = line.cross / p;
            let mut m = line.square - slope * line.cross.transpose();
            if let Some((old, _)) = &earlier[q] {
                m += old;
            }
            let k = &prior.pairs[q];
            let (w, det) = invert(&scaled(k, &m, k))?;
            let inner = scaled(k, &w, k);
            let shrink = M7::identity() - inner * m;
            let mut eff = m * shrink;
            eff = (eff + eff.transpose()) * 0.5;
            log_det += (p / pa).ln() + det;
            own.push(Own {
                p,
                slope,
                m,
                w,
                inner,
                shrink,
                eff,
            });
        }
        let size = 7 * (1 + prior.heads.len());
        let mut s = DMatrix::<f64>::identity(size, size);
        let mut blocks = Vec::with_capacity(rows.players);
        let kb = &prior.shared;
        let mut at = 0;
        for (player, k) in prior.players.iter().enumerate() {
            let start = at;
            while at < rows.pairs.len() && rows.pairs[at].player == player {
                at += 1;
            }
            let (pairs, width) = (start..at, 7 * (1 + at - start));
            let total: M7 = own[pairs.clone()].iter().map(|o| o.eff).sum();
            let (inv, det) = invert(&scaled(k, &total, k))?;
            log_det += det;
            let mut n = DMatrix::<f64>::zeros(7, width);
            n.fixed_view_mut::<7, 7>(0, 0)
                .copy_from(&scaled(k, &total, kb));
            add(&mut s, 0, 0, &scaled(kb, &total, kb));
            for (i, q) in pairs.clone().enumerate() {
                let head = rows.pairs[q].head;
                let (kh, eff) = (&prior.heads[head], &own[q].eff);
                n.fixed_view_mut::<7, 7>(0, 7 * (1 + i))
                    .copy_from(&scaled(k, eff, kh));
                let row = 7 * (1 + head);
                add(&mut s, row, 0, &scaled(kh, eff, kb));
                add(&mut s, row, row, &scaled(kh, eff, kh));
            }
            let mut y = DMatrix::<f64>::zeros(7, width);
            for b in 0..=pairs.len() {
                let part: M7 = n.fixed_view::<7, 7>(0, 7 * b).into();
                y.fixed_view_mut::<7, 7>(0, 7 * b).copy_from(&(inv * part));
            }
            let taken = n.transpose() * &y;
            let heads = rows.pairs[pairs.clone()].iter().map(|p| 7 * (1 + p.head));
            let places: Vec<usize> = std::iter::once(0).chain(heads).collect();
            for (a, &row) in places.iter().enumerate() {
                for (b, &column) in places.iter().enumerate().filter(|(_, c)| **c <= row) {
                    let part = taken.fixed_view::<7, 7>(7 * a, 7 * b);
                    let mut there = s.fixed_view_mut::<7, 7>(row, column);
                    there -= part;
                }
            }
            blocks.push(Block {
                pairs,
                places,
                inv,
                y,
            });
        }
        s.fill_upper_triangle_with_lower_triangle();
        let (covariance, det) = dense::invert(s.clone())?;
        log_det += det;
        log_det.is_finite().then(|| Arrow {
            prior,
            of: rows.pairs.iter().map(|p| (p.player, p.head)).collect(),
            own,
            blocks,
            reduced: s,
            covariance,
            log_det,
        })
    }

    /// Information of each pair, the intercept eliminated, and information times estimate.
    pub fn information(&self, right: &[Right]) -> Vec<Earlier> {
        (self.own.iter().zip(right))
            .map(|(o, (a, x))| (o.m, x - o.slope * *a))
            .collect()
    }
}

fn add(s: &mut DMatrix<f64>, row: usize, column: usize, m: &M7) {
    let mut there = s.fixed_view_mut::<7, 7>(row, column);
    there += m;
}
