//! A change of setting as work steps: what to do, how easily it is undone, what to mind.

use crate::head::{Head, Setting, Track};
use crate::hosel::{Attitude, angle_change};
use crate::units::{DEG, MM, YARD};
use crate::workshop::squeezes;
use serde::{Deserialize, Serialize};

/// How easily a step is undone, easiest first.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
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
            Undo::Permanent => "permanent",
        })
    }
}

/// One step of a change.
#[derive(Debug, Clone, PartialEq)]
pub struct Step {
    /// Which lever.
    pub lever: String,
    /// What to do, in words that hold for either hand.
    pub instruction: String,
    /// How easily it is undone.
    pub undo: Undo,
    /// What the change must earn to be worth its effort, m of expected loss.
    pub effort: f64,
    /// What to mind.
    pub cautions: Vec<&'static str>,
}

/// Rules of golf, for any change.
pub const RULES_CAUTION: &str = "Not during a round: no stroke with a club whose playing \
    characteristics were changed on purpose (Rules of Golf 4.1a(3)).";
const TORQUE_CAUTION: &str = "Tighten to the maker's torque with the maker's tool; an over-tightened \
    screw strips or breaks, a loose weight flies off.";
const MELT_CAUTION: &str = "Hot melt leaves the gun at about 150 C: gloves, eye protection, air; let \
    it cool before anyone swings. Weigh before and after. Keep to the maker's limits.";
const MELT_OUT_CAUTION: &str = "Hot melt comes out only by heat, which may loosen epoxy, inserts and \
    paint: ask the maker or a workshop that does it. Weigh before and after.";
const BEND_CAUTION: &str = "Bend slowly in the machine, face clamped, within the maker's limits: cast \
    heads crack. Re-measure loft and lie.";

/// The steps from one setting to another, in the order in which they are best done.
pub fn steps(head: &Head, from: &Setting, to: &Setting, who: Attitude) -> Vec<Step> {
    let mut out = Vec::new();
    if from.bend_loft != to.bend_loft || from.bend_lie != to.bend_lie {
        out.push(bend_step(head, from, to));
    }
    for (i, zone) in head.zones.iter().enumerate() {
        let added = to.zones[i] - from.zones[i];
        if added.abs() > 1e-9 {
            out.push(melt_step(&zone.name, added));
        }
    }
    for (i, port) in head.ports.iter().enumerate() {
        let (a, b) = (from.ports[i], to.ports[i]);
        if (a - b).abs() > 1e-9 {
            out.push(Step {
                lever: port.name.clone(),
                instruction: format!(
                    "swap the {} screw: {:.0} g out, {:.0} g in",
                    port.name,
                    a * 1e3,
                    b * 1e3
                ),
                undo: Undo::AMinute,
                effort: 0.5 * YARD,
                cautions: vec![TORQUE_CAUTION],
            });
        }
    }
    for (i, track) in head.tracks.iter().enumerate() {
        if from.tracks[i] != to.tracks[i] {
            out.push(track_step(track, &from.tracks[i], &to.tracks[i]));
        }
    }
    if let Some(s) = head.sleeve.as_ref().filter(|_| from.clock != to.clock) {
        let turned = |who| {
            let turn = head.attitude(from, who).inverse() * head.attitude(to, who);
            angle_change(&turn, head.loft)
        };
        let (change, gauge) = (turned(who), turned(Attitude::FaceSquared));
        let read = if who == Attitude::FaceSquared {
            String::new()
        } else {
            format!(
                "; a gauge, face squared, reads loft {}, lie {}",
                signed_tenth(gauge.loft / DEG),
                signed_tenth(gauge.lie / DEG)
            )
        };
        out.push(Step {
            lever: "sleeve".into(),
            instruction: format!(
                "turn the sleeve from {:.0} to {:.0} deg (at impact loft {}, lie {}, face {:.1} \
                 deg {}{read})",
                s.positions[from.clock] / DEG,
                s.positions[to.clock] / DEG,
                signed_tenth(change.loft / DEG),
                signed_tenth(change.lie / DEG),
                change.face.abs() / DEG,
                if change.face < 0.0 { "closed" } else { "open" },
            ),
            undo: Undo::AMinute,
            effort: 0.6 * YARD,
            cautions: vec![TORQUE_CAUTION],
        });
    }
    out
}

