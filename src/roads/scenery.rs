//! Water, woods and settlements of an extract, for the background of a map. Read apart from the roads
//! and only when a map is drawn: no plan rests on it.

use crate::place::{Bounds, Place};
use crate::roads::saved;
use crate::roads::tags::{SceneryKind, scenery_area, scenery_line, scenery_place};
use osmpbf::{Element, ElementReader, RelMemberType};
use std::collections::{HashMap, HashSet};
use std::path::Path;

/// An area with holes. Rings are closed: the last point is the first.
#[derive(Clone, Debug, PartialEq)]
pub struct Area {
    pub kind: SceneryKind,
    pub name: String,
    pub outer: Vec<Place>,
    pub holes: Vec<Vec<Place>>,
}

#[derive(Clone, Debug, PartialEq)]
pub struct Course {
    pub kind: SceneryKind,
    pub name: String,
    pub line: Vec<Place>,
}

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

/// A way kept by its nodes until their places are known.
struct Kept {
    area: Option<SceneryKind>,
    line: Option<SceneryKind>,
    name: String,
    nodes: Vec<i64>,
}

struct Multipolygon {
    kind: SceneryKind,
    name: String,
    outer: Vec<i64>,
    inner: Vec<i64>,
}

impl Scenery {
    /// Reads an `.osm.pbf`, or the one that a saved network was made from. The error says in words why
    /// there is nothing to show.
    pub fn read(path: &Path, bounds: &Bounds) -> Result<Scenery, String> {
        let extract = saved::extract_of(path).map_err(|e| format!("water and woods are not drawn: {e}"))?;
        let told =
            |e: osmpbf::Error| format!("water and woods cannot be read from {} ({e})", extract.display());
        let elements = || ElementReader::from_path(&extract).map_err(told);
        let mut multipolygons = Vec::new();
        elements()?
            .for_each(|element| {
                if let Element::Relation(relation) = element {
                    multipolygons.extend(multipolygon(&relation));
                }
            })
            .map_err(told)?;
        let members: HashSet<i64> =
            multipolygons.iter().flat_map(|m| m.outer.iter().chain(&m.inner)).copied().collect();
        let mut ways: HashMap<i64, Kept> = HashMap::new();
        let mut order = Vec::new();
        elements()?
            .for_each(|element| {
                let Element::Way(way) = element else { return };
                let tags: Vec<(&str, &str)> = way.tags().collect();
                let (area, line) = (scenery_area(&tags), scenery_line(&tags));
                if area.is_some() || line.is_some() || members.contains(&way.id()) {
                    order.push(way.id());
                    ways.insert(
                        way.id(),
                        Kept { area, line, name: named(&tags), nodes: way.refs().collect() },
                    );
                }
            })
            .map_err(told)?;
        let wanted: HashSet<i64> = ways.values().flat_map(|way| way.nodes.iter().copied()).collect();
        let mut places: HashMap<i64, Place> = HashMap::with_capacity(wanted.len());
        let mut scenery = Scenery::default();
        let mut node = |id: i64, place: Place, tags: &[(&str, &str)]| {
            if wanted.contains(&id) && place.on_earth() {
                places.insert(id, place);
            }
            let name = named(tags);
            if let Some(kind) = scenery_place(tags).filter(|_| !name.is_empty() && bounds.contains(place)) {
                scenery.settlements.push(Settlement { kind, name, place });
            }
        };
        elements()?
            .for_each(|element| match element {
                Element::DenseNode(n) => {
                    let tags: Vec<_> = n.tags().collect();
                    node(n.id(), Place::from_e7(n.decimicro_lon(), n.decimicro_lat()), &tags);
                }
                Element::Node(n) => {
                    let tags: Vec<_> = n.tags().collect();
                    node(n.id(), Place::from_e7(n.decimicro_lon(), n.decimicro_lat()), &tags);
                }
                Element::Way(_) | Element::Relation(_) => {}
            })
            .map_err(told)?;
        let line =
            |nodes: &[i64]| -> Vec<Place> { nodes.iter().filter_map(|n| places.get(n).copied()).collect() };
        for way in order.iter().filter_map(|id| ways.get(id)) {
            let closed = way.nodes.len() > 3 && way.nodes.first() == way.nodes.last();
            match (way.area, way.line) {
                (Some(kind), _) if closed => {
                    let name = way.name.clone();
                    scenery.areas.push(Area {
                        kind,
                        name,
                        outer: closed_ring(line(&way.nodes)),
                        holes: Vec::new(),
                    });
                }
                (_, Some(kind)) => {
                    scenery.courses.push(Course { kind, name: way.name.clone(), line: line(&way.nodes) });
                }
                _ => {}
            }
        }
        for m in &multipolygons {
            let rings = |ids: &[i64]| -> Vec<Vec<Place>> {
                let pieces = ids.iter().filter_map(|id| Some(ways.get(id)?.nodes.clone())).collect();
                rings_of(pieces).iter().map(|ring| closed_ring(line(ring))).collect()
            };
            let mut holes = rings(&m.inner);
            for outer in rings(&m.outer) {
                let (mine, others) = holes
                    .into_iter()
                    .partition(|h: &Vec<Place>| h.first().is_some_and(|p| within(*p, &outer)));
                holes = others;
                scenery.areas.push(Area { kind: m.kind, name: m.name.clone(), outer, holes: mine });
            }
        }
        let touches = |line: &[Place]| Bounds::around(line.iter().copied()).is_some_and(|b| b.meets(bounds));
        scenery.areas.retain(|area| area.outer.len() > 3 && touches(&area.outer));
        scenery.courses.retain(|course| course.line.len() > 1 && touches(&course.line));
        Ok(scenery)
    }
}

