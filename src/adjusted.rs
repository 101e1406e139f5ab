//! The effect of a change of the club, with what the player did differently taken out.
//!
//! Most of a ball's scatter is the swing's. Where a device measures the club, each shot's offline
//! is regressed on the measured delivery, pooled within before and after, and the effect is the
//! difference at the same delivery: the analysis of covariance (R. A. Fisher 1932, *Statistical
//! Methods for Research Workers*, 4th ed., ch. VIII; W. G. Cochran 1957, *Analysis of covariance:
//! its nature and uses*, Biometrics 13, 261-281). Only measured club data are used: a delivery that
//! was inferred is a function of the ball, and adjusting for it would take the club's effect out.
//!
//! Face angle and dynamic loft need care, since the club itself turns them: by sleeve and bend,
//! which is known, and by what the player's hands do with another weight, which is not. The known
//! turn counts as the club's. The unknown one, `d`, has the learned response's error `S` as prior;
//! of the difference `D` in the measured means, with sampling error `C`, the share
//! `S (S + C)⁻¹` is the club's, and what stays open adds to the error. With few shots nearly all of
//! a difference is chance and is taken out; with many it is the club's and stays.
//!
//! Robust to mishits by Student's t weights, as in [`crate::robust`], whose scale is used.

use crate::delivery::{COMPONENTS, SessionReading, Vector7};
use crate::flight::Range;
use crate::impact::{Delivery, Striker};
use crate::physics::Physics;
use crate::quantity::Quantity;
use crate::robust::{CONSISTENCY, NU, median_of, outliers};
use crate::tendency::Tendency;
use crate::verdict::Change;
use nalgebra::{DMatrix, DVector, Matrix2, Vector2};

/// One side of a comparison: its shots, and how much each counts.
#[derive(Debug, Clone, Copy)]
pub struct Side<'a> {
    /// The shots.
    pub reading: &'a SessionReading,
    /// Their summary.
    pub tendency: &'a Tendency,
}

/// What the change of the club does to the face angle and the dynamic loft that are measured.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Turn {
    /// Known and learned turn of face angle and dynamic loft, rad.
    pub mean: Vector2<f64>,
    /// Standard deviation of what is not known of it, rad. Infinite for another head: then neither
    /// is adjusted for.
    pub sd: Vector2<f64>,
}

impl Turn {
    /// No turn is known, and none is ruled out: another head.
    pub fn unknown() -> Turn {
        Turn {
            mean: Vector2::zeros(),
            sd: Vector2::repeat(f64::INFINITY),
        }
    }

    /// For a change of the features of one head, by what the setting turns and by what is learned
    /// of the launch: a launch follows face and dynamic loft by 0.8 to 0.9, taken as one here.
    pub fn of(
        change: &[f64; crate::club::FEATURES.len()],
        local: &crate::correction::Local,
    ) -> Turn {
        let deg = crate::units::DEG;
        let effect = local.effect(change);
        Turn {
            mean: Vector2::new(change[6] + effect.mean[1], change[4] + effect.mean[0]) * deg,
            sd: Vector2::new(effect.sd[1], effect.sd[0]) * deg,
        }
    }
}

/// An adjusted comparison.
#[derive(Debug, Clone, PartialEq)]
pub struct Adjusted {
    /// After minus before of offline at the same delivery, m.
    pub effect: Change,
    /// What was adjusted for.
    pub used: Vec<Quantity>,
    /// Spread of offline from shot to shot that the delivery leaves, m.
    pub spread: f64,
}

/// How the scatter of one club's shots hangs on the measured delivery: what a plan needs.
#[derive(Debug, Clone, PartialEq)]
pub struct Scatter {
    /// What can be adjusted for.
    pub used: Vec<Quantity>,
    /// Spread of offline that the delivery leaves, m.
    pub spread: f64,
    /// Offline per unit of face angle and dynamic loft, m/rad; zero where not used.
    slope: Vector2<f64>,
    /// Covariance from shot to shot of the two, rad².
    covariance: Matrix2<f64>,
}

