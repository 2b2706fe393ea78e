//! The search: least time over arcs, forward or backward, bounded, its memory reused.
//!
//! Forward, an arc's label is the time from the origin to the arc's end. Backward, it is the time
//! from the arc's end to the destination. Both are whole milliseconds, so a time found backward
//! equals the same time found forward, and a cell of a matrix equals its route.

mod between;
mod gates;
mod nodes;
mod second;
mod shelves;
mod tree;

pub use between::{Between, End, Guided};
pub use gates::Gate;
pub use nodes::{Entry, Run};
pub use second::Second;
pub use tree::{Left, Rest, Tree};

use crate::roads::network::Arc;
use crate::routing::edges::{Step, Steps};
use crate::routing::graph::RoadGraph;
use crate::routing::queue::Calendar;
use crate::routing::seats::Seats;
use std::sync::Arc as Shared;

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

/// When a search ends. Before it ends by arcs settled, labels of other arcs may be too high.
#[derive(Clone, Copy, Debug)]
pub enum Until<'a> {
    /// Everything within the bound is settled.
    Bound,
    /// All these arcs are, or everything within the bound.
    Settled(&'a [Arc]),
}

impl Until<'_> {
    /// Whether it ends where labels below the floor are final. Looks no farther than the first arc
    /// that is not settled, and drops those that are.
    fn reached(&mut self, floor_ms: u32, label: impl Fn(Arc) -> Option<u32>) -> bool {
        let Until::Settled(left) = self else { return false };
        while let Some((&arc, others)) = left.split_first() {
            if label(arc).is_none_or(|ms| ms >= floor_ms) {
                return false;
            }
            *left = others;
        }
        true
    }
}

const NONE: u32 = u32::MAX;
/// No label yet.
const UNREACHED: u32 = u32::MAX;
/// Labels are wiped by blocks of so many, and only where the last run wrote.
const BLOCK: usize = 256;

/// One run's roads: its steps, what they cost from a seat, and how far it goes, in all and at a seat.
struct Way<'a, C, L> {
    steps: &'a Steps,
    bound: u32,
    cost: C,
    limit: L,
}

/// Labels of one search, one for each state of the graph's topology, by seat. Reusable: a new run touches only
/// what it and the last one reached, and needs no memory beyond the first's.
#[derive(Debug, Default)]
pub struct Search {
    /// Of the last run's graph.
    seats: Option<Shared<Seats>>,
    labels: Vec<u32>,
    times_only: bool,
    /// Seat the label came from (before it when forward, after it when backward); nothing of times only.
    came_from: Vec<u32>,
    /// Labels below this are final.
    final_ms: u32,
    /// Blocks of labels written to.
    written: Vec<bool>,
    queue: Calendar,
}

impl Search {
    pub fn new() -> Search {
        Search::default()
    }

    /// One that knows no drives, in less memory.
    pub fn of_times() -> Search {
        Search { times_only: true, ..Search::default() }
    }

    fn begin(&mut self, seats: &Shared<Seats>) {
        let states = seats.len();
        if !self.seats.as_ref().is_some_and(|own| Shared::ptr_eq(own, seats)) {
            self.seats = Some(Shared::clone(seats));
        }
        if self.labels.len() == states {
            for (block, written) in self.labels.chunks_mut(BLOCK).zip(&mut self.written) {
                if std::mem::take(written) {
                    block.fill(UNREACHED);
                }
            }
        } else {
            self.labels = vec![UNREACHED; states];
            self.came_from = vec![NONE; if self.times_only { 0 } else { states }];
            self.written = vec![false; states.div_ceil(BLOCK)];
        }
        self.queue.reset(states);
        self.final_ms = UNREACHED;
    }

