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

pub(super) use covariance::Spread;

use super::lines::{Line, Right};
use super::rows::{Pair, Rows};
use super::{M7, V7};
use linfa::Dataset;
use linfa::traits::Fit;
use linfa_linear::LinearRegression;
use nalgebra::{Cholesky, DMatrix, DVector, Dyn};
use ndarray::{Array1, Array2};
use std::ops::Range;

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
    factor: Cholesky<f64, Dyn>,
    /// Logarithm of the determinant of posterior over prior precision.
    pub log_det: f64,
}

/// Right sides with intercepts, pairs and players eliminated.
struct Reduced {
    /// Of each pair, without its intercept.
    free: Vec<V7>,
    g: DVector<f64>,
    /// Of each player.
    players: Vec<V7>,
}

/// A solution: intercept and effects of each pair, and the parts in prior units.
#[derive(Debug, Clone)]
pub(super) struct Solution {
    pub line: Vec<Right>,
    pub shared: V7,
    pub players: Vec<V7>,
    pub heads: Vec<V7>,
    pub pairs: Vec<V7>,
}

/// `diag(a) m diag(b)`.
fn scaled(a: &V7, m: &M7, b: &V7) -> M7 {
    M7::from_fn(|i, j| a[i] * m[(i, j)] * b[j])
}

/// The inverse of the identity plus a positive semidefinite matrix, and its log determinant.
fn invert(m: M7) -> Option<(M7, f64)> {
    let chol = (M7::identity() + m).cholesky()?;
    let log_det = 2.0 * (0..7).map(|i| chol.l_dirty()[(i, i)].ln()).sum::<f64>();
    Some((chol.inverse(), log_det))
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
            let (w, det) = invert(scaled(k, &m, k))?;
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
            let (inv, det) = invert(scaled(k, &total, k))?;
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
            let place = place(&rows.pairs[pairs.clone()]);
            for (a, &row) in place.iter().enumerate() {
                for (b, &column) in place.iter().enumerate().filter(|(_, c)| **c <= row) {
                    let part = taken.fixed_view::<7, 7>(7 * a, 7 * b);
                    let mut there = s.fixed_view_mut::<7, 7>(row, column);
                    there -= part;
                }
            }
            blocks.push(Block { pairs, inv, y });
        }
        let factor = Cholesky::new(s)?;
        log_det += 2.0
            * (0..size)
                .map(|i| factor.l_dirty()[(i, i)].ln())
                .sum::<f64>();
        log_det.is_finite().then(|| Arrow {
            prior,
            of: rows.pairs.iter().map(|p| (p.player, p.head)).collect(),
            own,
            blocks,
            factor,
            log_det,
        })
    }

    /// Where the parts of a block stand in the reduced system.
    fn places(&self, block: &Block) -> Vec<usize> {
        let heads = self.of[block.pairs.clone()].iter();
        std::iter::once(0)
            .chain(heads.map(|(_, h)| 7 * (1 + h)))
            .collect()
    }

    /// Solves for given right sides.
    pub fn solve(&self, right: &[Right]) -> Solution {
        let reduced = self.reduce(right);
        let u = self.factor.solve(&reduced.g);
        self.back(right, reduced, &u)
    }

    /// The same with the reduced system as ordinary least squares by `linfa-linear`: the square
    /// root of its matrix as rows. `None` if linfa has no answer.
    pub fn least_squares(&self, right: &[Right]) -> Option<Solution> {
        let reduced = self.reduce(right);
        let root = self.factor.l();
        let target = root.solve_lower_triangular(&reduced.g)?;
        let n = target.len();
        let rows = Array2::from_shape_fn((n, n), |(i, j)| root[(j, i)]);
        let target = Array1::from_iter(target.iter().copied());
        let fitted = LinearRegression::new()
            .with_intercept(false)
            .fit(&Dataset::new(rows, target))
            .ok()?;
        let u = DVector::from_iterator(n, fitted.params().iter().copied());
        Some(self.back(right, reduced, &u))
    }

    fn reduce(&self, right: &[Right]) -> Reduced {
        let free: Vec<V7> = (self.own.iter().zip(right))
            .map(|(o, (a, x))| x - o.slope * *a)
            .collect();
        let mut g = DVector::<f64>::zeros(7 * (1 + self.prior.heads.len()));
        let mut players = Vec::with_capacity(self.blocks.len());
        for (block, k) in self.blocks.iter().zip(&self.prior.players) {
            let mut total = V7::zeros();
            for q in block.pairs.clone() {
                let eff = self.own[q].shrink.tr_mul(&free[q]);
                let head = self.of[q].1;
                let mut there = g.fixed_rows_mut::<7>(7 * (1 + head));
                there += self.prior.heads[head].component_mul(&eff);
                total += eff;
            }
            let mut shared = g.fixed_rows_mut::<7>(0);
            shared += self.prior.shared.component_mul(&total);
            let mine = k.component_mul(&total);
            for (a, &row) in self.places(block).iter().enumerate() {
                let mut there = g.fixed_rows_mut::<7>(row);
                there -= block.y.fixed_view::<7, 7>(0, 7 * a).tr_mul(&mine);
            }
            players.push(block.inv * mine);
        }
        Reduced { free, g, players }
    }

    fn back(&self, right: &[Right], reduced: Reduced, u: &DVector<f64>) -> Solution {
        let Reduced {
            free, mut players, ..
        } = reduced;
        let shared: V7 = u.fixed_rows::<7>(0).into();
        let heads: Vec<V7> = (0..self.prior.heads.len())
            .map(|h| u.fixed_rows::<7>(7 * (1 + h)).into())
            .collect();
        let mut line = Vec::with_capacity(self.own.len());
        let mut pairs = Vec::with_capacity(self.own.len());
        for (player, block) in self.blocks.iter().enumerate() {
            let place = self.places(block);
            for (a, &at) in place.iter().enumerate() {
                players[player] -= block.y.fixed_view::<7, 7>(0, 7 * a) * u.fixed_rows::<7>(at);
            }
            for q in block.pairs.clone() {
                let (o, head) = (&self.own[q], self.of[q].1);
                let others = self.prior.shared.component_mul(&shared)
                    + self.prior.players[player].component_mul(&players[player])
                    + self.prior.heads[head].component_mul(&heads[head]);
                let left = free[q] - o.m * others;
                let k = &self.prior.pairs[q];
                let mine = o.w * k.component_mul(&left);
                let gamma = others + k.component_mul(&mine);
                pairs.push(mine);
                line.push((right[q].0 / o.p - o.slope.dot(&gamma), gamma));
            }
        }
        Solution {
            line,
            shared,
            players,
            heads,
            pairs,
        }
    }

    /// Information of each pair, the intercept eliminated, and information times estimate.
    pub fn information(&self, right: &[Right]) -> Vec<Earlier> {
        (self.own.iter().zip(right))
            .map(|(o, (a, x))| (o.m, x - o.slope * *a))
            .collect()
    }
}

fn place(pairs: &[Pair]) -> Vec<usize> {
    std::iter::once(0)
        .chain(pairs.iter().map(|p| 7 * (1 + p.head)))
        .collect()
}

fn add(s: &mut DMatrix<f64>, row: usize, column: usize, m: &M7) {
    let mut there = s.fixed_view_mut::<7, 7>(row, column);
    there += m;
}
