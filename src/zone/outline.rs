//! The outline of road with some ground beside it, in time that grows with the road: nodes of a lattice that
//! lie near the road are in, and the outline runs midway between nodes that are in and out (marching
//! squares; Lorensen and Cline 1987 in two dimensions, from memory). Each such middle belongs to one curve, so
//! no ring touches itself or another, and the coordinates are whole units of 1e-7 degree.

mod pieces;

use crate::place::{Bounds, Place};
use pieces::rings;

/// Ground on both sides of the road, metres: more than the diagonal of the lattice, so that the road lies
/// inside.
const BESIDE_M: f64 = 60.0;
/// Half the lattice's step northward, 1e-7 degrees: 20 m.
const HALF_STEP_E7: i32 = 1_800;
/// Metres of 1e-7 degree of latitude (mean radius 6,371,008.8 m).
const METRES_PER_E7: f64 = 0.011_119_5;
/// A hole smaller than this in it is none, squares of the lattice: 10,000 m².
const LEAST_HOLE: i64 = 6;

/// Half steps of the lattice, eastward and northward; nodes are even in both.
type Spot = (i32, i32);
type Ring = Vec<Spot>;
/// Columns of a row, the end not in it.
type Run = (i32, i32);

/// Rings of each polygon around lines, the outer one first: outer rings against the clock, holes with it
/// (RFC 7946, section 3.1.6), each closed. The lines are told twice.
pub fn around<I: Iterator<Item = Vec<Place>>>(lines: impl Fn() -> I) -> Vec<Vec<Vec<Place>>> {
    let Some(bounds) = Bounds::around(lines().flatten()) else { return Vec::new() };
    // As far on the ground eastward as northward, where the road begins.
    let squeeze = bounds.west_south.between(bounds.east_north, 0.5).lat().to_radians().cos().max(0.01);
    let half = [(f64::from(HALF_STEP_E7) / squeeze).round() as i32, HALF_STEP_E7];
    let at = |p: &Place| {
        let along = |e7: i32, half: i32| f64::from(e7) / f64::from(2 * half);
        [along(p.lon_e7(), half[0]), along(p.lat_e7(), half[1])]
    };
    let mut rows = Rows::new(at(&bounds.west_south)[1], at(&bounds.east_north)[1]);
    for line in lines().filter(|line| !line.is_empty()) {
        rows.add(at(&line[0]), at(&line[0]));
        line.windows(2).for_each(|pair| rows.add(at(&pair[0]), at(&pair[1])));
    }
    rows.merge();
    let ring = |ring: Ring| -> Vec<Place> {
        // A road at the date line ends there.
        let lon = |x: i32| (x * half[0]).clamp(-1_800_000_000, 1_800_000_000);
        let place = |&(x, y): &Spot| Place::from_e7(lon(x), y * half[1]);
        ring.iter().chain(ring.first()).map(place).collect()
    };
    let polygons = nested(rings(rows.first, rows.runs));
    polygons.into_iter().map(|polygon| polygon.into_iter().map(ring).collect()).collect()
}

/// Nodes that are in: by row, stretches of columns, the end not in it.
struct Rows {
    /// Number of the first row.
    first: i32,
    runs: Vec<Vec<Run>>,
}

impl Rows {
    /// Room for lines that reach from one latitude to another, in steps of the lattice.
    fn new(south: f64, north: f64) -> Rows {
        let first = south.floor() as i32 - 3;
        Rows { first, runs: vec![Vec::new(); (north.ceil() as i32 + 3 - first) as usize] }
    }

    /// Nodes near a straight line, in steps of the lattice.
    fn add(&mut self, from: [f64; 2], to: [f64; 2]) {
        let radius = BESIDE_M / (METRES_PER_E7 * f64::from(2 * HALF_STEP_E7));
        let (low, high) = if from[1] <= to[1] { (from, to) } else { (to, from) };
        let length = (high[0] - low[0]).hypot(high[1] - low[1]).max(1e-12);
        let normal = [(high[1] - low[1]) / length * radius, (low[0] - high[0]) / length * radius];
        for row in (low[1] - radius).ceil() as i32..=(high[1] + radius).floor() as i32 {
            let (mut west, mut east) = (f64::INFINITY, f64::NEG_INFINITY);
            let mut reach = |x: f64| (west, east) = (west.min(x), east.max(x));
            for end in [low, high] {
                let off = f64::from(row) - end[1];
                if off.abs() <= radius {
                    let half = (radius * radius - off * off).sqrt();
                    reach(end[0] - half);
                    reach(end[0] + half);
                }
            }
            // The two edges that run beside the line.
            for side in [1.0, -1.0] {
                let (dx, dy) = (high[0] - low[0], high[1] - low[1]);
                let up = f64::from(row) - (low[1] + side * normal[1]);
                if dy > 1e-12 && (0.0..=dy).contains(&up) {
                    reach(low[0] + side * normal[0] + dx * up / dy);
                }
            }
            let columns = (west.ceil() as i32, east.floor() as i32 + 1);
            if columns.0 < columns.1 {
                let known = &mut self.runs[(row - self.first) as usize];
                match known.last_mut() {
                    Some(last) if columns.0 <= last.1 && columns.1 >= last.0 => {
                        *last = (last.0.min(columns.0), last.1.max(columns.1));
                    }
                    _ => known.push(columns),
                }
            }
        }
    }

