//! From laid roads to OpenStreetMap elements: chains of steps become ways, steps that change
//! nothing are dropped, ids are given in order.

use super::net::{Net, tags, via_kind};
use super::pbf::{Member, MemberType, Node, OsmData, Relation, Tags, Way};
use super::plane::{Point, simplify};
use std::collections::BTreeMap;

const FIRST_NODE: i64 = 1_000_001;
/// Nodes outside of the extract: referred to, never written.
const FIRST_MISSING: i64 = 2_000_001;
const FIRST_WAY: i64 = 500_001;
const FIRST_RELATION: i64 = 9_001;

pub struct Made {
    pub data: OsmData,
    /// Edge of the net to the id of its way.
    pub way_of: BTreeMap<usize, i64>,
}

/// Consecutive edges of one road with the same tags, none passing a point where ways must break.
fn chains(net: &Net) -> Vec<Vec<usize>> {
    let mut chains: Vec<Vec<usize>> = Vec::new();
    for (index, edge) in net.edges.iter().enumerate().filter(|(_, e)| !e.gone) {
        let goes_on = chains.last().and_then(|chain| chain.last()).is_some_and(|&last| {
            let before = &net.edges[last];
            before.b == edge.a
                && before.road == edge.road
                && before.tags == edge.tags
                && !net.split.contains(&edge.a)
        });
        match chains.last_mut() {
            Some(chain) if goes_on => chain.push(index),
            _ => chains.push(vec![index]),
        }
    }
    chains
}

pub fn make(net: &Net) -> Made {
    let mut data = OsmData::default();
    let mut way_of = BTreeMap::new();
    let mut ids: BTreeMap<usize, i64> = BTreeMap::new();
    let mut next_node = FIRST_NODE;
    let mut next_missing = FIRST_MISSING;
    let push_node = |data: &mut OsmData, next: &mut i64, at: Point, tags: Tags| {
        let (lon_e7, lat_e7) = at.e7();
        data.nodes.push(Node { id: *next, lon_e7, lat_e7, tags });
        *next += 1;
        *next - 1
    };
    for chain in chains(net) {
        let first = &net.edges[chain[0]];
        let mut nodes = vec![first.a];
        nodes.extend(chain.iter().map(|e| net.edges[*e].b));
        let line: Vec<Point> = nodes.iter().map(|n| net.nodes[*n].at).collect();
        // Half a metre off is not seen on a map; junctions, tagged nodes and breaks stay anyway.
        let keep = simplify(&line, 0.6);
        let kept = nodes.iter().zip(keep).filter(|(node, keep)| {
            *keep || net.alive(**node).len() != 2 || !net.nodes[**node].tags.is_empty()
        });
        let mut refs: Vec<i64> = Vec::new();
        for (&node, _) in kept {
            let id = *ids.entry(node).or_insert_with(|| {
                push_node(&mut data, &mut next_node, net.nodes[node].at, net.nodes[node].tags.clone())
            });
            refs.push(id);
        }
        let missing = |next: &mut i64| {
            *next += 1;
            *next - 1
        };
        if net.leaving.contains(&nodes[0]) {
            refs.insert(0, missing(&mut next_missing));
        }
        if net.leaving.contains(&nodes[nodes.len() - 1]) {
            refs.push(missing(&mut next_missing));
        }
        let road = &net.roads[first.road];
        let mut list = tags(&[("highway", road.class)]);
        list.extend(road.name.iter().map(|name| ("name".to_string(), name.clone())));
        list.extend(road.tags.iter().cloned());
        list.extend(first.tags.iter().cloned());
        let id = FIRST_WAY + data.ways.len() as i64;
        data.ways.push(Way { id, refs, tags: list });
        way_of.extend(chain.iter().map(|e| (*e, id)));
    }
    let mut drawn = Vec::new();
    for drawing in &net.drawings {
        if let [at] = drawing.points[..] {
            push_node(&mut data, &mut next_node, at, drawing.tags.clone());
            drawn.push(0);
            continue;
        }
        let point = |p: &Point| push_node(&mut data, &mut next_node, *p, Vec::new());
        let mut refs: Vec<i64> = drawing.points.iter().map(point).collect();
        if drawing.closed {
            refs.push(refs[0]);
        }
        let id = FIRST_WAY + data.ways.len() as i64;
        data.ways.push(Way { id, refs, tags: drawing.tags.clone() });
        drawn.push(id);
    }
    relations(net, &mut data, &way_of, &ids, &drawn);
    Made { data, way_of }
}

fn relations(
    net: &Net,
    data: &mut OsmData,
    way_of: &BTreeMap<usize, i64>,
    ids: &BTreeMap<usize, i64>,
    drawn: &[i64],
) {
    let member = |role: &str, kind, id| Member { role: role.to_string(), kind, id };
    for restriction in &net.restrictions {
        let via = restriction.via_edge.map_or(ids[&restriction.via_node], |edge| way_of[&edge]);
        data.relations.push(Relation {
            id: FIRST_RELATION + data.relations.len() as i64,
            members: vec![
                member("from", MemberType::Way, way_of[&restriction.from]),
                member("via", via_kind(restriction), via),
                member("to", MemberType::Way, way_of[&restriction.to]),
            ],
            tags: tags(&[("type", "restriction"), ("restriction", restriction.kind)]),
        });
    }
    for (outer, inner, list) in &net.multipolygons {
        data.relations.push(Relation {
            id: FIRST_RELATION + data.relations.len() as i64,
            members: vec![
                member("outer", MemberType::Way, drawn[*outer]),
                member("inner", MemberType::Way, drawn[*inner]),
            ],
            tags: list.clone(),
        });
    }
}
