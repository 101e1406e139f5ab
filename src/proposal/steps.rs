//! A change of setting as work steps: what to do, how easily it is undone, what to mind.

use super::levers::{Change, Lever, SAME_MASS, Undo, changes};
use crate::head::{Head, Setting, Track, TrackSetting};
use crate::hosel::{Attitude, angle_change};
use crate::units::{DEG, MM};
use crate::workshop::squeezes;

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
    /// What to read again afterwards.
    pub measure: Vec<&'static str>,
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
    let mut out: Vec<Step> = Vec::new();
    changes(head, from, to, |c: Change| {
        let partner = match c.lever {
            Lever::Port(i) => changed_over(from, to, i),
            _ => None,
        };
        if let (Lever::Port(i), Some(j)) = (c.lever, partner) {
            // Told with the first of the two.
            if j < i {
                let both = out.iter_mut().find(|s| s.lever == pair(head, j, i));
                if let Some(s) = both {
                    s.effort += c.effort;
                }
                return;
            }
        }
        let (lever, instruction, cautions) = match c.lever {
            Lever::Bend => ("bend".into(), bend(head, from, to), vec![BEND_CAUTION]),
            Lever::Melt(i) => {
                let zone = &head.zones[i].name;
                let added = to.zones[i] - from.zones[i];
                let cautions = match added < 0.0 {
                    true => vec![MELT_OUT_CAUTION, MELT_CAUTION],
                    false => vec![MELT_CAUTION],
                };
                (format!("hot melt {zone}"), melt(zone, added), cautions)
            }
            Lever::Port(i) => {
                let name = &head.ports[i].name;
                let (lever, words) = match partner {
                    Some(j) => (
                        pair(head, i, j),
                        format!(
                            "change the {} screws over: {:.0} g into {name}, {:.0} g into {}",
                            pair(head, i, j),
                            to.ports[i] * 1e3,
                            to.ports[j] * 1e3,
                            head.ports[j].name
                        ),
                    ),
                    None => (
                        name.clone(),
                        swap(&format!("{name} screw"), from.ports[i], to.ports[i]),
                    ),
                };
                (lever, words, vec![TORQUE_CAUTION])
            }
            Lever::Track(i) => {
                let t = &head.tracks[i];
                let words = slide(t, &from.tracks[i], &to.tracks[i]);
                (t.name.clone(), words, vec![TORQUE_CAUTION])
            }
            Lever::Sleeve => (
                "sleeve".into(),
                turn(head, from, to, who),
                vec![TORQUE_CAUTION],
            ),
        };
        let same_mass = match c.lever {
            Lever::Track(i) => (from.tracks[i].mass - to.tracks[i].mass).abs() < SAME_MASS,
            _ => partner.is_some(),
        };
        let measure = match c.lever {
            Lever::Bend | Lever::Sleeve => vec!["loft, lie and face angle"],
            _ if same_mass => vec!["swing weight"],
            _ => vec!["head mass", "swing weight"],
        };
        out.push(Step {
            measure,
            lever,
            instruction,
            undo: c.undo,
            effort: c.effort,
            cautions,
        });
    });
    out
}

/// The port whose screw comes from port `i`, and whose own screw goes there.
fn changed_over(from: &Setting, to: &Setting, i: usize) -> Option<usize> {
    let same = |a: f64, b: f64| (a - b).abs() < SAME_MASS;
    let (old, new) = (&from.ports, &to.ports);
    let real = old[i] > SAME_MASS && new[i] > SAME_MASS;
    let partner =
        (0..old.len()).find(|&j| j != i && same(old[j], new[i]) && same(new[j], old[i]))?;
    // Of several that would do, only those that choose each other.
    let back = (0..old.len())
        .find(|&k| k != partner && same(old[k], new[partner]) && same(new[k], old[partner]))?;
    (real && back == i).then_some(partner)
}

/// Names of two ports.
fn pair(head: &Head, i: usize, j: usize) -> String {
    format!("{} and {}", head.ports[i].name, head.ports[j].name)
}

/// One weight out, another one in.
fn swap(what: &str, out: f64, into: f64) -> String {
    let (a, b) = (out * 1e3, into * 1e3);
    if a < 0.05 {
        format!("put a {b:.0} g {what} in (the place is empty)")
    } else if b < 0.05 {
        format!("take the {a:.0} g {what} out and leave the place empty")
    } else {
        format!("swap the {what}: {a:.0} g out, {b:.0} g in")
    }
}

fn turn(head: &Head, from: &Setting, to: &Setting, who: Attitude) -> String {
    let Some(s) = &head.sleeve else {
        return String::new();
    };
    let turned = |who| head.attitude(from, who).inverse() * head.attitude(to, who);
    let change = angle_change(&turned(who), head.loft);
    let gauge = angle_change(&turned(Attitude::FaceSquared), head.loft);
    let read = if who == Attitude::FaceSquared {
        String::new()
    } else {
        format!(
            "; a gauge, face squared, reads loft {}, lie {}",
            signed_tenth(gauge.loft / DEG),
            signed_tenth(gauge.lie / DEG)
        )
    };
    // A lofted face looks aside when the toe goes up: what yaw does not do is the lie's.
    let by_lie = change.face + turned(who).euler_angles().2;
    let face = match (opened(change.face), opened(by_lie)) {
        (None, _) => "face as it was".to_string(),
        (Some(all), None) => format!("face {all}"),
        (Some(all), Some(lie)) => format!("face {all}, the lie's part {lie}"),
    };
    format!(
        "turn the sleeve from {:.0} to {:.0} deg (at impact loft {}, lie {}, {face}{read})",
        s.positions[from.clock] / DEG,
        s.positions[to.clock] / DEG,
        signed_tenth(change.loft / DEG),
        signed_tenth(change.lie / DEG),
    )
}

/// A face angle in words; `None` if it is too small to be read.
fn opened(angle: f64) -> Option<String> {
    let word = if angle > 0.0 { "open" } else { "closed" };
    let size = angle.abs() / DEG;
    (size >= 0.05).then(|| format!("{size:.1} deg {word}"))
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

fn bend(head: &Head, from: &Setting, to: &Setting) -> String {
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
    format!("bend the hosel: {}", words.join(", "))
}

fn melt(zone: &str, added: f64) -> String {
    let grams = added.abs() * 1e3;
    if added < 0.0 {
        return format!("take {grams:.0} g of hot melt out of the {zone} zone");
    }
    let (n, rest) = squeezes(added);
    let amount = match (n, rest.abs() < 1e-6) {
        (1, true) => "1 squeeze, ".to_string(),
        (n, true) if n > 0 => format!("{n} squeezes, "),
        _ => String::new(),
    };
    format!("add hot melt in the {zone} zone ({amount}{grams:.0} g)")
}

fn slide(track: &Track, from: &TrackSetting, to: &TrackSetting) -> String {
    let moved = track.point(to.position) - track.point(from.position);
    let mut words = Vec::new();
    if (from.mass - to.mass).abs() > SAME_MASS {
        let weight = format!("{} weight", track.name);
        words.push(swap(&weight, from.mass, to.mass));
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
    words.join(", then ")
}
