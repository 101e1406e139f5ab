//! The table of the demo's season: who came when, with which club, what was changed. Invented.
//!
//! A visit is a session before and a session after. Settings vary over players, heads and visits,
//! so that what all share can be told from what one player or one head adds. A changed club is a
//! new build: `ines-driver-2` takes the place of `ines-driver`. Plain data and small functions.

use crate::generator::{Day, Device, Dirt, Weather};
use Device::*;
use Dirt::*;
use trimtab::bench::describe::{BuildFile, SettingFile};

/// A weight on a track: name, position in %, mass in g.
type Slider = (&'static str, f64, f64);
/// Names with grams.
type Grams = &'static [(&'static str, f64)];

/// Where the levers stand; what is not named is at the head's reference.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Levers {
    /// Weight on the track.
    pub track: Option<Slider>,
    /// Screws.
    pub screws: Grams,
    /// Hot melt.
    pub melt: Grams,
    /// Clock angle, deg.
    pub sleeve: Option<f64>,
    /// Bend of loft, deg.
    pub bend_loft: Option<f64>,
    /// Bend of lie, deg.
    pub bend_lie: Option<f64>,
}

/// Everything at the head's reference.
const REFERENCE: Levers = Levers {
    track: None,
    screws: &[],
    melt: &[],
    sleeve: None,
    bend_loft: None,
    bend_lie: None,
};

/// A weight between heel (0) and toe (100).
const fn heel_toe(percent: f64, grams: f64) -> Levers {
    Levers {
        track: Some(("heel-toe", percent, grams)),
        ..REFERENCE
    }
}

/// A weight between front (0) and back (100).
const fn front_back(percent: f64, grams: f64) -> Levers {
    Levers {
        track: Some(("front-back", percent, grams)),
        ..REFERENCE
    }
}

/// Screws.
const fn screws(screws: Grams) -> Levers {
    Levers {
        screws,
        ..REFERENCE
    }
}

impl Levers {
    const fn sleeve(self, deg: f64) -> Levers {
        Levers {
            sleeve: Some(deg),
            ..self
        }
    }
    const fn melt(self, melt: Grams) -> Levers {
        Levers { melt, ..self }
    }
    const fn with_screws(self, screws: Grams) -> Levers {
        Levers { screws, ..self }
    }
    const fn loft(self, deg: f64) -> Levers {
        Levers {
            bend_loft: Some(deg),
            ..self
        }
    }
    const fn lie(self, deg: f64) -> Levers {
        Levers {
            bend_lie: Some(deg),
            ..self
        }
    }

    /// As it stands in a build's `[setting]`.
    pub fn toml(&self) -> String {
        let grams = |key: &str, of: Grams| {
            let pairs: Vec<String> = of.iter().map(|(n, g)| format!("{n} = {g}")).collect();
            format!("{key} = {{ {} }}", pairs.join(", "))
        };
        let mut lines = Vec::new();
        if let Some((name, percent, mass)) = self.track {
            lines.push(format!(
                "track = {{ {name} = {{ position_percent = {percent}, mass_g = {mass} }} }}"
            ));
        }
        if !self.screws.is_empty() {
            lines.push(grams("screw_g", self.screws));
        }
        if !self.melt.is_empty() {
            lines.push(grams("hot_melt_g", self.melt));
        }
        for (key, value) in [
            ("sleeve_deg", self.sleeve),
            ("bend_loft_deg", self.bend_loft),
            ("bend_lie_deg", self.bend_lie),
        ] {
            lines.extend(value.map(|v| format!("{key} = {v}")));
        }
        lines.join("\n")
    }
}

/// One session of the season.
#[derive(Debug, Clone, PartialEq)]
pub struct Session {
    /// Day, `2026-03-02`.
    pub date: &'static str,
    /// Player.
    pub player: &'static str,
    /// Head.
    pub head: &'static str,
    /// The starting club, a file in `demo/builds`.
    pub base: &'static str,
    /// 1 for the starting club itself, 2 for the first changed one, and so on.
    pub version: u32,
    /// Setting of this build.
    pub levers: Levers,
    /// Number of shots.
    pub shots: usize,
    /// Device.
    pub device: Device,
    /// What spoils the export.
    pub dirt: Dirt,
    /// Weather.
    pub weather: Weather,
}

/// What the whole season's seeds hang on.
pub const SEASON_SEED: u64 = 2026;

/// A seed from a name.
fn seed(name: &str) -> u64 {
    let start = 0xcbf2_9ce4_8422_2325_u64 ^ SEASON_SEED;
    name.bytes().fold(start, |seed, byte| {
        (seed ^ u64::from(byte)).wrapping_mul(0x0000_0100_0000_01b3)
    })
}

