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
    /// `d gamma / d (beta + b + c)`.
    shrink: M7,
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

/// Whether effects have no variance and so are not in the model.
fn absent(k: &V7) -> bool {
    *k == V7::zeros()
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

impl Own {
    /// With the information on `beta + b + c`, and the log determinant of what is eliminated.
    fn new(line: &Line, earlier: &Option<Earlier>, pa: f64, k: &V7) -> Option<(Own, M7, f64)> {
        let p = line.weight + pa;
        let slope = line.cross / p;
        let mut m = line.square - slope * line.cross.transpose();
        if let Some((old, _)) = earlier {
            m += old;
        }
        let mut own = Own {
            p,
            slope,
            m,
            w: M7::identity(),
            shrink: M7::identity(),
        };
        let mut log_det = (p / pa).ln();
        if !absent(k) {
            let (w, det) = invert(&scaled(k, &m, k))?;
            own.w = w;
            own.shrink -= scaled(k, &w, k) * m;
            log_det += det;
        }
        let eff = m * own.shrink;
        Some((own, (eff + eff.transpose()) * 0.5, log_det))
    }
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
        // Of a player's pairs: information on `beta + b + c`.
        let mut effs: Vec<M7> = Vec::new();
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
            effs.clear();
            for q in pairs.clone() {
                let (of_pair, eff, det) = Own::new(&lines[q], &earlier[q], pa, &prior.pairs[q])?;
                own.push(of_pair);
                effs.push(eff);
                log_det += det;
            }
            let total: M7 = effs.iter().sum();
            let (inv, det) = invert(&scaled(k, &total, k))?;
            log_det += det;
            add(&mut s, 0, 0, &scaled(kb, &total, kb));
            for (pair, eff) in rows.pairs[pairs.clone()].iter().zip(&effs) {
                let (kh, row) = (&prior.heads[pair.head], 7 * (1 + pair.head));
                add(&mut s, row, 0, &scaled(kh, eff, kb));
                add(&mut s, row, row, &scaled(kh, eff, kh));
            }
            let heads = rows.pairs[pairs.clone()].iter().map(|p| 7 * (1 + p.head));
            let places: Vec<usize> = std::iter::once(0).chain(heads).collect();
            let mut y = DMatrix::<f64>::zeros(7, width);
            if !absent(k) {
                let mut n = DMatrix::<f64>::zeros(width, 7);
                let others = std::iter::once((kb, &total));
                let heads = rows.pairs[pairs.clone()]
                    .iter()
                    .map(|p| &prior.heads[p.head]);
                for (b, (other, m)) in others.chain(heads.zip(&effs)).enumerate() {
                    let part = scaled(k, m, other);
                    n.fixed_view_mut::<7, 7>(7 * b, 0)
                        .copy_from(&part.transpose());
                    y.fixed_view_mut::<7, 7>(0, 7 * b).copy_from(&(inv * part));
                }
                let taken = n * &y;
                for (a, &row) in places.iter().enumerate() {
                    for (b, &column) in places.iter().enumerate().filter(|(_, c)| **c <= row) {
                        let part = taken.fixed_view::<7, 7>(7 * a, 7 * b);
                        let mut there = s.fixed_view_mut::<7, 7>(row, column);
                        there -= part;
                    }
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
