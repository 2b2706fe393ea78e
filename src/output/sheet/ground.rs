//! What lies under the legs on the map of a sheet: roads and water around an option.

use crate::output::backdrop;
use crate::place::{Bounds, Place};
use crate::roads::network::Network;
use crate::roads::scenery::Scenery;
use crate::roads::tags::{Class, SceneryKind};
use std::path::Path;

/// How heavy a road is drawn.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Weight {
    Main,
    Middle,
    Small,
    Track,
}

pub struct Road {
    pub weight: Weight,
    pub name: String,
    /// Closed both ways by an overlay.
    pub closed: bool,
    pub line: Vec<Place>,
}

#[derive(Default)]
pub struct Ground {
    pub roads: Vec<Road>,
    /// Rings of water, even-odd.
    pub water: Vec<Vec<Vec<Place>>>,
    pub courses: Vec<Vec<Place>>,
    pub settlements: Vec<(String, Place)>,
    /// Why something is not drawn.
    pub note: Option<String>,
}

/// Of the area that a map of these places shows.
pub fn read(network: &Network, file: &Path, shown: &Bounds) -> Ground {
    let area = backdrop::area(shown);
    let (scenery, note) = match Scenery::read(file, &area) {
        Ok(scenery) => (scenery, None),
        Err(why) => (Scenery::default(), Some(why)),
    };
    let road = |found: backdrop::RoadLine| {
        let way = &network.ways[found.way];
        let local = way.tags.local.as_ref();
        Some(Road {
            weight: weight(way.tags.class)?,
            name: network.name(way).to_string(),
            closed: local.is_some_and(|l| l.closed.iter().all(Option::is_some)),
            line: found.points,
        })
    };
    let water = scenery.areas.into_iter().filter(|area| area.kind.0 == SceneryKind::Water);
    Ground {
        roads: backdrop::lines(network, &area).into_iter().filter_map(road).collect(),
        water: water.map(|area| std::iter::once(area.outer).chain(area.holes).collect()).collect(),
        courses: scenery.courses.into_iter().map(|course| course.line).collect(),
        settlements: scenery.settlements.into_iter().map(|s| (s.name, s.place)).collect(),
        note,
    }
}

/// None for what is no road.
fn weight(class: Class) -> Option<Weight> {
    match class {
        _ if class <= Class::Secondary => Some(Weight::Main),
        Class::Tertiary => Some(Weight::Middle),
        Class::Track | Class::Service => Some(Weight::Track),
        Class::Ferry => None,
        _ => Some(Weight::Small),
    }
}
