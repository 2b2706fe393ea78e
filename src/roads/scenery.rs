//! Water, woods and settlements of an extract, for the background of a map. Read apart from the roads
//! and only when a map is drawn: no plan rests on it.

use crate::place::{Bounds, Place};
use crate::roads::saved;
use crate::roads::shapes::{self, Wanted};
use crate::roads::tags::{SceneryKind, Tags, scenery_area, scenery_line, scenery_place};
use std::path::Path;

/// What a thing is, and its name.
pub type Named = (SceneryKind, String);
pub type Area = shapes::Area<Named>;
pub type Course = shapes::Line<Named>;

#[derive(Clone, Debug, PartialEq)]
pub struct Settlement {
    pub kind: SceneryKind,
    pub name: String,
    pub place: Place,
}

/// In the order of the file, whatever of it touches the bounds asked for.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Scenery {
    pub areas: Vec<Area>,
    pub courses: Vec<Course>,
    pub settlements: Vec<Settlement>,
}

impl Scenery {
    /// Reads an `.osm.pbf`, or the one that a saved network was made from. The error says in words why
    /// there is nothing to show.
    pub fn read(path: &Path, bounds: &Bounds) -> Result<Scenery, String> {
        let extract = saved::extract_of(path).map_err(|e| format!("water and woods are not drawn: {e}"))?;
        let mut settlements = Vec::new();
        let wanted = Wanted {
            area: &|tags| Some((scenery_area(tags)?, named(tags))),
            line: &|tags| Some((scenery_line(tags)?, named(tags))),
            node: &mut |place, tags| {
                let name = named(tags);
                let kind = scenery_place(tags).filter(|_| !name.is_empty() && bounds.contains(place));
                settlements.extend(kind.map(|kind| Settlement { kind, name, place }));
            },
        };
        let mut read = shapes::read(&extract, wanted)
            .map_err(|e| format!("water and woods cannot be read from {} ({e})", extract.display()))?;
        let touches = |line: &[Place]| Bounds::around(line.iter().copied()).is_some_and(|b| b.meets(bounds));
        read.areas.retain(|area| touches(&area.outer));
        read.lines.retain(|course| touches(&course.line));
        Ok(Scenery { areas: read.areas, courses: read.lines, settlements })
    }
}

fn named(tags: &Tags) -> String {
    tags.iter().find(|(key, _)| *key == "name").map(|(_, name)| name.to_string()).unwrap_or_default()
}
