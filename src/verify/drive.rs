//! The rules of the road written a second time, and the quickest drive by petgraph's Dijkstra.
//!
//! A drive is a row of arcs. It costs each arc's time, and between two arcs what the junction
//! (signal, gate) and the turn cost. All in whole milliseconds, as data/speeds.toml has them.

use crate::place::Place;
use crate::plan::Problem;
use crate::roads::network::{Arc, Network};
use crate::roads::tags::{Class, OneWay, TurningPlace};
use crate::routing::Roads;
use crate::routing::access::{self, Flags};
use crate::vehicle::{Body, Load};
use petgraph::graph::{DiGraph, NodeIndex};
use std::collections::HashMap;
use std::sync::Mutex;

/// Seconds as whole milliseconds.
pub fn ms(seconds: f64) -> u64 {
    (seconds * 1000.0).round().max(0.0) as u64
}

/// A place on a road: a segment, and how far along it by length in the way's direction, 0 to 1.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct OnRoad {
    pub segment: usize,
    pub fraction: f64,
}

impl OnRoad {
    /// How far along an arc of this segment it is.
    pub fn along(self, arc: Arc) -> f64 {
        if arc.forward() { self.fraction } else { 1.0 - self.fraction }
    }
    pub fn arcs(self) -> [Arc; 2] {
        [Arc::new(self.segment, true), Arc::new(self.segment, false)]
    }
}

/// The network with what this module needs to know of it.
pub struct Ground<'r> {
    pub roads: &'r Roads,
    leaving: Vec<Vec<Arc>>,
}

impl<'r> Ground<'r> {
    pub fn network(&self) -> &'r Network {
        &self.roads.network
    }
    /// Arcs that begin where this one ends.
    pub fn onward(&self, arc: Arc) -> &[Arc] {
        &self.leaving[self.network().head(arc)]
    }

    /// Milliseconds of the turn, or why it is never made.
    pub fn turn(&self, from: Arc, to: Arc) -> Result<u64, &'static str> {
        let network = self.network();
        let delay = &self.roads.table.delay;
        if network.head(from) != network.tail(to) {
            return Err("the arcs do not meet");
        }
        if network.bans.forbids(from, to) {
            return Err("a turn restriction forbids it");
        }
        let junction = network.head(from);
        let arms = self.leaving[junction].len();
        if to == from.reversed() {
            let tags = &network.way(from).tags;
            if tags.one_way != OneWay::No || matches!(tags.class, Class::Motorway | Class::Trunk) {
                return Err("a truck never turns round on this road");
            }
            if network.mark(junction).is_some_and(|m| m.turning == TurningPlace::Circle) {
                return Ok(ms(delay.turning_circle));
            }
            return match arms {
                1 => Ok(ms(delay.backing)),
                2 => Err("a truck never turns round mid-road"),
                _ => Ok(ms(delay.junction_turnaround)),
            };
        }
        if arms <= 2 {
            return Ok(0);
        }
        let before: Vec<Place> = network.arc_points(from).rev().take(2).collect();
        let after: Vec<Place> = network.arc_points(to).take(2).collect();
        let ([at, came_from], [_, goes_to]) = (&before[..], &after[..]) else { return Ok(0) };
        // Angle between the two straight pieces at the junction, from their dot and cross product
        // on the plane that touches the earth there.
        let (x1, y1) = came_from.offset_from(*at);
        let (x2, y2) = goes_to.offset_from(*at);
        let (x1, y1) = (-x1, -y1);
        let off = (x1 * y2 - y1 * x2).atan2(x1 * x2 + y1 * y2).to_degrees().abs();
        Ok(match off {
            off if off < 45.0 => 0,
            off if off <= 135.0 => ms(delay.turn),
            _ => ms(delay.sharp_turn),
        })
    }
}

/// Quickest times in milliseconds from the start of an arc to the start of every arc reached.
type FromArc = std::sync::Arc<HashMap<NodeIndex, u64>>;

/// The roads as one vehicle at one load finds them.
pub struct Vehicle {
    /// Milliseconds per arc, none where it is closed.
    arc_ms: Vec<Option<u64>>,
    /// Milliseconds lost at a junction, none where it cannot be passed.
    pass_ms: Vec<Option<u64>>,
    /// Node `i` is arc `i`; an edge leads from the start of an arc to the start of the next.
    graph: DiGraph<(), u64>,
    /// Belongs to the largest part in which every arc can be reached from every other.
    main: Vec<bool>,
    known: Mutex<HashMap<Arc, FromArc>>,
}

