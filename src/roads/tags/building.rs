//! Tags of buildings.

use super::{Tags, yes};

/// Whether a way or multipolygon is a building (OSM wiki, "Key:building"). A `building:part` is none: it
/// lies within one.
pub fn building(tags: &Tags) -> bool {
    yes(tags, "building")
}
