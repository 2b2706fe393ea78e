//! The lanes of a plan: narrow road that the loops of one case drive in both directions, whoever
//! drives it and wherever they fill.
//!
//! Road is cut into pieces at junctions and at the ends of all legs. A piece is contested if it is too
//! narrow to pass and some leg drives it one way and some leg the other. Contested pieces that follow
//! each other are one lane unless there is a passing place between them: a junction of three or more
//! arms, a mapped passing place or turning circle, or a site, where there must be room to stand. Wide
//! road between two narrow stretches parts them, however short. All of that is the road's own doing,
//! so every leg that uses a lane passes the whole of it.

use super::loops::{ClassGraphs, Loop};
use super::{Lane, Passage};
use crate::roads::network::{Arc, Network};
use crate::roads::tags::TurningPlace;
use crate::routing::graph::RoadGraph;
use crate::routing::path::stretches;
use crate::routing::search::Drive;
use crate::routing::speed::{Room, SpeedTable};
use crate::routing::topology::seconds;
use std::collections::{BTreeMap, HashMap, HashSet};

/// The lanes of a case and the way of each of its loops through them.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct CaseLanes {
    pub lanes: Vec<Lane>,
    /// In the order of the loops asked for.
    pub loops: Vec<LoopLanes>,
}

#[derive(Clone, Debug, Default, PartialEq)]
pub struct LoopLanes {
    pub empty: Vec<Passage>,
    pub loaded: Vec<Passage>,
}

/// Two ends of legs nearer than this, as a share of the segment, are one place.
const SAME_FRACTION: f64 = 1e-9;

/// Finds the lanes of loops driven at the same time, with the times of each loop's class.
pub fn find(loops: &[(&ClassGraphs, &Loop)]) -> CaseLanes {
    let Some((first, _)) = loops.first() else { return CaseLanes::default() };
    let (network, table) = (first.full.network, first.table);
    let legs: Vec<(&RoadGraph, &Drive)> =
        loops.iter().flat_map(|(graphs, l)| [(graphs.empty, &l.empty), (graphs.full, &l.loaded)]).collect();
    let sites = Sites::of(network, legs.iter().map(|(_, drive)| *drive));
    let driven: Vec<Vec<Piece>> = legs.iter().map(|(graph, drive)| pieces(graph, drive, &sites)).collect();
    let contested = contested(network, table, &driven);
    let mut joined = Joined::default();
    for leg in &driven {
        for pair in leg.windows(2) {
            if pair[1].follows && contested.contains(&pair[0].road) && contested.contains(&pair[1].road) {
                joined.join(pair[0].road, pair[1].road, pair[0].forward != pair[1].forward);
            }
        }
    }
    let mut number: HashMap<Road, usize> = HashMap::new();
    let mut metres: Vec<BTreeMap<String, f64>> = Vec::new();
    for piece in driven.iter().flatten().filter(|piece| contested.contains(&piece.road)) {
        let (root, _) = joined.find(piece.road);
        let lane = *number.entry(root).or_insert_with(|| {
            metres.push(BTreeMap::new());
            metres.len() - 1
        });
        *metres[lane].entry(street(network, piece.road.0)).or_default() += piece.metres;
    }
    let mut ways = driven.iter().map(|leg| {
        passages(leg, |piece| {
            let (root, against) = joined.find(piece.road);
            let lane = contested.contains(&piece.road).then(|| number[&root]);
            lane.map(|lane| (lane, piece.forward != against))
        })
    });
    let mut of_loops = Vec::with_capacity(loops.len());
    while let (Some(empty), Some(loaded)) = (ways.next(), ways.next()) {
        of_loops.push(LoopLanes { empty, loaded });
    }
    CaseLanes { lanes: named(&metres), loops: of_loops }
}

/// A segment and the number of the piece of it, counted in the way's direction.
type Road = (usize, usize);

/// Where legs begin and end: tankers stand there, off the lane.
#[derive(Default)]
struct Sites {
    /// Fractions within a segment, in the way's direction, in order.
    within: HashMap<usize, Vec<f64>>,
    junctions: HashSet<usize>,
}

impl Sites {
    fn of<'d>(network: &Network, drives: impl Iterator<Item = &'d Drive>) -> Sites {
        let mut sites = Sites::default();
        for drive in drives {
            for stand in [drive.origin(), drive.goal()] {
                let along = if stand.arc.forward() { stand.fraction } else { 1.0 - stand.fraction };
                let segment = stand.arc.segment();
                let arc = Arc::new(segment, true);
                if along <= SAME_FRACTION {
                    sites.junctions.insert(network.tail(arc));
                } else if along >= 1.0 - SAME_FRACTION {
                    sites.junctions.insert(network.head(arc));
                } else {
                    sites.within.entry(segment).or_default().push(along);
                }
            }
        }
        for cuts in sites.within.values_mut() {
            cuts.sort_by(f64::total_cmp);
            cuts.dedup_by(|b, a| *b - *a <= SAME_FRACTION);
        }
        sites
    }
}

/// A piece of road as one leg drives it.
struct Piece {
    road: Road,
    /// With the way's direction.
    forward: bool,
    metres: f64,
    /// Milliseconds from the start of the leg.
    from_ms: i64,
    to_ms: i64,
    /// Nothing that lets tankers pass lies between the piece before and this one.
    follows: bool,
}

