//! A model made ready to answer one question: what does a change of the levers do beyond the
//! physics, for this player and head, and how sure is that?
//!
//! Each response is fitted on its own. Their errors hang together all the same, as the same
//! sessions are off in several responses at once (start line and spin axis above all): with `M_q`
//! the information of pair `q` of a response and `C_q` the covariance of its effects with those
//! asked for, the covariance of the errors of responses `r` and `s` is `rho_rs Σ_q C_q L_q (C_q
//! L_q)ᵀ`, `L_q` the Cholesky factor of `M_q`. Exact if a session's weights in the two responses are
//! in proportion, `rho` their noise's correlation, and effects in different responses independent
//! before any data. Source of the idea: A. Zellner 1962, *An efficient method of estimating
//! seemingly unrelated regressions*, J. Am. Stat. Assoc. 57, 348-368; the means stay those of the
//! single regressions, which for sessions that measured all responses loses little.

use super::arrow::{Arrow, PriorSd, Solution};
use super::components::INTERCEPT_SD;
use super::lines::{Line, Right};
use super::local::{Local, day};
use super::model::{Model, PairInformation, ResponseModel, unpack};
use super::rows::{Pair, Rows};
use super::{M7, V7};
use crate::priors;
use nalgebra::{Dyn, OMatrix, SMatrix, U7};
use rayon::prelude::*;
use std::collections::HashMap;

/// One response's posterior, factored.
struct Answers {
    arrow: Arrow,
    solution: Solution,
    players: HashMap<String, usize>,
    heads: HashMap<String, usize>,
    pairs: HashMap<(usize, usize), usize>,
    /// Of each pair, in the order of the arrow, its place among those of all responses.
    places: Vec<usize>,
    /// Transposed square roots of their information, widened.
    roots: Vec<M7>,
    /// What these see of effects without a pair's own.
    through: Vec<M7>,
    /// Scales of what an unknown player, head or pair adds.
    unknown: [V7; 3],
    inflation: f64,
}

/// A model made ready to answer.
pub struct Learned {
    answers: Vec<Option<Answers>>,
    /// Pairs of all responses.
    pairs: usize,
    in_use: Vec<bool>,
    rho: SMatrix<f64, 5, 5>,
    /// Of what a day adds.
    visit_sd: Option<[f64; 5]>,
}

/// Mean and covariance of one response's effects, and how each pair's noise reaches them: seven
/// rows for each pair of any response.
struct Answer {
    mean: V7,
    covariance: M7,
    reach: OMatrix<f64, Dyn, U7>,
}

/// Lower triangular square root of a positive semidefinite matrix; columns without anything left
/// are zero.
fn root(m: &M7) -> M7 {
    let mut l = M7::zeros();
    for c in 0..7 {
        let left = m[(c, c)] - (0..c).map(|k| l[(c, k)] * l[(c, k)]).sum::<f64>();
        if left <= 1e-12 * m[(c, c)] {
            continue;
        }
        l[(c, c)] = left.sqrt();
        for r in c + 1..7 {
            let dot: f64 = (0..c).map(|k| l[(r, k)] * l[(c, k)]).sum();
            l[(r, c)] = (m[(r, c)] - dot) / l[(c, c)];
        }
    }
    l
}

fn name(pair: &PairInformation) -> (&str, &str) {
    (&pair.player, &pair.head)
}

impl Answers {
    /// `places` is where pairs stand among those of all responses.
    fn new(r: usize, m: &ResponseModel, places: &HashMap<(&str, &str), usize>) -> Option<Answers> {
        let p = &m.posterior;
        let c = &m.components;
        let scale = V7::from(priors::response()[r]);
        let of = |known: &[f64; 7], factor: f64| {
            V7::from_fn(|f, _| {
                let sd = known[f];
                if sd > 0.0 { sd } else { scale[f] * factor }
            })
        };
        let numbers = |groups: &[super::model::Group]| -> HashMap<String, usize> {
            let each = groups.iter().enumerate();
            each.map(|(i, g)| (g.name.clone(), i)).collect()
        };
        let (players, heads) = (numbers(&p.players), numbers(&p.heads));
        let mut known = Vec::with_capacity(p.pairs.len());
        for pair in &p.pairs {
            known.push((*players.get(&pair.player)?, *heads.get(&pair.head)?, pair));
        }
        // A file may have been written by hand.
        known.sort_by_key(|k| (k.0, k.1));
        let rows = Rows {
            players: p.players.len(),
            heads: p.heads.len(),
            pairs: (known.iter())
                .map(|k| Pair {
                    player: k.0,
                    head: k.1,
                    visits: 0..0,
                    rows: 0..0,
                })
                .collect(),
            visits: vec![],
            x: vec![],
            y: vec![],
            n: vec![],
            session: vec![],
        };
        let nothing = Line {
            weight: 0.0,
            cross: V7::zeros(),
            square: M7::zeros(),
        };
        let prior = PriorSd {
            intercept: INTERCEPT_SD[r],
            shared: of(&p.shared_prior_sd, 1.0),
            players: (p.players.iter())
                .map(|g| of(&g.prior_sd, c.player_factor))
                .collect(),
            heads: (p.heads.iter())
                .map(|g| of(&g.prior_sd, c.head_factor))
                .collect(),
            pairs: (known.iter())
                .map(|k| of(&k.2.prior_sd, c.build_factor))
                .collect(),
        };
        let earlier: Vec<_> = (known.iter())
            .map(|k| Some((unpack(&k.2.information), V7::from(k.2.vector))))
            .collect();
        let arrow = Arrow::new(&rows, &vec![nothing; known.len()], &earlier, prior)?;
        let widened = m.inflation.sqrt();
        let roots: Vec<M7> = (earlier.iter().flatten())
            .map(|(m, _)| root(m).transpose() * widened)
            .collect();
        let right: Vec<Right> = (earlier.iter().flatten()).map(|(_, h)| (0.0, *h)).collect();
        let solution = arrow.solve(&right);
        Some(Answers {
            solution,
            players,
            heads,
            pairs: (known.iter().enumerate())
                .map(|(i, k)| ((k.0, k.1), i))
                .collect(),
            places: (known.iter()).map(|k| places[&name(k.2)]).collect(),
            through: (roots.iter().enumerate())
                .map(|(q, root)| root * arrow.shrink(q))
                .collect(),
            roots,
            arrow,
            // The mean of the squared factor, not the square of its mode.
            unknown: [
                (c.player_factor, m.components_log_sd.player_factor),
                (c.head_factor, m.components_log_sd.head_factor),
                (c.build_factor, m.components_log_sd.build_factor),
            ]
            .map(|(f, sd)| scale * (f * (sd * sd).exp())),
            inflation: m.inflation,
        })
    }