impl Scatter {
    /// Variance (m²) and degrees of freedom of the adjusted effect of so many shots on each side.
    pub fn variance(&self, shots: f64, turn: &Turn) -> (f64, f64) {
        let p = self.used.len() as f64;
        let dof = (2.0 * shots - p - 2.0).max(1.0);
        // Slopes that are estimated cost as Cochran 1957 has it.
        let slopes = 1.0 + p / (dof - 1.0).max(1.0);
        let sampling = self.covariance * (2.0 / shots);
        let open = self.slope.dot(&(left_open(turn, &sampling).1 * self.slope));
        let within = self.spread * self.spread * 2.0 / shots * slopes;
        (within + open.max(0.0), dof)
    }
}

/// Offline per unit of each component at a delivery, m per SI unit, in the order of [`COMPONENTS`].
pub fn bearing(
    striker: &Striker,
    delivery: &Delivery,
    physics: &Physics,
    range: &Range<'_>,
) -> Vector7 {
    let middle = delivery.to_vector();
    let step = COMPONENTS.map(|q| q.info().device_sd);
    let at = |c: usize, sign: f64| {
        let mut x = middle;
        x[c] += sign * step[c];
        let d = Delivery::from_vector(&x);
        let launch = striker.launch(&d, &physics.ball, &physics.impact);
        range.fly(&launch).offline
    };
    Vector7::from_fn(|c, _| (at(c, 1.0) - at(c, -1.0)) / (2.0 * step[c]))
}

/// A component is adjusted for if by physics it makes at least this share of the scatter's variance.
const BEARS: f64 = 0.01;
/// ... and if it was measured in at least this share of the shots.
const MOST: f64 = 0.8;
/// Degrees of freedom that must be left.
const LEFT: usize = 8;
const FACE: usize = 3;
const LOFT: usize = 4;

/// Compares two sides at the same delivery. `bears` is [`bearing`] at the player's delivery,
/// `usual` the usual spread of the components from shot to shot. `None` if no measured component
/// bears on offline, or if there are too few shots.
pub fn adjusted(
    before: Side<'_>,
    after: Side<'_>,
    turn: &Turn,
    bears: &Vector7,
    usual: &Vector7,
) -> Option<Adjusted> {
    let table = Table::new(&[before, after], turn, bears, usual)?;
    let fit = table.fit()?;
    let (difference, within) = table.face_and_loft(&fit.weights);
    let sampling = within * fit.weights_of_mean;
    let (share, open) = left_open(turn, &sampling);
    let slope = table.slope(&fit.beta, 2);
    let effect = fit.beta[1] + slope.dot(&(share * difference));
    let variance = fit.covariance[(1, 1)] + slope.dot(&(open * slope)).max(0.0);
    Some(Adjusted {
        effect: Change {
            mean: effect,
            se: variance.sqrt(),
            dof: fit.dof,
        },
        used: table.used.iter().map(|&c| COMPONENTS[c]).collect(),
        spread: fit.variance.sqrt(),
    })
}

/// The scatter of one side by itself; see [`adjusted`].
pub fn scatter(side: Side<'_>, turn: &Turn, bears: &Vector7, usual: &Vector7) -> Option<Scatter> {
    let table = Table::new(&[side], turn, bears, usual)?;
    let fit = table.fit()?;
    let (_, within) = table.face_and_loft(&fit.weights);
    Some(Scatter {
        used: table.used.iter().map(|&c| COMPONENTS[c]).collect(),
        spread: fit.variance.sqrt(),
        slope: table.slope(&fit.beta, 1),
        covariance: within,
    })
}

