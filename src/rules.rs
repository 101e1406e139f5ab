//! Limits that the rules of golf set to a club, as far as the descriptions tell; the rules' bodies
//! decide.
//!
//! Source: The R&A and USGA, Equipment Rules (2019), Part 2: section 1c (length) and section 4b
//! (size and inertia of the clubhead, with their tolerances); Model Local Rule G-10 (length of 46 in).

use crate::club::Club;
use crate::head::{ClubKind, Head, Setting};
use crate::units::{DEG, G_CM2, INCH};
use nalgebra::{Rotation3, Vector3};

/// Largest volume of a driver's head, m³.
pub const MOST_VOLUME: f64 = 460e-6;
/// Its tolerance, m³.
pub const VOLUME_TOLERANCE: f64 = 10e-6;
/// Greatest inertia of a driver's head about the vertical axis, kg m².
pub const MOST_INERTIA: f64 = 5900.0 * G_CM2;
/// Its tolerance, kg m².
pub const INERTIA_TOLERANCE: f64 = 100.0 * G_CM2;
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

/// Inertia of the head about the vertical axis through its CG, the head at a lie of 60 deg, kg m².
pub fn vertical_inertia(head: &Head, setting: &Setting) -> f64 {
    let turn = Rotation3::from_axis_angle(&Vector3::y_axis(), head.lie - 60.0 * DEG);
    let inertia = head.mass_properties(setting).inertia;
    (turn * inertia * turn.inverse())[(2, 2)]
}

/// An inertia beyond the rules, in words.
pub fn inertia_limit(head: &Head, setting: &Setting) -> Option<String> {
    let inertia = vertical_inertia(head, setting);
    let beyond = head.kind == ClubKind::Driver && inertia > MOST_INERTIA + INERTIA_TOLERANCE;
    beyond.then(|| {
        format!(
            "Conformity: inertia about the vertical axis comes to {:.0} g cm2; the rules allow \
             {:.0} with a tolerance of {:.0}. The rules' bodies decide.",
            inertia / G_CM2,
            MOST_INERTIA / G_CM2,
            INERTIA_TOLERANCE / G_CM2
        )
    })
}

/// All of these limits that a club is beyond, in words.
pub fn club_limits(club: &Club) -> Vec<String> {
    volume_limit(&club.head)
        .into_iter()
        .chain(inertia_limit(&club.head, &club.setting))
        .chain(length_limit(club.length))
        .collect()
}
