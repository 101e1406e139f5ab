//! The club that a build file describes, its angles, and what is odd about them.

use super::build::{BuildFile, PartFile, TakenAt};
use super::source::{DescribeError, Problem, Source, at};
use crate::club::Club;
use crate::hand::Hand;
use crate::head::Head;
use crate::hosel::{AngleChange, Attitude, angle_change};
use crate::units::{DEG, GRAM, INCH, MM};
use crate::workshop::{Part, SwingWeight};

/// An angle of a club as it stands, rad.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Angle {
    /// Less the gauge's offset, if it was read.
    pub value: f64,
    /// As the gauge showed it there; none if it is computed.
    pub reading: Option<f64>,
}

/// Loft, lie and face angle of a club at its setting.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Angles {
    /// Loft.
    pub loft: Angle,
    /// Lie.
    pub lie: Angle,
    /// Face angle, real-world frame, right positive; none if it was never read.
    pub face: Option<Angle>,
}

/// Loft that differs more from its head's than this is doubted, rad (common practice, no source).
const DOUBTED_LOFT: f64 = 3.0 * DEG;
/// Lie that differs more from its head's than this is doubted, rad (common practice, no source).
const DOUBTED_LIE: f64 = 3.0 * DEG;
/// A face that is read as more open or closed than this is doubted, deg (common practice, no source).
const DOUBTED_FACE_DEG: f64 = 4.0;
/// A read swing weight that differs more from the computed one is doubted, points (common
/// practice, no source: a wrong mass of 2.5 g, or a balance point 1 in off).
const DOUBTED_SWING_WEIGHT: f64 = 1.5;

impl BuildFile {
    /// What is odd about this build of a head, in words; nothing that would be refused.
    pub fn doubts(&self, club: &Club, head: &Head) -> Vec<String> {
        let mut odd = Vec::new();
        for (name, is, nominal, most) in [
            ("loft", club.head.loft, head.loft, DOUBTED_LOFT),
            ("lie", club.head.lie, head.lie, DOUBTED_LIE),
        ] {
            if (is - nominal).abs() > most {
                odd.push(format!(
                    "{}: the measured {name} makes {:.1} deg at the head's reference, the head has \
                     {:.1}",
                    self.name,
                    is / DEG,
                    nominal / DEG
                ));
            }
        }
        if let Some(face) = self
            .measured
            .face_angle_deg
            .filter(|f| f.abs() > DOUBTED_FACE_DEG)
        {
            odd.push(format!(
                "{}: a face angle of {face:+.1} deg (right positive) is more than {DOUBTED_FACE_DEG} \
                 deg from square",
                self.name
            ));
        }
        let read = self.swing_weight_read.as_deref().map(SwingWeight::parse);
        if let Some(Ok(read)) = read {
            let computed = club.swing_weight(&club.setting);
            if (read.0 - computed.0).abs() > DOUBTED_SWING_WEIGHT {
                odd.push(format!(
                    "{}: the swing weight as read ({read}) is {:.1} points from the computed one \
                     ({computed}): look at length, masses and balance points (from the butt)",
                    self.name,
                    (read.0 - computed.0).abs()
                ));
            }
        }
        odd
    }

    /// The club: the head at the setting, with the measured loft and lie less the gauge's offset.
    ///
    /// Readings that were taken at the build's setting are taken back to the head's reference, by
    /// the geometry of a gauge: the club held in its shaft, the face squared.
    ///
    /// # Errors
    /// Levers that the head does not have or cannot set, with line and column.
    pub fn club(&self, head: &Head, source: &Source<'_>) -> Result<Club, DescribeError> {
        let at = at!["setting"];
        let setting = self.setting.onto(head, &head.reference, &at);
        let setting = setting.map_err(|wrong| source.error(wrong))?;
        let mut club = Club {
            head: head.clone(),
            setting,
            length: self.length(),
            parts: self.part.iter().map(PartFile::part).collect(),
        };
        let (loft, lie) = (
            self.loft().unwrap_or(head.loft),
            self.lie().unwrap_or(head.lie),
        );
        (club.head.loft, club.head.lie) = (loft, lie);
        if self.measured.taken_at == TakenAt::Setting {
            // A fixed point: the change that the setting makes depends little on where it starts.
            for _ in 0..20 {
                let turned = club.head.attitude(&club.setting, Attitude::FaceSquared);
                let change = angle_change(&turned, club.head.loft);
                club.head.loft = self.loft().map_or(head.loft, |l| l - change.loft);
                club.head.lie = self.lie().map_or(head.lie, |l| l - change.lie);
            }
        }
        match club.check() {
            Ok(()) => Ok(club),
            Err(e) => Err(source.error(vec![Problem::new(at, "", e)])),
        }
    }

    /// Loft, lie and face angle as the levers stand: read there, or else those of the head at its
    /// reference and what sleeve and bend change. Loft and lie are those of a gauge, the face
    /// squared; the face angle is that of the head's attitude decided by `who`, with the grip kept
    /// where nobody said: no habit is part of a club's own angles.
    pub fn angles(&self, club: &Club, hand: Hand, who: Attitude) -> Angles {
        let who = match who {
            Attitude::Unknown => Attitude::GripKept,
            who => who,
        };
        let turned = |who| angle_change(&club.head.attitude(&club.setting, who), club.head.loft);
        let change = AngleChange {
            face: turned(who).face,
            ..turned(Attitude::FaceSquared)
        };
        let m = &self.measured;
        let at_reference = [change.loft, change.lie, change.face]
            .iter()
            .all(|c| c.abs() < 1e-9);
        let read = |key: &str| {
            let carried = m.carried_over.iter().any(|k| k == key);
            !carried && (at_reference || m.taken_at == TakenAt::Setting)
        };
        let angle = |key: &str, reading: Option<f64>, true_reading: Option<f64>, computed: f64| {
            let shown = reading.filter(|_| read(key)).map(|r| r * DEG);
            Angle {
                value: true_reading.filter(|_| shown.is_some()).unwrap_or(computed),
                reading: shown,
            }
        };
        let turned = match m.taken_at {
            TakenAt::Reference => change.face * hand.sign(),
            TakenAt::Setting => 0.0,
        };
        let face = m.face_angle_deg.map(|f| f * DEG);
        Angles {
            loft: angle(
                "loft_deg",
                m.loft_deg,
                self.loft(),
                club.head.loft + change.loft,
            ),
            lie: angle("lie_deg", m.lie_deg, self.lie(), club.head.lie + change.lie),
            face: face.map(|f| angle("face_angle_deg", m.face_angle_deg, face, f + turned)),
        }
    }
}

impl PartFile {
    fn part(&self) -> Part {
        let inches = self.balance_in.map(|b| b * INCH);
        Part {
            mass: self.mass_g * GRAM,
            balance: inches
                .or(self.balance_mm.map(|b| b * MM))
                .unwrap_or(f64::NAN),
        }
    }
}
