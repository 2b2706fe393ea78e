//! The two legs of a loop, chosen together: least driving plus what tankers meeting on the same road
//! is held to cost.
//!
//! Each leg alone is a shortest path. Together they are not: a use (see `pieces`) that both have costs
//! its weight. That coupling is relaxed with a price per use, from nothing to its weight: the loaded leg
//! pays it, the empty leg pays it, and one payment is given back. At any prices the two shortest
//! paths give a lower bound, and subgradient steps raise it (Lagrangian relaxation; Held and Karp
//! 1971). The pairs found on the way, and the best answer of each leg to the other, give the upper
//! bound. Where the two do not meet, branch and bound: the loaded leg without a use, the empty leg
//! without it, or both with it at its full weight. The pair to start from is found as if both legs cost
//! the same (Suurballe 1974), once each leg of the quickest pair has been bent to the other. Where there
//! are two within what is known, prices have not been seen to find anything better than these or their best answers,
//! and none are set; where there are none a road open one way may be in play, which only prices see.
//!
//! Prices only add to times, so the trees of least times around the dump site guide every search.

use crate::routing::search::{Between, Entry, Guided, Left};
use crate::shuttle::guides::Guides;
use crate::shuttle::lay::{Course, DumpGates, Lay, Leg, LegEnd, SiteGate};
use crate::shuttle::legs;
use crate::shuttle::pieces::{Use, common};
use crate::shuttle::prices::{Meeting, Prices, Weights};
use crate::shuttle::sides::{Open, SidePair};
use std::cmp::Reverse;
use std::collections::BinaryHeap;
use std::rc::Rc;

pub use crate::shuttle::ground::{Cores, Effort, PairField};

/// Weight of a use that the legs must not share.
pub const NEVER: u32 = u32::MAX;
/// A pair this share of its cost above what none goes below is good enough.
const NEAR: u32 = 64;
/// A pair cheaper by less than this share of its cost is not looked for.
const LITTLE: u32 = 100;

/// A loaded and an empty leg, and what is known of their cost, in milliseconds.
#[derive(Clone, Debug)]
pub struct Pair {
    pub loaded: Between,
    pub empty: Between,
    /// Driving, turns and weights.
    pub cost: u32,
    /// No pair costs less, but for one cheaper by so little that it was not looked for ([`LITTLE`]).
    pub at_least: u32,
}

/// A loaded and an empty leg.
pub type Legs = (Rc<Leg>, Rc<Leg>);

/// Memory of searches, for use again.
#[derive(Debug, Default)]
pub struct Scratch {
    pub(super) search: Guided,
    pub(super) loaded: Prices,
    pub(super) empty: Prices,
    pub(super) weights: [Weights; 2],
    pub(super) guides: Guides,
    /// On the core and on all roads.
    pub(super) gates: [DumpGates; 2],
}

/// A part of all pairs: some uses are barred to a leg, some may be shared at their full weight.
#[derive(Clone, Debug, Default)]
struct Branch {
    no_loaded: Vec<Use>,
    no_empty: Vec<Use>,
    shared: Vec<Use>,
    /// Prices to start from.
    prices: Vec<(Use, u32)>,
    at_least: u32,
}

/// A search for one pair. How it looks for a leg at the prices set is in `legs`.
pub(super) struct Solver<'s, 'a, 'n> {
    pub(super) lay: &'s Lay<'a, 'n>,
    pub(super) meeting: Meeting<'s>,
    pub(super) scratch: &'s mut Scratch,
    best: Option<Legs>,
    /// Pairs that cost this or more are not wanted.
    ceiling: u32,
    sides: Vec<SidePair>,
    pub(super) open: Open,
    /// The quickest pair, until it is looked at.
    known: Option<Legs>,
    /// Legs, loaded and empty, whose best answer is known.
    answered: [Vec<Rc<Leg>>; 2],
}

