//! The words of a miss, and the numbers and units among them.

use super::Complaint;
use crate::units::{FOOT, YARD};

/// What a statement is about.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Subject {
    Start,
    Curve,
    Offline,
    Carry,
    Apex,
    Spin,
}

/// Words that name a subject, with their own direction where they have one: +1 away from the
/// player's body (a fade). A push or a pull is a start line, a slice or a hook a curve.
pub(super) const WORDS: [(&[&str], Subject, Option<f64>); 10] = [
    (&["starts", "start", "starting"], Subject::Start, None),
    (
        &[
            "pushes", "push", "pushed", "blocks", "block", "blocked", "pushy",
        ],
        Subject::Start,
        Some(1.0),
    ),
    (&["pulls", "pull", "pulled"], Subject::Start, Some(-1.0)),
    (
        &[
            "curves", "curve", "curving", "falls", "bends", "moves", "leans",
        ],
        Subject::Curve,
        None,
    ),
    (
        &[
            "fades",
            "fade",
            "fading",
            "overfades",
            "slices",
            "slice",
            "slicing",
            "cuts",
            "cut",
        ],
        Subject::Curve,
        Some(1.0),
    ),
    (
        &[
            "draws",
            "draw",
            "drawing",
            "overdraws",
            "hooks",
            "hook",
            "hooking",
            "turns",
            "turn",
            "turning",
        ],
        Subject::Curve,
        Some(-1.0),
    ),
    (
        &[
            "leaks", "leak", "leaking", "misses", "miss", "missing", "lands", "land", "landing",
            "ends", "offline", "finishes", "goes", "going", "loses", "losing", "lose",
        ],
        Subject::Offline,
        None,
    ),
    (&["carries", "carry", "carrying"], Subject::Carry, None),
    (&["apex", "peaks", "peak", "height"], Subject::Apex, None),
    (&["spins", "spin", "spinning"], Subject::Spin, None),
];
/// Words that say nothing.
pub(super) const FILLERS: [&str; 50] = [
    "too", "it", "its", "it's", "the", "ball", "a", "an", "to", "of", "more", "is", "about",
    "around", "very", "by", "over", "off", "out", "line", "flies", "fly", "flying", "up", "my",
    "his", "her", "in", "on", "some", "comes", "at", "i", "keep", "keeps", "am", "always",
    "usually", "mostly", "often", "just", "from", "for", "target", "back", "yet", "also", "that",
    "this", "me",
];
/// Words for how much, as a factor on the usual miss.
pub(super) const SIZES: [(&[&str], f64); 2] = [
    (&["snap", "duck", "big", "hard", "banana", "lot"], 2.0),
    (&["slight", "slightly", "bit", "little", "touch"], 0.5),
];
/// Words that part clauses.
pub(super) const JOINTS: [&str; 6] = ["and", "but", "then", "with", "plus", "&"];

/// A complaint of height by its word.
pub(super) fn height(word: &str) -> Option<Complaint> {
    match word {
        "high" | "higher" | "balloons" | "balloon" | "ballooning" | "climbs" => {
            Some(Complaint::High)
        }
        "low" | "lower" | "dives" | "dive" | "drops" | "drop" => Some(Complaint::Low),
        _ => None,
    }
}

/// Words of a clause, with a number and what sticks to it taken apart: `220m`, `5r`.
pub(super) fn split_units(clause: &str) -> Vec<String> {
    let mut out = Vec::new();
    for word in clause.split_whitespace() {
        let end = word.find(|c: char| c.is_alphabetic()).unwrap_or(word.len());
        let starts = word.starts_with(|c: char| c.is_ascii_digit());
        if starts && end > 0 && end < word.len() {
            out.push(word[..end].to_string());
            out.push(word[end..].to_string());
        } else {
            // "push-fade" is "push fade"; "10-20" is a number.
            if word.starts_with(char::is_alphabetic) {
                out.extend(word.split('-').filter(|w| !w.is_empty()).map(String::from));
            } else {
                out.push(word.to_string());
            }
        }
    }
    out
}

/// A number, or the middle of a range: `10-20`.
pub(super) fn number(word: &str) -> Option<f64> {
    match word.split_once('-') {
        Some((a, b)) if !a.is_empty() => {
            let (a, b) = (a.parse::<f64>().ok()?, b.parse::<f64>().ok()?);
            Some(0.5 * (a + b))
        }
        _ => word.parse().ok(),
    }
}

pub(super) fn side(word: &str) -> Option<f64> {
    match word {
        "right" | "rightward" | "rightwards" | "r" => Some(1.0),
        "left" | "leftward" | "leftwards" | "l" => Some(-1.0),
        _ => None,
    }
}

pub(super) fn length_unit(word: &str) -> Option<f64> {
    match word {
        "yd" | "yds" | "yard" | "yards" | "y" => Some(YARD),
        "m" | "metre" | "metres" | "meter" | "meters" => Some(1.0),
        "ft" | "foot" | "feet" => Some(FOOT),
        _ => None,
    }
}
