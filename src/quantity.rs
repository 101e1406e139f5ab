//! What can be measured of a shot: one table row each for name, unit, bounds and mirror.
//!
//! Everything that reads, checks, mirrors or shows a measured quantity goes through this table, so
//! that a new one is one row.

use crate::hand::Mirror;
use crate::launch::Launch;
use crate::units::*;
use serde::{Deserialize, Serialize};

/// A quantity that a tracking device, a camera or an eye can tell of a shot.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
#[allow(missing_docs)] // the table says what each is
pub enum Quantity {
    BallSpeed,
    LaunchAngle,
    LaunchDirection,
    SpinRate,
    SpinAxis,
    HeadSpeed,
    ClubPath,
    FaceAngle,
    AttackAngle,
    DynamicLoft,
    StrikeToe,
    StrikeUp,
    Carry,
    Offline,
    Curve,
    Apex,
    Total,
}

/// Kind of unit.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Dimension {
    /// Speed; SI m/s.
    Speed,
    /// Angle; SI rad.
    Angle,
    /// Rate of rotation; SI rad/s.
    Rotation,
    /// Length; SI m.
    Length,
}

impl Dimension {
    /// Units by name, as they end a column name or stand in a mapping, with their SI size.
    pub fn units(self) -> &'static [(&'static str, f64)] {
        match self {
            Dimension::Speed => &[("m_s", 1.0), ("mph", MPH), ("km_h", KPH)],
            Dimension::Angle => &[("deg", DEG), ("rad", 1.0)],
            Dimension::Rotation => &[("rpm", RPM), ("rad_s", 1.0)],
            Dimension::Length => &[
                ("m", 1.0),
                ("yd", YARD),
                ("ft", FOOT),
                ("in", INCH),
                ("cm", 0.01),
                ("mm", MM),
            ],
        }
    }

    /// SI size of a unit by its name.
    pub fn unit(self, name: &str) -> Option<f64> {
        self.units()
            .iter()
            .find(|(n, _)| *n == name)
            .map(|(_, size)| *size)
    }
}

/// A row of the table.
#[derive(Debug, Clone, Copy)]
pub struct Info {
    /// Which quantity.
    pub quantity: Quantity,
    /// Name in columns, keys and flags, without its unit.
    pub name: &'static str,
    /// Kind of unit.
    pub dimension: Dimension,
    /// Unit in which it is written out.
    pub unit: &'static str,
    /// Smallest and largest value that is accepted as a reading, SI.
    pub bounds: (f64, f64),
    /// Whether it changes its sign in the mirror.
    pub mirrored: bool,
    /// Standard error of a usual device, SI; an assumption, not any device's figure.
    pub device_sd: f64,
    /// What it is.
    pub doc: &'static str,
}

use Dimension::{Angle, Length, Rotation, Speed};

macro_rules! table {
    ($($q:ident $name:literal $dim:ident $unit:literal [$lo:expr, $hi:expr] $mir:literal $sd:expr, $doc:literal;)*) => {
        /// The table, in the order of [`Quantity`].
        pub const TABLE: [Info; Quantity::COUNT] = [$(Info {
            quantity: Quantity::$q, name: $name, dimension: $dim, unit: $unit,
            bounds: ($lo, $hi), mirrored: $mir, device_sd: $sd, doc: $doc,
        }),*];
    };
}

impl Quantity {
    /// Number of quantities.
    pub const COUNT: usize = 17;
}

