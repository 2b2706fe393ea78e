//! tankerloop
pub mod finding;
pub mod place;
pub mod units;
