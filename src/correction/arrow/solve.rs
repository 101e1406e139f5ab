//! Right sides taken through the eliminations and back.

use super::super::V7;
use super::super::lines::Right;
use super::{Arrow, K};
use linfa::Dataset;
use linfa::traits::Fit;
use linfa_linear::LinearRegression;
use nalgebra::{Cholesky, Const, DMatrix, DVector, Dyn, Matrix1, OMatrix, SMatrix};
use ndarray::{Array1, Array2};

/// `W` right sides of a pair: for its intercept, for its effects.
pub(in crate::correction) type Rights<const W: usize> = (SMatrix<f64, 1, W>, SMatrix<f64, 7, W>);

/// Right sides with intercepts, pairs and players eliminated.
struct Reduced<const W: usize> {
    /// Of each pair, without its intercept.
    free: Vec<SMatrix<f64, 7, W>>,
    /// Of each player, without its pairs.
    players: Vec<SMatrix<f64, 7, W>>,
    g: OMatrix<f64, Dyn, Const<W>>,
}

/// A solution: intercept and effects of each pair, and the parts in prior units.
#[derive(Debug, Clone)]
pub(in crate::correction) struct Solution {
    pub line: Vec<Right>,
    pub shared: V7,
    pub players: Vec<V7>,
    pub heads: Vec<V7>,
    pub pairs: Vec<V7>,
}

impl Arrow {
    /// Solves for given right sides.
    pub fn solve(&self, right: &[Right]) -> Solution {
        let reduced = self.reduce(single(right));
        let u = &self.covariance * &reduced.g;
        self.back(right, &reduced, &u)
    }

    /// The same with the heads eliminated too, and the square root of what is left, that of the
    /// shared effects, as rows of ordinary least squares by `linfa-linear`. `None` if linfa has no
    /// answer.
    pub fn least_squares(&self, right: &[Right]) -> Option<Solution> {
        let reduced = self.reduce(single(right));
        let n = reduced.g.len();
        let (heads, turned) = (n - K, |i: usize| (i + K) % n);
        let s = DMatrix::from_fn(n, n, |i, j| self.reduced[(turned(i), turned(j))]);
        let root = Cholesky::new(s)?.unpack();
        let target = DVector::from_fn(n, |i, _| reduced.g[turned(i)]);
        let target = root.solve_lower_triangular(&target)?;
        let rows = Array2::from_shape_fn((K, K), |(i, j)| root[(heads + j, heads + i)]);
        let observed = Array1::from_shape_fn(K, |i| target[heads + i]);
        let fitted = LinearRegression::new()
            .with_intercept(false)
            .fit(&Dataset::new(rows, observed))
            .ok()?;
        let shared = V7::from_fn(|i, _| fitted.params()[i]);
        let given = root.view((heads, 0), (K, heads)).tr_mul(&shared);
        let (square, left) = (
            root.view((0, 0), (heads, heads)),
            target.rows(0, heads) - given,
        );
        let heads = square.tr_solve_lower_triangular(&left)?;
        let u = DVector::from_iterator(n, shared.iter().chain(&heads).copied());
        Some(self.back(right, &reduced, &u))
    }

    fn reduce<const W: usize>(&self, right: impl Iterator<Item = Rights<W>>) -> Reduced<W> {
        let free: Vec<SMatrix<f64, 7, W>> = (self.own.iter().zip(right))
            .map(|(o, (a, x))| x - o.slope * a)
            .collect();
        let mut g = OMatrix::<f64, Dyn, Const<W>>::zeros(7 * (1 + self.prior.heads.len()));
        let mut players = Vec::with_capacity(self.blocks.len());
        for (block, k) in self.blocks.iter().zip(&self.prior.players) {
            let mut total = SMatrix::<f64, 7, W>::zeros();
            for q in block.pairs.clone() {
                let eff = self.own[q].shrink.tr_mul(&free[q]);
                let head = self.of[q].1;
                let mut there = g.fixed_rows_mut::<7>(7 * (1 + head));
                there += by_rows(&self.prior.heads[head], &eff);
                total += eff;
            }
            let mut shared = g.fixed_rows_mut::<7>(0);
            shared += by_rows(&self.prior.shared, &total);
            let mine = by_rows(k, &total);
            for (a, &row) in block.places.iter().enumerate() {
                let mut there = g.fixed_rows_mut::<7>(row);
                there -= block.y.fixed_view::<7, 7>(0, 7 * a).tr_mul(&mine);
            }
            players.push(mine);
        }
        Reduced { free, players, g }
    }

    /// `rᵢᵀ C rⱼ` of right sides, `C` the posterior covariance: each elimination's part of it.
    pub fn forms<const W: usize>(&self, right: &[Rights<W>]) -> SMatrix<f64, W, W> {
        let reduced = self.reduce(right.iter().copied());
        let mut out = reduced.g.tr_mul(&(&self.covariance * &reduced.g));
        for (q, (o, (a, _))) in self.own.iter().zip(right).enumerate() {
            let free = by_rows(&self.prior.pairs[q], &reduced.free[q]);
            out += a.tr_mul(a) / o.p + free.tr_mul(&(o.w * free));
        }
        for (block, mine) in self.blocks.iter().zip(&reduced.players) {
            out += mine.tr_mul(&(block.inv * mine));
        }
        out
    }

    fn back(&self, right: &[Right], reduced: &Reduced<1>, u: &DVector<f64>) -> Solution {
        let shared: V7 = u.fixed_rows::<7>(0).into();
        let heads: Vec<V7> = (0..self.prior.heads.len())
            .map(|h| u.fixed_rows::<7>(7 * (1 + h)).into())
            .collect();
        let mut players = Vec::with_capacity(self.blocks.len());
        let mut line = Vec::with_capacity(self.own.len());
        let mut pairs = Vec::with_capacity(self.own.len());
        for (player, block) in self.blocks.iter().enumerate() {
            let mut own = block.inv * reduced.players[player];
            for (a, &at) in block.places.iter().enumerate() {
                own -= block.y.fixed_view::<7, 7>(0, 7 * a) * u.fixed_rows::<7>(at);
            }
            for q in block.pairs.clone() {
                let (o, head) = (&self.own[q], self.of[q].1);
                let others = self.prior.shared.component_mul(&shared)
                    + self.prior.players[player].component_mul(&own)
                    + self.prior.heads[head].component_mul(&heads[head]);
                let left = reduced.free[q] - o.m * others;
                let k = &self.prior.pairs[q];
                let mine = o.w * k.component_mul(&left);
                let gamma = others + k.component_mul(&mine);
                pairs.push(mine);
                line.push((right[q].0 / o.p - o.slope.dot(&gamma), gamma));
            }
            players.push(own);
        }
        Solution {
            line,
            shared,
            players,
            heads,
            pairs,
        }
    }
}

/// Right sides as the only ones of each pair.
fn single(right: &[Right]) -> impl Iterator<Item = Rights<1>> {
    right.iter().map(|(a, x)| (Matrix1::new(*a), *x))
}

/// `diag(a) m`.
fn by_rows<const W: usize>(a: &V7, m: &SMatrix<f64, 7, W>) -> SMatrix<f64, 7, W> {
    SMatrix::from_fn(|i, j| a[i] * m[(i, j)])
}
