//! Drives between the fill sites, the stations and every stretch of a block: one search from each side of
//! each fill site a class and leg, instead of one from each stretch.

use super::pool::Pool;
use crate::place::Bounds;
use crate::plan::ground::{Class, Ground};
use crate::plan::reach::QuickLoop;
use crate::roads::network::Arc;
use crate::routing::graph::RoadGraph;
use crate::routing::search::{Drive, Search, Stand, Until};
use crate::routing::snap::Spot;
use crate::routing::topology::millis;
use rayon::prelude::*;

const NONE: u32 = u32::MAX;
/// Neighbouring segments that share a table of times: sites that reach none of them cost nothing there.
const TOGETHER: usize = 64;

/// Milliseconds of one class between a site and a segment, empty legs after loaded ones, by side of the site
/// and direction of the segment: loaded from the site to where the arc ends, empty from there.
type Ms = [u32; 8];

fn at(leg: usize, side: usize, direction: usize) -> usize {
    leg * 4 + side * 2 + direction
}

/// One site and class beside neighbouring segments.
struct Table {
    site: u32,
    class: u32,
    rows: Box<[Ms; TOGETHER]>,
}

/// The segments of a block, ascending.
pub struct Rows {
    /// Fill sites that may be reached, by index into the ground's.
    pub sites: Vec<usize>,
    fills: Vec<Spot>,
    /// By `TOGETHER` rows; of each by site, then class.
    tables: Vec<Vec<Table>>,
    /// Longest leg.
    longest_ms: u32,
}

/// What a stretch's middle makes of the times of its segment, by leg and direction of each class: taken off
/// those of the loaded legs, which end before the arc does, and added to those of empty ones.
pub struct Middle {
    spot: Spot,
    rest: Vec<[[u32; 2]; 2]>,
}

impl Middle {
    pub fn spot(&self) -> &Spot {
        &self.spot
    }

    pub fn of(ground: &Ground, spot: Spot) -> Middle {
        let stands = spot.stands();
        let rest = |graph: &RoadGraph| {
            stands.map(|at| if graph.is_open(at.arc) { graph.rest_ms(at.arc, at.fraction) } else { NONE })
        };
        Middle { spot, rest: ground.classes.iter().map(|c| [rest(&c.full), rest(&c.empty)]).collect() }
    }
}

/// A site seen from a stretch.
pub struct Near<'r> {
    /// Index into the sites of the rows.
    pub site: usize,
    /// Of its classes, ascending.
    tables: &'r [Table],
    row: usize,
}

impl Rows {
    /// Searches for a block of segments, a little farther than the longest leg, as `plan` does.
    pub fn search(
        ground: &Ground,
        extremes: &Extremes,
        pool: &Pool,
        segments: &[usize],
        longest_leg_s: f64,
    ) -> Rows {
        let network = &ground.roads.network;
        let around = Bounds::around(segments.iter().flat_map(|s| network.points(*s)).copied());
        let reach_m = longest_leg_s * extremes.fastest_mps * 1.05 + 100.0;
        let near = |spot: &Spot| around.is_some_and(|b| metres_outside(&b, spot) <= reach_m);
        let (sites, fills): (Vec<usize>, Vec<Spot>) = ground
            .sites
            .iter()
            .enumerate()
            .filter_map(|(i, site)| Some((i, site.state.as_ref().ok()?.spot)))
            .filter(|(_, spot)| near(spot))
            .unzip();
        let bound = millis(longest_leg_s);
        let slot_of = slots(ground, segments);
        let seats = ground.roads.topology.seats(network);
        let jobs: Vec<(usize, usize)> = (0..fills.len())
            .flat_map(|site| (0..ground.classes.len()).map(move |class| (site, class)))
            .collect();
        let longest_step_ms = &extremes.longest_step_ms;
        let found: Vec<Vec<(u32, Box<[Ms; TOGETHER]>)>> = jobs
            .par_iter()
            .map_init(
                || (pool.take(), Grid::new(segments.len())),
                |(search, grid), (site, class)| {
                    let job = Job { class: &ground.classes[*class], slot_of: &slot_of, bound };
                    for (side, stand) in fills[*site].stands().into_iter().enumerate() {
                        job.loaded(&mut search.search, grid, side, stand, longest_step_ms[*class]);
                        job.empty(&mut search.search, grid, side, stand);
                    }
                    // Whoever is on the site's own road need not have been reached.
                    let here = slot_of[seats.seat_of(fills[*site].stands()[0].arc) as usize];
                    grid.put(here, 0, NONE);
                    grid.take()
                },
            )
            .collect();
        let mut tables: Vec<Vec<Table>> = Vec::new();
        tables.resize_with(segments.len().div_ceil(TOGETHER), Vec::new);
        for ((site, class), found) in jobs.into_iter().zip(found) {
            for (tile, rows) in found {
                tables[tile as usize].push(Table { site: site as u32, class: class as u32, rows });
            }
        }
        Rows { sites, fills, tables, longest_ms: bound }
    }

