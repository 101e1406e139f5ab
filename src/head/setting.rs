//! Where each lever of a head stands.

use super::Head;
use std::fmt::Write as _;

/// A sliding weight's place and mass.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TrackSetting {
    /// 0 at the first point of the track, 1 at the last.
    pub position: f64,
    /// Mass of the weight, kg.
    pub mass: f64,
}

/// The state of every lever of one head. The vectors run parallel to the head's own.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Setting {
    /// One for each track.
    pub tracks: Vec<TrackSetting>,
    /// Mass of the screw in each port, kg.
    pub ports: Vec<f64>,
    /// Hot melt in each zone, kg.
    pub zones: Vec<f64>,
    /// Index of the sleeve position; 0 for a head without a sleeve.
    pub clock: usize,
    /// Bend of loft from the measured value, rad.
    pub bend_loft: f64,
    /// Bend of lie from the measured value, rad; upright is positive.
    pub bend_lie: f64,
}

/// A setting that the head does not have.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[error("{lever}: {why}")]
pub struct SettingError {
    /// Which lever.
    pub lever: String,
    /// What is wrong and what is allowed.
    pub why: String,
}

impl Setting {
    /// The neutral start for a head under construction: sliders in the middle with their lightest
    /// weight, lightest screws, no melt, the sleeve at its reference, no bend.
    pub fn neutral(head: &Head) -> Setting {
        Setting {
            tracks: head
                .tracks
                .iter()
                .map(|t| TrackSetting {
                    position: 0.5,
                    mass: t.masses[0],
                })
                .collect(),
            ports: head.ports.iter().map(|p| p.masses[0]).collect(),
            zones: vec![0.0; head.zones.len()],
            clock: head.sleeve.as_ref().map_or(0, |s| s.reference),
            bend_loft: 0.0,
            bend_lie: 0.0,
        }
    }

    /// Checks every lever against what the head has.
    ///
    /// # Errors
    /// The first lever that is out of its range, with the range.
    pub fn check(&self, head: &Head) -> Result<(), SettingError> {
        let fail = |lever: &str, why: String| {
            Err(SettingError {
                lever: lever.to_string(),
                why,
            })
        };
        let counts = [
            ("tracks", self.tracks.len(), head.tracks.len()),
            ("ports", self.ports.len(), head.ports.len()),
            ("zones", self.zones.len(), head.zones.len()),
        ];
        for (what, have, want) in counts {
            if have != want {
                return fail(
                    what,
                    format!("the setting names {have}, the head has {want}"),
                );
            }
        }
        for (t, s) in head.tracks.iter().zip(&self.tracks) {
            if !(0.0..=1.0).contains(&s.position) {
                let p = s.position * 100.0;
                return fail(
                    &t.name,
                    format!("position {p:.1} % is outside 0 to 100 % of the track"),
                );
            }
            check_mass(&t.name, s.mass, &t.masses)?;
        }
        for (p, &mass) in head.ports.iter().zip(&self.ports) {
            check_mass(&p.name, mass, &p.masses)?;
        }
        for (z, &mass) in head.zones.iter().zip(&self.zones) {
            if !(mass >= 0.0 && mass <= z.max + 1e-9) {
                let (g, max) = (mass * 1e3, z.max * 1e3);
                return fail(
                    &z.name,
                    format!("{g:.1} g of hot melt; the zone takes 0 to {max:.1} g"),
                );
            }
        }
        let positions = head.sleeve.as_ref().map_or(1, |s| s.positions.len());
        if self.clock >= positions {
            return fail(
                "sleeve",
                format!("position {} of {positions}", self.clock + 1),
            );
        }
        let (loft, lie) = head.bend.map_or((0.0, 0.0), |b| (b.loft, b.lie));
        for (what, value, limit) in [
            ("loft bend", self.bend_loft, loft),
            ("lie bend", self.bend_lie, lie),
        ] {
            if !(value.abs() <= limit + 1e-9) {
                let (v, l) = (value.to_degrees(), limit.to_degrees());
                return fail(
                    what,
                    format!("{v:+.2} deg; the hosel takes {l:.2} deg either way"),
                );
            }
        }
        Ok(())
    }

    /// The setting in words, one clause for each lever: `heel-toe 12 g at 35 %, sleeve at 90 deg`.
    pub fn describe(&self, head: &Head) -> String {
        let mut words: Vec<String> = Vec::new();
        for (t, s) in head.tracks.iter().zip(&self.tracks) {
            words.push(format!(
                "{} {:.0} g at {:.0} %",
                t.name,
                s.mass * 1e3,
                s.position * 100.0
            ));
        }
        for (p, mass) in head.ports.iter().zip(&self.ports) {
            words.push(format!("{} screw {:.0} g", p.name, mass * 1e3));
        }
        for (z, mass) in head
            .zones
            .iter()
            .zip(&self.zones)
            .filter(|(_, m)| **m > 0.0)
        {
            words.push(format!("{:.0} g hot melt {}", mass * 1e3, z.name));
        }
        if let Some(s) = &head.sleeve {
            words.push(format!(
                "sleeve at {:.0} deg",
                s.positions[self.clock].to_degrees()
            ));
        }
        let mut bend = String::new();
        if self.bend_loft != 0.0 {
            let _ = write!(bend, "loft bent {:+.1} deg", self.bend_loft.to_degrees());
            words.push(std::mem::take(&mut bend));
        }
        if self.bend_lie != 0.0 {
            let _ = write!(bend, "lie bent {:+.1} deg", self.bend_lie.to_degrees());
            words.push(bend);
        }
        if words.is_empty() {
            return "as measured".into();
        }
        words.join(", ")
    }
}

fn check_mass(lever: &str, mass: f64, allowed: &[f64]) -> Result<(), SettingError> {
    if allowed.iter().any(|m| (m - mass).abs() < 1e-6) {
        return Ok(());
    }
    let list: Vec<String> = allowed.iter().map(|m| format!("{:.1}", m * 1e3)).collect();
    Err(SettingError {
        lever: lever.to_string(),
        why: format!(
            "{:.1} g is not at hand; there are {} g",
            mass * 1e3,
            list.join(", ")
        ),
    })
}
