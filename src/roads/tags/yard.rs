//! Tags of open ground on which a truck can turn.

use super::{Tags, get};

/// Whether a closed way is a yard: a parking area on the ground, or a service road mapped as an area.
///
/// A farmyard is none: its outline holds the buildings as well and says nothing of the room between
/// them (OSM wiki, "Tag:landuse=farmyard").
pub fn yard(tags: &Tags) -> bool {
    let shut = matches!(get(tags, "access"), Some("no" | "private"));
    let parking = get(tags, "amenity") == Some("parking")
        && matches!(get(tags, "parking"), None | Some("surface" | "yes" | "layby"));
    let paved =
        matches!(get(tags, "highway"), Some("service" | "pedestrian")) && get(tags, "area") == Some("yes");
    !shut && (parking || paved) && get(tags, "building").is_none_or(|word| word == "no")
}
