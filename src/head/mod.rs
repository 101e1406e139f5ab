//! The club head: a bare head and the bodies that a technician can add to it or move on it.
//!
//! A [`Head`] knows its face, its angles as measured, its bare mass properties and its levers:
//! sliding weights on [`Track`]s, screws in [`Port`]s, hot melt in [`Zone`]s, a clocked
//! [`Sleeve`] and the [`BendLimits`] of the hosel. A [`Setting`] says where each lever stands.
//! Mass properties for any setting follow by plain addition of bodies.

mod mass;
mod setting;

pub use mass::MassProperties;
pub use setting::{Setting, SettingError, TrackSetting};

use crate::constants::ImpactConstants;
use crate::hosel::{self, Attitude, Sleeve};
use nalgebra::{Matrix3, Rotation3, Vector3};
use serde::{Deserialize, Serialize};

/// The kind of a club, which chooses priors and default constants.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum ClubKind {
    /// Driver.
    Driver,
    /// Fairway wood.
    Fairway,
    /// Hybrid.
    Hybrid,
    /// Iron.
    Iron,
    /// Wedge.
    Wedge,
}

impl ClubKind {
    /// All kinds, longest club first.
    pub const ALL: [ClubKind; 5] = [
        ClubKind::Driver,
        ClubKind::Fairway,
        ClubKind::Hybrid,
        ClubKind::Iron,
        ClubKind::Wedge,
    ];
}

impl std::fmt::Display for ClubKind {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(match self {
            ClubKind::Driver => "driver",
            ClubKind::Fairway => "fairway",
            ClubKind::Hybrid => "hybrid",
            ClubKind::Iron => "iron",
            ClubKind::Wedge => "wedge",
        })
    }
}

/// The shape of the face: where a strike lands and which way the face looks there.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Face {
    /// Horizontal radius of curvature, m; infinite for a flat face.
    pub bulge_radius: f64,
    /// Vertical radius of curvature, m; infinite for a flat face.
    pub roll_radius: f64,
    /// Half of the heel-toe width, m.
    pub half_width: f64,
    /// Half of the height, m, measured along the face.
    pub half_height: f64,
}

impl Face {
    /// The point on the face and its outward unit normal, both in the head frame, for a strike at
    /// `toe`, `up` (m, toe-ward and crown-ward along the face) on a head of static loft `loft`.
    ///
    /// Circular arcs of the bulge and roll radii, sagittas added. Strikes beyond the edge are
    /// taken at the edge of the arc's validity (0.9 of a radius).
    pub fn at(&self, toe: f64, up: f64, loft: f64) -> (Vector3<f64>, Vector3<f64>) {
        let (drop_x, slope_x) = arc(toe, self.bulge_radius);
        let (drop_z, slope_z) = arc(up, self.roll_radius);
        // Face frame: x toe-ward, y along the centre normal, z up the face; tipped back by loft.
        let tip = Rotation3::from_axis_angle(&Vector3::x_axis(), loft);
        let point = tip * Vector3::new(toe, -drop_x - drop_z, up);
        let normal = tip * Vector3::new(slope_x, 1.0, slope_z).normalize();
        (point, normal)
    }
}

/// Sagitta and slope of a circular arc at `s` from its centre; zero for an infinite radius.
fn arc(s: f64, radius: f64) -> (f64, f64) {
    if !radius.is_finite() {
        return (0.0, 0.0);
    }
    let s = s.clamp(-0.9 * radius, 0.9 * radius);
    let root = (radius * radius - s * s).sqrt();
    (s * s / (radius + root), s / root)
}

/// A weight that slides along a track.
#[derive(Debug, Clone, PartialEq)]
pub struct Track {
    /// Name on the head file, e.g. "heel-toe".
    pub name: String,
    /// The path of the weight's centre, m, at least two points; position 0 is the first, 1 the last.
    pub path: Vec<Vector3<f64>>,
    /// Masses at hand, kg, ascending; at least one.
    pub masses: Vec<f64>,
    /// Full edge lengths of the weight, m; its own inertia is that of a box.
    pub size: Vector3<f64>,
    /// Number of stops; 0 means that it slides freely.
    pub stops: usize,
}

impl Track {
    /// Point at a position from 0 to 1 along the path, by arc length, m.
    pub fn point(&self, position: f64) -> Vector3<f64> {
        let total = self.length();
        let mut left = position.clamp(0.0, 1.0) * total;
        for leg in self.path.windows(2) {
            let length = (leg[1] - leg[0]).norm();
            if left <= length && length > 0.0 {
                return leg[0] + (leg[1] - leg[0]) * (left / length);
            }
            left -= length;
        }
        self.path[self.path.len() - 1]
    }

    /// Length of the path, m.
    pub fn length(&self) -> f64 {
        self.path.windows(2).map(|w| (w[1] - w[0]).norm()).sum()
    }
}

/// A threaded port for a screw weight.
#[derive(Debug, Clone, PartialEq)]
pub struct Port {
    /// Name on the head file, e.g. "sole".
    pub name: String,
    /// Centre of the screw, m.
    pub at: Vector3<f64>,
    /// Masses at hand, kg, ascending; 0 means that the port may stay empty.
    pub masses: Vec<f64>,
    /// Full edge lengths of the screw, m.
    pub size: Vector3<f64>,
}

