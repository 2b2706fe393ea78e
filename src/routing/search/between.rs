//! The guided search: the cheapest drive from one of several stands to one of several others, led by
//! times that are known already and never looking where they say it is too far.

use super::shelves::Shelves;
use super::tree::Rest;
use super::{Drive, Stand};
use crate::roads::network::Arc;
use crate::routing::edges::{Step, Steps};
use crate::routing::graph::RoadGraph;
use std::cmp::Reverse;
use std::collections::BinaryHeap;

/// Where a drive may start or end, with what that costs besides the driving.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct End {
    pub stand: Stand,
    /// Milliseconds; `u32::MAX` where it may not be used.
    pub extra: u32,
}

/// The cheapest drive with its cost, preferences included, in milliseconds, and its ends by index.
#[derive(Clone, Debug, PartialEq)]
pub struct Between {
    pub cost: u32,
    pub from: usize,
    pub to: usize,
    pub drive: Drive,
}

const UNREACHED: u32 = u32::MAX;
/// Roots of labels: the end they began at, counted down from here.
pub(super) const FIRST_ROOT: u32 = u32::MAX - 1;
const ENDS: u32 = 8;

/// The best way found so far: cost, the label it comes from or the root, the ends.
#[derive(Clone, Copy)]
pub(super) struct Best {
    pub cost: u32,
    pub before: u32,
    pub end: usize,
}

/// Labels of guided searches, by seat. They look at little of the network, so that a plain binary heap
/// serves.
#[derive(Debug, Default)]
pub struct Guided {
    pub(super) labels: Vec<Label>,
    pub(super) round: u32,
    /// Keys and seats.
    pub(super) queue: BinaryHeap<Reverse<u64>>,
    /// The same over nodes of the core.
    pub(super) shelves: Shelves,
}

/// A label and the run it belongs to.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Label {
    pub round: u32,
    pub ms: u32,
    /// With what is left at least.
    pub key: u32,
    /// Seat it came from, or the root.
    pub before: u32,
}

/// Where a drive may end as the search sees it: reached over a step into this seat.
#[derive(Clone, Copy)]
pub(super) struct Goal {
    pub seat: u32,
    /// Milliseconds to take off and to add.
    pub less: u32,
    pub more: u32,
    pub number: usize,
}

/// One run: its roads, what a step costs with preferences, what is left, where it may end.
struct Run<'a, C, M> {
    steps: &'a Steps,
    cost: C,
    /// Milliseconds with which a step comes to a goal, from those before it.
    arrive: M,
    rest: Rest<'a>,
    goals: Vec<Goal>,
    /// A bit for each goal's seat, by its last six bits.
    near: u64,
    /// Nothing whose key is beyond this is looked at.
    bound: u32,
    best: Option<Best>,
}

/// A way without choice is driven so many milliseconds ahead of what the queue has.
const AHEAD_MS: u32 = 8_000;

impl<C, M> Run<'_, C, M> {
    /// Nothing as dear as what is known is wanted.
    fn prepare(&mut self) {
        self.near = self.goals.iter().fold(0, |near, goal| near | 1 << (goal.seat & 63));
        self.bound = self.best.map_or(self.bound, |best| self.bound.min(best.cost.saturating_sub(1)));
    }

    #[inline]
    fn may_end(&self, seat: u32) -> bool {
        self.near >> (seat & 63) & 1 == 1
    }

    fn meet(&mut self, seat: u32, ms: u32, before: u32) {
        for goal in &self.goals {
            let cost = (ms - goal.less.min(ms)).saturating_add(goal.more);
            if goal.seat == seat && cost <= self.bound {
                keep(&mut self.best, Best { cost, before, end: goal.number });
            }
        }
        // Only what is better is wanted from here on.
        self.bound = self.best.map_or(self.bound, |best| self.bound.min(best.cost.saturating_sub(1)));
    }
}

impl Guided {
    pub(super) fn begin(&mut self, states: usize) {
        if self.round == u32::MAX {
            self.labels.clear();
            self.round = 0;
        }
        if self.labels.len() < states {
            self.labels.resize(states, Label::default());
        }
        self.round += 1;
        self.queue.clear();
        self.shelves.clear();
    }

