//! A graph's edges as the search reads them: in one list, by the seat of the state they leave or enter.

use crate::roads::network::Arc;
use crate::routing::grouped::grouped;
use crate::routing::seats::Seats;

/// A turn and the arc it leads into.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Edge {
    /// State led into; of an edge inward, the state led from.
    pub to: Arc,
    /// Milliseconds from the end of the arc before to the end of the arc after.
    pub ms: u32,
}

/// The same between seats.
#[derive(Clone, Copy, Debug)]
pub(super) struct Step {
    pub to: u32,
    pub ms: u32,
}

/// Steps by seat.
#[derive(Debug)]
pub(super) struct Steps {
    start: Vec<u32>,
    list: Vec<Step>,
}

impl Steps {
    /// Steps onward from each seat: `steps` tells those of one.
    pub fn onward<I: Iterator<Item = Step>>(
        seats: usize,
        expected: usize,
        steps: impl Fn(u32) -> I,
    ) -> Steps {
        let mut start = Vec::with_capacity(seats + 1);
        let mut list = Vec::with_capacity(expected);
        for seat in 0..seats as u32 {
            start.push(list.len() as u32);
            list.extend(steps(seat));
        }
        start.push(list.len() as u32);
        Steps { start, list }
    }

    /// As they stand: where the steps of each seat start in a list of them all.
    pub fn listed(start: Vec<u32>, list: Vec<Step>) -> Steps {
        Steps { start, list }
    }

    /// The same steps by the seat they lead to; `to` is then the seat they come from.
    pub fn inward<I: Iterator<Item = Step>>(seats: usize, steps: impl Fn(u32) -> I) -> Steps {
        let turned =
            |from: u32| steps(from).map(move |step| (step.to as usize, Step { to: from, ms: step.ms }));
        let (start, list) = grouped(seats, || (0..seats as u32).flat_map(turned));
        Steps { start, list }
    }

    /// These steps inward.
    pub fn turned(&self) -> Steps {
        Steps::inward(self.start.len() - 1, |from| self.of(from).iter().copied())
    }

    /// The longest of all.
    pub fn longest_ms(&self) -> u32 {
        self.list.iter().map(|step| step.ms).max().unwrap_or(0)
    }

    #[inline]
    pub fn of(&self, seat: u32) -> &[Step] {
        &self.list[self.start[seat as usize] as usize..self.start[seat as usize + 1] as usize]
    }
}

/// Edges at one end of a state.
#[derive(Clone, Debug)]
pub struct Edges<'a> {
    pub(super) steps: std::slice::Iter<'a, Step>,
    pub(super) seats: &'a Seats,
}

impl Iterator for Edges<'_> {
    type Item = Edge;
    fn next(&mut self) -> Option<Edge> {
        let step = self.steps.next()?;
        Some(Edge { to: self.seats.state_in(step.to), ms: step.ms })
    }
    fn size_hint(&self) -> (usize, Option<usize>) {
        self.steps.size_hint()
    }
}

impl ExactSizeIterator for Edges<'_> {}
