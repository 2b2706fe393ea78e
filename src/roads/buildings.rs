//! Buildings of an extract, a place each. Read only where asked for: no plan rests on them.

use crate::place::{Bounds, Place};
use crate::roads::tags::{self, Tags};
use osmpbf::RelMemberType;
use rayon::prelude::*;

/// What is read of an extract beside the roads.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Wish {
    pub buildings: bool,
}

/// Buildings as read, until the places of their nodes are known.
#[derive(Debug, Default)]
pub struct RawBuildings {
    /// Ways tagged as buildings: id and range of `refs`.
    ways: Vec<(i64, usize, usize)>,
    refs: Vec<i64>,
    /// The first node of every other way: a multipolygon's outline need not be tagged.
    others: Vec<(i64, i64)>,
    /// Outlines of the multipolygons tagged as buildings.
    outlines: Vec<Vec<i64>>,
}

impl RawBuildings {
    pub fn way(&mut self, way: &osmpbf::Way, tags: &Tags) {
        if tags::building(tags) {
            let first = self.refs.len();
            self.refs.extend(way.refs());
            self.ways.push((way.id(), first, self.refs.len()));
        } else if let Some(first) = way.refs().next() {
            self.others.push((way.id(), first));
        }
    }

    pub fn relation(&mut self, relation: &osmpbf::Relation, tags: &Tags) {
        if tags::building(tags) && tags.contains(&("type", "multipolygon")) {
            let ways = relation.members().filter(|m| m.member_type == RelMemberType::Way);
            let outer = ways.filter(|m| m.role().is_ok_and(|role| role != "inner"));
            self.outlines.push(outer.map(|m| m.member_id).collect());
        }
    }

    pub fn take(&mut self, part: RawBuildings) {
        let shift = self.refs.len();
        self.refs.extend(part.refs);
        self.ways.extend(part.ways.into_iter().map(|(id, from, to)| (id, from + shift, to + shift)));
        self.others.extend(part.others);
        self.outlines.extend(part.outlines);
    }

    /// One place each: of a way the middle of its bounds, of a multipolygon the first node of its outline
    /// that the extract holds. A way that is the outline of a multipolygon is not counted beside it, and
    /// what lies wholly outside the extract is none of it.
    pub fn places(mut self, place_of: impl Fn(i64) -> Option<Place> + Sync) -> Vec<Place> {
        self.others.sort_unstable();
        let mut outer: Vec<i64> = self.outlines.iter().flatten().copied().collect();
        outer.sort_unstable();
        let alone = |(id, from, to): &(i64, usize, usize)| {
            let own = outer.binary_search(id).is_err();
            let places = self.refs[*from..*to].iter().filter_map(|node| place_of(*node));
            let bounds = own.then(|| Bounds::around(places))??;
            Some(bounds.west_south.between(bounds.east_north, 0.5))
        };
        let mut places: Vec<Place> = self.ways.par_iter().with_min_len(1024).filter_map(alone).collect();
        let mut tagged: Vec<(i64, usize)> = self.ways.iter().map(|(id, from, _)| (*id, *from)).collect();
        tagged.sort_unstable();
        let first_node = |way: &i64| {
            let at =
                |known: &[(i64, i64)]| known.binary_search_by_key(way, |(id, _)| *id).map(|i| known[i].1);
            let of_tagged = || tagged.binary_search_by_key(way, |(id, _)| *id).map(|i| tagged[i].1);
            at(&self.others).ok().or_else(|| self.refs.get(of_tagged().ok()?).copied())
        };
        let corner = |ways: &Vec<i64>| ways.iter().filter_map(first_node).find_map(&place_of);
        places.extend(self.outlines.iter().filter_map(corner));
        places
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Way 1 is a building, ways 2 and 3 the outlines of two multipolygons, of which way 2 is tagged too; the
    /// nodes of the third multipolygon's way 9 are not in the extract.
    #[test]
    fn one_place_each() {
        let raw = RawBuildings {
            ways: vec![(1, 0, 3), (2, 3, 5)],
            refs: vec![10, 11, 12, 20, 21],
            others: vec![(9, 99), (3, 30)],
            outlines: vec![vec![2], vec![3], vec![9]],
        };
        let at = |node: i64| Some(Place::from_e7(node as i32, 2 * node as i32)).filter(|_| node < 90);
        assert_eq!(raw.places(at), [11, 20, 30].map(|node| Place::from_e7(node, 2 * node)));
    }
}