    /// A label for a seat, and what follows from it at once: one way on is driven straight away, and
    /// a state that makes none of the next ones better is never queued. Most turnarounds and dead
    /// ends are such.
    #[inline]
    fn offer(
        &mut self,
        way: &Way<impl Fn(u32, &Step) -> u32, impl Fn(u32) -> u32>,
        mut to: u32,
        mut ms: u32,
        mut from: u32,
    ) {
        loop {
            let label = &mut self.labels[to as usize];
            if ms >= *label || ms > (way.limit)(to) {
                return;
            }
            *label = ms;
            if let Some(came_from) = self.came_from.get_mut(to as usize) {
                *came_from = from;
            }
            self.written[to as usize / BLOCK] = true;
            let next = way.steps.of(to);
            if let [only] = next {
                (from, ms) = (to, ms.saturating_add((way.cost)(to, only)));
                to = only.to;
                continue;
            }
            // Counted rather than searched: no branch to guess wrong.
            let better = next.iter().fold(false, |any, step| {
                let next_ms = ms.saturating_add((way.cost)(to, step));
                any | ((next_ms < self.labels[step.to as usize]) & (next_ms <= (way.limit)(step.to)))
            });
            if better {
                self.queue.put(to, ms);
            }
            return;
        }
    }

    /// Works off the queue. A bucket's states come in no order: one may be expanded and then found
    /// quicker, and is expanded again. Once a bucket is empty, every label below it is final.
    fn run(
        &mut self,
        way: &Way<impl Fn(u32, &Step) -> u32, impl Fn(u32) -> u32>,
        mut ended: impl FnMut(&Search, u32) -> bool,
    ) {
        // Nothing beyond the bound is ever labelled.
        self.final_ms = way.bound.saturating_add(1);
        while self.queue.next_bucket() {
            if ended(self, self.queue.floor_ms()) {
                self.final_ms = self.queue.floor_ms();
                return;
            }
            while let Some(seat) = self.queue.take() {
                let ms = self.labels[seat as usize];
                if !self.queue.is_due(ms) {
                    self.queue.put(seat, ms);
                    continue;
                }
                for step in way.steps.of(seat) {
                    self.offer(way, step.to, ms.saturating_add((way.cost)(seat, step)), seat);
                }
            }
        }
    }

    /// Milliseconds of the last run, `None` where it did not reach.
    pub fn label(&self, arc: Arc) -> Option<u32> {
        let seat = self.seats.as_ref()?.seat_of(arc);
        self.labels.get(seat as usize).copied().filter(|ms| *ms != UNREACHED)
    }