    fn answer(&self, player: &str, head: &str, pairs: usize) -> Answer {
        let player = self.players.get(player).copied();
        let head = self.heads.get(head).copied();
        let pair = player.zip(head).and_then(|k| self.pairs.get(&k)).copied();
        let target = self.arrow.target(player, head, pair);
        let mean = self.arrow.mean(&self.solution, player, head, pair);
        let square = |v: &V7| M7::from_diagonal(&v.component_mul(v));
        let mut covariance = target.covariance * self.inflation;
        let known = [player.is_some(), head.is_some(), pair.is_some()];
        for (scale, known) in self.unknown.iter().zip(known) {
            if !known {
                covariance += square(scale);
            }
        }
        let mut reach = OMatrix::<f64, Dyn, U7>::zeros(7 * pairs);
        for ((place, through), c) in (self.places.iter().zip(&self.through)).zip(target.with_others)
        {
            let mut there = reach.fixed_rows_mut::<7>(7 * place);
            there.copy_from(&(through * c));
        }
        if let Some(q) = pair {
            let mut there = reach.fixed_rows_mut::<7>(7 * self.places[q]);
            there += self.roots[q] * self.arrow.inner(q);
        }
        Answer {
            mean,
            covariance,
            reach,
        }
    }
}

impl Learned {
    /// Factors the posteriors of a model. A response whose posterior cannot be factored (a file
    /// that was tampered with) counts as not in use.
    pub fn new(model: &Model) -> Learned {
        let responses = &model.responses[..model.responses.len().min(5)];
        let mut places = HashMap::new();
        for pair in responses.iter().flat_map(|m| &m.posterior.pairs) {
            let next = places.len();
            places.entry(name(pair)).or_insert(next);
        }
        let answers = (responses.par_iter().enumerate())
            .map(|(r, m)| Answers::new(r, m, &places))
            .collect();
        Learned {
            in_use: model.responses.iter().map(|m| m.in_use).collect(),
            rho: SMatrix::from_fn(|r, s| model.noise_correlation[r][s]),
            pairs: places.len(),
            answers,
            visit_sd: (model.responses.len() >= 5)
                .then(|| std::array::from_fn(|r| model.responses[r].components.visit_sd)),
        }
    }

    /// The correction for a player on a head; a response that is not in use stays bare physics.
    /// Players and heads that the model has not seen get the shared effect with a wider interval.
    pub fn local(&self, player: &str, head: &str) -> Local {
        self.of(player, head, |r| self.in_use[r])
    }

    /// The same with all responses, in use or not.
    pub fn local_of_all(&self, player: &str, head: &str) -> Local {
        self.of(player, head, |_| true)
    }

    fn of(&self, player: &str, head: &str, wanted: impl Fn(usize) -> bool) -> Local {
        let answers: Vec<Option<Answer>> = (self.answers.iter().enumerate())
            .map(|(r, a)| {
                Some(
                    a.as_ref()
                        .filter(|_| wanted(r))?
                        .answer(player, head, self.pairs),
                )
            })
            .collect();
        let mut out = Local::unlearned();
        if let Some(sd) = &self.visit_sd {
            out.day = day(sd, |r, s| self.rho[(r, s)]);
        }
        for (r, a) in answers.iter().enumerate() {
            let Some(a) = a else { continue };
            out.mean[r] = a.mean;
            // What is learned of the one no longer hangs together with what is not of the other.
            for s in 0..5 {
                out.covariance[5 * r + s] = M7::zeros();
                out.covariance[5 * s + r] = M7::zeros();
            }
            out.covariance[6 * r] = a.covariance;
            for (s, b) in answers.iter().enumerate().take(r) {
                let Some(b) = b else { continue };
                let sum = a.reach.tr_mul(&b.reach) * self.rho[(r, s)];
                out.covariance[5 * r + s] = sum;
                out.covariance[5 * s + r] = sum.transpose();
            }
        }
        out
    }
}