    /// The sites with times to segments around a row, ascending.
    pub fn near(&self, row: usize) -> impl Iterator<Item = Near<'_>> {
        let of_site = self.tables[row / TOGETHER].chunk_by(|a, b| a.site == b.site);
        of_site.map(move |tables| Near { site: tables[0].site as usize, tables, row: row % TOGETHER })
    }

    /// Milliseconds of both legs by side and direction; none where there is no way.
    fn legs(&self, ground: &Ground, near: &Near, table: &Table, middle: &Middle) -> Ms {
        let class = table.class as usize;
        let known = &table.rows[near.row];
        let mut legs: Ms = std::array::from_fn(|i| {
            let rest = middle.rest[class][i / 4][i % 2];
            match known[i] {
                _ if rest == NONE => NONE,
                NONE => NONE,
                to_end if i < 4 => to_end - rest,
                from_end => from_end + rest,
            }
        });
        let fill = &self.fills[near.site];
        if fill.segment == middle.spot.segment {
            let graphs = &ground.classes[class];
            let (fill, dump) = (fill.stands(), middle.spot.stands());
            for (side, direction) in [(0, 0), (0, 1), (1, 0), (1, 1)] {
                let along = |i: usize, ms: Option<u32>, legs: &mut Ms| legs[i] = ms.unwrap_or(legs[i]);
                let loaded = Drive::along_ms(&graphs.full, fill[side], dump[direction]);
                along(at(0, side, direction), loaded, &mut legs);
                let empty = Drive::along_ms(&graphs.empty, dump[direction], fill[side]);
                along(at(1, side, direction), empty, &mut legs);
            }
        }
        legs
    }

    /// By class: the least milliseconds of a loaded and of an empty leg, whatever turns they need.
    pub fn least_ms(&self, ground: &Ground, near: &Near, middle: &Middle, least: &mut [Option<[u32; 2]>]) {
        least.fill(None);
        for table in near.tables {
            let legs = self.legs(ground, near, table, middle);
            let least_of = |leg: usize| legs[leg * 4..leg * 4 + 4].iter().copied().min().unwrap_or(NONE);
            let both = [least_of(0), least_of(1)];
            least[table.class as usize] = Some(both).filter(|both| !both.contains(&NONE));
        }
    }

    /// By class: the quickest loop between a site and the middle of a stretch.
    pub fn quick_loops(&self, ground: &Ground, near: &Near, middle: &Middle) -> Vec<Option<QuickLoop>> {
        let turn_ms = millis(ground.roads.table.delay.site_turnaround);
        let mut loops = vec![None; ground.classes.len()];
        for table in near.tables {
            let legs = self.legs(ground, near, table, middle);
            let ms = |leg: usize, side: usize, direction: usize| {
                Some(legs[at(leg, side, direction)]).filter(|ms| *ms != NONE)
            };
            loops[table.class as usize] = QuickLoop::of(
                |side, direction| ms(0, side, direction),
                |direction, side| ms(1, side, direction),
                turn_ms,
                self.longest_ms,
            );
        }
        loops
    }
}

/// What is worked out over all roads, once a zone.
pub struct Extremes {
    fastest_mps: f64,
    /// By class.
    longest_step_ms: Vec<u32>,
}

impl Extremes {
    pub fn of(ground: &Ground) -> Extremes {
        let longest_step_ms = ground.classes.iter().map(|c| c.full.longest_step_ms()).collect();
        Extremes { fastest_mps: fastest_mps(ground), longest_step_ms }
    }
}

/// The fastest that any class drives an arc.
fn fastest_mps(ground: &Ground) -> f64 {
    let network = &ground.roads.network;
    let fastest = |class: &Class| {
        let speed = |graph: &RoadGraph| {
            let of = |arc: Arc| {
                let metres = f64::from(network.segment(arc).length_m);
                // Of shorter ones the time is mostly rounding.
                if graph.is_open(arc) && metres > 10.0 {
                    metres / (f64::from(graph.ms(arc)) / 1000.0)
                } else {
                    0.0
                }
            };
            network.arcs().map(of).fold(0.0, f64::max)
        };
        speed(&class.full).max(speed(&class.empty))
    };
    ground.classes.iter().map(fastest).fold(0.0, f64::max)
}

fn metres_outside(bounds: &Bounds, spot: &Spot) -> f64 {
    let clamp = |value: i32, low: i32, high: i32| value.clamp(low, high);
    let (low, high) = (bounds.west_south, bounds.east_north);
    let nearest = crate::place::Place::from_e7(
        clamp(spot.place.lon_e7(), low.lon_e7(), high.lon_e7()),
        clamp(spot.place.lat_e7(), low.lat_e7(), high.lat_e7()),
    );
    nearest.distance(spot.place).0
}