impl Vehicle {
    fn new(ground: &Ground, body: &Body) -> Vehicle {
        let (arc_ms, pass_ms) = times(ground, body);
        let network = ground.network();
        let mut graph = DiGraph::with_capacity(network.arc_count(), network.arc_count() * 2);
        for _ in network.arcs() {
            graph.add_node(());
        }
        for from in network.arcs() {
            let (Some(own), Some(pass)) = (arc_ms[from.index()], pass_ms[network.head(from)]) else {
                continue;
            };
            for &to in ground.onward(from) {
                if arc_ms[to.index()].is_none() {
                    continue;
                }
                if let Ok(turn) = ground.turn(from, to) {
                    graph.add_edge(
                        NodeIndex::new(from.index()),
                        NodeIndex::new(to.index()),
                        own + pass + turn,
                    );
                }
            }
        }
        let mut main = vec![false; network.arc_count()];
        if let Some(part) = petgraph::algo::kosaraju_scc(&graph).iter().max_by_key(|part| part.len()) {
            for node in part {
                main[node.index()] = true;
            }
        }
        Vehicle { arc_ms, pass_ms, graph, main, known: Mutex::new(HashMap::new()) }
    }

    /// Both ways of a segment are looked at: one of them in the main part is enough to come and go.
    pub fn can_use(&self, segment: usize) -> bool {
        self.main[segment * 2] || self.main[segment * 2 + 1]
    }
    pub fn is_open(&self, arc: Arc) -> bool {
        self.arc_ms[arc.index()].is_some()
    }
    /// Milliseconds from the arc's start to a fraction of its length.
    fn part(&self, arc: Arc, fraction: f64) -> Option<u64> {
        Some((self.arc_ms[arc.index()]? as f64 * fraction.clamp(0.0, 1.0)).round() as u64)
    }

    fn from_arc(&self, arc: Arc) -> FromArc {
        let mut known = match self.known.lock() {
            Ok(known) => known,
            Err(poisoned) => poisoned.into_inner(),
        };
        known
            .entry(arc)
            .or_insert_with(|| {
                let start = NodeIndex::new(arc.index());
                let times = petgraph::algo::dijkstra(&self.graph, start, None, |e| *e.weight());
                FromArc::new(times.into_iter().collect())
            })
            .clone()
    }

    /// Quickest milliseconds from a place, leaving along one arc, to a place, arriving along another.
    pub fn quickest(&self, from: OnRoad, leaving: Arc, to: OnRoad, arriving: Arc) -> Option<u64> {
        let (start, end) =
            (self.part(leaving, from.along(leaving))?, self.part(arriving, to.along(arriving))?);
        if leaving == arriving && to.along(arriving) >= from.along(leaving) {
            return Some(end.saturating_sub(start));
        }
        let times = self.from_arc(leaving);
        let goal = NodeIndex::new(arriving.index());
        let to_goal = if leaving == arriving {
            // Round the block and into the same arc again.
            self.graph
                .edges_directed(goal, petgraph::Direction::Incoming)
                .filter_map(|edge| {
                    Some(times.get(&petgraph::visit::EdgeRef::source(&edge))? + *edge.weight())
                })
                .min()?
        } else {
            *times.get(&goal)?
        };
        Some((to_goal + end).saturating_sub(start))
    }

    /// Milliseconds of a row of arcs, from a fraction of the first to a fraction of the last, or
    /// what is in the way.
    pub fn drive(
        &self,
        ground: &Ground,
        arcs: &[Arc],
        from: f64,
        to: f64,
    ) -> Result<u64, (&'static str, String)> {
        let network = ground.network();
        let closed = |arc: Arc| ("leg.open", format!("way {} is closed to it", network.way(arc).id));
        let mut sum = 0;
        for (i, &arc) in arcs.iter().enumerate() {
            let whole = self.arc_ms[arc.index()].ok_or_else(|| closed(arc))?;
            let start = if i == 0 { self.part(arc, from).unwrap_or(0) } else { 0 };
            let end = if i + 1 == arcs.len() { self.part(arc, to).unwrap_or(whole) } else { whole };
            sum += end.saturating_sub(start);
            if let Some(&next) = arcs.get(i + 1) {
                let junction = &network.junctions[network.head(arc)];
                let pass = self.pass_ms[network.head(arc)]
                    .ok_or_else(|| ("leg.open", format!("node {} cannot be passed", junction.osm_id)))?;
                let turn = ground.turn(arc, next).map_err(|why| {
                    let (from, to) = (network.way(arc).id, network.way(next).id);
                    ("leg.turns", format!("way {from} to way {to} at node {}: {why}", junction.osm_id))
                })?;
                sum += pass + turn;
            }
        }
        Ok(sum)
    }
}

