//! What the fit would have said of sessions without having seen them: each from all others, and
//! each from earlier ones.

use super::components::{Found, Problem};
use super::fit::FitError;
use super::model::Components;
use super::regression::{Regression, Rival};
use super::rows::{Layout, Rows};
use super::score::HeldOut;
use rayon::prelude::*;

/// Into how many parts of as many sessions the season is cut; those after the first two are each
/// foretold from what came before.
const PARTS: usize = 4;

/// Errors of sessions that the fit has not seen, though it has seen all others, those of the same
/// visit included; see [`Score`](super::Score).
pub(super) fn left_out(
    fit: &Regression,
    [bare, pooled]: &[Rival; 2],
    layout: &Layout<'_>,
) -> Vec<HeldOut> {
    let rows = &fit.problem.rows;
    let mut out = Vec::with_capacity(rows.y.len());
    for pair in rows.pairs.iter().filter(|p| p.rows.len() > 1) {
        for j in pair.rows.clone() {
            let three = [&bare.1, &pooled.1, &fit.found].map(|f| f.left_out(rows, j));
            let session = rows.session[j];
            out.push(HeldOut {
                session,
                visit: layout.visit[session],
                error: three.map(|t| t.0),
                sd: three.map(|t| t.1),
            });
        }
    }
    out
}

/// The days on which the parts of the season after the first two begin.
fn cuts(layout: &Layout<'_>) -> Vec<usize> {
    let mut out: Vec<usize> = (2..PARTS).map(|k| layout.part(k, PARTS)).collect();
    out.dedup();
    out.retain(|day| *day > 0);
    out
}

/// Errors of sessions that are foretold from all sessions before their part of the season: the
/// second half, a quarter at a time. Components and weights of sessions are those of the whole
/// season. Sessions of a player on a head that has none before are left out.
pub(super) fn forward(
    fit: &Regression,
    [bare, pooled]: &[Rival; 2],
    layout: &Layout<'_>,
) -> Result<Vec<HeldOut>, FitError> {
    let cuts = cuts(layout);
    let all = &fit.problem.rows;
    let part = |(k, &first): (usize, &usize)| -> Result<Vec<HeldOut>, FitError> {
        let next = cuts.get(k + 1).copied().unwrap_or(usize::MAX);
        let known = Rows::new(fit.r, layout, |day| day < first);
        let asked = Rows::new(fit.r, layout, |day| (first..next).contains(&day));
        let weights: Vec<f64> = (all.session.iter().zip(&fit.found.weights))
            .filter_map(|(&j, &weight)| (layout.day[j] < first).then_some(weight))
            .collect();
        let of = |p: &Problem, f: &Found, known: &Rows, asked: &Rows| {
            foretell(p, &f.state.components, known, &weights, asked)
        };
        let (bare_known, bare_asked) = (known.without_levers(), asked.without_levers());
        let three = [
            of(&bare.0, &bare.1, &bare_known, &bare_asked)?,
            of(&pooled.0, &pooled.1, &known, &asked)?,
            of(&fit.problem, &fit.found, &known, &asked)?,
        ];
        let tried = (asked.pairs.iter().zip(&known.pairs))
            .filter(|(_, known)| !known.rows.is_empty())
            .flat_map(|(pair, _)| pair.rows.clone());
        Ok(tried
            .map(|j| HeldOut {
                session: asked.session[j],
                visit: layout.visit[asked.session[j]],
                error: [0, 1, 2].map(|m| three[m][j].0),
                sd: [0, 1, 2].map(|m| three[m][j].1),
            })
            .collect())
    };
    let parts: Result<Vec<_>, _> = cuts.par_iter().enumerate().map(part).collect();
    let mut out: Vec<HeldOut> = parts?.into_iter().flatten().collect();
    out.sort_by_key(|h| h.session);
    Ok(out)
}

/// Error and standard deviation of each row asked for, given the known ones.
fn foretell(
    problem: &Problem,
    c: &Components,
    known: &Rows,
    weights: &[f64],
    asked: &Rows,
) -> Result<Vec<(f64, f64)>, FitError> {
    let state = problem.given(known, *c, weights)?;
    let spread = state.arrow.spread();
    let mut out = vec![(0.0, 0.0); asked.y.len()];
    for (q, pair) in asked.pairs.iter().enumerate() {
        let ((a, g), cov) = (&state.solution.line[q], &spread.line[q]);
        for j in pair.rows.clone() {
            let noise = c.visit_sd.powi(2) + c.session_sd.powi(2) + c.shot_sd.powi(2) / asked.n[j];
            let error = asked.y[j] - a - asked.x[j].dot(g);
            out[j] = (error, (noise + cov.of(1.0, &asked.x[j])).sqrt());
        }
    }
    Ok(out)
}

/// Correlations between responses of what sessions are off by, from their held-out errors in units
/// of their standard deviations, less the share in them that is not noise; drawn toward
/// independence by two sessions' worth.
pub(super) fn noise_correlation(fits: &[Regression], sessions: usize) -> [[f64; 5]; 5] {
    let z: Vec<Vec<Option<f64>>> = fits
        .iter()
        .map(|f| {
            let mut out = vec![None; sessions];
            for h in &f.left_out {
                out[h.session] = Some((h.error[2] / h.sd[2]).clamp(-3.0, 3.0));
            }
            out
        })
        .collect();
    let mut rho = nalgebra::Matrix5::<f64>::identity();
    for r in 0..fits.len() {
        for s in 0..r {
            let (mut rr, mut ss, mut rs, mut n) = (0.0, 0.0, 0.0, 0.0);
            for (a, b) in z[r].iter().zip(&z[s]) {
                if let (Some(a), Some(b)) = (a, b) {
                    rr += a * a;
                    ss += b * b;
                    rs += a * b;
                    n += 1.0;
                }
            }
            let size = (rr * ss * fits[r].noise_share * fits[s].noise_share).sqrt();
            let found = if size > 0.0 { rs / size } else { 0.0 };
            rho[(r, s)] = (found * n / (n + 2.0)).clamp(-0.98, 0.98);
            rho[(s, r)] = rho[(r, s)];
        }
    }
    // Pairs of responses may come from different sessions: no correlation matrix then, perhaps.
    for _ in 0..100 {
        if rho.cholesky().is_some() {
            break;
        }
        rho = rho * 0.9 + nalgebra::Matrix5::identity() * 0.1;
    }
    std::array::from_fn(|r| std::array::from_fn(|s| rho[(r, s)]))
}
