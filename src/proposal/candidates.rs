//! Which settings a club really has.

use crate::head::{Head, Setting, TrackSetting};
use crate::units::DEG;
use crate::workshop::SQUEEZE;

/// How finely and how widely to look.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Catalogue {
    /// Positions tried on a track that slides freely.
    pub track_positions: usize,
    /// Most squeezes of hot melt added at once, in one zone.
    pub squeezes: u32,
    /// Step of a bend, rad.
    pub bend_step: f64,
    /// Most levers changed at once: small changes are preferred, and every one must be checked.
    pub levers: usize,
}

impl Default for Catalogue {
    fn default() -> Self {
        Catalogue {
            track_positions: 13,
            squeezes: 4,
            bend_step: 0.5 * DEG,
            levers: 3,
        }
    }
}

/// One alternative for one lever: a change of a setting.
type Change = Box<dyn Fn(&mut Setting)>;

/// All settings that can be reached from `base`, the base itself first.
///
/// Hot melt is only ever added, whole squeezes in one zone at a time; it cannot be taken out.
pub fn candidates(head: &Head, base: &Setting, catalogue: &Catalogue) -> Vec<Setting> {
    let mut out = vec![(base.clone(), 0)];
    for lever in levers(head, base, catalogue) {
        for i in 0..out.len() {
            if out[i].1 == catalogue.levers {
                continue;
            }
            for change in &lever {
                let (mut s, changed) = out[i].clone();
                change(&mut s);
                out.push((s, changed + 1));
            }
        }
    }
    out.into_iter().map(|(s, _)| s).collect()
}

/// How many [`candidates`] there are, without making them: of each number of levers, the sum over all
/// choices of the product of their alternatives.
pub fn candidate_count(head: &Head, base: &Setting, catalogue: &Catalogue) -> usize {
    let mut of = vec![0usize; catalogue.levers + 1];
    of[0] = 1;
    for lever in levers(head, base, catalogue) {
        for changed in (0..catalogue.levers).rev() {
            let more = of[changed].saturating_mul(lever.len());
            of[changed + 1] = of[changed + 1].saturating_add(more);
        }
    }
    of.into_iter().fold(0, usize::saturating_add)
}

/// The levers of a head, each with its alternatives to where it stands now.
fn levers(head: &Head, base: &Setting, catalogue: &Catalogue) -> Vec<Vec<Change>> {
    let mut all: Vec<Vec<Change>> = Vec::new();
    for (i, track) in head.tracks.iter().enumerate() {
        let now = base.tracks[i];
        let n = if track.stops >= 2 {
            track.stops
        } else {
            catalogue.track_positions.max(2)
        };
        let mut changes: Vec<Change> = Vec::new();
        for k in 0..n {
            for &mass in &track.masses {
                let position = k as f64 / (n - 1) as f64;
                if (position - now.position).abs() > 1e-9 || (mass - now.mass).abs() > 1e-9 {
                    changes.push(Box::new(move |s| {
                        s.tracks[i] = TrackSetting { position, mass }
                    }));
                }
            }
        }
        all.push(changes);
    }
    if let Some(sleeve) = &head.sleeve {
        let others = (0..sleeve.positions.len()).filter(|&p| p != base.clock);
        all.push(
            others
                .map(|p| Box::new(move |s: &mut Setting| s.clock = p) as Change)
                .collect(),
        );
    }
    for (i, port) in head.ports.iter().enumerate() {
        let now = base.ports[i];
        let others = port
            .masses
            .iter()
            .copied()
            .filter(|m| (m - now).abs() > 1e-9);
        all.push(
            others
                .map(|m| Box::new(move |s: &mut Setting| s.ports[i] = m) as Change)
                .collect(),
        );
    }
    all.push(melt(head, base, catalogue));
    if let Some(limits) = head.bend {
        all.push(bends(limits.loft, base.bend_loft, catalogue, |s, v| {
            s.bend_loft = v
        }));
        all.push(bends(limits.lie, base.bend_lie, catalogue, |s, v| {
            s.bend_lie = v
        }));
    }
    all
}

fn melt(head: &Head, base: &Setting, catalogue: &Catalogue) -> Vec<Change> {
    let mut changes: Vec<Change> = Vec::new();
    for (i, zone) in head.zones.iter().enumerate() {
        for k in 1..=catalogue.squeezes {
            let mass = base.zones[i] + f64::from(k) * SQUEEZE;
            if mass <= zone.max + 1e-9 {
                changes.push(Box::new(move |s| s.zones[i] = mass));
            }
        }
    }
    changes
}

fn bends(limit: f64, now: f64, catalogue: &Catalogue, set: fn(&mut Setting, f64)) -> Vec<Change> {
    let n = (limit / catalogue.bend_step + 1e-9).floor() as i32;
    (-n..=n)
        .map(|k| f64::from(k) * catalogue.bend_step)
        .filter(|v| (v - now).abs() > 1e-9)
        .map(|v| Box::new(move |s: &mut Setting| set(s, v)) as Change)
        .collect()
}