    /// Forward. `rest` is, for a state, what getting from its arc's end to any of `to` takes at least,
    /// and must not fall by more than an edge's time along that edge. `extra` as in [`Search::forward`];
    /// `on_one_arc` is all the extra of a drive from one end straight to the other on the same arc.
    pub fn forward_between(
        &mut self,
        graph: &RoadGraph,
        [from, to]: [&[End]; 2],
        bound: u32,
        extra: impl Fn(Arc) -> u32,
        rest: Rest,
        on_one_arc: impl Fn(usize, usize) -> u32,
    ) -> Option<Between> {
        let seats = graph.seats();
        self.begin(seats.len());
        // Any arc may hold an end: what driving on to it costs, counted from the arc's tail.
        let goals = open(graph, to).flat_map(|(number, end)| {
            let Stand { arc, fraction } = end.stand;
            let more = graph.part_ms(arc, fraction).saturating_add(end.extra);
            let goal = move |state| Goal { seat: seats.seat_of(state), less: graph.ms(arc), more, number };
            graph.topology.states(arc).map(goal)
        });
        let arc_in = |seat| graph.topology.arc(seats.state_in(seat));
        let mut run = Run {
            steps: graph.steps_onward(),
            cost: |_, step: &Step| step.ms.saturating_add(extra(arc_in(step.to))),
            // What an arc costs besides is told by its end.
            arrive: |ms: u32, step: &Step, _| ms.saturating_add(step.ms),
            rest,
            goals: goals.collect(),
            near: 0,
            bound,
            best: straight(graph, from, to, on_one_arc).filter(|best| best.cost <= bound),
        };
        run.prepare();
        for (number, end) in open(graph, from) {
            let start = &end.stand;
            let ahead = graph.rest_ms(start.arc, start.fraction);
            let ms = ahead.saturating_add(end.extra);
            for step in run.steps.of(seats.seat_of(start.arc)) {
                self.lead(&mut run, seats.seat_of(start.arc), *step, ms, FIRST_ROOT - number as u32);
            }
        }
        let best = self.drive(run)?;
        if best.before == STRAIGHT {
            return between_on_one_arc(graph, from, to, best);
        }
        let (mut arcs, first) = self.walk_back(graph, best.before);
        arcs.push(from[first].stand.arc);
        arcs.reverse();
        arcs.push(to[best.end].stand.arc);
        let drive = Drive::over(graph, arcs, from[first].stand.fraction, to[best.end].stand.fraction)?;
        Some(Between { cost: best.cost, from: first, to: best.end, drive })
    }

    /// Backward. `rest` is, for a state, what getting from any of `from` to its arc's end takes at least.
    pub fn backward_between(
        &mut self,
        graph: &RoadGraph,
        [from, to]: [&[End]; 2],
        bound: u32,
        extra: impl Fn(Arc) -> u32,
        rest: Rest,
        on_one_arc: impl Fn(usize, usize) -> u32,
    ) -> Option<Between> {
        let seats = graph.seats();
        self.begin(seats.len());
        let arc_in = |seat| graph.topology.arc(seats.state_in(seat));
        let mut run = Run {
            steps: graph.steps_inward(),
            cost: |seat, step: &Step| step.ms.saturating_add(extra(arc_in(seat))),
            arrive: |ms: u32, _: &Step, cost: u32| ms.saturating_add(cost),
            rest,
            goals: goals_at(graph, from),
            near: 0,
            bound,
            best: straight(graph, from, to, on_one_arc).filter(|best| best.cost <= bound),
        };
        run.prepare();
        for (number, end) in open(graph, to) {
            let goal = &end.stand;
            let beyond = graph.rest_ms(goal.arc, goal.fraction);
            for state in graph.topology.states(goal.arc) {
                let seat = seats.seat_of(state);
                for step in run.steps.of(seat) {
                    // Of the goal's arc only a part is driven, and its extra is the end's.
                    let ms = (step.ms - beyond).saturating_add(end.extra);
                    let root = FIRST_ROOT - number as u32;
                    self.enter(&mut run, step.to, ms, ms, root, 0);
                }
            }
        }
        let best = self.drive(run)?;
        if best.before == STRAIGHT {
            return between_on_one_arc(graph, from, to, best);
        }
        let (mut arcs, last) = self.walk_back(graph, best.before);
        arcs.insert(0, from[best.end].stand.arc);
        arcs.push(to[last].stand.arc);
        let drive = Drive::over(graph, arcs, from[best.end].stand.fraction, to[last].stand.fraction)?;
        Some(Between { cost: best.cost, from: best.end, to: last, drive })
    }

