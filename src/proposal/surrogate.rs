//! A polynomial that stands in for the exact prediction, and how far off it is.
//!
//! What the ball does on average is a smooth function of what a setting makes of the head: mass, CG,
//! inertia, attitude. Their principal components over the settings (K. Pearson 1901, *On lines and
//! planes of closest fit to systems of points in space*, Phil. Mag. 2, 559-572) are the variables; of
//! the monomials those of the largest range are taken; least squares by QR finds the rest. How far
//! off it is at a setting that it has not seen is measured by leaving out one setting at a time (D. M.
//! Allen 1974, *The relationship between variable selection and data augmentation and a method for
//! prediction*, Technometrics 16, 125-127).

use super::predict::Outcome;
use crate::tendency::Ground;
use nalgebra::{DMatrix, SMatrix, SVector, SymmetricEigen};
use rayon::prelude::*;

/// Mass, CG, inertia, attitude.
pub(super) const COORDINATES: usize = 13;
/// What a setting makes of the head.
pub(super) type Coordinates = SVector<f64, COORDINATES>;
/// Start, curve, carry, apex, spread of offline, spin rate, landing angle.
pub(super) const OUTPUTS: usize = 7;
/// See [`OUTPUTS`].
pub(super) type Output = SVector<f64, OUTPUTS>;

/// A principal component whose range is below this share of the widest one's is left out.
const FLAT: f64 = 1e-4;
/// The range of a monomial shrinks by this factor with each degree.
const SHRINK: f64 = 0.35;
/// Highest degree.
const DEGREE: usize = 5;
/// A column that is this near to a combination of the ones before is left out.
const DEPENDENT: f64 = 1e-7;

/// Mean over points, summed by blocks in their order: the same on any number of threads.
fn mean<const C: usize>(
    points: &[Coordinates],
    of: impl Fn(&Coordinates) -> SMatrix<f64, COORDINATES, C> + Sync,
) -> SMatrix<f64, COORDINATES, C> {
    let block = |b: &[Coordinates]| b.iter().map(&of).sum::<SMatrix<f64, COORDINATES, C>>();
    let blocks: Vec<SMatrix<f64, COORDINATES, C>> = points.par_chunks(4096).map(block).collect();
    let sum: SMatrix<f64, COORDINATES, C> = blocks.into_iter().sum();
    sum / points.len().max(1) as f64
}

/// Largest absolute value of each number over points.
fn largest(points: &[Coordinates], of: impl Fn(&Coordinates) -> Coordinates + Sync) -> Coordinates {
    let block = |b: &[Coordinates]| {
        b.iter()
            .fold(Coordinates::zeros(), |m, p| m.sup(&of(p).abs()))
    };
    let blocks: Vec<Coordinates> = points.par_chunks(4096).map(block).collect();
    blocks.iter().fold(Coordinates::zeros(), |m, b| m.sup(b))
}

/// The variables: principal components, each from -1 to 1.
pub(super) struct Axes {
    centre: Coordinates,
    /// A row for each component, down to [`FLAT`].
    turn: Vec<Coordinates>,
    /// Range of each component against the widest.
    range: Vec<f64>,
}

impl Axes {
    pub fn new(points: &[Coordinates]) -> Axes {
        let centre = mean(points, |p| *p);
        let range = largest(points, |p| p - centre);
        // A coordinate that does not vary beyond rounding says nothing.
        let scale = range.map(|r| if r > 1e-15 { 1.0 / r } else { 0.0 });
        let scaled = |p: &Coordinates| (p - centre).component_mul(&scale);
        let covariance = mean(points, |p| {
            let p = scaled(p);
            p * p.transpose()
        });
        let turn = SymmetricEigen::new(covariance).eigenvectors.transpose();
        // Rare settings may lie far out: the range counts, not the standard deviation.
        let range = largest(points, |p| turn * scaled(p));
        let widest = range.max();
        let mut axes = Axes {
            centre,
            turn: Vec::new(),
            range: Vec::new(),
        };
        for i in (0..COORDINATES).filter(|&i| range[i] > FLAT * widest) {
            let row = turn.row(i).transpose().component_mul(&scale) / range[i];
            axes.turn.push(row);
            axes.range.push(range[i] / widest);
        }
        axes
    }

    /// The variables of a point.
    pub fn of(&self, p: &Coordinates) -> Vec<f64> {
        let moved = p - self.centre;
        self.turn.iter().map(|row| row.dot(&moved)).collect()
    }

