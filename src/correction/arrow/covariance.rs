//! Posterior covariances out of the factored normal equations: of each pair's line, of the parts,
//! and of what may be asked about a player and a head that need not be a pair.

use super::super::{M7, V7};
use super::{Arrow, Solution, absent, scaled};
use nalgebra::{DMatrix, Dyn, OMatrix, U7};

/// Posterior covariance of the intercept and effects of a pair.
#[derive(Debug, Clone, Copy)]
pub(in crate::correction) struct LineCovariance {
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
pub(in crate::correction) struct Spread {
    pub line: Vec<LineCovariance>,
    pub shared: V7,
    pub players: Vec<V7>,
    pub heads: Vec<V7>,
    pub pairs: Vec<V7>,
}
impl Arrow {
    /// Posterior variances of everything.
    pub fn spread(&self) -> Spread {
        let v = &self.covariance;
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
            let given = self.given(player, v);
            let inner = self.player_covariance(player, &given);
            out.players.push(inner.diagonal());
            for (i, q) in block.pairs.clone().enumerate() {
                let others = self.others(player, i, v, &given, &inner);
                let (o, k) = (&self.own[q], &self.prior.pairs[q]);
                let effects = self.inner(q) + o.shrink * others * o.shrink.transpose();
                let cross = -(effects * o.slope);
                out.line.push(LineCovariance {
                    intercept: 1.0 / o.p - o.slope.dot(&cross),
                    cross,
                    effects,
                });
                // The pair's own effects, in prior units: w, and what the others leave open.
                let by = scaled(&V7::repeat(1.0), &o.w, k) * o.m;
                let left = (by * others).component_mul(&by).column_sum();
                out.pairs.push(o.w.diagonal() + left);
            }
        }
        out
    }

    /// Covariance of a pair's own effects, the others known.
    pub fn inner(&self, q: usize) -> M7 {
        let k = &self.prior.pairs[q];
        scaled(k, &self.own[q].w, k)
    }

    /// `Y V` of a player's own columns.
    fn given(&self, player: usize, v: &DMatrix<f64>) -> DMatrix<f64> {
        let block = &self.blocks[player];
        let place = &block.places;
        let n = 7 * place.len();
        if absent(&self.prior.players[player]) {
            return DMatrix::zeros(7, n);
        }
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
pub(in crate::correction) struct Target {
    pub covariance: M7,
    /// Covariance of the effects of every pair, but for its own `d`, with the target's.
    pub with_others: Vec<M7>,
}

impl Arrow {
    /// The target's effects without `d`, as coefficients of shared effects and those of heads, each
    /// with its place.
    fn coefficients(&self, player: Option<usize>, head: Option<usize>) -> Vec<(usize, M7)> {
        let mut out = vec![(0, M7::from_diagonal(&self.prior.shared))];
        out.extend(head.map(|h| (7 * (1 + h), M7::from_diagonal(&self.prior.heads[h]))));
        if let Some(p) = player {
            let (block, k) = (&self.blocks[p], M7::from_diagonal(&self.prior.players[p]));
            for (a, &at) in block.places.iter().enumerate() {
                out.push((at, -k * block.y.fixed_view::<7, 7>(0, 7 * a)));
            }
        }
        out
    }

    /// Covariance of a target with itself and with the effects of every pair.
    pub fn target(
        &self,
        player: Option<usize>,
        head: Option<usize>,
        pair: Option<usize>,
    ) -> Target {
        let (shrink, inner) = pair.map_or_else(
            || (M7::identity(), M7::zeros()),
            |q| (self.own[q].shrink, self.inner(q)),
        );
        let coefficients = self.coefficients(player, head);
        // Columns `V Jᵀ`.
        let mut reached = OMatrix::<f64, Dyn, U7>::zeros(self.covariance.nrows());
        for (at, j) in &coefficients {
            reached += self.covariance.fixed_columns::<7>(*at) * (shrink * j).transpose();
        }
        let covariance: M7 = (coefficients.iter())
            .map(|(at, j)| shrink * j * reached.fixed_rows::<7>(*at))
            .sum();
        let own = player.map_or_else(M7::zeros, |p| {
            let k = &self.prior.players[p];
            scaled(k, &self.blocks[p].inv, k) * shrink.transpose()
        });
        let part = |k: &V7, at: usize| M7::from_fn(|i, c| k[i] * reached[(at + i, c)]);
        let shared = part(&self.prior.shared, 0);
        let heads: Vec<M7> = (self.prior.heads.iter().enumerate())
            .map(|(h, k)| part(k, 7 * (1 + h)))
            .collect();
        let mut with_others = Vec::with_capacity(self.own.len());
        for (p, block) in self.blocks.iter().enumerate() {
            let mut given = M7::zeros();
            for (a, &at) in block.places.iter().enumerate() {
                given += block.y.fixed_view::<7, 7>(0, 7 * a) * reached.fixed_rows::<7>(at);
            }
            let k = &self.prior.players[p];
            let mut other = shared - M7::from_fn(|i, j| k[i] * given[(i, j)]);
            if player == Some(p) {
                other += own;
            }
            with_others.extend(block.pairs.clone().map(|q| other + heads[self.of[q].1]));
        }
        Target {
            covariance: inner + shrink * own + covariance,
            with_others,
        }
    }

    /// What a pair's effects have of those without its own `d`.
    pub fn shrink(&self, q: usize) -> &M7 {
        &self.own[q].shrink
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
