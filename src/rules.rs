//! Limits that the rules of golf set to a club, as far as the descriptions tell; the rules' bodies
//! decide.
//!
//! Source: The R&A and USGA, Equipment Rules (2019), Part 2: section 1c (length) and section 4b
//! (volume of the clubhead, with its tolerance); Model Local Rule G-10 (length of 46 in).

use crate::club::Club;
use crate::head::{ClubKind, Head};
use crate::units::INCH;

/// Largest volume of a driver's head, m³.
pub const MOST_VOLUME: f64 = 460e-6;
/// Its tolerance, m³.
pub const VOLUME_TOLERANCE: f64 = 10e-6;
/// Greatest length of a club that is no putter, m.
pub const MOST_LENGTH: f64 = 48.0 * INCH;
/// The same where the local rule holds, m.
pub const MOST_LENGTH_LOCAL: f64 = 46.0 * INCH;

/// A volume beyond the rules, in words.
pub fn volume_limit(head: &Head) -> Option<String> {
    let volume = head.volume.filter(|v| {
        // 470 cm³ as read from a file, give or take a rounding, are not beyond 470.
        head.kind == ClubKind::Driver && *v > MOST_VOLUME + VOLUME_TOLERANCE + 1e-12
    })?;
    Some(format!(
        "Conformity: the head's volume is {:.0} cm3; the rules allow a driver {:.0} with a \
         tolerance of {:.0}. The rules' bodies decide.",
        volume * 1e6,
        MOST_VOLUME * 1e6,
        VOLUME_TOLERANCE * 1e6
    ))
}

/// A length beyond the rules, in words; length in m, of a club that is no putter.
pub fn length_limit(length: f64) -> Option<String> {
    let allowed = match length {
        l if l > MOST_LENGTH + 1e-9 => "the rules allow 48 in",
        l if l > MOST_LENGTH_LOCAL + 1e-9 => {
            "the rules allow 48 in, and 46 in where the local rule on length holds"
        }
        _ => return None,
    };
    Some(format!(
        "Conformity: the club's length is {:.2} in; {allowed}. The rules' bodies decide.",
        length / INCH
    ))
}

/// All of these limits that a club is beyond, in words.
pub fn club_limits(club: &Club) -> Vec<String> {
    volume_limit(&club.head)
        .into_iter()
        .chain(length_limit(club.length))
        .collect()
}