/// The cheapest pair below `ceiling` milliseconds that is cheaper than the known one, which is the quickest;
/// none if there is none or none was found.
pub fn cheaper(
    lay: &Lay,
    meeting: Meeting,
    (loaded, empty): &Legs,
    ceiling: u32,
    effort: Effort,
    scratch: &mut Scratch,
) -> Option<Pair> {
    let sides = SidePair::all(lay.field, &lay.pieces, meeting.of_piece);
    scratch.weights[meeting.kept as usize].begin(lay);
    scratch.guides.read(lay.field, lay.core);
    let mut solver = Solver {
        lay,
        meeting,
        scratch,
        best: None,
        ceiling,
        sides,
        open: Open::default(),
        known: Some((loaded.clone(), empty.clone())),
        answered: Default::default(),
    };
    solver.offer(loaded, empty);
    solver.best = None;
    let at_least = solver.search(loaded, empty, effort);
    solver.told(at_least)
}

impl<'a> Solver<'_, 'a, '_> {
    /// Looks for a pair cheaper than the quickest legs; returns what none costs less than.
    fn search(&mut self, loaded: &Rc<Leg>, empty: &Rc<Leg>, effort: Effort) -> u32 {
        if !self.narrow() || self.open.least[0].saturating_add(self.open.least[1]) > self.below() {
            return self.ceiling;
        }
        // Each leg's best answer first: what is looked for after it is nearer.
        self.answer(loaded, true);
        self.answer(empty, false);
        if !self.narrow() {
            return self.ceiling;
        }
        self.price_turns(loaded);
        // Where there are two drives, prices have found nothing better than what comes of these.
        if self.part() {
            return self.ceiling;
        }
        self.run(effort)
    }

    /// The best pair found, if no pair costs less than `at_least`.
    fn told(&self, at_least: u32) -> Option<Pair> {
        let (loaded, empty) = self.best.as_ref()?;
        let (loaded, empty) = (self.lay.between(loaded, true)?, self.lay.between(empty, false)?);
        Some(Pair { loaded, empty, cost: self.ceiling, at_least: at_least.min(self.ceiling) })
    }

    /// Searches; returns the lower bound over everything.
    fn run(&mut self, effort: Effort) -> u32 {
        let mut heap: BinaryHeap<(Reverse<u32>, usize)> = BinaryHeap::new();
        let mut branches = vec![Branch::default()];
        heap.push((Reverse(0), 0));
        let mut looked_at = 0;
        let gap = effort.gap.max(self.ceiling / NEAR);
        while let Some((Reverse(at_least), index)) = heap.pop() {
            if at_least.saturating_add(gap) >= self.ceiling {
                return at_least;
            }
            if looked_at == effort.branches {
                return at_least;
            }
            if !self.narrow() {
                return self.ceiling;
            }
            let rounds = if looked_at == 0 { effort.rounds.0 } else { effort.rounds.1 };
            looked_at += 1;
            let mut branch = std::mem::take(&mut branches[index]);
            let Some(split) = self.relax(&mut branch, rounds, gap) else { continue };
            let weight = self.weight(split);
            let mut child = |change: &dyn Fn(&mut Branch)| {
                let mut child = branch.clone();
                change(&mut child);
                heap.push((Reverse(child.at_least), branches.len()));
                branches.push(child);
            };
            child(&|b| b.no_loaded.push(split));
            child(&|b| b.no_empty.push(split));
            if weight != NEVER {
                child(&|b| {
                    b.shared.push(split);
                    b.prices.retain(|(of, _)| *of != split);
                });
            }
        }
        self.ceiling
    }

    /// Closes the sides that no pair below the ceiling has; whether any is left.
    fn narrow(&mut self) -> bool {
        self.open = Open::below(self.ceiling, &self.sides);
        self.open.least[0] != NEVER
    }

