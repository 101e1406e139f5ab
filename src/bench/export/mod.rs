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

/// A measured value in its unit of output: 13 digits, so that the rounding of a conversion does not
/// show (2900.0000000000005) and the value read in again is the same to 1e-12.
fn in_unit(value: f64, unit_size: f64) -> f64 {
    let value = value / unit_size;
    format!("{value:.12e}").parse().unwrap_or(value)
}

fn failed(source: std::io::Error) -> BenchError {
    BenchError::File {
        path: "export".to_string(),
        source,
    }
}
