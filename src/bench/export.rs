//! Everything out again.
