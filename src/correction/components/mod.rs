//! Variance components by restricted maximum likelihood.
//!
//! With all coefficients integrated out, the session means are normal with covariance
//! `K = X P Xᵀ + N`. Found is the mode of their likelihood times a weak prior of the components, by
//! Newton steps in the logarithms with the average information matrix: with `alpha = K⁻¹ (y - Xm)`
//! the gradient is `(alphaᵀ K' alpha - tr K⁻¹ K') / 2`, the information `(K' alpha)ᵀ K⁻¹ (K' alpha)
//! / 2`. As the intercepts' prior is vague, this is REML. Sources: N. M. Laird, J. H. Ware 1982,
//! Biometrics 38, 963-974 (model); A. R. Gilmour, R. Thompson, B. R. Cullis 1995, *Average
//! information REML*, Biometrics 51, 1440-1450 (steps; from memory).

mod climb;
mod information;
mod unsure;

pub(super) use climb::Found;
pub use climb::TAIL_CONSISTENCY;

use super::arrow::{Arrow, Solution, Spread};
use super::fit::{Effects, FitError};
use super::lines::{Line, Noise, Right, lines, rights};
use super::model::{Components, GROUP_FACTOR};
use super::prior::Prior;
use super::rows::Rows;
use super::{RESPONSES, V7};
use nalgebra::{SMatrix, SVector};

/// Prior standard deviation of an intercept by response: vague against any launch.
pub(super) const INTERCEPT_SD: [f64; 5] = [20.0, 10.0, 40.0, 6000.0, 1.0];
/// Day-to-day standard deviation of a player with a head before any data: set-up, ball, swing of
/// the day (common practice, no source).
pub(super) const VISIT_SD: [f64; 5] = [0.4, 0.5, 1.5, 120.0, 0.008];
/// What sessions of one day still differ by, before any data (common practice, no source).
pub(super) const SESSION_SD: [f64; 5] = [0.2, 0.25, 0.7, 60.0, 0.004];
/// Weight of the prior guess of a variance component, in observations.
pub(super) const COMPONENT_WEIGHT: f64 = 4.0;
/// Guess of the factor on the prior scale by which a player on one head differs from the sum of
/// the effects of player and head (common practice, no source).
pub(super) const BUILD_FACTOR: f64 = 0.35;
const COUNT: usize = 5;
type Vector = SVector<f64, COUNT>;
type Matrix = SMatrix<f64, COUNT, COUNT>;

/// The guesses before any data, in the order of the search: visit, session, player, head, build.
fn guesses(r: usize) -> Vector {
    Vector::new(
        VISIT_SD[r],
        SESSION_SD[r],
        GROUP_FACTOR,
        GROUP_FACTOR,
        BUILD_FACTOR,
    )
}

fn parts(c: &Components) -> Vector {
    Vector::new(
        c.visit_sd,
        c.session_sd,
        c.player_factor,
        c.head_factor,
        c.build_factor,
    )
}

/// Components before any data.
pub(super) fn start(r: usize, shot_sd: f64) -> Components {
    with(shot_sd, &guesses(r))
}

fn with(shot_sd: f64, p: &Vector) -> Components {
    Components {
        shot_sd,
        visit_sd: p[0],
        session_sd: p[1],
        player_factor: p[2],
        head_factor: p[3],
        build_factor: p[4],
    }
}

/// One response's regression.
#[derive(Debug, Clone)]
pub(super) struct Problem {
    pub r: usize,
    pub rows: Rows,
    pub effects: Effects,
    pub prior: Prior,
}

/// A regression at given components.
#[derive(Debug, Clone)]
pub(super) struct State {
    pub components: Components,
    pub noise: Noise,
    pub lines: Vec<Line>,
    pub arrow: Arrow,
    pub right: Vec<Right>,
    pub solution: Solution,
    /// Logarithm of the posterior density of the components, up to a constant.
    pub log_posterior: f64,
}

