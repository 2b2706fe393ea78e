//! A second drive beside a first: two drives between the same ends that cost the least together where
//! what both use costs extra (successive shortest paths for a flow of two, Suurballe 1974). The search for
//! the second one may drive on to the first, take back a part of it, and leave it again; then each of the
//! two has the other's rest.

use super::Drive;
use super::between::{Best, Between, End, FIRST_ROOT, Goal, Guided, Label, goals_at, keep, open};
use super::tree::Rest;
use crate::roads::network::Arc;
use crate::routing::edges::Steps;
use crate::routing::graph::RoadGraph;
use std::cmp::Reverse;
use std::collections::HashMap;

/// Arcs from one end to the other and the ends by index.
pub struct Course {
    pub arcs: Vec<Arc>,
    pub from: usize,
    pub to: usize,
}

/// The first drive as the search for the second sees it.
struct First<'g> {
    steps: &'g Steps,
    /// Seats of its states in driving order.
    seats: Vec<u32>,
    /// Milliseconds of the step into each state, nothing for the first.
    step_ms: Vec<u32>,
    /// Place in it of a state after which it may be left.
    place: HashMap<u32, usize>,
    rest: Rest<'g>,
    goals: Vec<Goal>,
    /// Nodes from here on: the first drive taken back as far as the state of that place.
    back: u32,
    bound: u32,
    best: Option<Best>,
}

/// Seats of a drive's states, and the milliseconds of the step into each.
fn lay(graph: &RoadGraph, drive: &Drive) -> Option<(Vec<u32>, Vec<u32>)> {
    let seats = graph.seats();
    let (first, others) = drive.arcs.split_first()?;
    let (mut states, mut step_ms, mut state) = (vec![seats.seat_of(*first)], vec![0], *first);
    for arc in others {
        let edge = graph.step(state, *arc)?;
        state = edge.to;
        states.push(seats.seat_of(state));
        step_ms.push(edge.ms);
    }
    Some((states, step_ms))
}

impl Guided {
    /// Both drives, `first` being the cheapest drive of `graph` between its ends; none if there is no
    /// second one within `bound`. `extra` and `ends` are for the second one's use of the first's road.
    /// Otherwise as [`Guided::backward_between`].
    pub fn beside(
        &mut self,
        graph: &RoadGraph,
        [from, to]: [&[End]; 2],
        first: &Between,
        bound: u32,
        extra: impl Fn(Arc) -> u32,
        rest: Rest,
    ) -> Option<[Course; 2]> {
        let seats = graph.seats();
        let (states, step_ms) = lay(graph, &first.drive)?;
        let last = states.len().checked_sub(1).filter(|last| *last >= 2)?;
        self.begin(seats.len() + states.len());
        let place = states[..last - 1].iter().enumerate().map(|(i, seat)| (*seat, i)).collect();
        let mut first_drive = First {
            steps: graph.steps_inward(),
            seats: states,
            step_ms,
            place,
            rest,
            goals: goals_at(graph, from),
            back: seats.len() as u32,
            bound,
            best: None,
        };
        for (number, end) in open(graph, to) {
            let goal = &end.stand;
            let beyond = graph.rest_ms(goal.arc, goal.fraction);
            for state in graph.topology.states(goal.arc) {
                for step in first_drive.steps.of(seats.seat_of(state)) {
                    let ms = (step.ms - beyond).saturating_add(end.extra);
                    self.arrive(&mut first_drive, step.to, ms, FIRST_ROOT - number as u32);
                }
            }
        }
        while let Some(Reverse(item)) = self.queue.pop() {
            let (key, node) = ((item >> 32) as u32, item as u32);
            if key > first_drive.bound {
                break;
            }
            let Label { key: known, ms, .. } = self.labels[node as usize];
            if key != known {
                continue;
            }
            if node < first_drive.back {
                let through = ms.saturating_add(extra(graph.topology.arc(seats.state_in(node))));
                for step in first_drive.steps.of(node) {
                    self.arrive(&mut first_drive, step.to, through.saturating_add(step.ms), node);
                }
            } else {
                let place = (node - first_drive.back) as usize;
                let next_ms = first_drive.step_ms[place + 1];
                if place + 1 < last {
                    self.take_back(&mut first_drive, place + 1, ms.saturating_sub(next_ms), node);
                }
                for step in first_drive.steps.of(first_drive.seats[place + 1]) {
                    if step.to != first_drive.seats[place] {
                        let there = ms.saturating_add(step.ms).saturating_sub(next_ms);
                        self.arrive(&mut first_drive, step.to, there, node);
                    }
                }
            }
        }
        let best = first_drive.best?;
        self.courses(graph, [from, to], first, &first_drive, best)
    }