/// Arc and junction times of one body.
fn times(ground: &Ground, body: &Body) -> (Vec<Option<u64>>, Vec<Option<u64>>) {
    let (network, roads) = (ground.network(), ground.roads);
    let arc_ms = network
        .arcs()
        .map(|arc| {
            let way = network.way(arc);
            access::way(way.id, &way.tags, body, &roads.policy).ok()?;
            access::direction(way.id, &way.tags, body, arc.forward(), &roads.policy).ok()?;
            let speed = roads.table.speed(&way.tags, arc.forward(), body.load).0;
            Some(ms(network.length(arc).0 / speed).max(1))
        })
        .collect();
    let delay = &roads.table.delay;
    let pass_ms = (0..network.junctions.len())
        .map(|j| match network.mark(j) {
            None => Some(0),
            // A driver who has stopped at a gate has not stopped at the signal beside it as well.
            Some(mark) => access::node(mark, body, &roads.policy).ok().map(|flags| match mark.signal {
                _ if flags.has(Flags::GATE) => ms(delay.gate),
                true => ms(delay.signal),
                false => 0,
            }),
        })
        .collect();
    (arc_ms, pass_ms)
}

/// Every tanker, full and empty.
pub struct Garage<'r> {
    pub ground: Ground<'r>,
    vehicles: Vec<Vehicle>,
    /// Per tanker of the fleet: its vehicle full and empty.
    of: Vec<(String, usize, usize)>,
}

impl<'r> Garage<'r> {
    pub fn new(problem: &Problem, roads: &'r Roads) -> Garage<'r> {
        let mut leaving = vec![Vec::new(); roads.network.junctions.len()];
        for arc in roads.network.arcs() {
            leaving[roads.network.tail(arc)].push(arc);
        }
        let ground = Ground { roads, leaving };
        let mut vehicles: Vec<Vehicle> = Vec::new();
        let mut of = Vec::new();
        for tanker in &problem.fleet.tankers {
            // Tankers to which the roads are the same share one graph.
            let [full, empty] = [Load::Full, Load::Empty].map(|load| {
                let body = tanker.chassis.body(load);
                let (arc_ms, pass_ms) = times(&ground, &body);
                let same = vehicles.iter().position(|v| v.arc_ms == arc_ms && v.pass_ms == pass_ms);
                same.unwrap_or_else(|| {
                    vehicles.push(Vehicle::new(&ground, &body));
                    vehicles.len() - 1
                })
            });
            of.push((tanker.chassis.id.clone(), full, empty));
        }
        Garage { ground, vehicles, of }
    }

    pub fn vehicle(&self, id: &str, load: Load) -> Option<&Vehicle> {
        let (_, full, empty) = self.of.iter().find(|(known, ..)| known == id)?;
        self.vehicles.get(if load == Load::Full { *full } else { *empty })
    }

    /// The nearest road that every tanker, failing that some tanker, can use full and empty.
    pub fn nearest(&self, place: Place) -> Option<OnRoad> {
        let usable = |all: bool| {
            let network = self.ground.network();
            let mut best: Option<(f64, OnRoad)> = None;
            for segment in 0..network.segments.len() {
                let each = || {
                    self.of.iter().map(|(_, full, empty)| {
                        self.vehicles[*full].can_use(segment) && self.vehicles[*empty].can_use(segment)
                    })
                };
                if let Some((distance, spot)) = super::trace::nearest_on(network, segment, place)
                    && best.is_none_or(|(nearest, _)| distance < nearest)
                    && (if all { each().all(|can| can) } else { each().any(|can| can) })
                {
                    best = Some((distance, spot));
                }
            }
            best.filter(|(distance, _)| *distance <= FARTHEST_M).map(|(_, spot)| spot)
        };
        usable(true).or_else(|| usable(false))
    }
}

/// A place farther than this from every road is not on the roads at all.
const FARTHEST_M: f64 = 1_000.0;
