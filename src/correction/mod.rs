//! The learned correction: what the levers do beyond the physics, for whom.
//!
//! # Model
//!
//! In launch space, for each response `r` of [`RESPONSES`] and session `j` of player `p` with head
//! `h`, let `y_j` be the session's mean launch with the physically predicted effect of its setting
//! taken out, and `x_j` the lever features of the setting against the head's reference. Then
//!
//! `y_j = a_ph + x_j · (beta + b_p + c_h + d_ph) + v_d + u_j + e_j`,
//!
//! `beta ~ N(0, s²)`, `b_p ~ N(0, (kp s)²)`, `c_h ~ N(0, (kh s)²)`, `d_ph ~ N(0, (kb s)²)`,
//! `v_d ~ N(0, tau_v²)`, `u_j ~ N(0, tau²)`, `e_j ~ N(0, sigma²/n_j)`: effects shared by all,
//! partially pooled effects of player, of head, and of a player on this very build (a player's head,
//! however it is set or shafted), an intercept for each player on each head, a visit effect of the
//! day that sessions before and after a change share (device set-up, ball, swing of the day), a
//! session effect, and shot noise. These are the interactions that a workshop's data carry: levers
//! with players and heads. Products of levers are left to the physics, which has them. The priors
//! are centred on the physics, average closing of the face included: without data there is no
//! correction.
//!
//! **Controls.** What is known of the delivery is in `y_j`: the physical effect is taken out at the
//! session's own delivery, inferred from everything measured, and a measured strike location's
//! physical effect is taken out of each shot, which takes most of its scatter away.
//!
//! **Sums.** The features are constant within a session, so that its mean, its number of shots and
//! its variance ([`SessionSummary`]) are all that is kept of it; no shot is. The summaries are the
//! cross products by session. A fit adds them up in the order of their names, so that sessions can
//! be added, withdrawn and merged from shards ([`Sessions`]) and the bytes are those of the same
//! sessions in one go.
//!
//! # Fit
//!
//! The normal equations are a nested arrow (pair in player in heads) and are solved block by block;
//! what is left, the shared effects, goes as its square root into ordinary least squares by
//! `linfa-linear`. The variance components are the mode of their restricted likelihood times weak
//! priors, by a scoring step and Newton steps with the average information, until a step is less
//! than 0.3 % of a standard deviation. That they are estimated, not known, widens the variance
//! of a response's effects by one factor ([`ResponseModel::inflation`]).
//!
//! **Heavy tails.** Shots within a session have t weights with four degrees of freedom
//! ([`crate::robust`]). Sessions that are more than two standard deviations from what all others
//! foretell lose weight as under a t with four degrees of freedom, in rounds over the summaries, not
//! the shots. Exact given the weights: coefficients, covariances, scores. Not exact: the weights'
//! own uncertainty is left out, and the bulk of the noise is normal.
//!
//! **Several responses.** Each is fitted on its own; the covariance of their errors is that of the
//! noise that they share (see [`Learned`]).
//!
//! **Seasons.** Last season's posterior of the effects, as information divided by the stated
//! widening, is this season's prior; intercepts start afresh. With widening 1, given components and
//! other pairs this is exactly the fit of both seasons at once.
//!
//! **Place.** A response is in use if it beats bare physics on sessions that it has not seen by more
//! than one standard error ([`Score`]); scores ahead in time, against a pooled model without
//! players and on the ground stand beside it. The example `calibration` prints ranks and coverage
//! on simulated seasons.
//!
//! # Sources
//!
//! N. M. Laird, J. H. Ware 1982, *Random-effects models for longitudinal data*, Biometrics 38,
//! 963-974 (model); D. V. Lindley, A. F. M. Smith 1972, *Bayes estimates for the linear model*, J.
//! R. Stat. Soc. B 34, 1-41, and A. Gelman, J. Hill 2007, *Data Analysis Using Regression and
//! Multilevel/Hierarchical Models* (partial pooling); A. R. Gilmour, R. Thompson, B. R. Cullis 1995,
//! Biometrics 51, 1440-1450 (average information); K. L. Lange, R. J. A. Little, J. M. G. Taylor
//! 1989, J. Am. Stat. Assoc. 84, 881-896 (t weights); R. E. Kass, D. Steffey 1989, J. Am. Stat.
//! Assoc. 84, 717-726 (uncertain components); A. Zellner 1962, J. Am. Stat. Assoc. 57, 348-368
//! (several responses); D. A. Belsley, E. Kuh, R. E. Welsch 1980, *Regression Diagnostics* (what
//! can't be told apart); S. Talts et al. 2018, arXiv:1804.06788 (calibration).

mod arrow;
mod components;
mod drift;
mod estimator;
mod filed;
mod fit;
mod ground;
mod held_out;
mod identify;
mod learned;
mod lines;
mod local;
mod model;
mod prior;
mod regression;
mod rows;
mod score;
mod summary;
mod worth;

pub use components::TAIL_CONSISTENCY;
pub use estimator::{Correction, Sessions, ValidCorrection};
pub use fit::{Effects, FitError, FitOptions, Scored, fit, fit_scored};
pub use ground::{GROUND, GroundGradient, ground_gradient};
pub use learned::Learned;
pub use local::{Effect, Local};
pub use model::{
    Coefficient, Components, DataSeen, Drift, Flag, Group, Model, PairInformation, Posterior,
    ResponseModel, Season, Term,
};
pub use score::{ENOUGH, Foretold, GroundScore, HeldOut, Score, Z80};
pub use summary::{SessionSummary, Summariser, summarise};
pub use worth::{Worth, worths};

use crate::launch::Launch;
use crate::units::{DEG, RPM};

/// A vector over features.
type V7 = nalgebra::SVector<f64, 7>;
/// A matrix over features.
type M7 = nalgebra::SMatrix<f64, 7, 7>;

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
