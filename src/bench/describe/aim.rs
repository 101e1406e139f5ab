//! What a player wants: the same words in the player's file and on the command line.

use super::source::{DescribeError, Problem, Source, at};
use crate::hand::Hand;
use crate::proposal::{Goal, Weights, Window};
use crate::tendency;
use crate::units::{DEG, YARD};
use clap::Args;
use serde::{Deserialize, Serialize};

/// `[aim]`: the shot that the player wants, in the real world, right positive for both hands.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize, Args)]
#[serde(deny_unknown_fields, default)]
#[command(next_help_heading = "What the player wants, beyond the player's file")]
pub struct AimFile {
    /// Where the start line passes at landing distance, right positive.
    #[arg(long, value_name = "YD", allow_negative_numbers = true)]
    #[serde(skip_serializing_if = "Option::is_none")]
    pub start_yd: Option<f64>,
    /// The same in m.
    #[arg(long, value_name = "M", allow_negative_numbers = true)]
    #[serde(skip_serializing_if = "Option::is_none")]
    pub start_m: Option<f64>,
    /// Curve, right positive.
    #[arg(long, value_name = "YD", allow_negative_numbers = true)]
    #[serde(skip_serializing_if = "Option::is_none")]
    pub curve_yd: Option<f64>,
    /// The same in m.
    #[arg(long, value_name = "M", allow_negative_numbers = true)]
    #[serde(skip_serializing_if = "Option::is_none")]
    pub curve_m: Option<f64>,
    /// Width of the fairway around where the shot should land: what lies in it costs nothing.
    #[arg(long, value_name = "YD", allow_negative_numbers = true)]
    #[serde(skip_serializing_if = "Option::is_none")]
    pub fairway_yd: Option<f64>,
    /// The same in m.
    #[arg(long, value_name = "M", allow_negative_numbers = true)]
    #[serde(skip_serializing_if = "Option::is_none")]
    pub fairway_m: Option<f64>,
    /// Leftmost start line that is as good as any, right positive.
    #[arg(long, value_name = "YD", allow_negative_numbers = true)]
    #[serde(skip_serializing_if = "Option::is_none")]
    pub start_from_yd: Option<f64>,
    /// The same in m.
    #[arg(long, value_name = "M", allow_negative_numbers = true)]
    #[serde(skip_serializing_if = "Option::is_none")]
    pub start_from_m: Option<f64>,
    /// Rightmost start line that is as good as any, right positive.
    #[arg(long, value_name = "YD", allow_negative_numbers = true)]
    #[serde(skip_serializing_if = "Option::is_none")]
    pub start_to_yd: Option<f64>,
    /// The same in m.
    #[arg(long, value_name = "M", allow_negative_numbers = true)]
    #[serde(skip_serializing_if = "Option::is_none")]
    pub start_to_m: Option<f64>,
    /// Least height.
    #[arg(long, value_name = "YD", allow_negative_numbers = true)]
    #[serde(skip_serializing_if = "Option::is_none")]
    pub height_from_yd: Option<f64>,
    /// The same in m.
    #[arg(long, value_name = "M", allow_negative_numbers = true)]
    #[serde(skip_serializing_if = "Option::is_none")]
    pub height_from_m: Option<f64>,
    /// Greatest height.
    #[arg(long, value_name = "YD", allow_negative_numbers = true)]
    #[serde(skip_serializing_if = "Option::is_none")]
    pub height_to_yd: Option<f64>,
    /// The same in m.
    #[arg(long, value_name = "M", allow_negative_numbers = true)]
    #[serde(skip_serializing_if = "Option::is_none")]
    pub height_to_m: Option<f64>,
    /// Least landing angle.
    #[arg(long, value_name = "DEG", allow_negative_numbers = true)]
    #[serde(skip_serializing_if = "Option::is_none")]
    pub landing_from_deg: Option<f64>,
    /// Greatest landing angle.
    #[arg(long, value_name = "DEG", allow_negative_numbers = true)]
    #[serde(skip_serializing_if = "Option::is_none")]
    pub landing_to_deg: Option<f64>,
    /// How much direction matters: where the ball starts and lands [default: 1].
    #[arg(long, value_name = "FACTOR", allow_negative_numbers = true)]
    #[serde(skip_serializing_if = "Option::is_none")]
    pub direction_weight: Option<f64>,
    /// How much shape matters: the curve [default: 1].
    #[arg(long, value_name = "FACTOR", allow_negative_numbers = true)]
    #[serde(skip_serializing_if = "Option::is_none")]
    pub shape_weight: Option<f64>,
    /// How much height, spin and landing angle matter [default: 1].
    #[arg(long, value_name = "FACTOR", allow_negative_numbers = true)]
    #[serde(skip_serializing_if = "Option::is_none")]
    pub height_weight: Option<f64>,
    /// How much lost carry matters [default: 1].
    #[arg(long, value_name = "FACTOR", allow_negative_numbers = true)]
    #[serde(skip_serializing_if = "Option::is_none")]
    pub distance_weight: Option<f64>,
    /// Carry must not be lost.
    #[arg(long)]
    pub keep_carry: bool,
}

/// The shot that a player wants, as far as it is said. SI, real-world frame, right positive.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Aim {
    /// Where the start line passes at landing distance, m.
    pub start: Option<f64>,
    /// Curve, m.
    pub curve: Option<f64>,
    /// Width of the fairway, m.
    pub fairway: Option<f64>,
    /// Start line from and to, m.
    pub start_window: [Option<f64>; 2],
    /// Height from and to, m.
    pub height: [Option<f64>; 2],
    /// Landing angle from and to, rad.
    pub landing: [Option<f64>; 2],
    /// Weights of direction, shape, height and distance.
    pub weights: [Option<f64>; 4],
    /// Whether the carry should stay as it is.
    pub keep_carry: bool,
}

