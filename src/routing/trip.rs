//! One vehicle from one place to another: snap, search, tell; or why not.

use crate::finding::{Code, Finding, Findings, Outcome, Refusal, Where};
use crate::place::Place;
use crate::roads::network::Network;
use crate::routing::Roads;
use crate::routing::access::Policy;
use crate::routing::graph::RoadGraph;
use crate::routing::path::{self, Leg};
use crate::routing::search::{Drive, Search, Until};
use crate::routing::snap::{Connection, SnapIndex, SnapRule, Spot};
use crate::routing::topology::CLOSED;
use crate::routing::why::{self, Obstacle};
use crate::units::Metres;
use crate::vehicle::Body;
use petgraph::unionfind::UnionFind;
use std::sync::OnceLock;

/// A usable road this much farther than the nearest road is still "this road": the width of a road
/// and a yard, too little to jump a stream.
pub const SNAP_TOLERANCE: Metres = Metres(25.0);
/// A place farther than this from every road is an error, not a guess.
pub const FARTHEST: Metres = Metres(1000.0);

/// The answer to "how does this vehicle drive from here to there?".
#[derive(Clone, Debug)]
pub enum Trip {
    Found {
        leg: Leg,
        drive: Drive,
        findings: Findings,
    },
    /// No way; the obstacles on the least obstructed one, empty if no road connects the two at all.
    None {
        obstacles: Vec<Obstacle>,
    },
}

/// Snaps places for vehicles of a road network, with the network's proper part worked out once.
pub struct Snapper<'r> {
    pub index: SnapIndex<'r>,
    proper: Connection,
    /// By segment: part of the roads that hang together with most others; found by whoever asks first.
    joined: OnceLock<Vec<bool>>,
}

