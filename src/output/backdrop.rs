//! The background of a map: roads by class with names, water, woods and settlements of an area, drawn
//! coarser where there is much of it, as compact JSON that src/web/page/backdrop.ts unpacks.
//!
//! Positions are as `walk` has them.

use crate::output::walk::Walk;
use crate::place::{Bounds, Place};
use crate::roads::network::Network;
use crate::roads::scenery::Scenery;
use crate::roads::tags::Class;
use serde_json::{Value, json};
use std::collections::HashMap;
use std::path::Path;

/// Points that keep a page well under its size; about 6 bytes each.
const MOST_POINTS: usize = 150_000;
/// Tolerance in metres, and the least road class drawn, tried in this order.
const COARSER: [(f64, Class); 7] = [
    (1.5, Class::Ferry),
    (4.0, Class::Ferry),
    (10.0, Class::Ferry),
    (10.0, Class::Service),
    (15.0, Class::Residential),
    (25.0, Class::Unclassified),
    (40.0, Class::Secondary),
];
/// Around what the answer shows, in metres at least and as a share of its greater side: a screen is
/// wider or higher than the answer.
const LEAST_MARGIN_M: f64 = 1_500.0;
const MARGIN_SHARE: f64 = 0.4;
/// Of the meridian; longitude has fewer. Good enough for a margin.
const METRES_PER_DEGREE: f64 = 111_000.0;

/// The area that a map of these bounds shows.
pub fn area(bounds: &Bounds) -> Bounds {
    let (west_south, east_north) = (bounds.west_south, bounds.east_north);
    let shrink = west_south.lat().to_radians().cos().max(0.05);
    let height_m = (east_north.lat() - west_south.lat()) * METRES_PER_DEGREE;
    let width_m = (east_north.lon() - west_south.lon()) * METRES_PER_DEGREE * shrink;
    let margin = (height_m.max(width_m) * MARGIN_SHARE).max(LEAST_MARGIN_M) / METRES_PER_DEGREE;
    let moved = |place: Place, way: f64| {
        let e7 = |degrees: f64, limit: f64| (degrees.clamp(-limit, limit) * 1e7).round() as i32;
        let (lon, lat) = (place.lon() + way * margin / shrink, place.lat() + way * margin);
        Place::from_e7(e7(lon, 180.0), e7(lat, 90.0))
    };
    Bounds { west_south: moved(west_south, -1.0), east_north: moved(east_north, 1.0) }
}

/// The same, with the scenery of the extract that a road file is or was saved from.
pub fn read(network: &Network, file: &Path, area: &Bounds) -> Value {
    json(network, &Scenery::read(file, area), area)
}

/// The roads of the area, and its scenery or why there is none.
pub fn json(network: &Network, scenery: &Result<Scenery, String>, area: &Bounds) -> Value {
    let lines = lines(network, area);
    let mut notes: Vec<String> = scenery.as_ref().err().cloned().into_iter().collect();
    let bare = Scenery::default();
    let scenery = scenery.as_ref().unwrap_or(&bare);
    let mut packed = Packed::new(area.west_south, 0.0);
    for (tolerance_m, least) in COARSER {
        packed = Packed::new(area.west_south, tolerance_m);
        packed.roads(network, &lines, least);
        packed.scenery(scenery);
        if packed.points <= MOST_POINTS {
            if least < Class::Track {
                notes.push(format!("smaller roads than {} are not drawn: the area is large", least.as_str()));
            }
            break;
        }
    }
    json!({
        "origin": packed.walk.origin(),
        "bbox": area.bbox(),
        "tolerance_m": packed.walk.tolerance_m,
        "notes": notes,
        "names": packed.names,
        "roads": packed.roads,
        "areas": packed.areas,
        "courses": packed.courses,
        "settlements": packed.settlements,
    })
}

/// A stretch of one way without a gap.
pub(super) struct RoadLine {
    pub way: usize,
    pub points: Vec<Place>,
}