/// What follows from a state with the posterior variances.
#[derive(Debug, Clone, Default)]
pub(super) struct Insight {
    pub spread: Spread,
    /// `K⁻¹ (y - Xm)` of each session.
    pub alpha: Vec<f64>,
    /// Diagonal of `K⁻¹`.
    pub own: Vec<f64>,
    gradient: Vector,
    /// Of the logarithms at the mode: the average information, and how the gradient bends.
    information: Matrix,
    /// About the expected information, from the average one.
    expected: Matrix,
}

impl Insight {
    /// Length of a step in the components' standard deviations.
    fn size(&self, step: &Vector) -> f64 {
        step.dot(&(self.information * step)).sqrt()
    }

    /// Error and its standard deviation of a session that is foretold by all others: `alpha_j /
    /// [K⁻¹]_jj` and `1 / sqrt([K⁻¹]_jj)`. Source: C. E. Rasmussen, C. K. I. Williams 2006,
    /// *Gaussian Processes for Machine Learning*, eq. 5.12.
    fn left_out(&self, j: usize) -> (f64, f64) {
        let own = self.own[j].max(f64::MIN_POSITIVE);
        (self.alpha[j] / own, own.sqrt().recip())
    }
}

impl Problem {
    fn singular(&self) -> FitError {
        FitError::Singular(RESPONSES[self.r].into())
    }

    /// The posterior for given components and weights of the sessions.
    pub fn at(&self, c: Components, weights: &[f64]) -> Result<State, FitError> {
        self.given(&self.rows, c, weights)
    }

    /// The same from other sessions of the same pairs.
    pub fn given(&self, rows: &Rows, c: Components, weights: &[f64]) -> Result<State, FitError> {
        let noise = Noise::new(rows, &c, weights);
        let sd = self.prior.sd(&c, self.effects);
        let lines = lines(rows, &noise);
        let arrow =
            Arrow::new(rows, &lines, &self.prior.earlier, sd).ok_or_else(|| self.singular())?;
        let weighed = noise.weigh(rows, &rows.y);
        let mut right = rights(rows, &weighed);
        for (r, old) in right.iter_mut().zip(&self.prior.earlier) {
            if let Some((_, h)) = old {
                r.1 += h;
            }
        }
        let solution = arrow.solve(&right);
        let observed: f64 = weighed.iter().zip(&rows.y).map(|(a, b)| a * b).sum();
        let explained: f64 = (right.iter().zip(&solution.line))
            .map(|((a, x), (b, g))| a * b + x.dot(g))
            .sum();
        let before: f64 = parts(&c)
            .iter()
            .zip(&guesses(self.r))
            .filter(|(p, _)| **p > 0.0)
            .map(|(p, g)| (p / g).ln() * 2.0 + (g / p).powi(2))
            .sum();
        let log_posterior = -0.5
            * (noise.log_det + arrow.log_det + observed - explained + COMPONENT_WEIGHT * before);
        if !log_posterior.is_finite() {
            return Err(self.singular());
        }
        Ok(State {
            components: c,
            noise,
            lines,
            arrow,
            right,
            solution,
            log_posterior,
        })
    }

    fn fitted(&self, line: &[Right]) -> Vec<f64> {
        let mut out = vec![0.0; self.rows.y.len()];
        for (p, (a, g)) in self.rows.pairs.iter().zip(line) {
            for j in p.rows.clone() {
                out[j] = a + self.rows.x[j].dot(g);
            }
        }
        out
    }

    /// `K⁻¹` times a value for each session.
    fn inverse_times(&self, s: &State, values: &[f64]) -> Vec<f64> {
        if values.iter().all(|v| *v == 0.0) {
            // An effect that is not in the model.
            return values.to_vec();
        }
        let right = rights(&self.rows, &s.noise.weigh(&self.rows, values));
        let fitted = self.fitted(&s.arrow.solve(&right).line);
        let left: Vec<f64> = values.iter().zip(fitted).map(|(v, f)| v - f).collect();
        s.noise.weigh(&self.rows, &left)
    }