    /// The runs of each row ascending and apart from each other.
    fn merge(&mut self) {
        for runs in &mut self.runs {
            runs.sort_unstable();
            runs.dedup_by(|next, kept| {
                let joined = next.0 <= kept.1;
                kept.1 = if joined { kept.1.max(next.1) } else { kept.1 };
                joined
            });
        }
    }
}

/// Twice the area, in quarters of the lattice's squares; negative of a hole.
fn area(ring: &Ring) -> i64 {
    let pairs = ring.iter().zip(ring.iter().cycle().skip(1));
    pairs.map(|(a, b)| i64::from(a.0) * i64::from(b.1) - i64::from(b.0) * i64::from(a.1)).sum()
}

/// Polygons, each its outer ring and then its holes.
fn nested(rings: Vec<Ring>) -> Vec<Vec<Ring>> {
    // Each area is worked out once: of a great ring that takes as long as all else of a hole.
    let mut polygons: Vec<(i64, Vec<Ring>)> = Vec::new();
    let mut holes: Vec<(i64, Ring)> = Vec::new();
    for ring in rings {
        match area(&ring) {
            area if area > 0 => polygons.push((area, vec![ring])),
            area => holes.push((-area, ring)),
        }
    }
    let single = polygons.len() == 1;
    for (hole_area, hole) in holes.into_iter().filter(|(area, _)| *area >= 8 * LEAST_HOLE) {
        let around = |(area, rings): &&mut (i64, Vec<Ring>)| {
            single || *area > hole_area && encloses(&rings[0], hole[0])
        };
        // Of several the smallest.
        if let Some((_, polygon)) = polygons.iter_mut().filter(around).min_by_key(|(area, _)| *area) {
            polygon.push(hole);
        }
    }
    polygons.into_iter().map(|(_, rings)| rings).collect()
}

/// Whether a ring goes round a spot that is not on it, by the crossings of a ray eastward.
fn encloses(ring: &Ring, (x, y): Spot) -> bool {
    let pairs = ring.iter().zip(ring.iter().cycle().skip(1));
    let crossed = pairs.filter(|(a, b)| {
        let up = i64::from(b.1 - a.1);
        let side = i64::from(b.0 - a.0) * i64::from(y - a.1) - i64::from(x - a.0) * up;
        (a.1 > y) != (b.1 > y) && (side > 0) == (up > 0)
    });
    crossed.count() % 2 == 1
}

#[cfg(test)]
mod tests {
    use super::*;
    use geo::{Contains, Coord, LineString, Polygon, Validation, Winding};
    use rand::{RngExt, SeedableRng};
    use rand_pcg::Pcg64Mcg;

    /// Metres east and north of a place at 60 degrees north, where a degree of longitude is half as long.
    fn at(east: f64, north: f64) -> Place {
        let e7 = |metres: f64| (metres / METRES_PER_E7).round() as i32;
        Place::from_e7(100_000_000 + 2 * e7(east), 600_000_000 + e7(north))
    }

    fn line(points: &[(f64, f64)]) -> Vec<Place> {
        points.iter().map(|(east, north)| at(*east, *north)).collect()
    }

    fn outline(lines: &[Vec<Place>]) -> Vec<Vec<Vec<Place>>> {
        around(|| lines.iter().cloned())
    }

    fn ring(ring: &[Place]) -> LineString {
        ring.iter().map(|p| Coord { x: p.lon(), y: p.lat() }).collect()
    }

    /// What RFC 7946 asks of a polygon (section 3.1.6): rings closed, of four positions or more, the outer one
    /// against the clock and holes with it; and valid by the simple features standard, as PyPI shapely has it in
    /// tests/peers/check_gaps.py.
    fn polygons(rings: &[Vec<Vec<Place>>]) -> Vec<Polygon> {
        let made = rings.iter().map(|polygon| {
            for (i, own) in polygon.iter().enumerate() {
                assert!(own.len() >= 4 && own.first() == own.last(), "{own:?}");
                let line = ring(own);
                assert!(if i == 0 { line.is_ccw() } else { line.is_cw() }, "ring {i} runs the other way");
            }
            let polygon =
                Polygon::new(ring(&polygon[0]), polygon[1..].iter().map(|hole| ring(hole)).collect());
            assert!(polygon.is_valid(), "{:?}", polygon.validation_errors());
            polygon
        });
        made.collect()
    }

