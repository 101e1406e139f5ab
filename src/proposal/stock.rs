//! What is at hand: weights and hot melt in the drawer.

use crate::head::Setting;
use std::collections::BTreeMap;

/// Masses are told apart to a tenth of a gram, in tenths.
type Tenths = u64;

fn tenths(mass: f64) -> Tenths {
    (mass * 1e4).round().max(0.0) as Tenths
}

/// A part that a change needs.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Part {
    /// A screw of a mass, in tenths of a gram.
    Screw(u64),
    /// A weight for a track, in tenths of a gram.
    TrackWeight(u64),
    /// Hot melt.
    HotMelt,
}

impl std::fmt::Display for Part {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Part::Screw(t) => write!(f, "{} g screw", *t as f64 / 10.0),
            Part::TrackWeight(t) => write!(f, "{} g track weight", *t as f64 / 10.0),
            Part::HotMelt => f.write_str("hot melt"),
        }
    }
}

/// Parts in the drawer, beside those that are in the head.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Stock {
    count: BTreeMap<Part, u32>,
    hot_melt: f64,
}

impl Stock {
    /// Screws and track weights as masses (kg) with their counts, and hot melt (kg).
    pub fn new(screws: &[(f64, u32)], track_weights: &[(f64, u32)], hot_melt: f64) -> Stock {
        let mut count: BTreeMap<Part, u32> = BTreeMap::new();
        let screws = screws.iter().map(|(m, n)| (Part::Screw(tenths(*m)), n));
        let weights = track_weights
            .iter()
            .map(|(m, n)| (Part::TrackWeight(tenths(*m)), n));
        for (part, n) in screws.chain(weights) {
            let have = count.entry(part).or_default();
            *have = have.saturating_add(*n);
        }
        Stock { count, hot_melt }
    }

    /// The first part that is missing to get from one setting to another. What is in the head may
    /// change places; two ports with the same screw need two.
    pub fn lacks(&self, from: &Setting, to: &Setting) -> Option<Part> {
        let screws = |s: &Setting, t: Tenths| count(s.ports.iter().copied(), t);
        let weights = |s: &Setting, t: Tenths| count(s.tracks.iter().map(|w| w.mass), t);
        let have = |part: Part| self.count.get(&part).map_or(0, |n| *n as usize);
        let ports = to.ports.iter().map(|m| tenths(*m)).filter(|t| *t > 0);
        let screw = ports
            .filter(|t| screws(to, *t) > screws(from, *t) + have(Part::Screw(*t)))
            .map(Part::Screw);
        let tracks = to.tracks.iter().map(|w| tenths(w.mass));
        let weight = tracks
            .filter(|t| weights(to, *t) > weights(from, *t) + have(Part::TrackWeight(*t)))
            .map(Part::TrackWeight);
        let added: f64 = to
            .zones
            .iter()
            .zip(&from.zones)
            .map(|(b, a)| (b - a).max(0.0))
            .sum();
        let melt = (added > self.hot_melt + 1e-9).then_some(Part::HotMelt);
        screw.chain(weight).chain(melt).next()
    }
}

fn count(masses: impl Iterator<Item = f64>, of: Tenths) -> usize {
    masses.filter(|m| tenths(*m) == of).count()
}