/// What is wrong with an `[aim]` beyond the bounds of single numbers.
pub(super) fn problems(aim: &AimFile) -> Vec<Problem> {
    let mut wrong = Vec::new();
    for (key, yards, metres) in [
        ("start", aim.start_yd, aim.start_m),
        ("curve", aim.curve_yd, aim.curve_m),
        ("fairway", aim.fairway_yd, aim.fairway_m),
        ("start_from", aim.start_from_yd, aim.start_from_m),
        ("start_to", aim.start_to_yd, aim.start_to_m),
        ("height_from", aim.height_from_yd, aim.height_from_m),
        ("height_to", aim.height_to_yd, aim.height_to_m),
    ] {
        if yards.is_some() && metres.is_some() {
            let allowed = format!("give {key}_yd or {key}_m, not both");
            wrong.push(Problem::new(
                at!["aim", format!("{key}_yd").as_str()],
                "",
                allowed,
            ));
        }
    }
    let weights = [
        aim.direction_weight,
        aim.shape_weight,
        aim.height_weight,
        aim.distance_weight,
    ];
    if weights == [Some(0.0); 4] {
        let allowed = "one of the four weights must be above 0: else nothing is missed";
        wrong.push(Problem::new(at!["aim", "direction_weight"], "0", allowed));
    }
    let si = aim.si();
    for (key, [from, to]) in [
        ("start_to", si.start_window),
        ("height_to", si.height),
        ("landing_to", si.landing),
    ] {
        if let (Some(from), Some(to)) = (from, to) {
            if from > to {
                let unit = match key {
                    "landing_to" => "deg",
                    "start_to" if aim.start_to_m.is_some() => "m",
                    "height_to" if aim.height_to_m.is_some() => "m",
                    _ => "yd",
                };
                let key = format!("{key}_{unit}");
                let allowed = "must not be below where it is from";
                wrong.push(Problem::new(at!["aim", key.as_str()], "", allowed));
            }
        }
    }
    wrong
}

impl AimFile {
    /// Checks what came from elsewhere than a file, as a file's would be.
    ///
    /// # Errors
    /// Everything that is wrong with it.
    pub fn check(&self) -> Result<(), String> {
        let body = toml::to_string(self).map_err(|e| e.to_string())?;
        let text = format!("[aim]\n{body}");
        let source = Source {
            name: "what is wanted",
            text: &text,
        };
        #[derive(Deserialize)]
        struct Whole {
            aim: AimFile,
        }
        let told = |e: DescribeError| {
            let each = e.violations.iter().map(|v| {
                let flag = v.key.trim_start_matches("aim.").replace('_', "-");
                format!("--{flag} {}: {}", v.value, v.allowed).replace(" :", ":")
            });
            each.collect::<Vec<_>>().join("\n")
        };
        let whole: Whole = source.parse().map_err(told)?;
        source.check(problems(&whole.aim)).map_err(told)
    }

    /// In SI units.
    pub fn si(&self) -> Aim {
        let either = |m: Option<f64>, yd: Option<f64>| m.or(yd.map(|v| v * YARD));
        Aim {
            start: either(self.start_m, self.start_yd),
            curve: either(self.curve_m, self.curve_yd),
            fairway: either(self.fairway_m, self.fairway_yd),
            start_window: [
                either(self.start_from_m, self.start_from_yd),
                either(self.start_to_m, self.start_to_yd),
            ],
            height: [
                either(self.height_from_m, self.height_from_yd),
                either(self.height_to_m, self.height_to_yd),
            ],
            landing: [
                self.landing_from_deg.map(|v| v * DEG),
                self.landing_to_deg.map(|v| v * DEG),
            ],
            weights: [
                self.direction_weight,
                self.shape_weight,
                self.height_weight,
                self.distance_weight,
            ],
            keep_carry: self.keep_carry,
        }
    }
}

impl Aim {
    /// What is said here, and of the rest what is said there.
    pub fn over(&self, base: &Aim) -> Aim {
        let window = |a: [Option<f64>; 2], b: [Option<f64>; 2]| match a {
            [None, None] => b,
            _ => a,
        };
        Aim {
            start: self.start.or(base.start),
            curve: self.curve.or(base.curve),
            fairway: self.fairway.or(base.fairway),
            start_window: window(self.start_window, base.start_window),
            height: window(self.height, base.height),
            landing: window(self.landing, base.landing),
            weights: std::array::from_fn(|i| self.weights[i].or(base.weights[i])),
            keep_carry: self.keep_carry || base.keep_carry,
        }
    }

    /// As the goal of a proposal, in the right-handed frame.
    pub fn goal(&self, hand: Hand) -> Goal {
        let window = |[from, to]: [Option<f64>; 2]| Window::between(from, to);
        let weight = |i: usize| self.weights[i].unwrap_or(1.0);
        Goal {
            aim: hand.turn(tendency::Aim {
                start: self.start.unwrap_or(0.0),
                curve: self.curve.unwrap_or(0.0),
            }),
            fairway: self.fairway.unwrap_or(0.0),
            start: window(self.start_window).map(|w| hand.turn(w)),
            apex: window(self.height),
            landing_angle: window(self.landing),
            spin_rate: None,
            keep_carry: self.keep_carry,
            weights: Weights {
                direction: weight(0),
                shape: weight(1),
                height: weight(2),
                distance: weight(3),
            },
        }
    }
}