    /// A straight road of 500 m: one polygon without a hole. Nodes of the lattice up to 60 m off are in, and the
    /// diagonal of its squares of 40 m is 56.6 m: what is 3 m off lies among such nodes alone. The outline runs
    /// half a step, 20 m, beyond such a node at most: nothing 81 m off is in.
    #[test]
    fn a_road_lies_in_its_outline() {
        let road = line(&[(0.0, 0.0), (300.0, 400.0)]);
        let found = polygons(&outline(std::slice::from_ref(&road)));
        assert_eq!((found.len(), found[0].interiors().len()), (1, 0));
        let holds = |east: f64, north: f64| {
            let place = at(east, north);
            found[0].contains(&Coord { x: place.lon(), y: place.lat() })
        };
        for along in 0..=50 {
            // To the right of it by so many metres, the direction being (0.6, 0.8).
            let beside = |off: f64| {
                let metres = f64::from(along) * 10.0;
                (0.6 * metres + 0.8 * off, 0.8 * metres - 0.6 * off)
            };
            for off in [-3.0, 0.0, 3.0] {
                let (east, north) = beside(off);
                assert!(holds(east, north), "{off} m beside it, {along}0 m on");
            }
            for off in [-81.0, 81.0] {
                let (east, north) = beside(off);
                assert!(!holds(east, north), "{off} m beside it, {along}0 m on");
            }
        }
    }

    /// Two roads side by side: 1,000 m apart they are two areas, 100 m apart one.
    #[test]
    fn roads_far_apart_are_two_areas() {
        let pair = |apart: f64| [line(&[(0.0, 0.0), (800.0, 0.0)]), line(&[(0.0, apart), (800.0, apart)])];
        assert_eq!(polygons(&outline(&pair(1_000.0))).len(), 2);
        assert_eq!(polygons(&outline(&pair(100.0))).len(), 1);
    }

    /// Round a block of 600 m by 600 m there is a hole in the middle; round one of 160 m by 160 m the free middle is
    /// some 40 m wide, 1,600 m², and no hole. A road within the hole is an area of its own.
    #[test]
    fn holes_of_blocks() {
        let block =
            |from: f64, to: f64| line(&[(from, from), (to, from), (to, to), (from, to), (from, from)]);
        let large = polygons(&outline(&[block(0.0, 600.0)]));
        assert_eq!((large.len(), large[0].interiors().len()), (1, 1));
        let small = polygons(&outline(&[block(0.0, 160.0)]));
        assert_eq!((small.len(), small[0].interiors().len()), (1, 0));
        let nested = polygons(&outline(&[block(0.0, 600.0), line(&[(300.0, 300.0), (320.0, 300.0)])]));
        let mut holes: Vec<usize> = nested.iter().map(|polygon| polygon.interiors().len()).collect();
        holes.sort_unstable();
        assert_eq!(holes, [0, 1]);
    }

    #[test]
    fn nothing_and_a_single_place() {
        assert!(outline(&[]).is_empty());
        assert_eq!(polygons(&outline(&[line(&[(0.0, 0.0)])])).len(), 1);
    }

    /// Tangles of random roads: all rings are valid, and every point of the road is inside.
    #[test]
    fn random_roads_lie_in_valid_outlines() {
        let seed = 7_946;
        println!("seed {seed}");
        let mut dice = Pcg64Mcg::seed_from_u64(seed);
        for _ in 0..200 {
            let count = dice.random_range(1..8);
            let mut roads = Vec::new();
            for _ in 0..count {
                let corners = dice.random_range(2..6);
                let points: Vec<(f64, f64)> = (0..corners)
                    .map(|_| (dice.random_range(-900.0..900.0), dice.random_range(-900.0..900.0)))
                    .collect();
                roads.push(line(&points));
            }
            let found = polygons(&outline(&roads));
            for pair in roads.iter().flat_map(|road| road.windows(2)) {
                for step in 0..=10 {
                    let place = pair[0].between(pair[1], f64::from(step) / 10.0);
                    let here = Coord { x: place.lon(), y: place.lat() };
                    assert!(found.iter().any(|polygon| polygon.contains(&here)), "{place} of {roads:?}");
                }
            }
        }
    }
}
