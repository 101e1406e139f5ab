//! Everything out again: TOML, CSV, JSON.
//!
//! Heads, players and builds come out as the text that went in ([`Bench::heads`] and so on). A
//! session comes out as a CSV file that can be read in again with the same result. The whole bench
//! comes out as one JSON document with the unit in every key.
//!
//! [`Bench::heads`]: super::Bench::heads

mod csv;
mod json;

pub use csv::{session_csv, shots_csv};
pub use json::{FORMAT, FORMAT_VERSION, bench_json, measured_json, session_json};

use super::BenchError;

fn failed(source: std::io::Error) -> BenchError {
    BenchError::File {
        path: "export".to_string(),
        source,
    }
}
