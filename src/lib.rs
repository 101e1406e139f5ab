//! trimtab
pub mod air;
pub mod ball;
pub mod bench;
pub mod club;
pub mod constants;
pub mod flight;
pub mod hand;
pub mod head;
pub mod hosel;
pub mod impact;
pub mod launch;
pub mod quantity;
pub mod units;
pub mod workshop;
