//! Workshop sums: swing weight and hot melt.
//!
//! Swing weight is the moment of a club about a fulcrum 14 in from the butt, on a scale of points
//! of 1.75 oz in with A0 at 161 oz in, so that D0 is 213.5 oz in (trade convention; the 14-inch
//! fulcrum and the size of a point are attested outside it, the zero is from memory).

use crate::units::{INCH, OUNCE};
use serde::Serialize;

/// Distance of the fulcrum from the butt, m.
pub const FULCRUM: f64 = 14.0 * INCH;
/// One swing-weight point, kg m.
pub const POINT: f64 = 1.75 * OUNCE * INCH;
/// Moment at A0, kg m.
pub const A0: f64 = 161.0 * OUNCE * INCH;
/// Hot melt in one squeeze, kg (common practice, no source).
pub const SQUEEZE: f64 = 4e-3;
/// By how much the head's balance point lies short of the tip end of the measured length, m, when
/// nothing better is known (common practice, no source: it makes a point 1.63 g at 45 in).
pub const HEAD_BALANCE_SHORT_OF_LENGTH: f64 = 0.5 * INCH;

/// Swing weight in points above A0; D0 is 30.
#[derive(Debug, Clone, Copy, PartialEq, PartialOrd, Serialize)]
pub struct SwingWeight(pub f64);

impl SwingWeight {
    /// From the moment about the fulcrum, kg m.
    pub fn from_moment(moment: f64) -> SwingWeight {
        SwingWeight((moment - A0) / POINT)
    }

    /// Moment about the fulcrum, kg m.
    pub fn moment(self) -> f64 {
        A0 + self.0 * POINT
    }

    /// Reads `D2.5`; letters A to G, points 0 up to but not including 10.
    ///
    /// # Errors
    /// What is wrong and what is allowed.
    pub fn parse(text: &str) -> Result<SwingWeight, String> {
        let fail = || {
            format!("'{text}' is no swing weight: a letter A to G and points 0 to 9.9, as in D2.5")
        };
        let text_trim = text.trim();
        let letter = text_trim
            .chars()
            .next()
            .ok_or_else(fail)?
            .to_ascii_uppercase();
        let points: f64 = text_trim[letter.len_utf8()..].parse().map_err(|_| fail())?;
        if !('A'..='G').contains(&letter) || !(0.0..10.0).contains(&points) {
            return Err(fail());
        }
        Ok(SwingWeight(
            f64::from(letter as u32 - 'A' as u32) * 10.0 + points,
        ))
    }
}

impl std::fmt::Display for SwingWeight {
    /// Letter and points to a tenth, as in `D2.5`; off the scale as a plain number of points.
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let tenths = (self.0 * 10.0).round();
        if !(0.0..700.0).contains(&tenths) {
            return write!(f, "A{:+.1}", self.0);
        }
        let letter = (b'A' + (tenths / 100.0) as u8) as char;
        write!(f, "{letter}{:.1}", (tenths % 100.0) / 10.0)
    }
}

/// A part of a club on the balance: mass (kg) and balance point from the butt (m).
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Part {
    /// Mass, kg.
    pub mass: f64,
    /// Balance point from the butt end of the club, m.
    pub balance: f64,
}

/// Swing weight of a club from its parts.
pub fn swing_weight<'p>(parts: impl IntoIterator<Item = &'p Part>) -> SwingWeight {
    let moment = |p: &Part| p.mass * (p.balance - FULCRUM);
    SwingWeight::from_moment(parts.into_iter().map(moment).sum())
}

/// Whole squeezes of hot melt for a mass in kg, and what is left over.
pub fn squeezes(mass: f64) -> (u32, f64) {
    let n = (mass / SQUEEZE + 1e-9).floor().max(0.0);
    (n as u32, mass - n * SQUEEZE)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::units::GRAM;

    /// A point is 1.63 g of head mass at 45 in and 2.42 g at 35 in: geometry of the 14-inch scale
    /// with the head balanced half an inch short of the length (exact arithmetic, by hand).
    #[test]
    fn ref_grams_to_a_point() {
        for (length_in, grams) in [(45.0, 1.6266), (35.0, 2.4201)] {
            let balance = length_in * INCH - HEAD_BALANCE_SHORT_OF_LENGTH;
            let points = swing_weight(&[Part {
                mass: grams * GRAM,
                balance,
            }])
            .moment()
                / POINT;
            assert!((points - 1.0).abs() < 1e-4, "{length_in} in: {points}");
        }
    }

    /// A0 161, B0 178.5, C0 196, D0 213.5, E0 231 oz in (trade convention, from memory).
    #[test]
    fn ref_scale() {
        for (text, ounce_inch) in [
            ("A0", 161.0),
            ("B0", 178.5),
            ("C0", 196.0),
            ("D0", 213.5),
            ("E0", 231.0),
        ] {
            let s = SwingWeight::parse(text).unwrap();
            assert!((s.moment() / (OUNCE * INCH) - ounce_inch).abs() < 1e-9);
            assert_eq!(s.to_string(), format!("{text}.0"));
        }
        assert_eq!(SwingWeight(29.96).to_string(), "D0.0");
        for bad in ["", "H1", "D", "D10", "D-1", "Dx", "\u{e9}1", "DNaN"] {
            assert!(SwingWeight::parse(bad).is_err(), "{bad}");
        }
    }

    /// One squeeze of 4 g in a 45 in driver is two to three points (common practice, no source).
    #[test]
    fn ref_a_squeeze_is_two_to_three_points() {
        let balance = 45.0 * INCH - HEAD_BALANCE_SHORT_OF_LENGTH;
        let points = SQUEEZE * (balance - FULCRUM) / POINT;
        assert!((2.0..=3.0).contains(&points), "{points}");
    }
}
