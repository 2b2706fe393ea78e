//! The road graph of one vehicle at one load. Its nodes are arcs, its edges are turns: a
//! `Topology` shared by all vehicles plus what this one makes of it, milliseconds per arc or closed.

use crate::roads::network::{Arc, Network};
use crate::routing::access::{self, Closure, Flags, Policy};
use crate::routing::speed::SpeedTable;
use crate::routing::topology::{CLOSED, Topology, Turn, millis};
use crate::vehicle::{Body, Load};

/// The roads as one vehicle at one load finds them.
#[derive(Debug)]
pub struct RoadGraph<'n> {
    pub network: &'n Network,
    pub topology: &'n Topology,
    pub body: Body,
    pub policy: &'n Policy,
    /// Milliseconds to drive each arc, `CLOSED` where it is closed.
    arc_ms: Vec<u32>,
    /// Milliseconds lost at each junction (signal, gate), `CLOSED` where it cannot be passed.
    pass_ms: Vec<u32>,
    /// `pass_ms` of the junction at each arc's head: the search asks for nothing else.
    head_ms: Vec<u32>,
}

impl<'n> RoadGraph<'n> {
    pub fn build(
        network: &'n Network,
        topology: &'n Topology,
        table: &SpeedTable,
        policy: &'n Policy,
        body: Body,
    ) -> RoadGraph<'n> {
        let per_way: Vec<[f64; 2]> = network
            .ways
            .iter()
            .map(|way| {
                if access::way(way.id, &way.tags, &body, policy).is_err() {
                    return [0.0; 2];
                }
                [true, false].map(|forward| {
                    match access::direction(way.id, &way.tags, &body, forward, policy) {
                        Ok(_) => table.speed(&way.tags, forward, body.load).0,
                        Err(_) => 0.0,
                    }
                })
            })
            .collect();
        let arc_ms = network
            .arcs()
            .map(|arc| {
                let segment = network.segment(arc);
                match per_way[segment.way as usize][usize::from(!arc.forward())] {
                    0.0 => CLOSED,
                    speed => millis(f64::from(segment.length_m) / speed).max(1),
                }
            })
            .collect();
        let pass_ms = (0..network.junctions.len())
            .map(|j| match network.mark(j) {
                None => 0,
                Some(mark) => match access::node(mark, &body, policy) {
                    Err(_) => CLOSED,
                    Ok(flags) if flags.has(Flags::GATE) => millis(table.delay.gate),
                    Ok(_) if mark.signal => millis(table.delay.signal),
                    Ok(_) => 0,
                },
            })
            .collect();
        RoadGraph::assemble(network, topology, policy, body, arc_ms, pass_ms)
    }

    fn assemble(
        network: &'n Network,
        topology: &'n Topology,
        policy: &'n Policy,
        body: Body,
        arc_ms: Vec<u32>,
        pass_ms: Vec<u32>,
    ) -> RoadGraph<'n> {
        let head_ms = network.arcs().map(|arc| pass_ms[network.head(arc)]).collect();
        RoadGraph { network, topology, body, policy, arc_ms, pass_ms, head_ms }
    }

    /// Every road open both ways, every barrier passable: only for finding out what is in the way.
    pub fn unobstructed(&self, table: &SpeedTable) -> RoadGraph<'n> {
        let network = self.network;
        let arc_ms = network
            .arcs()
            .map(|arc| {
                let speed = table.speed(&network.way(arc).tags, arc.forward(), self.body.load).0;
                millis(network.length(arc).0 / speed).max(1)
            })
            .collect();
        let pass_ms = vec![0; network.junctions.len()];
        RoadGraph::assemble(network, self.topology, self.policy, self.body.clone(), arc_ms, pass_ms)
    }

    /// Milliseconds to drive the whole arc, `CLOSED` if it is closed.
    pub fn ms(&self, arc: Arc) -> u32 {
        self.arc_ms[arc.index()]
    }
    pub fn is_open(&self, arc: Arc) -> bool {
        self.ms(arc) != CLOSED
    }
    /// Milliseconds lost in passing the junction.
    pub fn pass_ms(&self, junction: usize) -> u32 {
        self.pass_ms[junction]
    }
    /// Milliseconds from the arc's tail to a `fraction` (0..1) of its length.
    pub fn part_ms(&self, arc: Arc, fraction: f64) -> u32 {
        match self.ms(arc) {
            CLOSED => CLOSED,
            ms => (f64::from(ms) * fraction.clamp(0.0, 1.0)).round() as u32,
        }
    }
    /// Two graphs that agree here take the same ways in the same time.
    pub fn same_costs(&self, other: &RoadGraph) -> bool {
        self.arc_ms == other.arc_ms && self.pass_ms == other.pass_ms
    }
    /// Why an arc is closed to this vehicle, if it is.
    pub fn closure(&self, arc: Arc) -> Option<Closure> {
        let way = self.network.way(arc);
        access::way(way.id, &way.tags, &self.body, self.policy)
            .and_then(|_| access::direction(way.id, &way.tags, &self.body, arc.forward(), self.policy))
            .err()
    }
    /// What a driver should know about an open arc.
    pub fn flags(&self, arc: Arc) -> Flags {
        let way = self.network.way(arc);
        let along = access::way(way.id, &way.tags, &self.body, self.policy).unwrap_or_default();
        let across =
            access::direction(way.id, &way.tags, &self.body, arc.forward(), self.policy).unwrap_or_default();
        Flags(along.0 | across.0)
    }
    pub fn load(&self) -> Load {
        self.body.load
    }
    /// The turn between two arcs with the time lost at the junction, `None` if it cannot be made.
    pub fn turn(&self, from: Arc, to: Arc) -> Option<u32> {
        let pass = self.pass_ms(self.network.head(from));
        let turn = self.topology.after(from).iter().find(|t| t.to == to)?;
        (pass != CLOSED && self.is_open(from) && self.is_open(to)).then(|| turn.ms + pass)
    }
    /// Turns that can be driven after an arc; each with the milliseconds of turn and junction.
    pub fn onward(&self, arc: Arc) -> Turns<'_> {
        let pass = if self.is_open(arc) { self.head_ms[arc.index()] } else { CLOSED };
        let turns = if pass == CLOSED { &[] } else { self.topology.after(arc) };
        Turns { arc_ms: &self.arc_ms, pass, turns: turns.iter() }
    }
    /// Turns that can be driven into an arc; `to` is the arc they come from.
    pub fn inward(&self, arc: Arc) -> Turns<'_> {
        // An arc's tail is the head of the arc against it.
        let pass = if self.is_open(arc) { self.head_ms[arc.reversed().index()] } else { CLOSED };
        let turns = if pass == CLOSED { &[] } else { self.topology.before(arc) };
        Turns { arc_ms: &self.arc_ms, pass, turns: turns.iter() }
    }
}

/// The open turns at one end of an arc.
#[derive(Clone, Debug)]
pub struct Turns<'a> {
    arc_ms: &'a [u32],
    pass: u32,
    turns: std::slice::Iter<'a, Turn>,
}

impl Iterator for Turns<'_> {
    type Item = Turn;
    fn next(&mut self) -> Option<Turn> {
        loop {
            let turn = self.turns.next()?;
            if self.arc_ms[turn.to.index()] != CLOSED {
                return Some(Turn { to: turn.to, ms: turn.ms + self.pass });
            }
        }
    }
}
