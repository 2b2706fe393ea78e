//! Which arc may follow which, and the seconds the turn costs: shared by all vehicles.
//!
//! Turnarounds are explicit: at turning circles, at T-junctions and crossroads, at dead ends by
//! backing; mid-road never. Times are whole milliseconds, so that sums do not depend on their order.

use crate::roads::network::{Arc, Network};
use crate::roads::tags::{Class, OneWay, TurningPlace};
use crate::routing::memory::{Bans, Memory};
use crate::routing::shape::Shape;
use crate::routing::speed::SpeedTable;
use crate::units::Seconds;
use std::collections::HashMap;

/// Closed, or not reached.
pub const CLOSED: u32 = u32::MAX;

/// Seconds as the graph counts them.
pub fn millis(seconds: f64) -> u32 {
    (seconds * 1000.0).round().clamp(0.0, f64::from(u32::MAX / 4)) as u32
}

pub fn seconds(millis: u32) -> Seconds {
    Seconds(f64::from(millis) / 1000.0)
}

/// A turn from one arc to the next.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Turn {
    pub to: Arc,
    pub ms: u32,
}

/// Which arc may follow which.
///
/// Its states are the network's arcs and, numbered after them, further states of arcs that lie on a
/// ban through ways: the same arc with something to remember.
#[derive(Debug)]
pub struct Topology {
    /// Where each junction's leaving arcs start in a list of them all: their number is the difference.
    leaving_start: Vec<u32>,
    start: Vec<u32>,
    turns: Vec<Turn>,
    arc_count: usize,
    /// Arc of each further state.
    further: Vec<Arc>,
    /// Bends and grades.
    pub shape: Shape,
}

/// How a vehicle turns round at a junction.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Turnaround {
    Circle,
    /// With the help of a side road.
    Junction,
    /// Dead end: backing with a spotter.
    Backing,
    /// Mid-road: never.
    Never,
}

impl Topology {
    pub fn build(network: &Network, table: &SpeedTable) -> Topology {
        let arc_count = network.arc_count();
        let leaving = leaving_arcs(network);
        let bans = Bans::build(&network.bans);
        let mut state_of: HashMap<usize, Arc> = HashMap::new();
        let mut states: Vec<(Arc, Memory)> = network.arcs().map(|arc| (arc, bans.fresh(arc))).collect();
        for (memory, arc) in bans.deep() {
            state_of.insert(Bans::index(memory), Arc(states.len() as u32));
            states.push((arc, memory));
        }
        let mut start = Vec::with_capacity(states.len() + 1);
        let mut turns = Vec::with_capacity(arc_count * 5 / 2);
        for &(from, memory) in &states {
            start.push(turns.len() as u32);
            let junction = network.head(from);
            let next = &leaving.1[leaving.0[junction] as usize..leaving.0[junction + 1] as usize];
            for &to in next {
                let Some(after) = bans.after(memory, to) else { continue };
                if let Some(ms) = turn_ms(network, table, from, to, next.len()) {
                    let to = if bans.is_deep(after) { state_of[&Bans::index(after)] } else { to };
                    turns.push(Turn { to, ms });
                }
            }
        }
        start.push(turns.len() as u32);
        let shape =
            if table.curve.is_some() { Shape::of_curves(network, &leaving) } else { Shape::default() };
        let further = states[arc_count..].iter().map(|(arc, _)| *arc).collect();
        Topology { leaving_start: leaving.0, start, turns, arc_count, further, shape }
    }

