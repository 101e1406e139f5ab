//! What can go wrong, with its exit code.

use crate::bench::describe::DescribeError;
use crate::bench::session::SessionError;
use crate::bench::{BenchError, ErrorKind};
use crate::correction::FitError;
use crate::head::SettingError;
use crate::miss::MissError;
use crate::proposal::SituationError;
use crate::report::WIDTH;
use std::io::ErrorKind::BrokenPipe;

/// A command that did not do what was asked; nothing is half done.
#[derive(Debug, thiserror::Error)]
#[error("{message}")]
pub struct Failure {
    kind: ErrorKind,
    message: String,
    closed_pipe: bool,
}

impl Failure {
    pub(super) fn new(kind: ErrorKind, message: impl Into<String>) -> Failure {
        Failure {
            kind,
            message: message.into(),
            closed_pipe: false,
        }
    }

    pub(super) fn input(message: impl Into<String>) -> Failure {
        Failure::new(ErrorKind::BadInput, message)
    }

    pub(super) fn usage(message: impl Into<String>) -> Failure {
        Failure::new(ErrorKind::Usage, message)
    }

    pub(super) fn file(path: &str, e: &std::io::Error) -> Failure {
        let kind = match e.kind() {
            std::io::ErrorKind::NotFound => ErrorKind::NotFound,
            std::io::ErrorKind::InvalidData => ErrorKind::BadInput,
            _ => ErrorKind::Storage,
        };
        Failure::new(kind, format!("{path}: {e}"))
    }

    /// Of a file that cannot be written, whatever the reason.
    pub(super) fn written(path: &str, e: &std::io::Error) -> Failure {
        Failure::new(ErrorKind::Storage, format!("{path}: {e}"))
    }

    /// What the person is told, in lines of at most 80 columns.
    pub fn told(&self) -> String {
        wrapped(&format!("trimtab: {}", self.message))
    }

    /// Whether nobody reads the output any more.
    pub(super) fn is_closed_pipe(&self) -> bool {
        self.closed_pipe
    }

    /// The exit code.
    pub fn code(&self) -> u8 {
        match self.kind {
            ErrorKind::Usage => 2,
            ErrorKind::BadInput => 3,
            ErrorKind::NotFound => 4,
            ErrorKind::Conflict => 5,
            ErrorKind::Busy => 6,
            ErrorKind::Storage => 7,
        }
    }
}

/// A complaint in lines of at most 80 columns. Lines break between words only: a file with line and
/// column stays whole.
pub(super) fn wrapped(text: &str) -> String {
    let lines = text.lines().flat_map(|line| {
        let indent = &line[..line.len() - line.trim_start_matches(' ').len()];
        let indent = format!("{indent}  ");
        let options = textwrap::Options::new(WIDTH)
            .subsequent_indent(&indent)
            .break_words(false)
            .word_separator(textwrap::WordSeparator::AsciiSpace)
            .word_splitter(textwrap::WordSplitter::NoHyphenation);
        let lines = textwrap::wrap(line, options).into_iter();
        lines
            .map(|line| line.trim_end().to_string() + "\n")
            .collect::<Vec<_>>()
    });
    lines.collect()
}

impl From<BenchError> for Failure {
    fn from(e: BenchError) -> Self {
        let closed_pipe = match &e {
            BenchError::File { source, .. } => source.kind() == BrokenPipe,
            _ => false,
        };
        Failure {
            closed_pipe,
            ..Failure::new(e.kind(), e.to_string())
        }
    }
}

macro_rules! bad_input {
    ($($error:ty),*) => {$(
        impl From<$error> for Failure {
            fn from(e: $error) -> Self {
                Failure::input(e.to_string())
            }
        }
    )*};
}
bad_input!(
    DescribeError,
    SessionError,
    SettingError,
    MissError,
    SituationError,
    FitError
);

impl From<std::io::Error> for Failure {
    fn from(e: std::io::Error) -> Self {
        Failure {
            closed_pipe: e.kind() == BrokenPipe,
            ..Failure::new(ErrorKind::Storage, e.to_string())
        }
    }
}
