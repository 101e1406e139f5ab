//! What the tests against the reference fixtures share: reading a fixture, the worst difference of
//! a subject, and heads. The fixtures and the scripts that make them: tests/reference/README.md.
#![allow(dead_code)] // each test file uses its own part of this

use nalgebra::{Matrix3, Vector3};
use serde::Deserialize;
use serde::de::DeserializeOwned;
use trimtab::head::{
    BendLimits, ClubKind, Face, Head, MassProperties, Port, Setting, Track, TrackSetting, Zone,
};
use trimtab::hosel::Sleeve;
use trimtab::units::DEG;

/// Reads a fixture.
pub fn fixture<T: DeserializeOwned>(subject: &str) -> T {
    let path = format!(
        "{}/tests/data/reference/{subject}.json",
        env!("CARGO_MANIFEST_DIR")
    );
    let text = std::fs::read_to_string(&path).unwrap_or_else(|e| panic!("{path}: {e}"));
    serde_json::from_str(&text).unwrap_or_else(|e| panic!("{path}: {e}"))
}

/// The worst difference of one kind, held against one tolerance.
pub struct Worst {
    what: &'static str,
    allowed: f64,
    reason: &'static str,
    found: f64,
    at: String,
    seen: usize,
}

impl Worst {
    /// A tolerance with its reason.
    pub fn new(what: &'static str, allowed: f64, reason: &'static str) -> Worst {
        Worst {
            what,
            allowed,
            reason,
            found: 0.0,
            at: String::new(),
            seen: 0,
        }
    }

    /// One difference, in the unit of the tolerance.
    pub fn see(&mut self, difference: f64, at: impl std::fmt::Display) {
        self.seen += 1;
        // A difference that is not a number is the worst of all.
        if !(difference.abs() <= self.found) {
            self.found = difference.abs();
            self.at = at.to_string();
        }
        if difference.is_nan() {
            self.found = f64::INFINITY;
        }
    }

    /// A difference relative to the wanted value.
    pub fn relative(&mut self, got: f64, want: f64, at: impl std::fmt::Display) {
        self.see((got - want) / want.abs(), at);
    }

    /// The largest difference of several numbers, relative to the largest wanted one.
    pub fn vector(&mut self, got: &[f64], want: &[f64], at: impl std::fmt::Display) {
        assert_eq!(got.len(), want.len(), "{}: {at}", self.what);
        let size = want.iter().fold(0.0_f64, |m, v| m.max(v.abs()));
        for (g, w) in got.iter().zip(want) {
            self.see((g - w) / size, &at);
        }
    }

    /// Prints the worst difference and fails if it is beyond the tolerance, or if fewer than
    /// `least` were seen.
    pub fn check(&self, least: usize) {
        let Worst {
            what,
            allowed,
            reason,
            found,
            at,
            seen,
        } = self;
        println!("{what}: worst {found:.2e} of {seen}, allowed {allowed:.0e} ({reason}); at {at}");
        assert!(*seen >= least, "{what}: only {seen} compared");
        assert!(
            found <= allowed,
            "{what}: {found:.3e} off, allowed {allowed:.0e} ({reason}); at {at}"
        );
    }
}

/// A box of a head.
#[derive(Deserialize)]
struct BoxAt {
    at_m: [f64; 3],
    #[serde(default)]
    masses_kg: Vec<f64>,
    #[serde(default)]
    max_kg: f64,
    size_m: [f64; 3],
}

#[derive(Deserialize)]
struct TrackPart {
    path_m: Vec<[f64; 3]>,
    masses_kg: Vec<f64>,
    size_m: [f64; 3],
}

/// A sleeve as the fixtures give it.
#[derive(Deserialize)]
pub struct SleevePart {
    tilt_deg: f64,
    clocks_deg: Vec<f64>,
    reference: usize,
}

impl SleevePart {
    /// For the library.
    pub fn sleeve(&self) -> Sleeve {
        Sleeve {
            tilt: self.tilt_deg * DEG,
            positions: self.clocks_deg.iter().map(|c| c * DEG).collect(),
            reference: self.reference,
        }
    }
}

