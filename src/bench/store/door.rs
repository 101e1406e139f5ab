//! The way to the file of a bench.

use super::Bench;
use crate::bench::BenchError;
use rusqlite::{Connection, OpenFlags};
use std::path::{Path, PathBuf};
use std::time::Duration;

/// How long a writer waits for another one.
const PATIENCE: Duration = Duration::from_secs(10);

/// The way to a bench that has been opened: another thread opens it once more.
#[derive(Debug, Clone)]
pub struct Door {
    path: PathBuf,
    connect: fn(&Path) -> Result<Connection, BenchError>,
}

impl Door {
    /// To a file that is there.
    pub(super) fn to_write(path: &Path) -> Door {
        Door::new(path, connect)
    }

    /// To a file beside which not even SQLite's own files can be made.
    pub(super) fn to_read(path: &Path) -> Door {
        Door::new(path, connect_to_read)
    }

    fn new(path: &Path, connect: fn(&Path) -> Result<Connection, BenchError>) -> Door {
        Door {
            // A bare ":memory:" would not be taken for a file.
            path: std::path::absolute(path).unwrap_or_else(|_| path.to_path_buf()),
            connect,
        }
    }

    pub(super) fn connect(&self) -> Result<Connection, BenchError> {
        (self.connect)(&self.path)
    }

    /// Opens the bench once more.
    ///
    /// # Errors
    /// Storage.
    pub fn open(&self) -> Result<Bench, BenchError> {
        Ok(Bench::new(self.connect()?, self.clone()))
    }
}

fn connect(path: &Path) -> Result<Connection, BenchError> {
    // No URI and no creation: the path is a path, and the file is there.
    let flags = OpenFlags::SQLITE_OPEN_READ_WRITE | OpenFlags::SQLITE_OPEN_NO_MUTEX;
    let connection = Connection::open_with_flags(path, flags)?;
    connection.busy_timeout(PATIENCE)?;
    connection.pragma_update(None, "foreign_keys", true)?;
    Ok(connection)
}

/// A file beside the bench: SQLite adds an ending to its name.
pub(super) fn beside(path: &Path, ending: &str) -> PathBuf {
    let mut name = path.as_os_str().to_owned();
    name.push(ending);
    PathBuf::from(name)
}

/// Opens a bench where not even SQLite's own files can be made beside it. Only where there are none,
/// so that nobody has it open for writing: SQLite is told that the file does not change.
fn connect_to_read(path: &Path) -> Result<Connection, BenchError> {
    let plain = |b: u8| b.is_ascii_alphanumeric() || b"/-_.~".contains(&b);
    let written: String = path
        .as_os_str()
        .as_encoded_bytes()
        .iter()
        .map(|&b| match plain(b) {
            true => char::from(b).to_string(),
            false => format!("%{b:02X}"),
        })
        .collect();
    let flags = OpenFlags::SQLITE_OPEN_READ_ONLY
        | OpenFlags::SQLITE_OPEN_URI
        | OpenFlags::SQLITE_OPEN_NO_MUTEX;
    Ok(Connection::open_with_flags(
        format!("file:{written}?immutable=1"),
        flags,
    )?)
}
