//! A CSV text into shots.

use super::columns::{ReadColumn, Role, Value, What, roles};
use super::error::SessionError;
use super::mapping::Mapping;
use super::rows::Rows;
use crate::quantity::Measured;
use csv::StringRecord;
use sha2::{Digest, Sha256};
use std::collections::BTreeMap;

/// A session as it was read. Values in SI and in the real-world frame.
#[derive(Debug, Clone, PartialEq)]
pub struct ParsedSession {
    /// File name as it was given.
    pub file_name: String,
    /// SHA-256 of the text, in hexadecimal: the same file is told by it.
    pub sha256: String,
    /// The shots, in the order of the file.
    pub shots: Vec<ShotRow>,
    /// The columns that hold quantities, with their units.
    pub columns: Vec<ReadColumn>,
    /// Names of the columns that were kept as they came and not understood.
    pub ignored: Vec<String>,
    /// Lines with no value in any column that was understood; not shots.
    pub skipped_lines: Vec<u64>,
}

/// One shot.
#[derive(Debug, Clone, PartialEq)]
pub struct ShotRow {
    /// Number within the session, from 1.
    pub number: u32,
    /// Every cell as it came, by its column name.
    pub raw: BTreeMap<String, String>,
    /// What was measured. SI, real-world frame.
    pub measured: Measured,
    /// The note, if any.
    pub note: Option<String>,
}

/// Reads the text of a session file. The delimiter is told from the header line: comma, semicolon
/// or tab; with semicolons a comma may be the decimal mark.
///
/// # Errors
/// No header, no known column, no shots, or cells that cannot be read, all of them at once.
pub fn parse_session(
    text: &str,
    file_name: &str,
    mapping: Option<&Mapping>,
) -> Result<ParsedSession, SessionError> {
    let body = text.strip_prefix('\u{feff}').unwrap_or(text);
    let delimiter = delimiter(body);
    let mut reader = csv::ReaderBuilder::new()
        .delimiter(delimiter)
        .flexible(true)
        .has_headers(false)
        .from_reader(body.as_bytes());
    let mut lines = Lines::new(body);
    let file = || file_name.to_string();
    let broken = |e: &csv::Error| SessionError::Header {
        file: file(),
        line: e.position().map_or(1, csv::Position::line),
        why: e.to_string(),
    };
    let mut records = reader.records();
    let header = records.next().ok_or(SessionError::Empty { file: file() })?;
    let header = header.map_err(|e| broken(&e))?;
    let header_error = |why| SessionError::Header {
        file: file(),
        line: lines.clone().of(&header),
        why,
    };
    let names = unique_names(&header);
    let roles = roles(&names, mapping).map_err(header_error)?;
    let columns = read_columns(&names, &roles);
    if !roles.iter().any(|r| matches!(r, Role::Value(_))) {
        let why = "no column is known; a column is named by quantity and unit, such as \
                   ball_speed_mph, or by a mapping"
            .to_string();
        return Err(header_error(format!(
            "{why}; the file has {}",
            names.join(", ")
        )));
    }
    let mut rows = Rows::new(&names, &roles, delimiter == b';');
    for record in records {
        let record = record.map_err(|e| broken(&e))?;
        let line = lines.of(&record);
        rows.read(&record, line);
    }
    if !rows.bad.is_empty() {
        return Err(SessionError::BadCells {
            file: file(),
            hints: rows.hints(),
            cells: rows.bad,
        });
    }
    if rows.shots.is_empty() {
        let columns = columns.into_iter().map(|c| c.header).collect();
        return Err(SessionError::NoShots {
            file: file(),
            columns,
        });
    }
    let ignored = names
        .iter()
        .zip(&roles)
        .filter(|(_, r)| **r == Role::Ignored);
    Ok(ParsedSession {
        file_name: file(),
        sha256: hex(&Sha256::digest(text.as_bytes())),
        ignored: ignored.map(|(n, _)| n.clone()).collect(),
        shots: rows.shots,
        columns,
        skipped_lines: rows.skipped,
    })
}

/// Bytes in hexadecimal.
pub(crate) fn hex(bytes: &[u8]) -> String {
    bytes.iter().map(|b| format!("{b:02x}")).collect()
}

/// The delimiter that the first line holds most of, outside quotes; a comma if it holds none.
fn delimiter(body: &str) -> u8 {
    let line = body.lines().find(|l| !l.is_empty()).unwrap_or_default();
    let outside: Vec<&str> = line.split('"').step_by(2).collect();
    let count = |d: char| {
        outside
            .iter()
            .map(|part| part.matches(d).count())
            .sum::<usize>()
    };
    let mut best = (b',', count(','));
    for (byte, d) in [(b';', ';'), (b'\t', '\t')] {
        if count(d) > best.1 {
            best = (byte, count(d));
        }
    }
    best.0
}

/// Column names, trimmed; a name that comes again gets its number, so that no cell is lost.
fn unique_names(header: &StringRecord) -> Vec<String> {
    let mut names: Vec<String> = Vec::new();
    for (n, cell) in header.iter().enumerate() {
        let plain = match cell.trim() {
            "" => format!("column {}", n + 1),
            name => name.to_string(),
        };
        let twins = (2..).map(|k| format!("{plain} ({k})"));
        let mut candidates = std::iter::once(plain.clone()).chain(twins);
        names.extend(candidates.find(|c| !names.contains(c)));
    }
    names
}

fn read_columns(names: &[String], roles: &[Role]) -> Vec<ReadColumn> {
    let read = |(name, role): (&String, &Role)| match role {
        Role::Value(Value {
            what: What::Quantity(quantity),
            unit,
            ..
        }) => Some(ReadColumn {
            header: name.clone(),
            quantity: *quantity,
            unit,
        }),
        _ => None,
    };
    names.iter().zip(roles).filter_map(read).collect()
}

/// Line numbers of records, counted in the text itself: the reader's own position of a record
/// stands before the blank lines that it skips.
#[derive(Clone)]
struct Lines<'t> {
    body: &'t str,
    offset: usize,
    line: u64,
}

impl<'t> Lines<'t> {
    fn new(body: &'t str) -> Self {
        Lines {
            body,
            offset: 0,
            line: 1,
        }
    }

    /// Line of a record; records must come in order.
    fn of(&mut self, record: &StringRecord) -> u64 {
        let start = record.position().map_or(0, |p| p.byte() as usize);
        let bytes = self.body.as_bytes();
        let blank = |b: &u8| *b == b'\n' || *b == b'\r';
        let first = bytes[start.min(bytes.len())..]
            .iter()
            .position(|b| !blank(b));
        let to = start + first.unwrap_or(0);
        let passed = &bytes[self.offset.min(to)..to.min(bytes.len())];
        self.line += passed.iter().filter(|b| **b == b'\n').count() as u64;
        self.offset = to;
        self.line
    }
}
