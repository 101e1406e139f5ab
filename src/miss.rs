//! A miss in words: "starts 5 right, curves 15 right, carries 240, high".
//!
//! Clauses are separated by commas or "and". Distances are in yards unless they carry their own
//! unit. What is said becomes readings with wide errors; what is left open stays open.

use crate::hand::{Hand, Mirror};
use crate::units::{RPM, YARD};

/// What was said of the height.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Height {
    /// Too high, ballooning.
    High,
    /// Too low.
    Low,
}

/// A miss as it was said, in m and rad/s; real-world frame, right positive, until turned.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Miss {
    /// Where the start line passes at landing distance.
    pub start: Option<f64>,
    /// Curve from the start line.
    pub curve: Option<f64>,
    /// Where it lands.
    pub offline: Option<f64>,
    /// Carry.
    pub carry: Option<f64>,
    /// Greatest height.
    pub apex: Option<f64>,
    /// Spin rate.
    pub spin_rate: Option<f64>,
    /// Too high or too low.
    pub height: Option<Height>,
    /// Amounts that were not said and had to be assumed, in words.
    pub assumed: Vec<String>,
}

impl Mirror for Miss {
    fn mirrored(mut self) -> Self {
        for v in [&mut self.start, &mut self.curve, &mut self.offline] {
            *v = v.map(|x| -x);
        }
        self
    }
}

/// A phrase that is not understood.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[error(
    "'{clause}' is not understood: {why}. Say for instance: starts 5 right, curves 15 right, \
     carries 240 (yd; or 220 m), apex 30, spins 3200, high, low, offline 12 left"
)]
pub struct MissError {
    /// The clause.
    pub clause: String,
    /// What is wrong with it.
    pub why: String,
}

/// Amount that stands in when only a direction was said, m: ten yards.
const UNSAID: f64 = 10.0 * YARD;
/// More than any ball does, m.
const MOST: f64 = 450.0;

/// What a clause is about.
#[derive(Clone, Copy, PartialEq)]
enum Subject {
    Start,
    Curve,
    Offline,
    Carry,
    Apex,
    Spin,
    Height(Height),
}

/// Words that name a subject; `Some(side)` for curves that carry their own direction, +1 being
/// away from a right-handed player's body (a fade).
const WORDS: [(&[&str], Subject, Option<f64>); 15] = [
    (&["starts", "start", "starting"], Subject::Start, None),
    (
        &["curves", "curve", "curving", "falls", "bends", "moves"],
        Subject::Curve,
        None,
    ),
    (
        &["fades", "fade", "slices", "slice", "cuts"],
        Subject::Curve,
        Some(1.0),
    ),
    (
        &["draws", "draw", "hooks", "hook", "turns", "over"],
        Subject::Curve,
        Some(-1.0),
    ),
    (
        &[
            "leaks", "misses", "lands", "ends", "offline", "finishes", "goes",
        ],
        Subject::Offline,
        None,
    ),
    (&["pushes", "push"], Subject::Start, Some(1.0)),
    (&["pulls", "pull"], Subject::Start, Some(-1.0)),
    (&["carries", "carry"], Subject::Carry, None),
    (&["apex", "peaks", "height"], Subject::Apex, None),
    (&["spins", "spin"], Subject::Spin, None),
    (&["high"], Subject::Height(Height::High), None),
    (
        &["balloons", "balloon", "ballooning"],
        Subject::Height(Height::High),
        None,
    ),
    (&["low"], Subject::Height(Height::Low), None),
    (&["dives", "drops"], Subject::Height(Height::Low), None),
    (&["climbs"], Subject::Height(Height::High), None),
];
/// Words that say nothing.
const FILLERS: [&str; 14] = [
    "too", "it", "the", "ball", "then", "a", "to", "of", "more", "rpm", "is", "about", "very", "by",
];

/// Reads a phrase. The hand tells which way a fade goes.
///
/// # Errors
/// The first clause that is not understood, and why.
pub fn parse(phrase: &str, hand: Hand) -> Result<Miss, MissError> {
    let lower = phrase
        .to_lowercase()
        .replace(" and ", ",")
        .replace(';', ",");
    let mut miss = Miss::default();
    let mut any = false;
    for clause in lower.split(',').map(str::trim).filter(|c| !c.is_empty()) {
        read_clause(clause, hand, &mut miss)?;
        any = true;
    }
    if !any {
        return Err(MissError {
            clause: phrase.trim().into(),
            why: "nothing is said".into(),
        });
    }
    Ok(miss)
}

