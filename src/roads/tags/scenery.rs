//! Tags of what a map shows besides roads. Nothing of it is planned on.

use super::{Tags, get};

#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum SceneryKind {
    Water,
    Wood,
    River,
    Stream,
    Coast,
    Town,
    Village,
}

impl SceneryKind {
    pub fn as_str(self) -> &'static str {
        match self {
            SceneryKind::Water => "water",
            SceneryKind::Wood => "wood",
            SceneryKind::River => "river",
            SceneryKind::Stream => "stream",
            SceneryKind::Coast => "coast",
            SceneryKind::Town => "town",
            SceneryKind::Village => "village",
        }
    }
}

/// Reads a closed way or a multipolygon.
pub fn scenery_area(tags: &Tags) -> Option<SceneryKind> {
    match (get(tags, "natural"), get(tags, "landuse"), get(tags, "waterway")) {
        (Some("water"), ..) | (_, Some("reservoir" | "basin"), _) | (.., Some("riverbank")) => {
            Some(SceneryKind::Water)
        }
        (Some("wood"), ..) | (_, Some("forest"), _) => Some(SceneryKind::Wood),
        _ => None,
    }
}

/// Reads a way along which something runs.
pub fn scenery_line(tags: &Tags) -> Option<SceneryKind> {
    match (get(tags, "waterway"), get(tags, "natural")) {
        (Some("river" | "canal"), _) => Some(SceneryKind::River),
        (Some("stream" | "ditch" | "drain"), _) => Some(SceneryKind::Stream),
        (_, Some("coastline")) => Some(SceneryKind::Coast),
        _ => None,
    }
}

/// Reads a node of a settlement.
pub fn scenery_place(tags: &Tags) -> Option<SceneryKind> {
    match get(tags, "place") {
        Some("city" | "town") => Some(SceneryKind::Town),
        Some("village" | "hamlet" | "suburb") => Some(SceneryKind::Village),
        _ => None,
    }
}
