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
        Term::Build {
            player,
            head,
            feature,
        } => {
            f64::from(u8::from(*player == s.player && *head == s.head))
                * s.features[position(feature)]
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
            Term::Build { feature, .. } => scale[position(feature)] * c.build_factor,
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
        let cross = &self.cov * x.transpose();
        let total = (&x * &cross + noise(r, sessions, c))
            .cholesky()
            .expect("positive definite");
        Dense {
            terms: self.terms.clone(),
            mean: &self.mean + &cross * total.solve(&(y - &x * &self.mean)),
            cov: &self.cov - &cross * total.solve(&cross.transpose()),
        }
    }

    /// Mean and covariance of the effects of a player with a head. Terms that no session speaks of
    /// are not in the list and keep their prior.
    pub fn local(
        &self,
        r: usize,
        player: &str,
        head: &str,
        c: &Components,
    ) -> (DVector<f64>, DMatrix<f64>) {
        let mut a = DMatrix::zeros(FEATURES.len(), self.terms.len());
        let mut unspoken = DVector::<f64>::zeros(FEATURES.len());
        for (f, name) in FEATURES.iter().enumerate() {
            let (player, head) = (player.to_string(), head.to_string());
            let feature = (*name).to_string();
            for term in [
                Term::Shared {
                    feature: feature.clone(),
                },
                Term::Player {
                    player: player.clone(),
                    feature: feature.clone(),
                },
                Term::Head {
                    head: head.clone(),
                    feature: feature.clone(),
                },
                Term::Build {
                    player,
                    head,
                    feature,
                },
            ] {
                match self.terms.iter().position(|t| *t == term) {
                    Some(k) => a[(f, k)] = 1.0,
                    None => unspoken[f] += Dense::prior(r, &[term], c).cov[(0, 0)],
                }
            }
        }
        let cov = &a * &self.cov * a.transpose() + DMatrix::from_diagonal(&unspoken);
        (&a * &self.mean, cov)
    }

    /// Mean and standard deviation that this prior foretells of a session when others are known.
    pub fn foretells(
        &self,
        r: usize,
        left: &SessionSummary,
        rest: &[&SessionSummary],
        c: &Components,
    ) -> (f64, f64) {
        let mut all = rest.to_vec();
        all.push(left);
        let n = rest.len();
        let x = DMatrix::from_fn(n + 1, self.terms.len(), |j, k| {
            entry(&self.terms[k], all[j])
        });
        let total = &x * &self.cov * x.transpose() + noise(r, &all, c);
        let y = DVector::from_iterator(n, rest.iter().map(|s| s.mean[r]));
        let expected = &x * &self.mean;
        let known = total.view((0, 0), (n, n)).into_owned();
        let cross = total.view((0, n), (n, 1)).into_owned();
        let solved = known.cholesky().expect("positive definite").solve(&cross);
        let mean = expected[n] + solved.column(0).dot(&(y - expected.rows(0, n)));
        let var = total[(n, n)] - solved.column(0).dot(&cross.column(0));
        (mean, var.sqrt())
    }
}

/// Covariance of the means of sessions, given the coefficients: one visit effect for a player with
/// a head on a day, a session effect and the shots.
fn noise(r: usize, sessions: &[&SessionSummary], c: &Components) -> DMatrix<f64> {
    let visit = |s: &SessionSummary| (s.date.clone(), s.player.clone(), s.head.clone());
    DMatrix::from_fn(sessions.len(), sessions.len(), |i, j| {
        let shared = f64::from(u8::from(visit(sessions[i]) == visit(sessions[j])));
        let own = c.session_sd.powi(2) + c.shot_sd.powi(2) / sessions[i].count[r];
        shared * c.visit_sd.powi(2) + if i == j { own } else { 0.0 }
    })
}
