//! The guided search: the cheapest drive from one of several stands to one of several others, led by
//! times that are known already and never looking where they say it is too far.

use super::{Drive, Search, Stand};
use crate::roads::network::Arc;
use crate::routing::graph::RoadGraph;
use crate::routing::seats::Seats;
use std::cmp::Reverse;
use std::collections::BinaryHeap;
use std::sync::Arc as Shared;

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

/// The least times a plain search settled, kept.
#[derive(Clone, Debug, Default)]
pub struct Tree {
    seats: Option<Shared<Seats>>,
    /// By seat.
    ms: Vec<u32>,
    /// Labels from here on, and what was not reached, are at least this far.
    beyond: u32,
}

impl Tree {
    /// Milliseconds to or from the tree's root, or a bound that the true time does not go below.
    pub fn at_least(&self, state: Arc) -> u32 {
        let seat = self.seats.as_ref().map(|seats| seats.seat_of(state) as usize);
        seat.and_then(|seat| self.ms.get(seat)).map_or(self.beyond, |ms| (*ms).min(self.beyond))
    }

    /// The true time, where the search settled it.
    pub fn exact(&self, state: Arc) -> Option<u32> {
        Some(self.at_least(state)).filter(|ms| *ms < self.beyond)
    }
}

const UNREACHED: u32 = u32::MAX;
/// Roots of labels: the end they began at, counted down from here.
const FIRST_ROOT: u32 = u32::MAX - 1;
const ENDS: u32 = 8;

/// The best way found so far: cost, the label it comes from or the root, the ends.
#[derive(Clone, Copy)]
struct Best {
    cost: u32,
    before: u32,
    end: usize,
}

/// Labels of guided searches. They look at little of the network, so that a plain binary heap serves.
#[derive(Debug, Default)]
pub struct Guided {
    labels: Vec<Label>,
    came_from: Vec<u32>,
    round: u32,
    queue: BinaryHeap<Reverse<(u32, u32)>>,
}

/// A label and the run it belongs to.
#[derive(Clone, Copy, Debug, Default)]
struct Label {
    round: u32,
    ms: u32,
    /// With what is left at least.
    key: u32,
}

impl Search {
    /// What the last run found, for later searches to be led by.
    pub fn tree(&self) -> Tree {
        Tree { seats: self.seats.clone(), ms: self.labels.clone(), beyond: self.final_ms }
    }
}

impl Guided {
    fn begin(&mut self, states: usize) {
        if self.labels.len() != states || self.round == u32::MAX {
            self.labels = vec![Label::default(); states];
            self.came_from = vec![0; states];
            self.round = 0;
        }
        self.round += 1;
        self.queue.clear();
    }

