//! The parts list: what is at hand in the workshop.

use super::source::{DescribeError, Source};
use crate::proposal::Stock;
use crate::units::GRAM;
use serde::{Deserialize, Serialize};

/// A parts list as the file gives it: what is in the drawer, beside what is in the club.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct StockFile {
    /// Anything else.
    pub note: Option<String>,
    /// Names of heads of the bench that are on the rack.
    pub heads: Vec<String>,
    /// Hot melt at hand, g; none if it is not said.
    pub hot_melt_g: Option<f64>,
    /// `[[screw]]`: screws for ports.
    pub screw: Vec<WeightFile>,
    /// `[[track_weight]]`: weights for tracks.
    pub track_weight: Vec<WeightFile>,
}

/// So many weights of a mass.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct WeightFile {
    /// Mass of each, g.
    pub mass_g: f64,
    /// How many.
    pub count: u32,
}

/// Reads a parts list.
///
/// # Errors
/// Everything that is wrong with it, with line and column.
pub fn read_stock(source: &Source<'_>) -> Result<StockFile, DescribeError> {
    source.parse()
}

impl StockFile {
    /// The parts, without the heads.
    pub fn stock(&self) -> Stock {
        let weights = |list: &[WeightFile]| -> Vec<(f64, u32)> {
            list.iter().map(|w| (w.mass_g * GRAM, w.count)).collect()
        };
        let melt = self.hot_melt_g.unwrap_or(0.0) * GRAM;
        Stock::new(&weights(&self.screw), &weights(&self.track_weight), melt)
    }
}
