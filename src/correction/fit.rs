//! The fit of all responses: hyper-parameters, checks, and what the model has seen.

use super::held_out::noise_correlation;
use super::identify::identify;
use super::model::{DataSeen, FORMAT, Model, Season};
use super::regression::{Regression, Searched};
use super::rows::Layout;
use super::score::HeldOut;
use super::{Components, RESPONSES, SessionSummary};
use rayon::prelude::*;
use sha2::{Digest, Sha256};

/// Which effects a model has beside the shared ones.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Effects {
    /// What a player adds to a lever.
    pub players: bool,
    /// What a head adds to it.
    pub heads: bool,
    /// What a player on this very head adds to it.
    pub builds: bool,
}

/// Hyper-parameters of a fit, see also [`Correction`](super::Correction).
#[derive(Debug, Clone, PartialEq)]
pub struct FitOptions {
    /// By what factor the covariance of last season's posterior is widened before it serves as
    /// this season's prior: players and their swings change over a winter. Stated, not estimated.
    pub widening: f64,
    /// Most Newton steps in the search for the variance components.
    pub max_iterations: usize,
    /// Variance components that are taken as known, in the order of `RESPONSES`; without them they
    /// are estimated.
    pub fixed: Option<[Components; 5]>,
    /// The effects of the model.
    pub effects: Effects,
    /// Whether sessions that are far off lose weight. The weights are those of a t with four
    /// degrees of freedom beyond two standard deviations, from each session's distance to what all
    /// others foretell; given the weights everything is exact, their own uncertainty is left out.
    pub heavy_tails: bool,
}

impl Default for FitOptions {
    fn default() -> Self {
        FitOptions {
            widening: 1.5,
            max_iterations: 100,
            fixed: None,
            effects: Effects {
                players: true,
                heads: true,
                builds: true,
            },
            heavy_tails: true,
        }
    }
}

impl FitOptions {
    pub(super) fn check(&self) -> Result<(), FitError> {
        let fail = |why: &str| Err(FitError::Option(why.into()));
        if !(self.widening.is_finite() && self.widening >= 1.0) {
            let why = format!("widening {}: must be 1 or more, and finite", self.widening);
            return Err(FitError::Option(why));
        }
        if self.max_iterations == 0 {
            return fail("iterations must be at least 1");
        }
        if !self.fixed.iter().flatten().all(Components::usable) {
            return fail(
                "fixed components must be finite, the shot-to-shot spread positive, the others \
                 not negative",
            );
        }
        Ok(())
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

impl From<linfa::Error> for FitError {
    fn from(e: linfa::Error) -> FitError {
        FitError::Option(e.to_string())
    }
}

/// A model with what it was scored on, to be scored on the ground too.
#[derive(Debug, Clone, PartialEq)]
pub struct Scored {
    /// The model.
    pub model: Model,
    /// Player and head of each session, by the index of [`HeldOut::session`].
    pub sessions: Vec<(String, String)>,
    /// Of each response: sessions foretold by all others.
    pub left_out: Vec<Vec<HeldOut>>,
    /// Of each response: sessions foretold by earlier ones.
    pub forward: Vec<Vec<HeldOut>>,
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
    Ok(fit_scored(sessions, prior, season, version, options)?.model)
}

/// The same with the errors of the held-out sessions.
///
/// # Errors
/// As for [`fit`].
pub fn fit_scored<'a>(
    sessions: impl IntoIterator<Item = &'a SessionSummary>,
    prior: Option<&'a Model>,
    season: Season,
    version: u32,
    options: &FitOptions,
) -> Result<Scored, FitError> {
    options.check()?;
    let layout = Layout::new(sessions, prior);
    if layout.sessions.is_empty() {
        return Err(FitError::NoSessions);
    }
    for s in &layout.sessions {
        let all = (s.features.iter())
            .chain(&s.mean)
            .chain(&s.variance)
            .chain(&s.count);
        if all.into_iter().any(|v| !v.is_finite()) {
            return Err(FitError::NotFinite(s.session.clone()));
        }
    }
    let names = |s: &&SessionSummary| (s.player.clone(), s.head.clone());
    let (fitted, (data, sessions)) = rayon::join(
        || regressions(&layout, prior, options),
        || {
            (
                data_seen(&layout),
                layout.sessions.iter().map(names).collect(),
            )
        },
    );
    let fitted = fitted?;
    let mut responses: Vec<_> = fitted.par_iter().map(|f| f.model(&layout)).collect();
    // Too few sessions prove nothing either way: what the prior has proven stands.
    for (now, before) in responses
        .iter_mut()
        .zip(prior.iter().flat_map(|p| &p.responses))
    {
        now.in_use |= !now.score.tells() && before.in_use;
    }
    let model = Model {
        format: FORMAT,
        version,
        season,
        data,
        noise_correlation: noise_correlation(&fitted, layout.sessions.len()),
        responses,
        ground: vec![],
    };
    let held_out = fitted.into_iter().map(|f| (f.left_out, f.forward));
    let (left_out, forward) = held_out.unzip();
    Ok(Scored {
        model,
        sessions,
        left_out,
        forward,
    })
}

/// All responses. A search is one long piece of work, what comes after it many short ones: they are
/// left for the end, to keep all cores busy. The last response goes first: on a log of a million
/// shots its search took 16 rounds, the others 6 or 7.
fn regressions(
    layout: &Layout<'_>,
    past: Option<&Model>,
    options: &FitOptions,
) -> Result<Vec<Regression>, FitError> {
    let mut all: Vec<Option<Result<Regression, FitError>>> =
        RESPONSES.iter().map(|_| None).collect();
    rayon::scope_fifo(|scope| {
        for (r, out) in all.iter_mut().enumerate().rev() {
            scope.spawn_fifo(move |scope| match Searched::new(r, layout, past, options) {
                Ok(found) => scope.spawn_fifo(move |_| *out = Some(found.finish(layout))),
                Err(e) => *out = Some(Err(e)),
            });
        }
    });
    all.into_iter().flatten().collect()
}

fn data_seen(layout: &Layout<'_>) -> DataSeen {
    // By day, then as in the layout: player, head, session.
    let mut order: Vec<usize> = (0..layout.sessions.len()).collect();
    order.sort_by_key(|&j| layout.day[j]);
    let sessions: Vec<&SessionSummary> = order.iter().map(|&j| layout.sessions[j]).collect();
    let mut hash = Sha256::new();
    for s in &sessions {
        hash.update(serde_json::to_vec(s).expect("finite numbers and strings"));
    }
    let levers = identify(layout);
    let date = |s: Option<&&SessionSummary>| s.map_or_else(String::new, |s| s.date.clone());
    DataSeen {
        sessions: sessions.len(),
        shots: sessions.iter().map(|s| s.shots).sum(),
        first_date: date(sessions.first()),
        last_date: date(sessions.last()),
        digest: hash.finalize().iter().map(|b| format!("{b:02x}")).collect(),
        never_moved: levers.never_moved,
        moved_together: levers.moved_together,
        condition_index: levers.condition_index,
    }
}
