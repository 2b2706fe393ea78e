//! tankerloop
pub mod cli;
pub mod finding;
pub mod place;
pub mod roads;
pub mod routing;
pub mod shuttle;
pub mod sites;
pub mod units;
pub mod vehicle;
pub mod water;
