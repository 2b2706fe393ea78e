//! tankerloop
pub mod finding;
pub mod place;
pub mod shuttle;
pub mod units;
