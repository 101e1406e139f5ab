//! Gaussian conditioning in the space of the observations: the fit of a correction by another
//! path. With prior `N(m, P)` of the coefficients and noise `N(0, R)` of the sessions,
//! `mean = m + P Xᵀ (X P Xᵀ + R)⁻¹ (y - X m)`: no normal equations, no augmented rows.
//! Source: C. E. Rasmussen, C. K. I. Williams 2006, Gaussian Processes for Machine Learning,
//! eq. 2.11 and A.6 (from memory).

use nalgebra::{DMatrix, DVector};
use trimtab::club::FEATURES;
use trimtab::correction::{Components, ResponseModel, SessionSummary, Term};
use trimtab::priors;

/// A joint Gaussian of coefficients and sessions.
pub struct Dense {
    pub terms: Vec<Term>,
    pub mean: DVector<f64>,
    pub cov: DMatrix<f64>,
}

fn position(feature: &str) -> usize {
    FEATURES
        .iter()
        .position(|f| *f == feature)
        .expect("a feature")
}

/// What a coefficient is multiplied with in a session.
pub fn entry(term: &Term, s: &SessionSummary) -> f64 {
    match term {
        Term::Shared { feature } => s.features[position(feature)],
        Term::Player { player, feature } => {
            f64::from(u8::from(*player == s.player)) * s.features[position(feature)]
        }
        Term::Head { head, feature } => {
            f64::from(u8::from(*head == s.head)) * s.features[position(feature)]
        }
        Term::Intercept { player, head } => {
            f64::from(u8::from(*player == s.player && *head == s.head))
        }
    }
}

impl Dense {
    /// The prior of a response's terms for given variance components.
    pub fn prior(r: usize, terms: &[Term], c: &Components) -> Dense {
        let scale = priors::response()[r];
        // The vague prior of an intercept, as the fit states it.
        let intercept = [20.0, 10.0, 40.0, 6000.0, 1.0][r];
        let sd = |t: &Term| match t {
            Term::Shared { feature } => scale[position(feature)],
            Term::Player { feature, .. } => scale[position(feature)] * c.player_factor,
            Term::Head { feature, .. } => scale[position(feature)] * c.head_factor,
            Term::Intercept { .. } => intercept,
        };
        let var = DVector::from_iterator(terms.len(), terms.iter().map(|t| sd(t).powi(2)));
        Dense {
            terms: terms.to_vec(),
            mean: DVector::zeros(terms.len()),
            cov: DMatrix::from_diagonal(&var),
        }
    }

    /// The terms of a fitted response, without lever effects if `bare`.
    pub fn terms(m: &ResponseModel, bare: bool) -> Vec<Term> {
        let all = m.coefficients.iter().map(|c| c.term.clone());
        all.filter(|t| !bare || !t.is_slope()).collect()
    }

    /// The same after seeing sessions, whose noise is that of given variance components.
    pub fn given(&self, r: usize, sessions: &[&SessionSummary], c: &Components) -> Dense {
        self.given_as(r, sessions, c, &Term::clone)
    }

    /// The same where the sessions know the terms under other names.
    pub fn given_as(
        &self,
        r: usize,
        sessions: &[&SessionSummary],
        c: &Components,
        name: &dyn Fn(&Term) -> Term,
    ) -> Dense {
        let n = sessions.len();
        let names: Vec<Term> = self.terms.iter().map(name).collect();
        let x = DMatrix::from_fn(n, names.len(), |j, k| entry(&names[k], sessions[j]));
        let y = DVector::from_iterator(n, sessions.iter().map(|s| s.mean[r]));
        let noise = DVector::from_iterator(
            n,
            sessions
                .iter()
                .map(|s| c.session_sd.powi(2) + c.shot_sd.powi(2) / s.count[r]),
        );
        let cross = &self.cov * x.transpose();
        let total = (&x * &cross + DMatrix::from_diagonal(&noise))
            .cholesky()
            .expect("positive definite");
        Dense {
            terms: self.terms.clone(),
            mean: &self.mean + &cross * total.solve(&(y - &x * &self.mean)),
            cov: &self.cov - &cross * total.solve(&cross.transpose()),
        }
    }

    /// What it says of a session's mean.
    pub fn says(&self, s: &SessionSummary) -> f64 {
        let terms = self.terms.iter().zip(self.mean.iter());
        terms.map(|(t, m)| entry(t, s) * m).sum()
    }
}
