//! Arguments that several commands share.

use super::Failure;
use crate::bench::describe::{SettingFile, TrackEntry};
use crate::bench::store::SessionMeta;
use crate::head::Head;
use crate::quantity::{Measured, Quantity, TABLE};
use clap::{Arg, ArgMatches, Args, Command, FromArgMatches};
use std::path::PathBuf;

/// Heading of the options that every command has.
const EVERY_COMMAND: &str = "Options of every command";

/// Options of every command.
#[derive(Debug, Clone, Args)]
pub(super) struct Global {
    /// The bench: one file that holds everything.
    #[arg(
        long,
        global = true,
        help_heading = EVERY_COMMAND,
        value_name = "FILE",
        env = "TRIMTAB_BENCH",
        default_value = "bench.trimtab"
    )]
    pub bench: PathBuf,
    /// Print JSON instead of text; keys carry their unit and stay stable. An error is text all the
    /// same: on the error stream, nothing on the output, and an exit code.
    #[arg(long, global = true, help_heading = EVERY_COMMAND)]
    pub json: bool,
    /// Text in metres and m/s instead of yards and mph.
    #[arg(long, global = true, help_heading = EVERY_COMMAND)]
    pub metric: bool,
    /// Drag and lift of the ball: bearman-harvey-1976, smits-smith-1994 or indoor-range-2001.
    #[arg(
        long,
        global = true,
        help_heading = EVERY_COMMAND,
        value_name = "SET",
        default_value = "bearman-harvey-1976"
    )]
    pub aero: String,
    /// Who decides the head's attitude when a sleeve is turned.
    #[arg(long, global = true, help_heading = EVERY_COMMAND, value_enum, default_value_t = AttitudeArg::Unknown)]
    pub attitude: AttitudeArg,
}

/// See [`crate::hosel::Attitude`].
#[derive(Debug, Clone, Copy, PartialEq, Eq, clap::ValueEnum)]
pub(super) enum AttitudeArg {
    /// Nobody said: anything between grip-kept and face-squared.
    Unknown,
    /// The hands keep the grip as it was.
    GripKept,
    /// The head sits on its sole.
    Soled,
    /// The player turns the club until the face is square.
    FaceSquared,
}

impl From<AttitudeArg> for crate::hosel::Attitude {
    fn from(a: AttitudeArg) -> Self {
        match a {
            AttitudeArg::Unknown => Self::Unknown,
            AttitudeArg::GripKept => Self::GripKept,
            AttitudeArg::Soled => Self::Soled,
            AttitudeArg::FaceSquared => Self::FaceSquared,
        }
    }
}

/// Air, wind and turf.
#[derive(Debug, Clone, Default, PartialEq, Args)]
#[command(next_help_heading = "Air, wind and turf")]
pub(super) struct Weather {
    /// Temperature of the air [default: 20 deg C].
    #[arg(long, allow_negative_numbers = true, value_name = "C")]
    pub temperature_c: Option<f64>,
    /// Air pressure at the range [default: from the altitude].
    #[arg(long, allow_negative_numbers = true, value_name = "HPA")]
    pub pressure_hpa: Option<f64>,
    /// Relative humidity [default: 50].
    #[arg(long, allow_negative_numbers = true, value_name = "PERCENT")]
    pub humidity_percent: Option<f64>,
    /// Altitude [default: 0].
    #[arg(long, allow_negative_numbers = true, value_name = "M")]
    pub altitude_m: Option<f64>,
    /// Wind toward the right; toward the left is negative [default: 0].
    #[arg(long, allow_negative_numbers = true, value_name = "M_S")]
    pub wind_toward_right_m_s: Option<f64>,
    /// Wind toward the target; a head wind is negative [default: 0].
    #[arg(long, allow_negative_numbers = true, value_name = "M_S")]
    pub wind_toward_target_m_s: Option<f64>,
    /// Firmness of the turf, 0 soft to 1 baked [default: 0.5].
    #[arg(long, allow_negative_numbers = true, value_name = "0..1")]
    pub turf_firmness: Option<f64>,
}

impl Weather {
    /// As the circumstances of a session, checked.
    pub fn meta(&self) -> Result<SessionMeta, Failure> {
        let meta = SessionMeta {
            temperature_c: self.temperature_c,
            pressure_hpa: self.pressure_hpa,
            humidity_percent: self.humidity_percent,
            altitude_m: self.altitude_m,
            wind_toward_right_m_s: self.wind_toward_right_m_s,
            wind_toward_target_m_s: self.wind_toward_target_m_s,
            turf_firmness: self.turf_firmness,
            ..SessionMeta::default()
        };
        meta.check()?;
        Ok(meta)
    }
}

/// Quantities as flags with their unit in the name, such as `--ball-speed-mph 150`: one flag for
/// each usual unit of each quantity in the list, straight from the table of quantities.
#[derive(Debug, Clone, Default)]
pub(super) struct Given<L: QuantityList>(pub Measured, std::marker::PhantomData<L>);

/// Which quantities a command takes.
pub(super) trait QuantityList: Clone + std::fmt::Debug + Default {
    /// The list.
    const LIST: &'static [Quantity];
}

/// Flags of a quantity: name of the flag, SI size of its unit, help.
pub(super) fn flags(q: Quantity) -> impl Iterator<Item = (String, f64, String)> {
    let info = q.info();
    info.dimension
        .units()
        .iter()
        .filter(move |(unit, _)| sensible(q, unit))
        .map(move |(unit, size)| {
            (
                format!("{}_{unit}", info.name).replace('_', "-"),
                *size,
                info.doc.to_string(),
            )
        })
}