fn read_clause(clause: &str, hand: Hand, miss: &mut Miss) -> Result<(), MissError> {
    let fail = |why: String| MissError {
        clause: clause.into(),
        why,
    };
    let (mut subject, mut side, mut number, mut unit) = (None, None, None, YARD);
    let mut straight = false;
    for word in split_units(clause) {
        let word = word.as_str();
        let bare = word.trim_end_matches('.');
        if let Some((_, s, own)) = WORDS.iter().find(|(w, ..)| w.contains(&bare)) {
            if subject.is_none() || matches!(s, Subject::Height(_)) {
                subject = Some(*s);
            }
            if let Some(own) = own {
                side = side.or(Some(own * hand.sign()));
            }
        } else if bare == "right" {
            side = Some(1.0);
        } else if bare == "left" {
            side = Some(-1.0);
        } else if bare == "straight" {
            straight = true;
        } else if let Some(u) = length_unit(bare) {
            unit = u;
        } else if let Ok(v) = bare.parse::<f64>() {
            if !v.is_finite() || v < 0.0 || number.is_some() {
                return Err(fail(
                    "say one positive number, and left or right in words".into(),
                ));
            }
            number = Some(v);
        } else if !FILLERS.contains(&bare) {
            return Err(fail(format!("the word '{bare}' is unknown")));
        }
    }
    let subject = match (subject, side) {
        (Some(s), _) => s,
        (None, Some(_)) => Subject::Offline,
        (None, None) if straight => Subject::Curve,
        _ => return Err(fail("it does not say what the ball does".into())),
    };
    if let Subject::Height(h) = subject {
        if number.is_some() {
            return Err(fail("give a height as 'apex 30'".into()));
        }
        miss.height = Some(h);
        return Ok(());
    }
    let length = number.map(|v| v * unit);
    if length.is_some_and(|v| v > MOST) && subject != Subject::Spin {
        return Err(fail(format!(
            "{:.0} m is farther than any ball goes",
            length.unwrap_or(0.0)
        )));
    }
    let mut sideways = || -> Result<f64, MissError> {
        match (length, side, straight) {
            (_, None, true) => Ok(0.0),
            (Some(v), Some(s), _) => Ok(v * s),
            (Some(0.0), None, _) => Ok(0.0),
            (Some(_), None, _) => Err(fail("left or right?".into())),
            (None, Some(s), _) => {
                miss.assumed
                    .push(format!("'{clause}' says no amount: 10 yd assumed"));
                Ok(UNSAID * s)
            }
            (None, None, _) => Err(fail("how far, and left or right?".into())),
        }
    };
    match subject {
        Subject::Start => miss.start = Some(sideways()?),
        Subject::Curve => miss.curve = Some(sideways()?),
        Subject::Offline => miss.offline = Some(sideways()?),
        Subject::Carry => miss.carry = Some(length.ok_or_else(|| fail("how far?".into()))?),
        Subject::Apex => miss.apex = Some(length.ok_or_else(|| fail("how high?".into()))?),
        Subject::Spin => {
            let rpm = number.ok_or_else(|| fail("how many rpm?".into()))?;
            if !(100.0..=16000.0).contains(&rpm) {
                return Err(fail("spin must be 100 to 16000 rpm".into()));
            }
            miss.spin_rate = Some(rpm * RPM);
        }
        Subject::Height(_) => {}
    }
    Ok(())
}

/// Words of a clause, with a number and a unit that stick together taken apart: `220m`.
fn split_units(clause: &str) -> Vec<String> {
    let mut out = Vec::new();
    for word in clause.split_whitespace() {
        let digits = word.find(|c: char| c.is_alphabetic()).unwrap_or(word.len());
        if digits > 0 && word.starts_with(|c: char| c.is_ascii_digit()) && digits < word.len() {
            out.push(word[..digits].to_string());
            out.push(word[digits..].to_string());
        } else {
            out.push(word.to_string());
        }
    }
    out
}

fn length_unit(word: &str) -> Option<f64> {
    match word {
        "yd" | "yds" | "yard" | "yards" | "y" => Some(YARD),
        "m" | "metre" | "metres" | "meter" | "meters" => Some(1.0),
        "ft" | "foot" | "feet" => Some(crate::units::FOOT),
        _ => None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn alt_the_same_miss_in_many_words() {
        let m = parse(
            "starts 5 right, curves 15 right, carries 240, high",
            Hand::Right,
        )
        .unwrap();
        assert_eq!(m.start, Some(5.0 * YARD));
        assert_eq!(m.curve, Some(15.0 * YARD));
        assert_eq!(m.carry, Some(240.0 * YARD));
        assert_eq!(m.height, Some(Height::High));
        let n = parse(
            "Starts 5yd right and slices 15; carries 219.456 m, too high",
            Hand::Right,
        );
        let n = n.unwrap();
        assert_eq!((n.start, n.curve, n.height), (m.start, m.curve, m.height));
        assert!((n.carry.unwrap() - 240.0 * YARD).abs() < 1e-9);
    }

    #[test]
    fn inv_a_fade_goes_the_other_way_for_a_left_hander() {
        assert!(parse("fades 10", Hand::Right).unwrap().curve.unwrap() > 0.0);
        assert!(parse("fades 10", Hand::Left).unwrap().curve.unwrap() < 0.0);
        assert!(parse("turns over", Hand::Left).unwrap().curve.unwrap() > 0.0);
        assert_eq!(
            parse("leaks right", Hand::Left).unwrap().offline,
            Some(UNSAID)
        );
    }

    #[test]
    fn inv_nonsense_is_refused_with_the_clause() {
        for bad in [
            "",
            ",",
            "curves 15",
            "starts",
            "blah 5 left",
            "carries",
            "starts -5 left",
            "carries 900",
            "apex",
            "spins 1",
            "high 5",
            "starts 1 2 left",
            "carries nan",
        ] {
            let e = parse(bad, Hand::Right).unwrap_err();
            assert!(!e.why.is_empty(), "{bad}");
        }
    }
}
