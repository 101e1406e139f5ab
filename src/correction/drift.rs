//! Drift: whether a player's response in the second half of the season is that of the first.
//!
//! Each half has intercepts of its own. The player's effects are `b` in the first half and
//! `b + delta` in the second, `delta` with the prior of `b`; `b` is eliminated, shared effects and
//! those of heads stand at their posterior means. A player who changed in June shows here, and the
//! season's effect is then an average of the two.

use super::components::{Found, Problem};
use super::lines::{Line, Noise, Right, lines, rights};
use super::model::Drift;
use super::rows::{Layout, Rows};
use super::{M7, V7};
use crate::club::FEATURES;

/// Information on a player's own effects from some rows, and information times estimate.
fn own(problem: &Problem, found: &Found, rows: &Rows) -> Vec<(M7, V7)> {
    let state = &found.state;
    let weights = vec![1.0; rows.y.len()];
    let noise = Noise::new(rows, &state.components, &weights);
    let all: (Vec<Line>, Vec<Right>) = (
        lines(rows, &noise),
        rights(rows, &noise.weigh(rows, &rows.y)),
    );
    let pa = state.arrow.prior.intercept.powi(-2);
    let mut out = vec![(M7::zeros(), V7::zeros()); rows.players];
    for (q, (line, (a, x))) in all.0.iter().zip(&all.1).enumerate() {
        let slope = line.cross / (line.weight + pa);
        let m = line.square - slope * line.cross.transpose();
        let player = problem.rows.pairs[q].player;
        let k = &state.arrow.prior.players[player];
        let others = state.solution.line[q].1 - k.component_mul(&state.solution.players[player]);
        out[player].0 += m;
        out[player].1 += x - slope * *a - m * others;
    }
    out
}

pub(super) fn drift(r: usize, layout: &Layout<'_>, problem: &Problem, found: &Found) -> Vec<Drift> {
    let middle = layout.part(1, 2);
    let early = own(problem, found, &Rows::new(r, layout, |day| day < middle));
    let late = own(problem, found, &Rows::new(r, layout, |day| day >= middle));
    let mut out = Vec::new();
    for (p, ((m1, h1), (m2, h2))) in early.iter().zip(&late).enumerate() {
        let k = &found.state.arrow.prior.players[p];
        // In units of the prior's standard deviations.
        let unit = M7::from_diagonal(k);
        let (m1, m2, h1, h2) = (unit * m1 * unit, unit * m2 * unit, unit * h1, unit * h2);
        let Some(both) = (M7::identity() + m1 + m2).cholesky() else {
            continue;
        };
        let m = m2 - m2 * both.solve(&m2);
        let h = h2 - m2 * both.solve(&(h1 + h2));
        let Some(last) = (M7::identity() + (m + m.transpose()) * 0.5).cholesky() else {
            continue;
        };
        let (mean, cov) = (last.solve(&h), last.inverse());
        for (f, feature) in FEATURES.iter().enumerate() {
            // A tenth of the prior's variance must be learned in each half.
            if k[f] > 0.0 && m1[(f, f)] > 0.1 && m2[(f, f)] > 0.1 {
                out.push(Drift {
                    player: layout.players[p].clone(),
                    feature: (*feature).to_string(),
                    mean: k[f] * mean[f],
                    sd: k[f] * cov[(f, f)].max(0.0).sqrt(),
                });
            }
        }
    }
    out
}