    /// Seats of the last run with their milliseconds, in time that grows with what it reached.
    pub fn reached(&self) -> impl Iterator<Item = (u32, u32)> + '_ {
        let blocks = self.labels.chunks(BLOCK).zip(&self.written).enumerate();
        blocks.filter(|(_, (_, written))| **written).flat_map(move |(block, (labels, _))| {
            let first = (block * BLOCK) as u32;
            (first..).zip(labels.iter().copied()).filter(|(_, ms)| *ms != UNREACHED)
        })
    }

    /// Everything within `bound` milliseconds of leaving `origin`. `extra` is a preference in
    /// milliseconds added to an arc; it steers and never enters a reported time.
    pub fn forward(
        &mut self,
        graph: &RoadGraph,
        origin: Stand,
        bound: u32,
        extra: impl Fn(Arc) -> u32,
        until: Until,
    ) {
        self.forward_within(graph, origin, bound, |_| bound, extra, until);
    }

    /// The same where each seat has a bound of its own, `limit`, no greater than the one of all. What is farther
    /// at a seat is not followed there.
    pub fn forward_within(
        &mut self,
        graph: &RoadGraph,
        origin: Stand,
        bound: u32,
        limit: impl Fn(u32) -> u32,
        extra: impl Fn(Arc) -> u32,
        mut until: Until,
    ) {
        let seats = graph.seats();
        self.begin(seats);
        if !graph.is_open(origin.arc) {
            return;
        }
        let arc_in = |seat| graph.topology.arc(seats.state_in(seat));
        let cost = |_, step: &Step| step.ms.saturating_add(extra(arc_in(step.to)));
        let way = Way { steps: graph.steps_onward(), bound, cost, limit };
        let rest = graph.rest_ms(origin.arc, origin.fraction);
        let seat = seats.seat_of(origin.arc);
        for step in way.steps.of(seat) {
            self.offer(&way, step.to, rest.saturating_add((way.cost)(seat, step)), NONE);
        }
        self.run(&way, |search, floor_ms| {
            until.reached(floor_ms, |goal| search.first_state(graph, goal).map(|(ms, _)| ms))
        });
    }

    /// Everything from which `goal` is reached within `bound` milliseconds.
    pub fn backward(
        &mut self,
        graph: &RoadGraph,
        goal: Stand,
        bound: u32,
        extra: impl Fn(Arc) -> u32,
        until: Until,
    ) {
        self.backward_within(graph, goal, bound, |_| bound, extra, until);
    }

    /// The same where each seat has a bound of its own, as [`Search::forward_within`] has.
    pub fn backward_within(
        &mut self,
        graph: &RoadGraph,
        goal: Stand,
        bound: u32,
        limit: impl Fn(u32) -> u32,
        extra: impl Fn(Arc) -> u32,
        mut until: Until,
    ) {
        let seats = graph.seats();
        self.begin(seats);
        if !graph.is_open(goal.arc) {
            return;
        }
        let arc_in = |seat| graph.topology.arc(seats.state_in(seat));
        let cost = |seat, step: &Step| step.ms.saturating_add(extra(arc_in(seat)));
        let way = Way { steps: graph.steps_inward(), bound, cost, limit };
        // An edge holds the whole of the arc it leads into; the goal lies part of the way along.
        let beyond = graph.rest_ms(goal.arc, goal.fraction);
        for state in graph.topology.states(goal.arc) {
            for step in way.steps.of(seats.seat_of(state)) {
                self.offer(&way, step.to, step.ms - beyond, NONE);
            }
        }
        self.run(&way, |search, floor_ms| until.reached(floor_ms, |origin| search.label(origin)));
    }

    /// Seats from one back to where its label began.
    fn chain(&self, seat: u32) -> impl Iterator<Item = u32> {
        let from = |seat: &u32| Some(self.came_from[*seat as usize]).filter(|from| *from != NONE);
        std::iter::successors(Some(seat), from)
    }

    /// The chain's arcs and one more, in memory of just that size.
    fn arcs(&self, graph: &RoadGraph, state: Arc, end: Arc) -> Vec<Arc> {
        let seats = graph.seats();
        let seat = seats.seat_of(state);
        let mut arcs = Vec::with_capacity(self.chain(seat).count() + 1);
        arcs.extend(self.chain(seat).map(|seat| graph.topology.arc(seats.state_in(seat))));
        arcs.push(end);
        arcs
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
        let mut arcs = self.arcs(graph, state, origin.arc);
        arcs.reverse();
        Drive::over(graph, arcs, origin.fraction, goal.fraction)
    }

    /// After `backward(goal)`: the drive from `origin`, if it was reached.
    pub fn drive_from(&self, graph: &RoadGraph, origin: Stand, goal: Stand) -> Option<Drive> {
        if let Some(direct) = Drive::along(graph, origin, goal) {
            return Some(direct);
        }
        self.label(origin.arc)?;
        Drive::over(graph, self.arcs(graph, origin.arc, goal.arc), origin.fraction, goal.fraction)
    }

    /// After `forward(origin)`: milliseconds to `goal`.
    pub fn ms_to(&self, graph: &RoadGraph, origin: Stand, goal: Stand) -> Option<u32> {
        ms_to(graph, origin, goal, |state| self.label(state))
    }

    /// After `backward(goal)`: milliseconds from `origin`.
    pub fn ms_from(&self, graph: &RoadGraph, origin: Stand, goal: Stand) -> Option<u32> {
        ms_from(graph, origin, goal, |state| self.label(state))
    }
}

/// By the labels of a forward search.
fn ms_to(graph: &RoadGraph, origin: Stand, goal: Stand, label: impl Fn(Arc) -> Option<u32>) -> Option<u32> {
    Drive::along_ms(graph, origin, goal).or_else(|| {
        let label = graph.topology.states(goal.arc).filter_map(label).min()?;
        Some(label - graph.ms(goal.arc) + graph.part_ms(goal.arc, goal.fraction))
    })
}

/// By the labels of a backward search.
fn ms_from(graph: &RoadGraph, origin: Stand, goal: Stand, label: impl Fn(Arc) -> Option<u32>) -> Option<u32> {
    Drive::along_ms(graph, origin, goal)
        .or_else(|| Some(label(origin.arc)? + graph.rest_ms(origin.arc, origin.fraction)))
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
    /// Milliseconds from the one to the other on one arc; none where the goal is not ahead on it.
    pub fn along_ms(graph: &RoadGraph, origin: Stand, goal: Stand) -> Option<u32> {
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
