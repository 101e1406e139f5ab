//! trimtab
pub mod air;
pub mod ball;
pub mod constants;
pub mod flight;
pub mod hand;
pub mod head;
pub mod hosel;
pub mod impact;
pub mod launch;
pub mod units;
