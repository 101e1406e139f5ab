//! Sessions: the shots of one player with one build on one day, from a CSV text.
//!
//! Columns are named by quantity and unit, such as `ball_speed_mph`; see
//! [`Quantity`](crate::quantity::Quantity). A [`Mapping`] names others. The whole session is
//! refused if a single cell is bad: half a session in the log would be worse than none. Values
//! stay in the real-world frame, right positive for both hands; nothing is mirrored here.

mod carried;
mod cell;
mod columns;
mod error;
mod flown;
mod mapping;
mod parse;
mod plausible;
mod rows;
mod swapped;

pub use columns::{ReadColumn, column_names};
pub use error::{BadCell, SessionError};
pub use flown::flown;
pub use mapping::{MappedColumn, Mapping, Positive, read_mapping};
pub(crate) use parse::hex;
pub use parse::{ParsedSession, ShotRow, parse_session};
pub use plausible::{Expected, Finding, Severity, Usual, plausibility};
