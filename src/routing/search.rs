//! The search: least time over arcs, forward or backward, bounded, its memory reused.
//!
//! Forward, an arc's label is the time from the origin to the arc's end. Backward, it is the time
//! from the arc's end to the destination. Both are whole milliseconds, so a time found backward
//! equals the same time found forward, and a cell of a matrix equals its route.

mod between;

pub use between::{Between, End, Tree};

use crate::roads::network::Arc;
use crate::routing::graph::RoadGraph;
use crate::routing::queue::RadixQueue;

/// A place on an arc, with the direction of travel the arc gives it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Stand {
    pub arc: Arc,
    /// 0 at the arc's tail, 1 at its head.
    pub fraction: f64,
}

impl Stand {
    /// The same place, facing the other way.
    pub fn turned(self) -> Stand {
        Stand { arc: self.arc.reversed(), fraction: 1.0 - self.fraction }
    }
}

const NONE: u32 = u32::MAX;

/// A label and the run it belongs to, side by side: one cache line serves both.
#[derive(Clone, Copy, Debug, Default)]
struct Label {
    round: u32,
    ms: u32,
}

/// Labels of one search, one for each state of the graph's topology. Reusable: a new run touches only what it reaches.
#[derive(Debug, Default)]
pub struct Search {
    labels: Vec<Label>,
    /// Arc the label came from (before it when forward, after it when backward).
    came_from: Vec<u32>,
    round: u32,
    /// Label last settled.
    last_ms: u32,
    queue: RadixQueue,
}

impl Search {
    pub fn new() -> Search {
        Search::default()
    }

    fn begin(&mut self, states: usize) {
        if self.labels.len() != states || self.round == u32::MAX {
            self.labels = vec![Label::default(); states];
            self.came_from = vec![NONE; states];
            self.round = 0;
        }
        self.round += 1;
        self.last_ms = 0;
        self.queue.clear();
    }

    fn offer(&mut self, arc: Arc, ms: u32, from: u32, bound: u32) {
        let label = &mut self.labels[arc.index()];
        if ms <= bound && (label.round != self.round || ms < label.ms) {
            *label = Label { round: self.round, ms };
            self.came_from[arc.index()] = from;
            self.queue.push(ms, arc.0);
        }
    }

    /// The next arc to settle, with its label.
    fn settle(&mut self) -> Option<(u32, Arc)> {
        while let Some((ms, arc)) = self.queue.pop() {
            if ms == self.labels[arc as usize].ms {
                self.last_ms = ms;
                return Some((ms, Arc(arc)));
            }
        }
        None
    }

    /// Milliseconds of the last run, `None` where it did not reach.
    pub fn label(&self, arc: Arc) -> Option<u32> {
        self.labels.get(arc.index()).filter(|l| l.round == self.round && self.round > 0).map(|l| l.ms)
    }

    /// Everything within `bound` milliseconds of leaving `origin`. `extra` is a preference in
    /// milliseconds added to an arc; it steers and never enters a reported time. `done` may stop
    /// the search once an arc is settled.
    pub fn forward(
        &mut self,
        graph: &RoadGraph,
        origin: Stand,
        bound: u32,
        extra: impl Fn(Arc) -> u32,
        mut done: impl FnMut(Arc) -> bool,
    ) {
        self.begin(graph.topology.state_count());
        if !graph.is_open(origin.arc) {
            return;
        }
        let rest = graph.ms(origin.arc) - graph.part_ms(origin.arc, origin.fraction);
        let arc_of = |state: Arc| graph.topology.arc(state);
        for edge in graph.onward(origin.arc) {
            let ms = (rest + edge.ms).saturating_add(extra(arc_of(edge.to)));
            self.offer(edge.to, ms, NONE, bound);
        }
        while let Some((ms, state)) = self.settle() {
            if done(arc_of(state)) {
                return;
            }
            for edge in graph.onward(state) {
                let to_ms = ms.saturating_add(edge.ms).saturating_add(extra(arc_of(edge.to)));
                self.offer(edge.to, to_ms, state.0, bound);
            }
        }
    }

    /// Everything from which `goal` is reached within `bound` milliseconds.
    pub fn backward(
        &mut self,
        graph: &RoadGraph,
        goal: Stand,
        bound: u32,
        extra: impl Fn(Arc) -> u32,
        mut done: impl FnMut(Arc) -> bool,
    ) {
        self.begin(graph.topology.state_count());
        if !graph.is_open(goal.arc) {
            return;
        }
        // An edge holds the whole of the arc it leads into; the goal lies part of the way along.
        let beyond = graph.ms(goal.arc) - graph.part_ms(goal.arc, goal.fraction);
        for state in graph.topology.states(goal.arc) {
            for edge in graph.inward(state) {
                self.offer(edge.to, edge.ms - beyond, NONE, bound);
            }
        }
        while let Some((ms, state)) = self.settle() {
            if done(state) {
                return;
            }
            let through = ms.saturating_add(extra(graph.topology.arc(state)));
            for edge in graph.inward(state) {
                self.offer(edge.to, through.saturating_add(edge.ms), state.0, bound);
            }
        }
    }