/// Tables of one site and class as they are filled.
struct Grid {
    /// By `TOGETHER` rows: index of the table.
    place: Vec<u32>,
    tables: Vec<(u32, Box<[Ms; TOGETHER]>)>,
}

impl Grid {
    fn new(rows: usize) -> Grid {
        Grid { place: vec![NONE; rows.div_ceil(TOGETHER)], tables: Vec::new() }
    }

    /// Puts a time of a slot where there is none or a greater one; `of` is the leg's and the side's part of the
    /// index.
    fn put(&mut self, slot: u32, of: usize, ms: u32) {
        if slot == NONE {
            return;
        }
        let row = (slot & !FURTHER) as usize / 2;
        let tile = row / TOGETHER;
        if self.place[tile] == NONE {
            self.place[tile] = self.tables.len() as u32;
            self.tables.push((tile as u32, Box::new([[NONE; 8]; TOGETHER])));
        }
        if let Some((_, rows)) = self.tables.get_mut(self.place[tile] as usize) {
            let known = &mut rows[row % TOGETHER][of + slot as usize % 2];
            *known = ms.min(*known);
        }
    }

    fn take(&mut self) -> Vec<(u32, Box<[Ms; TOGETHER]>)> {
        let tables = std::mem::take(&mut self.tables);
        for (tile, _) in &tables {
            self.place[*tile as usize] = NONE;
        }
        tables
    }
}

/// A slot of a state that is not an arc itself, but one with something to remember.
const FURTHER: u32 = 1 << 31;

/// By seat: twice the row of its segment and one more for the arc against it; none outside the block.
fn slots(ground: &Ground, segments: &[usize]) -> Vec<u32> {
    let network = &ground.roads.network;
    let topology = &ground.roads.topology;
    let seats = topology.seats(network);
    let mut slots = vec![NONE; seats.len()];
    for (row, segment) in (0..).zip(segments) {
        for forward in [true, false] {
            let arc = Arc::new(*segment, forward);
            slots[seats.seat_of(arc) as usize] = 2 * row + u32::from(!forward);
        }
    }
    for (state, arc) in topology.further() {
        let slot = slots[seats.seat_of(arc) as usize];
        if slot != NONE {
            slots[seats.seat_of(state) as usize] = slot | FURTHER;
        }
    }
    slots
}

struct Job<'j, 'r> {
    class: &'j Class<'r>,
    /// By seat.
    slot_of: &'j [u32],
    bound: u32,
}

impl Job<'_, '_> {
    /// From a fill stand to the end of each arc that begins within the bound.
    fn loaded(&self, search: &mut Search, grid: &mut Grid, side: usize, from: Stand, longest_ms: u32) {
        let graph = &self.class.full;
        if !graph.is_open(from.arc) {
            return;
        }
        let (seats, of) = (graph.seats(), at(0, side, 0));
        let rest = graph.rest_ms(from.arc, from.fraction);
        let reach = self.bound.saturating_add(rest);
        search.forward(graph, from, reach, |_| 0, Until::Bound);
        for (seat, ms) in search.reached() {
            grid.put(self.slot_of[seat as usize], of, ms);
        }
        // An arc that begins within the bound may end beyond it.
        let last = search.reached().filter(|(_, ms)| ms.saturating_add(longest_ms) > reach);
        let last = last.map(|(seat, ms)| (seats.state_in(seat), ms));
        for (state, ms) in last.chain([(from.arc, rest)]) {
            for edge in graph.onward(state) {
                let end = ms.saturating_add(edge.ms);
                if end > reach && end - graph.ms(edge.to) <= reach {
                    grid.put(self.slot_of[seats.seat_of(edge.to) as usize], of, end);
                }
            }
        }
        let begin = Stand { arc: from.arc, fraction: 0.0 };
        if let Some(ms) = Drive::along_ms(graph, from, begin) {
            grid.put(self.slot_of[seats.seat_of(from.arc) as usize], of, ms + graph.ms(from.arc));
        }
    }

    /// From the end of each arc to a fill stand.
    fn empty(&self, search: &mut Search, grid: &mut Grid, side: usize, to: Stand) {
        let graph = &self.class.empty;
        if !graph.is_open(to.arc) {
            return;
        }
        let of = at(1, side, 0);
        search.backward(graph, to, self.bound, |_| 0, Until::Bound);
        for (seat, ms) in search.reached() {
            let slot = self.slot_of[seat as usize];
            // Nothing is remembered where a drive begins.
            if slot & FURTHER == 0 {
                grid.put(slot, of, ms);
            }
        }
        let end = Stand { arc: to.arc, fraction: 1.0 };
        if let Some(ms) = Drive::along_ms(graph, end, to) {
            grid.put(self.slot_of[graph.seats().seat_of(to.arc) as usize], of, ms);
        }
    }
}