impl Session {
    /// Name of the build: `ines-driver`, `ines-driver-2`.
    pub fn build(&self) -> String {
        match self.version {
            1 => self.base.to_string(),
            n => format!("{}-{n}", self.base),
        }
    }

    /// Unique name of the session: day and build.
    pub fn id(&self) -> String {
        format!("{}-{}", self.date, self.build())
    }

    /// What the generator needs. The seeds hang on the names of session and visit (FNV-1a), so that
    /// a session that is put in or taken out leaves the others as they are.
    pub fn day(&self) -> Day {
        Day {
            seed: seed(&self.id()),
            visit_seed: seed(&format!("{} {} {}", self.date, self.player, self.head)),
            shots: self.shots,
            device: self.device,
            weather: self.weather,
        }
    }

    /// The build file of this session, from that of the starting club.
    pub fn build_file(&self, base: &BuildFile) -> BuildFile {
        let mut file = base.clone();
        if self.version == 1 {
            return file;
        }
        file.name = self.build();
        file.replaces = Some(match self.version {
            2 => self.base.to_string(),
            n => format!("{}-{}", self.base, n - 1),
        });
        file.built_on = self.date.to_string();
        file.swing_weight_read = None;
        file.note = Some("Changed on the day. Invented.".into());
        file.setting = self.setting_file();
        file
    }

    /// The setting in the form of a file.
    pub fn setting_file(&self) -> SettingFile {
        toml::from_str(&self.levers.toml()).expect("a setting in the form of a file")
    }
}

/// A visit: day, player, head, starting club, device, weather (degrees Celsius, hPa, humidity in %,
/// wind toward the right and toward the target in m/s), and the sessions: version of the build,
/// setting, shots, dirt.
type Visit = (
    &'static str,
    &'static str,
    &'static str,
    &'static str,
    Device,
    [f64; 5],
    [(u32, Levers, usize, Dirt); 2],
);

const INES: &str = "Ines Varlund";
const TOMAS: &str = "Tomas Quellby";
const MAREN: &str = "Maren Osterfjell";
const JORIK: &str = "Jorik Dunnaway";
const PETRA: &str = "Petra Lindwarp";
const ANSELM: &str = "Anselm Tarrowick";
const NOOR: &str = "Noor Feldhaven";
const SILAS: &str = "Silas Brackenhoe";
const TA: &str = "Ternwick A";
const TB: &str = "Ternwick B";
const PLOVER: &str = "Plovermere";
const SALLOW: &str = "Sallowreed";
const HERON: &str = "Heronbeck";

