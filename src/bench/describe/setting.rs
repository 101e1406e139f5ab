//! A setting in a file, and the way there and back.

use super::source::{Path, Problem, Step};
use crate::head::{Head, Setting, TrackSetting};
use crate::units::{DEG, GRAM};
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

/// Where the levers stand, by name. What is not named stays where the base setting has it.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct SettingFile {
    /// Clock angle of the sleeve, one of the head's positions, deg.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub sleeve_deg: Option<f64>,
    /// Bend of loft from the measured value, deg; more is positive.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub bend_loft_deg: Option<f64>,
    /// Bend of lie from the measured value, deg; upright is positive.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub bend_lie_deg: Option<f64>,
    /// Screw in each port, g.
    #[serde(skip_serializing_if = "BTreeMap::is_empty")]
    pub screw_g: BTreeMap<String, f64>,
    /// Hot melt in each zone, g.
    #[serde(skip_serializing_if = "BTreeMap::is_empty")]
    pub hot_melt_g: BTreeMap<String, f64>,
    /// Weight in each track.
    #[serde(skip_serializing_if = "BTreeMap::is_empty")]
    pub track: BTreeMap<String, TrackEntry>,
}

/// A weight in a track.
#[derive(Debug, Clone, Copy, PartialEq, Default, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct TrackEntry {
    /// 0 at the first point of the track, 100 at the last.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub position_percent: Option<f64>,
    /// Mass of the weight, g.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub mass_g: Option<f64>,
}

/// How near a written position must come to a stop of the track, as a share of the track.
const STOP_TOLERANCE: f64 = 0.005;
/// How near a written mass must come to one at hand, kg.
const MASS_TOLERANCE: f64 = 1e-6;
/// How near a written clock angle must come to one of the sleeve, deg.
const CLOCK_TOLERANCE_DEG: f64 = 0.01;

impl SettingFile {
    /// The file form of a setting, with every lever that the head has written out.
    pub fn of(setting: &Setting, head: &Head) -> SettingFile {
        let tracks = head.tracks.iter().zip(&setting.tracks).map(|(t, s)| {
            let entry = TrackEntry {
                position_percent: Some(tidy(s.position * 100.0)),
                mass_g: Some(tidy(s.mass / GRAM)),
            };
            (t.name.clone(), entry)
        });
        let grams = |names: Vec<&String>, masses: &[f64]| -> BTreeMap<String, f64> {
            let pairs = names.into_iter().zip(masses);
            pairs.map(|(n, m)| (n.clone(), tidy(m / GRAM))).collect()
        };
        let sleeve = head.sleeve.as_ref();
        let clock = sleeve.and_then(|s| s.positions.get(setting.clock));
        let bend = |value: f64| head.bend.map(|_| tidy(value / DEG));
        SettingFile {
            sleeve_deg: clock.map(|p| tidy(p / DEG)),
            bend_loft_deg: bend(setting.bend_loft),
            bend_lie_deg: bend(setting.bend_lie),
            screw_g: grams(head.ports.iter().map(|p| &p.name).collect(), &setting.ports),
            hot_melt_g: grams(head.zones.iter().map(|z| &z.name).collect(), &setting.zones),
            track: tracks.collect(),
        }
    }

    /// The setting for a head: what is not named stays as in `base`. `at` is where the setting
    /// stands in its file. Everything that is wrong is told at once.
    pub(crate) fn onto(
        &self,
        head: &Head,
        base: &Setting,
        at: &[Step],
    ) -> Result<Setting, Vec<Problem>> {
        let mut to = base.clone();
        let mut wrong = Vec::new();
        self.set_tracks(head, &mut to, at, &mut wrong);
        for (name, &grams) in &self.screw_g {
            match head.ports.iter().position(|p| p.name == *name) {
                Some(n) => to.ports[n] = nearest(grams * GRAM, &head.ports[n].masses),
                None => wrong.push(Problem::new(below(at, &["screw_g", name]), "", UNKNOWN)),
            }
        }
        for (name, &grams) in &self.hot_melt_g {
            match head.zones.iter().position(|z| z.name == *name) {
                Some(n) => to.zones[n] = grams * GRAM,
                None => wrong.push(Problem::new(below(at, &["hot_melt_g", name]), "", UNKNOWN)),
            }
        }
        name_the_others(head, &mut wrong);
        if let Some(deg) = self.sleeve_deg {
            match clock(head, deg) {
                Ok(n) => to.clock = n,
                Err(allowed) => wrong.push(Problem::new(below(at, &["sleeve_deg"]), deg, allowed)),
            }
        }
        to.bend_loft = self.bend_loft_deg.map_or(to.bend_loft, |b| b * DEG);
        to.bend_lie = self.bend_lie_deg.map_or(to.bend_lie, |b| b * DEG);
        if wrong.is_empty() {
            // What the core knows better: masses at hand, room in a zone, bend limits.
            if let Err(e) = to.check(head) {
                wrong.push(Problem::new(at.to_vec(), "", e));
            }
        }
        if wrong.is_empty() { Ok(to) } else { Err(wrong) }
    }