/// The share of a difference in face and loft that is the club's, and the covariance of the club's
/// turn that stays open. A component with no finite prior is not adjusted for and has neither.
fn left_open(turn: &Turn, sampling: &Matrix2<f64>) -> (Matrix2<f64>, Matrix2<f64>) {
    let sd = turn.sd.map(|v| if v.is_finite() { v } else { 0.0 });
    let prior = Matrix2::from_diagonal(&sd.component_mul(&sd));
    // A component without any scatter, such as one that was not measured, must not hinder.
    let floor = Matrix2::identity() * 1e-12;
    let share = (prior + sampling + floor)
        .try_inverse()
        .map_or_else(Matrix2::zeros, |inverse| prior * inverse);
    (share, prior - share * prior)
}

/// The shots that count, ready for a regression.
struct Table {
    /// Offline, m.
    y: Vec<f64>,
    /// Side of each shot, 0 or 1.
    side: Vec<usize>,
    /// Components that are adjusted for.
    used: Vec<usize>,
    /// Their values, less the middle of the side where one is missing; in units of the usual spread.
    x: Vec<Vec<f64>>,
    scale: Vector7,
    sides: usize,
}

struct Fit {
    /// Mean before, effect (if there are two sides), slopes.
    beta: DVector<f64>,
    covariance: DMatrix<f64>,
    variance: f64,
    weights: Vec<f64>,
    /// `Σ w² / (Σ w)²`, summed over the sides: the variance of a difference of means.
    weights_of_mean: f64,
    dof: f64,
}

