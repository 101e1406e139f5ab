//! The learned correction: what the levers do beyond the physics, for whom.
//!
//! In launch space, for each response `r` of [`RESPONSES`] and session `j` of player `p` with head
//! `h`, let `y_j` be the session's mean launch with the physically predicted effect of its setting
//! taken out, and `x_j` the lever features of the setting against the head's reference. Then
//!
//! `y_j = a_ph + x_j · (beta + b_p + c_h) + v_d + u_j + e_j`,
//!
//! `beta ~ N(0, s²)`, `b_p ~ N(0, (kp s)²)`, `c_h ~ N(0, (kh s)²)`, `v_d ~ N(0, tau_v²)`,
//! `u_j ~ N(0, tau²)`, `e_j ~ N(0, sigma²/n_j)`: effects shared by all, partially pooled effects
//! of player and head, an intercept for each player on each head, a visit effect of the day that
//! sessions before and after a change share, a session effect, and shot noise. The features are
//! constant within a session, so that its mean, its number of shots and its variance are
//! sufficient. The priors are centred on bare physics: without data there is no correction.
//!
//! Given the variance components the posterior mean is an ordinary least-squares solution on
//! augmented rows (a row for each session, weighted, and a row for each prior), solved by
//! `linfa-linear`; the components are estimated by EM.
//!
//! Sources: N. M. Laird, J. H. Ware 1982, *Random-effects models for longitudinal data*,
//! Biometrics 38, 963-974 (model and EM); D. V. Lindley, A. F. M. Smith 1972, *Bayes estimates for
//! the linear model*, J. R. Stat. Soc. B 34, 1-41 (partial pooling); A. E. Hoerl, R. W. Kennard
//! 1970, Technometrics 12, 55-67 (ridge as augmented rows: D. W. Marquardt 1970, Technometrics 12,
//! 591-612).

mod columns;
mod components;
mod fit;
mod left_out;
mod model;
mod regression;
mod score;
mod summary;
mod worth;

pub(crate) use components::VISIT_SD;
pub use fit::{FitError, FitOptions, fit};
pub use model::{
    Coefficient, Components, DataSeen, Effect, Local, Model, ResponseModel, Season, Term,
};
pub use score::{Score, Z80};
pub use summary::{SessionSummary, summarise};
pub use worth::{Worth, worths};

use crate::launch::Launch;
use crate::units::{DEG, RPM};

/// The responses, with their units.
pub const RESPONSES: [&str; 5] = [
    "launch_angle_deg",
    "launch_direction_deg",
    "spin_axis_deg",
    "spin_rate_rpm",
    "speed_ratio",
];

/// The responses of a launch struck at a head speed (m/s).
pub fn responses(launch: &Launch, head_speed: f64) -> [f64; 5] {
    [
        launch.launch_angle / DEG,
        launch.launch_direction / DEG,
        launch.spin_axis / DEG,
        launch.spin_rate / RPM,
        launch.ball_speed / head_speed,
    ]
}

/// A launch with a correction (in the units of [`RESPONSES`]) added.
pub fn corrected(launch: &Launch, correction: &[f64; 5], head_speed: f64) -> Launch {
    Launch {
        launch_angle: launch.launch_angle + correction[0] * DEG,
        launch_direction: launch.launch_direction + correction[1] * DEG,
        spin_axis: launch.spin_axis + correction[2] * DEG,
        spin_rate: (launch.spin_rate + correction[3] * RPM).max(0.0),
        ball_speed: launch.ball_speed + correction[4] * head_speed,
    }
}
