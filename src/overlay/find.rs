//! The road that an entry means.

use super::along::{TOLERANCE_M, distance_m, follow};
use super::lay::Laying;
use super::{Direction, Entry, Shape};
use crate::finding::Code;
use crate::place::Place;
use crate::roads::tags::RoadTags;
use std::collections::BTreeMap;

/// Of a longer stretch so much must lie in an area: less is the rim of a hand-drawn line.
const INSIDE_M: f64 = 1.0;
/// Farther off than this it is meant for another extract.
const FAR_OFF_M: f64 = 1_000.0;
/// A line that leaves the roads for longer than this is told of.
const LOST_M: f64 = 30.0;

impl Laying<'_, '_> {
    pub(super) fn way_id(&self, segment: usize) -> i64 {
        self.network.ways[self.network.segments[segment].way as usize].id
    }
    pub(super) fn tags(&self, segment: usize) -> &RoadTags {
        &self.network.ways[self.network.segments[segment].way as usize].tags
    }
    pub(super) fn metres(&self, segments: impl IntoIterator<Item = usize>) -> f64 {
        segments.into_iter().map(|s| f64::from(self.network.segments[s].length_m)).sum()
    }
    pub(super) fn of_way(&self, id: i64) -> Vec<usize> {
        let first = self.of_ways.partition_point(|(way, _)| *way < id);
        self.of_ways[first..].iter().take_while(|(way, _)| *way == id).map(|(_, s)| *s).collect()
    }
    pub(super) fn inside_m(&self, entry: &Entry, segment: usize) -> f64 {
        let points = self.network.points(segment);
        let part = |pair: &[Place]| entry.shape.share_inside(pair[0], pair[1]) * pair[0].distance(pair[1]).0;
        points.windows(2).map(part).sum()
    }

    /// Segments of the way named, or near the shape; none, and told, where there is none.
    pub(super) fn candidates(&mut self, entry: &Entry) -> Option<Vec<usize>> {
        if let Some(id) = entry.way {
            let found = self.of_way(id);
            if found.is_empty() {
                self.lost(entry, &format!("no road of {} has the way id {id}", self.network.file));
            }
            return (!found.is_empty()).then_some(found);
        }
        let around = entry.shape.bounds(TOLERANCE_M)?;
        if !entry.shape.bounds(FAR_OFF_M)?.meets(&self.network.bounds) {
            self.lost(entry, &format!("it lies outside the roads of {}", self.network.file));
            return None;
        }
        let near = |s: &usize| self.boxes[*s].is_some_and(|b| b.meets(&around));
        Some((0..self.network.segments.len()).filter(near).collect())
    }

    /// Segments that the entry means, each with its directions, with and against the node order.
    pub(super) fn meant(&mut self, entry: &Entry, direction: Direction) -> Vec<(usize, [bool; 2])> {
        let Some(candidates) = self.candidates(entry) else { return Vec::new() };
        let sides = |with: bool| [direction.takes(with), direction.takes(!with)];
        let mut found: BTreeMap<usize, [bool; 2]> = BTreeMap::new();
        let mut add = |segment: usize, with: bool| {
            let known = found.entry(segment).or_default();
            *known = [known[0] || sides(with)[0], known[1] || sides(with)[1]];
        };
        match &entry.shape {
            Shape::None => candidates.into_iter().for_each(|s| add(s, true)),
            Shape::Area(_) => {
                let least = |s: usize| INSIDE_M.min(f64::from(self.network.segments[s].length_m) - 0.01);
                let inside = |s: &usize| self.inside_m(entry, *s) >= least(*s).max(f64::MIN_POSITIVE);
                candidates.into_iter().filter(inside).for_each(|s| add(s, true));
            }
            Shape::Lines(lines) => {
                let (mut lost, mut all) = (0.0, 0.0);
                for line in lines {
                    let followed = follow(self.network, &candidates, line);
                    (lost, all) = (lost + followed.lost_m, all + followed.length_m);
                    followed.stretches.into_iter().for_each(|(s, with)| add(s, with));
                }
                if lost > LOST_M && !found.is_empty() {
                    self.tell(
                        Code::OverlayUnmatched,
                        entry.place(),
                        format!("{lost:.0} m of its {all:.0} m run along no road within {TOLERANCE_M:.0} m"),
                        "draw the line along the road, or give the way id",
                    );
                }
            }
            Shape::Point(at) => {
                // A weight is asked for a bridge; where the way is named, for that way.
                let fits = |s: &usize| entry.way.is_some() || self.tags(*s).bridge;
                let near = candidates.into_iter().filter(fits);
                let nearest = near.map(|s| (distance_m(self.network.points(s), *at), s));
                let nearest = nearest.min_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1)));
                if let Some((_, segment)) = nearest.filter(|(m, _)| *m <= TOLERANCE_M) {
                    add(segment, true);
                }
            }
        }
        found.into_iter().collect()
    }

    /// The junction at which the gate stands.
    pub(super) fn gate(&mut self, entry: &Entry) -> Option<usize> {
        let junctions = &self.network.junctions;
        let found = match (entry.node, &entry.shape) {
            (Some(id), _) => (0..junctions.len()).find(|j| junctions[*j].osm_id == id),
            (None, Shape::Point(at)) => {
                let barrier = |j: &usize| self.network.mark(*j).is_some_and(|mark| mark.barrier.is_some());
                let near =
                    (0..junctions.len()).filter(barrier).map(|j| (junctions[j].place.distance(*at).0, j));
                let nearest = near.min_by(|a, b| a.0.total_cmp(&b.0));
                nearest.filter(|(metres, _)| *metres <= TOLERANCE_M).map(|(_, j)| j)
            }
            _ => None,
        };
        if found.is_none() {
            let why = match entry.node {
                Some(id) => format!("no gate or junction of {} has the node id {id}", self.network.file),
                None => format!("no gate stands within {TOLERANCE_M:.0} m"),
            };
            self.lost(entry, &why);
        }
        found
    }
}