/// An inner zone that takes hot melt.
#[derive(Debug, Clone, PartialEq)]
pub struct Zone {
    /// Name on the head file, e.g. "heel".
    pub name: String,
    /// Where the melt settles, m.
    pub at: Vector3<f64>,
    /// Most that the zone takes, kg.
    pub max: f64,
    /// Full edge lengths of the settled melt, m.
    pub size: Vector3<f64>,
}

/// How far the hosel may be bent from its measured angles, rad; the maker's limits.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct BendLimits {
    /// Loft, either way.
    pub loft: f64,
    /// Lie, either way.
    pub lie: f64,
}

/// A club head as the library computes with it.
#[derive(Debug, Clone, PartialEq)]
pub struct Head {
    /// Name in the bench.
    pub name: String,
    /// Kind of club.
    pub kind: ClubKind,
    /// Loft as measured at the reference setting, rad.
    pub loft: f64,
    /// Lie as measured at the reference setting, rad.
    pub lie: f64,
    /// Face.
    pub face: Face,
    /// Coefficient of restitution with a ball at the reference normal speed, if measured.
    pub restitution: Option<f64>,
    /// Bounce of the sole, rad, if known.
    pub bounce: Option<f64>,
    /// Volume, m³, if known.
    pub volume: Option<f64>,
    /// The head without any of its movable or addable bodies.
    pub bare: MassProperties,
    /// Sliding weights.
    pub tracks: Vec<Track>,
    /// Screw ports.
    pub ports: Vec<Port>,
    /// Hot-melt zones.
    pub zones: Vec<Zone>,
    /// Clocked sleeve.
    pub sleeve: Option<Sleeve>,
    /// Bend limits.
    pub bend: Option<BendLimits>,
    /// The setting at which the head was measured.
    pub reference: Setting,
}

impl Head {
    /// Completes a head whose `bare` field holds what was *measured* at `reference`: the bodies of
    /// that setting are taken out again, so that what remains is the bare head.
    ///
    /// # Errors
    /// If the reference setting is not one that the head has, or if no real body remains.
    pub fn from_measured(mut self) -> Result<Head, SettingError> {
        self.reference.check(&self)?;
        let added = self.added_bodies(&self.reference);
        let bare = self.bare.without(&added);
        bare.check().map_err(|why| SettingError {
            lever: "measured mass properties".into(),
            why: format!("with the reference weights taken out, {why}"),
        })?;
        self.bare = bare;
        Ok(self)
    }

    /// Mass, CG and inertia of the whole head at a setting (head frame, SI).
    pub fn mass_properties(&self, setting: &Setting) -> MassProperties {
        self.bare.with(&self.added_bodies(setting))
    }

    /// The bodies that a setting adds to the bare head, summed.
    fn added_bodies(&self, s: &Setting) -> MassProperties {
        let sliders = self
            .tracks
            .iter()
            .zip(&s.tracks)
            .map(|(t, v)| MassProperties::solid_box(v.mass, t.point(v.position), t.size));
        let screws = self
            .ports
            .iter()
            .zip(&s.ports)
            .map(|(p, &mass)| MassProperties::solid_box(mass, p.at, p.size));
        let melt = self
            .zones
            .iter()
            .zip(&s.zones)
            .map(|(z, &mass)| MassProperties::solid_box(mass, z.at, z.size));
        sliders.chain(screws).chain(melt).sum()
    }

    /// Rotation of the head, relative to its attitude at the reference setting, that sleeve and
    /// bend make at a setting.
    ///
    /// This is what a gauge reads; see [`Head::delivered_attitude`] for what the ball meets.
    pub fn attitude(&self, setting: &Setting, who: Attitude) -> Rotation3<f64> {
        let all = ImpactConstants {
            sleeve_carry_over: 1.0,
            ..ImpactConstants::default()
        };
        self.delivered_attitude(setting, who, &all)
    }

    /// The same with only a share of the sleeve's turn, `sleeve_carry_over` of the constants (1 is
    /// all, 0 none): the player may regrip. The share is of the rotation vector. A bend counts in
    /// full.
    pub fn delivered_attitude(
        &self,
        setting: &Setting,
        who: Attitude,
        k: &ImpactConstants,
    ) -> Rotation3<f64> {
        let carry_over = k.sleeve_carry_over;
        let turned = match (&self.sleeve, who) {
            (Some(s), Attitude::Unknown) => {
                hosel::part_squared(s, setting.clock, self.lie, self.loft, k.sleeve_squared)
            }
            (Some(s), who) => hosel::sleeve(s, setting.clock, self.lie, self.loft, who),
            (None, _) => Rotation3::identity(),
        };
        let carried = if carry_over == 1.0 {
            turned // to the last bit
        } else {
            Rotation3::new(turned.scaled_axis() * carry_over)
        };
        carried * hosel::bend(setting.bend_loft, setting.bend_lie)
    }
}

/// The inertia tensor from moments and products in g cm² as a head file gives them.
pub fn inertia_tensor(moments: [f64; 3], products: [f64; 3]) -> Matrix3<f64> {
    let ([xx, yy, zz], [xy, xz, yz]) = (moments, products);
    Matrix3::new(xx, xy, xz, xy, yy, yz, xz, yz, zz)
}
