//! A miss in words as a situation: what was said, as a measurement with wide errors.

use super::situation::{Situation, SituationError, draw, root};
use super::{Evidence, Goal, Window};
use crate::club::Club;
use crate::correction::Local;
use crate::delivery::{Matrix7, Reading, infer};
use crate::flight::{Conditions, Flight};
use crate::impact::Delivery;
use crate::launch::Launch;
use crate::miss::{Amount, Complaint, Miss};
use crate::physics::Physics;
use crate::priors::{self, DeliveryPrior};
use crate::quantity::Quantity;
use crate::tendency::Ground;
use crate::units::RPM;
use nalgebra::{Matrix4, Vector6};

/// A miss in words, as it was understood. Right-handed frame, SI.
#[derive(Debug, Clone, PartialEq)]
pub struct Words {
    /// Start offline, curve, offline, carry and apex (m) and spin rate (rad/s).
    pub figures: [Taken; 6],
    /// Too high or too low was said.
    pub height: Option<Complaint>,
    /// Too much or too little spin was said.
    pub spin: Option<Complaint>,
    /// Parts of the swing that it takes to explain the words and that are rare: more than
    /// [`RARE`] standard deviations from what is usual; number in `COMPONENTS` and value.
    pub rare: Vec<(usize, f64)>,
}

/// A figure as it was said and as it is taken.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Taken {
    /// Its name: start, curve, offline, carry, apex or spin_rate.
    pub name: &'static str,
    /// What was said of it; an assumed amount if only a direction was.
    pub said: Option<f64>,
    /// Whether the amount was assumed.
    pub assumed: bool,
    /// What the average ball does, with the usual spread about the most probable swing.
    pub taken: f64,
}

/// A height or a spin that is said is a complaint if it differs from the usual by more than this.
const ODD: f64 = 0.2;

/// A height that is too high for a player who wants so much at most is beyond that by this factor.
const BEYOND: f64 = 1.1;

/// Standard deviations beyond which a part of a swing is told as rare.
pub const RARE: f64 = 2.0;

impl<'a> Situation<'a> {
    /// From a miss in words: a measurement with wide errors of the player's average ball.
    ///
    /// "High", "low" and "too much spin" are taken against what the prior player's ball does.
    ///
    /// # Errors
    /// If the delivery cannot be fitted or the club's setting is not one that it has.
    #[allow(clippy::too_many_arguments)]
    pub fn from_words(
        club: &'a Club,
        physics: &'a Physics,
        conditions: Conditions,
        miss: &Miss,
        prior: &DeliveryPrior,
        mut goal: Goal,
        correction: Local,
        draws: usize,
        seed: u32,
    ) -> Result<Situation<'a>, SituationError> {
        let striker = physics.striker(&club.head, &club.setting, &club.setting)?;
        let range = physics.range(&conditions);
        let fly = |d: &Delivery| {
            let launch = striker.launch(d, &physics.ball, &physics.impact);
            (launch, range.fly(&launch))
        };
        let spread = Matrix7::from_diagonal(&priors::within(club.head.kind));
        let around = |swing: &Delivery| -> Vec<Delivery> {
            let mean = swing.to_vector();
            (0..draws).map(|i| draw(&mean, &spread, i, seed)).collect()
        };
        let figures = |d: &Delivery| figures(&fly(d));
        let average = |cloud: &[Delivery]| {
            cloud.iter().map(figures).sum::<Vector6<f64>>() / cloud.len().max(1) as f64
        };
        let usual_carry = fly(&Delivery::from_vector(&prior.mean)).1.carry();
        let prior = &with_speed_open(prior, miss);
        // Words tell of the average ball, which falls short of the average swing's.
        let fit = |said: &[Reading]| {
            let near = infer(said, prior, &striker, physics, &range)?.delivery;
            let short = figures(&near) - average(&around(&near));
            let more = |r: &Reading| Reading {
                value: r.value
                    + match r.quantity {
                        Quantity::Curve => short[1],
                        Quantity::Offline => short[2],
                        Quantity::Carry => short[3],
                        Quantity::Apex => short[4],
                        Quantity::SpinRate => short[5],
                        _ => 0.0,
                    },
                ..*r
            };
            let said: Vec<Reading> = said.iter().map(more).collect();
            infer(&said, prior, &striker, physics, &range)
        };
        let mut said = said(miss, miss.carry.unwrap_or(usual_carry));
        // What height and spin a ball of that carry and curve should have: the player's own.
        let level = |q| q == Quantity::Apex || q == Quantity::SpinRate;
        let level_free: Vec<Reading> = said
            .iter()
            .copied()
            .filter(|r| !level(r.quantity))
            .collect();
        let plain = fit(&level_free)?;
        let usual = average(&around(&plain.delivery));
        let (usual_apex, usual_spin) = (usual[4], usual[5]);
        let factor = |c: Complaint| match c {
            Complaint::High => 1.25,
            Complaint::Low => 0.75,
        };
        // A number far from the usual is a complaint of itself.
        let odd =
            |said: Option<f64>, usual: f64| said.is_some_and(|v| (v / usual - 1.0).abs() > ODD);
        if miss.height.is_some() || odd(miss.apex, usual_apex) {
            goal.apex = goal.apex.or(Some(Window::at(usual_apex)));
        }
        if miss.spin.is_some() || odd(miss.spin_rate, usual_spin) {
            goal.spin_rate = Some(Window::at(usual_spin));
        }
        if let Some(c) = miss.height.filter(|_| miss.apex.is_none()) {
            // What is too high is above what the player wants, too.
            let (wanted, usual) = (goal.apex, usual_apex * factor(c));
            let value = match (c, wanted) {
                (Complaint::High, Some(w)) => usual.max(BEYOND * w.high),
                (Complaint::Low, Some(w)) => usual.min(w.low / BEYOND),
                _ => usual,
            };
            said.push(Reading {
                quantity: Quantity::Apex,
                value: if value.is_finite() { value } else { usual },
                sd: 0.12 * usual_apex,
            });
        }
        if let Some(c) = miss.spin.filter(|_| miss.spin_rate.is_none()) {
            said.push(Reading {
                quantity: Quantity::SpinRate,
                value: usual_spin * factor(c),
                sd: 0.12 * usual_spin,
            });
        }
        let fitted = fit(&said)?;
        let cloud = around(&fitted.delivery);
        // How much the words leave open, on the ground: push the posterior through.
        let (centre, posterior_root) = (fitted.delivery.to_vector(), root(&fitted.covariance));
        let pushed: Vec<Ground> = (0..draws)
            .map(|i| {
                let (launch, f) = fly(&draw(&centre, &posterior_root, i, seed.wrapping_add(1)));
                let direction = launch.launch_direction;
                Ground::new(
                    f.start_offline(direction),
                    f.curve(direction),
                    f.carry(),
                    f.apex,
                )
            })
            .collect();
        Ok(Situation {
            club,
            physics,
            conditions,
            offset: [0.0; 5],
            centre_covariance: covariance(&pushed),
            correction,
            goal,
            evidence: Evidence::Words(Box::new(words(
                miss,
                &fitted.delivery,
                prior,
                &average(&cloud),
            ))),
            cloud,
            stock: None,
            rack: Vec::new(),
        })
    }
}

