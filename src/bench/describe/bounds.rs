//! The bounds table: one row for each number in a description.
//!
//! A row gives the key, the range, the unit and what it is. Keys are written from the top of the
//! file, without array indices; `*` stands for a name that the user chose. Ranges are wide: they
//! catch a slip of unit or of the decimal point, not an unusual club.

use super::source::{Path, Problem, Step};
use toml::de::{DeTable, DeValue};

/// A row of the table.
#[derive(Debug, Clone, Copy)]
pub struct Bound {
    /// Key, such as `track.masses_g`.
    pub key: &'static str,
    /// Smallest value that is accepted.
    pub low: f64,
    /// Largest value that is accepted.
    pub high: f64,
    /// Unit, empty for a pure number.
    pub unit: &'static str,
    /// What it is.
    pub doc: &'static str,
}

macro_rules! bounds {
    ($($key:literal $low:literal $high:literal $unit:literal $doc:literal;)*) => {
        /// Every number of every description.
        pub const BOUNDS: &[Bound] = &[$(Bound {
            key: $key, low: $low, high: $high, unit: $unit, doc: $doc,
        }),*];
    };
}

bounds! {
    // Head.
    "loft_deg" 0.0 75.0 "deg" "static loft";
    "lie_deg" 40.0 80.0 "deg" "lie";
    "bounce_deg" -10.0 30.0 "deg" "bounce of the sole";
    "volume_cm3" 10.0 700.0 "cm3" "volume";
    "restitution" 0.5 0.95 "" "coefficient of restitution with a ball";
    "face.width_mm" 20.0 160.0 "mm" "heel-toe width of the face";
    "face.height_mm" 10.0 110.0 "mm" "height of the face";
    "face.bulge_radius_mm" 80.0 5000.0 "mm" "horizontal radius; leave it out for a flat face";
    "face.roll_radius_mm" 80.0 5000.0 "mm" "vertical radius; leave it out for a flat face";
    "measured.mass_g" 80.0 600.0 "g" "mass of the whole head";
    "measured.cg_mm" -150.0 150.0 "mm" "centre of gravity from the face centre";
    "measured.inertia_g_cm2" 50.0 50000.0 "g cm2" "moment of inertia through the CG";
    "measured.products_g_cm2" -20000.0 20000.0 "g cm2" "product of inertia as a tensor entry";
    "track.path_mm" -250.0 250.0 "mm" "point of the track";
    "track.masses_g" 0.0 100.0 "g" "weight at hand";
    "track.size_mm" 0.0 100.0 "mm" "edge length of the weight";
    "track.stops" 0.0 1000.0 "" "number of stops; 0 slides freely";
    "screw.at_mm" -250.0 250.0 "mm" "centre of the screw";
    "screw.masses_g" 0.0 100.0 "g" "screw at hand";
    "screw.size_mm" 0.0 100.0 "mm" "edge length of the screw";
    "zone.at_mm" -250.0 250.0 "mm" "where the melt settles";
    "zone.max_g" 0.0 100.0 "g" "most that the zone takes";
    "zone.size_mm" 0.0 100.0 "mm" "edge length of the melt";
    "sleeve.tilt_deg" 0.0 6.0 "deg" "tilt of the bore";
    "sleeve.positions_deg" -360.0 360.0 "deg" "clock angle";
    "sleeve.reference_deg" -360.0 360.0 "deg" "clock angle at which the head was measured";
    "bend.loft_limit_deg" 0.0 10.0 "deg" "bend of loft either way";
    "bend.lie_limit_deg" 0.0 10.0 "deg" "bend of lie either way";
    // Setting, of a build or of a head as measured.
    "setting.track.*.position_percent" 0.0 100.0 "%" "place along the track";
    "setting.track.*.mass_g" 0.0 100.0 "g" "weight in the track";
    "setting.screw_g.*" 0.0 100.0 "g" "screw in the port";
    "setting.hot_melt_g.*" 0.0 100.0 "g" "hot melt in the zone";
    "setting.sleeve_deg" -360.0 360.0 "deg" "clock angle of the sleeve";
    "setting.bend_loft_deg" -10.0 10.0 "deg" "bend of loft, more is positive";
    "setting.bend_lie_deg" -10.0 10.0 "deg" "bend of lie, upright is positive";
    // Parts list.
    "hot_melt_g" 0.0 1000.0 "g" "hot melt at hand";
    "screw.mass_g" 0.1 100.0 "g" "mass of the screw";
    "screw.count" 0.0 1000.0 "" "how many are at hand";
    "track_weight.mass_g" 0.1 100.0 "g" "mass of the weight";
    "track_weight.count" 0.0 1000.0 "" "how many are at hand";
    // Player.
    "head_speed_mph" 30.0 160.0 "mph" "head speed with the driver";
    "head_speed_m_s" 13.0 72.0 "m/s" "head speed with the driver";
    "aim.start_yd" -110.0 110.0 "yd" "where the wanted shot starts, right positive";
    "aim.start_m" -100.0 100.0 "m" "where the wanted shot starts, right positive";
    "aim.curve_yd" -165.0 165.0 "yd" "curve of the wanted shot, right positive";
    "aim.curve_m" -150.0 150.0 "m" "curve of the wanted shot, right positive";
    "aim.fairway_yd" 0.0 220.0 "yd" "width of the fairway";
    "aim.fairway_m" 0.0 200.0 "m" "width of the fairway";
    "aim.start_from_yd" -110.0 110.0 "yd" "leftmost start line, right positive";
    "aim.start_from_m" -100.0 100.0 "m" "leftmost start line, right positive";
    "aim.start_to_yd" -110.0 110.0 "yd" "rightmost start line, right positive";
    "aim.start_to_m" -100.0 100.0 "m" "rightmost start line, right positive";
    "aim.height_from_yd" 0.0 110.0 "yd" "least height";
    "aim.height_from_m" 0.0 100.0 "m" "least height";
    "aim.height_to_yd" 0.0 110.0 "yd" "greatest height";
    "aim.height_to_m" 0.0 100.0 "m" "greatest height";
    "aim.landing_from_deg" 0.0 90.0 "deg" "least landing angle";
    "aim.landing_to_deg" 0.0 90.0 "deg" "greatest landing angle";
    "aim.direction_weight" 0.0 100.0 "" "how much direction matters, 1 as usual";
    "aim.shape_weight" 0.0 100.0 "" "how much shape matters, 1 as usual";
    "aim.height_weight" 0.0 100.0 "" "how much height matters, 1 as usual";
    "aim.distance_weight" 0.0 100.0 "" "how much distance matters, 1 as usual";
    // Build.
    "length_in" 20.0 59.0 "in" "length from the butt to the sole";
    "length_mm" 500.0 1500.0 "mm" "length from the butt to the sole";
    "measured.loft_deg" -5.0 80.0 "deg" "loft as the gauge showed it";
    "measured.lie_deg" 35.0 85.0 "deg" "lie as the gauge showed it";
    "measured.face_angle_deg" -15.0 15.0 "deg" "face angle as the gauge showed it, right positive";
    "gauge.loft_offset_deg" -5.0 5.0 "deg" "by how much the gauge shows too much loft";
    "gauge.lie_offset_deg" -5.0 5.0 "deg" "by how much the gauge shows too much lie";
    "gauge.repeatability_deg" 0.0 2.0 "deg" "standard deviation of repeated readings";
    "part.mass_g" 0.0 500.0 "g" "mass of the part";
    "part.balance_in" -5.0 60.0 "in" "balance point from the butt";
    "part.balance_mm" -127.0 1524.0 "mm" "balance point from the butt";
}

