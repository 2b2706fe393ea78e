//! The road graph of one vehicle at one load. Its nodes are arcs, its edges are turns: a
//! `Topology` shared by all vehicles plus what this one makes of it, milliseconds per arc or closed.

use crate::roads::network::{Arc, Network};
use crate::routing::access::{self, Closure, Flags, Policy};
use crate::routing::edges::{Edge, Edges, Step, Steps};
use crate::routing::pace::Pace;
use crate::routing::seats::Seats;
use crate::routing::speed::SpeedTable;
use crate::routing::topology::{CLOSED, Topology, millis};
use crate::units::MetresPerSecond;
use crate::vehicle::{Body, Load};
use std::sync::{Arc as Shared, OnceLock};

/// A bit for each state and each junction that is open.
#[derive(Debug, PartialEq, Eq)]
pub struct Openings {
    arcs: Vec<u64>,
    junctions: Vec<u64>,
}

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
    /// Open turns by the state they leave, made when first asked for.
    onward: OnceLock<Steps>,
    /// The same by the state they enter.
    inward: OnceLock<Steps>,
}

impl<'n> RoadGraph<'n> {
    /// With the milliseconds that an open arc takes under its way's own speed.
    pub fn build(
        network: &'n Network,
        topology: &'n Topology,
        table: &SpeedTable,
        policy: &'n Policy,
        body: Body,
        ms: impl Fn(Arc, MetresPerSecond) -> u32,
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
                    speed => ms(arc, MetresPerSecond(speed)),
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
        mut arc_ms: Vec<u32>,
        pass_ms: Vec<u32>,
    ) -> RoadGraph<'n> {
        arc_ms.extend(topology.further().map(|(_, arc)| arc_ms[arc.index()]).collect::<Vec<_>>());
        RoadGraph {
            network,
            topology,
            body,
            policy,
            arc_ms,
            pass_ms,
            onward: OnceLock::new(),
            inward: OnceLock::new(),
        }
    }

    /// Every road open both ways, every barrier passable: only for finding out what is in the way.
    pub fn unobstructed(&self, table: &SpeedTable) -> RoadGraph<'n> {
        let network = self.network;
        let shape = self.topology.shape(network);
        let pace = Pace::new(network, &shape, table, &self.body);
        let arc_ms = network.arcs().map(|arc| pace.ms(arc, pace.own(arc))).collect();
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
    /// Milliseconds of the open arc that takes longest.
    pub fn longest_arc_ms(&self) -> u32 {
        self.arc_ms.iter().copied().filter(|ms| *ms != CLOSED).max().unwrap_or(0)
    }
    /// Milliseconds of the edge that takes longest.
    pub fn longest_step_ms(&self) -> u32 {
        self.steps_onward().longest_ms()
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
    /// Milliseconds from a `fraction` of the arc's length to its head; none left of a closed one.
    pub fn rest_ms(&self, arc: Arc, fraction: f64) -> u32 {
        self.ms(arc) - self.part_ms(arc, fraction)
    }
    /// Two graphs that agree here differ in nothing but times.
    pub fn openings(&self) -> Openings {
        let open = |ms: &[u32]| {
            let word =
                |states: &[u32]| states.iter().rev().fold(0, |word, ms| word << 1 | u64::from(*ms != CLOSED));
            ms.chunks(64).map(word).collect()
        };
        Openings { arcs: open(&self.arc_ms), junctions: open(&self.pass_ms) }
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
        let edge = self.step(from, to)?;
        Some(edge.ms - self.ms(to))
    }
    /// The edge from a state into an arc.
    pub fn step(&self, state: Arc, arc: Arc) -> Option<Edge> {
        self.onward(state).find(|edge| self.topology.arc(edge.to) == arc)
    }
    /// Where a search keeps the states.
    pub fn seats(&self) -> &Shared<Seats> {
        self.topology.seats(self.network)
    }
    pub(super) fn steps_onward(&self) -> &Steps {
        self.onward.get_or_init(|| {
            Steps::onward(self.seats().len(), self.topology.turn_count(), |seat| self.open_steps(seat))
        })
    }
    /// Milliseconds lost in passing the junction at a state's head; none where the drive ends there.
    pub fn pass_after(&self, state: Arc) -> Option<u32> {
        let pass_ms = self.pass_ms[self.network.head(self.topology.arc(state))];
        (self.is_open(state) && pass_ms != CLOSED).then_some(pass_ms)
    }
    /// Edges that can be driven from a state, told one by one: who asks for many asks [`RoadGraph::onward`].
    pub fn open_turns(&self, state: Arc) -> impl Iterator<Item = Edge> + '_ {
        let pass_ms = self.pass_after(state);
        let turns = self.topology.after_where(state, pass_ms.is_some());
        let open = turns.filter(|turn| self.is_open(turn.to));
        open.map(move |turn| Edge { to: turn.to, ms: turn.ms + pass_ms.unwrap_or(0) + self.ms(turn.to) })
    }
    /// The same between seats.
    fn open_steps(&self, seat: u32) -> impl Iterator<Item = Step> + '_ {
        let seats = self.seats();
        let edges = self.open_turns(seats.state_in(seat));
        edges.map(|edge| Step { to: seats.seat_of(edge.to), ms: edge.ms })
    }
    pub(super) fn steps_inward(&self) -> &Steps {
        // From the list that is there, rather than from all turns anew; but none is made only for this.
        self.inward.get_or_init(|| match self.onward.get() {
            Some(onward) => onward.turned(),
            None => Steps::inward(self.seats().len(), |seat| self.open_steps(seat)),
        })
    }
    /// Gives the memory back of searches one way; asked for again they are made again.
    pub fn forget(&mut self, onward: bool) {
        let steps = if onward { &mut self.onward } else { &mut self.inward };
        steps.take();
    }
    /// Edges that can be driven from a state.
    pub fn onward(&self, state: Arc) -> Edges<'_> {
        let seats = self.seats();
        Edges { steps: self.steps_onward().of(seats.seat_of(state)).iter(), seats }
    }
    /// Edges that lead into a state; `to` is the state they come from.
    pub fn inward(&self, state: Arc) -> Edges<'_> {
        let seats = self.seats();
        Edges { steps: self.steps_inward().of(seats.seat_of(state)).iter(), seats }
    }
}