    /// Works off the queue.
    fn drive<C, M>(&mut self, mut run: Run<'_, C, M>) -> Option<Best>
    where
        C: Fn(u32, &Step) -> u32,
        M: Fn(u32, &Step, u32) -> u32,
    {
        while let Some(Reverse(item)) = self.queue.pop() {
            let (key, seat) = ((item >> 32) as u32, item as u32);
            if key > run.bound {
                break;
            }
            let label = self.labels[seat as usize];
            if key == label.key {
                for step in run.steps.of(seat) {
                    self.lead(&mut run, seat, *step, label.ms, seat);
                }
            }
        }
        run.best
    }

    /// A step from a seat whose label is `ms`.
    #[inline]
    fn lead<C, M>(&mut self, run: &mut Run<'_, C, M>, seat: u32, step: Step, ms: u32, before: u32)
    where
        C: Fn(u32, &Step) -> u32,
        M: Fn(u32, &Step, u32) -> u32,
    {
        // Without preferences it is no better than what is known: nor is it with them.
        let known = self.labels[step.to as usize];
        let worse = known.round == self.round && ms.saturating_add(step.ms) >= known.ms;
        if worse && !run.may_end(step.to) {
            return;
        }
        let cost = (run.cost)(seat, &step);
        let arrived = (run.arrive)(ms, &step, cost);
        self.enter(run, step.to, ms.saturating_add(cost), arrived, before, self.labels[seat as usize].key);
    }

    /// A label for a seat, and what follows from it where there is but one way on; `at` is the key the
    /// search is at.
    fn enter<C, M>(
        &mut self,
        run: &mut Run<'_, C, M>,
        mut to: u32,
        mut ms: u32,
        mut arrived: u32,
        mut before: u32,
        at: u32,
    ) where
        C: Fn(u32, &Step) -> u32,
        M: Fn(u32, &Step, u32) -> u32,
    {
        loop {
            if run.may_end(to) {
                run.meet(to, arrived, before);
            }
            let known = &mut self.labels[to as usize];
            if known.round == self.round && ms >= known.ms {
                return;
            }
            let key = ms.saturating_add(run.rest.at(to));
            if key > run.bound || key == UNREACHED {
                return;
            }
            *known = Label { round: self.round, ms, key, before };
            match run.steps.of(to) {
                [only] if key <= at.saturating_add(AHEAD_MS) => {
                    let cost = (run.cost)(to, only);
                    arrived = (run.arrive)(ms, only, cost);
                    before = to;
                    ms = ms.saturating_add(cost);
                    to = only.to;
                }
                _ => {
                    self.queue.push(Reverse(u64::from(key) << 32 | u64::from(to)));
                    return;
                }
            }
        }
    }

    /// Arcs from a label to its root, and the end the root belongs to.
    fn walk_back(&self, graph: &RoadGraph, mut before: u32) -> (Vec<Arc>, usize) {
        let (mut arcs, seats) = (Vec::new(), graph.seats());
        while before <= FIRST_ROOT - ENDS {
            arcs.push(graph.topology.arc(seats.state_in(before)));
            before = self.labels[before as usize].before;
        }
        (arcs, (FIRST_ROOT - before.min(FIRST_ROOT)) as usize)
    }
}

/// Where a backward search may end. A drive starts with nothing remembered: in the arc's own state.
pub(super) fn goals_at(graph: &RoadGraph, from: &[End]) -> Vec<Goal> {
    let goal = |(number, end): (usize, &End)| {
        let Stand { arc, fraction } = end.stand;
        let more = graph.rest_ms(arc, fraction).saturating_add(end.extra);
        Goal { seat: graph.seats().seat_of(arc), less: 0, more, number }
    };
    open(graph, from).map(goal).collect()
}

/// Marks a drive that stays on one arc.
const STRAIGHT: u32 = u32::MAX;

pub(super) fn open<'e>(graph: &'e RoadGraph, ends: &'e [End]) -> impl Iterator<Item = (usize, &'e End)> {
    ends.iter().enumerate().filter(|(_, end)| end.extra != u32::MAX && graph.is_open(end.stand.arc))
}

pub(super) fn keep(best: &mut Option<Best>, found: Best) {
    if best.is_none_or(|b| found.cost < b.cost) {
        *best = Some(found);
    }
}

/// Both ends on one arc, the second ahead. The index of the pair stands in `end`.
fn straight(
    graph: &RoadGraph,
    from: &[End],
    to: &[End],
    extra: impl Fn(usize, usize) -> u32,
) -> Option<Best> {
    let mut best = None;
    for (i, start) in open(graph, from) {
        for (j, goal) in open(graph, to) {
            if let Some(ms) = Drive::along_ms(graph, start.stand, goal.stand) {
                let cost = ms.saturating_add(extra(i, j));
                keep(&mut best, Best { cost, before: STRAIGHT, end: i * to.len() + j });
            }
        }
    }
    best
}

fn between_on_one_arc(graph: &RoadGraph, from: &[End], to: &[End], best: Best) -> Option<Between> {
    let (i, j) = (best.end / to.len(), best.end % to.len());
    let drive = Drive::along(graph, from[i].stand, to[j].stand)?;
    Some(Between { cost: best.cost, from: i, to: j, drive })
}
