//! Screening: exact predictions only of what an estimate with its error cannot rule out.
//!
//! Some hundred settings, spread over what there is, are predicted exactly, and a polynomial is
//! fitted to them ([`Surrogate`]). It prices all settings in the same worlds; effort is exact. A
//! setting is ruled out if it would be no finalist even with a price lower by [`SURE`] times the
//! error of the polynomial at settings that it had not seen. What is left is predicted exactly, the
//! most promising first; each batch tells the error again, there where it matters, and joins the
//! fit. The end is reached when nothing is left.

use super::choose::{CHEAPEST, KINDS};
use super::estimate::{Errors, Guess, Line, PSI, Part, line, psi_fast, sum};
use super::levers::{Kind, Undo};
use super::loss::{ASKED, Target};
use super::predict::{Scratch, WORLDS};
use super::search::NOT_THE_CLUB;
use super::surrogate::{Axes, Coordinates, Output, Surrogate, outcome, output};
use super::weigh::{Draft, Scored, Weigher};
use crate::head::SettingError;
use rayon::prelude::*;
use std::collections::{HashMap, HashSet};

/// Fewer settings than this are all predicted.
pub(super) const FEW: usize = 500;
/// Settings that are predicted before the first fit.
const FIRST: usize = 320;
/// Settings of a batch afterwards.
const BATCH: usize = 96;
/// Coefficients for each setting of a fit.
const SHARE: f64 = 0.5;
/// Most coefficients: with more of them the settings of later batches, which lie close together,
/// make it swing between those of the first.
const MOST: usize = 220;
/// A setting is ruled out only if it would have to be off by this many standard errors.
const SURE: f64 = 5.0;
/// What was ruled out is looked at again if the error turns out to be larger by this factor.
const TRUST: f64 = 1.5;
/// So many settings tell an error.
const ENOUGH: usize = 30;
/// The share of the miss that can be cured is found to this.
const REACH: f64 = 0.005;
/// Random settings among which those of the first fit are spread.
const POOL: usize = 3000;

/// The settings of one search and what is known of them.
pub(super) struct Screen<'w, 'a, 's> {
    weigher: &'w Weigher<'a>,
    drafts: &'w [Draft<'s>],
    parts: Vec<Part>,
    /// Standard normals of each learned response in each world.
    responses: [Line; 5],
    exact: Vec<Option<Scored>>,
}

