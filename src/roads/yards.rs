//! Marked yards: parking areas and other open ground beside the road that is large enough for a truck
//! to turn on. They become marks of the road nodes that lie on them.

use crate::place::Place;
use crate::roads::extract::Extract;
use crate::roads::tags::{NodeTags, TurningPlace};
use crate::units::Metres;
use geo::{Area, BoundingRect, Contains, Coord, Euclidean, Length, LineString, Polygon};
use rstar::{AABB, RTree, primitives::GeomWithData};

/// Least width of a yard: a 60-ft "Y" turns a fire apparatus (International Fire Code, appendix D).
pub const LEAST_WIDTH: Metres = Metres(60.0 * 0.3048);

/// Marks the road nodes on yards at which a truck can turn: those on a yard's outline, and inside it
/// those where roads meet or end. A node in the middle of an aisle would be no other place. `uses` tells how
/// often roads use each node of the extract.
pub fn mark(extract: &mut Extract, uses: &[u8]) {
    let yards: Vec<Yard> = extract.yards.iter().filter_map(|refs| Yard::of(extract, refs)).collect();
    if yards.is_empty() {
        return;
    }
    let meet = (0..uses.len()).filter(|node| uses[*node] >= 2).map(|node| {
        let place = extract.node_places[node];
        GeomWithData::new([place.lon_e7(), place.lat_e7()], node)
    });
    let meet = RTree::bulk_load(meet.collect());
    let mut on_yards: Vec<i64> = Vec::new();
    for yard in &yards {
        let on_road = |id: &&i64| extract.node_index(**id).is_some_and(|node| uses[node] > 0);
        on_yards.extend(yard.outline.iter().filter(on_road));
        let inside = meet.locate_in_envelope_intersecting(yard.envelope).filter(|node| {
            let [lon, lat] = *node.geom();
            yard.contains(Place::from_e7(lon, lat))
        });
        on_yards.extend(inside.map(|node| extract.node_ids[node.data]));
    }
    on_yards.sort_unstable();
    on_yards.dedup();
    // The marks are sorted by id, and each node has one at most.
    let known = extract.marks.len();
    for id in on_yards {
        match extract.marks[..known].binary_search_by_key(&id, |(id, _)| *id) {
            Ok(at) => {
                let turning = &mut extract.marks[at].1.turning;
                if *turning == TurningPlace::None {
                    *turning = TurningPlace::Yard;
                }
            }
            Err(_) => extract.marks.push((id, NodeTags::yard())),
        }
    }
    extract.marks.sort_by_key(|(id, _)| *id);
}

/// A yard that is wide enough.
struct Yard {
    outline: Vec<i64>,
    envelope: AABB<[i32; 2]>,
    origin: Place,
    /// Metres east and north of the origin.
    ground: Polygon,
}

impl Yard {
    /// `None` if it is not closed, lies outside the extract in part, or is too narrow.
    fn of(extract: &Extract, refs: &[i64]) -> Option<Yard> {
        let closed = refs.len() >= 4 && refs.first() == refs.last();
        if !closed {
            return None;
        }
        let place = |id: &i64| extract.node_index(*id).map(|i| extract.node_places[i]);
        let places: Vec<Place> = refs.iter().map(place).collect::<Option<_>>()?;
        let origin = places[0];
        let ring: LineString = places.iter().map(|place| coord(*place, origin)).collect();
        let ground = Polygon::new(ring, Vec::new());
        if width(&ground).0 < LEAST_WIDTH.0 {
            return None;
        }
        let lon_lat = |place: &Place| [place.lon_e7(), place.lat_e7()];
        let corners: Vec<[i32; 2]> = places.iter().map(lon_lat).collect();
        Some(Yard { outline: refs.to_vec(), envelope: AABB::from_points(&corners), origin, ground })
    }

    fn contains(&self, place: Place) -> bool {
        self.ground.contains(&coord(place, self.origin))
    }
}

fn coord(place: Place, origin: Place) -> Coord {
    let (x, y) = place.offset_from(origin);
    Coord { x, y }
}

/// The width of the rectangle that has the same area and the same length around: of a rectangle its
/// own, of a ragged outline less than it looks.
fn width(ground: &Polygon) -> Metres {
    if ground.bounding_rect().is_none() {
        return Metres::ZERO;
    }
    // a + b = half the length around, a b = the area.
    let half = Euclidean.length(ground.exterior()) / 2.0;
    let square = (half * half - 4.0 * ground.unsigned_area()).max(0.0);
    Metres((half - square.sqrt()) / 2.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_width_of_a_rectangle_is_its_own() {
        let ground = |points: &[(f64, f64)]| Polygon::new(LineString::from(points.to_vec()), Vec::new());
        assert!(
            (width(&ground(&[(0.0, 0.0), (50.0, 0.0), (50.0, 20.0), (0.0, 20.0)])).0 - 20.0).abs() < 1e-9
        );
        // A circle has more area than any rectangle of its length around; its own is not asked for.
        let round: Vec<(f64, f64)> = (0..90).map(|i| (f64::from(i) * 4.0).to_radians().sin_cos()).collect();
        assert!(width(&ground(&round)).0 > 1.0);
        // An L of two arms 10 m wide, 40 m and 30 m long outside: 600 m2, 140 m around.
        // a + b = 70, a b = 600: 10 m and 60 m.
        let l = [(0.0, 0.0), (40.0, 0.0), (40.0, 10.0), (10.0, 10.0), (10.0, 30.0), (0.0, 30.0)];
        assert!((width(&ground(&l)).0 - 10.0).abs() < 1e-9);
    }
}
