//! Which levers a change moves, how easily each goes back, and what it must earn.

use crate::head::{Head, Setting};
use crate::units::{DEG, YARD};
use crate::workshop::squeezes;
use serde::{Deserialize, Serialize};

/// How easily a step is undone, easiest first.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Undo {
    /// Nothing was done.
    Nothing,
    /// A weight slides back.
    Seconds,
    /// A sleeve or a screw goes back.
    AMinute,
    /// A bend goes back once or twice and wears the hosel.
    WearsTheHosel,
    /// Another head goes back by heat and new epoxy.
    Reshaft,
    /// Hot melt stays.
    Permanent,
}

impl std::fmt::Display for Undo {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(match self {
            Undo::Nothing => "nothing to undo",
            Undo::Seconds => "in seconds",
            Undo::AMinute => "in a minute",
            Undo::WearsTheHosel => "wears the hosel",
            Undo::Reshaft => "by heat and epoxy",
            Undo::Permanent => "permanent",
        })
    }
}

/// A lever of a head, by its number among those of its sort.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Lever {
    /// Loft and lie of the hosel.
    Bend,
    /// Hot melt in a zone.
    Melt(usize),
    /// A screw.
    Port(usize),
    /// A weight in a track.
    Track(usize),
    /// The sleeve.
    Sleeve,
}

impl Lever {
    /// As a bit, for sets of levers.
    pub fn bit(self, head: &Head) -> u128 {
        let place = match self {
            Lever::Bend => 0,
            Lever::Sleeve => 1,
            Lever::Track(i) => 2 + i,
            Lever::Port(i) => 2 + head.tracks.len() + i,
            Lever::Melt(i) => 2 + head.tracks.len() + head.ports.len() + i,
        };
        // More levers than bits share the last one: such a head is none.
        1 << place.min(127)
    }
}

/// What one lever does in a change.
#[derive(Debug, Clone, Copy)]
pub(super) struct Change {
    pub lever: Lever,
    pub undo: Undo,
    /// What it must earn to be worth its effort, m of expected loss.
    pub effort: f64,
}

/// Masses that differ by less are the same, kg.
pub(super) const SAME_MASS: f64 = 1e-9;

/// The levers that differ between two settings, in the order in which the work is best done.
pub(super) fn changes(head: &Head, from: &Setting, to: &Setting, mut each: impl FnMut(Change)) {
    let mut say = |lever, undo, yards: f64| {
        each(Change {
            lever,
            undo,
            effort: yards * YARD,
        })
    };
    if from.bend_loft != to.bend_loft || from.bend_lie != to.bend_lie {
        let bent = (to.bend_loft - from.bend_loft).abs() + (to.bend_lie - from.bend_lie).abs();
        say(Lever::Bend, Undo::WearsTheHosel, 1.0 + 0.5 * bent / DEG);
    }
    for i in 0..head.zones.len() {
        let added = to.zones[i] - from.zones[i];
        if added < -SAME_MASS {
            say(Lever::Melt(i), Undo::Permanent, 4.0);
        } else if added > SAME_MASS {
            let effort = 1.5 + 0.5 * f64::from(squeezes(added).0);
            say(Lever::Melt(i), Undo::Permanent, effort);
        }
    }
    for i in 0..head.ports.len() {
        if (from.ports[i] - to.ports[i]).abs() > SAME_MASS {
            say(Lever::Port(i), Undo::AMinute, 0.5);
        }
    }
    for i in 0..head.tracks.len() {
        let (a, b) = (&from.tracks[i], &to.tracks[i]);
        if a != b {
            if (a.mass - b.mass).abs() > SAME_MASS {
                say(Lever::Track(i), Undo::AMinute, 0.5);
            } else {
                say(Lever::Track(i), Undo::Seconds, 0.2);
            }
        }
    }
    if head.sleeve.is_some() && from.clock != to.clock {
        say(Lever::Sleeve, Undo::AMinute, 0.6);
    }
}

/// What kind of change it is: which head, and which of its levers are moved.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub(super) struct Kind {
    pub mount: usize,
    /// A bit for each lever.
    pub levers: u128,
}

impl Kind {
    /// Whether it does all that another one does.
    pub fn holds(&self, less: &Kind) -> bool {
        let same = less.mount == self.mount || less.mount == 0 && less.levers == 0;
        same && less.levers & self.levers == less.levers
    }

    /// Levers, and the head if it is another one.
    pub fn count(&self) -> u32 {
        self.levers.count_ones() + u32::from(self.mount > 0)
    }
}