impl Bound {
    /// The range in words: `0 to 75 deg (static loft)`.
    pub fn allowed(&self) -> String {
        let unit = match self.unit {
            "" => String::new(),
            unit => format!(" {unit}"),
        };
        format!("{} to {}{unit} ({})", self.low, self.high, self.doc)
    }

    fn covers(&self, path: &[Step]) -> bool {
        let mut keys = path.iter().filter_map(|s| match s {
            Step::Key(key) => Some(key.as_str()),
            Step::Index(_) => None,
        });
        self.key
            .split('.')
            .all(|want| keys.next().is_some_and(|k| want == "*" || want == k))
            && keys.next().is_none()
    }
}

/// The row for a value.
pub(crate) fn row(path: &[Step]) -> Option<&'static Bound> {
    // A head's `measured.setting` has the shape of a build's `setting`.
    let nested = path.len() > 2 && path[0] == "measured".into() && path[1] == "setting".into();
    let path = if nested { &path[1..] } else { path };
    BOUNDS.iter().find(|b| b.covers(path))
}

/// Everything that is not finite or out of bounds, in the order of the document.
pub(crate) fn check(top: &DeTable<'_>) -> Vec<Problem> {
    let mut found = Vec::new();
    for (key, value) in top {
        let path = vec![Step::Key(key.get_ref().to_string())];
        walk(value.get_ref(), path, &mut found);
    }
    found
}

fn walk(value: &DeValue<'_>, path: Path, found: &mut Vec<Problem>) {
    let below = |step: Step| {
        let mut path = path.clone();
        path.push(step);
        path
    };
    match value {
        DeValue::Table(table) => {
            for (key, value) in table {
                let path = below(Step::Key(key.get_ref().to_string()));
                walk(value.get_ref(), path, found);
            }
        }
        DeValue::Array(array) => {
            for (n, value) in array.iter().enumerate() {
                walk(value.get_ref(), below(Step::Index(n)), found);
            }
        }
        DeValue::Float(x) => found.extend(judge(x.as_str(), x.as_str().parse().ok(), path)),
        DeValue::Integer(x) => {
            let number = i64::from_str_radix(x.as_str(), x.radix()).ok();
            found.extend(judge(x.as_str(), number.map(|n| n as f64), path));
        }
        _ => {}
    }
}

fn judge(text: &str, number: Option<f64>, path: Path) -> Option<Problem> {
    let Some(number) = number.filter(|n| n.is_finite()) else {
        return Some(Problem::new(path, text, "must be a finite number"));
    };
    let bound = row(&path)?;
    let inside = (bound.low..=bound.high).contains(&number);
    (!inside).then(|| Problem::new(path, text, bound.allowed()))
}
