//! What can go wrong at the bench, and of which kind it is.

use super::describe::DescribeError;
use super::session::SessionError;

/// Kind of an error, for exit codes.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum ErrorKind {
    /// The call itself makes no sense.
    Usage,
    /// A file or value that was handed in is wrong.
    BadInput,
    /// Something that was named is not there.
    NotFound,
    /// It contradicts what is there.
    Conflict,
    /// Somebody else holds the bench; trying again may help.
    Busy,
    /// The disk or the file below.
    Storage,
}

/// Anything that can go wrong at the bench.
#[derive(Debug, thiserror::Error)]
pub enum BenchError {
    /// The call itself makes no sense.
    #[error("{0}")]
    Usage(String),
    /// A description was refused.
    #[error(transparent)]
    Describe(#[from] DescribeError),
    /// A session was refused.
    #[error(transparent)]
    Session(#[from] SessionError),
    /// Something else that was handed in is wrong.
    #[error("{0}")]
    BadInput(String),
    /// Something that was named is not there.
    #[error("no {what} '{name}'{}", there_is(.have))]
    NotFound {
        /// What was looked for: head, player, build, session, ...
        what: &'static str,
        /// Its name.
        name: String,
        /// What there is instead.
        have: Vec<String>,
    },
    /// It contradicts what is there.
    #[error("{0}")]
    Conflict(String),
    /// Somebody else holds the bench.
    #[error("the bench is busy: somebody else has been writing for more than 10 s; try again")]
    Busy,
    /// The bench or its folder cannot be written.
    #[error("the bench cannot be written: its file or folder is read-only")]
    ReadOnly,
    /// SQLite says no.
    #[error("storage: {0}")]
    Storage(rusqlite::Error),
    /// The file system says no.
    #[error("{path}: {source}")]
    File {
        /// The file.
        path: String,
        /// What it says.
        source: std::io::Error,
    },
    /// What was read from the bench makes no sense.
    #[error("the bench is damaged: {0}")]
    Damaged(String),
}

impl BenchError {
    /// Of which kind it is.
    pub fn kind(&self) -> ErrorKind {
        match self {
            BenchError::Usage(_) => ErrorKind::Usage,
            BenchError::Describe(_) | BenchError::Session(_) | BenchError::BadInput(_) => {
                ErrorKind::BadInput
            }
            BenchError::NotFound { .. } => ErrorKind::NotFound,
            BenchError::Conflict(_) => ErrorKind::Conflict,
            BenchError::Busy => ErrorKind::Busy,
            BenchError::ReadOnly
            | BenchError::Storage(_)
            | BenchError::File { .. }
            | BenchError::Damaged(_) => ErrorKind::Storage,
        }
    }
}

impl From<rusqlite::Error> for BenchError {
    fn from(e: rusqlite::Error) -> Self {
        use rusqlite::ErrorCode as Code;
        match e.sqlite_error_code() {
            Some(Code::DatabaseBusy | Code::DatabaseLocked) => BenchError::Busy,
            Some(Code::ReadOnly) => BenchError::ReadOnly,
            Some(Code::ConstraintViolation) => BenchError::Conflict(format!("refused: {e}")),
            _ => BenchError::Storage(e),
        }
    }
}

/// At most ten names of what there is.
fn there_is(have: &[String]) -> String {
    match have.len() {
        0 => String::new(),
        n if n > 10 => format!("; there are {n}, such as {}", have[..10].join(", ")),
        _ => format!("; there is {}", have.join(", ")),
    }
}
