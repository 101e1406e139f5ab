//! Reads a phrase clause by clause, statement by statement.

use super::words::{
    FILLERS, JOINTS, SIZES, Subject, WORDS, height, length_unit, number, side, split_units,
};
use super::{Amount, Complaint, Miss, MissError};
use crate::hand::Hand;
use crate::units::{RPM, YARD};

/// More than any ball does, m.
const MOST: f64 = 450.0;

/// Reads a phrase. The hand tells which way a fade goes.
///
/// # Errors
/// The first clause that is not understood, and why.
pub fn parse(phrase: &str, hand: Hand) -> Result<Miss, MissError> {
    let mut miss = Miss::default();
    let mut any = false;
    for clause in clauses(&phrase.to_lowercase()) {
        read_clause(&clause, hand, &mut miss)?;
        any = true;
    }
    let fail = |why: String| MissError {
        clause: phrase.trim().into(),
        why,
    };
    if !any {
        return Err(fail("nothing is said".into()));
    }
    if let (Some(Amount::Stated(s)), Some(Amount::Stated(c)), Some(Amount::Stated(o))) =
        (miss.start, miss.curve, miss.offline)
    {
        if (s + c - o).abs() > 3.0 * YARD + 0.1 * o.abs() {
            return Err(fail(
                "start line and curve do not add up to where it lands; say two of the three".into(),
            ));
        }
    }
    Ok(miss)
}

/// Clauses of a phrase in lower case.
fn clauses(phrase: &str) -> Vec<String> {
    let mut out = vec![String::new()];
    for part in phrase.split_inclusive([',', ';']) {
        for word in part.trim_end_matches([',', ';']).split_whitespace() {
            if JOINTS.contains(&word) {
                out.push(String::new());
            } else if let Some(clause) = out.last_mut() {
                clause.push(' ');
                clause.push_str(word);
            }
        }
        out.push(String::new());
    }
    out.into_iter()
        .map(|c| c.trim().to_string())
        .filter(|c| !c.is_empty())
        .collect()
}

/// One statement under construction.
#[derive(Clone, Copy, Default, PartialEq)]
struct Statement {
    subject: Option<Subject>,
    /// The direction that the subject's word has of itself.
    own: Option<f64>,
    side: Option<f64>,
    number: Option<f64>,
    unit: Option<f64>,
    size: Option<f64>,
    straight: bool,
    /// "rpm" was said: the number is one of spin.
    of_spin: bool,
    /// "much" or "little": only of spin.
    much: Option<Complaint>,
}

fn read_clause(clause: &str, hand: Hand, miss: &mut Miss) -> Result<(), MissError> {
    let fail = |why: String| MissError {
        clause: clause.into(),
        why,
    };
    let mut current = Statement::default();
    let mut of_height = false;
    for word in split_units(clause) {
        let word = word.trim_end_matches('.');
        if let Some(h) = height(word) {
            if miss.height.replace(h).is_some_and(|before| before != h) {
                return Err(fail("high or low, not both".into()));
            }
            of_height = true;
        } else if let Some((_, subject, own)) = WORDS.iter().find(|(w, ..)| w.contains(&word)) {
            // "10 yd fade", "too much spin": what stands before the subject belongs to it. After
            // one, a new statement begins.
            if current.subject.is_some() {
                file(clause, &current, miss)?;
                current = Statement::default();
            }
            current.subject = Some(*subject);
            current.own = own.map(|o| o * hand.sign());
        } else if let Some(side) = side(word) {
            if current.side.replace(side).is_some_and(|s| s != side) {
                return Err(fail("left or right, not both".into()));
            }
        } else if word == "straight" || word == "no" {
            current.straight = true;
        } else if word == "rpm" {
            current.of_spin = true;
        } else if word == "much" {
            current.much = Some(Complaint::High);
        } else if word == "enough" || (word == "little" && clause.contains("spin")) {
            current.much = Some(Complaint::Low);
        } else if let Some((_, size)) = SIZES.iter().find(|(w, _)| w.contains(&word)) {
            current.size = Some(*size);
        } else if let Some(u) = length_unit(word) {
            current.unit = Some(u);
        } else if let Some(v) = number(word) {
            if current.number.replace(v).is_some() || !v.is_finite() || v < 0.0 {
                return Err(fail(
                    "say one positive number for each thing, and left or right in words".into(),
                ));
            }
        } else if word == "short" || word == "long" {
            return Err(fail("say how far it carries, as in 'carries 210'".into()));
        } else if !(FILLERS.contains(&word) || word == "not" && clause.contains("enough")) {
            return Err(fail(format!("the word '{word}' is unknown")));
        }
    }
    if of_height && current == Statement::default() {
        return Ok(());
    }
    file(clause, &current, miss)
}

