//! Does the correction earn its place? Held-out sessions against bare physics.

use serde::{Deserialize, Serialize};

/// Leave-one-session-out score of one response, in its unit.
///
/// Each session is predicted from all others, those of the same visit included, so that what is
/// scored is mostly the change that a lever made. Exact for the given variance components. Bare
/// physics is the same model without lever effects; both have the intercepts. Sessions of a player
/// on a head without another session are left out: nothing predicts them.
#[derive(Debug, Clone, Copy, PartialEq, Default, Serialize, Deserialize)]
pub struct Score {
    /// Sessions that count.
    pub sessions: usize,
    /// Root mean square error of bare physics.
    pub rmse_physics: f64,
    /// Root mean square error of the correction.
    pub rmse_correction: f64,
    /// Mean gain in squared error of the correction over physics.
    pub gain: f64,
    /// Standard error of that gain over sessions.
    pub gain_se: f64,
    /// Share of sessions inside their 80 % prediction interval.
    pub coverage_80: f64,
}

/// Squared errors of one held-out session.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct HeldOut {
    /// Error of bare physics.
    pub physics: f64,
    /// Error of the correction.
    pub correction: f64,
    /// Standard deviation that the correction predicted for its error.
    pub predicted_sd: f64,
}

/// 90 % quantile of the standard normal: half of an 80 % interval.
pub const Z80: f64 = 1.281_551_565_544_600_4;

impl Score {
    /// From held-out sessions.
    pub fn new(held: &[HeldOut]) -> Score {
        let n = held.len() as f64;
        if held.is_empty() {
            return Score::default();
        }
        let mean = |f: &dyn Fn(&HeldOut) -> f64| held.iter().map(f).sum::<f64>() / n;
        let gain_of = |h: &HeldOut| h.physics.powi(2) - h.correction.powi(2);
        let gain = mean(&gain_of);
        let var = mean(&|h| (gain_of(h) - gain).powi(2)) * n / (n - 1.0).max(1.0);
        Score {
            sessions: held.len(),
            rmse_physics: mean(&|h| h.physics.powi(2)).sqrt(),
            rmse_correction: mean(&|h| h.correction.powi(2)).sqrt(),
            gain,
            gain_se: (var / n).sqrt(),
            coverage_80: mean(&|h| f64::from(u8::from(h.correction.abs() <= Z80 * h.predicted_sd))),
        }
    }

    /// Whether the correction beats bare physics beyond noise: by more than one standard error,
    /// on at least eight held-out sessions.
    pub fn earns_its_place(&self) -> bool {
        self.sessions >= 8 && self.gain > self.gain_se
    }
}
