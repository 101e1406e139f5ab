//! Another head on the player's shaft.
//!
//! The hands hold the shaft as before: at the same swing another head's loft shows in full, and a
//! head whose lie is more upright stands with its toe higher by the difference. Face, restitution and
//! mass properties are its own; head speed answers to its mass. Where it differs from the player's
//! head, the learned response is in doubt as it is for a change of the same size by levers.

use super::levers::Undo;
use super::situation::Situation;
use super::steps::Step;
use crate::club::{Club, FEATURES};
use crate::correction::Local;
use crate::head::{Head, Setting};
use crate::units::{DEG, MM, YARD};

/// A head from the rack, as it would be built.
#[derive(Debug, Clone)]
pub struct Mount {
    /// The player's shaft and grip with that head, as it hangs on the rack.
    pub club: Club,
    /// The learned correction for the player on that head.
    pub correction: Local,
    /// Whether both heads have a sleeve of the same description: the head comes off with a screw.
    pub unscrews: bool,
}

/// A setting of one of the heads: 0 is the player's own, then those of the rack.
#[derive(Debug, Clone, Copy)]
pub(super) struct Place<'s> {
    pub mount: usize,
    pub setting: &'s Setting,
}

impl<'s> Place<'s> {
    pub fn own(setting: &'s Setting) -> Place<'s> {
        Place { mount: 0, setting }
    }
}

const UNSCREW_CAUTION: &str = "The sleeves are alike by their description only: see that the parts \
    fit, and tighten to the maker's torque with the maker's tool.";
const PULL_CAUTION: &str = "Pulling a head takes heat, which can ruin a graphite shaft and gives \
    off fumes: gloves, eye protection, air; follow the makers' data sheets. Prepare both sides, let \
    the epoxy cure in full before anyone swings.";

impl Mount {
    /// Another head on a club's shaft.
    pub fn new(club: &Club, head: Head, correction: Local) -> Mount {
        let alike = |a: &crate::hosel::Sleeve, b: &crate::hosel::Sleeve| {
            (a.tilt - b.tilt).abs() < 1e-9
                && a.positions.len() == b.positions.len()
                && (a.positions.iter().zip(&b.positions)).all(|(x, y)| (x - y).abs() < 1e-9)
        };
        let unscrews = match (&club.head.sleeve, &head.sleeve) {
            (Some(a), Some(b)) => alike(a, b),
            _ => false,
        };
        Mount {
            club: Club {
                setting: head.reference.clone(),
                head,
                ..club.clone()
            },
            correction,
            unscrews,
        }
    }

    /// How easily it goes back.
    pub(super) fn undo(&self) -> Undo {
        match self.unscrews {
            true => Undo::AMinute,
            false => Undo::Reshaft,
        }
    }

    /// What it must earn, m of expected loss (common practice, no source).
    pub(super) fn effort(&self) -> f64 {
        let yards = if self.unscrews { 2.0 } else { 5.0 };
        yards * YARD
    }

    /// The work: off with the old head, on with the new one.
    pub(super) fn step(&self, old: &Head) -> Step {
        let head = &self.club.head;
        let mass = head.mass_properties(&self.club.setting).mass;
        let what = format!(
            "{} (loft {:.1}, lie {:.1}, head {:.1} g as it hangs)",
            head.name,
            head.loft / DEG,
            head.lie / DEG,
            mass * 1e3
        );
        let (instruction, cautions) = match self.unscrews {
            true => (
                format!("unscrew {} from the sleeve and put {what} on", old.name),
                vec![UNSCREW_CAUTION],
            ),
            false => (
                format!("pull {} by heat and epoxy {what} on the shaft", old.name),
                vec![PULL_CAUTION],
            ),
        };
        Step {
            lever: "head".into(),
            instruction,
            undo: self.undo(),
            effort: self.effort(),
            cautions,
            measure: match self.unscrews {
                true => vec!["loft, lie and face angle", "swing weight"],
                false => vec!["length", "loft, lie and face angle", "swing weight"],
            },
        }
    }

    /// In what the head at its reference differs from another one at its own, as lever features.
    pub(super) fn apart(&self, old: &Head) -> [f64; FEATURES.len()] {
        let head = &self.club.head;
        let body = |h: &Head| h.mass_properties(&h.reference);
        let (new, old_body) = (body(head), body(old));
        let cg = (new.cg - old_body.cg) / MM;
        [
            cg.x,
            -cg.y,
            cg.z,
            (new.mass - old_body.mass) * 1e3,
            (head.loft - old.loft) / DEG,
            (head.lie - old.lie) / DEG,
            0.0,
        ]
    }
}

impl<'a> Situation<'a> {
    /// The club of a place.
    pub(super) fn club_at(&self, mount: usize) -> &Club {
        match mount.checked_sub(1).and_then(|m| self.rack.get(m)) {
            Some(m) => &m.club,
            None => self.club,
        }
    }

    /// The correction of a place.
    pub(super) fn correction_at(&self, mount: usize) -> &Local {
        match mount.checked_sub(1).and_then(|m| self.rack.get(m)) {
            Some(m) => &m.correction,
            None => &self.correction,
        }
    }
}
