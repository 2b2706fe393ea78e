//! A second drive beside a first: two drives between the same ends that cost the least together where
//! what both use costs extra (successive shortest paths for a flow of two, Suurballe 1974). The search for
//! the second one may drive on to the first, take back a part of it, and leave it again; then each of the
//! two has the other's rest.

use super::between::{Best, FIRST_ROOT, Guided, Label, keep};
use super::nodes::{Ends, Entry, Run};
use super::tree::Left;
use crate::routing::core::Nodes;

/// What was found beside a first drive.
#[derive(Debug)]
pub struct Second {
    /// Of the second drive, less what it takes back of the first.
    pub cost: u32,
    /// Both drives; none where they could not be laid out.
    pub runs: Option<[Run; 2]>,
}

/// The first drive as the search for the second sees it.
struct First<'g> {
    /// Its nodes in driving order.
    driven: &'g [u32],
    /// Milliseconds of the step into each, nothing for the first, and of the exit.
    step_ms: Vec<u32>,
    /// Place in it of a node after which it may be left.
    place: Vec<(u32, usize)>,
    /// A bit for each of these nodes, by its last eight bits.
    near: [u64; 4],
    /// Other exits to where the first one ends.
    exits: &'g [Entry],
    rest: Left<'g>,
    goals: Ends<'g>,
    /// Numbers from here on: the first drive taken back as far as the node of that place.
    back: u32,
    bound: u32,
    best: Option<Best>,
}

impl Guided {
    /// What there is beside `first`, the cheapest drive between its ends; none if there is no second one within
    /// `bound`. `price` and what entries and exits cost are for the second one's use of the first's road;
    /// `exits` are the bare ones to the first's end. Otherwise as [`Guided::backward_run`].
    pub fn beside(
        &mut self,
        nodes: &Nodes,
        [from, to]: [&[Entry]; 2],
        (first, exits): (&Run, &[Entry]),
        bound: u32,
        price: impl Fn(u32) -> u32,
        rest: Left,
    ) -> Option<Second> {
        let driven = &first.nodes[..];
        let end = driven.len().checked_sub(1)?;
        let mut step_ms = vec![0];
        for pair in driven.windows(2) {
            step_ms.push(nodes.step_ms(pair[0], pair[1])?);
        }
        step_ms.push(exits.iter().find(|exit| exit.node == driven[end]).map(|exit| exit.ms)?);
        let back = nodes.count() as u32;
        self.begin(nodes.count() + driven.len() + 1);
        let mut place: Vec<(u32, usize)> = driven[..end].iter().copied().zip(0..).collect();
        place.sort_unstable();
        let near = place.iter().fold([0u64; 4], |mut near, (node, _)| {
            near[(node >> 6 & 3) as usize] |= 1 << (node & 63);
            near
        });
        let (goals, best) = (Ends::of(from), None);
        let mut way = First { driven, step_ms, place, near, exits, rest, goals, back, bound, best };
        for (i, exit) in (0..).zip(to) {
            self.arrive(&mut way, exit.node, exit.ms, FIRST_ROOT - i);
        }
        while let Some((node, ms)) = self.next(way.bound) {
            if node < back {
                let through = ms.saturating_add(price(node));
                for step in nodes.inward.of(node) {
                    self.arrive(&mut way, step.to, through.saturating_add(step.ms), node);
                }
                continue;
            }
            let place = (node - back) as usize;
            let before_ms = ms.saturating_sub(way.step_ms[place + 1]);
            if place == end {
                for exit in exits.iter().filter(|exit| exit.node != driven[end]) {
                    self.arrive(&mut way, exit.node, before_ms.saturating_add(exit.ms), node);
                }
                continue;
            }
            self.take_back(&mut way, place + 1, before_ms, node);
            for step in nodes.inward.of(driven[place + 1]) {
                if step.to != driven[place] {
                    self.arrive(&mut way, step.to, before_ms.saturating_add(step.ms), node);
                }
            }
        }
        let best = way.best?;
        Some(Second { cost: best.cost, runs: self.courses([from, to], first, &way, best) })
    }

    fn arrive(&mut self, first: &mut First, node: u32, ms: u32, before: u32) {
        for (i, goal) in first.goals.at(node) {
            let cost = ms.saturating_add(goal.ms);
            if cost <= first.bound && cost != u32::MAX {
                keep(&mut first.best, Best { cost, before, end: i });
                first.bound = cost.saturating_sub(1);
            }
        }
        if self.better(first, (node, node), ms, before)
            && first.near[(node >> 6 & 3) as usize] >> (node & 63) & 1 == 1
            && let Ok(at) = first.place.binary_search_by_key(&node, |(node, _)| *node)
        {
            let place = first.place[at].1 + 1;
            self.take_back(first, place, ms.saturating_sub(first.step_ms[place]), before);
        }
    }

    fn take_back(&mut self, first: &mut First, place: usize, ms: u32, before: u32) {
        self.better(first, (first.back + place as u32, first.driven[place]), ms, before);
    }

    /// Whether that is better than what was known of a number, which lies where the node does.
    fn better(&mut self, first: &First, (number, node): (u32, u32), ms: u32, before: u32) -> bool {
        let known = &mut self.labels[number as usize];
        if known.round == self.round && ms >= known.ms {
            return false;
        }
        let key = ms.saturating_add(first.rest.at(node));
        if key > first.bound || key == u32::MAX {
            return false;
        }
        *known = Label { round: self.round, ms, key, before };
        self.shelves.put(key, number);
        true
    }

    /// Lays the drives out: where a part of the first was taken back, they change over.
    fn courses(&self, [from, to]: [&[Entry]; 2], first: &Run, laid: &First, best: Best) -> Option<[Run; 2]> {
        // Parts of the second, the place at which each comes on to the first, the place the next leaves.
        let mut parts = vec![vec![from[best.end].node]];
        let (mut joins, mut leaves) = (Vec::new(), Vec::new());
        let mut node = best.before;
        let most = self.labels.len();
        for _ in 0..most {
            if node as usize >= most {
                break;
            }
            let before = self.labels[node as usize].before;
            if node < laid.back {
                parts.last_mut()?.push(node);
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
        let driven = laid.driven;
        let walk = |mut part: Option<usize>, from: usize| {
            let (mut nodes, mut place) = (Vec::new(), 0);
            let run = |nodes, to| Some(Run { cost: 0, from, to, nodes });
            while nodes.len() <= most {
                if let Some(of) = part {
                    nodes.extend(&parts[of]);
                    let Some(join) = joins.get(of) else { return run(nodes, to[number].number) };
                    place = *join;
                }
                let Some(next) = driven.get(place) else {
                    let last = nodes.last()?;
                    let exit = laid.exits.iter().find(|exit| exit.node == *last)?.number;
                    return run(nodes, exit);
                };
                nodes.push(*next);
                if place + 1 == driven.len() {
                    return run(nodes, first.to);
                }
                part = leaves.iter().position(|leave| *leave == place).map(|of| of + 1);
                place += 1;
            }
            None
        };
        Some([walk(None, first.from)?, walk(Some(0), from[best.end].number)?])
    }
}