    /// The `count` monomials of the largest range, each as a product of an earlier one and a
    /// variable; the first is the constant.
    fn monomials(&self, count: usize) -> Vec<(usize, usize)> {
        // Powers in ascending order of variables, so that each product comes once.
        let mut found: Vec<(f64, usize, Vec<usize>)> = vec![(1.0, 0, Vec::new())];
        let mut next = 0;
        while next < found.len() {
            let (range, _, factors) = found[next].clone();
            if factors.len() < DEGREE {
                for v in factors.last().copied().unwrap_or(0)..self.range.len() {
                    let mut more = factors.clone();
                    more.push(v);
                    found.push((range * SHRINK * self.range[v], 0, more));
                }
            }
            next += 1;
            if found.len() > 20_000 {
                break;
            }
        }
        found.sort_by(|a, b| b.0.total_cmp(&a.0).then_with(|| a.2.len().cmp(&b.2.len())));
        found.truncate(count.max(1));
        let place: std::collections::HashMap<Vec<usize>, usize> = found
            .iter()
            .enumerate()
            .map(|(i, f)| (f.2.clone(), i))
            .collect();
        found
            .iter()
            .skip(1)
            .filter_map(|(_, _, factors)| {
                let (last, rest) = factors.split_last()?;
                Some((*place.get(rest)?, *last))
            })
            .collect()
    }
}

/// The fitted polynomial.
pub(super) struct Surrogate {
    monomials: Vec<(usize, usize)>,
    /// A row for each monomial.
    coefficients: Vec<Output>,
    /// Errors at settings that were left out.
    pub left_out: Vec<Output>,
}

impl Surrogate {
    /// Fits exact outcomes at variables with so many monomials.
    pub fn fit(axes: &Axes, at: &[Vec<f64>], exact: &[Output], size: usize) -> Surrogate {
        let n = at.len();
        let mut s = Surrogate {
            monomials: axes.monomials(size),
            coefficients: Vec::new(),
            left_out: Vec::new(),
        };
        let p = s.monomials.len() + 1;
        let mut design = DMatrix::zeros(n, p);
        let mut row = Vec::new();
        for (i, x) in at.iter().enumerate() {
            s.fill(x, &mut row);
            for (j, v) in row.iter().enumerate() {
                design[(i, j)] = *v;
            }
        }
        let y = DMatrix::from_fn(n, OUTPUTS, |i, o| exact[i][o]);
        let qr = design.qr();
        let (q, r) = (qr.q(), qr.r());
        let mut right = q.transpose() * &y;
        // Back substitution; a column without anything of its own gets no coefficient.
        let mut c = DMatrix::<f64>::zeros(p, OUTPUTS);
        let mut kept = vec![true; p];
        for j in (0..p).rev() {
            let norm = r.view((0, j), (j + 1, 1)).norm();
            kept[j] = r[(j, j)].abs() > DEPENDENT * norm.max(f64::MIN_POSITIVE);
            if !kept[j] {
                continue;
            }
            for o in 0..OUTPUTS {
                c[(j, o)] = right[(j, o)] / r[(j, j)];
                for i in 0..j {
                    right[(i, o)] -= r[(i, j)] * c[(j, o)];
                }
            }
        }
        s.coefficients = (0..p).map(|j| Output::from_fn(|o, _| c[(j, o)])).collect();
        for (i, x) in at.iter().enumerate() {
            let leverage: f64 = (0..p).filter(|&j| kept[j]).map(|j| q[(i, j)].powi(2)).sum();
            let residual = exact[i] - s.at(x, &mut row);
            s.left_out.push(residual / (1.0 - leverage).max(0.05));
        }
        s
    }

    fn fill(&self, x: &[f64], row: &mut Vec<f64>) {
        row.clear();
        row.push(1.0);
        for &(parent, v) in &self.monomials {
            row.push(row[parent] * x[v]);
        }
    }

    /// The estimate at variables; `row` is scratch memory.
    pub fn at(&self, x: &[f64], row: &mut Vec<f64>) -> Output {
        self.fill(x, row);
        let mut out = Output::zeros();
        for (m, c) in row.iter().zip(&self.coefficients) {
            out += c * *m;
        }
        out
    }
}

/// An outcome as numbers.
pub(super) fn output(o: &Outcome) -> Output {
    let g = &o.ground;
    Output::from([
        g[0],
        g[1],
        g[2],
        g[3],
        o.offline_sd,
        o.spin_rate,
        o.landing_angle,
    ])
}

/// And back.
pub(super) fn outcome(o: &Output) -> Outcome {
    Outcome {
        ground: Ground::new(o[0], o[1], o[2], o[3]),
        offline_sd: o[4].max(0.0),
        spin_rate: o[5],
        landing_angle: o[6],
    }
}