    /// Arcs from a state back to where its label began.
    fn chain(&self, graph: &RoadGraph, mut state: Arc) -> Vec<Arc> {
        let mut chain = vec![graph.topology.arc(state)];
        while self.came_from[state.index()] != NONE {
            state = Arc(self.came_from[state.index()]);
            chain.push(graph.topology.arc(state));
        }
        chain
    }

    /// The state of an arc that was reached first.
    fn first_state(&self, graph: &RoadGraph, arc: Arc) -> Option<(u32, Arc)> {
        graph.topology.states(arc).filter_map(|state| Some((self.label(state)?, state))).min()
    }

    /// After `forward(origin)`: the drive to `goal`, if it was reached.
    pub fn drive_to(&self, graph: &RoadGraph, origin: Stand, goal: Stand) -> Option<Drive> {
        if let Some(direct) = Drive::along(graph, origin, goal) {
            return Some(direct);
        }
        let (_, state) = self.first_state(graph, goal.arc)?;
        let mut arcs = self.chain(graph, state);
        arcs.push(origin.arc);
        arcs.reverse();
        Drive::over(graph, arcs, origin.fraction, goal.fraction)
    }

    /// After `backward(goal)`: the drive from `origin`, if it was reached.
    pub fn drive_from(&self, graph: &RoadGraph, origin: Stand, goal: Stand) -> Option<Drive> {
        if let Some(direct) = Drive::along(graph, origin, goal) {
            return Some(direct);
        }
        self.label(origin.arc)?;
        let mut arcs = self.chain(graph, origin.arc);
        arcs.push(goal.arc);
        Drive::over(graph, arcs, origin.fraction, goal.fraction)
    }

    /// After `forward(origin)`: milliseconds to `goal`.
    pub fn ms_to(&self, graph: &RoadGraph, origin: Stand, goal: Stand) -> Option<u32> {
        Drive::along_ms(graph, origin, goal).or_else(|| {
            let (label, _) = self.first_state(graph, goal.arc)?;
            Some(label - graph.ms(goal.arc) + graph.part_ms(goal.arc, goal.fraction))
        })
    }

    /// After `backward(goal)`: milliseconds from `origin`.
    pub fn ms_from(&self, graph: &RoadGraph, origin: Stand, goal: Stand) -> Option<u32> {
        Drive::along_ms(graph, origin, goal).or_else(|| {
            let label = self.label(origin.arc)?;
            Some(label + graph.ms(origin.arc) - graph.part_ms(origin.arc, origin.fraction))
        })
    }
}

/// A drive as found: arcs in order, the first from a fraction, the last to a fraction.
#[derive(Clone, Debug, PartialEq)]
pub struct Drive {
    pub arcs: Vec<Arc>,
    pub from_fraction: f64,
    pub to_fraction: f64,
    pub ms: u32,
}

impl Drive {
    fn along_ms(graph: &RoadGraph, origin: Stand, goal: Stand) -> Option<u32> {
        let ahead = origin.arc == goal.arc && goal.fraction >= origin.fraction && graph.is_open(origin.arc);
        ahead.then(|| graph.part_ms(goal.arc, goal.fraction) - graph.part_ms(origin.arc, origin.fraction))
    }

    /// Origin and goal on one arc, the goal ahead.
    fn along(graph: &RoadGraph, origin: Stand, goal: Stand) -> Option<Drive> {
        let ms = Drive::along_ms(graph, origin, goal)?;
        Some(Drive { arcs: vec![origin.arc], from_fraction: origin.fraction, to_fraction: goal.fraction, ms })
    }

    /// The time over these arcs, summed anew: a preference used in the search leaves no trace.
    /// `None` if they cannot be driven one after the other.
    pub fn over(graph: &RoadGraph, arcs: Vec<Arc>, from_fraction: f64, to_fraction: f64) -> Option<Drive> {
        let (first, last) = (*arcs.first()?, *arcs.last()?);
        let mut state = first;
        let mut ms = graph.ms(first);
        for &arc in &arcs[1..] {
            let edge = graph.step(state, arc)?;
            state = edge.to;
            ms += edge.ms;
        }
        let not_driven =
            graph.part_ms(first, from_fraction) + graph.ms(last) - graph.part_ms(last, to_fraction);
        Some(Drive { arcs, from_fraction, to_fraction, ms: ms.checked_sub(not_driven)? })
    }

    pub fn origin(&self) -> Stand {
        Stand { arc: self.arcs[0], fraction: self.from_fraction }
    }
    pub fn goal(&self) -> Stand {
        Stand { arc: self.arcs[self.arcs.len() - 1], fraction: self.to_fraction }
    }
}
