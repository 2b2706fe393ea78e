//! Lines and areas of an extract, chosen by their tags: multipolygons put together, nodes turned into places.
//! Read apart from the roads, by whoever needs what a network does not hold.

use crate::finding::OsmRef;
use crate::place::Place;
use crate::roads::tags::Tags;
use osmpbf::{Element, ElementReader, RelMemberType};
use std::collections::{HashMap, HashSet};
use std::path::Path;

/// An area with holes. Rings are closed: the last point is the first.
#[derive(Clone, Debug, PartialEq)]
pub struct Area<K> {
    pub kind: K,
    pub osm: OsmRef,
    pub outer: Vec<Place>,
    pub holes: Vec<Vec<Place>>,
}

#[derive(Clone, Debug, PartialEq)]
pub struct Line<K> {
    pub kind: K,
    pub osm: OsmRef,
    pub line: Vec<Place>,
}

/// In the order of the file: closed ways and lines, then multipolygons.
#[derive(Clone, Debug, PartialEq)]
pub struct Shapes<K> {
    pub areas: Vec<Area<K>>,
    pub lines: Vec<Line<K>>,
}

/// What of an extract is wanted.
pub struct Wanted<'w, K> {
    /// Of a closed way or multipolygon.
    pub area: &'w dyn Fn(&Tags) -> Option<K>,
    /// Of any way.
    pub line: &'w dyn Fn(&Tags) -> Option<K>,
    /// Told every node on earth with its tags.
    pub node: &'w mut dyn FnMut(Place, &Tags),
}

/// A way kept by its nodes until their places are known.
struct Kept<K> {
    area: Option<K>,
    line: Option<K>,
    nodes: Vec<i64>,
}

struct Multipolygon<K> {
    id: i64,
    kind: K,
    outer: Vec<i64>,
    inner: Vec<i64>,
}

/// Reads an `.osm.pbf` in three passes.
pub fn read<K: Clone>(extract: &Path, wanted: Wanted<K>) -> Result<Shapes<K>, osmpbf::Error> {
    let elements = || ElementReader::from_path(extract);
    let mut multipolygons = Vec::new();
    elements()?.for_each(|element| {
        if let Element::Relation(relation) = element {
            multipolygons.extend(multipolygon(&relation, wanted.area));
        }
    })?;
    let members: HashSet<i64> =
        multipolygons.iter().flat_map(|m| m.outer.iter().chain(&m.inner)).copied().collect();
    let mut ways: HashMap<i64, Kept<K>> = HashMap::new();
    let mut order = Vec::new();
    elements()?.for_each(|element| {
        let Element::Way(way) = element else { return };
        let tags: Vec<(&str, &str)> = way.tags().collect();
        let (area, line) = ((wanted.area)(&tags), (wanted.line)(&tags));
        if area.is_some() || line.is_some() || members.contains(&way.id()) {
            order.push(way.id());
            ways.insert(way.id(), Kept { area, line, nodes: way.refs().collect() });
        }
    })?;
    let needed: HashSet<i64> = ways.values().flat_map(|way| way.nodes.iter().copied()).collect();
    let mut places: HashMap<i64, Place> = HashMap::with_capacity(needed.len());
    let mut node = |id: i64, place: Place, tags: &Tags| {
        if place.on_earth() {
            if needed.contains(&id) {
                places.insert(id, place);
            }
            (wanted.node)(place, tags);
        }
    };
    elements()?.for_each(|element| match element {
        Element::DenseNode(n) => {
            let tags: Vec<_> = n.tags().collect();
            node(n.id(), Place::from_e7(n.decimicro_lon(), n.decimicro_lat()), &tags);
        }
        Element::Node(n) => {
            let tags: Vec<_> = n.tags().collect();
            node(n.id(), Place::from_e7(n.decimicro_lon(), n.decimicro_lat()), &tags);
        }
        Element::Way(_) | Element::Relation(_) => {}
    })?;
    let line =
        |nodes: &[i64]| -> Vec<Place> { nodes.iter().filter_map(|n| places.get(n).copied()).collect() };
    let mut shapes = Shapes { areas: Vec::new(), lines: Vec::new() };
    for (id, way) in order.iter().filter_map(|id| Some((*id, ways.get(id)?))) {
        let osm = OsmRef::Way(id);
        let closed = way.nodes.len() > 3 && way.nodes.first() == way.nodes.last();
        match (&way.area, &way.line) {
            (Some(kind), _) if closed => {
                let outer = closed_ring(line(&way.nodes));
                shapes.areas.push(Area { kind: kind.clone(), osm, outer, holes: Vec::new() });
            }
            (_, Some(kind)) => {
                shapes.lines.push(Line { kind: kind.clone(), osm, line: line(&way.nodes) });
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
            let (mine, others) =
                holes.into_iter().partition(|h: &Vec<Place>| h.first().is_some_and(|p| within(*p, &outer)));
            holes = others;
            let osm = OsmRef::Relation(m.id);
            shapes.areas.push(Area { kind: m.kind.clone(), osm, outer, holes: mine });
        }
    }
    shapes.areas.retain(|area| area.outer.len() > 3);
    shapes.lines.retain(|line| line.line.len() > 1);
    Ok(shapes)
}

fn multipolygon<K>(
    relation: &osmpbf::Relation,
    area: &dyn Fn(&Tags) -> Option<K>,
) -> Option<Multipolygon<K>> {
    let tags: Vec<(&str, &str)> = relation.tags().collect();
    if !tags.contains(&("type", "multipolygon")) {
        return None;
    }
    let kind = area(&tags)?;
    let mut found = Multipolygon { id: relation.id(), kind, outer: Vec::new(), inner: Vec::new() };
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
