//! Which of the weighed settings become rows, and what the answer is.

use super::levers::{Kind, Undo};
use super::predict::{Prediction, World};
use super::search::{Answer, NOT_THE_CLUB};
use super::weigh::{EFFORT_CARRY, Scored, Weigher, below};
use crate::units::YARD;
use std::cmp::Ordering;
use std::collections::HashSet;

/// A change that helps with less than this probability is not shown.
const FAIR: f64 = 0.55;
/// A row is as good as the first if it costs no more than this share of what the first one gains,
/// and if its loss is lower with a probability of at least [`EVEN`], and at most its complement.
const TIE: f64 = 0.1;
/// See [`TIE`].
const EVEN: f64 = 0.25;
/// A row that costs no more than this share of what the first one gains is as good, however sure the
/// difference is.
const SAME: f64 = 0.02;
/// What takes away less of the miss than the first by more than this share of it is no tie, however
/// little of the loss that is: where nearly all of it is spread, say, or what words leave open.
const AS_MUCH: f64 = 1.0 / 3.0;
/// What counts as less work, m of expected loss: the least that a step takes, a slider moved.
const A_STEP: f64 = 0.2 * YARD;
/// So many of the best rows are compared, however many are shown.
const COMPARED: usize = 5;
/// So many of the cheapest settings are weighed with all that is not known, whatever their kind.
pub(super) const CHEAPEST: usize = 16;
/// Of so many of the cheapest kinds of change the best setting is.
pub(super) const KINDS: usize = 64;

