//! Where what a device shows and what is flown here disagree.

use crate::hand::Hand;
use crate::report::tidy;
use crate::tendency::{Device, Tendency};
use crate::units::DEG;
use serde::Serialize;

/// A ground figure as the device shows it and as it is flown here from the measured launch: medians
/// over the shots that have it.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct DeviceReport {
    /// `carry`, `offline` or `apex`.
    pub figure: &'static str,
    /// What the device shows, m.
    pub device_m: f64,
    /// What is flown here, m.
    pub flown_m: f64,
    /// How many shots have it.
    pub shots: usize,
}

/// A gap between device and flight of more than this share of the carry is told: the coefficient
/// sets agree among each other within some 4 %.
const GAP: f64 = 0.05;

impl DeviceReport {
    pub(super) fn of(d: &Device, sign: f64) -> DeviceReport {
        let side = if d.quantity.info().mirrored {
            sign
        } else {
            1.0
        };
        DeviceReport {
            figure: d.quantity.info().name,
            device_m: tidy(d.shown * side),
            flown_m: tidy(d.flown * side),
            shots: d.shots,
        }
    }

    /// What to say of a gap; none if there is none.
    fn warning(&self, carry: f64) -> Option<String> {
        let (shown, flown) = (self.device_m, self.flown_m);
        if (shown - flown).abs() <= GAP * carry {
            return None;
        }
        Some(match self.figure {
            "offline" if shown * flown < 0.0 => {
                "the device shows the ball on the other side of the line: check the signs of \
                 offline, launch direction and spin axis, or the aim of the device"
                    .into()
            }
            "offline" => "the device shows another offline than this launch flies: check launch \
                          direction, spin axis and wind"
                .into(),
            name => format!(
                "the device shows another {name} than this launch flies: check units, air and ball"
            ),
        })
    }
}

/// Where what the device shows and what is flown here disagree, in words; a tendency in the
/// right-handed frame.
pub fn device_warnings(t: &Tendency, hand: Hand) -> Vec<String> {
    let of = |d| DeviceReport::of(d, hand.sign()).warning(t.carry.mean);
    let contrary = t.contrary_face.map(|face| {
        let looks = if face > 0.0 { "open" } else { "closed" };
        let side = if t.launch[2].mean * hand.sign() > 0.0 { "right" } else { "left" };
        format!(
            "the device shows the face {:.1} deg {looks}, and the ball starts {side}: one of the two \
             columns may be positive to the left (a mapping can say so, see the README)",
            face.abs() / DEG
        )
    });
    t.device.iter().filter_map(of).chain(contrary).collect()
}
