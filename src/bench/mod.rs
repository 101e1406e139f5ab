//! The bench: descriptions, sessions and the log of record. One bench, one file.
//!
//! - [`describe`]: heads, players and builds as TOML files;
//! - [`session`]: the shots of a day from a CSV text;
//! - [`store`]: the log of record, an SQLite file;
//! - [`export`]: everything out again.
//!
//! The bench knows the core; the core does not know the bench. It has no clock and reads no files
//! but its own: texts and times come in from the caller.

pub mod describe;
mod error;
pub mod export;
pub mod session;
pub mod store;

pub use error::{BenchError, ErrorKind};
pub use store::Bench;
