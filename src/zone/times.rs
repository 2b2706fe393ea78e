//! Drives between the fill sites, the stations and every stretch of a block: one search from each side of
//! each fill site a class and leg, instead of one from each stretch.

use crate::place::Bounds;
use crate::plan::ground::Ground;
use crate::plan::reach::{FARTHEST_STATION_S, QuickLoop, first_drive_ms};
use crate::roads::network::Arc;
use crate::routing::graph::RoadGraph;
use crate::routing::search::{Drive, Search, Stand, Until};
use crate::routing::snap::Spot;
use crate::routing::topology::millis;
use rayon::prelude::*;

/// No truck drives faster as the crow flies (90 mph; an overlay's local speed is 130 km/h at most).
const FASTEST_MPS: f64 = 40.0;
const NONE: u32 = u32::MAX;

/// The segments of a block, in the order of their first stretch.
pub struct Rows {
    pub segments: Vec<usize>,
    /// Fill sites that may be reached, by index into the ground's.
    pub sites: Vec<usize>,
    fills: Vec<Spot>,
    /// By class, site, side and leg; of the block's arcs, `2 · row + direction`.
    loaded: Vec<Vec<u32>>,
    empty: Vec<Vec<u32>>,
    /// Longest leg.
    longest_ms: u32,
}

impl Rows {
    /// Searches for a block of segments, a little farther than the longest leg, as `plan` does.
    pub fn search(ground: &Ground, segments: Vec<usize>, longest_leg_s: f64) -> Rows {
        let network = &ground.roads.network;
        let around = Bounds::around(segments.iter().flat_map(|s| network.points(*s)).copied());
        let near =
            |spot: &Spot| around.is_some_and(|b| metres_outside(&b, spot) <= longest_leg_s * FASTEST_MPS);
        let (sites, fills): (Vec<usize>, Vec<Spot>) = ground
            .sites
            .iter()
            .enumerate()
            .filter_map(|(i, site)| Some((i, site.state.as_ref().ok()?.spot)))
            .filter(|(_, spot)| near(spot))
            .unzip();
        let bound = millis(longest_leg_s);
        let longest_ms: Vec<u32> = ground.classes.iter().map(|class| class.full.longest_arc_ms()).collect();
        let jobs: Vec<(usize, Stand)> = (0..ground.classes.len())
            .flat_map(|class| fills.iter().flat_map(move |fill| fill.stands().map(|stand| (class, stand))))
            .collect();
        let (loaded, empty) = jobs
            .par_iter()
            .map_init(Search::new, |search, (class, stand)| {
                let class_ = &ground.classes[*class];
                let loaded = loaded_row(search, &class_.full, *stand, bound, longest_ms[*class], &segments);
                (loaded, empty_row(search, &class_.empty, *stand, bound, &segments))
            })
            .unzip();
        Rows { segments, sites, fills, loaded, empty, longest_ms: bound }
    }

    /// The quickest loop of a class between a site and a spot on a segment of the block.
    pub fn quick_loop(
        &self,
        ground: &Ground,
        class: usize,
        site: usize,
        row: usize,
        dump: &Spot,
    ) -> Option<QuickLoop> {
        let graphs = &ground.classes[class];
        let (full, empty) = (&graphs.full, &graphs.empty);
        let first = (class * self.fills.len() + site) * 2;
        let fill = self.fills[site].stands();
        let stands = dump.stands();
        let known = |rows: &[Vec<u32>], side: usize, direction: usize| {
            Some(rows[first + side][row * 2 + direction]).filter(|ms| *ms != NONE)
        };
        let loaded_ms = |side: usize, direction: usize| {
            let to = stands[direction];
            Drive::along_ms(full, fill[side], to)
                .or_else(|| Some(known(&self.loaded, side, direction)? + full.part_ms(to.arc, to.fraction)))
        };
        let empty_ms = |direction: usize, side: usize| {
            let from = stands[direction];
            Drive::along_ms(empty, from, fill[side]).or_else(|| {
                Some(known(&self.empty, side, direction)? + empty.rest_ms(from.arc, from.fraction))
            })
        };
        let turn_ms = millis(ground.roads.table.delay.site_turnaround);
        QuickLoop::of(loaded_ms, empty_ms, turn_ms, self.longest_ms)
    }
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

/// The block's arcs in the order of the rows.
fn arcs(segments: &[usize]) -> impl Iterator<Item = Arc> + '_ {
    segments.iter().flat_map(|segment| [true, false].map(|forward| Arc::new(*segment, forward)))
}

