//! What the integration tests share. Each test file uses a part of it.
#![allow(dead_code)]

pub mod drive;
pub mod extracts;
#[path = "../../examples/county/pbf.rs"]
pub mod pbf;
pub mod tangle;
pub mod world;