impl<'r> Snapper<'r> {
    pub fn new(roads: &'r Roads) -> Snapper<'r> {
        // A closed road is still a road: a place beside it is not put on another in silence.
        let policy = Policy { closures: false, ..roads.policy.clone() };
        let Roads { network, topology, table, .. } = roads;
        // What is open is all that is asked of it, whatever time it takes.
        let every_road = RoadGraph::build(network, topology, table, &policy, Body::weightless(), |_, _| 1);
        let proper = Connection::of(&every_road);
        let index = SnapIndex::build(&roads.network);
        Snapper { index, proper, joined: OnceLock::new() }
    }

    /// Whether a segment belongs to the road network proper.
    pub fn is_proper(&self, segment: usize) -> bool {
        self.proper.both(segment)
    }

    /// The nearest road that hangs together with most others, whoever may drive it: for what has no traffic
    /// rules, such as hose.
    pub fn beside(&self, place: Place, farthest: Metres) -> Option<Spot> {
        let joined = self.joined.get_or_init(|| largest_part(self.index.network()));
        let joined = |segment: usize| joined[segment];
        let rule = SnapRule { proper: &joined, usable: &joined, tolerance: SNAP_TOLERANCE, farthest };
        self.index.snap(place, &rule)
    }

    pub fn snap(&self, place: Place, usable: &dyn Fn(usize) -> bool, farthest: Metres) -> Option<Spot> {
        let proper = |segment: usize| self.is_proper(segment);
        self.index.snap(place, &SnapRule { proper: &proper, usable, tolerance: SNAP_TOLERANCE, farthest })
    }
}

/// By segment: whether it hangs together with most others.
fn largest_part(network: &Network) -> Vec<bool> {
    let mut parts = UnionFind::new(network.junctions.len());
    for segment in &network.segments {
        parts.union(segment.from as usize, segment.to as usize);
    }
    let part_of = parts.into_labeling();
    let mut sizes = vec![0u32; part_of.len()];
    for segment in &network.segments {
        sizes[part_of[segment.from as usize]] += 1;
    }
    let largest = (0..sizes.len()).max_by_key(|part| sizes[*part]);
    network.segments.iter().map(|segment| Some(part_of[segment.from as usize]) == largest).collect()
}

/// Says that a place is off the roads, and whether its numbers look exchanged.
pub fn off_the_roads(roads: &Roads, place: Place, what: Where, farthest: Metres) -> Refusal {
    let bounds = &roads.network.bounds;
    if let Some(exchanged) = place.exchanged()
        && !bounds.contains(place)
        && bounds.contains(exchanged)
    {
        return Refusal::new(
            Code::SwappedLonLat,
            what.at(place),
            "longitude and latitude look swapped: the other way round it lies within the roads",
            format!("write the longitude first: {exchanged}"),
        );
    }
    let nearest =
        roads.network.junctions.iter().map(|j| j.place.distance(place).0).fold(f64::INFINITY, f64::min);
    let cause = if nearest > farthest.0 {
        format!("the nearest road junction of {} is {:.1} km away", roads.network.file, nearest / 1000.0)
    } else {
        format!("no road that leads anywhere lies within {farthest:.0}")
    };
    Refusal::new(
        Code::OffTheRoads,
        what.at(place),
        cause,
        "check the coordinates (longitude first) and that the extract covers the place",
    )
}

/// Tells of a place that was put on a road some way off, and what is nearer.
pub fn moved(roads: &Roads, snapper: &Snapper, place: Place, spot: &Spot, what: Where) -> Option<Finding> {
    if spot.distance.0 <= SNAP_TOLERANCE.0 {
        return None;
    }
    let network = &roads.network;
    let told = |spot: &Spot| {
        let way = &network.ways[network.segments[spot.segment].way as usize];
        let name = network.name(way);
        let name = if name.is_empty() { "an unnamed road" } else { name };
        format!("{name} (way {}), {:.0} off", way.id, spot.distance)
    };
    let every = |_: usize| true;
    let rule = SnapRule { proper: &every, usable: &every, tolerance: SNAP_TOLERANCE, farthest: FARTHEST };
    let nearer = snapper.index.snap(place, &rule).filter(|n| n.distance.0 + 1.0 < spot.distance.0);
    let nearer = nearer.map_or(String::new(), |nearest| {
        format!("; nearer is {}, but it is closed or leads nowhere", told(&nearest))
    });
    Some(Finding::new(
        Code::PlaceMoved,
        what.at(place),
        format!("it is put on {}{nearer}", told(spot)),
        "look whether a truck gets from there to the place, or correct the place",
    ))
}

/// Finds the quickest drive of a body between two places.
pub fn trip(roads: &Roads, body: Body, from: Place, to: Place) -> Outcome<Trip> {
    let snapper = Snapper::new(roads);
    let graph = roads.graph(body);
    let connection = Connection::of(&graph);
    let usable = |segment: usize| connection.both(segment);
    let mut notes = Findings::new();
    let mut spot = |place: Place, name: &str| {
        let what = || Where::default().named(name);
        let spot = snapper
            .snap(place, &usable, FARTHEST)
            .ok_or_else(|| off_the_roads(roads, place, what(), FARTHEST))?;
        notes.extend(moved(roads, &snapper, place, &spot, what()));
        Ok::<Spot, Refusal>(spot)
    };
    let (origin, goal) = (spot(from, "--from")?, spot(to, "--to")?);
    let mut trip = between(&graph, roads, &origin, &goal);
    if let Trip::Found { findings, .. } = &mut trip {
        findings.extend(notes);
    }
    Ok(trip)
}

/// The quickest drive between two spots, starting and ending in either direction.
pub fn between(graph: &RoadGraph, roads: &Roads, origin: &Spot, goal: &Spot) -> Trip {
    let mut search = Search::new();
    let mut best: Option<Drive> = None;
    // A label is the time to the goal arc's end; the drive ends before it, at most a whole arc.
    let past_goal = goal.stands().map(|s| graph.ms(s.arc)).into_iter().filter(|ms| *ms != CLOSED).max();
    for from in origin.stands() {
        let bound = best.as_ref().map_or(u32::MAX - 1, |b| b.ms.saturating_add(past_goal.unwrap_or(0)));
        search.forward(graph, from, bound, |_| 0, Until::Bound);
        for to in goal.stands() {
            if let Some(drive) = search.drive_to(graph, from, to)
                && best.as_ref().is_none_or(|b| drive.ms < b.ms)
            {
                best = Some(drive);
            }
        }
    }
    match best {
        Some(drive) => Trip::Found {
            leg: path::describe(graph.network, &drive),
            findings: path::findings(graph, &drive),
            drive,
        },
        None => {
            Trip::None { obstacles: why::obstacles(graph, &roads.table, &origin.stands(), &goal.stands()) }
        }
    }
}