/// Milliseconds from a fill stand to the begin of each arc.
fn loaded_row(
    search: &mut Search,
    graph: &RoadGraph,
    from: Stand,
    bound: u32,
    longest_ms: u32,
    segments: &[usize],
) -> Vec<u32> {
    if !graph.is_open(from.arc) {
        return vec![NONE; segments.len() * 2];
    }
    let rest = graph.rest_ms(from.arc, from.fraction);
    // A label is that of the arc's end; the leg may end at its begin.
    let reach = bound.saturating_add(rest).saturating_add(longest_ms);
    search.forward(graph, from, reach, |_| 0, Until::Bound);
    let begin = |arc: Arc| search.ms_to(graph, from, Stand { arc, fraction: 0.0 });
    arcs(segments).map(|arc| begin(arc).unwrap_or(NONE)).collect()
}

/// Milliseconds from the end of each arc to a fill stand.
fn empty_row(search: &mut Search, graph: &RoadGraph, to: Stand, bound: u32, segments: &[usize]) -> Vec<u32> {
    if !graph.is_open(to.arc) {
        return vec![NONE; segments.len() * 2];
    }
    search.backward(graph, to, bound, |_| 0, Until::Bound);
    let end = |arc: Arc| search.ms_from(graph, Stand { arc, fraction: 1.0 }, to);
    arcs(segments).map(|arc| end(arc).unwrap_or(NONE)).collect()
}

/// Milliseconds from stations to the begin of every arc of the network.
pub struct StationTimes {
    /// By tanker, the list that is its own.
    list_of: Vec<Option<usize>>,
    lists: Vec<(Spot, Vec<u32>)>,
}

impl StationTimes {
    /// Tankers of one class and station share a search.
    pub fn search(ground: &Ground) -> StationTimes {
        let mut jobs: Vec<(usize, Spot)> = Vec::new();
        let list_of = ground
            .stations
            .iter()
            .enumerate()
            .map(|(tanker, spot)| {
                let spot = (*spot)?;
                let class = ground.class_of(tanker);
                let known = jobs.iter().position(|(c, at)| *c == class && at.place == spot.place);
                Some(known.unwrap_or_else(|| {
                    jobs.push((class, spot));
                    jobs.len() - 1
                }))
            })
            .collect();
        let lists = jobs
            .par_iter()
            .map_init(Search::new, |search, (class, spot)| {
                let graph = &ground.classes[*class].full;
                let mut times = vec![NONE; graph.network.arc_count()];
                for from in spot.stands() {
                    search.forward(graph, from, millis(FARTHEST_STATION_S), |_| 0, Until::Bound);
                    for arc in graph.network.arcs() {
                        if let Some(ms) = search.ms_to(graph, from, Stand { arc, fraction: 0.0 }) {
                            times[arc.index()] = times[arc.index()].min(ms);
                        }
                    }
                }
                (*spot, times)
            })
            .collect();
        StationTimes { list_of, lists }
    }

    /// Milliseconds from a tanker's station to a spot, full.
    pub fn ms(&self, ground: &Ground, class: usize, tanker: usize, dump: &Spot) -> Option<u32> {
        let graph = &ground.classes[class].full;
        let (station, times) = &self.lists[self.list_of[tanker]?];
        let to_begin = |arc: Arc| Some(times[arc.index()]).filter(|ms| *ms != NONE);
        first_drive_ms(graph, station, dump, to_begin)
    }
}
