//! Which levers the data can tell apart.
//!
//! The features of the sessions are taken about their means by player and head (an intercept tells
//! nothing of a lever), scaled to columns of length one, and their singular values compared: a
//! direction whose condition index (largest over its own singular value) is above 30 is one that
//! the data hardly speak of, and the features of whose variance it makes more than half can't be
//! told apart. Source: D. A. Belsley, E. Kuh, R. E. Welsch 1980, *Regression Diagnostics*, ch. 3
//! (both limits). No prior enters.

use super::rows::Layout;
use super::{M7, V7};
use crate::club::FEATURES;

/// Condition index from which on a direction is not told.
const INDEX: f64 = 30.0;
/// Share of a feature's variance.
const SHARE: f64 = 0.5;

/// What the data can tell.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Levers {
    pub never_moved: Vec<String>,
    pub moved_together: Vec<Vec<String>>,
    pub condition_index: f64,
}

/// Sums of squares and products of the features about the mean of each pair.
fn squares(layout: &Layout<'_>) -> M7 {
    let mut out = M7::zeros();
    let mut from = 0;
    for pair in layout.pair.chunk_by(|a, b| a == b) {
        let sessions = &layout.sessions[from..from + pair.len()];
        from += pair.len();
        let mean: V7 =
            sessions.iter().map(|s| V7::from(s.features)).sum::<V7>() / sessions.len() as f64;
        for s in sessions {
            let d = V7::from(s.features) - mean;
            out += d * d.transpose();
        }
    }
    out
}

pub(super) fn identify(layout: &Layout<'_>) -> Levers {
    let m = squares(layout);
    let moved: Vec<usize> = (0..7).filter(|&f| m[(f, f)] > 1e-12).collect();
    let name = |f: &usize| FEATURES[*f].to_string();
    let never_moved = (0..7).filter(|f| !moved.contains(f)).collect::<Vec<_>>();
    let n = moved.len();
    let correlation = nalgebra::DMatrix::from_fn(n, n, |a, b| {
        let (i, j) = (moved[a], moved[b]);
        m[(i, j)] / (m[(i, i)] * m[(j, j)]).sqrt()
    });
    let mut out = Levers {
        never_moved: never_moved.iter().map(name).collect(),
        moved_together: vec![],
        condition_index: 1.0,
    };
    if n == 0 {
        return out;
    }
    let eigen = correlation.symmetric_eigen();
    let largest = eigen.eigenvalues.max();
    // Rounding makes of zero something tiny, or negative.
    let value = |k: usize| eigen.eigenvalues[k].max(1e-15 * largest);
    let index = |k: usize| (largest / value(k)).sqrt();
    out.condition_index = (0..n).map(index).fold(1.0, f64::max);
    let mut weak: Vec<usize> = (0..n).filter(|&k| index(k) > INDEX).collect();
    weak.sort_by(|a, b| index(*b).total_cmp(&index(*a)));
    // Directions of like weakness share their features: their variances count together.
    let part = |f: usize, k: usize| eigen.eigenvectors[(f, k)].powi(2) / value(k);
    let mut taken = vec![false; n];
    for &k in &weak {
        let total = |f: usize| (0..n).map(|l| part(f, l)).sum::<f64>();
        let share = |f: usize| weak.iter().map(|&l| part(f, l)).sum::<f64>() / total(f);
        let group: Vec<usize> = (0..n)
            .filter(|&f| !taken[f] && share(f) > SHARE && eigen.eigenvectors[(f, k)].abs() > 0.1)
            .collect();
        if group.len() > 1 {
            for &f in &group {
                taken[f] = true;
            }
            out.moved_together
                .push(group.iter().map(|&f| name(&moved[f])).collect());
        }
    }
    out.moved_together.sort();
    out
}
