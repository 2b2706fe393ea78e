//! Travel times between fill sites, stations and dump candidates, for every side of approach.
//!
//! One search per arc of road on which a candidate lies, not per candidate: a place farther along
//! the same arc is the same search and a part of the arc more. Where searches around the fill sites are kept
//! (`around`), times are looked up there, and only the arcs that loops are asked for are searched from.

use crate::plan::around::{Asked, Way};
use crate::plan::ground::{Class, Ground};
use crate::plan::known::{At, LoopsKey};
use crate::roads::network::Arc;
use crate::routing::graph::RoadGraph;
use crate::routing::search::{Drive, Search, Stand, Tree};
use crate::routing::snap::Spot;
use crate::routing::speed::SpeedTable;
use crate::routing::topology::millis;
use crate::shuttle::loops::Ways;
use rayon::prelude::*;
use std::collections::HashMap;
use std::sync::{Arc as Shared, OnceLock};

/// Times of one class between its sites and one arc that leads to (or from) a dump candidate.
struct ArcTimes {
    /// Milliseconds, loaded, from each fill stand to the arc's tail.
    loaded: Vec<[Option<u32>; 2]>,
    /// Milliseconds, empty, from the arc's head to each fill stand.
    empty: Vec<[Option<u32>; 2]>,
    /// The searches themselves, once they are asked for.
    trees: OnceLock<[Shared<Tree>; 2]>,
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
    /// By class, empty.
    longest_arc_ms: Vec<u32>,
}

/// What is kept around one side of a fill site.
struct Sides {
    full_from: Shared<Tree>,
    empty_to: Shared<Tree>,
}