    /// Forward. `rest` gives, for a state, milliseconds that getting from its arc's end to any of `to`
    /// takes at least, and must not fall by more than an edge's time along that edge; `u32::MAX` for
    /// nowhere. `extra` as in [`Search::forward`]; `on_one_arc` is all the extra of a drive from one end
    /// straight to the other on the same arc.
    pub fn forward_between(
        &mut self,
        graph: &RoadGraph,
        [from, to]: [&[End]; 2],
        bound: u32,
        extra: impl Fn(Arc) -> u32,
        rest: impl Fn(Arc) -> u32,
        on_one_arc: impl Fn(usize, usize) -> u32,
    ) -> Option<Between> {
        self.begin(graph.topology.state_count());
        let mut best = straight(graph, from, to, on_one_arc);
        // Any arc may hold an end: what driving on to it costs, counted from the arc's tail.
        let ends: Vec<(Arc, u32)> = open(graph, to)
            .map(|(_, end)| (end.stand.arc, graph.part_ms(end.stand.arc, end.stand.fraction) + end.extra))
            .collect();
        let numbers: Vec<usize> = open(graph, to).map(|(number, _)| number).collect();
        let arc_of = |state: Arc| graph.topology.arc(state);
        let meet = |best: &mut Option<Best>, arc: Arc, to_tail: u32, before: u32| {
            for ((end, ms), number) in ends.iter().zip(&numbers) {
                if *end == arc {
                    keep(best, Best { cost: to_tail.saturating_add(*ms), before, end: *number });
                }
            }
        };
        for (number, end) in open(graph, from) {
            let root = FIRST_ROOT - number as u32;
            let start = &end.stand;
            let ahead = graph.ms(start.arc) - graph.part_ms(start.arc, start.fraction);
            for edge in graph.onward(start.arc) {
                let ms = (ahead + edge.ms).saturating_add(end.extra);
                let arc = arc_of(edge.to);
                meet(&mut best, arc, ms - graph.ms(arc), root);
                self.lead(edge.to, ms.saturating_add(extra(arc)), root, bound, &rest);
            }
        }
        while let Some((key, state)) = self.take() {
            if key >= best.map_or(bound.saturating_add(1), |b| b.cost) {
                break;
            }
            let ms = self.labels[state.index()].ms;
            for edge in graph.onward(state) {
                let arc = arc_of(edge.to);
                let there = ms + edge.ms;
                meet(&mut best, arc, there - graph.ms(arc), state.0);
                self.lead(edge.to, there.saturating_add(extra(arc)), state.0, bound, &rest);
            }
        }
        let best = best.filter(|b| b.cost <= bound)?;
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

    /// Backward. `rest` gives, for a state, milliseconds that getting from any of `from` to its arc's
    /// end takes at least.
    pub fn backward_between(
        &mut self,
        graph: &RoadGraph,
        [from, to]: [&[End]; 2],
        bound: u32,
        extra: impl Fn(Arc) -> u32,
        rest: impl Fn(Arc) -> u32,
        on_one_arc: impl Fn(usize, usize) -> u32,
    ) -> Option<Between> {
        self.begin(graph.topology.state_count());
        let mut best = straight(graph, from, to, on_one_arc);
        let starts: Vec<(usize, Arc, u32)> = open(graph, from)
            .map(|(number, end)| {
                let Stand { arc, fraction } = end.stand;
                (number, arc, graph.ms(arc) - graph.part_ms(arc, fraction) + end.extra)
            })
            .collect();
        let meet = |best: &mut Option<Best>, state: Arc, from_head: u32, before: u32| {
            for (number, arc, ms) in &starts {
                // A drive starts with nothing remembered: in the arc's own state.
                if *arc == state {
                    keep(best, Best { cost: from_head.saturating_add(*ms), before, end: *number });
                }
            }
        };
        for (number, end) in open(graph, to) {
            let root = FIRST_ROOT - number as u32;
            let goal = &end.stand;
            let beyond = graph.ms(goal.arc) - graph.part_ms(goal.arc, goal.fraction);
            for state in graph.topology.states(goal.arc) {
                for edge in graph.inward(state) {
                    let ms = (edge.ms - beyond).saturating_add(end.extra);
                    meet(&mut best, edge.to, ms, root);
                    self.lead(edge.to, ms, root, bound, &rest);
                }
            }
        }
        while let Some((key, state)) = self.take() {
            if key >= best.map_or(bound.saturating_add(1), |b| b.cost) {
                break;
            }
            let through = self.labels[state.index()].ms.saturating_add(extra(graph.topology.arc(state)));
            for edge in graph.inward(state) {
                let ms = through.saturating_add(edge.ms);
                meet(&mut best, edge.to, ms, state.0);
                self.lead(edge.to, ms, state.0, bound, &rest);
            }
        }
        let best = best.filter(|b| b.cost <= bound)?;
        if best.before == STRAIGHT {
            return between_on_one_arc(graph, from, to, best);
        }
        let (mut arcs, last) = self.walk_back(graph, best.before);
        arcs.insert(0, from[best.end].stand.arc);
        arcs.push(to[last].stand.arc);
        let drive = Drive::over(graph, arcs, from[best.end].stand.fraction, to[last].stand.fraction)?;
        Some(Between { cost: best.cost, from: best.end, to: last, drive })
    }

    fn lead(&mut self, state: Arc, ms: u32, before: u32, bound: u32, rest: &impl Fn(Arc) -> u32) {
        let key = ms.saturating_add(rest(state));
        let label = &mut self.labels[state.index()];
        if key <= bound && key != UNREACHED && (label.round != self.round || ms < label.ms) {
            *label = Label { round: self.round, ms, key };
            self.came_from[state.index()] = before;
            self.queue.push(Reverse((key, state.0)));
        }
    }

    fn take(&mut self) -> Option<(u32, Arc)> {
        while let Some(Reverse((key, state))) = self.queue.pop() {
            let state = Arc(state);
            if key == self.labels[state.index()].key {
                return Some((key, state));
            }
        }
        None
    }

    /// Arcs from a label to its root, and the end the root belongs to.
    fn walk_back(&self, graph: &RoadGraph, mut before: u32) -> (Vec<Arc>, usize) {
        let mut arcs = Vec::new();
        while before <= FIRST_ROOT - ENDS {
            arcs.push(graph.topology.arc(Arc(before)));
            before = self.came_from[before as usize];
        }
        (arcs, (FIRST_ROOT - before.min(FIRST_ROOT)) as usize)
    }
}

/// Marks a drive that stays on one arc.
const STRAIGHT: u32 = u32::MAX;

fn open<'e>(graph: &'e RoadGraph, ends: &'e [End]) -> impl Iterator<Item = (usize, &'e End)> {
    ends.iter().enumerate().filter(|(_, end)| end.extra != u32::MAX && graph.is_open(end.stand.arc))
}

fn keep(best: &mut Option<Best>, found: Best) {
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
