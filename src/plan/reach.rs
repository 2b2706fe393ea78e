//! Travel times between fill sites, stations and dump candidates, for every side of approach.
//!
//! One search per arc of road on which a candidate lies, not per candidate: a place farther along
//! the same arc is the same search and a part of the arc more.

use crate::plan::ground::{Class, Ground};
use crate::roads::network::Arc;
use crate::routing::graph::RoadGraph;
use crate::routing::search::{Drive, Search, Stand, Tree, Until};
use crate::routing::snap::Spot;
use crate::routing::speed::SpeedTable;
use crate::routing::topology::millis;
use rayon::prelude::*;
use std::collections::HashMap;

/// Times of one class between its sites and one arc that leads to (or from) a dump candidate.
struct ArcTimes {
    /// Milliseconds, loaded, from each fill stand to the arc's tail.
    loaded: Vec<[Option<u32>; 2]>,
    /// Milliseconds, empty, from the arc's head to each fill stand.
    empty: Vec<[Option<u32>; 2]>,
    /// The searches themselves, loaded to the tail and empty from the head.
    trees: [Tree; 2],
}

/// The longest first drive from a station: help from farther comes too late for a first plan.
pub const FARTHEST_STATION_S: f64 = 7_200.0;

/// All travel times of a plan.
pub struct Reach<'g, 'r> {
    ground: &'g Ground<'r>,
    /// Fill spots by site; none where the site is out.
    fills: Vec<Option<Spot>>,
    times: HashMap<(usize, Arc), ArcTimes>,
    /// Milliseconds, loaded, from each tanker's station to the tail of each arc.
    from_station: HashMap<(usize, Arc), u32>,
    /// Longest leg.
    longest_ms: u32,
}

/// The quickest loop of one class between one fill site and one dump spot.
#[derive(Clone, Copy, Debug)]
pub struct QuickLoop {
    pub loaded_ms: u32,
    pub empty_ms: u32,
    pub turns_at_dump: bool,
    pub turns_at_fill: bool,
}

impl QuickLoop {
    /// The quickest over all sides of approach; both stands of a spot are numbered as `Spot::stands` has
    /// them. None if a leg of it is longer than `longest_ms`: what lies about that far was searched for all
    /// sides, so that no worse side stands in for one out of reach. `loaded` is from a fill stand to a dump stand, `empty` from a dump stand to a fill stand.
    pub fn of(
        loaded: impl Fn(usize, usize) -> Option<u32>,
        empty: impl Fn(usize, usize) -> Option<u32>,
        turn_ms: u32,
        longest_ms: u32,
    ) -> Option<QuickLoop> {
        let empty = [0, 1].map(|out| [0, 1].map(|into| empty(out, into)));
        let mut best: Option<QuickLoop> = None;
        for fill_out in 0..2 {
            for dump_in in 0..2 {
                let Some(loaded_ms) = loaded(fill_out, dump_in) else { continue };
                for (dump_out, from_here) in empty.iter().enumerate() {
                    for (fill_in, empty_ms) in from_here.iter().enumerate() {
                        let &Some(empty_ms) = empty_ms else { continue };
                        let found = QuickLoop {
                            loaded_ms,
                            empty_ms,
                            turns_at_dump: dump_in != dump_out,
                            turns_at_fill: fill_in != fill_out,
                        };
                        if best.as_ref().is_none_or(|b| found.drive_ms(turn_ms) < b.drive_ms(turn_ms)) {
                            best = Some(found);
                        }
                    }
                }
            }
        }
        best.filter(|quick| quick.loaded_ms.max(quick.empty_ms) <= longest_ms)
    }

    fn drive_ms(&self, turn_ms: u32) -> u32 {
        self.loaded_ms
            + self.empty_ms
            + turn_ms * (u32::from(self.turns_at_dump) + u32::from(self.turns_at_fill))
    }
}

