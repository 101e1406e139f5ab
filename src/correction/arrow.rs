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

/// Posterior covariance of the intercept and effects of a pair.
#[derive(Debug, Clone, Copy)]
pub(super) struct LineCovariance {
    pub intercept: f64,
    pub cross: V7,
    pub effects: M7,
}

impl LineCovariance {
    /// Variance of `c a + v · gamma`.
    #[inline]
    pub fn of(&self, c: f64, v: &V7) -> f64 {
        c * c * self.intercept + 2.0 * c * self.cross.dot(v) + v.dot(&(self.effects * v))
    }
}

/// Posterior variances: of each pair's line, and of the parts in prior units.
#[derive(Debug, Clone, Default)]
pub(super) struct Spread {
    pub line: Vec<LineCovariance>,
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

    /// Covariance of shared effects and those of the heads, in prior units.
    fn reduced_covariance(&self) -> DMatrix<f64> {
        inverse(&self.factor.l())
    }

    /// Posterior variances of everything.
    pub fn spread(&self) -> Spread {
        let v = self.reduced_covariance();
        let diagonal = |at: usize| V7::from_fn(|i, _| v[(at + i, at + i)]);
        let mut out = Spread {
            line: Vec::with_capacity(self.own.len()),
            shared: diagonal(0),
            players: Vec::with_capacity(self.blocks.len()),
            heads: (0..self.prior.heads.len())
                .map(|h| diagonal(7 * (1 + h)))
                .collect(),
            pairs: Vec::with_capacity(self.own.len()),
        };
        for (player, block) in self.blocks.iter().enumerate() {
            let given = self.given(player, &v);
            let inner = self.player_covariance(player, &given);
            out.players.push(inner.diagonal());
            for (i, q) in block.pairs.clone().enumerate() {
                let others = self.others(player, i, &v, &given, &inner);
                let (o, k) = (&self.own[q], &self.prior.pairs[q]);
                let effects = o.inner + o.shrink * others * o.shrink.transpose();
                let cross = -(effects * o.slope);
                out.line.push(LineCovariance {
                    intercept: 1.0 / o.p - o.slope.dot(&cross),
                    cross,
                    effects,
                });
                // The pair's own effects, in prior units: w, and what the others leave open.
                let by = o.w * M7::from_diagonal(k) * o.m;
                out.pairs
                    .push((o.w + by * others * by.transpose()).diagonal());
            }
        }
        out
    }

    /// `Y V` of a player's own columns.
    fn given(&self, player: usize, v: &DMatrix<f64>) -> DMatrix<f64> {
        let block = &self.blocks[player];
        let place = self.places(block);
        let n = 7 * place.len();
        if n == v.nrows() {
            // The pairs of a player are in the order of the heads: this is all of them.
            return &block.y * v;
        }
        let mut part = DMatrix::<f64>::zeros(n, n);
        for (a, &row) in place.iter().enumerate() {
            for (b, &column) in place.iter().enumerate() {
                part.fixed_view_mut::<7, 7>(7 * a, 7 * b)
                    .copy_from(&v.fixed_view::<7, 7>(row, column));
            }
        }
        &block.y * part
    }

    /// Covariance of a player's effects in prior units.
    fn player_covariance(&self, player: usize, given: &DMatrix<f64>) -> M7 {
        let block = &self.blocks[player];
        let moved = given * block.y.transpose();
        block.inv + M7::from_fn(|i, j| moved[(i, j)])
    }

    /// Covariance of `beta + b_p + c_h`, for the `i`-th head of a player.
    fn others(
        &self,
        player: usize,
        i: usize,
        v: &DMatrix<f64>,
        given: &DMatrix<f64>,
        inner: &M7,
    ) -> M7 {
        let q = self.blocks[player].pairs.start + i;
        let head = self.of[q].1;
        let (kb, kp, kh) = (
            &self.prior.shared,
            &self.prior.players[player],
            &self.prior.heads[head],
        );
        let at = 7 * (1 + head);
        let block = |r: usize, c: usize| M7::from_fn(|i, j| v[(r + i, c + j)]);
        let part = |c: usize| M7::from_fn(|i, j| given[(i, c + j)]);
        let cross = scaled(kh, &block(at, 0), kb);
        let with_shared = scaled(kp, &part(0), kb);
        let with_head = scaled(kp, &part(7 * (1 + i)), kh);
        let one_way = cross - with_shared - with_head;
        scaled(kb, &block(0, 0), kb)
            + scaled(kh, &block(at, at), kh)
            + scaled(kp, inner, kp)
            + one_way
            + one_way.transpose()
    }
}