/// By side.
type Root = [Sides; 2];

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
        QuickLoop::least(loaded, empty, turn_ms).filter(|quick| quick.is_within(longest_ms))
    }

    /// The same, however long its legs.
    pub fn least(
        loaded: impl Fn(usize, usize) -> Option<u32>,
        empty: impl Fn(usize, usize) -> Option<u32>,
        turn_ms: u32,
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
        best
    }

    pub fn is_within(&self, longest_ms: u32) -> bool {
        self.loaded_ms.max(self.empty_ms) <= longest_ms
    }

    /// Driving, and turning at the sites.
    pub fn drive_ms(&self, turn_ms: u32) -> u32 {
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
        let mut reach = Reach {
            ground,
            fills,
            times: HashMap::new(),
            from_station: station_times(ground, segments),
            longest_ms: millis(longest_leg_s),
            longest_arc_ms: ground.classes.iter().map(|class| class.empty.longest_arc_ms()).collect(),
        };
        reach.times = match reach.roots() {
            Some(roots) => jobs.into_iter().map(|job| (job, reach.looked_up(&roots, job))).collect(),
            None => jobs
                .into_par_iter()
                .map_init(Search::new, |search, job| (job, reach.searched(search, job)))
                .collect(),
        };
        reach
    }

    /// By class and site, what is kept around it; none where nothing is kept from one request to the next.
    fn roots(&self) -> Option<Vec<Vec<Option<Root>>>> {
        let around = self.ground.around.as_ref()?;
        let states = self.ground.roads.topology.seats(&self.ground.roads.network).len();
        if !around.has_room(self.ground.classes.len() * self.fills.len() * 4, states) {
            return None;
        }
        let of_class = |(class, longest_arc_ms): (&Class<'r>, &u32)| {
            let ways = class.ways();
            // A search from the other end counts its bound from a fill arc's end.
            let longest_ms = ways.full.longest_arc_ms().saturating_add(*longest_arc_ms);
            let bound = self.longest_ms.saturating_add(longest_ms);
            let of_site = |search: &mut Search, spot: &Option<Spot>| {
                let of_way = |search: &mut Search, way, at| {
                    around.tree(search, ways, &Asked { way, at, bound, wanted: None })
                };
                spot.map(|spot| {
                    spot.stands().map(|at| Sides {
                        full_from: of_way(search, Way::FullFrom, at),
                        empty_to: of_way(search, Way::EmptyTo, at),
                    })
                })
            };
            self.fills.par_iter().map_init(Search::new, of_site).collect()
        };
        Some(self.ground.classes.iter().zip(&self.longest_arc_ms).map(of_class).collect())
    }

    /// The times of an arc by what is kept around the fill sites: just those that `searched` finds.
    fn looked_up(&self, roots: &[Vec<Option<Root>>], (class, arc): (usize, Arc)) -> ArcTimes {
        let (tail, head) = ends(arc);
        let class_ = &self.ground.classes[class];
        let (full, empty) = (&class_.full, &class_.empty);
        let farthest_ms = self.longest_ms.saturating_add(self.longest_arc_ms[class]);
        let loaded = |from: Stand, around: &Sides| {
            let ms = around.full_from.ms_to(full, from, tail)?;
            let from_end = ms.saturating_sub(full.rest_ms(from.arc, from.fraction));
            (from_end <= self.longest_ms || Drive::along_ms(full, from, tail).is_some()).then_some(ms)
        };
        let empty = |to: Stand, around: &Sides| {
            let ms = around.empty_to.ms_from(empty, head, to)?;
            let to_end = ms.saturating_add(empty.rest_ms(to.arc, to.fraction));
            (to_end <= farthest_ms || Drive::along_ms(empty, head, to).is_some()).then_some(ms)
        };
        let both = |find: &dyn Fn(Stand, &Sides) -> Option<u32>| -> Vec<[Option<u32>; 2]> {
            let of = |(spot, root): (&Option<Spot>, &Option<Root>)| match (spot, root) {
                (Some(spot), Some(root)) => [0, 1].map(|side| find(spot.stands()[side], &root[side])),
                _ => [None; 2],
            };
            self.fills.iter().zip(&roots[class]).map(of).collect()
        };
        ArcTimes { loaded: both(&loaded), empty: both(&empty), trees: OnceLock::new() }
    }

    /// The times of an arc by searches from it.
    fn searched(&self, search: &mut Search, (class, arc): (usize, Arc)) -> ArcTimes {
        let (tail, head) = ends(arc);
        let trees = self.trees_of(search, class, arc);
        let class = &self.ground.classes[class];
        let both = |find: &dyn Fn(Stand) -> Option<u32>| -> Vec<[Option<u32>; 2]> {
            self.fills.iter().map(|spot| spot.map_or([None; 2], |s| s.stands().map(find))).collect()
        };
        let loaded = both(&|from| trees[0].ms_from(&class.full, from, tail));
        let empty = both(&|to| trees[1].ms_to(&class.empty, head, to));
        ArcTimes { loaded, empty, trees: OnceLock::from(trees) }
    }

    /// Loaded to an arc's tail and empty from its head, each until every stand at a fill site is settled.
    fn trees_of(&self, search: &mut Search, class: usize, arc: Arc) -> [Shared<Tree>; 2] {
        let (tail, head) = ends(arc);
        // A label is that of a fill arc's end; it is the stand on it that the leg ends at.
        let farthest_ms = self.longest_ms.saturating_add(self.longest_arc_ms[class]);
        let class = &self.ground.classes[class];
        let fill_arcs = || self.fills.iter().flatten().flat_map(|s| s.stands()).map(|s| s.arc);
        let mut tree = |graph, way, at, bound| {
            let wanted = open_arcs(graph, fill_arcs());
            let asked = Asked { way, at, bound, wanted: Some(&wanted) };
            match &self.ground.around {
                Some(around) => around.tree(search, class.ways(), &asked),
                None => Shared::new(asked.search(class, search)),
            }
        };
        let to_tail = tree(&class.full, Way::FullTo, tail, self.longest_ms);
        [to_tail, tree(&class.empty, Way::EmptyFrom, head, farthest_ms)]
    }

    /// The trees around a dump spot, for both of its sides: loaded to it, empty from it.
    pub fn trees(&self, class: usize, dump: &Spot) -> Option<[[&Tree; 2]; 2]> {
        let of = |stand: Stand| {
            let times = self.times(class, stand.arc)?;
            Some(times.trees.get_or_init(|| self.trees_of(&mut Search::new(), class, stand.arc)))
        };
        let [a, b] = dump.stands().map(of);
        let (a, b) = (a?, b?);
        Some([[&a[0], &b[0]], [&a[1], &b[1]]])
    }

    /// Where a fill site is on the road, if it is.
    pub fn fill(&self, site: usize) -> Option<&Spot> {
        self.fills[site].as_ref()
    }

    /// All that loops between the two depend on beside the roads.
    pub(super) fn loops_key(&self, class: usize, (fill, dump): (&Spot, &Spot), ways: Ways) -> LoopsKey {
        let pair = self.ground.pair_key(class, (fill, dump));
        let fills = self.fills.iter().map(|spot| spot.as_ref().map(At::from)).collect();
        LoopsKey { pair, ways: std::mem::discriminant(&ways), longest_ms: self.longest_ms, fills }
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
        first_drive_ms(&self.ground.classes[class].full, station.stands(), dump.stands(), to_begin)
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

/// Where a drive to an arc ends, and where one from it begins.
fn ends(arc: Arc) -> (Stand, Stand) {
    (Stand { arc, fraction: 0.0 }, Stand { arc, fraction: 1.0 })
}

/// Milliseconds from a station to a spot by either side of both, by the times `to_begin` of the spot's arcs, or
/// along the road that both lie on.
pub fn first_drive_ms(
    graph: &RoadGraph,
    station: [Stand; 2],
    dump: [Stand; 2],
    to_begin: impl Fn(Arc) -> Option<u32>,
) -> Option<u32> {
    let over = dump.map(|to| Some(to_begin(to.arc)? + graph.part_ms(to.arc, to.fraction)));
    let along = [0, 1].map(|side| Drive::along_ms(graph, station[side], dump[side]));
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
                let bound = millis(FARTHEST_STATION_S);
                let wanted = open_arcs(graph, arcs.iter().copied());
                let asked = Asked { way: Way::FullFrom, at: from, bound, wanted: Some(&wanted) };
                let tree = match &ground.around {
                    Some(around) => {
                        around.tree(search, ground.classes[*class].ways(), &Asked { wanted: None, ..asked })
                    }
                    None => Shared::new(asked.search(&ground.classes[*class], search)),
                };
                for &arc in &arcs {
                    if let Some(ms) = tree.ms_to(graph, from, Stand { arc, fraction: 0.0 }) {
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