/// To a tenth, with its sign unless it is zero.
fn signed_tenth(v: f64) -> String {
    let tenths = (v * 10.0).round() / 10.0;
    if tenths == 0.0 {
        "0.0".into()
    } else {
        format!("{tenths:+.1}")
    }
}

fn bend_step(head: &Head, from: &Setting, to: &Setting) -> Step {
    let (loft, lie) = (to.bend_loft - from.bend_loft, to.bend_lie - from.bend_lie);
    let mut words = Vec::new();
    if loft.abs() > 1e-9 {
        let sense = if loft > 0.0 { "weaker" } else { "stronger" };
        let mut w = format!("loft {:.1} deg {sense}", loft.abs() / DEG);
        if let Some(b) = head.bounce {
            // A bend of loft changes bounce one for one (common practice).
            w += &format!(" (bounce becomes {:.1} deg)", (b + to.bend_loft) / DEG);
        }
        words.push(w);
    }
    if lie.abs() > 1e-9 {
        let sense = if lie > 0.0 { "more upright" } else { "flatter" };
        words.push(format!("lie {:.1} deg {sense}", lie.abs() / DEG));
    }
    Step {
        lever: "bend".into(),
        instruction: format!("bend the hosel: {}", words.join(", ")),
        undo: Undo::WearsTheHosel,
        effort: (1.0 + 0.5 * (loft.abs() + lie.abs()) / DEG) * YARD,
        cautions: vec![BEND_CAUTION],
    }
}

fn melt_step(zone: &str, added: f64) -> Step {
    if added < 0.0 {
        return Step {
            lever: format!("hot melt {zone}"),
            instruction: format!(
                "take {:.0} g of hot melt out of the {zone} zone",
                -added * 1e3
            ),
            undo: Undo::Permanent,
            effort: 4.0 * YARD,
            cautions: vec![MELT_OUT_CAUTION, MELT_CAUTION],
        };
    }
    let (n, rest) = squeezes(added);
    let amount = match (n, rest.abs() < 1e-6) {
        (1, true) => "1 squeeze, ".to_string(),
        (n, true) if n > 0 => format!("{n} squeezes, "),
        _ => String::new(),
    };
    Step {
        lever: format!("hot melt {zone}"),
        instruction: format!(
            "add hot melt in the {zone} zone ({amount}{:.0} g)",
            added * 1e3
        ),
        undo: Undo::Permanent,
        effort: (1.5 + 0.5 * f64::from(n)) * YARD,
        cautions: vec![MELT_CAUTION],
    }
}

fn track_step(
    track: &Track,
    from: &crate::head::TrackSetting,
    to: &crate::head::TrackSetting,
) -> Step {
    let moved = track.point(to.position) - track.point(from.position);
    let mut words = Vec::new();
    if (from.mass - to.mass).abs() > 1e-9 {
        words.push(format!(
            "swap the {} weight: {:.0} g out, {:.0} g in",
            track.name,
            from.mass * 1e3,
            to.mass * 1e3
        ));
    }
    if moved.norm() > 0.1 * MM {
        let axis = moved.iamax();
        let (toward_plus, toward_minus) =
            [("toe", "heel"), ("face", "back"), ("crown", "sole")][axis];
        let toward = if moved[axis] > 0.0 {
            toward_plus
        } else {
            toward_minus
        };
        words.push(format!(
            "slide the {} weight {:.0} mm toward the {toward} ({:.0} % to {:.0} %)",
            track.name,
            moved.norm() / MM,
            from.position * 100.0,
            to.position * 100.0
        ));
    }
    let swapped = (from.mass - to.mass).abs() > 1e-9;
    Step {
        lever: track.name.clone(),
        instruction: words.join(", then "),
        undo: if swapped {
            Undo::AMinute
        } else {
            Undo::Seconds
        },
        effort: if swapped { 0.5 } else { 0.2 } * YARD,
        cautions: vec![TORQUE_CAUTION],
    }
}
