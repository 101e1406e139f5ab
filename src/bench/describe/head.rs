//! The head file.

use super::head_check;
use super::setting::{SettingFile, clock_among};
use super::source::{DescribeError, Problem, Source, at};
use crate::hand::Hand;
use crate::head::{
    BendLimits, ClubKind, Face, Head, MassProperties, Port, Setting, Track, Zone, inertia_tensor,
};
use crate::hosel::Sleeve;
use crate::units::{DEG, G_CM2, GRAM, MM};
use nalgebra::Vector3;
use serde::{Deserialize, Serialize};

/// A head as its file gives it. The bounds table says what each number may be.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
#[allow(missing_docs)] // unit in the name, meaning in the bounds table
pub struct HeadFile {
    /// Unique in the bench.
    pub name: String,
    pub kind: ClubKind,
    /// Which side it is for; either if it is not said.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub hand: Option<Hand>,
    pub loft_deg: f64,
    pub lie_deg: f64,
    pub bounce_deg: Option<f64>,
    pub volume_cm3: Option<f64>,
    pub restitution: Option<f64>,
    pub note: Option<String>,
    pub face: FaceFile,
    pub measured: MeasuredHeadFile,
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub track: Vec<TrackFile>,
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub screw: Vec<ScrewFile>,
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub zone: Vec<ZoneFile>,
    pub sleeve: Option<SleeveFile>,
    pub bend: Option<BendFile>,
}

/// `[face]`.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
#[allow(missing_docs)]
pub struct FaceFile {
    pub width_mm: f64,
    pub height_mm: f64,
    pub bulge_radius_mm: Option<f64>,
    pub roll_radius_mm: Option<f64>,
}

/// `[measured]`: the whole head at `setting`.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
#[allow(missing_docs)]
pub struct MeasuredHeadFile {
    pub mass_g: f64,
    /// Toe-ward, out of the face, up, from the face centre.
    pub cg_mm: [f64; 3],
    /// About x (toe axis), y, z through the CG.
    pub inertia_g_cm2: [f64; 3],
    /// `I_xy`, `I_xz`, `I_yz` as tensor entries.
    #[serde(default)]
    pub products_g_cm2: [f64; 3],
    #[serde(default)]
    pub setting: SettingFile,
}

/// `[[track]]`.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
#[allow(missing_docs)]
pub struct TrackFile {
    pub name: String,
    pub path_mm: Vec<[f64; 3]>,
    pub masses_g: Vec<f64>,
    #[serde(default)]
    pub size_mm: [f64; 3],
    #[serde(default)]
    pub stops: usize,
}

/// `[[screw]]`.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
#[allow(missing_docs)]
pub struct ScrewFile {
    pub name: String,
    pub at_mm: [f64; 3],
    pub masses_g: Vec<f64>,
    #[serde(default)]
    pub size_mm: [f64; 3],
}

/// `[[zone]]`.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
#[allow(missing_docs)]
pub struct ZoneFile {
    pub name: String,
    pub at_mm: [f64; 3],
    pub max_g: f64,
    #[serde(default)]
    pub size_mm: [f64; 3],
}

/// `[sleeve]`.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
#[allow(missing_docs)]
pub struct SleeveFile {
    pub tilt_deg: f64,
    pub positions_deg: Vec<f64>,
    pub reference_deg: f64,
}

/// `[bend]`.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
#[allow(missing_docs)]
pub struct BendFile {
    pub loft_limit_deg: f64,
    pub lie_limit_deg: f64,
}

/// Reads a head file and makes the head of it.
///
/// # Errors
/// Everything that is wrong with it, with line and column.
pub fn read_head(source: &Source<'_>) -> Result<(HeadFile, Head), DescribeError> {
    let file = source.parse()?;
    let wrong = head_check::problems(&file);
    source.check(wrong.into_iter().chain(head_check::impossible(&file)))?;
    kept_head(source)
}

/// Reads a head file that is in the bench already: what is refused only since then stays readable.
pub(crate) fn kept_head(source: &Source<'_>) -> Result<(HeadFile, Head), DescribeError> {
    let file: HeadFile = source.parse()?;
    source.check(head_check::problems(&file))?;
    let mut head = bodies(&file);
    let neutral = Setting::neutral(&head);
    let at = at!["measured", "setting"];
    let setting = file.measured.setting.onto(&head, &neutral, &at);
    head.reference = setting.map_err(|wrong| source.error(wrong))?;
    let head = head
        .from_measured()
        .map_err(|e| source.error(vec![Problem::new(at!["measured"], "", e)]))?;
    Ok((file, head))
}

/// The head with what was measured in place of its bare mass properties.
fn bodies(file: &HeadFile) -> Head {
    let m = &file.measured;
    Head {
        name: file.name.clone(),
        kind: file.kind,
        loft: file.loft_deg * DEG,
        lie: file.lie_deg * DEG,
        face: Face {
            bulge_radius: file.face.bulge_radius_mm.map_or(f64::INFINITY, |r| r * MM),
            roll_radius: file.face.roll_radius_mm.map_or(f64::INFINITY, |r| r * MM),
            half_width: file.face.width_mm * MM / 2.0,
            half_height: file.face.height_mm * MM / 2.0,
        },
        restitution: file.restitution,
        bounce: file.bounce_deg.map(|b| b * DEG),
        volume: file.volume_cm3.map(|v| v * 1e-6),
        bare: MassProperties {
            mass: m.mass_g * GRAM,
            cg: vector(m.cg_mm),
            inertia: inertia_tensor(m.inertia_g_cm2, m.products_g_cm2) * G_CM2,
        },
        tracks: file.track.iter().map(track).collect(),
        ports: file.screw.iter().map(port).collect(),
        zones: file.zone.iter().map(zone).collect(),
        sleeve: file.sleeve.as_ref().map(sleeve),
        bend: file.bend.as_ref().map(|b| BendLimits {
            loft: b.loft_limit_deg * DEG,
            lie: b.lie_limit_deg * DEG,
        }),
        reference: Setting::default(),
    }
}

fn track(t: &TrackFile) -> Track {
    Track {
        name: t.name.clone(),
        path: t.path_mm.iter().map(|p| vector(*p)).collect(),
        masses: t.masses_g.iter().map(|m| m * GRAM).collect(),
        size: vector(t.size_mm),
        stops: t.stops,
    }
}

fn port(s: &ScrewFile) -> Port {
    Port {
        name: s.name.clone(),
        at: vector(s.at_mm),
        masses: s.masses_g.iter().map(|m| m * GRAM).collect(),
        size: vector(s.size_mm),
    }
}

fn zone(z: &ZoneFile) -> Zone {
    Zone {
        name: z.name.clone(),
        at: vector(z.at_mm),
        max: z.max_g * GRAM,
        size: vector(z.size_mm),
    }
}

fn sleeve(s: &SleeveFile) -> Sleeve {
    let positions: Vec<f64> = s.positions_deg.iter().map(|p| p * DEG).collect();
    // Checked before: the reference is one of the positions.
    let reference = clock_among(&positions, s.reference_deg).unwrap_or(0);
    Sleeve {
        tilt: s.tilt_deg * DEG,
        positions,
        reference,
    }
}

fn vector(mm: [f64; 3]) -> Vector3<f64> {
    Vector3::from(mm) * MM
}
