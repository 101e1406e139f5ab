//! Variance components by restricted maximum likelihood.
//!
//! With all coefficients integrated out, the session means are normal with covariance
//! `K = X P Xᵀ + N`. Found is the mode of their likelihood times a weak prior of the components, by
//! Newton steps in the logarithms with the average information matrix: with `alpha = K⁻¹ (y - Xm)`
//! the gradient is `(alphaᵀ K' alpha - tr K⁻¹ K') / 2`, the information `(K' alpha)ᵀ K⁻¹ (K' alpha)
//! / 2`. As the intercepts' prior is vague, this is REML. Sources: N. M. Laird, J. H. Ware 1982,
//! Biometrics 38, 963-974 (model); A. R. Gilmour, R. Thompson, B. R. Cullis 1995, *Average
//! information REML*, Biometrics 51, 1440-1450 (steps; from memory).

use super::arrow::{Arrow, Solution, Spread};
use super::fit::{Effects, FitError};
use super::lines::{Noise, Right, lines, rights};
use super::model::{Components, GROUP_FACTOR};
use super::prior::Prior;
use super::rows::Rows;
use super::{RESPONSES, V7};
use nalgebra::{SMatrix, SVector};
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;

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
/// Degrees of freedom of the tail of session means: see [`tail_weight`].
const TAIL_FREEDOM: f64 = 4.0;
/// Squared distance up to which a session counts in full.
const TAIL_FROM: f64 = 4.0;
/// Rounds of reweighting at most, where the components are known.
const TAIL_ROUNDS: usize = 20;
/// Longest step in a logarithm.
const LONGEST: f64 = 1.5;
/// Step at which the search ends: a hundredth of a percent.
const SETTLED: f64 = 1e-4;

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

/// Weight of a session by the squared distance between its mean and what all others foretell, in
/// variances: 1 up to two standard deviations, then falling as that of a t with four degrees of
/// freedom, `(nu + 4) / (nu + d²)`. Of normal sessions one in twenty is touched, and little, so
/// that the estimates stay those of the normal model; a session that was logged with a wrong club
/// loses its say. Source of the weights: K. L. Lange, R. J. A. Little, J. M. G. Taylor 1989, J. Am.
/// Stat. Assoc. 84, 881-896; that they set in at two standard deviations is ours.
fn tail_weight(squared_distance: f64) -> f64 {
    ((TAIL_FREEDOM + TAIL_FROM) / (TAIL_FREEDOM + squared_distance)).min(1.0)
}

/// Standard deviation of a component's logarithm below which its uncertainty is left alone.
const SURE: f64 = 0.05;
/// Draws from which the share of noise in held-out errors is taken.
const SHARE_DRAWS: u64 = 8;

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
    information: Matrix,
}

/// The end of a search.
#[derive(Debug, Clone)]
pub(super) struct Found {
    pub state: State,
    pub insight: Insight,
    pub weights: Vec<f64>,
    pub converged: bool,
    pub iterations: usize,
}

impl Insight {
    /// Error and its standard deviation of a session that is foretold by all others: `alpha_j /
    /// [K⁻¹]_jj` and `1 / sqrt([K⁻¹]_jj)`. Source: C. E. Rasmussen, C. K. I. Williams 2006,
    /// *Gaussian Processes for Machine Learning*, eq. 5.12.
    fn left_out(&self, j: usize) -> (f64, f64) {
        let own = self.own[j].max(f64::MIN_POSITIVE);
        (self.alpha[j] / own, own.sqrt().recip())
    }
}

impl Found {
    /// Error and its standard deviation of a session that is foretold by all others, as if it had
    /// full weight: how much it deserves is not known beforehand.
    pub fn left_out(&self, rows: &Rows, j: usize) -> (f64, f64) {
        let c = &self.state.components;
        let (error, sd) = self.insight.left_out(j);
        let own = c.session_sd.powi(2) + c.shot_sd.powi(2) / rows.n[j];
        let variance = sd * sd - own * (1.0 / self.weights[j] - 1.0);
        (error, variance.max(own).sqrt())
    }
}