/// Whether somebody would state the quantity in that unit.
fn sensible(q: Quantity, unit: &str) -> bool {
    match q {
        Quantity::StrikeToe | Quantity::StrikeUp => unit == "mm",
        _ => !matches!(unit, "rad" | "rad_s" | "cm" | "mm" | "in" | "km_h"),
    }
}

impl<L: QuantityList> Args for Given<L> {
    fn augment_args(mut command: Command) -> Command {
        for &q in L::LIST {
            for (flag, _, help) in flags(q) {
                // clap wants names for the length of the program; there are a few dozen.
                let leaked: &'static str = Box::leak(flag.into_boxed_str());
                let mut words = help;
                if let Some(first) = words.get_mut(0..1) {
                    first.make_ascii_uppercase();
                }
                command = command.arg(
                    Arg::new(clap::Id::from(leaked))
                        .long(leaked)
                        .help(words)
                        .value_name("X")
                        .allow_negative_numbers(true)
                        .value_parser(clap::value_parser!(f64)),
                );
            }
        }
        command
    }

    fn augment_args_for_update(command: Command) -> Command {
        Self::augment_args(command)
    }
}

impl<L: QuantityList> FromArgMatches for Given<L> {
    fn from_arg_matches(matches: &ArgMatches) -> Result<Self, clap::Error> {
        let mut given = Self::default();
        given.update_from_arg_matches(matches)?;
        Ok(given)
    }

    fn update_from_arg_matches(&mut self, matches: &ArgMatches) -> Result<(), clap::Error> {
        use clap::error::ErrorKind::{ArgumentConflict, ValueValidation};
        for &q in L::LIST {
            for (flag, size, _) in flags(q) {
                let Some(&value) = matches.get_one::<f64>(&flag) else {
                    continue;
                };
                let (lo, hi) = TABLE[q as usize].bounds;
                let si = value * size;
                if !(si >= lo && si <= hi) {
                    let message = format!(
                        "--{flag} {value}: must be {:.4} to {:.4}",
                        lo / size,
                        hi / size
                    );
                    return Err(clap::Error::raw(ValueValidation, message));
                }
                if self.0.get(q).is_some() {
                    let message = format!("--{flag}: the quantity is given twice");
                    return Err(clap::Error::raw(ArgumentConflict, message));
                }
                self.0.set(q, Some(si));
            }
        }
        Ok(())
    }
}

/// Reads `--set` clauses such as `heel-toe=20%`, `heel-toe=12g`, `sleeve=90deg`, `sole=7g`,
/// `melt:heel=4g`, `loft=+0.5deg`. A name that is both a screw and a zone needs `screw:` or `melt:`.
pub(super) fn setting_file(clauses: &[String], head: &Head) -> Result<SettingFile, Failure> {
    let mut file = SettingFile::default();
    for clause in clauses {
        let fail = |why: &str| {
            Failure::usage(format!(
                "--set {clause}: {why}. Say for instance heel-toe=20%, heel-toe=12g, sole=7g, \
                 melt:heel=4g, sleeve=90deg, loft=0.5deg, lie=-1deg"
            ))
        };
        let (name, value) = clause
            .split_once('=')
            .ok_or_else(|| fail("there is no '='"))?;
        let (name, value) = (name.trim(), value.trim());
        let at = value
            .find(|c: char| c.is_alphabetic() || c == '%')
            .unwrap_or(value.len());
        let number: f64 = value[..at]
            .trim()
            .parse()
            .map_err(|_| fail("that is no number"))?;
        let unit = value[at..].trim();
        let twice = match (name, unit) {
            ("sleeve", "deg" | "") => file.sleeve_deg.replace(number).is_some(),
            ("loft", "deg") => file.bend_loft_deg.replace(number).is_some(),
            ("lie", "deg") => file.bend_lie_deg.replace(number).is_some(),
            (_, "%") => entry(&mut file, name)
                .position_percent
                .replace(number)
                .is_some(),
            (_, "g") => grams(&mut file, name, number, head).map_err(|e| fail(&e))?,
            _ => return Err(fail("the unit must be %, g or deg")),
        };
        if twice {
            return Err(fail("that is set twice"));
        }
    }
    Ok(file)
}

fn entry<'a>(file: &'a mut SettingFile, name: &str) -> &'a mut TrackEntry {
    let name = name.strip_prefix("track:").unwrap_or(name);
    file.track.entry(name.to_string()).or_default()
}

/// Sets a mass; tells whether it was set before.
fn grams(file: &mut SettingFile, name: &str, value: f64, head: &Head) -> Result<bool, String> {
    let (kind, name) = name.split_once(':').unwrap_or(("", name));
    let is = |want: &str, there: bool| kind == want || (kind.is_empty() && there);
    let track = is("track", head.tracks.iter().any(|t| t.name == name));
    let screw = is("screw", head.ports.iter().any(|p| p.name == name));
    let melt = is("melt", head.zones.iter().any(|z| z.name == name));
    match (track, screw, melt) {
        (true, false, false) => Ok(entry(file, name).mass_g.replace(value).is_some()),
        (false, true, false) => Ok(file.screw_g.insert(name.into(), value).is_some()),
        (false, false, true) => Ok(file.hot_melt_g.insert(name.into(), value).is_some()),
        (false, false, false) => Err(format!("'{}' has no lever '{name}'", head.name)),
        _ => Err(format!(
            "'{name}' is more than one lever: say track:, screw: or melt:"
        )),
    }
}