/// What is asked of a posterior: the effects `beta + b_p + c_h + d_ph` of a player and a head, of
/// those parts that it knows.
pub(super) struct Target {
    pub covariance: M7,
    /// Covariance with the effects of every pair.
    pub with_pairs: Vec<M7>,
}

impl Arrow {
    /// The target's effects without `d`, as coefficients of shared effects and those of heads.
    fn coefficients(&self, player: Option<usize>, head: Option<usize>) -> DMatrix<f64> {
        let mut j = DMatrix::<f64>::zeros(7, 7 * (1 + self.prior.heads.len()));
        for f in 0..7 {
            j[(f, f)] = self.prior.shared[f];
            if let Some(h) = head {
                j[(f, 7 * (1 + h) + f)] = self.prior.heads[h][f];
            }
        }
        if let Some(p) = player {
            let (block, k) = (&self.blocks[p], &self.prior.players[p]);
            for (a, &at) in self.places(block).iter().enumerate() {
                for (f, g) in (0..7).flat_map(|f| (0..7).map(move |g| (f, g))) {
                    j[(f, at + g)] -= k[f] * block.y[(f, 7 * a + g)];
                }
            }
        }
        j
    }

    /// Covariance of a target with itself and with the effects of every pair.
    pub fn target(
        &self,
        player: Option<usize>,
        head: Option<usize>,
        pair: Option<usize>,
    ) -> Target {
        let j = self.coefficients(player, head);
        // Columns `V Jᵀ`.
        let reached = self.factor.solve(&j.transpose());
        let own = player.map_or_else(M7::zeros, |p| {
            let k = &self.prior.players[p];
            scaled(k, &self.blocks[p].inv, k)
        });
        let mut covariance = own + fixed(&(&j * &reached));
        let shrink = pair.map_or_else(M7::identity, |q| self.own[q].shrink);
        let mut with_pairs = Vec::with_capacity(self.own.len());
        for (p, block) in self.blocks.iter().enumerate() {
            let place = self.places(block);
            let there = DMatrix::from_fn(7 * place.len(), 7, |i, c| {
                reached[(place[i / 7] + i % 7, c)]
            });
            let given = fixed(&(&block.y * &there));
            for q in block.pairs.clone() {
                let at = 7 * (1 + self.of[q].1);
                let (kh, kp) = (&self.prior.heads[self.of[q].1], &self.prior.players[p]);
                // Rows: effects of the pair without its own d. Columns: the target without its d.
                let mut cross = M7::from_fn(|i, c| {
                    self.prior.shared[i] * reached[(i, c)] + kh[i] * reached[(at + i, c)]
                        - kp[i] * given[(i, c)]
                });
                if player == Some(p) {
                    cross += own;
                }
                let mut both = shrink * cross.transpose() * self.own[q].shrink.transpose();
                if pair == Some(q) {
                    both += self.own[q].inner;
                }
                with_pairs.push(both);
            }
        }
        if let Some(q) = pair {
            covariance = self.own[q].inner + shrink * covariance * shrink.transpose();
        }
        Target {
            covariance,
            with_pairs,
        }
    }

    /// Mean of a target for given right sides.
    pub fn mean(
        &self,
        s: &Solution,
        player: Option<usize>,
        head: Option<usize>,
        pair: Option<usize>,
    ) -> V7 {
        if let Some(q) = pair {
            return s.line[q].1;
        }
        let zero = V7::zeros();
        let of = |known: Option<usize>, k: &[V7], u: &[V7]| {
            known.map_or(zero, |i| k[i].component_mul(&u[i]))
        };
        self.prior.shared.component_mul(&s.shared)
            + of(player, &self.prior.players, &s.players)
            + of(head, &self.prior.heads, &s.heads)
    }
}

fn fixed(m: &DMatrix<f64>) -> M7 {
    M7::from_fn(|i, j| m[(i, j)])
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
