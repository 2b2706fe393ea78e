//! Where tankers fill and where they dump.

pub mod dump;
pub mod fill;
pub mod fill_file;
mod fill_row;
pub mod fill_water;
mod rate;
pub mod rig;
pub mod season;
pub mod share;
pub mod space;