    fn arrive(&mut self, first: &mut First, seat: u32, ms: u32, before: u32) {
        for goal in first.goals.iter().filter(|goal| goal.seat == seat) {
            let cost = ms.saturating_add(goal.more);
            if cost <= first.bound {
                keep(&mut first.best, Best { cost, before, end: goal.number });
                first.bound = cost.saturating_sub(1);
            }
        }
        if self.label(first, seat, seat, ms, before)
            && let Some(place) = first.place.get(&seat)
        {
            let place = place + 1;
            self.take_back(first, place, ms.saturating_sub(first.step_ms[place]), before);
        }
    }

    fn take_back(&mut self, first: &mut First, place: usize, ms: u32, before: u32) {
        self.label(first, first.back + place as u32, first.seats[place], ms, before);
    }

    /// Whether that is better than what was known.
    fn label(&mut self, first: &First, node: u32, seat: u32, ms: u32, before: u32) -> bool {
        let known = &mut self.labels[node as usize];
        if known.round == self.round && ms >= known.ms {
            return false;
        }
        let key = ms.saturating_add(first.rest.at(seat));
        if key > first.bound || key == u32::MAX {
            return false;
        }
        *known = Label { round: self.round, ms, key, before };
        self.queue.push(Reverse(u64::from(key) << 32 | u64::from(node)));
        true
    }

    /// Lays the drives out: where a part of the first was taken back, they change over.
    fn courses(
        &self,
        graph: &RoadGraph,
        [from, to]: [&[End]; 2],
        first: &Between,
        laid: &First,
        best: Best,
    ) -> Option<[Course; 2]> {
        let seats = graph.seats();
        // Parts of the second, the place at which each comes on to the first, the place the next leaves.
        let mut parts = vec![vec![from[best.end].stand.arc]];
        let (mut joins, mut leaves) = (Vec::new(), Vec::new());
        let mut node = best.before;
        let most = self.labels.len();
        for _ in 0..most {
            if node as usize >= most {
                break;
            }
            let before = self.labels[node as usize].before;
            if node < laid.back {
                parts.last_mut()?.push(graph.topology.arc(seats.state_in(node)));
            } else {
                let place = (node - laid.back) as usize;
                if joins.len() == leaves.len() {
                    joins.push(place + 1);
                }
                if before != node - 1 {
                    leaves.push(place - 1);
                    parts.push(Vec::new());
                }
            }
            node = before;
        }
        let number = FIRST_ROOT.checked_sub(node).filter(|number| (*number as usize) < to.len())? as usize;
        parts.last_mut()?.push(to[number].stand.arc);
        let arcs = &first.drive.arcs;
        let walk = |mut part: Option<usize>, from: usize| {
            let (mut course, mut place) = (Vec::new(), 0);
            while course.len() <= most {
                if let Some(of) = part {
                    course.extend(&parts[of]);
                    let Some(join) = joins.get(of) else {
                        return Some(Course { arcs: course, from, to: number });
                    };
                    place = *join;
                }
                course.push(*arcs.get(place)?);
                if place + 1 == arcs.len() {
                    return Some(Course { arcs: course, from, to: first.to });
                }
                part = leaves.iter().position(|leave| *leave == place).map(|of| of + 1);
                place += 1;
            }
            None
        };
        Some([walk(None, first.from)?, walk(Some(0), best.end)?])
    }
}
