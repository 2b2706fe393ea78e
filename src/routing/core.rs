//! The roads that lead anywhere, in stretches: what is left of a graph for drives between far places once
//! dead ends are off and roads without choice are one.
//!
//! A stretch is road between two junctions from which the core goes on in three ways or more; a node is a
//! stretch driven in one direction to its end, as an arc is in the graph, with what bans make the drive
//! remember. Nobody turns round within a stretch, nor leaves the core to turn in a side road: what is lost
//! by that is measured in DEVELOPERS.md.

use crate::roads::network::{Arc, Network};
use crate::routing::edges::{Step, Steps};
use crate::routing::graph::RoadGraph;
use crate::routing::grouped::grouped;
use std::sync::atomic::{AtomicU64, Ordering::Relaxed};

const NONE: u32 = u32::MAX;

/// Stretches, shared by both loads. A stretch in a direction is numbered stretch << 1 | direction.
#[derive(Debug)]
pub struct Stretches {
    /// By segment: the stretch in the direction in which the segment's forward arc is driven.
    of_segment: Vec<u32>,
    /// Where the arcs of each stretch start in a list of them all, driven in its first direction.
    start: Vec<u32>,
    arcs: Vec<Arc>,
}

/// The nodes of one graph and the steps between them.
#[derive(Debug)]
pub struct Nodes {
    /// Of each node the state at its end.
    state: Vec<Arc>,
    seat: Vec<u32>,
    /// Stretch and direction.
    along: Vec<u32>,
    /// By state; `NONE` where no stretch ends with it.
    node_of: Vec<u32>,
    pub(super) onward: Steps,
    pub(super) inward: Steps,
}

/// The core of the roads that are open to one graph or the other.
#[derive(Debug)]
pub struct Core {
    pub stretches: Stretches,
    pub full: Nodes,
    pub empty: Nodes,
    /// No other core has it.
    pub number: u64,
}

static CORES: AtomicU64 = AtomicU64::new(0);

impl Core {
    pub fn of(full: &RoadGraph, empty: &RoadGraph) -> Core {
        Core::over(full, empty, Stretches::contracted(full.network, &|segment| open(full, empty, segment)))
    }

    /// Every segment a stretch of its own, dead ends among them.
    pub fn plain(full: &RoadGraph, empty: &RoadGraph) -> Core {
        Core::over(full, empty, Stretches::plain(full.network))
    }

    fn over(full: &RoadGraph, empty: &RoadGraph, stretches: Stretches) -> Core {
        let (full, empty) = (Nodes::of(full, &stretches), Nodes::of(empty, &stretches));
        Core { stretches, full, empty, number: CORES.fetch_add(1, Relaxed) }
    }
}

fn open(full: &RoadGraph, empty: &RoadGraph, segment: usize) -> bool {
    [true, false].iter().any(|forward| {
        let arc = Arc::new(segment, *forward);
        full.is_open(arc) || empty.is_open(arc)
    })
}

impl Stretches {
    fn plain(network: &Network) -> Stretches {
        let count = network.segments.len() as u32;
        Stretches {
            of_segment: (0..count).map(|segment| segment << 1).collect(),
            start: (0..=count).collect(),
            arcs: (0..count).map(|segment| Arc::new(segment as usize, true)).collect(),
        }
    }

    fn contracted(network: &Network, open: &dyn Fn(usize) -> bool) -> Stretches {
        let junctions = network.junctions.len();
        let mut of_core: Vec<bool> = (0..network.segments.len()).map(open).collect();
        let around = Around::of(network, &of_core);
        let mut degree = vec![0u32; junctions];
        for (segment, _) in of_core.iter().enumerate().filter(|(_, open)| **open) {
            for arc in [true, false].map(|forward| Arc::new(segment, forward)) {
                degree[network.tail(arc)] += 1;
            }
        }
        // Dead ends fall off, and what is a dead end then.
        let mut loose: Vec<usize> = (0..junctions).filter(|j| degree[*j] == 1).collect();
        while let Some(junction) = loose.pop() {
            let last = around.leaving(junction).iter().find(|arc| of_core[arc.segment()]);
            let Some(&arc) = last.filter(|_| degree[junction] == 1) else { continue };
            of_core[arc.segment()] = false;
            degree[junction] = 0;
            let next = network.head(arc);
            degree[next] -= 1;
            if degree[next] == 1 {
                loose.push(next);
            }
        }
        let mut found = Stretches { of_segment: vec![NONE; of_core.len()], start: vec![0], arcs: Vec::new() };
        let mut follow = |ends: &dyn Fn(usize) -> bool, junction: usize| {
            for &first in around.leaving(junction) {
                if !of_core[first.segment()] || found.of_segment[first.segment()] != NONE {
                    continue;
                }
                let number = found.start.len() as u32 - 1;
                let mut arc = first;
                loop {
                    found.of_segment[arc.segment()] = number << 1 | u32::from(!arc.forward());
                    found.arcs.push(arc);
                    let head = network.head(arc);
                    let free =
                        |next: &&Arc| of_core[next.segment()] && found.of_segment[next.segment()] == NONE;
                    match around.leaving(head).iter().find(free) {
                        Some(&next) if !ends(head) => arc = next,
                        _ => break,
                    }
                }
                found.start.push(found.arcs.len() as u32);
            }
        };
        (0..junctions).filter(|j| degree[*j] > 2).for_each(|j| follow(&|head| degree[head] > 2, j));
        // What is left are rings on which nothing else hangs: each starts and ends somewhere.
        (0..junctions).filter(|j| degree[*j] == 2).for_each(|j| follow(&|head| head == j, j));
        found
    }