#[derive(Deserialize, Default)]
struct FacePart {
    bulge_m: Option<f64>,
    roll_m: Option<f64>,
}

/// A head as the fixtures give it.
#[derive(Deserialize)]
pub struct HeadPart {
    tracks: Vec<TrackPart>,
    ports: Vec<BoxAt>,
    zones: Vec<BoxAt>,
    loft_deg: f64,
    lie_deg: f64,
    sleeve: SleevePart,
    #[serde(default)]
    face: FacePart,
    kind: Option<ClubKind>,
    restitution: Option<f64>,
}

#[derive(Deserialize)]
struct TrackAt {
    position: f64,
    mass_kg: f64,
}

/// A setting as the fixtures give it.
#[derive(Deserialize)]
pub struct SettingPart {
    tracks: Vec<TrackAt>,
    ports: Vec<f64>,
    zones: Vec<f64>,
    clock: usize,
    bend_loft_deg: f64,
    bend_lie_deg: f64,
}

impl SettingPart {
    /// For the library.
    pub fn setting(&self) -> Setting {
        Setting {
            tracks: self
                .tracks
                .iter()
                .map(|t| TrackSetting {
                    position: t.position,
                    mass: t.mass_kg,
                })
                .collect(),
            ports: self.ports.clone(),
            zones: self.zones.clone(),
            clock: self.clock,
            bend_loft: self.bend_loft_deg * DEG,
            bend_lie: self.bend_lie_deg * DEG,
        }
    }
}

/// Mass properties as the fixtures give them.
#[derive(Deserialize)]
pub struct BodyPart {
    pub mass_kg: f64,
    pub cg_m: [f64; 3],
    /// xx, yy, zz, xy, xz, yz.
    pub inertia_kg_m2: [f64; 6],
}

impl BodyPart {
    /// For the library.
    pub fn body(&self) -> MassProperties {
        let [xx, yy, zz, xy, xz, yz] = self.inertia_kg_m2;
        MassProperties {
            mass: self.mass_kg,
            cg: self.cg_m.into(),
            inertia: Matrix3::new(xx, xy, xz, xy, yy, yz, xz, yz, zz),
        }
    }
}

impl HeadPart {
    /// The head that was measured so at a reference setting.
    pub fn measured(&self, body: &BodyPart, reference: &SettingPart) -> Head {
        let v = Vector3::from;
        let head = Head {
            name: "reference".into(),
            kind: self.kind.unwrap_or(ClubKind::Driver),
            loft: self.loft_deg * DEG,
            lie: self.lie_deg * DEG,
            face: Face {
                bulge_radius: self.face.bulge_m.unwrap_or(f64::INFINITY),
                roll_radius: self.face.roll_m.unwrap_or(f64::INFINITY),
                half_width: 0.06,
                half_height: 0.03,
            },
            restitution: self.restitution,
            bounce: None,
            volume: None,
            bare: body.body(),
            tracks: self
                .tracks
                .iter()
                .map(|t| Track {
                    name: "track".into(),
                    path: t.path_m.iter().map(|&p| v(p)).collect(),
                    masses: t.masses_kg.clone(),
                    size: v(t.size_m),
                    stops: 0,
                })
                .collect(),
            ports: self
                .ports
                .iter()
                .map(|p| Port {
                    name: "port".into(),
                    at: v(p.at_m),
                    masses: p.masses_kg.clone(),
                    size: v(p.size_m),
                })
                .collect(),
            zones: self
                .zones
                .iter()
                .map(|z| Zone {
                    name: "zone".into(),
                    at: v(z.at_m),
                    max: z.max_kg,
                    size: v(z.size_m),
                })
                .collect(),
            sleeve: Some(self.sleeve.sleeve()),
            bend: Some(BendLimits {
                loft: 5.0 * DEG,
                lie: 5.0 * DEG,
            }),
            reference: reference.setting(),
        };
        head.from_measured().expect("a real head")
    }
}