impl<'g, 'r> Reach<'g, 'r> {
    /// Searches from the arcs of all segments named, for all classes, in parallel.
    pub fn search(ground: &'g Ground<'r>, segments: &[usize], longest_leg_s: f64) -> Reach<'g, 'r> {
        let fills: Vec<Option<Spot>> =
            ground.sites.iter().map(|s| s.state.as_ref().ok().map(|p| p.spot)).collect();
        let jobs: Vec<(usize, Arc)> = (0..ground.classes.len())
            .flat_map(|c| segments.iter().flat_map(move |s| [true, false].map(|f| (c, Arc::new(*s, f)))))
            .collect();
        let bound = millis(longest_leg_s);
        let times = jobs
            .par_iter()
            .map_init(Search::new, |search, &(c, arc)| {
                let class = &ground.classes[c];
                ((c, arc), arc_times(search, class, &fills, arc, bound))
            })
            .collect();
        let from_station = station_times(ground, segments);
        Reach { ground, fills, times, from_station, longest_ms: bound }
    }

    /// The trees around a dump spot, for both of its sides: loaded to it, empty from it.
    pub fn trees(&self, class: usize, dump: &Spot) -> Option<[[&Tree; 2]; 2]> {
        let [a, b] = dump.stands().map(|stand| self.times(class, stand.arc));
        let (a, b) = (a?, b?);
        Some([[&a.trees[0], &b.trees[0]], [&a.trees[1], &b.trees[1]]])
    }

    /// Where a fill site is on the road, if it is.
    pub fn fill(&self, site: usize) -> Option<&Spot> {
        self.fills[site].as_ref()
    }

    fn times(&self, class: usize, arc: Arc) -> Option<&ArcTimes> {
        self.times.get(&(class, arc))
    }

    /// Milliseconds loaded from a fill stand to a dump stand.
    fn loaded_ms(&self, class: usize, fill: usize, side: usize, from: Stand, to: Stand) -> Option<u32> {
        let graph = &self.ground.classes[class].full;
        Drive::along_ms(graph, from, to).or_else(|| {
            Some(self.times(class, to.arc)?.loaded[fill][side]? + graph.part_ms(to.arc, to.fraction))
        })
    }

    /// Milliseconds empty from a dump stand to a fill stand.
    fn empty_ms(&self, class: usize, fill: usize, side: usize, from: Stand, to: Stand) -> Option<u32> {
        let graph = &self.ground.classes[class].empty;
        Drive::along_ms(graph, from, to).or_else(|| {
            Some(self.times(class, from.arc)?.empty[fill][side]? + graph.rest_ms(from.arc, from.fraction))
        })
    }

    /// Milliseconds from a tanker's station to the dump spot, full.
    pub fn station_ms(&self, class: usize, tanker: usize, dump: &Spot) -> Option<u32> {
        let station = self.ground.stations[tanker]?;
        let to_begin = |arc| self.from_station.get(&(tanker, arc)).copied();
        first_drive_ms(&self.ground.classes[class].full, &station, dump, to_begin)
    }

    /// The quickest loop over all sides of approach, turning at the sites included.
    pub fn quick_loop(
        &self,
        class: usize,
        fill: usize,
        dump: &Spot,
        table: &SpeedTable,
    ) -> Option<QuickLoop> {
        let fill_stands = self.fills[fill]?.stands();
        let dump_stands = dump.stands();
        let loaded =
            |out: usize, into: usize| self.loaded_ms(class, fill, out, fill_stands[out], dump_stands[into]);
        let empty =
            |out: usize, into: usize| self.empty_ms(class, fill, into, dump_stands[out], fill_stands[into]);
        QuickLoop::of(loaded, empty, millis(table.delay.site_turnaround), self.longest_ms)
    }
}

