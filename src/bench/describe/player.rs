//! The player file.

use super::source::{DescribeError, Problem, Source, at, name_problem};
use crate::hand::Hand;
use crate::units::{MPH, YARD};
use serde::{Deserialize, Serialize};

/// A player as the file gives them.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct PlayerFile {
    /// Unique in the bench.
    pub name: String,
    /// Which side the player plays from.
    pub hand: Hand,
    /// Head speed with the driver, mph; this or the next, not both.
    pub head_speed_mph: Option<f64>,
    /// Head speed with the driver, m/s.
    pub head_speed_m_s: Option<f64>,
    /// Anything else.
    pub note: Option<String>,
    /// The shot that the player wants.
    pub aim: Option<AimFile>,
}

/// `[aim]`: the shot that the player wants, in the real world, right positive for both hands.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct AimFile {
    /// Where the start line passes at landing distance, yd; this or `start_m`.
    pub start_yd: Option<f64>,
    /// The same in m.
    pub start_m: Option<f64>,
    /// Curve, yd; this or `curve_m`.
    pub curve_yd: Option<f64>,
    /// The same in m.
    pub curve_m: Option<f64>,
    /// Whether the carry should stay as it is.
    pub keep_carry: bool,
}

/// The shot that a player wants. SI, real-world frame, right positive.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Aim {
    /// Where the start line passes at landing distance, m.
    pub start: Option<f64>,
    /// Curve, m.
    pub curve: Option<f64>,
    /// Whether the carry should stay as it is.
    pub keep_carry: bool,
}

/// Reads a player file.
///
/// # Errors
/// Everything that is wrong with it, with line and column.
pub fn read_player(source: &Source<'_>) -> Result<PlayerFile, DescribeError> {
    let file: PlayerFile = source.parse()?;
    let mut wrong: Vec<Problem> = name_problem(at!["name"], &file.name).into_iter().collect();
    let mut once = |both: bool, path, allowed: &str| {
        if both {
            wrong.push(Problem::new(path, "", allowed));
        }
    };
    let speeds = file.head_speed_mph.is_some() && file.head_speed_m_s.is_some();
    once(
        speeds,
        at!["head_speed_mph"],
        "give head_speed_mph or head_speed_m_s, not both",
    );
    if let Some(aim) = &file.aim {
        let starts = aim.start_yd.is_some() && aim.start_m.is_some();
        once(
            starts,
            at!["aim", "start_yd"],
            "give start_yd or start_m, not both",
        );
        let curves = aim.curve_yd.is_some() && aim.curve_m.is_some();
        once(
            curves,
            at!["aim", "curve_yd"],
            "give curve_yd or curve_m, not both",
        );
    }
    source.check(wrong)?;
    Ok(file)
}

impl PlayerFile {
    /// Head speed with the driver, m/s.
    pub fn head_speed(&self) -> Option<f64> {
        self.head_speed_m_s.or(self.head_speed_mph.map(|v| v * MPH))
    }

    /// The shot that the player wants; nothing in particular if the file does not say.
    pub fn aim(&self) -> Aim {
        self.aim.as_ref().map_or(Aim::default(), |a| Aim {
            start: a.start_m.or(a.start_yd.map(|v| v * YARD)),
            curve: a.curve_m.or(a.curve_yd.map(|v| v * YARD)),
            keep_carry: a.keep_carry,
        })
    }
}
