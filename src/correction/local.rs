//! The correction as seen from one player and head.

use super::components::{BUILD_FACTOR, VISIT_SD};
use super::model::GROUP_FACTOR;
use super::{M7, V7};
use crate::club::FEATURES;
use crate::priors;
use nalgebra::Matrix5;

const K: usize = FEATURES.len();

/// What a change of features does beyond the physics, in the units of
/// [`RESPONSES`](super::RESPONSES).
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Effect {
    /// Mean.
    pub mean: [f64; 5],
    /// Standard deviation.
    pub sd: [f64; 5],
    /// Covariance: start line and spin axis err together.
    pub covariance: [[f64; 5]; 5],
}

/// The correction as seen from one player and head: linear in a change of features.
#[derive(Debug, Clone, PartialEq)]
pub struct Local {
    /// Of each response.
    pub(super) mean: [V7; 5],
    /// Of each two responses, row by row.
    pub(super) covariance: Vec<M7>,
    /// Of what a day adds to the responses.
    pub(super) day: Matrix5<f64>,
}

/// Correlation of what a day adds to launch direction and spin axis, before any data: a face that
/// is open that day does both, path and device do not (common practice, no source).
const DAY_CORRELATION: f64 = 0.5;

/// Correlation of a lever's unknown effects on launch direction and spin axis, where both are mostly of
/// one face angle (common practice, no source).
const FACE: f64 = 0.8;
/// The features of which that holds: the CG toward the toe, the face angle of a sleeve.
const FACE_DRIVEN: [usize; 2] = [0, 6];

/// Covariance of what a day adds, from standard deviations and correlations.
pub(super) fn day(sd: &[f64; 5], correlation: impl Fn(usize, usize) -> f64) -> Matrix5<f64> {
    Matrix5::from_fn(|r, s| sd[r] * sd[s] * if r == s { 1.0 } else { correlation(r, s) })
}

fn unlearned(r: usize) -> M7 {
    let groups = 2.0 * GROUP_FACTOR * GROUP_FACTOR + BUILD_FACTOR * BUILD_FACTOR;
    let scale = V7::from(priors::response()[r]);
    M7::from_diagonal(&(scale.component_mul(&scale) * (1.0 + groups)))
}

impl Local {
    /// No learned effect, with the prior's uncertainty: bare physics.
    pub fn unlearned() -> Local {
        let zero = |r: usize, s: usize| match (r, s) {
            (1, 2) | (2, 1) => {
                let (a, b) = (unlearned(1), unlearned(2));
                let by_face = |f: usize| if FACE_DRIVEN.contains(&f) { FACE } else { 0.0 };
                M7::from_diagonal(&V7::from_fn(|f, _| {
                    by_face(f) * (a[(f, f)] * b[(f, f)]).sqrt()
                }))
            }
            _ if r == s => unlearned(r),
            _ => M7::zeros(),
        };
        Local {
            mean: [V7::zeros(); 5],
            covariance: (0..25).map(|i| zero(i / 5, i % 5)).collect(),
            day: day(&VISIT_SD, |r, s| match (r, s) {
                (1, 2) | (2, 1) => DAY_CORRELATION,
                _ => 0.0,
            }),
        }
    }

    /// Covariance of what a day adds to a player's launches, in the units of
    /// [`RESPONSES`](super::RESPONSES): form, ball, device.
    pub fn day(&self) -> &Matrix5<f64> {
        &self.day
    }

    /// What a change of features does beyond the physics.
    pub fn effect(&self, change: &[f64; K]) -> Effect {
        let x = V7::from(*change);
        let covariance: [[f64; 5]; 5] = std::array::from_fn(|r| {
            std::array::from_fn(|s| x.dot(&(self.covariance[5 * r + s] * x)))
        });
        Effect {
            mean: std::array::from_fn(|r| x.dot(&self.mean[r])),
            sd: std::array::from_fn(|r| covariance[r][r].max(0.0).sqrt()),
            covariance,
        }
    }
}