impl Problem {
    fn singular(&self) -> FitError {
        FitError::Singular(RESPONSES[self.r].into())
    }

    /// The posterior for given components and weights of the sessions.
    pub fn at(&self, c: Components, weights: &[f64]) -> Result<State, FitError> {
        let rows = &self.rows;
        let noise = Noise::new(rows, &c, weights);
        let sd = self.prior.sd(&c, self.effects);
        let arrow = Arrow::new(rows, &lines(rows, &noise), &self.prior.earlier, sd)
            .ok_or_else(|| self.singular())?;
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
        let (mut visits, mut sessions) = (0.0, 0.0);
        // Derivatives of K in the logarithms, times alpha.
        let mut moved = [const { Vec::new() }; COUNT];
        moved[0] = vec![0.0; alpha.len()];
        moved[1] = (alpha.iter())
            .map(|a| 2.0 * c.session_sd * c.session_sd * a)
            .collect();
        let weight = |j: usize| noise.q[j] * (c.session_sd.powi(2) + c.shot_sd.powi(2) / rows.n[j]);
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
                visits += together * together - sum * share + cov.of(sum * share, &(s * share));
                for j in range {
                    let q = noise.q[j];
                    let explained = cov.of(q * share, &((rows.x[j] - s * f) * q));
                    own[j] = q - f * q * q - explained;
                    // The session effect of a session with weight w has the variance tau²/w.
                    let w = weight(j);
                    sessions += (alpha[j] * alpha[j] - own[j]) / w;
                    moved[1][j] /= w;
                    moved[0][j] = 2.0 * c.visit_sd * c.visit_sd * together;
                }
            }
        }
        let fresh = self.prior.fresh();
        // An effect that is not in the model has the prior's square, 1, and adds nothing.
        let squares = |mean: &[V7], var: &[V7], fresh: &[V7]| -> f64 {
            let each = mean.iter().zip(var).zip(fresh);
            each.map(|((m, v), f)| (m.component_mul(m) + v - V7::repeat(1.0)).dot(f))
                .sum()
        };
        let mut gradient = Vector::new(
            c.visit_sd * c.visit_sd * visits,
            c.session_sd * c.session_sd * sessions,
            squares(&s.solution.players, &spread.players, &fresh[0]),
            squares(&s.solution.heads, &spread.heads, &fresh[1]),
            squares(&s.solution.pairs, &spread.pairs, &fresh[2]),
        );
        self.move_groups(s, &alpha, &fresh, &mut moved);
        let solved: Vec<Vec<f64>> = moved.iter().map(|q| self.inverse_times(s, q)).collect();
        let mut information = Matrix::from_fn(|i, j| {
            0.5 * (moved[i].iter().zip(&solved[j]))
                .map(|(a, b)| a * b)
                .sum::<f64>()
        });
        for (i, (g, p)) in guesses(self.r).iter().zip(&parts(c)).enumerate() {
            let ratio = COMPONENT_WEIGHT * (g / p).powi(2);
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
        }
    }

    /// Derivatives of K for players, heads and pairs, times alpha.
    fn move_groups(
        &self,
        s: &State,
        alpha: &[f64],
        fresh: &[Vec<V7>; 3],
        moved: &mut [Vec<f64>; COUNT],
    ) {
        let (rows, sd) = (&self.rows, &s.arrow.prior);
        let mut sums = [
            vec![V7::zeros(); rows.players],
            vec![V7::zeros(); rows.heads],
            vec![V7::zeros(); rows.pairs.len()],
        ];
        let places = |q: usize| [rows.pairs[q].player, rows.pairs[q].head, q];
        for (q, pair) in rows.pairs.iter().enumerate() {
            let mut sum = V7::zeros();
            for j in pair.rows.clone() {
                sum += rows.x[j] * alpha[j];
            }
            for (all, at) in sums.iter_mut().zip(places(q)) {
                all[at] += sum;
            }
        }
        let scales = [&sd.players, &sd.heads, &sd.pairs];
        for g in 0..3 {
            for ((sum, k), mask) in sums[g].iter_mut().zip(scales[g]).zip(&fresh[g]) {
                *sum = sum.component_mul(k).component_mul(k).component_mul(mask) * 2.0;
            }
            moved[2 + g] = vec![0.0; alpha.len()];
            for (q, pair) in rows.pairs.iter().enumerate() {
                let by = &sums[g][places(q)[g]];
                for j in pair.rows.clone() {
                    moved[2 + g][j] = rows.x[j].dot(by);
                }
            }
        }
    }

    /// One Newton step up, shortened until it is one; and how long it was. `None` at the top.
    fn step(
        &self,
        state: &State,
        insight: &Insight,
        weights: &[f64],
    ) -> Result<Option<(State, f64)>, FitError> {
        let chol = insight
            .information
            .cholesky()
            .ok_or_else(|| self.singular())?;
        let mut step = chol.solve(&insight.gradient);
        step *= (LONGEST / step.amax()).min(1.0);
        while step.amax() > SETTLED {
            let there = parts(&state.components).component_mul(&step.map(f64::exp));
            let tried = self.at(with(state.components.shot_sd, &there), weights)?;
            if tried.log_posterior >= state.log_posterior {
                return Ok(Some((tried, step.amax())));
            }
            step *= 0.5;
        }
        Ok(None)
    }

    /// The mode for given weights of the sessions, from a start. Without steps, the start.
    pub fn find_with(
        &self,
        start: Components,
        most: usize,
        weights: &[f64],
    ) -> Result<Found, FitError> {
        let mut found = Found {
            insight: Insight::default(),
            state: self.at(start, weights)?,
            weights: weights.to_vec(),
            converged: most == 0 || self.rows.y.is_empty(),
            iterations: 0,
        };
        found.insight = self.insight(&found.state);
        while found.iterations < most {
            let Some((state, _)) = self.step(&found.state, &found.insight, weights)? else {
                found.converged = true;
                break;
            };
            found.insight = self.insight(&state);
            found.state = state;
            found.iterations += 1;
        }
        Ok(found)
    }

    /// The same with sessions that are far off losing weight: a step and new weights by turns,
    /// until both settle.
    pub fn find(&self, start: Components, most: usize) -> Result<Found, FitError> {
        let mut found = self.find_with(start, 0, &vec![1.0; self.rows.y.len()])?;
        found.converged = self.rows.y.is_empty();
        let mut rounds = 0;
        while rounds < most.max(TAIL_ROUNDS) {
            rounds += 1;
            let stepped = match most {
                0 => None,
                _ => self.step(&found.state, &found.insight, &found.weights)?,
            };
            let length = stepped.as_ref().map_or(0.0, |s| s.1);
            if let Some((state, _)) = stepped {
                found.insight = self.insight(&state);
                found.state = state;
                found.iterations += 1;
            }
            if length > 0.3 {
                continue;
            }
            let next: Vec<f64> = (0..found.weights.len())
                .map(|j| {
                    let (error, sd) = found.left_out(&self.rows, j);
                    tail_weight((error / sd).powi(2))
                })
                .collect();
            let change = (next.iter().zip(&found.weights)).map(|(a, b)| (a - b).abs());
            if change.fold(0.0, f64::max) < 1e-3 {
                if length == 0.0 {
                    found.converged = true;
                    break;
                }
                continue;
            }
            found.weights = next;
            found.state = self.at(found.state.components, &found.weights)?;
            found.insight = self.insight(&found.state);
        }
        Ok(found)
    }

    /// Standard deviations of the logarithms of the components, from the information.
    pub fn log_sd(&self, found: &Found) -> Components {
        let covariance = found.insight.information.cholesky().map(|c| c.inverse());
        let sd = covariance.map_or_else(Vector::zeros, |c| c.diagonal().map(f64::sqrt));
        with(0.0, &sd)
    }

    /// By what factor the variances of the effects grow on average over pairs and levers when the
    /// components are not known but estimated: the mean over their posterior of the variance plus
    /// the variance of the mean, by three-point Gauss-Hermite rules along the axes of the
    /// components' covariance. Source: R. E. Kass, D. Steffey 1989, *Approximate Bayesian inference
    /// in conditionally independent hierarchical models*, J. Am. Stat. Assoc. 84, 717-726 (idea;
    /// from memory).
    pub fn inflation(&self, found: &Found) -> Result<f64, FitError> {
        let Some(covariance) = found.insight.information.cholesky().map(|c| c.inverse()) else {
            return Ok(1.0);
        };
        if covariance.diagonal().amax().sqrt() < SURE {
            return Ok(1.0);
        }
        let Some(root) = covariance.cholesky() else {
            return Ok(1.0);
        };
        let (rows, c) = (&self.rows, &found.state.components);
        let spoken = |q: usize| {
            let moved = |f: usize| {
                rows.x[rows.pairs[q].rows.clone()]
                    .iter()
                    .any(|x| x[f] != 0.0)
            };
            V7::from_fn(|f, _| f64::from(u8::from(moved(f))))
        };
        let spoken: Vec<V7> = (0..rows.pairs.len()).map(spoken).collect();
        let (mut total, mut count) = (0.0, 0.0);
        for (axis, sign) in (0..COUNT).flat_map(|a| [(a, 1.0), (a, -1.0)]) {
            let step = root.l().column(axis) * (sign * 3.0_f64.sqrt());
            let there = parts(c).component_mul(&step.map(f64::exp));
            let state = self.at(with(c.shot_sd, &there), &found.weights)?;
            let spread = state.arrow.spread();
            for (q, asked) in spoken.iter().enumerate() {
                let here = found.insight.spread.line[q].effects.diagonal();
                let there = spread.line[q].effects.diagonal();
                let moved = state.solution.line[q].1 - found.state.solution.line[q].1;
                for f in (0..7).filter(|f| asked[*f] > 0.0 && here[*f] > 0.0) {
                    total += (there[f] + moved[f] * moved[f] - here[f]) / (6.0 * here[f]);
                    count += 1.0 / (2 * COUNT) as f64;
                }
            }
        }
        Ok((1.0 + total / f64::max(count, 1.0)).clamp(1.0, 4.0))
    }

    /// The share of noise in the squares of held-out errors; the rest is that of the effects. From
    /// a few draws of noise, the same every time.
    pub fn noise_share(&self, found: &Found) -> f64 {
        let (rows, c) = (&self.rows, &found.state.components);
        let (mut noise, mut all) = (0.0, 0.0);
        for draw in 0..SHARE_DRAWS {
            let mut random = ChaCha8Rng::seed_from_u64(draw);
            // Signs will do: only second moments count (M. F. Hutchinson 1990).
            let mut sign = || if random.random::<bool>() { 1.0 } else { -1.0 };
            let mut values = vec![0.0; rows.y.len()];
            for v in &rows.visits {
                let shared = c.visit_sd * sign();
                for j in v.clone() {
                    values[j] = shared + sign() / found.state.noise.q[j].sqrt();
                }
            }
            let alpha = self.inverse_times(&found.state, &values);
            for (a, own) in alpha.iter().zip(&found.insight.own) {
                noise += a * a / own.max(f64::MIN_POSITIVE);
                all += 1.0;
            }
        }
        if all > 0.0 {
            (noise / all).clamp(0.05, 1.0)
        } else {
            1.0
        }
    }
}