/// What words speak of, of one ball: the figures of [`Words`].
fn figures((launch, flight): &(Launch, Flight)) -> Vector6<f64> {
    let direction = launch.launch_direction;
    Vector6::new(
        flight.start_offline(direction),
        flight.curve(direction),
        flight.offline,
        flight.carry(),
        flight.apex,
        launch.spin_rate,
    )
}

/// A carry that was said tells of the head speed of the day and of how well the ball is caught, more
/// than of loft and spin: the speed may differ from the player's usual by 8 % (common practice, no
/// source).
fn with_speed_open(prior: &DeliveryPrior, miss: &Miss) -> DeliveryPrior {
    let mut out = *prior;
    if miss.carry.is_some() {
        out.sd[0] = out.sd[0].max(0.08 * out.mean[0]);
    }
    out
}

/// What the words were taken as: the average ball about the most probable swing.
fn words(miss: &Miss, swing: &Delivery, prior: &DeliveryPrior, average: &Vector6<f64>) -> Words {
    let carry = average[3];
    let plain = |name, said: Option<f64>, taken| Taken {
        name,
        said,
        assumed: false,
        taken,
    };
    let sideways = |name, said: Option<Amount>, taken| Taken {
        assumed: matches!(said, Some(Amount::Unsaid(_))),
        ..plain(name, said.map(|a| a.at(miss.carry.unwrap_or(carry))), taken)
    };
    let z = (swing.to_vector() - prior.mean).component_div(&prior.sd);
    Words {
        figures: [
            sideways("start", miss.start, average[0]),
            sideways("curve", miss.curve, average[1]),
            sideways("offline", miss.offline, average[2]),
            plain("carry", miss.carry, carry),
            plain("apex", miss.apex, average[4]),
            plain("spin_rate", miss.spin_rate, average[5]),
        ],
        height: miss.height,
        spin: miss.spin,
        rare: (0..7)
            .filter(|&i| z[i].abs() > RARE)
            .map(|i| (i, swing.to_vector()[i]))
            .collect(),
    }
}

/// What was said, as readings with errors (common practice, no source): a start line to 1.25 % of
/// the carry (3 yd of 240), curve and offline to a tenth of themselves more, half of an amount that
/// was assumed, carry to 3 %, apex to 8 %, spin to 10 %. They are narrow against what players
/// differ, so that a number that was said is kept unless no usual swing can explain it.
fn said(miss: &Miss, carry: f64) -> Vec<Reading> {
    let mut out = Vec::new();
    let mut say = |quantity, value: f64, sd: f64| {
        out.push(Reading {
            quantity,
            value,
            sd,
        })
    };
    let eye = 0.0125 * carry;
    let error = |a: Amount| match a {
        Amount::Stated(v) => eye.hypot(0.1 * v),
        Amount::Unsaid(_) => eye.hypot(0.5 * a.at(carry)),
    };
    if let Some(v) = miss.carry {
        say(Quantity::Carry, v, 0.03 * v);
    }
    if let Some(a) = miss.start {
        let sd = match a {
            Amount::Stated(_) => eye,
            Amount::Unsaid(_) => error(a),
        };
        say(
            Quantity::LaunchDirection,
            (a.at(carry) / carry).atan(),
            sd / carry,
        );
    }
    if let Some(a) = miss.curve {
        say(Quantity::Curve, a.at(carry), error(a));
    }
    if let Some(a) = miss.offline {
        say(Quantity::Offline, a.at(carry), error(a));
    }
    if let Some(v) = miss.apex {
        say(Quantity::Apex, v, 0.08 * v.max(5.0));
    }
    if let Some(v) = miss.spin_rate {
        say(Quantity::SpinRate, v, (0.1 * v).max(100.0 * RPM));
    }
    out
}

fn covariance(rows: &[Ground]) -> Matrix4<f64> {
    let n = rows.len().max(1) as f64;
    let mean = rows.iter().sum::<Ground>() / n;
    rows.iter()
        .map(|r| (r - mean) * (r - mean).transpose())
        .sum::<Matrix4<f64>>()
        / n
}
