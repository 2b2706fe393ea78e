//! Where a drive from a place comes on to the core of the roads, and where one to a place leaves it.

use super::Stand;
use super::between::{Guided, Label};
use crate::roads::network::Arc;
use crate::routing::core::{Nodes, Stretches};
use crate::routing::graph::RoadGraph;
use std::cmp::Reverse;

/// A drive between a stand and the end of a node.
#[derive(Clone, Debug)]
pub struct Gate {
    pub node: u32,
    pub ms: u32,
    /// From the stand's arc to the node's last; to a stand, from the arc after the node to the stand's.
    pub arcs: Vec<Arc>,
}

const ROOT: u32 = u32::MAX;

/// Takes a state and the milliseconds of the step to it.
type Take<'t> = dyn FnMut(Arc, u32) + 't;

impl Guided {
    /// From a stand on to the core. What takes `slack` milliseconds longer than the first is left out.
    pub fn leave(
        &mut self,
        graph: &RoadGraph,
        core: (&Stretches, &Nodes),
        from: Stand,
        slack: u32,
    ) -> Vec<Gate> {
        let seats = graph.seats();
        self.begin(seats.len());
        if graph.is_open(from.arc) {
            self.mark(seats.seat_of(from.arc), graph.rest_ms(from.arc, from.fraction), ROOT);
        }
        let onward = |state: Arc, take: &mut Take| {
            let on_core = core.0.along(graph.topology.arc(state)).is_some();
            for edge in graph.onward(state) {
                // Who is on the core stays there.
                if !on_core || core.0.along(graph.topology.arc(edge.to)).is_some() {
                    take(edge.to, edge.ms);
                }
            }
        };
        let mut gates = self.spread(graph, core.1, slack, &onward);
        gates.iter_mut().for_each(|gate| gate.arcs.reverse());
        gates
    }

    /// Off the core to a stand.
    pub fn reach(
        &mut self,
        graph: &RoadGraph,
        core: (&Stretches, &Nodes),
        to: Stand,
        slack: u32,
    ) -> Vec<Gate> {
        let seats = graph.seats();
        self.begin(seats.len());
        let inward = |state: Arc, take: &mut Take| {
            let on_core = core.0.along(graph.topology.arc(state)).is_some();
            for edge in graph.inward(state) {
                if !on_core || core.0.along(graph.topology.arc(edge.to)).is_some() {
                    take(edge.to, edge.ms);
                }
            }
        };
        if graph.is_open(to.arc) {
            let beyond = graph.rest_ms(to.arc, to.fraction);
            for state in graph.topology.states(to.arc) {
                inward(state, &mut |before, ms| self.mark(seats.seat_of(before), ms - beyond, ROOT));
            }
        }
        let mut gates = self.spread(graph, core.1, slack, &inward);
        for gate in &mut gates {
            // The node drives its own last arc.
            gate.arcs.remove(0);
            gate.arcs.push(to.arc);
        }
        gates
    }

    fn mark(&mut self, seat: u32, ms: u32, before: u32) {
        let known = &mut self.labels[seat as usize];
        if known.round != self.round || ms < known.ms {
            *known = Label { round: self.round, ms, key: ms, before };
            self.queue.push(Reverse(u64::from(ms) << 32 | u64::from(seat)));
        }
    }

    fn spread(
        &mut self,
        graph: &RoadGraph,
        nodes: &Nodes,
        slack: u32,
        next: &dyn Fn(Arc, &mut Take),
    ) -> Vec<Gate> {
        let seats = graph.seats();
        let (mut gates, mut bound) = (Vec::new(), u32::MAX);
        while let Some(Reverse(item)) = self.queue.pop() {
            let (ms, seat) = ((item >> 32) as u32, item as u32);
            if ms > bound {
                break;
            }
            if ms != self.labels[seat as usize].ms {
                continue;
            }
            let state = seats.state_in(seat);
            if let Some(node) = nodes.at(state) {
                let arc = |seat: u32| graph.topology.arc(seats.state_in(seat));
                let before =
                    |seat: &u32| Some(self.labels[*seat as usize].before).filter(|before| *before != ROOT);
                let arcs = std::iter::successors(Some(seat), before).map(arc).collect();
                gates.push(Gate { node, ms, arcs });
                bound = bound.min(ms.saturating_add(slack));
            } else {
                next(state, &mut |to, step_ms| {
                    self.mark(seats.seat_of(to), ms.saturating_add(step_ms), seat)
                });
            }
        }
        gates
    }
}