/// The visits, by day.
#[rustfmt::skip]
const VISITS: &[Visit] = &[
    ("2026-03-02", INES, TA, "ines-driver", Owlpost, [9.0, 1018.0, 70.0, 0.5, -1.0], [
        (1, heel_toe(65.0, 14.0), 20, Clean), (2, heel_toe(20.0, 14.0), 20, Clean)]),
    ("2026-03-03", TOMAS, PLOVER, "tomas-driver", Owlpost, [11.0, 1014.0, 65.0, -1.0, -2.5], [
        (1, REFERENCE, 22, Clean), (2, screws(&[("front", 10.0)]), 20, MissingSpin)]),
    ("2026-03-04", MAREN, SALLOW, "maren-driver", Glowtent, [20.0, 1010.0, 50.0, 0.0, 0.0], [
        (1, REFERENCE, 18, Clean), (2, heel_toe(65.0, 12.0), 18, Clean)]),
    ("2026-03-09", JORIK, TB, "jorik-driver", Metrelark, [12.0, 1007.0, 80.0, 1.5, 0.5], [
        (1, heel_toe(35.0, 14.0), 20, Clean), (2, heel_toe(80.0, 14.0), 20, Clean)]),
    ("2026-03-10", PETRA, HERON, "petra-driver", Owlpost, [10.0, 1012.0, 75.0, 0.0, 1.0], [
        (1, REFERENCE, 18, MissingSpin), (2, front_back(100.0, 12.0), 18, Clean)]),
    ("2026-03-16", ANSELM, PLOVER, "anselm-driver", Owlpost, [13.0, 1016.0, 60.0, -0.5, -0.5], [
        (1, REFERENCE, 20, Clean), (2, heel_toe(20.0, 10.0), 20, Clean)]),
    ("2026-03-17", NOOR, TB, "noor-driver", Glowtent, [20.0, 1009.0, 50.0, 0.0, 0.0], [
        (1, REFERENCE, 24, Clean), (2, heel_toe(65.0, 14.0).sleeve(135.0), 24, OddHeader)]),
    ("2026-03-18", SILAS, SALLOW, "silas-driver", Owlpost, [12.0, 1020.0, 55.0, 1.0, -1.0], [
        (1, REFERENCE, 14, Clean), (2, heel_toe(20.0, 12.0), 14, Clean)]),
    ("2026-04-07", NOOR, "Osierling", "noor-fairway", Owlpost, [14.0, 1013.0, 60.0, 0.0, 0.5], [
        (1, REFERENCE, 18, Clean), (2, screws(&[("sole", 14.0)]), 18, Clean)]),
    ("2026-04-14", JORIK, "Dippermoss", "jorik-hybrid", Metrelark, [15.0, 1011.0, 65.0, 0.5, 0.0], [
        (1, REFERENCE, 16, DecimalComma), (2, screws(&[("heel", 2.0), ("toe", 10.0)]).loft(-0.5), 16, Clean)]),
    ("2026-04-21", INES, TA, "ines-driver", Glowtent, [20.0, 1015.0, 50.0, 0.0, 0.0], [
        (2, heel_toe(20.0, 14.0), 18, Clean), (3, heel_toe(20.0, 14.0).sleeve(135.0), 18, MissingSpin)]),
    ("2026-04-27", MAREN, SALLOW, "maren-driver", Owlpost, [16.0, 1012.0, 60.0, 0.5, 1.0], [
        (2, heel_toe(65.0, 12.0), 16, Clean), (3, heel_toe(80.0, 18.0), 16, Clean)]),
    ("2026-04-29", SILAS, SALLOW, "silas-driver", Fieldnote, [17.0, 1013.0, 55.0, -0.5, 0.0], [
        (2, heel_toe(20.0, 12.0), 12, Clean), (3, heel_toe(0.0, 12.0), 12, MissingSpin)]),
    ("2026-05-05", INES, SALLOW, "ines-spare-driver", Metrelark, [16.0, 1009.0, 70.0, 1.0, 0.5], [
        (1, REFERENCE, 18, Clean), (2, REFERENCE.melt(&[("heel", 6.0)]), 18, Clean)]),
    ("2026-05-06", NOOR, "Sedgewhin", "noor-iron", Owlpost, [17.0, 1016.0, 55.0, 0.0, -0.5], [
        (1, REFERENCE, 18, Clean), (2, REFERENCE.lie(1.0), 18, Clean)]),
    ("2026-05-13", TOMAS, TB, "tomas-spare-driver", Owlpost, [18.0, 1017.0, 50.0, -1.0, -1.5], [
        (1, REFERENCE, 20, WrongUnit), (2, heel_toe(50.0, 14.0).sleeve(225.0), 20, Clean)]),
    ("2026-05-19", PETRA, SALLOW, "petra-spare-driver", Glowtent, [20.0, 1011.0, 50.0, 0.0, 0.0], [
        (1, REFERENCE, 18, Clean), (2, REFERENCE.melt(&[("back", 6.0)]), 18, Clean)]),
    ("2026-05-25", ANSELM, PLOVER, "anselm-driver", Metrelark, [19.0, 1014.0, 60.0, 0.5, 0.5], [
        (2, heel_toe(20.0, 10.0), 20, Clean), (3, heel_toe(20.0, 16.0), 20, DecimalComma)]),
    ("2026-06-02", MAREN, TA, "maren-spare-driver", Owlpost, [20.0, 1013.0, 55.0, -0.5, 0.0], [
        (1, REFERENCE, 18, Clean), (2, REFERENCE.melt(&[("toe", 5.0)]), 18, Clean)]),
    ("2026-06-08", NOOR, "Quillfen", "noor-wedge", Owlpost, [21.0, 1015.0, 50.0, 0.0, 0.0], [
        (1, REFERENCE, 16, Clean), (2, screws(&[("back", 10.0)]).lie(-1.0), 16, MissingSpin)]),
    ("2026-06-17", JORIK, PLOVER, "jorik-spare-driver", Owlpost, [22.0, 1012.0, 60.0, 1.0, -0.5], [
        (1, REFERENCE, 20, Clean), (2, heel_toe(100.0, 16.0), 20, Clean)]),
    ("2026-06-23", ANSELM, TA, "anselm-spare-driver", Glowtent, [20.0, 1016.0, 50.0, 0.0, 0.0], [
        (1, REFERENCE, 20, Clean), (2, heel_toe(35.0, 14.0).melt(&[("heel", 4.0)]), 20, Clean)]),
    ("2026-06-29", TOMAS, PLOVER, "tomas-driver", Owlpost, [24.0, 1010.0, 55.0, 0.0, -2.0], [
        (2, screws(&[("front", 10.0)]), 20, Clean),
        (3, screws(&[("front", 10.0)]).sleeve(315.0), 20, Clean)]),
    ("2026-07-07", PETRA, HERON, "petra-driver", Owlpost, [23.0, 1014.0, 60.0, 0.5, 0.5], [
        (2, front_back(100.0, 12.0), 18, TwinColumn), (3, front_back(100.0, 12.0).sleeve(45.0), 18, Clean)]),
    ("2026-07-08", SILAS, HERON, "silas-spare-driver", Owlpost, [24.0, 1015.0, 55.0, -1.0, 1.0], [
        (1, REFERENCE, 14, Clean), (2, front_back(25.0, 12.0).melt(&[("heel", 8.0)]), 14, Clean)]),
    ("2026-07-14", NOOR, TB, "noor-driver", Owlpost, [26.0, 1013.0, 50.0, 0.0, 0.0], [
        (2, heel_toe(65.0, 14.0).sleeve(135.0), 30, Clean),
        (3, heel_toe(65.0, 20.0).sleeve(135.0), 30, Clean)]),
    ("2026-07-20", JORIK, TB, "jorik-driver", Glowtent, [20.0, 1012.0, 50.0, 0.0, 0.0], [
        (2, heel_toe(80.0, 14.0), 20, Clean), (3, heel_toe(80.0, 14.0).sleeve(225.0), 20, Clean)]),
    ("2026-08-05", MAREN, SALLOW, "maren-driver", Metrelark, [25.0, 1011.0, 60.0, 0.5, -0.5], [
        (3, heel_toe(80.0, 18.0), 18, Clean), (4, heel_toe(65.0, 12.0).sleeve(225.0), 18, MissingSpin)]),
    ("2026-08-17", INES, TA, "ines-driver", Owlpost, [24.0, 1017.0, 55.0, 1.0, 0.0], [
        (3, heel_toe(20.0, 14.0).sleeve(135.0), 20, Clean),
        (4, heel_toe(0.0, 20.0).sleeve(135.0), 20, Clean)]),
    ("2026-08-25", ANSELM, PLOVER, "anselm-driver", Owlpost, [22.0, 1013.0, 60.0, -1.0, -0.5], [
        (3, heel_toe(20.0, 16.0), 20, Clean), (4, heel_toe(0.0, 16.0).sleeve(90.0), 20, Clean)]),
    ("2026-08-31", SILAS, SALLOW, "silas-driver", Owlpost, [21.0, 1014.0, 60.0, 0.5, 0.5], [
        (3, heel_toe(0.0, 12.0), 14, Clean), (4, heel_toe(0.0, 18.0), 14, Clean)]),
    ("2026-09-01", NOOR, "Osierling", "noor-fairway", Glowtent, [20.0, 1010.0, 50.0, 0.0, 0.0], [
        (2, screws(&[("sole", 14.0)]), 18, Clean),
        (3, screws(&[("sole", 14.0)]).sleeve(135.0), 18, Clean)]),
    ("2026-09-08", TOMAS, PLOVER, "tomas-driver", Glowtent, [20.0, 1012.0, 50.0, 0.0, 0.0], [
        (3, screws(&[("front", 10.0)]).sleeve(315.0), 20, Clean),
        (4, heel_toe(80.0, 10.0).with_screws(&[("front", 10.0)]).sleeve(315.0), 20, MissingSpin)]),
    ("2026-09-14", PETRA, HERON, "petra-driver", Owlpost, [18.0, 1016.0, 65.0, 0.0, -1.0], [
        (3, front_back(100.0, 12.0).sleeve(45.0), 18, Clean),
        (4, front_back(75.0, 18.0).sleeve(45.0), 18, Clean)]),
    ("2026-09-22", SILAS, SALLOW, "silas-driver", Glowtent, [20.0, 1015.0, 50.0, 0.0, 0.0], [
        (4, heel_toe(0.0, 18.0), 14, Clean), (5, heel_toe(20.0, 12.0).sleeve(135.0), 14, Clean)]),
    ("2026-09-30", JORIK, PLOVER, "jorik-spare-driver", Owlpost, [16.0, 1011.0, 70.0, -0.5, 0.0], [
        (2, heel_toe(100.0, 16.0), 20, Clean), (3, heel_toe(80.0, 16.0).sleeve(315.0), 20, Clean)]),
];

/// All sessions of the season, by day.
pub fn sessions() -> Vec<Session> {
    let visit = |v: &Visit| {
        let &(date, player, head, base, device, w, ref sessions) = v;
        let weather = Weather {
            celsius: w[0],
            hpa: w[1],
            humidity: w[2],
            toward_right: w[3],
            toward_target: w[4],
        };
        sessions.map(|(version, levers, shots, dirt)| Session {
            date,
            player,
            head,
            base,
            version,
            levers,
            shots,
            device,
            dirt,
            weather,
        })
    };
    VISITS.iter().flat_map(visit).collect()
}
