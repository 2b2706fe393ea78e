//! Buildings by the stretch they lie nearest to, so that each is counted once.

use super::stretches::{Lines, Stretch};
use super::{Ask, Zone};
use crate::finding::{Code, Finding, Findings, Where};
use crate::place::{Bounds, Place};
use crate::units::Metres;
use rayon::prelude::*;

/// A building farther than this from every stretch is none of theirs: the fire building is reached by hand
/// lines and a driveway from the road (common practice, no source; the International Fire Code wants an access
/// road within 150 ft of every outside wall, 503.1.1, from memory, so this is generous).
pub const REACH: Metres = Metres(150.0);
/// Stretches whose lines are cut at once.
const AT_ONCE: usize = 512;
/// The cells around a place, by steps east and north, its own first.
const AROUND: [[i32; 2]; 9] = [[0, 0], [-1, 0], [1, 0], [0, -1], [0, 1], [-1, -1], [-1, 1], [1, -1], [1, 1]];
/// Roundings of a distance to an edge are less than this share of it.
const SURELY: f64 = 1.0 - 1e-9;
/// Metres of 1e-7 degree of latitude (mean radius 6,371,008.8 m).
const METRES_PER_E7: f64 = 0.011_119_5;

/// Pieces of the stretches' lines by the cell of a grid they lie in. Cells are as wide as a building looks, or a
/// little wider: what is within its reach lies in its cell or those around it.
struct Grid {
    /// Size of a cell, 1e-7 degrees of longitude and latitude.
    cell: [i64; 2],
    /// Cells, ascending, one for each piece in it.
    cells: Vec<[i32; 2]>,
    /// Stretch, from, to.
    pieces: Vec<(u32, Place, Place)>,
}

impl Grid {
    fn of(zone: &Zone) -> Grid {
        let network = &zone.ground.roads.network;
        let bounds = network.bounds;
        // Where a degree of longitude is shortest, so that no cell is too narrow.
        let poleward = bounds.west_south.lat().abs().max(bounds.east_north.lat().abs());
        let high = REACH.0 / METRES_PER_E7;
        let wide = high / poleward.to_radians().cos().max(0.01);
        let mut grid =
            Grid { cell: [wide, high].map(|e7| e7.ceil() as i64), cells: Vec::new(), pieces: Vec::new() };
        let of_some = |(nth, stretches): (usize, &[Stretch])| {
            let (mut lines, mut pieces) = (Lines::on(network), Vec::with_capacity(stretches.len() * 4));
            for (i, stretch) in (nth * AT_ONCE..).zip(stretches) {
                let line = lines.of(stretch);
                pieces.extend(line.windows(2).map(|pair| (i as u32, pair[0], pair[1])));
                if let [only] = line[..] {
                    // A line of one point is a piece too.
                    pieces.push((i as u32, only, only));
                }
            }
            pieces
        };
        let pieces: Vec<(u32, Place, Place)> =
            zone.stretches.par_chunks(AT_ONCE).enumerate().flat_map_iter(of_some).collect();
        let mut of_cell: Vec<([i32; 2], u32)> = Vec::with_capacity(pieces.len() * 3 / 2);
        for (number, (_, from, to)) in pieces.iter().enumerate() {
            let (a, b) = (grid.cell_of(*from), grid.cell_of(*to));
            for x in a[0].min(b[0])..=a[0].max(b[0]) {
                for y in a[1].min(b[1])..=a[1].max(b[1]) {
                    of_cell.push(([x, y], number as u32));
                }
            }
        }
        of_cell.par_sort_unstable();
        grid.cells = of_cell.iter().map(|(cell, _)| *cell).collect();
        grid.pieces = of_cell.iter().map(|(_, piece)| pieces[*piece as usize]).collect();
        grid
    }

    fn cell_of(&self, place: Place) -> [i32; 2] {
        [(place.lon_e7(), self.cell[0]), (place.lat_e7(), self.cell[1])]
            .map(|(e7, cell)| i64::from(e7).div_euclid(cell) as i32)
    }

