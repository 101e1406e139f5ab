//! Order-independent attribution: shares of a whole that add up to it.
//!
//! When causes act together, what each one does depends on which others are there already. The
//! Shapley value is the mean over all orders in which they can be put in. It is the only rule that
//! adds up, treats causes that do the same alike, gives nothing to one that does nothing, and is
//! additive over games: L. S. Shapley 1953, *A value for n-person games*, Contributions to the
//! Theory of Games II, Annals of Mathematics Studies 28, 307-317.

use nalgebra::SVector;

/// The share of each of `N` causes in what all of them do together.
///
/// `value` gives what the causes of a set do; bit `i` of the set is cause `i`. It is asked once for
/// each of the `2^N` sets. The shares add up to the value of all less that of none, to rounding.
pub fn shapley<const N: usize, const D: usize>(
    mut value: impl FnMut(usize) -> SVector<f64, D>,
) -> [SVector<f64, D>; N] {
    const { assert!(N >= 1 && N <= 16) };
    let worth: Vec<SVector<f64, D>> = (0..1 << N).map(&mut value).collect();
    // |S|! (N - |S| - 1)! / N! = 1 / (N C(N - 1, |S|)) for a set S that cause i joins.
    let mut weight = [0.0; N];
    let mut choose = 1.0;
    for (size, w) in weight.iter_mut().enumerate() {
        *w = 1.0 / (N as f64 * choose);
        choose *= (N - 1 - size) as f64 / (size + 1) as f64;
    }
    std::array::from_fn(|i| {
        (0..worth.len())
            .filter(|set| set & (1 << i) == 0)
            .map(|set| (worth[set | 1 << i] - worth[set]) * weight[set.count_ones() as usize])
            .sum()
    })
}
