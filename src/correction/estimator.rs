//! The correction as an estimator of the `linfa` family: checked hyper-parameters, `Fit`,
//! `FitWith` (last season's model as prior) and `Predict`.

use super::fit::{FitError, FitOptions, fit_scored};
use super::model::{Model, Season};
use super::{RESPONSES, SessionSummary};
use crate::club::FEATURES;
use linfa::dataset::{DatasetBase, Records};
use linfa::prelude::ParamGuard;
use linfa::traits::{Fit, FitWith, PredictInplace};
use ndarray::Array2;
use std::collections::BTreeMap;

/// Session summaries by name: what a fit needs, and all that is kept of the shots.
///
/// Sessions can be added and withdrawn, and the sessions of two benches merged; whatever the order
/// was, the same sessions give the same model to the byte, because a fit adds them up in the order
/// of their names.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Sessions(BTreeMap<String, SessionSummary>);

impl Sessions {
    /// None yet.
    pub fn new() -> Sessions {
        Sessions::default()
    }

    /// Adds a session; returns one of the same name that it replaces.
    pub fn add(&mut self, s: SessionSummary) -> Option<SessionSummary> {
        self.0.insert(s.session.clone(), s)
    }

    /// Takes a session out again.
    pub fn withdraw(&mut self, name: &str) -> Option<SessionSummary> {
        self.0.remove(name)
    }

    /// Adds those of another shard.
    pub fn merge(&mut self, other: Sessions) {
        self.0.extend(other.0);
    }

    /// In the order of their names.
    pub fn iter(&self) -> impl Iterator<Item = &SessionSummary> {
        self.0.values()
    }

    /// How many.
    pub fn len(&self) -> usize {
        self.0.len()
    }

    /// Whether there is none.
    pub fn is_empty(&self) -> bool {
        self.0.is_empty()
    }
}

impl FromIterator<SessionSummary> for Sessions {
    fn from_iter<I: IntoIterator<Item = SessionSummary>>(all: I) -> Sessions {
        Sessions(all.into_iter().map(|s| (s.session.clone(), s)).collect())
    }
}

impl Records for Sessions {
    type Elem = f64;

    fn nsamples(&self) -> usize {
        self.len()
    }

    fn nfeatures(&self) -> usize {
        FEATURES.len()
    }
}

/// Hyper-parameters, not yet checked.
///
/// ```
/// use linfa::DatasetBase;
/// use linfa::traits::{Fit, Predict};
/// use ndarray::Array2;
/// use trimtab::correction::{Correction, SessionSummary, Sessions};
///
/// # fn session(k: usize) -> SessionSummary {
/// #     let toe = k as f64 % 3.0;
/// #     SessionSummary {
/// #         session: format!("s{k}"), date: format!("2026-05-{:02}", 1 + k),
/// #         player: "Ida".into(), head: "head".into(),
/// #         features: [toe, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0], shots: 20, count: [20.0; 5],
/// #         mean: [12.0, 0.1 * toe, toe, 2700.0, 1.45], variance: [2.0, 4.0, 50.0, 1e5, 4e-4],
/// #     }
/// # }
/// # fn main() -> Result<(), Box<dyn std::error::Error>> {
/// let sessions: Sessions = (0..12).map(session).collect();
/// let dataset = DatasetBase::new(sessions, ());
/// let model = Correction::default().fit(&dataset)?;
/// let effects: Array2<f64> = model.predict(&dataset);
/// assert_eq!(effects.dim(), (12, 5));
/// assert!(effects[(2, 2)] > 0.5);
/// # Ok(())
/// # }
/// ```
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Correction(ValidCorrection);

/// Hyper-parameters that were checked.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct ValidCorrection(FitOptions);

impl From<FitOptions> for Correction {
    fn from(options: FitOptions) -> Correction {
        Correction(ValidCorrection(options))
    }
}

impl ParamGuard for Correction {
    type Checked = ValidCorrection;
    type Error = FitError;

    fn check_ref(&self) -> Result<&ValidCorrection, FitError> {
        self.0.0.check()?;
        Ok(&self.0)
    }

    fn check(self) -> Result<ValidCorrection, FitError> {
        self.check_ref()?;
        Ok(self.0)
    }
}

/// Targets are not looked at: the summaries hold what was observed.
impl<T> Fit<Sessions, T, FitError> for ValidCorrection {
    type Object = Model;

    fn fit(&self, dataset: &DatasetBase<Sessions, T>) -> Result<Model, FitError> {
        self.fit_with(None, dataset)
    }
}

/// With last season's model as prior.
impl<'a, T> FitWith<'a, Sessions, T, FitError> for ValidCorrection
where
    T: 'a,
{
    type ObjectIn = Option<&'a Model>;
    type ObjectOut = Model;

    fn fit_with(
        &self,
        last: Option<&'a Model>,
        dataset: &'a DatasetBase<Sessions, T>,
    ) -> Result<Model, FitError> {
        let season = Season {
            prior_version: last.map(|m| m.version),
            ..Season::default()
        };
        let version = last.map_or(1, |m| m.version + 1);
        Ok(fit_scored(dataset.records.iter(), last, season, version, &self.0)?.model)
    }
}

/// What the levers do beyond the physics: a row for each session in the order of their names, a
/// column for each response. Responses that are not in use have zeros.
impl PredictInplace<Sessions, Array2<f64>> for Model {
    fn predict_inplace<'a>(&'a self, sessions: &'a Sessions, y: &mut Array2<f64>) {
        let learned = self.learned();
        let mut locals = BTreeMap::new();
        for (s, mut row) in sessions.iter().zip(y.rows_mut()) {
            let local = locals
                .entry((&s.player, &s.head))
                .or_insert_with(|| learned.local(&s.player, &s.head));
            for (to, from) in row.iter_mut().zip(local.effect(&s.features).mean) {
                *to = from;
            }
        }
    }

    fn default_target(&self, sessions: &Sessions) -> Array2<f64> {
        Array2::zeros((sessions.len(), RESPONSES.len()))
    }
}