    fn set_tracks(&self, head: &Head, to: &mut Setting, at: &[Step], wrong: &mut Vec<Problem>) {
        for (name, entry) in &self.track {
            let Some(n) = head.tracks.iter().position(|t| t.name == *name) else {
                wrong.push(Problem::new(below(at, &["track", name]), "", UNKNOWN));
                continue;
            };
            let track = &head.tracks[n];
            let old = to.tracks[n];
            let percent = entry.position_percent;
            let position = percent.map_or(Ok(old.position), |p| at_stop(p / 100.0, track.stops));
            match position {
                Ok(position) => {
                    let mass = entry
                        .mass_g
                        .map_or(old.mass, |g| nearest(g * GRAM, &track.masses));
                    to.tracks[n] = TrackSetting { position, mass };
                }
                Err(allowed) => {
                    let path = below(at, &["track", name, "position_percent"]);
                    wrong.push(Problem::new(path, percent.unwrap_or_default(), allowed));
                }
            }
        }
    }
}

/// Marks a name that the head does not have, until [`name_the_others`] says what it has.
const UNKNOWN: &str = "unknown lever";

/// Replaces the mark of an unknown name by the list of what the head has.
fn name_the_others(head: &Head, wrong: &mut [Problem]) {
    let list = |what: &str, names: Vec<&str>| match names.is_empty() {
        true => format!("no {what}"),
        false => format!("{what} {}", names.join(", ")),
    };
    let has = [
        list(
            "track",
            head.tracks.iter().map(|t| t.name.as_str()).collect(),
        ),
        list(
            "screw_g",
            head.ports.iter().map(|p| p.name.as_str()).collect(),
        ),
        list(
            "hot_melt_g",
            head.zones.iter().map(|z| z.name.as_str()).collect(),
        ),
    ]
    .join("; ");
    for problem in wrong.iter_mut().filter(|p| p.allowed == UNKNOWN) {
        problem.allowed = format!("'{}' has no such lever; it has {has}", head.name);
    }
}

/// Index of a clock angle among the sleeve's positions.
fn clock(head: &Head, deg: f64) -> Result<usize, String> {
    let Some(sleeve) = &head.sleeve else {
        return Err(format!("'{}' has no sleeve", head.name));
    };
    clock_among(&sleeve.positions, deg)
}

/// Index of a clock angle (deg) among positions (rad), whole turns aside.
pub(super) fn clock_among(positions: &[f64], deg: f64) -> Result<usize, String> {
    let near = |p: &f64| {
        let off = (p / DEG - deg).rem_euclid(360.0);
        off.min(360.0 - off) < CLOCK_TOLERANCE_DEG
    };
    positions.iter().position(near).ok_or_else(|| {
        let have: Vec<String> = positions
            .iter()
            .map(|p| tidy(p / DEG).to_string())
            .collect();
        format!("the sleeve has {} deg", have.join(", "))
    })
}

/// The exact place of the stop that a written position means.
fn at_stop(position: f64, stops: usize) -> Result<f64, String> {
    if stops < 2 {
        return Ok(position);
    }
    let last = (stops - 1) as f64;
    let stop = (position * last).round() / last;
    if (stop - position).abs() <= STOP_TOLERANCE {
        return Ok(stop);
    }
    let have: Vec<String> = (0..stops)
        .map(|n| format!("{:.1}", n as f64 / last * 100.0))
        .collect();
    Err(format!("the track has stops at {} %", have.join(", ")))
}

/// The mass at hand that is meant, or the mass itself if there is none so near.
fn nearest(mass: f64, at_hand: &[f64]) -> f64 {
    let near = at_hand.iter().find(|m| (*m - mass).abs() < MASS_TOLERANCE);
    near.copied().unwrap_or(mass)
}

fn below(at: &[Step], keys: &[&str]) -> Path {
    let keys = keys.iter().map(|k| Step::from(*k));
    at.iter().cloned().chain(keys).collect()
}

/// Takes the rounding of a unit conversion out of a number that goes into a file.
fn tidy(value: f64) -> f64 {
    (value * 1e9).round() / 1e9
}
