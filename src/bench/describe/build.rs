//! The build file: an as-built record that never changes.

use super::setting::SettingFile;
use super::source::{DescribeError, Problem, Source, at, name_problem};
use crate::units::{DEG, INCH, MM};
use crate::workshop::SwingWeight;
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

impl BuildFile {
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
