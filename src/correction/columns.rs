//! The columns of the regression: which coefficients there are, and what each is multiplied with.

use super::SessionSummary;
use super::components::INTERCEPT_SD;
use super::model::{ResponseModel, Term};
use crate::club::FEATURES;
use crate::priors;
use nalgebra::{DMatrix, DVector};
use std::collections::BTreeSet;
use std::ops::Range;

/// What makes a visit: one player with one head on one day.
pub(super) fn visit_of(s: &SessionSummary) -> (&str, &str, &str) {
    (&s.date, &s.player, &s.head)
}

/// Columns that the data speak of, and those of last season's model, in a fixed order.
pub(super) fn columns(rows: &[&SessionSummary], last: Option<&ResponseModel>) -> Vec<Term> {
    let mut terms = BTreeSet::new();
    for s in rows {
        terms.insert(Term::Intercept {
            player: s.player.clone(),
            head: s.head.clone(),
        });
        for (f, feature) in FEATURES.iter().enumerate() {
            if s.features[f].abs() > 1e-9 {
                let feature = (*feature).to_string();
                terms.insert(Term::Shared {
                    feature: feature.clone(),
                });
                terms.insert(Term::Player {
                    player: s.player.clone(),
                    feature: feature.clone(),
                });
                terms.insert(Term::Head {
                    head: s.head.clone(),
                    feature,
                });
            }
        }
    }
    if let Some(l) = last {
        terms.extend(
            l.coefficients
                .iter()
                .map(|c| c.term.clone())
                .filter(Term::is_slope),
        );
    }
    terms.into_iter().collect()
}

/// Entry of the design matrix.
pub(super) fn entry(term: &Term, s: &SessionSummary) -> f64 {
    let value = |feature: &str| {
        FEATURES
            .iter()
            .position(|f| *f == feature)
            .map_or(0.0, |f| s.features[f])
    };
    match term {
        Term::Shared { feature } => value(feature),
        Term::Player { player, feature } if *player == s.player => value(feature),
        Term::Head { head, feature } if *head == s.head => value(feature),
        Term::Intercept { player, head } if *player == s.player && *head == s.head => 1.0,
        _ => 0.0,
    }
}

pub(super) fn prior_scale(r: usize, term: &Term) -> f64 {
    match term {
        Term::Intercept { .. } => INTERCEPT_SD[r],
        Term::Shared { feature } | Term::Player { feature, .. } | Term::Head { feature, .. } => {
            FEATURES
                .iter()
                .position(|f| f == feature)
                .map_or(1.0, |f| priors::response()[r][f])
        }
    }
}

/// Rows of each visit; the rows are in order of visits.
pub(super) fn visits(rows: &[&SessionSummary]) -> Vec<Range<usize>> {
    let mut out = Vec::new();
    let mut start = 0;
    for group in rows.chunk_by(|a, b| visit_of(a) == visit_of(b)) {
        out.push(start..start + group.len());
        start += group.len();
    }
    out
}

/// How many other sessions each session has of the same player and head.
pub(super) fn siblings(rows: &[&SessionSummary]) -> Vec<usize> {
    let mut counts = std::collections::HashMap::new();
    for s in rows {
        *counts.entry((&s.player, &s.head)).or_insert(0_usize) += 1;
    }
    rows.iter()
        .map(|s| counts[&(&s.player, &s.head)] - 1)
        .collect()
}

type Inherited = Option<(Vec<usize>, DMatrix<f64>)>;

/// Prior mean of the columns and the widened precision of those slopes that last season's model
/// holds. Intercepts start afresh: clubs, balls and swings change over a winter.
pub(super) fn inherit(
    terms: &[Term],
    last: Option<&ResponseModel>,
    widening: f64,
) -> (DVector<f64>, Inherited) {
    let mut mean = DVector::zeros(terms.len());
    let Some(last) = last else {
        return (mean, None);
    };
    let pairs: Vec<(usize, usize)> = terms
        .iter()
        .enumerate()
        .filter(|(_, t)| t.is_slope())
        .filter_map(|(i, t)| Some((i, last.coefficients.iter().position(|c| c.term == *t)?)))
        .collect();
    for &(i, k) in &pairs {
        mean[i] = last.coefficients[k].mean;
    }
    let covariance = DMatrix::from_fn(pairs.len(), pairs.len(), |a, b| {
        widening * last.covariance_of(pairs[a].1, pairs[b].1)
    });
    match covariance.cholesky() {
        Some(chol) if !pairs.is_empty() => (
            mean,
            Some((pairs.into_iter().map(|(i, _)| i).collect(), chol.inverse())),
        ),
        _ => (DVector::zeros(terms.len()), None),
    }
}
