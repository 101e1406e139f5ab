//! Why a session was refused.

use super::plausible::Finding;
use std::fmt;

/// A cell that cannot be read.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct BadCell {
    /// Line in the file, from 1.
    pub line: u64,
    /// Column name as the file has it.
    pub column: String,
    /// The cell as the file has it.
    pub value: String,
    /// What is wrong or what is allowed.
    pub allowed: String,
}

/// A session that was refused.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum SessionError {
    /// The file has no header line.
    #[error("{file}: the file is empty")]
    Empty {
        /// File name.
        file: String,
    },
    /// The header line cannot be used.
    #[error("{file}:{line}: {why}")]
    Header {
        /// File name.
        file: String,
        /// Line of the header.
        line: u64,
        /// What is wrong.
        why: String,
    },
    /// There is a header, but no line with a measured value.
    #[error("{file}: no shots: no line has a value in any of the columns {}", .columns.join(", "))]
    NoShots {
        /// File name.
        file: String,
        /// The columns that were understood.
        columns: Vec<String>,
    },
    /// Cells that cannot be read.
    #[error("{}", list(.file, .cells, .hints))]
    BadCells {
        /// File name.
        file: String,
        /// All of them; the message shows the first [`SessionError::SHOWN`].
        cells: Vec<BadCell>,
        /// Units in which a whole column would have been allowed.
        hints: Vec<String>,
    },
    /// Readable, but in other units than the columns say.
    #[error("{}", findings(.file, .found))]
    Implausible {
        /// File name.
        file: String,
        /// What was found.
        found: Vec<Finding>,
    },
}

impl SessionError {
    /// How many bad cells a message shows.
    pub const SHOWN: usize = 20;
}

/// One line for each cell, a count of what is not shown, then the hints.
fn list(file: &str, cells: &[BadCell], hints: &[String]) -> String {
    let mut lines: Vec<String> = cells
        .iter()
        .take(SessionError::SHOWN)
        .map(|c| {
            format!(
                "{file}:{}: {} = '{}': {}",
                c.line, c.column, c.value, c.allowed
            )
        })
        .collect();
    if cells.len() > SessionError::SHOWN {
        lines.push(format!("and {} more", cells.len() - SessionError::SHOWN));
    }
    lines.extend(hints.iter().cloned());
    lines.join("\n")
}

fn findings(file: &str, found: &[Finding]) -> String {
    let lines: Vec<String> = found
        .iter()
        .map(|f| format!("{file}: {}", f.text))
        .collect();
    lines.join("\n")
}

impl fmt::Display for Finding {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.text)
    }
}
