//! A drive told to people: distance, ways, streets, line, and what a driver should know.

use crate::finding::{Code, Finding, Findings, OsmRef, Where};
use crate::place::Place;
use crate::roads::network::{Arc, Network};
use crate::routing::access::{self, Flags};
use crate::routing::bridge;
use crate::routing::graph::RoadGraph;
use crate::routing::search::Drive;
use crate::routing::topology::{Turnaround, seconds, turnaround};
use crate::units::{Metres, Seconds};
use crate::vehicle::Load;
use serde::Serialize;
use std::collections::HashSet;

/// One drive of one vehicle, ready to be shown.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Leg {
    #[serde(rename = "travel_s")]
    pub travel: Seconds,
    #[serde(rename = "distance_m")]
    pub distance: Metres,
    /// OSM way ids in the order driven, each run of one way once.
    pub ways: Vec<i64>,
    /// Street names in the order driven, unnamed stretches left out.
    pub streets: Vec<String>,
    /// Line driven, from the origin's to the goal's place on the road.
    pub line: Vec<Place>,
}

/// Length of a stretch of an arc.
pub fn part_length(network: &Network, arc: Arc, from: f64, to: f64) -> Metres {
    network.length(arc) * (to - from)
}

/// The arcs of a drive with the stretch of each that is driven.
pub fn stretches(drive: &Drive) -> impl Iterator<Item = (Arc, f64, f64)> + '_ {
    let last = drive.arcs.len() - 1;
    drive.arcs.iter().enumerate().map(move |(i, arc)| {
        let from = if i == 0 { drive.from_fraction } else { 0.0 };
        let to = if i == last { drive.to_fraction } else { 1.0 };
        (*arc, from, to)
    })
}

/// Points of a stretch of an arc, in the direction of travel.
pub fn stretch_points(network: &Network, arc: Arc, from: f64, to: f64) -> Vec<Place> {
    if from <= 0.0 && to >= 1.0 {
        return network.arc_points(arc).collect();
    }
    let ends = points_at(network, arc, &[from, to]);
    between(network, arc, ends[0], ends[1])
}

/// Points of an arc between two of those that [`points_at`] told.
pub fn between(
    network: &Network,
    arc: Arc,
    (first, start): (usize, Place),
    (last, end): (usize, Place),
) -> Vec<Place> {
    let mut line = Vec::with_capacity(last.saturating_sub(first) + 2);
    line.push(start);
    line.extend(network.arc_points(arc).skip(first + 1).take(last.saturating_sub(first)));
    line.push(end);
    line.dedup();
    line
}

/// The point at a fraction of an arc's length, with the number of the point at or before it.
pub fn point_at(network: &Network, arc: Arc, fraction: f64) -> (usize, Place) {
    points_at(network, arc, &[fraction])[0]
}

/// The same at rising fractions, on one walk along the arc.
pub fn points_at(network: &Network, arc: Arc, fractions: &[f64]) -> Vec<(usize, Place)> {
    let length = network.length(arc).0.max(1e-9);
    let wanted = |nth: usize| fractions[nth].clamp(0.0, 1.0) * length;
    let mut found = vec![(0, network.bounds.west_south); fractions.len()];
    let (mut along, mut passed) = (0.0, 0);
    let (mut number, mut before) = (0, None::<Place>);
    for point in network.arc_points(arc) {
        if let Some(from) = before {
            let length = from.distance(point).0;
            while passed < found.len() && along + length >= wanted(passed) && length > 0.0 {
                found[passed] = (number, from.between(point, (wanted(passed) - along) / length));
                passed += 1;
            }
            if passed == found.len() {
                return found;
            }
            along += length;
            number += 1;
        }
        before = Some(point);
    }
    if let Some(last) = before {
        found[passed..].fill((number.saturating_sub(1), last));
    }
    found
}

pub fn distance(network: &Network, drive: &Drive) -> Metres {
    stretches(drive).map(|(arc, from, to)| part_length(network, arc, from, to)).sum()
}

