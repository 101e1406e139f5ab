//! The ball as its flights were shown: drag and lift factors from logged carry, offline and apex.
//!
//! Coefficient sets differ by a tenth and more in how far they curve a ball, and so do balls. Where a
//! device gives the flight beside the launch, it is its flights that the player sees, and by which a
//! change is checked: the two factors are fitted so that the launches fly as they were shown.
//!
//! Maximum a posteriori by Gauss-Newton steps: shares `x` by which drag and lift differ from the
//! ball's, with a normal prior about 0, minimise `Σ ρ(r / s) + Σ x² / (2 prior²)`, `r` the
//! difference of what is shown and what is flown. `ρ` is that of Student's t, so that misread
//! shots count little, and `s` the median absolute deviation of each figure, scaled to a standard
//! deviation, with what no ball explains of its median. Where the device looks is not known to a degree: each visit's offline has a constant of
//! its own, which is free.
//!
//! Source: P. W. Holland, R. E. Welsch 1977, *Robust regression using iteratively reweighted
//! least-squares*, Commun. Stat. Theory Methods 6, 813-827 (from memory).

use super::{AeroSet, Conditions, Flights, Launches, Range};
use crate::ball::Ball;
use crate::launch::Launch;
use crate::robust::{NU, median_and_mad};
use nalgebra::{Matrix2, Vector2};

/// A launch with what a device showed of its flight.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Shown {
    /// Launch.
    pub launch: Launch,
    /// Carry, offline and apex, m.
    pub figures: [Option<f64>; 3],
}

/// A ball that flies as it was shown.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct AsShown {
    /// By what share its drag factor is larger than that of the ball it was fitted from.
    pub drag: f64,
    /// The same of its lift factor.
    pub lift: f64,
    /// Standard deviation of that.
    pub lift_sd: f64,
    /// Shots that it rests on.
    pub shots: usize,
}

/// Fewer shots than this say nothing of a ball.
const LEAST: usize = 6;
/// A device shows a flight to about so much, m: half a yard.
const RESOLUTION: f64 = 0.45;
/// Step of the slopes, as a share of the factor.
const STEP: f64 = 0.01;
/// A ball that is farther than so many standard deviations from the one assumed was not flown: what
/// is shown and the launch do not belong together.
const FARTHEST: f64 = 3.0;
/// The offline distance among the figures.
const OFFLINE: usize = 1;

/// A figure that was shown, against the flight.
struct Row {
    visit: usize,
    figure: usize,
    /// Shown minus flown, m.
    residual: f64,
    /// Slopes of the flown against the shares of drag and lift, m.
    slope: Vector2<f64>,
    weight: f64,
}

/// Fits the ball to visits, each with its conditions; `prior_sd` is how far either factor may be off,
/// as a share. `None` if too few shots tell, or if no ball flies like that.
pub fn as_shown(
    ball: &Ball,
    aero: &AeroSet,
    visits: &[(Conditions, Vec<Shown>)],
    prior_sd: f64,
) -> Option<AsShown> {
    let tells = |s: &&Shown| s.figures.iter().any(Option::is_some);
    let shots: usize = visits
        .iter()
        .map(|v| v.1.iter().filter(tells).count())
        .sum();
    if shots < LEAST {
        return None;
    }
    let prior = Matrix2::identity() / prior_sd.powi(2);
    let (mut x, mut weights) = (Vector2::zeros(), Vec::new());
    let mut information = prior;
    for _ in 0..12 {
        let mut rows = rows(ball, aero, visits, &x, &weights);
        weigh(&mut rows);
        information = prior;
        let mut gradient = -prior * x;
        for r in &rows {
            information += r.slope * r.slope.transpose() * r.weight;
            gradient += r.slope * r.residual * r.weight;
        }
        weights = rows.iter().map(|r| r.weight).collect();
        let step = information.cholesky()?.solve(&gradient);
        x += step;
        if step.amax() < 1e-7 {
            break;
        }
    }
    let covariance = information.cholesky()?.inverse();
    (x.amax() < FARTHEST * prior_sd).then(|| AsShown {
        drag: x[0],
        lift: x[1],
        lift_sd: covariance[(1, 1)].sqrt(),
        shots,
    })
}

/// All figures against the flights of a ball whose factors differ by the shares `x`. `weights` are
/// those of the round before, if there was one.
fn rows(
    ball: &Ball,
    aero: &AeroSet,
    visits: &[(Conditions, Vec<Shown>)],
    x: &Vector2<f64>,
    weights: &[f64],
) -> Vec<Row> {
    let mut rows: Vec<Row> = Vec::new();
    for (visit, (conditions, shots)) in visits.iter().enumerate() {
        let launches: Vec<Launch> = shots.iter().map(|s| s.launch).collect();
        let launches: Launches = launches.iter().collect();
        let flown = |drag: f64, lift: f64| {
            let ball = Ball {
                drag_factor: ball.drag_factor * (1.0 + drag),
                lift_factor: ball.lift_factor * (1.0 + lift),
                ..*ball
            };
            let mut out = Flights::default();
            Range::new(&ball, aero, conditions).fly_each(&launches, &mut out);
            out
        };
        let (at, dragged, lifted) = (
            flown(x[0], x[1]),
            flown(x[0] + STEP, x[1]),
            flown(x[0], x[1] + STEP),
        );
        let figures = |f: &Flights, i: usize| {
            let (across, along) = (f.offline[i], f.downrange[i]);
            [across.hypot(along), across, f.apex[i]]
        };
        for (i, shot) in shots.iter().enumerate() {
            let [now, drag, lift] = [&at, &dragged, &lifted].map(|f| figures(f, i));
            for (figure, shown) in shot.figures.iter().enumerate() {
                let Some(shown) = shown else { continue };
                let slope = [drag, lift].map(|f| (f[figure] - now[figure]) / STEP);
                let weight = weights.get(rows.len()).copied().unwrap_or(1.0);
                rows.push(Row {
                    visit,
                    figure,
                    residual: shown - now[figure],
                    slope: slope.into(),
                    weight,
                });
            }
        }
    }
    for visit in 0..visits.len() {
        let free = |r: &&mut Row| r.visit == visit && r.figure == OFFLINE;
        let (mut sum, mut residual, mut slope) = (0.0, 0.0, Vector2::zeros());
        for r in rows.iter_mut().filter(free) {
            sum += r.weight;
            residual += r.weight * r.residual;
            slope += r.slope * r.weight;
        }
        for r in rows.iter_mut().filter(free) {
            r.residual -= residual / sum;
            r.slope -= slope / sum;
        }
    }
    rows
}

/// Weights of the rows, 1/m²: those of Student's t, in the scale of each figure.
fn weigh(rows: &mut [Row]) {
    for figure in 0..3 {
        let mine = |r: &&mut Row| r.figure == figure;
        let mut residuals: Vec<f64> = rows.iter_mut().filter(mine).map(|r| r.residual).collect();
        let Some((bias, mad)) = median_and_mad(&mut residuals) else {
            continue;
        };
        let square = bias.hypot(mad).max(RESOLUTION).powi(2);
        for r in rows.iter_mut().filter(mine) {
            r.weight = (NU + 1.0) / (NU + r.residual.powi(2) / square) / square;
        }
    }
}
