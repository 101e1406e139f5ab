//! A mapping of somebody else's column names, as TOML.
//!
//! ```toml
//! [columns.ball_speed]
//! column = "Speed of ball"
//! unit = "mph"
//! [columns.launch_direction]
//! column = "Start"
//! unit = "deg"
//! positive = "left"
//! ```

use super::columns::{BACK_SPIN, SIDE_SPIN};
use crate::bench::describe::source::{DescribeError, Problem, Source, at};
use crate::quantity::{Dimension, Quantity, TABLE};
use serde::Deserialize;
use std::collections::BTreeMap;

/// Which column holds which quantity.
#[derive(Debug, Clone, PartialEq, Default, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Mapping {
    /// By quantity; also `back_spin`, `side_spin`, `shot` and `note`.
    pub columns: BTreeMap<String, MappedColumn>,
}

/// A column of the file.
#[derive(Debug, Clone, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct MappedColumn {
    /// Its name in the header line; capitals and blanks at the ends do not matter.
    pub column: String,
    /// Its unit; none for `shot` and `note`.
    pub unit: Option<String>,
    /// Which side is positive; right if nothing is said. Only where the sides differ.
    pub positive: Option<Positive>,
}

/// Which side is positive.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Positive {
    /// As everywhere in the library.
    Right,
    /// The other way; turned when read.
    Left,
}

/// Reads a mapping.
///
/// # Errors
/// Everything that is wrong with it, with line and column.
pub fn read_mapping(source: &Source<'_>) -> Result<Mapping, DescribeError> {
    let mapping: Mapping = source.parse()?;
    let mut wrong = Vec::new();
    for (key, c) in &mapping.columns {
        let path = at!["columns", key.as_str()];
        let Some((dimension, sided)) = meaning(key) else {
            let names: Vec<&str> = TABLE.iter().map(|i| i.name).collect();
            let allowed = format!("{}, back_spin, side_spin, shot, note", names.join(", "));
            wrong.push(Problem::new(
                path,
                "",
                format!("no such quantity; there are {allowed}"),
            ));
            continue;
        };
        let units: Vec<&str> = dimension.map_or(Vec::new(), |d| {
            d.units().iter().map(|(name, _)| *name).collect()
        });
        let unit = c.unit.as_deref();
        if unit.map_or(!units.is_empty(), |u| !units.contains(&u)) {
            let allowed = match units.is_empty() {
                true => "has no unit".to_string(),
                false => format!("unit must be one of {}", units.join(", ")),
            };
            let at = at!["columns", key.as_str(), "unit"];
            wrong.push(Problem::new(at, unit.unwrap_or_default(), allowed));
        }
        if c.positive.is_some() && !sided {
            let at = at!["columns", key.as_str(), "positive"];
            wrong.push(Problem::new(
                at,
                "",
                "only for quantities with a left and a right",
            ));
        }
    }
    source.check(wrong)?;
    Ok(mapping)
}

/// Dimension of what a key names and whether it has a left and a right.
fn meaning(key: &str) -> Option<(Option<Dimension>, bool)> {
    match key {
        "shot" | "note" => Some((None, false)),
        BACK_SPIN => Some((Some(Dimension::Rotation), false)),
        SIDE_SPIN => Some((Some(Dimension::Rotation), true)),
        _ => Quantity::named(key).map(|q| (Some(q.info().dimension), q.info().mirrored)),
    }
}
