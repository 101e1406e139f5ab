//! The player file.

use super::aim::{self, Aim, AimFile};
use super::source::{DescribeError, Problem, Source, at, name_problem};
use crate::hand::Hand;
use crate::units::MPH;
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
    wrong.extend(file.aim.iter().flat_map(aim::problems));
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
        self.aim.as_ref().map_or(Aim::default(), AimFile::si)
    }
}
