//! Random draws: seeded streams, and the same evenly spread swings for every setting.

use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use statrs::distribution::{ChiSquared, ContinuousCDF, Normal};

/// A seeded stream.
pub struct Draws(ChaCha8Rng);

impl Draws {
    /// Stream `what` of player `who`.
    pub fn new(seed: u64, who: u64, what: u64) -> Draws {
        let mut rng = ChaCha8Rng::seed_from_u64(seed);
        rng.set_stream(who << 8 | what);
        Draws(rng)
    }

    /// Uniform on 0 to 1.
    pub fn uniform(&mut self) -> f64 {
        self.0.random()
    }

    /// An index below `n`.
    pub fn below(&mut self, n: usize) -> usize {
        ((self.uniform() * n as f64) as usize).min(n - 1)
    }

    /// A standard normal deviate (G. E. P. Box, M. E. Muller 1958, Ann. Math. Stat. 29, 610-611).
    pub fn normal(&mut self) -> f64 {
        let (a, b) = (self.uniform(), self.uniform());
        (-2.0 * (1.0 - a).ln()).sqrt() * (std::f64::consts::TAU * b).cos()
    }

    /// A deviate of Student's t with an even or odd number of degrees of freedom, scaled to a
    /// standard deviation of 1.
    pub fn tailed(&mut self, dof: f64) -> f64 {
        let z = self.normal();
        z * self.scale(dof)
    }

    /// What makes a normal deviate one of Student's t, scaled to a standard deviation of 1.
    fn scale(&mut self, dof: f64) -> f64 {
        let chi: f64 = (0..dof as usize).map(|_| self.normal().powi(2)).sum();
        ((dof - 2.0) / chi).sqrt()
    }

    /// One swing.
    pub fn swing(&mut self, dof: f64) -> Swing {
        Swing {
            z: std::array::from_fn(|_| self.normal()),
            scale: self.scale(dof),
            which: self.uniform(),
            how: self.uniform(),
        }
    }
}

/// What is random in a swing: standard normals, the scale of its tail, two uniforms that say
/// whether it is mishit and how.
#[derive(Debug, Clone, Copy)]
pub struct Swing {
    pub z: [f64; 7],
    pub scale: f64,
    pub which: f64,
    pub how: f64,
}

/// So many swings, evenly spread over all that is random (Sobol points): any number of the first
/// ones is spread evenly as well.
pub fn even_swings(n: usize, dof: f64) -> Vec<Swing> {
    let chi = ChiSquared::new(dof).expect("positive degrees of freedom");
    let u = |i: usize, d: u32| f64::from(sobol_burley::sample(i as u32, d, 7)) + 0.5f64.powi(25);
    (0..n)
        .map(|i| Swing {
            z: std::array::from_fn(|d| Normal::standard().inverse_cdf(u(i, d as u32))),
            scale: ((dof - 2.0) / chi.inverse_cdf(u(i, 7))).sqrt(),
            which: u(i, 8),
            how: u(i, 9),
        })
        .collect()
}