    /// Raises a branch's lower bound by prices. Returns the use to branch on, none where the branch
    /// holds nothing better than what is known.
    fn relax(&mut self, branch: &mut Branch, rounds: usize, gap: u32) -> Option<Use> {
        let shared_ms = branch.shared.iter().fold(0u32, |sum, of| sum.saturating_add(self.weight(*of)));
        let mut prices = branch.prices.clone();
        let (mut step_share, mut without_gain) = (1.0, 0);
        let mut split = None;
        for _ in 0..rounds.max(1) {
            self.set_prices(branch, &prices);
            let given_back = prices.iter().map(|(_, ms)| u64::from(*ms)).sum::<u64>();
            let bound = u64::from(self.ceiling) + given_back;
            let bound = bound.min(u64::from(NEVER / 2)) as u32;
            let (loaded, empty) = match self.known.take() {
                // Without prices the legs are the quickest there are.
                Some(legs) => legs,
                None => {
                    // A leg beyond what the other leaves of the ceiling ends the branch as no leg at all does.
                    let bound = bound.saturating_sub(gap);
                    let loaded = self.loaded(bound.saturating_sub(self.open.least[1]))?;
                    let empty = self.empty(bound.saturating_sub(loaded.cost))?;
                    (loaded, empty)
                }
            };
            let sum = u64::from(loaded.cost) + u64::from(empty.cost) + u64::from(shared_ms);
            let at_least = sum.saturating_sub(given_back).min(u64::from(NEVER)) as u32;
            // The quickest pair may go round a turn that its legs would make.
            let at_least = match prices.is_empty() {
                true => self.open.least[0].saturating_add(self.open.least[1]),
                false => at_least,
            };
            if at_least > branch.at_least {
                (branch.at_least, without_gain) = (at_least, 0);
            } else {
                without_gain += 1;
            }
            let met: Vec<Use> =
                common(&loaded.uses, &empty.uses).filter(|of| !branch.shared.contains(of)).collect();
            self.offer(&loaded, &empty);
            if branch.at_least.saturating_add(gap) >= self.ceiling {
                return None;
            }
            self.answer(&loaded, true);
            self.answer(&empty, false);
            if branch.at_least.saturating_add(gap) >= self.ceiling {
                return None;
            }
            // Paid by neither and given back all the same: too dear.
            let unused =
                |of: Use| loaded.uses.binary_search(&of).is_err() && empty.uses.binary_search(&of).is_err();
            let dear: Vec<Use> =
                prices.iter().filter(|(of, ms)| *ms > 0 && unused(*of)).map(|(of, _)| *of).collect();
            let price = |of: Use| prices.iter().find(|(known, _)| *known == of).map_or(0, |(_, ms)| *ms);
            let cheap: Vec<Use> = met.iter().copied().filter(|of| price(*of) < self.weight(*of)).collect();
            let mut heavy = |of: &Use| Reverse((self.weight(*of), *of));
            split = cheap.iter().copied().min_by_key(&mut heavy);
            split = split.or_else(|| dear.iter().copied().min_by_key(heavy));
            if cheap.is_empty() && dear.is_empty() {
                // The prices are the weights where the legs meet: bound and pair are one.
                return None;
            }
            if without_gain == 3 {
                (step_share, without_gain) = (step_share / 2.0, 0);
            }
            let room = f64::from(self.ceiling.min(at_least.saturating_mul(2)) - at_least.min(self.ceiling));
            let step = (step_share * room / (cheap.len() + dear.len()) as f64).ceil().max(1.0) as u32;
            for of in cheap {
                let most = self.weight(of);
                match prices.iter_mut().find(|(known, _)| *known == of) {
                    Some((_, ms)) => *ms = ms.saturating_add(step).min(most),
                    None => prices.push((of, step.min(most))),
                }
            }
            for (of, ms) in &mut prices {
                if dear.contains(of) {
                    *ms = ms.saturating_sub(step);
                }
            }
        }
        branch.prices = prices;
        split
    }

    fn set_prices(&mut self, branch: &Branch, prices: &[(Use, u32)]) {
        let Scratch { loaded, empty, .. } = &mut *self.scratch;
        for (side, barred) in [(loaded, &branch.no_loaded), (empty, &branch.no_empty)] {
            side.clear(self.lay.count());
            prices.iter().for_each(|(of, ms)| side.set(self.lay, *of, *ms));
            barred.iter().for_each(|of| side.set(self.lay, *of, NEVER));
        }
    }