// name, kind of unit, unit written, bounds (SI), mirrored, device standard error (SI), meaning.
// Device errors: common practice, no source.
table! {
    BallSpeed "ball_speed" Speed "m_s" [1.0, 110.0] false 0.4, "speed of the ball after impact";
    LaunchAngle "launch_angle" Angle "deg" [-60.0 * DEG, 85.0 * DEG] false 0.3 * DEG, "elevation of the start";
    LaunchDirection "launch_direction" Angle "deg" [-80.0 * DEG, 80.0 * DEG] true 0.3 * DEG, "horizontal direction of the start, right positive";
    SpinRate "spin_rate" Rotation "rpm" [0.0, 16000.0 * RPM] false 100.0 * RPM, "rate of spin";
    SpinAxis "spin_axis" Angle "deg" [-90.0 * DEG, 90.0 * DEG] true 1.5 * DEG, "tilt of the spin axis, right positive";
    HeadSpeed "head_speed" Speed "m_s" [1.0, 75.0] false 0.5, "speed of the head before impact";
    ClubPath "club_path" Angle "deg" [-30.0 * DEG, 30.0 * DEG] true 0.7 * DEG, "horizontal direction of the head's motion, right positive";
    FaceAngle "face_angle" Angle "deg" [-40.0 * DEG, 40.0 * DEG] true 0.7 * DEG, "direction of the face at its centre, right positive";
    AttackAngle "attack_angle" Angle "deg" [-30.0 * DEG, 30.0 * DEG] false 0.6 * DEG, "vertical direction of the head's motion, up positive";
    DynamicLoft "dynamic_loft" Angle "deg" [-10.0 * DEG, 80.0 * DEG] false 0.8 * DEG, "elevation of the face at its centre";
    StrikeToe "strike_toe" Length "mm" [-80.0 * MM, 80.0 * MM] false 2.0 * MM, "strike location, toe-ward from the face centre";
    StrikeUp "strike_up" Length "mm" [-50.0 * MM, 50.0 * MM] false 2.0 * MM, "strike location, crown-ward from the face centre";
    Carry "carry" Length "m" [0.0, 400.0] false 3.0, "distance from start to landing";
    Offline "offline" Length "m" [-200.0, 200.0] true 3.0, "offline at landing, right positive";
    Curve "curve" Length "m" [-200.0, 200.0] true 3.0, "offline at landing minus that of the start line";
    Apex "apex" Length "m" [0.0, 120.0] false 1.5, "greatest height";
    Total "total" Length "m" [0.0, 500.0] false 6.0, "distance from start to rest";
}

impl Quantity {
    /// Everything there is to know about it.
    pub fn info(self) -> &'static Info {
        &TABLE[self as usize]
    }

    /// By its name without a unit.
    pub fn named(name: &str) -> Option<Quantity> {
        TABLE.iter().find(|i| i.name == name).map(|i| i.quantity)
    }

    /// By a column name that ends in a unit, such as `ball_speed_mph`; with the SI size of the unit.
    pub fn column(name: &str) -> Option<(Quantity, f64)> {
        TABLE.iter().find_map(|i| {
            let unit = name.strip_prefix(i.name)?.strip_prefix('_')?;
            Some((i.quantity, i.dimension.unit(unit)?))
        })
    }

    /// The column name under which it is written out, with its unit.
    pub fn column_name(self) -> String {
        format!("{}_{}", self.info().name, self.info().unit)
    }

    /// SI size of the unit in which it is written out.
    pub fn unit_size(self) -> f64 {
        let i = self.info();
        i.dimension
            .unit(i.unit)
            .expect("tested for the whole table")
    }
}

/// What was measured of one shot; any subset. SI and radians.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Measured([Option<f64>; Quantity::COUNT]);

impl Measured {
    /// A value, if it was measured.
    pub fn get(&self, q: Quantity) -> Option<f64> {
        self.0[q as usize]
    }

    /// Sets or clears a value.
    pub fn set(&mut self, q: Quantity, value: Option<f64>) {
        self.0[q as usize] = value;
    }

    /// The same with a value set.
    pub fn with(mut self, q: Quantity, value: f64) -> Self {
        self.set(q, Some(value));
        self
    }

    /// The launch, if all of it was measured.
    pub fn launch(&self) -> Option<Launch> {
        Some(Launch {
            ball_speed: self.get(Quantity::BallSpeed)?,
            launch_angle: self.get(Quantity::LaunchAngle)?,
            launch_direction: self.get(Quantity::LaunchDirection)?,
            spin_rate: self.get(Quantity::SpinRate)?,
            spin_axis: self.get(Quantity::SpinAxis)?,
        })
    }

    /// All that was measured.
    pub fn iter(&self) -> impl Iterator<Item = (Quantity, f64)> + '_ {
        TABLE
            .iter()
            .filter_map(|i| Some((i.quantity, self.get(i.quantity)?)))
    }
}

impl Mirror for Measured {
    fn mirrored(mut self) -> Self {
        for i in TABLE.iter().filter(|i| i.mirrored) {
            if let Some(v) = &mut self.0[i.quantity as usize] {
                *v = -*v;
            }
        }
        self
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn inv_table_is_in_order_and_its_units_exist() {
        for (n, i) in TABLE.iter().enumerate() {
            assert_eq!(i.quantity as usize, n, "{}", i.name);
            assert!(i.quantity.unit_size() > 0.0);
            assert!(i.bounds.0 < i.bounds.1 && i.device_sd > 0.0, "{}", i.name);
            assert_eq!(
                Quantity::column(&i.quantity.column_name()).unwrap().0,
                i.quantity
            );
        }
        assert_eq!(
            Quantity::column("ball_speed_mph"),
            Some((Quantity::BallSpeed, MPH))
        );
        assert_eq!(Quantity::column("ball_speed_yd"), None);
    }
}
