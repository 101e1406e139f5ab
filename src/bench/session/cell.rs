//! One cell: a number, perhaps with a side, or nothing.

use super::columns::Value;

/// A cell that holds nothing.
pub(super) fn is_missing(text: &str) -> bool {
    let text = text.trim();
    ["", "-", "na", "n/a"]
        .iter()
        .any(|m| text.eq_ignore_ascii_case(m))
}

/// The number in a cell in SI, right positive; `None` if the cell holds nothing.
///
/// With a decimal comma, `5,2` is read as 5.2. Where the sides differ, `5.2 R`, `L 3` and `3L`
/// are read too; a letter says which side whatever the file's sign convention is.
///
/// # Errors
/// What is allowed.
pub(super) fn value(text: &str, of: &Value, decimal_comma: bool) -> Result<Option<f64>, String> {
    if is_missing(text) {
        return Ok(None);
    }
    let (side, digits) = match of.what.sided() {
        true => split_side(text.trim()),
        false => (None, text.trim()),
    };
    let number = number(digits, decimal_comma).ok_or_else(|| not_a_number(of))?;
    let right_positive = match side {
        Some(_) if digits.starts_with(['-', '+']) => {
            return Err("a side by its letter or by its sign, not both".into());
        }
        Some(sign) => sign * number,
        None if of.left_positive => -number,
        None => number,
    };
    let si = right_positive * of.size;
    let (low, high) = of.what.bounds();
    // A value on the bound may have been rounded on its way through another unit.
    let slack = 1e-9 * high.abs().max(low.abs());
    match (low - slack..=high + slack).contains(&si) {
        true => Ok(Some(si)),
        false => Err(range(of)),
    }
}

/// A number in the unit of its column, for a guess at the unit; nothing else is checked.
pub(super) fn bare_number(text: &str, of: &Value, decimal_comma: bool) -> Option<f64> {
    let (_, digits) = match of.what.sided() {
        true => split_side(text.trim()),
        false => (None, text.trim()),
    };
    number(digits, decimal_comma)
}

/// The allowed range in the unit of the column.
fn range(of: &Value) -> String {
    let (low, high) = of.what.bounds();
    let in_unit = |v: f64| {
        let text = format!("{:.3}", v / of.size);
        text.trim_end_matches('0').trim_end_matches('.').to_string()
    };
    format!("must be {} to {} {}", in_unit(low), in_unit(high), of.unit)
}

fn not_a_number(of: &Value) -> String {
    let sides = if of.what.sided() {
        ", R or L before or after it"
    } else {
        ""
    };
    format!(
        "not a number{sides}; {}; empty, '-' or NA if missing",
        range(of)
    )
}

fn number(text: &str, decimal_comma: bool) -> Option<f64> {
    // `inf` and `nan` would pass for numbers.
    let plain = |c: char| c.is_ascii_digit() || "+-.eE".contains(c) || (decimal_comma && c == ',');
    if !text.chars().all(plain) {
        return None;
    }
    let text = match decimal_comma {
        true => text.replace(',', "."),
        false => text.to_string(),
    };
    text.parse().ok().filter(|n: &f64| n.is_finite())
}

/// Takes a letter R or L off either end: its sign, and the rest.
fn split_side(text: &str) -> (Option<f64>, &str) {
    for (letters, sign) in [(['R', 'r'], 1.0), (['L', 'l'], -1.0)] {
        let rest = text
            .strip_prefix(letters)
            .or_else(|| text.strip_suffix(letters));
        if let Some(rest) = rest {
            return (Some(sign), rest.trim());
        }
    }
    (None, text)
}

#[cfg(test)]
mod tests {
    use super::super::columns::What;
    use super::*;
    use crate::quantity::Quantity;
    use crate::units::{DEG, MPH};

    fn of(quantity: Quantity, unit: &'static str, left_positive: bool) -> Value {
        Value {
            what: What::Quantity(quantity),
            unit,
            size: quantity.info().dimension.unit(unit).unwrap(),
            left_positive,
        }
    }

    #[test]
    fn sides_and_signs() {
        let right = of(Quantity::LaunchDirection, "deg", false);
        let left = of(Quantity::LaunchDirection, "deg", true);
        for (text, want_right, want_left) in [
            ("5.2", 5.2, -5.2),
            ("-5.2", -5.2, 5.2),
            ("5.2 R", 5.2, 5.2),
            ("L 3", -3.0, -3.0),
            ("3l", -3.0, -3.0),
            ("r3", 3.0, 3.0),
            (" +3 ", 3.0, -3.0),
        ] {
            assert_eq!(
                value(text, &right, false),
                Ok(Some(want_right * DEG)),
                "{text}"
            );
            assert_eq!(
                value(text, &left, false),
                Ok(Some(want_left * DEG)),
                "{text}"
            );
        }
        for bad in [
            "-3 L", "R", "3 RR", "3 X", "inf", "nan", "1e999", "5,2", "--3", "85",
        ] {
            assert!(value(bad, &right, false).is_err(), "{bad}");
        }
    }

    #[test]
    fn missing_comma_and_bounds() {
        let speed = of(Quantity::BallSpeed, "mph", false);
        for missing in ["", " - ", "na", "N/A", "NA"] {
            assert_eq!(value(missing, &speed, false), Ok(None));
        }
        assert_eq!(value("160,5", &speed, true), Ok(Some(160.5 * MPH)));
        assert!(value("160,5", &speed, false).is_err());
        assert!(value("1,600,5", &speed, true).is_err());
        assert!(value("160 R", &speed, false).is_err());
        let said = value("400", &speed, false).unwrap_err();
        assert_eq!(said, "must be 2.237 to 246.063 mph");
    }
}
