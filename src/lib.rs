//! tankerloop
pub mod finding;
pub mod place;
pub mod units;
pub mod water;