impl Weigher<'_> {
    /// Whether a setting is likely to help, and takes away some of the miss itself.
    fn likely(&self, s: &Scored) -> bool {
        s.cost() < self.loss_now && self.helps(&s.losses) >= FAIR && self.cures(&s.prediction) > 0.0
    }

    /// Share of the miss that the best setting takes away, of those that lower the expected loss.
    pub fn reach<'s>(&self, scored: impl Iterator<Item = &'s Scored>) -> f64 {
        scored
            .filter(|s| s.loss < self.loss_now)
            .map(|s| self.cures(&s.prediction))
            .fold(0.0, f64::max)
    }

    /// 80 % interval of the share of the miss that the best setting takes away: in each world the best
    /// one there, of those that lower the loss and were predicted exactly.
    fn reach_interval(&self, scored: &[Scored]) -> [f64; 2] {
        let miss = |w: &World, p: &Prediction| {
            let mut ball = p.outcome;
            ball.ground = self.predictor.ground_in(w, p);
            let goal = &self.situation.goal;
            goal.systematic(&ball, self.carry() + w.centre[2]).total()
        };
        let share = |(i, w): (usize, &World)| {
            let better = scored.iter().filter(|s| s.losses[i] < self.losses_now[i]);
            let left = better.map(|s| miss(w, &s.prediction));
            let now = miss(w, &self.now).max(f64::MIN_POSITIVE);
            1.0 - left.fold(now, f64::min) / now
        };
        let mut shares: Vec<f64> = self.worlds.iter().enumerate().map(share).collect();
        shares.sort_by(f64::total_cmp);
        let at = |q: f64| shares[(q * (shares.len() - 1) as f64).round() as usize];
        [at(0.1), at(0.9)]
    }

    /// The answer from the finalists and what all reach.
    pub fn second_answer(&self, finalists: &[&Scored], all: &[Scored], reach: f64) -> Answer {
        if reach < NOT_THE_CLUB {
            let [low, high] = self.reach_interval(all);
            Answer::NotTheClub {
                reach,
                low: low.min(reach),
                high: high.max(reach),
            }
        } else if finalists
            .iter()
            .any(|s| self.likely(s) && s.price() < self.loss_now)
        {
            Answer::Change
        } else {
            Answer::WithinNoise
        }
    }

    /// The settings that may become rows: the cheapest ones, the best of each kind of change, of each
    /// single lever, and of each way of undoing.
    pub fn finalists(&self, scored: &[Scored]) -> Vec<usize> {
        let mut order: Vec<usize> = (0..scored.len()).collect();
        order.sort_by(|&a, &b| cheaper(&scored[a], &scored[b]));
        let mut kinds: HashSet<Kind> = HashSet::new();
        let mut undone: HashSet<Undo> = HashSet::new();
        let mut rank = 0;
        order.retain(|&i| {
            let s = &scored[i];
            rank += 1;
            let new_kind = kinds.insert(s.kind);
            let new_undo = undone.insert(s.undo);
            let among = kinds.len() <= KINDS || s.kind.count() == 1;
            new_kind && among || new_undo || rank <= CHEAPEST
        });
        order
    }

    /// Best rows: by price, the best of each kind of change (of those as good the one of least work),
    /// as far as they are likely to help and pay for their effort; if none pays, those that help. A
    /// kind of change that holds another one and more must earn its additional effort.
    /// The best change of a single lever is among them. Rows that cannot be told from the first
    /// come easiest to undo first, and of these the one of least effort; their number is the second
    /// value. Where every kind is wanted, the others follow, by price.
    pub fn pick(&self, scored: &[Scored]) -> (Vec<usize>, usize) {
        let (now, rows) = (self.loss_now, self.options.rows);
        let mut all: Vec<usize> = (0..scored.len()).collect();
        all.sort_by(|&a, &b| cheaper(&scored[a], &scored[b]));
        let mut order: Vec<usize> = (all.iter().copied())
            .filter(|&i| self.likely(&scored[i]))
            .collect();
        let pays = |i: &usize| scored[*i].price() < now;
        if order.iter().any(pays) {
            order.retain(pays);
        }
        let mut kinds: Vec<usize> = Vec::new();
        for &i in &order {
            let s = &scored[i];
            let idle = |&k: &usize| {
                let less = &scored[k];
                let idle = less.cost() - s.cost() < 0.5 * (s.effort - less.effort);
                less.kind == s.kind || s.kind.holds(&less.kind) && idle
            };
            if !kinds.iter().any(idle) {
                kinds.push(i);
            }
        }
        for k in &mut kinds {
            let kind = scored[*k].kind;
            let alike = order.iter().copied().filter(|&i| scored[i].kind == kind);
            *k = self.least_work(scored, alike, *k);
        }
        kinds.sort_by(|&a, &b| cheaper(&scored[a], &scored[b]));
        let single = |i: &usize| scored[*i].kind.count() == 1;
        let best_single = kinds.iter().copied().find(single);
        // How many are shown does not change what comes first.
        let rest = kinds.split_off(kinds.len().min(COMPARED));
        let best = kinds.first().copied();
        let (mut picked, others): (Vec<usize>, Vec<usize>) = (kinds.into_iter())
            .partition(|&i| best.is_some_and(|best| self.equals(&scored[i], &scored[best])));
        picked.sort_by(|&a, &b| {
            let (a, b) = (&scored[a], &scored[b]);
            a.undo.cmp(&b.undo).then(a.effort.total_cmp(&b.effort))
        });
        let mut tied = picked.len();
        picked.extend(others.into_iter().chain(rest));
        picked.truncate(rows);
        if let Some(i) = best_single.filter(|_| rows > 1 && !picked.iter().any(single)) {
            picked.truncate(rows - 1);
            tied = tied.min(picked.len());
            picked.push(i);
        }
        if self.options.every_kind {
            let mut shown: HashSet<Kind> = picked.iter().map(|&i| scored[i].kind).collect();
            picked.extend(all.into_iter().filter(|&i| shown.insert(scored[i].kind)));
            picked.truncate(rows);
        }
        (picked, tied.min(rows))
    }

    /// Whether a setting is as good as the best one: see [`TIE`], [`SAME`] and [`AS_MUCH`].
    fn equals(&self, s: &Scored, best: &Scored) -> bool {
        if self.cures(&best.prediction) - self.cures(&s.prediction) > AS_MUCH {
            return false;
        }
        let gain = self.loss_now - best.cost();
        let more = s.price() - best.price();
        more <= SAME * gain
            || more <= TIE * gain
                && below(&s.losses, &best.losses) >= EVEN
                && below(&best.losses, &s.losses) >= EVEN
    }

    /// Of some settings the one of least effort, of those that cost no more than the best one and
    /// [`SAME`] and take [`A_STEP`] less; else the best one.
    fn least_work(
        &self,
        scored: &[Scored],
        among: impl Iterator<Item = usize>,
        best: usize,
    ) -> usize {
        let first = &scored[best];
        let most = first.price() + SAME * (self.loss_now - first.cost());
        let less = first.effort - A_STEP * self.carry() / EFFORT_CARRY;
        among
            .filter(|&i| scored[i].price() <= most && scored[i].effort <= less)
            .min_by(|&a, &b| scored[a].effort.total_cmp(&scored[b].effort))
            .unwrap_or(best)
    }

    /// Of all that helps: the settings that no other one beats in both the loss, with the price of what
    /// may go wrong, and the ease of undoing; easiest first.
    pub fn pareto(&self, scored: &[Scored]) -> Vec<usize> {
        let good = |i: &usize| {
            let s = &scored[*i];
            s.undo > Undo::Nothing && self.likely(s)
        };
        let mut order: Vec<usize> = (0..scored.len()).filter(good).collect();
        order.sort_by(|&a, &b| {
            let (a, b) = (&scored[a], &scored[b]);
            a.undo.cmp(&b.undo).then(cheaper(a, b))
        });
        let mut least = self.loss_now;
        let mut front = Vec::new();
        for class in order.chunk_by(|&a, &b| scored[a].undo == scored[b].undo) {
            let better = || (class.iter().copied()).filter(|&i| scored[i].cost() < least);
            let Some(best) = better().next() else {
                continue;
            };
            let i = self.least_work(scored, better(), best);
            least = scored[i].cost();
            front.push(i);
        }
        front
    }
}

fn cheaper(a: &Scored, b: &Scored) -> Ordering {
    a.price().total_cmp(&b.price())
}