impl<'w, 'a, 's> Screen<'w, 'a, 's> {
    pub fn new(weigher: &'w Weigher<'a>, drafts: &'w [Draft<'s>]) -> Self {
        let goal = &weigher.situation.goal;
        let worlds = &weigher.worlds;
        let targets = goal.targets(weigher.carry());
        let parts = targets.into_iter().enumerate().filter_map(|(i, target)| {
            let target = target?;
            // Of the carry before as much is open as of the carry after.
            let open = if i == 4 { 0.0 } else { 1.0 };
            Some(Part {
                centre: line(|w| open * target.along.dot(&w.centre), worlds),
                spread: i == 0,
                target,
            })
        });
        Screen {
            parts: parts.collect(),
            responses: std::array::from_fn(|r| line(|w| w.response[r], worlds)),
            exact: drafts.iter().map(|_| None).collect(),
            weigher,
            drafts,
        }
    }

    /// All settings that may be finalists, weighed exactly, with their numbers.
    pub fn run(mut self) -> Result<Vec<(usize, Scored)>, SettingError> {
        let raw: Vec<Coordinates> = self.drafts.par_iter().map(Draft::coordinates).collect();
        let axes = Axes::new(&raw);
        let points: Vec<Vec<f64>> = raw.par_iter().map(|p| axes.of(p)).collect();
        let pool = pool(points.len(), self.weigher.options.seed);
        let first = spread_out(&points, &pool, FIRST);
        let mut known = first.clone();
        self.predict(&first)?;
        let mut open: Vec<usize> = (0..self.drafts.len()).collect();
        let mut forecast: Vec<Output> = Vec::new();
        let mut ruled_by = f64::INFINITY;
        loop {
            let at: Vec<Vec<f64>> = known.iter().map(|&i| points[i].clone()).collect();
            let exact: Vec<Output> = known.iter().map(|&i| self.output(i)).collect();
            let size = ((SHARE * at.len() as f64) as usize).min(MOST);
            let surrogate = Surrogate::fit(&axes, &at, &exact, size);
            let seen = here(&surrogate.left_out, &known, &open);
            let errors = self.errors(&seen, &forecast);
            if errors.loss > TRUST * ruled_by {
                // What was ruled out before was ruled out by too small an error.
                open = (0..self.drafts.len()).collect();
            }
            ruled_by = errors.loss;
            let guesses: Vec<Guess> = open
                .par_iter()
                .map_init(Vec::new, |row, &i| {
                    self.guess(i, &surrogate, &points[i], &errors, row)
                })
                .collect();
            let left = self.possible(&open, &guesses);
            let mut next: Vec<(usize, Guess)> = left
                .iter()
                .map(|&k| (open[k], guesses[k]))
                .filter(|(i, _)| self.exact[*i].is_none())
                .collect();
            if next.is_empty() {
                break;
            }
            // All that stay in question are looked at again, what is known for its price too.
            open = left.iter().map(|&k| open[k]).collect();
            next.sort_by(|a, b| a.1.at_best().total_cmp(&b.1.at_best()));
            let next: Vec<usize> = next.into_iter().map(|n| n.0).collect();
            let (soon, later) = next.split_at(next.len().min(BATCH / 2));
            let mut batch = soon.to_vec();
            batch.extend(spread_out(&points, later, BATCH / 2));
            self.predict(&batch)?;
            let mut row = Vec::new();
            forecast = batch
                .iter()
                .map(|&i| self.output(i) - surrogate.at(&points[i], &mut row))
                .collect();
            known.extend(batch);
        }
        let exact = self.exact.into_iter().enumerate();
        Ok(exact.filter_map(|(i, s)| Some((i, s?))).collect())
    }

    fn predict(&mut self, batch: &[usize]) -> Result<(), SettingError> {
        let scored: Vec<Scored> = batch
            .par_iter()
            .map_init(Scratch::default, |scratch, &i| {
                self.weigher.weigh(&self.drafts[i], scratch)
            })
            .collect::<Result<_, _>>()?;
        for (&i, s) in batch.iter().zip(scored) {
            self.exact[i] = Some(s);
        }
        Ok(())
    }

    fn output(&self, i: usize) -> Output {
        self.exact[i]
            .as_ref()
            .map_or_else(Output::zeros, |s| output(&s.prediction.outcome))
    }

    /// By how much an estimate may be off: [`SURE`] standard errors at settings that the polynomial
    /// had not seen, those of the fit and those of the last batch, whichever is worse. The loss
    /// follows each quantity with its weight at most; of the spread, `2 phi(0)` of it.
    fn errors(&self, left_out: &[Output], forecast: &[Output]) -> Errors {
        let rms = |of: &dyn Fn(&Output) -> f64| {
            let of_set = |set: &[Output]| {
                let square = set.iter().map(|r| of(r).powi(2)).sum::<f64>();
                (square / set.len().max(1) as f64).sqrt()
            };
            SURE * of_set(left_out).max(of_set(forecast))
        };
        let goal = &self.weigher.situation.goal;
        let along = |t: &Target| rms(&|r: &Output| t.along.dot(&r.fixed_rows::<4>(0)));
        let of_parts = |weight: fn(&Target) -> f64| -> f64 {
            let each = self.parts.iter().map(|p| &p.target);
            each.map(|t| weight(t) * along(t)).sum()
        };
        let per = |slope: f64, o: usize| {
            if slope > 0.0 {
                slope * rms(&|r| r[o])
            } else {
                0.0
            }
        };
        let level = per(goal.spin_slope(), 5) + per(goal.landing_slope(), 6);
        let spread = 0.8 * goal.weights.direction * rms(&|r| r[4]);
        let offline = self.parts.first().map_or(0.0, |p| along(&p.target));
        Errors {
            loss: of_parts(Target::in_loss)
                + ASKED * level
                + goal.weights.direction * offline
                + spread,
            offline,
            systematic: of_parts(|t| t.weight) + level,
        }
    }

    fn guess(
        &self,
        i: usize,
        surrogate: &Surrogate,
        point: &[f64],
        errors: &Errors,
        row: &mut Vec<f64>,
    ) -> Guess {
        let w = self.weigher;
        let draft = &self.drafts[i];
        let miss = w.systematic(&w.now).total();
        if let Some(s) = &self.exact[i] {
            let cure = if s.loss < w.loss_now {
                w.cures(&s.prediction)
            } else {
                0.0
            };
            return Guess {
                price: s.price(),
                error: 0.0,
                cure,
            };
        }
        let goal = &w.situation.goal;
        let ball = outcome(&surrogate.at(point, row));
        let correction = w.situation.correction_at(draft.place.mount);
        let effect = correction.effect(&w.features(draft));
        let response = w.predictor.on_ground(&effect);
        let n = WORLDS as f64;
        let mut loss = ASKED * (goal.landing(ball.landing_angle) + goal.spin(ball.spin_rate));
        let mut worse = [0, 0];
        for part in &self.parts {
            let t = &part.target;
            let mean = t.along.dot(&ball.ground);
            let mut line = part.centre.map(|c| c + mean);
            let slopes = response.tr_mul(&t.along);
            for (z, slope) in self.responses.iter().zip(slopes.iter()) {
                for (v, z) in line.iter_mut().zip(z) {
                    *v += slope * z;
                }
            }
            let s = ball.offline_sd;
            let distance: f64 = if part.spread && s > 0.0 {
                let (each, low, high) = (1.0 / s, t.window.low, t.window.high);
                let table = PSI.as_slice();
                s * if low == high {
                    // psi(-u) is psi(u) - u.
                    sum(&line, |v| {
                        let u = (v - high) * each;
                        2.0 * psi_fast(table, u) - u
                    })
                } else {
                    sum(&line, |v| {
                        psi_fast(table, (v - high) * each) + psi_fast(table, (low - v) * each)
                    })
                }
            } else {
                sum(&line, |v| t.window.outside(v))
            };
            if part.spread {
                let (slack, mut outside) = (w.slack(), 0.0);
                for (v, before) in line.iter().zip(&w.offline_now) {
                    let off = t.window.outside(*v);
                    outside += off;
                    let more = off - before - slack;
                    worse[0] += usize::from(more > errors.offline);
                    worse[1] += usize::from(more > -errors.offline);
                }
                loss += (t.weight * distance + t.in_loss() * outside) / n;
            } else {
                loss += t.in_loss() * distance / n;
            }
        }
        let systematic = goal.systematic(&ball, w.carry()).total() - errors.systematic;
        let cure = if loss - errors.loss < w.loss_now && miss > 0.0 {
            1.0 - systematic.max(0.0) / miss
        } else {
            0.0
        };
        let harm = worse.map(|count| w.price_of_harm() * count as f64 / n);
        Guess {
            price: loss + draft.effort + 0.5 * (harm[0] + harm[1]),
            error: errors.loss + 0.5 * (harm[1] - harm[0]),
            cure,
        }
    }

    /// Which of the open settings may be finalists, or may cure more than any that is known.
    fn possible(&self, open: &[usize], guesses: &[Guess]) -> Vec<usize> {
        let nth = |mut prices: Vec<f64>, n: usize| {
            if prices.len() < n {
                return f64::INFINITY;
            }
            *prices.select_nth_unstable_by(n - 1, f64::total_cmp).1
        };
        let overall = nth(guesses.iter().map(Guess::at_worst).collect(), CHEAPEST);
        let mut of_kind: HashMap<Kind, f64> = HashMap::new();
        let mut of_undo: HashMap<Undo, f64> = HashMap::new();
        for (&i, g) in open.iter().zip(guesses) {
            let (draft, worst) = (&self.drafts[i], g.at_worst());
            let k = of_kind.entry(draft.kind).or_insert(worst);
            *k = k.min(worst);
            let u = of_undo.entry(draft.undo).or_insert(worst);
            *u = u.min(worst);
        }
        let kinds = nth(of_kind.values().copied().collect(), KINDS);
        let cured = self.exact.iter().flatten();
        let cured = self.weigher.reach(cured);
        (0..open.len())
            .filter(|&k| {
                let g = &guesses[k];
                let best = g.at_best();
                let draft = &self.drafts[open[k]];
                let among = match draft.kind.count() {
                    1 => f64::INFINITY,
                    _ => kinds,
                };
                best <= overall
                    || best <= of_kind[&draft.kind].min(among)
                    || best <= of_undo[&draft.undo]
                    || g.cure > cured + REACH
                    || cured < NOT_THE_CLUB && g.cure >= NOT_THE_CLUB
            })
            .collect()
    }
}

