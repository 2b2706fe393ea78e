//! Where tankers fill and where they dump.

pub mod dump;
pub mod fill;
pub mod fill_file;
mod fill_row;
mod rate;
pub mod rig;
pub mod season;
pub mod share;
pub mod space;