/// Puts a statement where it belongs.
fn file(clause: &str, s: &Statement, miss: &mut Miss) -> Result<(), MissError> {
    let fail = |why: String| MissError {
        clause: clause.into(),
        why,
    };
    let subject = match s.subject {
        Some(subject) => subject,
        None if s.side.is_some() && (miss.start.is_some() || miss.curve.is_some()) => {
            return Err(fail(
                "say what goes there: 'starts', 'curves' or 'lands', with left or right".into(),
            ));
        }
        None if s.side.is_some() => Subject::Offline,
        None if s.of_spin => Subject::Spin,
        None if s.straight => Subject::Curve,
        None => return Err(fail("it does not say what the ball does".into())),
    };
    if s.much.is_some() && subject != Subject::Spin {
        return Err(fail("'much' and 'enough' go with spin".into()));
    }
    let twice = || fail("that was said already".into());
    let length = s.number.map(|v| v * s.unit.unwrap_or(YARD));
    if let Some(v) = length.filter(|v| *v > MOST && subject != Subject::Spin) {
        return Err(fail(format!("{v:.0} m is farther than any ball goes")));
    }
    let sideways = || -> Result<Amount, MissError> {
        if let (Some(own), Some(side)) = (s.own, s.side) {
            if own != side {
                let goes = if own > 0.0 { "right" } else { "left" };
                return Err(fail(format!(
                    "of this player that goes {goes}; say 'starts' or 'curves' with left or right"
                )));
            }
        }
        match (length, s.side.or(s.own)) {
            // "straight push": the push is straight, it still goes its way.
            (None, None) if s.straight => Ok(Amount::Stated(0.0)),
            (Some(v), Some(side)) => Ok(Amount::Stated(v * side)),
            (Some(0.0), None) => Ok(Amount::Stated(0.0)),
            (Some(_), None) => Err(fail("left or right?".into())),
            (None, Some(side)) => Ok(Amount::Unsaid(side * s.size.unwrap_or(1.0))),
            (None, None) => Err(fail("how far, and left or right?".into())),
        }
    };
    let upright = |what: &str| -> Result<f64, MissError> {
        if s.side.is_some() || s.straight {
            return Err(fail(format!("{what} has no left or right")));
        }
        length.ok_or_else(|| fail(format!("how much {what}?")))
    };
    let slot = match subject {
        Subject::Start => &mut miss.start,
        Subject::Curve => &mut miss.curve,
        Subject::Offline => &mut miss.offline,
        Subject::Carry => {
            let v = upright("carry")?;
            return miss.carry.replace(v).map_or(Ok(()), |_| Err(twice()));
        }
        Subject::Apex => {
            let v = upright("height")?;
            return miss.apex.replace(v).map_or(Ok(()), |_| Err(twice()));
        }
        Subject::Spin => return file_spin(s, miss).map_err(fail),
    };
    if slot.replace(sideways()?).is_some() {
        return Err(twice());
    }
    // "straight pull": start and curve in one.
    let both = s.straight && s.own.is_some() && subject == Subject::Start;
    if both && miss.curve.replace(Amount::Stated(0.0)).is_some() {
        return Err(twice());
    }
    Ok(())
}