/// Errors at the known settings that are still open, where it matters; at all if those are few.
fn here(errors: &[Output], known: &[usize], open: &[usize]) -> Vec<Output> {
    let open: HashSet<usize> = open.iter().copied().collect();
    let each = errors.iter().zip(known);
    let here: Vec<Output> = each
        .filter(|(_, i)| open.contains(i))
        .map(|(e, _)| *e)
        .collect();
    if here.len() < ENOUGH {
        return errors.to_vec();
    }
    here
}

/// One at random out of each of [`POOL`] stretches, or all.
fn pool(settings: usize, seed: u32) -> Vec<usize> {
    let stretch = (settings as f64 / POOL as f64).max(1.0);
    (0..settings.min(POOL))
        .map(|k| {
            let u = f64::from(sobol_burley::sample(k as u32, 31, seed));
            let within = if stretch > 1.0 { u } else { 0.0 };
            (((k as f64 + within) * stretch) as usize).min(settings - 1)
        })
        .collect()
}

/// `n` of the settings of a pool, far from each other: always the one that is farthest from those
/// before (T. F. Gonzalez 1985, *Clustering to minimize the maximum intercluster distance*, Theor.
/// Comput. Sci. 38, 293-306).
fn spread_out(points: &[Vec<f64>], pool: &[usize], n: usize) -> Vec<usize> {
    let apart = |a: usize, b: usize| -> f64 {
        let square = points[a]
            .iter()
            .zip(&points[b])
            .map(|(x, y)| (x - y).powi(2));
        square.sum()
    };
    let mut nearest: Vec<f64> = vec![f64::INFINITY; pool.len()];
    let mut chosen = Vec::new();
    let mut next = 0;
    while chosen.len() < n.min(pool.len()) && nearest[next] > 0.0 {
        chosen.push(pool[next]);
        let mut farthest = 0;
        for k in 0..pool.len() {
            nearest[k] = nearest[k].min(apart(pool[k], pool[next]));
            if nearest[k] > nearest[farthest] {
                farthest = k;
            }
        }
        next = farthest;
    }
    chosen
}