    /// What both legs' having a use costs.
    fn weight(&mut self, of: Use) -> u32 {
        self.scratch.weights[self.meeting.kept as usize].of(self.lay, of, self.meeting.of_piece)
    }

    /// As if both legs cost what the empty one does: two drives that cost least together. Either may be
    /// the loaded leg, driven the other way, if that is open; else each gets its best answer. Whether there are two.
    fn part(&mut self) -> bool {
        let bound = self.ceiling.saturating_sub(self.open.least[0]);
        let Some(first) = self.empty(bound) else { return false };
        let Course::Nodes(run) = &first.course else { return false };
        self.price_met(&first, false);
        let left = self.below().saturating_sub(first.ms);
        let lay = self.lay;
        let nodes = &lay.core.empty;
        let ends = LegEnd::both(false).map(|end| self.entries(end));
        let side = lay.gates(LegEnd::ToFill)[run.to].side;
        let exits = lay.gates(LegEnd::ToFill).iter().enumerate().filter(|(_, gate)| gate.side == side);
        let bare =
            |(number, gate): (usize, &SiteGate)| Entry { node: gate.gate.node, ms: gate.gate.ms, number };
        let exits: Vec<Entry> = exits.map(bare).collect();
        let more = self.paid(false, &ends[0]);
        let Scratch { search, empty: prices, guides, .. } = &mut *self.scratch;
        let mut rest = Left { times: &guides.empty, more };
        legs::lower(lay, &mut rest, run, &exits);
        let price = |node| prices.of[(nodes.along(node) ^ 1) as usize];
        let ends = [&ends[0][..], &ends[1][..]];
        let Some(second) = search.beside(nodes, ends, (run, &exits), left, price, rest) else {
            return false;
        };
        let slower = self.known.as_ref().map_or(0, |(loaded, empty)| loaded.ms.saturating_sub(empty.ms));
        let two_drives = first.ms.saturating_add(second.cost).saturating_add(slower);
        let Some(runs) = second.runs else { return true };
        let homes = runs.each_ref().map(|run| lay.leg(run.clone(), false).map(Rc::new));
        for (out, home) in [(&runs[0], &homes[1]), (&runs[1], &homes[0])] {
            if let (Some(out), Some(home)) = (lay.turned(out), home) {
                self.offer(&Rc::new(out), home);
                self.is_new(home, false);
            }
        }
        // Where the one is not open the other way there may be another beside it.
        for home in homes.iter().flatten() {
            if two_drives <= self.below() {
                self.answer(home, false);
            }
        }
        true
    }

    /// What a pair may cost that is worth having beside the best one known.
    fn below(&self) -> u32 {
        self.ceiling.saturating_sub(self.ceiling / LITTLE).saturating_sub(1)
    }

    /// Whether a leg was not met before.
    fn is_new(&mut self, leg: &Rc<Leg>, loaded: bool) -> bool {
        let answered = &mut self.answered[usize::from(!loaded)];
        let new = answered.iter().all(|known| known.uses != leg.uses);
        if new {
            answered.push(leg.clone());
        }
        new
    }

    /// Looks for the other leg that is best for this one, once: whatever the prices, it stays the best.
    fn answer(&mut self, leg: &Rc<Leg>, loaded: bool) {
        if !self.is_new(leg, loaded) {
            return;
        }
        self.price_met(leg, !loaded);
        let left = self.below().saturating_sub(leg.ms);
        match loaded {
            true => self.empty(left).inspect(|empty| self.offer(leg, empty)),
            false => self.loaded(left).inspect(|other| self.offer(other, leg)),
        };
    }

    /// Keeps a pair if it is the best so far.
    fn offer(&mut self, loaded: &Rc<Leg>, empty: &Rc<Leg>) {
        let mut cost = loaded.ms.saturating_add(empty.ms);
        for of in common(&loaded.uses, &empty.uses) {
            cost = cost.saturating_add(self.weight(of));
        }
        if cost < self.ceiling {
            self.ceiling = cost;
            self.best = Some((loaded.clone(), empty.clone()));
        }
    }
}