fn pieces(graph: &RoadGraph, drive: &Drive, sites: &Sites) -> Vec<Piece> {
    let network = graph.network;
    let mut out: Vec<Piece> = Vec::new();
    let (mut clock_ms, mut state) = (0_i64, None);
    let mut before: Option<Arc> = None;
    for (arc, from, to) in stretches(drive) {
        // The junction and the turn there.
        let edge = state.and_then(|state| graph.step(state, arc));
        if let Some(edge) = edge {
            clock_ms += i64::from(edge.ms - graph.ms(arc));
        }
        state = Some(edge.map_or(arc, |edge| edge.to));
        let at_ms = |fraction: f64| {
            clock_ms + i64::from(graph.part_ms(arc, fraction)) - i64::from(graph.part_ms(arc, from))
        };
        let cuts = sites.within.get(&arc.segment()).map_or(&[][..], Vec::as_slice);
        let edges: Vec<f64> = [0.0].into_iter().chain(cuts.iter().copied()).chain([1.0]).collect();
        let mut whole: Vec<(usize, f64, f64)> =
            edges.windows(2).enumerate().map(|(i, e)| (i, e[0], e[1])).collect();
        if !arc.forward() {
            whole = whole.into_iter().rev().map(|(i, low, high)| (i, 1.0 - high, 1.0 - low)).collect();
        }
        let mut follows =
            before.is_some_and(|last| last.reversed() != arc && !lets_pass(graph, sites, network.tail(arc)));
        for (i, low, high) in whole {
            let (low, high) = (low.max(from), high.min(to));
            if high - low <= SAME_FRACTION {
                continue;
            }
            out.push(Piece {
                road: (arc.segment(), i),
                forward: arc.forward(),
                metres: network.length(arc).0 * (high - low),
                from_ms: at_ms(low),
                to_ms: at_ms(high),
                follows,
            });
            follows = false;
        }
        clock_ms = at_ms(to);
        before = Some(arc);
    }
    out
}

/// Whether two tankers can get past each other at a junction.
fn lets_pass(graph: &RoadGraph, sites: &Sites, junction: usize) -> bool {
    let network = graph.network;
    graph.topology.arms(junction) != 2
        || sites.junctions.contains(&junction)
        || network.mark(junction).is_some_and(|mark| mark.turning != TurningPlace::None)
}

/// Narrow pieces that are driven in both directions.
fn contested(network: &Network, table: &SpeedTable, driven: &[Vec<Piece>]) -> HashSet<Road> {
    let mut ways: HashMap<Road, [bool; 2]> = HashMap::new();
    for piece in driven.iter().flatten() {
        ways.entry(piece.road).or_default()[usize::from(piece.forward)] = true;
    }
    let narrow = |road: &Road| table.room(&network.way(Arc::new(road.0, true)).tags) == Room::Narrow;
    ways.into_iter().filter(|(road, ways)| *ways == [true; 2] && narrow(road)).map(|(road, _)| road).collect()
}

/// Which pieces are one lane, and whether they run the same way along it: a forest in which each
/// piece knows a parent and whether it runs against it.
#[derive(Default)]
struct Joined {
    parent: HashMap<Road, (Road, bool)>,
}

impl Joined {
    fn find(&self, road: Road) -> (Road, bool) {
        let (mut at, mut against) = (road, false);
        while let Some((parent, turned)) = self.parent.get(&at) {
            (at, against) = (*parent, against != *turned);
        }
        (at, against)
    }

    fn join(&mut self, a: Road, b: Road, turned: bool) {
        let ((root_a, against_a), (root_b, against_b)) = (self.find(a), self.find(b));
        if root_a != root_b {
            self.parent.insert(root_b, (root_a, turned != (against_a != against_b)));
        }
    }
}

/// The passages of one leg: pieces of one lane that follow each other are one.
fn passages(leg: &[Piece], lane_of: impl Fn(&Piece) -> Option<(usize, bool)>) -> Vec<Passage> {
    let mut out: Vec<Passage> = Vec::new();
    let mut open: Option<(usize, bool, i64)> = None;
    for piece in leg {
        let Some((lane, forward)) = lane_of(piece) else {
            open = None;
            continue;
        };
        let goes_on = piece.follows && open.is_some_and(|(l, f, _)| (l, f) == (lane, forward));
        let from_ms = match open {
            Some((.., from_ms)) if goes_on => from_ms,
            _ => piece.from_ms,
        };
        if goes_on {
            out.pop();
        }
        let span = |ms: i64| seconds(ms.max(0) as u32);
        out.push(Passage { lane, forward, after: span(from_ms), take: span(piece.to_ms - from_ms) });
        open = Some((lane, forward, from_ms));
    }
    out
}

fn street(network: &Network, segment: usize) -> String {
    let way = network.way(Arc::new(segment, true));
    let name = network.name(way);
    if name.is_empty() { format!("unnamed road (way {})", way.id) } else { name.to_string() }
}

/// The street most of a lane lies on; several lanes on one street are numbered as they are met.
fn named(metres: &[BTreeMap<String, f64>]) -> Vec<Lane> {
    let longest = |by_name: &BTreeMap<String, f64>| {
        let most = by_name.iter().max_by(|a, b| a.1.total_cmp(b.1).then(b.0.cmp(a.0)));
        most.map_or(String::new(), |(name, _)| name.clone())
    };
    let names: Vec<String> = metres.iter().map(longest).collect();
    let lane = |i: usize| {
        let of_name = names.iter().filter(|name| **name == names[i]).count();
        let nth = 1 + names[..i].iter().filter(|name| **name == names[i]).count();
        let name = &names[i];
        Lane { name: if of_name > 1 { format!("{name}, stretch {nth} of {of_name}") } else { name.clone() } }
    };
    (0..names.len()).map(lane).collect()
}
