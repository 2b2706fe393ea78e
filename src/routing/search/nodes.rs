//! The guided search over the nodes of the core: as between stands, but that a step is a whole stretch.

use super::between::{Best, FIRST_ROOT, Guided, Label, keep};
use super::tree::Left;
use crate::routing::core::Nodes;
use crate::routing::edges::Steps;

/// Where a drive may come on to a node's end or go on from it: with what that takes, preferences included,
/// and a number to tell it by.
#[derive(Clone, Copy, Debug)]
pub struct Entry {
    pub node: u32,
    pub ms: u32,
    pub number: usize,
}

/// The cheapest drive: its cost, the entry and the exit in driving order, the nodes between them.
#[derive(Clone, Debug)]
pub struct Run {
    pub cost: u32,
    pub from: usize,
    pub to: usize,
    pub nodes: Vec<u32>,
}

/// Entries by node: a bit for each node's last six bits tells most that have none.
pub(super) struct Ends<'e> {
    ends: &'e [Entry],
    near: u64,
}

impl Ends<'_> {
    pub fn of(ends: &[Entry]) -> Ends<'_> {
        Ends { ends, near: ends.iter().fold(0, |near, end| near | 1 << (end.node & 63)) }
    }
    #[inline]
    pub fn at(&self, node: u32) -> impl Iterator<Item = (usize, &Entry)> {
        let near = self.near >> (node & 63) & 1 == 1;
        let ends = if near { self.ends } else { &[] };
        ends.iter().enumerate().filter(move |(_, end)| end.node == node)
    }
}

impl Guided {
    /// From the cheapest of `from` to the cheapest of `to`, no dearer than `bound`. `rest` is what is left at
    /// least from a node's end to the goal; `price` is what driving a node costs besides its time, that of a
    /// node which an entry leads over being in the entry.
    pub fn forward_run(
        &mut self,
        nodes: &Nodes,
        [from, to]: [&[Entry]; 2],
        bound: u32,
        price: impl Fn(u32) -> u32,
        rest: Left,
    ) -> Option<Run> {
        // A step drives the node that it leads to.
        let mut run = self.lead_on(nodes, &nodes.onward, [from, to], bound, (|_| 0, price), rest)?;
        run.nodes.reverse();
        Some(Run { from: from[run.from].number, to: to[run.to].number, ..run })
    }

    /// The same from the goal: `rest` is what getting to a node's end takes at least.
    pub fn backward_run(
        &mut self,
        nodes: &Nodes,
        [from, to]: [&[Entry]; 2],
        bound: u32,
        price: impl Fn(u32) -> u32,
        rest: Left,
    ) -> Option<Run> {
        // A step drives the node that it comes from.
        let run = self.lead_on(nodes, &nodes.inward, [to, from], bound, (price, |_| 0), rest)?;
        Some(Run { from: from[run.to].number, to: to[run.from].number, ..run })
    }

    /// From where it begins, over these steps, with what leaving a node costs and what coming to one does. The
    /// drive is told from its end, by the places of entries in their lists.
    fn lead_on(
        &mut self,
        nodes: &Nodes,
        steps: &Steps,
        [begin, end]: [&[Entry]; 2],
        mut bound: u32,
        (leaving, coming): (impl Fn(u32) -> u32, impl Fn(u32) -> u32),
        rest: Left,
    ) -> Option<Run> {
        self.begin(nodes.count());
        let (ends, mut best) = (Ends::of(end), None);
        for (i, entry) in (0..).zip(begin) {
            self.come(&ends, (entry.node, entry.ms, FIRST_ROOT - i), &rest, &mut bound, &mut best);
        }
        while let Some((node, ms)) = self.next(bound) {
            let ms = ms.saturating_add(leaving(node));
            for step in steps.of(node) {
                let there = ms.saturating_add(step.ms);
                if self.is_better(step.to, there) {
                    let there = there.saturating_add(coming(step.to));
                    self.come(&ends, (step.to, there, node), &rest, &mut bound, &mut best);
                }
            }
        }
        Some(self.run_from(best?))
    }

    /// The next node of the queue with its label.
    #[inline]
    pub(super) fn next(&mut self, bound: u32) -> Option<(u32, u32)> {
        while let Some((key, node)) = self.shelves.take(bound) {
            let label = self.labels[node as usize];
            if key == label.key && key <= bound {
                return Some((node, label.ms));
            }
        }
        None
    }

    #[inline]
    fn is_better(&self, node: u32, ms: u32) -> bool {
        let known = self.labels[node as usize];
        known.round != self.round || ms < known.ms
    }

    fn come(
        &mut self,
        ends: &Ends,
        (node, ms, before): (u32, u32, u32),
        rest: &Left,
        bound: &mut u32,
        best: &mut Option<Best>,
    ) {
        let known = self.labels[node as usize];
        if known.round == self.round && ms >= known.ms {
            return;
        }
        // Before what is left is asked for: the trees begin beyond the road that the drive begins on.
        let mut ends_here = false;
        for (i, end) in ends.at(node) {
            let cost = ms.saturating_add(end.ms);
            if cost <= *bound && cost != u32::MAX {
                keep(best, Best { cost, before: node, end: i });
                // Only what is better is wanted from here on.
                *bound = cost.saturating_sub(1);
                ends_here = true;
            }
        }
        let key = ms.saturating_add(rest.at(node));
        if ends_here {
            self.labels[node as usize] = Label { round: self.round, ms, key, before };
        }
        if key > *bound || key == u32::MAX {
            return;
        }
        self.labels[node as usize] = Label { round: self.round, ms, key, before };
        self.shelves.put(key, node);
    }

    /// Nodes from the last back to the first; the root's number stands as `from`.
    fn run_from(&self, best: Best) -> Run {
        let (mut nodes, mut node) = (Vec::new(), best.before);
        while (node as usize) < self.labels.len() {
            nodes.push(node);
            node = self.labels[node as usize].before;
        }
        Run { cost: best.cost, from: (FIRST_ROOT - node.min(FIRST_ROOT)) as usize, to: best.end, nodes }
    }
}