    /// Turns that leave a state's arc at its head.
    pub fn after(&self, state: Arc) -> &[Turn] {
        &self.turns[self.start[state.index()] as usize..self.start[state.index() + 1] as usize]
    }
    pub fn state_count(&self) -> usize {
        self.arc_count + self.further.len()
    }
    /// The arc a state is on; arcs are states of their own.
    pub fn arc(&self, state: Arc) -> Arc {
        self.further.get(state.index().wrapping_sub(self.arc_count)).copied().unwrap_or(state)
    }
    /// All states of an arc, itself first.
    pub fn states(&self, arc: Arc) -> impl Iterator<Item = Arc> + '_ {
        let further = self.further.iter().enumerate().filter(move |(_, a)| **a == arc);
        std::iter::once(arc).chain(further.map(|(i, _)| Arc((self.arc_count + i) as u32)))
    }
    /// Further states with their arcs.
    pub fn further(&self) -> impl Iterator<Item = (Arc, Arc)> + '_ {
        self.further.iter().enumerate().map(|(i, arc)| (Arc((self.arc_count + i) as u32), *arc))
    }
    /// Arms of a junction, whether a turn into them is allowed or not.
    pub fn arms(&self, junction: usize) -> usize {
        (self.leaving_start[junction + 1] - self.leaving_start[junction]) as usize
    }
    pub fn turn_count(&self) -> usize {
        self.turns.len()
    }
}

/// Arcs leaving each junction, as offsets and a flat list.
fn leaving_arcs(network: &Network) -> (Vec<u32>, Vec<Arc>) {
    let mut start = vec![0u32; network.junctions.len() + 1];
    for arc in network.arcs() {
        start[network.tail(arc) + 1] += 1;
    }
    for i in 0..network.junctions.len() {
        start[i + 1] += start[i];
    }
    let mut next = start.clone();
    let mut list = vec![Arc(0); network.arc_count()];
    for arc in network.arcs() {
        let slot = &mut next[network.tail(arc)];
        list[*slot as usize] = arc;
        *slot += 1;
    }
    (start, list)
}

/// Where and how a truck can turn round at a junction with this many arms.
pub fn turnaround(network: &Network, junction: usize, arms: usize) -> Turnaround {
    if network.mark(junction).is_some_and(|m| m.turning == TurningPlace::Circle) {
        return Turnaround::Circle;
    }
    match arms {
        1 => Turnaround::Backing,
        2 => Turnaround::Never,
        _ => Turnaround::Junction,
    }
}

/// Whether a truck may turn back into the road it came on at all.
fn may_back(network: &Network, arc: Arc) -> bool {
    let tags = &network.way(arc).tags;
    tags.one_way == OneWay::No && !matches!(tags.class, Class::Motorway | Class::Trunk)
}

/// Milliseconds of a turn, `None` where it is never made.
fn turn_ms(network: &Network, table: &SpeedTable, from: Arc, to: Arc, arms: usize) -> Option<u32> {
    let delay = &table.delay;
    if to == from.reversed() {
        if !may_back(network, from) {
            return None;
        }
        return Some(millis(match turnaround(network, network.head(from), arms) {
            Turnaround::Circle => delay.turning_circle,
            Turnaround::Junction => delay.junction_turnaround,
            Turnaround::Backing => delay.backing,
            Turnaround::Never => return None,
        }));
    }
    if arms <= 2 {
        return Some(0);
    }
    let off = turn_degrees(network, from, to).abs();
    Some(match off {
        off if off < 45.0 => 0,
        off if off <= 135.0 => millis(delay.turn),
        _ => millis(delay.sharp_turn),
    })
}

/// Degrees off straight on, -180..180, positive to the right.
pub fn turn_degrees(network: &Network, from: Arc, to: Arc) -> f64 {
    let mut end = network.arc_points(from).rev();
    let mut begin = network.arc_points(to);
    let (Some(at), Some(before)) = (end.next(), end.next()) else { return 0.0 };
    let (Some(_), Some(after)) = (begin.next(), begin.next()) else { return 0.0 };
    let bearing = |a: crate::place::Place, b: crate::place::Place| {
        let (east, north) = b.offset_from(a);
        east.atan2(north).to_degrees()
    };
    let mut off = bearing(at, after) - bearing(before, at);
    if off > 180.0 {
        off -= 360.0;
    } else if off < -180.0 {
        off += 360.0;
    }
    off
}
