//! The rules of the road written a second time, and the fleet that drives by them.
//!
//! A drive is a row of arcs. It costs each arc's time, and between two arcs what the junction
//! (signal, gate) and the turn cost. All in whole milliseconds, as data/speeds.toml has them.

use crate::place::Place;
use crate::plan::Problem;
use crate::roads::network::{Arc, Network};
use crate::roads::tags::{Class, OneWay, TurningPlace};
use crate::routing::Roads;
use crate::vehicle::Load;
use crate::verify::vehicle::{Vehicle, times};

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

    /// Arms of a junction.
    pub fn leaving(&self, junction: usize) -> usize {
        self.leaving[junction].len()
    }

    /// Whether a truck turns back on the road it came on at all.
    pub fn may_turn_back(&self, arc: Arc) -> bool {
        let tags = &self.network().way(arc).tags;
        tags.one_way == OneWay::No && !matches!(tags.class, Class::Motorway | Class::Trunk)
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
            if !self.may_turn_back(from) {
                return Err("a truck never turns round on this road");
            }
            match network.mark(junction).map(|mark| mark.turning) {
                Some(TurningPlace::Circle) => return Ok(ms(delay.turning_circle)),
                Some(TurningPlace::Yard) => return Ok(ms(delay.yard_turnaround)),
                _ => {}
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