fn arc_times(search: &mut Search, class: &Class, fills: &[Option<Spot>], arc: Arc, bound: u32) -> ArcTimes {
    let (tail, head) = (Stand { arc, fraction: 0.0 }, Stand { arc, fraction: 1.0 });
    let both = |find: &dyn Fn(Stand) -> Option<u32>| -> Vec<[Option<u32>; 2]> {
        fills.iter().map(|spot| spot.map_or([None; 2], |s| s.stands().map(find))).collect()
    };
    // The search may stop once every stand asked for is settled.
    let fill_arcs = || fills.iter().flatten().flat_map(|s| s.stands()).map(|s| s.arc);
    let wanted = open_arcs(&class.full, fill_arcs());
    search.backward(&class.full, tail, bound, |_| 0, Until::Settled(&wanted));
    let loaded = both(&|from| search.ms_from(&class.full, from, tail));
    let to_tail = search.tree();

    let wanted = open_arcs(&class.empty, fill_arcs());
    // A label is that of a fill arc's end; it is the stand on it that the leg ends at.
    let reach = bound.saturating_add(class.empty.longest_arc_ms());
    search.forward(&class.empty, head, reach, |_| 0, Until::Settled(&wanted));
    let empty = both(&|to| search.ms_to(&class.empty, head, to));
    ArcTimes { loaded, empty, trees: [to_tail, search.tree()] }
}

/// Milliseconds from a station to a spot by either side, by the times `to_begin` of the spot's arcs, or along
/// the road that both lie on.
pub fn first_drive_ms(
    graph: &RoadGraph,
    station: &Spot,
    dump: &Spot,
    to_begin: impl Fn(Arc) -> Option<u32>,
) -> Option<u32> {
    let over = dump.stands().map(|to| Some(to_begin(to.arc)? + graph.part_ms(to.arc, to.fraction)));
    let along = [0, 1].map(|side| Drive::along_ms(graph, station.stands()[side], dump.stands()[side]));
    over.into_iter().chain(along).flatten().min()
}

/// One search per tanker and direction out of its station; tankers of one class and station share.
fn station_times(ground: &Ground, segments: &[usize]) -> HashMap<(usize, Arc), u32> {
    let arcs: Vec<Arc> = segments.iter().flat_map(|s| [true, false].map(|f| Arc::new(*s, f))).collect();
    let mut jobs: Vec<(usize, Spot, Vec<usize>)> = Vec::new();
    for (c, class) in ground.classes.iter().enumerate() {
        for &tanker in &class.tankers {
            let Some(spot) = ground.stations[tanker] else { continue };
            match jobs.iter_mut().find(|(class, at, _)| *class == c && at.place == spot.place) {
                Some((.., members)) => members.push(tanker),
                None => jobs.push((c, spot, vec![tanker])),
            }
        }
    }
    let found: Vec<HashMap<(usize, Arc), u32>> = jobs
        .par_iter()
        .map_init(Search::new, |search, (class, spot, members)| {
            let graph = &ground.classes[*class].full;
            let mut times: HashMap<Arc, u32> = HashMap::new();
            for from in spot.stands() {
                let wanted = open_arcs(graph, arcs.iter().copied());
                search.forward(graph, from, millis(FARTHEST_STATION_S), |_| 0, Until::Settled(&wanted));
                for &arc in &arcs {
                    if let Some(ms) = search.ms_to(graph, from, Stand { arc, fraction: 0.0 }) {
                        let best = times.entry(arc).or_insert(ms);
                        *best = ms.min(*best);
                    }
                }
            }
            members.iter().flat_map(|m| times.iter().map(|(arc, ms)| ((*m, *arc), *ms))).collect()
        })
        .collect();
    found.into_iter().flatten().collect()
}

fn open_arcs(graph: &RoadGraph, arcs: impl Iterator<Item = Arc>) -> Vec<Arc> {
    let mut open: Vec<Arc> = arcs.filter(|a| graph.is_open(*a)).collect();
    open.sort_unstable();
    open.dedup();
    open
}
