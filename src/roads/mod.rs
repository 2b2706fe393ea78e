//! Roads as they are mapped, before any vehicle is chosen.
//!
//! `extract` reads the file, `tags` and `limits` turn words into values, `turns` reads turn
//! restrictions, `network` cuts ways into segments between junctions, `saved` keeps a network in a
//! file that opens at once.

pub mod extract;
pub mod limits;
pub mod network;
pub mod saved;
pub mod tags;
pub mod turns;