/// Segments put together again, way by way: a name along a road needs length.
pub(super) fn lines(network: &Network, area: &Bounds) -> Vec<RoadLine> {
    let mut lines: Vec<RoadLine> = Vec::new();
    for (i, segment) in network.segments.iter().enumerate() {
        let points = network.points(i);
        if !Bounds::around(points.iter().copied()).is_some_and(|b| b.meets(area)) {
            continue;
        }
        let way = segment.way as usize;
        match lines.last_mut() {
            Some(last) if last.way == way && last.points.last() == points.first() => {
                last.points.extend(points.iter().skip(1));
            }
            _ => lines.push(RoadLine { way, points: points.to_vec() }),
        }
    }
    lines
}

struct Packed {
    walk: Walk,
    points: usize,
    names: Vec<String>,
    index_of: HashMap<String, usize>,
    roads: Vec<Value>,
    areas: Vec<Value>,
    courses: Vec<Value>,
    settlements: Vec<Value>,
}

impl Packed {
    fn new(corner: Place, tolerance_m: f64) -> Packed {
        Packed {
            walk: Walk { corner, tolerance_m },
            points: 0,
            names: vec![String::new()],
            index_of: HashMap::from([(String::new(), 0)]),
            roads: Vec::new(),
            areas: Vec::new(),
            courses: Vec::new(),
            settlements: Vec::new(),
        }
    }

    fn name(&mut self, name: &str) -> usize {
        if let Some(index) = self.index_of.get(name) {
            return *index;
        }
        self.names.push(name.to_string());
        self.index_of.insert(name.to_string(), self.names.len() - 1);
        self.names.len() - 1
    }

    fn line(&mut self, points: &[Place]) -> Vec<i64> {
        let steps = self.walk.steps(points);
        self.points += steps.len() / 2;
        steps
    }

    fn roads(&mut self, network: &Network, lines: &[RoadLine], least: Class) {
        for line in lines {
            let way = &network.ways[line.way];
            // A ferry comes last among the classes and is drawn as long as all roads are.
            if way.tags.class > least {
                continue;
            }
            let local = way.tags.local.as_ref();
            let closed = local.is_some_and(|l| l.closed.iter().all(Option::is_some));
            let name = self.name(network.name(way));
            let steps = self.line(&line.points);
            self.roads.push(json!([way.tags.class.as_str(), name, u8::from(closed), steps]));
        }
    }

    fn scenery(&mut self, scenery: &Scenery) {
        for area in &scenery.areas {
            let (kind, name) = &area.kind;
            let name = self.name(name);
            let rings: Vec<Vec<i64>> =
                std::iter::once(&area.outer).chain(&area.holes).map(|r| self.line(r)).collect();
            self.areas.push(json!([kind.as_str(), name, rings]));
        }
        for course in &scenery.courses {
            let (kind, name) = &course.kind;
            let name = self.name(name);
            let steps = self.line(&course.line);
            self.courses.push(json!([kind.as_str(), name, steps]));
        }
        for settlement in &scenery.settlements {
            let name = self.name(&settlement.name);
            let at = self.walk.steps(&[settlement.place]);
            self.settlements.push(json!([settlement.kind.as_str(), name, at]));
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn at(lon: f64, lat: f64) -> Place {
        Place::from_lon_lat(lon, lat).unwrap()
    }

    /// A single place at 60° north: 1,500 m to each side, where a degree of longitude is half as long as one
    /// of latitude (cos 60° = 1/2).
    #[test]
    fn the_area_is_wider_than_what_is_shown() {
        let place = at(10.0, 60.0);
        let area = area(&Bounds { west_south: place, east_north: place });
        let north = area.east_north.lat() - 60.0;
        assert!((north * METRES_PER_DEGREE - 1_500.0).abs() < 1.0, "{north}");
        assert!(((area.east_north.lon() - 10.0) / north - 2.0).abs() < 1e-3);
        let pole = at(179.99, 89.99);
        let bbox = super::area(&Bounds { west_south: pole, east_north: pole }).bbox();
        assert!(bbox[2] <= 180.0 && bbox[3] <= 90.0);
    }
}