    /// Posterior variances, held-out errors, gradient and information.
    pub fn insight(&self, s: &State) -> Insight {
        let (rows, noise, c) = (&self.rows, &s.noise, &s.components);
        let spread = s.arrow.spread();
        let fitted = self.fitted(&s.solution.line);
        let left: Vec<f64> = rows.y.iter().zip(fitted).map(|(y, f)| y - f).collect();
        let alpha = noise.weigh(rows, &left);
        let mut own = vec![0.0; alpha.len()];
        // Of each component: `alphaᵀ K' alpha / 2` and `tr K⁻¹ K' / 2`, of which the gradient is the
        // difference; and `K' alpha`, of visits and sessions by row.
        let (mut pull, mut trace) = (Vector::zeros(), Vector::zeros());
        let (visit, session) = (c.visit_sd * c.visit_sd, c.session_sd * c.session_sd);
        let mut moved = [vec![0.0; alpha.len()], vec![0.0; alpha.len()]];
        let weight = |j: usize| noise.q[j] * (session + c.shot_sd * c.shot_sd / rows.n[j]);
        for (p, pair) in rows.pairs.iter().enumerate() {
            let cov = &spread.line[p];
            for v in pair.visits.clone() {
                let range = rows.visits[v].clone();
                let mut s = V7::zeros();
                for j in range.clone() {
                    s += rows.x[j] * noise.q[j];
                }
                let (f, sum) = (noise.f[v], noise.sum[v]);
                let share = 1.0 - f * sum;
                let together: f64 = range.clone().map(|j| alpha[j]).sum();
                let open = sum * share - cov.of(sum * share, &(s * share));
                pull[0] += visit * together * together;
                trace[0] += visit * open;
                let alone = range.len() == 1;
                for j in range {
                    let q = noise.q[j];
                    own[j] = match alone {
                        true => open,
                        false => q - f * q * q - cov.of(q * share, &((rows.x[j] - s * f) * q)),
                    };
                    // The session effect of a session with weight w has the variance tau²/w.
                    let of_one = session / weight(j);
                    pull[1] += of_one * alpha[j] * alpha[j];
                    trace[1] += of_one * own[j];
                    moved[0][j] = 2.0 * visit * together;
                    moved[1][j] = 2.0 * of_one * alpha[j];
                }
            }
        }
        let fresh = self.prior.fresh();
        let (mean, var) = (&s.solution, &spread);
        let groups = [
            (&mean.players, &var.players),
            (&mean.heads, &var.heads),
            (&mean.pairs, &var.pairs),
        ];
        for (g, ((mean, var), fresh)) in groups.into_iter().zip(&fresh).enumerate() {
            // An effect that is not in the model has the prior's variance, 1, and adds nothing.
            for ((m, v), f) in mean.iter().zip(var).zip(fresh) {
                pull[2 + g] += m.component_mul(m).dot(f);
                trace[2 + g] += (V7::repeat(1.0) - v).dot(f);
            }
        }
        let mut information = self.average_information(s, &moved, &fresh);
        let mut gradient = pull - trace;
        // Trace over pull is what was expected of a component over what is there.
        let scale = trace.zip_map(&pull, |t, p| {
            if p > 0.0 {
                (t / p).clamp(0.0, 1e6).sqrt()
            } else {
                0.0
            }
        });
        let mut expected = Matrix::from_fn(|i, j| scale[i] * information[(i, j)] * scale[j]);
        for (i, (g, p)) in guesses(self.r).iter().zip(&parts(c)).enumerate() {
            let ratio = COMPONENT_WEIGHT * (g / p).powi(2);
            expected[(i, i)] += 2.0 * COMPONENT_WEIGHT;
            // The average information is that of a variance; in its logarithm the gradient bends
            // the likelihood too, and where data want none of a component that is all there is.
            information[(i, i)] += 2.0 * ratio + (-2.0 * gradient[i]).max(0.0);
            gradient[i] += ratio - COMPONENT_WEIGHT;
        }
        Insight {
            spread,
            alpha,
            own,
            gradient,
            information,
            expected,
        }
    }
}
