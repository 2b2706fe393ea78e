//! Roads as they are mapped, before any vehicle is chosen.
//!
//! `extract` reads the file, `tags`, `limits` and `condition` turn words into values, `turns` reads turn
//! restrictions, `network` cuts ways into segments between junctions, `saved` keeps a network in a file
//! that opens at once; `elevation` reads height grids; `local` is what people know beside the map;
//! `waters` open water to draft from, `shapes` reads lines and areas of any kind, `scenery` what a map shows besides roads, `buildings` what a zone counts beside them.

pub mod buildings;
pub mod condition;
pub mod elevation;
pub mod extract;
pub mod limits;
pub mod local;
pub mod moment;
pub mod network;
pub mod saved;
pub mod scenery;
pub mod shapes;
pub mod tags;
pub mod turns;
pub mod waters;
pub mod yards;
