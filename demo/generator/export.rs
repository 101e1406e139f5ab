//! The devices: which columns they export, in which units, and what spoils the export.

use super::Shot;
use std::fmt::Write as _;
use trimtab::quantity::Quantity;
use trimtab::units::{DEG, MM, MPH, RPM, YARD};

/// Which device logged the session. All of them are invented.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Device {
    /// Outdoors; ball and club, yards and miles an hour.
    Owlpost,
    /// Indoors, in still air; ball and strike location.
    Glowtent,
    /// Outdoors; ball only, metric.
    Metrelark,
    /// Outdoors; few columns, sides as letters, no spin axis.
    Fieldnote,
}

/// What the export of a session is spoilt by.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Dirt {
    /// Nothing.
    Clean,
    /// Some shots have no spin: an empty cell or a dash.
    MissingSpin,
    /// Ball speeds in m/s in a column that says mph. The import must refuse it.
    WrongUnit,
    /// Capital letters and blanks in the header. The import must take it.
    OddHeader,
    /// A column twice, the second in other letters. The import must refuse it.
    TwinColumn,
    /// Semicolons between the cells and commas for the decimal point. The import must take it.
    DecimalComma,
}

/// The columns of a device: quantity, unit in the column's name, its SI size, decimals.
fn columns(device: Device) -> Vec<(Quantity, &'static str, f64, usize)> {
    use Quantity::*;
    let (mph, yd, deg) = (("mph", MPH, 1), ("yd", YARD, 1), ("deg", DEG, 1));
    let (m_s, m, mm) = (("m_s", 1.0, 1), ("m", 1.0, 1), ("mm", MM, 0));
    let rpm = ("rpm", RPM, 0);
    let table: Vec<(Quantity, (&'static str, f64, usize))> = match device {
        Device::Owlpost => vec![
            (BallSpeed, mph),
            (LaunchAngle, deg),
            (LaunchDirection, deg),
            (SpinRate, rpm),
            (SpinAxis, deg),
            (HeadSpeed, mph),
            (ClubPath, deg),
            (FaceAngle, deg),
            (AttackAngle, deg),
            (DynamicLoft, deg),
            (Carry, yd),
            (Offline, yd),
        ],
        Device::Glowtent => vec![
            (BallSpeed, mph),
            (LaunchAngle, deg),
            (LaunchDirection, deg),
            (SpinRate, rpm),
            (SpinAxis, deg),
            (HeadSpeed, mph),
            (StrikeToe, mm),
            (StrikeUp, mm),
            (Carry, yd),
            (Offline, yd),
        ],
        Device::Metrelark => vec![
            (BallSpeed, m_s),
            (LaunchAngle, deg),
            (LaunchDirection, deg),
            (SpinRate, rpm),
            (SpinAxis, deg),
            (Carry, m),
            (Offline, m),
        ],
        Device::Fieldnote => vec![
            (BallSpeed, mph),
            (LaunchAngle, deg),
            (LaunchDirection, deg),
            (SpinRate, rpm),
            (Carry, yd),
            (Offline, yd),
        ],
    };
    table
        .into_iter()
        .map(|(q, (unit, size, decimals))| (q, unit, size, decimals))
        .collect()
}

/// The export of a session, as the device writes it and as the dirt spoils it.
pub fn to_csv(shots: &[Shot], device: Device, dirt: Dirt) -> String {
    let columns = columns(device);
    let mut header: Vec<String> = vec!["shot".into()];
    for (q, unit, ..) in &columns {
        header.push(format!("{}_{unit}", q.info().name));
    }
    header.push("note".into());
    if dirt == Dirt::OddHeader {
        for (n, name) in header.iter_mut().enumerate() {
            *name = match n % 3 {
                0 => format!(" {name} "),
                1 => name.to_uppercase(),
                _ => format!("{name}  "),
            };
        }
    }
    if dirt == Dirt::TwinColumn {
        header.push(" Ball_Speed_MPH".into());
    }
    let delimiter = if dirt == Dirt::DecimalComma { ";" } else { "," };
    let mut text = header.join(delimiter);
    text.push('\n');
    for (n, shot) in shots.iter().enumerate() {
        let mut cells: Vec<String> = vec![shot.number.to_string()];
        for &(q, _, size, decimals) in &columns {
            let size = match (q, dirt) {
                (Quantity::BallSpeed, Dirt::WrongUnit) => 1.0,
                _ => size,
            };
            let spin = matches!(q, Quantity::SpinRate | Quantity::SpinAxis);
            let value = match shot.measured.get(q) {
                // Every fifth shot or so: fixed by its number, so that nothing else changes.
                Some(_) if spin && dirt == Dirt::MissingSpin && n % 5 == 2 => None,
                value => value.map(|v| v / size),
            };
            let letters = device == Device::Fieldnote && q.info().mirrored;
            let cell = match value {
                None if n % 2 == 0 => "-".to_string(),
                None => String::new(),
                Some(v) if letters => with_letter(v, decimals),
                Some(v) => fixed(v, decimals),
            };
            cells.push(cell);
        }
        cells.push(shot.note.to_string());
        if dirt == Dirt::TwinColumn {
            cells.push(cells[1].clone());
        }
        if dirt == Dirt::DecimalComma {
            for cell in &mut cells {
                *cell = cell.replace('.', ",");
            }
        }
        let _ = writeln!(text, "{}", cells.join(delimiter));
    }
    text
}

/// A number with so many decimals, without a negative zero.
fn fixed(value: f64, decimals: usize) -> String {
    let text = format!("{value:.decimals$}");
    if text.bytes().any(|b| b.is_ascii_digit() && b != b'0') {
        return text;
    }
    text.trim_start_matches('-').to_string()
}

/// A number with its side as a letter.
fn with_letter(value: f64, decimals: usize) -> String {
    let side = if value < 0.0 { "L" } else { "R" };
    format!("{} {side}", fixed(value.abs(), decimals))
}