fn file_spin(s: &Statement, miss: &mut Miss) -> Result<(), String> {
    let twice = || Err("that was said already".to_string());
    match (s.number, s.much) {
        (Some(rpm), None) => {
            if !(100.0..=16000.0).contains(&rpm) {
                return Err("spin must be 100 to 16000 rpm".into());
            }
            miss.spin_rate
                .replace(rpm * RPM)
                .map_or(Ok(()), |_| twice())
        }
        (None, Some(much)) => miss.spin.replace(much).map_or(Ok(()), |_| twice()),
        _ => Err("how many rpm, or too much, or not enough".into()),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use Amount::{Stated, Unsaid};
    use Complaint::{High, Low};

    fn right(phrase: &str) -> Miss {
        parse(phrase, Hand::Right).unwrap_or_else(|e| panic!("{phrase}: {e}"))
    }

    #[test]
    fn alt_the_same_miss_in_many_words() {
        let m = right("starts 5 right, curves 15 right, carries 240, high");
        assert_eq!(m.start, Some(Stated(5.0 * YARD)));
        assert_eq!(m.curve, Some(Stated(15.0 * YARD)));
        assert_eq!(m.carry, Some(240.0 * YARD));
        assert_eq!(m.height, Some(High));
        for same in [
            "Starts 5yd right and slices 15; carries 240 yd, too high",
            "starts 5R curves 15R, carries 240, flies too high",
            "high push 5, then fades 15, but carries 235-245",
            "5 right start with a 15 yard slice, balloons, carries 240",
        ] {
            assert_eq!(right(same), m, "{same}");
        }
        let metric = right("carries 219.456 m").carry.unwrap();
        assert!((metric - 240.0 * YARD).abs() < 1e-9);
    }

    #[test]
    fn inv_two_words_say_two_things() {
        for (phrase, start, curve, height) in [
            ("low hook", None, Some(Unsaid(-1.0)), Some(Low)),
            ("pull hook", Some(Unsaid(-1.0)), Some(Unsaid(-1.0)), None),
            ("push-fade", Some(Unsaid(1.0)), Some(Unsaid(1.0)), None),
            ("snap hook", None, Some(Unsaid(-2.0)), None),
            ("slight fade", None, Some(Unsaid(0.5)), None),
            ("straight pull", Some(Unsaid(-1.0)), Some(Stated(0.0)), None),
            ("it turns over", None, Some(Unsaid(-1.0)), None),
            ("blocks it", Some(Unsaid(1.0)), None, None),
            ("I keep slicing it", None, Some(Unsaid(1.0)), None),
            ("curves back to the right", None, Some(Unsaid(1.0)), None),
            (
                "starts 5 left, no curve",
                Some(Stated(-5.0 * YARD)),
                Some(Stated(0.0)),
                None,
            ),
            (
                "starts left then curves right",
                Some(Unsaid(-1.0)),
                Some(Unsaid(1.0)),
                None,
            ),
            (
                "starts straight, fades 10",
                Some(Stated(0.0)),
                Some(Stated(10.0 * YARD)),
                None,
            ),
        ] {
            let m = right(phrase);
            assert_eq!(
                (m.start, m.curve, m.height),
                (start, curve, height),
                "{phrase}"
            );
        }
        assert_eq!(right("too much spin").spin, Some(High));
        assert_eq!(right("not enough spin").spin, Some(Low));
        assert_eq!(right("spins 3200 rpm").spin_rate, Some(3200.0 * RPM));
        assert_eq!(right("3200 rpm").spin_rate, Some(3200.0 * RPM));
        assert_eq!(right("loses it to the right").offline, Some(Unsaid(1.0)));
        let far = right("10 yards right of the target").offline;
        assert_eq!(far, Some(Stated(10.0 * YARD)));
    }

    #[test]
    fn inv_a_fade_goes_the_other_way_for_a_left_hander() {
        let left = |p: &str| parse(p, Hand::Left).unwrap();
        assert_eq!(right("fades 10").curve, Some(Stated(10.0 * YARD)));
        assert_eq!(left("fades 10").curve, Some(Stated(-10.0 * YARD)));
        assert_eq!(left("turns over").curve, Some(Unsaid(1.0)));
        assert_eq!(left("leaks right").offline, Some(Unsaid(1.0)));
        assert_eq!(left("slices left").curve, Some(Unsaid(-1.0)));
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
            "not straight",
            "no spin",
            "no carry",
            "curves right 20 and left 5",
            "off the toe",
            "starts 1 2 left",
            "carries nan",
            "slices left",
            "draws 10 right",
            "starts 5 left, starts 8 left",
            "starts left right",
            "high, low",
            "short",
            "carries 240 left",
            "starts 5 right, curves 5 right, lands 30 left",
            "much fade",
            "10",
        ] {
            let e = parse(bad, Hand::Right).expect_err(bad);
            assert!(!e.why.is_empty(), "{bad}");
        }
    }
}
