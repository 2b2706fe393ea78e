//! tankerloop
pub mod cli;
pub mod finding;
pub mod place;
pub mod roads;
pub mod routing;
pub mod units;
pub mod vehicle;