impl Table {
    fn new(sides: &[Side<'_>], turn: &Turn, bears: &Vector7, usual: &Vector7) -> Option<Table> {
        let shots: Vec<_> = sides
            .iter()
            .enumerate()
            .flat_map(|(k, s)| {
                s.reading
                    .shots
                    .iter()
                    .zip(&s.tendency.weights)
                    .map(move |x| (k, x))
            })
            .filter(|(_, (_, w))| **w > 0.0)
            .map(|(k, (shot, _))| (k, shot))
            .collect();
        let mostly = |c: usize| {
            (0..sides.len()).all(|k| {
                let of_side = || shots.iter().filter(|(i, _)| *i == k);
                let there = of_side().filter(|(_, s)| s.measured.get(COMPONENTS[c]).is_some());
                there.count() as f64 >= MOST * of_side().count() as f64
            })
        };
        let turns = |c: usize| match c {
            FACE => Some(0),
            LOFT => Some(1),
            _ => None,
        };
        let power = bears.component_mul(usual).map(|v| v * v);
        let mut used: Vec<usize> = (0..7)
            .filter(|&c| power[c] >= BEARS * power.sum() && mostly(c))
            .filter(|&c| turns(c).is_none_or(|i| turn.sd[i].is_finite()))
            .collect();
        used.sort_by(|&a, &b| power[b].total_cmp(&power[a]));
        used.truncate(shots.len().saturating_sub(sides.len() + LEFT));
        if used.is_empty() || sides.iter().any(|s| s.tendency.effective < 3.0) {
            return None;
        }
        let mut x = vec![vec![0.0; used.len()]; shots.len()];
        for (j, &c) in used.iter().enumerate() {
            for k in 0..sides.len() {
                let known: Vec<(usize, f64)> = (0..shots.len())
                    .filter(|&i| shots[i].0 == k)
                    .filter_map(|i| Some((i, shots[i].1.measured.get(COMPONENTS[c])?)))
                    .collect();
                let mut values: Vec<f64> = known.iter().map(|(_, v)| *v).collect();
                let gross = outliers(&values, usual[c], false);
                let middle = median_of(&mut values)?;
                // What the club turns is not the player's doing.
                let turned = turns(c).filter(|_| k == 1).map_or(0.0, |i| turn.mean[i]);
                let shot_of_side = (0..shots.len()).filter(|&i| shots[i].0 == k);
                shot_of_side.for_each(|i| x[i][j] = (middle - turned) / usual[c]);
                for ((i, v), gross) in known.into_iter().zip(gross) {
                    if !gross {
                        x[i][j] = (v - turned) / usual[c];
                    }
                }
            }
        }
        Some(Table {
            y: shots.iter().map(|(_, s)| s.flight.offline).collect(),
            side: shots.iter().map(|(k, _)| *k).collect(),
            used,
            x,
            scale: *usual,
            sides: sides.len(),
        })
    }

    /// Weighted least squares with Student's t weights, by iteration.
    fn fit(&self) -> Option<Fit> {
        let (n, columns) = (self.y.len(), self.sides + self.used.len());
        let design = DMatrix::from_fn(n, columns, |i, c| match c {
            0 => 1.0,
            1 if self.sides == 2 => self.side[i] as f64,
            c => self.x[i][c - self.sides],
        });
        let y = DVector::from_column_slice(&self.y);
        let free = n.checked_sub(columns).filter(|f| *f > 0)? as f64;
        let mut weights = vec![1.0; n];
        let mut last = f64::INFINITY;
        let scale = CONSISTENCY[0];
        for _ in 0..500 {
            let weighted = DMatrix::from_fn(n, columns, |i, c| design[(i, c)] * weights[i]);
            let inverse = (design.transpose() * &weighted).try_inverse()?;
            let beta = &inverse * (weighted.transpose() * &y);
            let residuals = &y - &design * &beta;
            let sum: f64 = residuals.iter().zip(&weights).map(|(r, w)| w * r * r).sum();
            // The first round is plain least squares.
            let variance = sum / free * if last.is_finite() { scale } else { 1.0 };
            if !(variance > 0.0 && variance.is_finite()) {
                return None;
            }
            if (variance / last - 1.0).abs() < 1e-10 {
                let squared = weighted.transpose() * &weighted;
                let of_side = |k: usize| {
                    let w = weights.iter().zip(&self.side).filter(|(_, s)| **s == k);
                    let (a, b) = w.fold((0.0, 0.0), |(a, b), (w, _)| (a + w, b + w * w));
                    (b / (a * a), a * a / b)
                };
                let of_sides: Vec<_> = (0..self.sides).map(of_side).collect();
                let effective: f64 = of_sides.iter().map(|s| s.1).sum();
                return Some(Fit {
                    covariance: &inverse * squared * &inverse * variance,
                    beta,
                    variance,
                    weights_of_mean: of_sides.iter().map(|s| s.0).sum(),
                    dof: (effective - columns as f64).max(1.0),
                    weights,
                });
            }
            last = variance;
            for (w, r) in weights.iter_mut().zip(residuals.iter()) {
                *w = (NU + 1.0) / (NU + scale * r * r / variance);
            }
        }
        None
    }

    /// Difference of the means of face and loft (rad), and their covariance within the sides (rad²).
    fn face_and_loft(&self, weights: &[f64]) -> (Vector2<f64>, Matrix2<f64>) {
        let place = [FACE, LOFT].map(|c| self.used.iter().position(|u| *u == c));
        let value = |i: usize| {
            Vector2::from_fn(|r, _| {
                place[r].map_or(0.0, |j| self.x[i][j] * self.scale[self.used[j]])
            })
        };
        let mut mean = [Vector2::zeros(); 2];
        let mut total = [0.0; 2];
        for (i, w) in weights.iter().enumerate() {
            mean[self.side[i]] += value(i) * *w;
            total[self.side[i]] += w;
        }
        for (m, t) in mean.iter_mut().zip(total).filter(|(_, t)| *t > 0.0) {
            *m /= t;
        }
        let mut within = Matrix2::zeros();
        for (i, w) in weights.iter().enumerate() {
            let d = value(i) - mean[self.side[i]];
            within += d * d.transpose() * *w;
        }
        (mean[1] - mean[0], within / total.iter().sum::<f64>())
    }

    /// Offline per rad of face and loft, of coefficients with slopes from `first` on.
    fn slope(&self, beta: &DVector<f64>, first: usize) -> Vector2<f64> {
        let at = |c: usize| {
            let j = self.used.iter().position(|u| *u == c);
            j.map_or(0.0, |j| beta[first + j] / self.scale[c])
        };
        Vector2::new(at(FACE), at(LOFT))
    }
}
