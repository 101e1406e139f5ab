//! The fit of all responses: options, checks, and what the model has seen.

use super::columns::visit_of;
use super::model::{Components, DataSeen, FORMAT, Model, Season};
use super::regression::Problem;
use super::{RESPONSES, SessionSummary};
use rayon::prelude::*;
use sha2::{Digest, Sha256};

/// Options of a fit.
#[derive(Debug, Clone, PartialEq)]
pub struct FitOptions {
    /// By what factor the covariance of last season's posterior is widened before it serves as
    /// this season's prior: players and their swings change over a winter. Stated, not estimated.
    pub widening: f64,
    /// Most iterations of EM.
    pub max_iterations: usize,
    /// Variance components that are taken as known, in the order of `RESPONSES`; without them they
    /// are estimated.
    pub fixed: Option<[Components; 5]>,
}

impl Default for FitOptions {
    fn default() -> Self {
        FitOptions {
            widening: 1.5,
            max_iterations: 500,
            fixed: None,
        }
    }
}

/// A fit that cannot be made.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum FitError {
    /// Nothing to fit.
    #[error("no session to learn from: log sessions first")]
    NoSessions,
    /// A session holds a number that is not finite.
    #[error("session {0}: a summary is not finite")]
    NotFinite(String),
    /// A matrix could not be factored.
    #[error("{0}: the normal equations are not positive definite")]
    Singular(String),
    /// An option is out of its range.
    #[error("{0}")]
    Option(String),
}

/// Fits the correction to session summaries, with last season's model as prior if there is one.
///
/// The order of the sessions does not matter: they are put in order by name first, so that the
/// same data give the same bytes.
///
/// # Errors
/// If there are no sessions, a number is not finite, or an option is out of range.
pub fn fit(
    sessions: &[SessionSummary],
    prior: Option<&Model>,
    season: Season,
    version: u32,
    options: &FitOptions,
) -> Result<Model, FitError> {
    if sessions.is_empty() {
        return Err(FitError::NoSessions);
    }
    if !(options.widening.is_finite() && options.widening >= 1.0) || options.max_iterations == 0 {
        return Err(FitError::Option(
            "widening must be a finite number of at least 1, iterations at least 1".into(),
        ));
    }
    if !options.fixed.iter().flatten().all(Components::usable) {
        return Err(FitError::Option(
            "fixed components must be finite, factors and the shot-to-shot spread positive, the \
             others not negative"
                .into(),
        ));
    }
    let mut sessions: Vec<&SessionSummary> = sessions.iter().collect();
    sessions.sort_by(|a, b| {
        visit_of(a)
            .cmp(&visit_of(b))
            .then(a.session.cmp(&b.session))
    });
    for s in &sessions {
        let all = s
            .features
            .iter()
            .chain(&s.mean)
            .chain(&s.variance)
            .chain(&s.count);
        if all.into_iter().any(|v| !v.is_finite()) {
            return Err(FitError::NotFinite(s.session.clone()));
        }
    }
    let responses = (0..RESPONSES.len())
        .into_par_iter()
        .map(|r| {
            let rows: Vec<&SessionSummary> = sessions
                .iter()
                .copied()
                .filter(|s| s.count[r] > 0.0)
                .collect();
            let last = prior.and_then(|m| m.responses.get(r));
            Problem::new(r, &rows, last, options).solve(options)
        })
        .collect::<Result<Vec<_>, _>>()?;
    Ok(Model {
        format: FORMAT,
        version,
        season,
        data: data_seen(&sessions),
        responses,
    })
}

fn data_seen(sessions: &[&SessionSummary]) -> DataSeen {
    let mut hash = Sha256::new();
    for s in sessions {
        hash.update(serde_json::to_vec(s).expect("finite numbers and strings"));
    }
    DataSeen {
        sessions: sessions.len(),
        shots: sessions.iter().map(|s| s.shots).sum(),
        first_date: sessions
            .first()
            .map_or_else(String::new, |s| s.date.clone()),
        last_date: sessions.last().map_or_else(String::new, |s| s.date.clone()),
        digest: hash.finalize().iter().map(|b| format!("{b:02x}")).collect(),
    }
}