/// Tells a drive.
pub fn describe(network: &Network, drive: &Drive) -> Leg {
    let (mut ways, mut streets, mut line) = (Vec::new(), Vec::<String>::new(), Vec::new());
    for (arc, from, to) in stretches(drive) {
        let way = network.way(arc);
        if ways.last() != Some(&way.id) {
            ways.push(way.id);
        }
        let name = network.name(way);
        if !name.is_empty() && streets.last().is_none_or(|last| last != name) {
            streets.push(name.to_string());
        }
        line.extend(stretch_points(network, arc, from, to));
    }
    line.dedup();
    // A line needs two positions even where origin and goal are one place.
    if line.len() == 1 {
        line.push(line[0]);
    }
    Leg { travel: seconds(drive.ms), distance: distance(network, drive), ways, streets, line }
}

/// What the driver of this drive should know.
pub fn findings(graph: &RoadGraph, drive: &Drive) -> Findings {
    let network = graph.network;
    let mut found = Findings::new();
    let mut told: HashSet<(Code, i64)> = HashSet::new();
    for (i, (arc, from, to)) in stretches(drive).enumerate() {
        let way = network.way(arc);
        let flags = graph.flags(arc);
        let place = || {
            let name = network.name(way);
            let middle = stretch_points(network, arc, (from + to) / 2.0, to)[0];
            let place = Where::osm(OsmRef::Way(way.id)).at(middle);
            if name.is_empty() { place } else { place.named(name) }
        };
        for (flag, code, cause, action) in ROAD_NOTES {
            if flags.has(*flag) && told.insert((*code, way.id)) {
                found.add(Finding::new(*code, place(), *cause, *action));
            }
        }
        if graph.load() == Load::Full
            && let Some(weight) = bridge::weight(&way.tags)
            && told.insert((weight.code(), way.id))
        {
            let crossing = format!("this vehicle crosses it at {:.1} t", graph.body.mass.tonnes());
            found.add(weight.finding(place(), &crossing));
        }
        let local = way.tags.local.as_ref().and_then(|l| l.speed[usize::from(!arc.forward())].as_ref());
        if let Some(speed) = local
            && told.insert((Code::LocalSpeed, way.id))
        {
            let cause = format!("the speed here is not the table's: {}", speed.said);
            found.add(Finding::new(Code::LocalSpeed, place(), cause, "drive it with a watch if it is old"));
        }
        if way.tags.passing_places && told.insert((Code::PassingPlaces, way.id)) {
            found.add(Finding::new(
                Code::PassingPlaces,
                place(),
                "the road has passing places somewhere; two tankers are taken to get past each other on it",
                "look where they are and whether a tanker fits, and agree over the radio who holds",
            ));
        }
        let Some(next) = drive.arcs.get(i + 1) else { continue };
        let junction = network.head(arc);
        let at = network.junctions[junction].place;
        let node = || Where::osm(OsmRef::Node(network.junctions[junction].osm_id)).at(at);
        // Where the truck turns back it does not pass what stands there.
        let passed = network.mark(junction).filter(|_| *next != arc.reversed());
        let judged = passed.map(|mark| access::node(mark, &graph.body, graph.policy));
        let flags = judged.and_then(Result::ok).unwrap_or_default();
        if let Some(said) = passed.and_then(|mark| mark.opened.as_ref()) {
            let cause = format!("the gate is opened, as an overlay says: {said}");
            found.add(Finding::new(Code::GateOpened, node(), cause, "make sure that somebody does open it"));
        }
        for (flag, code, cause, action) in NODE_NOTES.iter().chain(ROAD_NOTES) {
            // A stop at a toll booth takes the time of a gate and is none.
            let gate = *code != Code::GateOnWay || !flags.has(Flags::STOP);
            if flags.has(*flag) && gate {
                found.add(Finding::new(*code, node(), *cause, *action));
            }
        }
        if *next == arc.reversed() {
            let kind = turnaround(network, junction, graph.topology.arms(junction));
            if kind == Turnaround::Yard {
                found.add(Finding::new(
                    Code::YardTurn,
                    node(),
                    "the truck turns in a parking area or yard, which may be full",
                    "have it kept free",
                ));
            }
            // Mid-road a truck turns only where the road ends for it, if not for others.
            if matches!(kind, Turnaround::Backing | Turnaround::Never) {
                found.add(Finding::new(
                    Code::Backing,
                    node(),
                    "the truck turns where the road ends for it, without a turning place",
                    "back with a spotter, or choose another way",
                ));
            }
        }
    }
    found
}

