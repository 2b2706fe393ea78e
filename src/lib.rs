//! tankerloop
pub mod cli;
pub mod finding;
pub mod output;
pub mod place;
pub mod plan;
pub mod roads;
pub mod routing;
pub mod shuttle;
pub mod sites;
pub mod units;
pub mod vehicle;
pub mod verify;
pub mod water;