fn named(tags: &[(&str, &str)]) -> String {
    tags.iter().find(|(key, _)| *key == "name").map(|(_, name)| name.to_string()).unwrap_or_default()
}

fn multipolygon(relation: &osmpbf::Relation) -> Option<Multipolygon> {
    let tags: Vec<(&str, &str)> = relation.tags().collect();
    if !tags.contains(&("type", "multipolygon")) {
        return None;
    }
    let mut found =
        Multipolygon { kind: scenery_area(&tags)?, name: named(&tags), outer: Vec::new(), inner: Vec::new() };
    for member in relation.members().filter(|m| m.member_type == RelMemberType::Way) {
        let inner = member.role().is_ok_and(|role| role == "inner");
        if inner { &mut found.inner } else { &mut found.outer }.push(member.member_id);
    }
    Some(found)
}

/// Puts pieces together, end to end. A ring with a piece missing (outside the extract) is closed by a
/// straight line.
fn rings_of(mut pieces: Vec<Vec<i64>>) -> Vec<Vec<i64>> {
    let mut rings = Vec::new();
    while let Some(mut ring) = pieces.pop() {
        while ring.first() != ring.last() {
            let Some(end) = ring.last().copied() else { break };
            let next = pieces.iter().position(|p| p.first() == Some(&end) || p.last() == Some(&end));
            let Some(next) = next else { break };
            let mut piece = pieces.swap_remove(next);
            if piece.first() != Some(&end) {
                piece.reverse();
            }
            ring.extend(piece.into_iter().skip(1));
        }
        rings.push(ring);
    }
    rings
}

fn closed_ring(mut ring: Vec<Place>) -> Vec<Place> {
    if ring.first() != ring.last() {
        ring.extend(ring.first().copied());
    }
    ring
}

/// Even-odd rule, on longitude and latitude.
fn within(p: Place, ring: &[Place]) -> bool {
    let crossings = ring.windows(2).filter(|pair| {
        let (a, b) = (pair[0], pair[1]);
        (a.lat() > p.lat()) != (b.lat() > p.lat())
            && p.lon() < a.lon() + (p.lat() - a.lat()) / (b.lat() - a.lat()) * (b.lon() - a.lon())
    });
    crossings.count() % 2 == 1
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Three pieces of a ring 1-2-3-4-1, one of them against the others; and a ring of its own.
    #[test]
    fn pieces_become_rings() {
        let rings = rings_of(vec![vec![7, 8, 9, 7], vec![1, 2], vec![4, 3, 2], vec![4, 1]]);
        assert_eq!(rings.len(), 2);
        for ring in &rings {
            assert_eq!(ring.first(), ring.last());
        }
        let mut longest = rings.into_iter().max_by_key(Vec::len).unwrap();
        longest.sort_unstable();
        longest.dedup();
        assert_eq!(longest, [1, 2, 3, 4]);
    }

    #[test]
    fn a_point_is_within_a_ring_or_not() {
        let at = |lon, lat| Place::from_lon_lat(lon, lat).unwrap();
        let ring = [at(0.0, 0.0), at(2.0, 0.0), at(2.0, 2.0), at(0.0, 2.0), at(0.0, 0.0)];
        assert!(within(at(1.0, 1.0), &ring));
        assert!(!within(at(3.0, 1.0), &ring) && !within(at(-1.0, 1.0), &ring));
    }
}
