//! Where tankers fill and where they dump.

pub mod dump;
pub mod fill;
pub mod fill_file;
pub mod rig;
pub mod space;