const NODE_NOTES: &[(Flags, Code, &str, &str)] = &[
    (
        Flags::GATE,
        Code::GateOnWay,
        "a gate or similar barrier stands on the way",
        "send someone ahead to open it and to keep it open",
    ),
    (Flags::LOCKED, Code::GateLocked, "the gate is mapped as locked", "bring the key or cutters"),
    (
        Flags::STOP,
        Code::StopOnWay,
        "a toll booth or border control stands on the way",
        "have the crossing cleared beforehand",
    ),
    (
        Flags::UNMEASURED,
        Code::FrameUnmeasured,
        "nobody measured the height frame on the way",
        "measure it before you rely on it",
    ),
    (
        Flags::GAP,
        Code::GapOnWay,
        "the way passes between posts with a measured gap",
        "drive it with the widest tanker before relying on it",
    ),
];

const ROAD_NOTES: &[(Flags, Code, &str, &str)] = &[
    (
        Flags::PRIVATE,
        Code::PrivateRoad,
        "the road is private, destination-only or restricted",
        "settle the right of way with the owner beforehand",
    ),
    (
        Flags::NO_ACCESS_OPENED,
        Code::PrivateRoad,
        "the road is closed to traffic and opened by this request",
        "make sure that the authority having jurisdiction agrees",
    ),
    (
        Flags::TRACK,
        Code::TrackUsed,
        "the way uses a track",
        "drive it with a full tanker before relying on it",
    ),
    (
        Flags::RATING,
        Code::RatingLimit,
        "a sign limits the rated weight below this vehicle's",
        "ask the road authority whether fire apparatus are exempt",
    ),
    (
        Flags::HGV,
        Code::HgvRestricted,
        "heavy goods vehicles are restricted here",
        "find out whether the reason is physical",
    ),
    (
        Flags::CONTRAFLOW,
        Code::OneWayOverride,
        "a one-way road is used against its direction by named override",
        "have traffic stopped before use",
    ),
    (
        Flags::CONTRAFLOW_SIGNED,
        Code::OneWayLifted,
        "a one-way road is used against its direction; the map lifts it for emergency vehicles",
        "have traffic stopped before use",
    ),
    (
        Flags::EXEMPT,
        Code::LimitLifted,
        "a limit below this vehicle is posted that by its sign does not bind here and now",
        "make sure that the sign means your traffic and that the road carries the load",
    ),
    (
        Flags::UNDECIDED,
        Code::ConditionUndecided,
        "a condition on the sign could not be decided",
        "give the time with `when`, or check by hand whether it holds",
    ),
    (
        Flags::SEASONAL,
        Code::SeasonalRoad,
        "the road is open in some seasons only",
        "make sure that it is open and carries a full tanker",
    ),
    (Flags::FORD, Code::FordUsed, "the way goes through a ford", "look at the water before sending a truck"),
    (
        Flags::FERRY,
        Code::FerryUsed,
        "the way uses a ferry; waiting and crossing are not in the time",
        "ask the operator for times and loads",
    ),
    (Flags::BUS, Code::BusLane, "lanes or the road are set apart for buses", "expect buses"),
    (
        Flags::VERY_ROUGH,
        Code::RoughRoad,
        "the road is mapped as too rough for most vehicles",
        "drive it with a full tanker before relying on it",
    ),
];