    /// How many, in both directions.
    pub fn count(&self) -> usize {
        (self.start.len() - 1) * 2
    }

    /// The stretch that an arc lies on, in the arc's direction; none off the core.
    #[inline]
    pub fn along(&self, arc: Arc) -> Option<u32> {
        let forward = self.of_segment[arc.segment()];
        (forward != NONE).then_some(forward ^ (arc.0 & 1))
    }

    /// Arcs in driving order.
    pub fn arcs(&self, along: u32) -> impl Iterator<Item = Arc> + '_ {
        let number = (along >> 1) as usize;
        let arcs = &self.arcs[self.start[number] as usize..self.start[number + 1] as usize];
        let back = along & 1 == 1;
        (0..arcs.len()).map(move |i| if back { arcs[arcs.len() - 1 - i].reversed() } else { arcs[i] })
    }
}

/// Arcs by the junction they leave.
struct Around {
    start: Vec<u32>,
    arcs: Vec<Arc>,
}

impl Around {
    fn of(network: &Network, wanted: &[bool]) -> Around {
        let wanted = || network.arcs().filter(|arc| wanted[arc.segment()]);
        let (start, arcs) = grouped(network.junctions.len(), || wanted().map(|arc| (network.tail(arc), arc)));
        Around { start, arcs }
    }

    fn leaving(&self, junction: usize) -> &[Arc] {
        &self.arcs[self.start[junction] as usize..self.start[junction + 1] as usize]
    }
}

impl Nodes {
    fn of(graph: &RoadGraph, stretches: &Stretches) -> Nodes {
        let (seats, topology) = (graph.seats(), graph.topology);
        // By state that a stretch is entered with: the state at its end and the time to there.
        let mut through = vec![(Arc(NONE), 0u32); topology.state_count()];
        let mut ends: Vec<(u32, Arc, u32)> = Vec::new();
        let mut enter = |first: Arc, along: u32| {
            let (mut state, mut ms) = (first, 0u32);
            for arc in stretches.arcs(along).skip(1) {
                let Some(edge) = graph.step(state, arc) else { return };
                (state, ms) = (edge.to, ms.saturating_add(edge.ms));
            }
            through[first.index()] = (state, ms);
            ends.push((seats.seat_of(state), state, along));
        };
        let mut starts = vec![NONE; graph.network.arc_count()];
        for along in 0..stretches.count() as u32 {
            if let Some(arc) = stretches.arcs(along).next().filter(|arc| graph.is_open(*arc)) {
                starts[arc.index()] = along;
                enter(arc, along);
            }
        }
        for (state, arc) in topology.further() {
            if starts[arc.index()] != NONE {
                enter(state, starts[arc.index()]);
            }
        }
        ends.sort_unstable();
        ends.dedup();
        let mut node_of = vec![NONE; topology.state_count()];
        for ((_, state, _), node) in ends.iter().zip(0..) {
            node_of[state.index()] = node;
        }
        let (mut start, mut list) = (Vec::with_capacity(ends.len() + 1), Vec::with_capacity(ends.len() * 3));
        for (_, state, _) in &ends {
            start.push(list.len() as u32);
            for edge in graph.onward(*state) {
                let (end, ms) = through[edge.to.index()];
                if end != Arc(NONE) {
                    list.push(Step { to: node_of[end.index()], ms: edge.ms.saturating_add(ms) });
                }
            }
        }
        start.push(list.len() as u32);
        let onward = Steps::listed(start, list);
        Nodes {
            state: ends.iter().map(|(_, state, _)| *state).collect(),
            seat: ends.iter().map(|(seat, ..)| *seat).collect(),
            along: ends.iter().map(|(.., along)| *along).collect(),
            node_of,
            inward: onward.turned(),
            onward,
        }
    }

    pub fn count(&self) -> usize {
        self.state.len()
    }
    /// The node that ends with a state.
    #[inline]
    pub fn at(&self, state: Arc) -> Option<u32> {
        Some(self.node_of[state.index()]).filter(|node| *node != NONE)
    }
    /// The stretch of a node, with its direction.
    #[inline]
    pub fn along(&self, node: u32) -> u32 {
        self.along[node as usize]
    }
    #[inline]
    pub(super) fn seat(&self, node: u32) -> u32 {
        self.seat[node as usize]
    }
    /// Milliseconds of the step between two nodes.
    pub fn step_ms(&self, from: u32, to: u32) -> Option<u32> {
        self.onward.of(from).iter().find(|step| step.to == to).map(|step| step.ms)
    }
}
