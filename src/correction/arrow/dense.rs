//! The inverse of a dense matrix by halves: nearly all of the work is in products, which
//! `matrixmultiply` does several times as fast as a column by column Cholesky factor.
//!
//! With `S = [A Bᵀ; B C]`, `W = A⁻¹ Bᵀ` and `E = C - B W`, the inverse is `[A⁻¹ + W E⁻¹ Wᵀ, -W E⁻¹;
//! -(W E⁻¹)ᵀ, E⁻¹]` and the determinant that of `A` times that of `E` (I. Schur 1917, J. Reine
//! Angew. Math. 147, 205-232; from memory).

use nalgebra::{Cholesky, DMatrix, DMatrixViewMut};

/// Size up to which a factor column by column is as fast.
const SMALL: usize = 32;

/// The inverse of a symmetric positive definite matrix, of which both triangles are there, and the
/// logarithm of its determinant. `None` if it is not positive definite.
pub(super) fn invert(mut s: DMatrix<f64>) -> Option<(DMatrix<f64>, f64)> {
    let log_det = halves(&mut s.as_view_mut())?;
    Some((s, log_det))
}

fn halves(s: &mut DMatrixViewMut<'_, f64>) -> Option<f64> {
    let n = s.nrows();
    if n <= SMALL {
        let factor = Cholesky::new(s.clone_owned())?;
        s.copy_from(&factor.inverse());
        let root = factor.l_dirty().diagonal();
        return Some(2.0 * root.iter().map(|d| d.ln()).sum::<f64>());
    }
    // Whole tiles of the products.
    let h = (n / 2).next_multiple_of(8);
    let (mut left, mut right) = s.columns_range_pair_mut(..h, h..);
    let first = halves(&mut left.rows_mut(0, h))?;
    let w = left.rows(0, h) * right.rows(0, h);
    (right.rows_mut(h, n - h)).gemm(-1.0, &left.rows(h, n - h), &w, 1.0);
    let second = halves(&mut right.rows_mut(h, n - h))?;
    let t = &w * right.rows(h, n - h);
    (left.rows_mut(0, h)).gemm(1.0, &t, &w.transpose(), 1.0);
    right.rows_mut(0, h).copy_from(&-&t);
    left.rows_mut(h, n - h).copy_from(&-t.transpose());
    Some(first + second)
}
