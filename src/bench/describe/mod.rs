//! Descriptions of heads, players and builds as TOML files.
//!
//! The file types are open: what a file says, unit in every key. They become checked core types
//! through [`read_head`] and [`BuildFile::club`]. Every number has a row in [`BOUNDS`]; numbers
//! that are not finite are refused first; everything that is wrong is told at once, with file,
//! line and column.

mod aim;
mod as_built;
pub(crate) mod bounds;
mod build;
mod head;
mod head_check;
mod player;
mod setting;
pub(crate) mod source;
mod stock;

pub use aim::{Aim, AimFile};
pub use as_built::{Angle, Angles};
pub use bounds::{BOUNDS, Bound};
pub(crate) use build::kept_build;
pub use build::{BuildFile, GaugeFile, MeasuredFile, PartFile, TakenAt, read_build};
pub(crate) use head::kept_head;
pub use head::{
    BendFile, FaceFile, HeadFile, MeasuredHeadFile, ScrewFile, SleeveFile, TrackFile, ZoneFile,
    read_head,
};
pub use player::{PlayerFile, read_player};
pub use setting::{SettingFile, TrackEntry};
pub use source::{DescribeError, Source, Violation};
pub use stock::{StockFile, WeightFile, read_stock};
