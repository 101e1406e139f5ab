//! Does the correction earn its place? Sessions foretold without having been seen, against bare
//! physics and against a model without players.

use serde::{Deserialize, Serialize};
use statrs::distribution::{ContinuousCDF, Normal};

/// 90 % quantile of the standard normal: half of an 80 % interval.
pub const Z80: f64 = 1.281_551_565_544_600_4;

/// So many held-out sessions tell whether a correction earns its place.
pub const ENOUGH: usize = 8;

/// How one model foretells sessions. Standard errors count each visit as one observation.
#[derive(Debug, Clone, Copy, PartialEq, Default, Serialize, Deserialize)]
pub struct Foretold {
    /// Root mean square error.
    pub rmse: f64,
    /// Standard error of it (delta method).
    pub rmse_se: f64,
    /// Mean logarithm of the predictive density; more is better.
    pub log_score: f64,
    /// Standard error of it.
    pub log_score_se: f64,
    /// Share of sessions inside their 50, 80 and 95 % intervals.
    pub coverage: [f64; 3],
    /// Standard errors of the shares.
    pub coverage_se: [f64; 3],
}

/// Score of one response, in its unit.
///
/// What is scored are the means of sessions that the fit has not seen. Bare physics is the same
/// model without lever effects; the pooled model has shared effects and those of heads. All have
/// the intercepts and components of their own. Sessions of a player on a head without another
/// session are left out: nothing foretells them. Exact for the given variance components and
/// weights of the sessions, which come from all sessions.
#[derive(Debug, Clone, Copy, PartialEq, Default, Serialize, Deserialize)]
pub struct Score {
    /// Sessions that count.
    pub sessions: usize,
    /// Bare physics.
    pub physics: Foretold,
    /// Shared and head effects, no players.
    pub pooled: Foretold,
    /// The correction.
    pub correction: Foretold,
    /// Mean gain in squared error of the correction over physics.
    pub gain: f64,
    /// Standard error of that gain.
    pub gain_se: f64,
    /// Mean gain of the correction over the pooled model.
    pub gain_over_pooled: f64,
    /// Standard error of that gain.
    pub gain_over_pooled_se: f64,
}

/// A score where the ball lands, m.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct GroundScore {
    /// `offline_m` or `carry_m`.
    pub quantity: String,
    /// Each session foretold by all others.
    pub score: Score,
    /// Sessions foretold by earlier ones only.
    pub forward: Score,
}

/// One held-out session, foretold by bare physics, the pooled model and the correction.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct HeldOut {
    /// Index of the session in the order of the fit.
    pub session: usize,
    /// Number of its visit.
    pub visit: usize,
    /// Errors.
    pub error: [f64; 3],
    /// Standard deviations that were foretold for them.
    pub sd: [f64; 3],
}

/// Mean of something over held-out sessions with its standard error, by visits: the sums of the
/// deviations of a visit's sessions are independent.
fn mean_se(held: &[HeldOut], of: impl Fn(&HeldOut) -> f64) -> (f64, f64) {
    let n = held.len() as f64;
    let mean = held.iter().map(&of).sum::<f64>() / n;
    let (mut squares, mut visits) = (0.0, 0.0);
    for visit in held.chunk_by(|a, b| a.visit == b.visit) {
        squares += visit.iter().map(|h| of(h) - mean).sum::<f64>().powi(2);
        visits += 1.0;
    }
    let spread = squares * visits / f64::max(visits - 1.0, 1.0);
    (mean, spread.sqrt() / n)
}

impl Foretold {
    fn new(held: &[HeldOut], model: usize) -> Foretold {
        let half = |share: f64| Normal::standard().inverse_cdf(0.5 + share / 2.0);
        let (square, square_se) = mean_se(held, |h| h.error[model].powi(2));
        let (log_score, log_score_se) = mean_se(held, |h| {
            let z = h.error[model] / h.sd[model];
            -0.5 * (z * z + std::f64::consts::TAU.ln()) - h.sd[model].ln()
        });
        let inside = [0.5, 0.8, 0.95].map(|share| {
            let z = half(share);
            mean_se(held, |h| {
                f64::from(u8::from(h.error[model].abs() <= z * h.sd[model]))
            })
        });
        Foretold {
            rmse: square.sqrt(),
            rmse_se: square_se / (2.0 * square.sqrt()).max(f64::MIN_POSITIVE),
            log_score,
            log_score_se,
            coverage: inside.map(|(share, _)| share),
            coverage_se: inside.map(|(_, se)| se),
        }
    }
}

impl Score {
    /// From held-out sessions, those of a visit next to each other.
    pub fn new(held: &[HeldOut]) -> Score {
        if held.is_empty() {
            return Score::default();
        }
        let over = |k: usize| mean_se(held, |h| h.error[k].powi(2) - h.error[2].powi(2));
        let (gain, gain_se) = over(0);
        let (gain_over_pooled, gain_over_pooled_se) = over(1);
        Score {
            sessions: held.len(),
            physics: Foretold::new(held, 0),
            pooled: Foretold::new(held, 1),
            correction: Foretold::new(held, 2),
            gain,
            gain_se,
            gain_over_pooled,
            gain_over_pooled_se,
        }
    }

    /// Whether there are enough held-out sessions to tell.
    pub fn tells(&self) -> bool {
        self.sessions >= ENOUGH
    }

    /// Whether the correction beats bare physics beyond noise: by more than one standard error,
    /// on at least [`ENOUGH`] held-out sessions.
    pub fn earns_its_place(&self) -> bool {
        self.tells() && self.gain > self.gain_se
    }
}
