//! The build file: an as-built record that never changes.

use super::setting::SettingFile;
use super::source::{DescribeError, Problem, Source, at, name_problem};
use crate::club::Club;
use crate::hand::Hand;
use crate::head::Head;
use crate::hosel::{AngleChange, Attitude, angle_change};
use crate::units::{DEG, GRAM, INCH, MM};
use crate::workshop::{Part, SwingWeight};
use jiff::civil::Date;
use serde::{Deserialize, Serialize};

/// A club as it was built.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct BuildFile {
    /// Unique in the bench; a changed club is a new build with a new name.
    pub name: String,
    /// Name of the player.
    pub player: String,
    /// Name of the head.
    pub head: String,
    /// Day of the build, `2026-03-02`.
    pub built_on: String,
    /// Length from the butt to the sole, in; this or `length_mm`.
    pub length_in: Option<f64>,
    /// The same in mm.
    pub length_mm: Option<f64>,
    /// Swing weight as the scale showed it, `D2.5`.
    pub swing_weight_read: Option<String>,
    /// The build that this one takes the place of.
    pub replaces: Option<String>,
    /// Anything else.
    pub note: Option<String>,
    /// What the gauge showed.
    #[serde(default)]
    pub measured: MeasuredFile,
    /// The state of the gauge that day.
    pub gauge: Option<GaugeFile>,
    /// Everything but the head.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub part: Vec<PartFile>,
    /// Where the levers stand; the head's reference where nothing is said.
    #[serde(default)]
    pub setting: SettingFile,
}

/// `[measured]`: gauge readings of this very club, before the gauge's offset is taken off.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct MeasuredFile {
    /// Loft, deg.
    pub loft_deg: Option<f64>,
    /// Lie, deg.
    pub lie_deg: Option<f64>,
    /// Face angle, deg, right positive.
    pub face_angle_deg: Option<f64>,
    /// Whether the levers stood at the head's reference or at this build's setting.
    pub taken_at: TakenAt,
    /// Keys of those that were not read on this build, but follow from the build before.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub carried_over: Vec<String>,
}

/// Where the levers stood when loft and lie were read.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum TakenAt {
    /// At the head's reference: sleeve at its reference, before any bend.
    #[default]
    Reference,
    /// At the build's setting: sleeve clocked and hosel bent as the player has it.
    Setting,
}

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

/// `[gauge]`.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct GaugeFile {
    /// Which gauge.
    pub name: String,
    /// Day of the last check, `2026-03-02`.
    pub checked_on: String,
    /// By how much it shows too much loft, deg.
    #[serde(default)]
    pub loft_offset_deg: f64,
    /// By how much it shows too much lie, deg.
    #[serde(default)]
    pub lie_offset_deg: f64,
    /// Standard deviation of repeated readings, deg.
    pub repeatability_deg: Option<f64>,
}

/// `[[part]]`: shaft, grip, tape and so on.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct PartFile {
    /// What it is.
    pub name: String,
    /// Mass, g.
    pub mass_g: f64,
    /// Balance point from the butt, in; this or `balance_mm`.
    pub balance_in: Option<f64>,
    /// The same in mm.
    pub balance_mm: Option<f64>,
}

/// Reads a build file.
///
/// # Errors
/// Everything that is wrong with it, with line and column.
pub fn read_build(source: &Source<'_>) -> Result<BuildFile, DescribeError> {
    let file: BuildFile = source.parse()?;
    source.check(problems(&file).into_iter().chain(impossible(&file)))?;
    Ok(file)
}

/// Reads a build file that is in the bench already: what is refused only since then stays readable.
pub(crate) fn kept_build(source: &Source<'_>) -> Result<BuildFile, DescribeError> {
    let file: BuildFile = source.parse()?;
    source.check(problems(&file))?;
    Ok(file)
}

fn problems(file: &BuildFile) -> Vec<Problem> {
    let mut wrong = Vec::new();
    for (key, name) in [
        ("name", &file.name),
        ("player", &file.player),
        ("head", &file.head),
    ] {
        wrong.extend(name_problem(at![key], name));
    }
    let day = |path, text: &str| {
        let allowed = "a day as in 2026-03-02";
        let bad = text.parse::<Date>().is_err() || text.len() != 10;
        bad.then(|| Problem::new(path, text, allowed))
    };
    wrong.extend(day(at!["built_on"], &file.built_on));
    if let Some(gauge) = &file.gauge {
        wrong.extend(day(at!["gauge", "checked_on"], &gauge.checked_on));
    }
    if file.length_in.is_some() == file.length_mm.is_some() {
        let allowed = "give length_in or length_mm, one of the two";
        wrong.push(Problem::new(at!["length_in"], "", allowed));
    }
    if let Some(text) = &file.swing_weight_read {
        if let Err(why) = SwingWeight::parse(text) {
            wrong.push(Problem::new(at!["swing_weight_read"], text, why));
        }
    }
    for (n, part) in file.part.iter().enumerate() {
        if part.balance_in.is_some() == part.balance_mm.is_some() {
            let allowed = "give balance_in or balance_mm, one of the two";
            wrong.push(Problem::new(at!["part", n], &part.name, allowed));
        }
    }
    wrong
}

/// What no club can be, although each number alone might: a part that balances beyond its end.
fn impossible(file: &BuildFile) -> Vec<Problem> {
    let beyond = |(n, part): (usize, &PartFile)| {
        let (key, balance, unit, size) = match (part.balance_in, part.balance_mm) {
            (Some(b), _) => ("balance_in", b, "in", INCH),
            (None, b) => ("balance_mm", b.unwrap_or(f64::NAN), "mm", MM),
        };
        let allowed = format!(
            "the {} balances beyond the end of the club: at most its length, {:.2} {unit}; the \
             balance point is measured from the butt",
            part.name,
            file.length() / size
        );
        let wrong = balance * size > file.length();
        wrong.then(|| Problem::new(at!["part", n, key], balance, allowed))
    };
    file.part.iter().enumerate().filter_map(beyond).collect()
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

    /// Length from the butt to the sole, m.
    pub fn length(&self) -> f64 {
        let inches = self.length_in.map(|l| l * INCH);
        inches
            .or(self.length_mm.map(|l| l * MM))
            .unwrap_or(f64::NAN)
    }

    /// Measured loft less the gauge's offset, rad.
    pub fn loft(&self) -> Option<f64> {
        let offset = self.gauge.as_ref().map_or(0.0, |g| g.loft_offset_deg);
        self.measured.loft_deg.map(|l| (l - offset) * DEG)
    }

    /// Measured lie less the gauge's offset, rad.
    pub fn lie(&self) -> Option<f64> {
        let offset = self.gauge.as_ref().map_or(0.0, |g| g.lie_offset_deg);
        self.measured.lie_deg.map(|l| (l - offset) * DEG)
    }

    /// The file as TOML, for a build that the program makes itself.
    pub fn to_toml(&self) -> String {
        toml::to_string(self).expect("names, numbers and tables always have a TOML form")
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
