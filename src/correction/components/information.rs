//! The average information on the variance components.

use super::super::V7;
use super::super::arrow::Rights;
use super::super::lines::rights;
use super::super::rows::Pair;
use super::{COUNT, Matrix, Problem, State};
use nalgebra::SMatrix;

impl Problem {
    /// `(K' alpha)ᵀ K⁻¹ (K' alpha) / 2`, of visits and sessions from `K' alpha` by row. That of
    /// players, heads and pairs is in the effects, by which it goes through the sums of the pairs.
    pub fn average_information(
        &self,
        s: &State,
        moved: &[Vec<f64>; 2],
        fresh: &[Vec<V7>; 3],
    ) -> Matrix {
        let rows = &self.rows;
        let weighed = moved.each_ref().map(|m| s.noise.weigh(rows, m));
        let by_row = weighed.each_ref().map(|w| rights(rows, w));
        let effects = self.moved_effects(s, fresh);
        let mut right: Vec<Rights<COUNT>> = Vec::with_capacity(s.lines.len());
        // `(K' alpha)ᵀ N⁻¹ (K' alpha)`.
        let mut out = Matrix::zeros();
        for (i, m) in moved.iter().enumerate() {
            for (j, w) in weighed.iter().enumerate() {
                out[(i, j)] = m.iter().zip(w).map(|(m, w)| m * w).sum();
            }
        }
        for (q, line) in s.lines.iter().enumerate() {
            let u = &effects[q];
            let groups = (line.cross.tr_mul(u), line.square * u);
            let (mut a, mut x): Rights<COUNT> = Default::default();
            for (i, r) in by_row.iter().enumerate() {
                a[i] = r[q].0;
                x.set_column(i, &r[q].1);
            }
            a.fixed_columns_mut::<3>(2).copy_from(&groups.0);
            x.fixed_columns_mut::<3>(2).copy_from(&groups.1);
            let with_groups = x.tr_mul(u);
            let mut there = out.fixed_columns_mut::<3>(2);
            there += with_groups;
            right.push((a, x));
        }
        out.fill_lower_triangle_with_upper_triangle();
        (out - s.arrow.forms(&right)) * 0.5
    }

    /// What `K'` of players, heads and pairs, times alpha, does to the effects of each pair.
    fn moved_effects(&self, s: &State, fresh: &[Vec<V7>; 3]) -> Vec<SMatrix<f64, 7, 3>> {
        let sd = &s.arrow.prior;
        let (mean, k) = (&s.solution, [&sd.players, &sd.heads, &sd.pairs]);
        let mean = [&mean.players, &mean.heads, &mean.pairs];
        let of = |(q, pair): (usize, &Pair)| {
            let at = [pair.player, pair.head, q];
            let one = |g: usize| {
                let all = mean[g][at[g]].component_mul(&k[g][at[g]]);
                all.component_mul(&fresh[g][at[g]]) * 2.0
            };
            SMatrix::from_columns(&[one(0), one(1), one(2)])
        };
        self.rows.pairs.iter().enumerate().map(of).collect()
    }
}