    /// The stretch nearest to a place, the first of those equally near.
    fn nearest(&self, place: Place) -> Option<usize> {
        let [x, y] = self.cell_of(place);
        let squeeze = place.lat().to_radians().cos();
        let flat = |p: Place| {
            let [east, north] = [(p.lon_e7(), place.lon_e7()), (p.lat_e7(), place.lat_e7())]
                .map(|(there, here)| f64::from(there.wrapping_sub(here)) * METRES_PER_E7);
            [east * squeeze, north]
        };
        // Metres to the edges of its own cell: west and south, east and north.
        let to_edge = |axis: usize, e7: i32, metres_per_e7: f64| {
            let low = i64::from([x, y][axis]) * self.cell[axis];
            [i64::from(e7) - low, low + self.cell[axis] - i64::from(e7)].map(|e7| e7 as f64 * metres_per_e7)
        };
        let (east, north) =
            (to_edge(0, place.lon_e7(), METRES_PER_E7 * squeeze), to_edge(1, place.lat_e7(), METRES_PER_E7));
        let beyond = |edges: [f64; 2], step: i32| match step {
            -1 => edges[0],
            0 => 0.0,
            _ => edges[1],
        };
        // Squares of metres.
        let mut best = (REACH.0 * REACH.0, u32::MAX);
        // Its own cell first: most of the others are then farther than what was found.
        for [dx, dy] in AROUND {
            let (off_east, off_north) = (beyond(east, dx), beyond(north, dy));
            if (off_east * off_east + off_north * off_north) * SURELY > best.0 {
                continue;
            }
            let cell = [x + dx, y + dy];
            let first = self.cells.partition_point(|known| *known < cell);
            let inside = self.cells[first..].iter().take_while(|known| **known == cell);
            for (_, &(stretch, from, to)) in inside.zip(&self.pieces[first..]) {
                let (from, to) = (flat(from), flat(to));
                // Most pieces lie on one side and too far off.
                let beside = |axis: usize| {
                    let (a, b) = (from[axis], to[axis]);
                    let off = if (a < 0.0) == (b < 0.0) { a.abs().min(b.abs()) } else { 0.0 };
                    off * off > best.0
                };
                if beside(0) || beside(1) {
                    continue;
                }
                let off = squared_off(from, to);
                if (off, stretch) < best {
                    best = (off, stretch);
                }
            }
        }
        Some(best.1 as usize).filter(|_| best.1 != u32::MAX)
    }
}

/// Square of the distance of a straight piece from the origin.
fn squared_off([ax, ay]: [f64; 2], [bx, by]: [f64; 2]) -> f64 {
    let (dx, dy) = (bx - ax, by - ay);
    let length = dx * dx + dy * dy;
    let along = if length > 0.0 { (-(ax * dx + ay * dy) / length).clamp(0.0, 1.0) } else { 0.0 };
    let (x, y) = (ax + along * dx, ay + along * dy);
    x * x + y * y
}

/// Buildings by stretch; none where the road file tells of none, and then `findings` says why. So do they of
/// buildings that are nobody's.
pub fn count(zone: &Zone, ask: &Ask, findings: &mut Findings) -> Option<Vec<u32>> {
    let network = &zone.ground.roads.network;
    let file = || Where::file(&zone.problem.scenario);
    let places = network.buildings.as_deref().unwrap_or_default();
    if places.is_empty() {
        findings.add(Finding::new(
            Code::BuildingsUnknown,
            file(),
            "the road file holds no building, so gaps are told without them; that is not to say there are none",
            "use an extract that was not filtered, or look the buildings up elsewhere",
        ));
        return None;
    }
    let inside: Vec<Place> =
        places.iter().copied().filter(|p| ask.area.as_ref().is_none_or(|area| area.contains(*p))).collect();
    let grid = Grid::of(zone);
    let found: Vec<Option<usize>> = inside.par_iter().map(|place| grid.nearest(*place)).collect();
    let mut counts = vec![0; zone.stretches.len()];
    found.iter().flatten().for_each(|stretch| counts[*stretch] += 1);
    let off: Vec<Place> = inside.iter().zip(&found).filter(|(_, f)| f.is_none()).map(|(p, _)| *p).collect();
    if let Some(bounds) = Bounds::around(off.iter().copied()) {
        let cause = format!(
            "{} of {} buildings lie more than {REACH:.0} from every stretch and count at none",
            off.len(),
            inside.len()
        );
        let action = "plan for them by their own driveway or hose lay";
        let at = if off.len() == 1 { file().at(bounds.west_south) } else { file() };
        findings.add(Finding::new(Code::BuildingsOffRoads, at, cause, action));
    }
    Some(counts)
}
