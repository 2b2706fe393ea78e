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
//! the same (Suurballe 1974), then each by itself is bent to the other.
//!
//! Prices only add to times, so the trees of least times around the dump site guide every search.

use crate::routing::graph::RoadGraph;
use crate::routing::search::{Between, End, Guided, Rest, Stand};
use crate::shuttle::ground::{homeward, outward};
use crate::shuttle::pieces::{Pieces, Site, Use, common};
use crate::shuttle::prices::Prices;
use crate::shuttle::sides::{Open, SidePair};
use std::cmp::Reverse;
use std::collections::{BinaryHeap, HashSet};

pub use crate::shuttle::ground::{Effort, PairField};

/// Weight of a use that the legs must not share.
pub const NEVER: u32 = u32::MAX;

/// A loaded and an empty leg, and what is known of their cost, in milliseconds.
#[derive(Clone, Debug)]
pub struct Pair {
    pub loaded: Between,
    pub empty: Between,
    /// Driving, turns and weights.
    pub cost: u32,
    /// No pair costs less.
    pub at_least: u32,
}

/// Memory of searches, for use again.
#[derive(Debug, Default)]
pub struct Scratch {
    pub(super) search: Guided,
    loaded: Prices,
    empty: Prices,
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

/// A leg with the uses it has, seen from the loaded leg's side.
#[derive(Clone, Debug)]
struct Side {
    found: Between,
    uses: Vec<Use>,
}

struct Solver<'s, 'a, 'n> {
    field: &'s PairField<'a, 'n>,
    pieces: &'s Pieces,
    weight: &'s dyn Fn(Use) -> u32,
    scratch: &'s mut Scratch,
    best: Option<Pair>,
    /// Pairs that cost this or more are not wanted.
    ceiling: u32,
    sides: Vec<SidePair>,
    open: Open,
    /// Legs by their uses, loaded and empty, whose best answer is known.
    answered: [HashSet<Vec<Use>>; 2],
}

/// The cheapest pair below `ceiling` milliseconds, none if there is none or none was found. `known`
/// is a pair to start from.
pub fn cheapest(
    field: &PairField,
    pieces: &Pieces,
    weight: &dyn Fn(Use) -> u32,
    known: Option<(&Between, &Between)>,
    ceiling: u32,
    effort: Effort,
    scratch: &mut Scratch,
) -> Option<Pair> {
    let sides = SidePair::all(field, pieces, weight);
    let mut solver = Solver {
        field,
        pieces,
        weight,
        scratch,
        best: None,
        ceiling,
        sides,
        open: Open::default(),
        answered: Default::default(),
    };
    if !solver.narrow() {
        return None;
    }
    if let Some((loaded, empty)) = known {
        let (loaded, empty) = (solver.loaded_side(loaded.clone()), solver.empty_side(empty.clone()));
        solver.offer(&loaded, &empty);
        solver.part(&empty);
    }
    let at_least = solver.run(effort);
    let mut best = solver.best?;
    best.at_least = at_least.min(best.cost);
    Some(best)
}

impl Solver<'_, '_, '_> {
    /// Searches; returns the lower bound over everything.
    fn run(&mut self, effort: Effort) -> u32 {
        let mut heap: BinaryHeap<(Reverse<u32>, usize)> = BinaryHeap::new();
        let mut branches = vec![Branch::default()];
        heap.push((Reverse(0), 0));
        let mut looked_at = 0;
        while let Some((Reverse(at_least), index)) = heap.pop() {
            if at_least.saturating_add(effort.gap) >= self.ceiling {
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
            let Some(split) = self.relax(&mut branch, rounds, effort.gap) else { continue };
            let weight = (self.weight)(split);
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
        let shared_ms = branch.shared.iter().fold(0u32, |sum, of| sum.saturating_add((self.weight)(*of)));
        let mut prices = branch.prices.clone();
        let (mut step_share, mut without_gain) = (1.0, 0);
        let mut split = None;
        for _ in 0..rounds.max(1) {
            self.set_prices(branch, &prices);
            let given_back = prices.iter().map(|(_, ms)| u64::from(*ms)).sum::<u64>();
            let bound = u64::from(self.ceiling) + given_back;
            let bound = bound.min(u64::from(NEVER / 2)) as u32;
            // A leg beyond what the other leaves of the ceiling ends the branch as no leg at all does.
            let loaded = self.loaded(bound.saturating_sub(self.open.least[1]))?;
            let empty = self.empty(bound.saturating_sub(loaded.found.cost))?;
            let sum = u64::from(loaded.found.cost) + u64::from(empty.found.cost) + u64::from(shared_ms);
            let at_least = sum.saturating_sub(given_back).min(u64::from(NEVER)) as u32;
            if at_least > branch.at_least {
                (branch.at_least, without_gain) = (at_least, 0);
            } else {
                without_gain += 1;
            }
            let met: Vec<Use> =
                common(&loaded.uses, &empty.uses).filter(|of| !branch.shared.contains(of)).collect();
            self.offer(&loaded, &empty);
            // What a leg's best answer was once it is still, whatever the prices.
            if self.answered[0].insert(loaded.uses.clone()) {
                self.answer_empty(&loaded);
            }
            if self.answered[1].insert(empty.uses.clone()) {
                self.answer_loaded(&empty);
            }
            if branch.at_least.saturating_add(gap) >= self.ceiling {
                return None;
            }
            // Paid by neither and given back all the same: too dear.
            let unused =
                |of: Use| loaded.uses.binary_search(&of).is_err() && empty.uses.binary_search(&of).is_err();
            let dear: Vec<Use> =
                prices.iter().filter(|(of, ms)| *ms > 0 && unused(*of)).map(|(of, _)| *of).collect();
            let price = |of: Use| prices.iter().find(|(known, _)| *known == of).map_or(0, |(_, ms)| *ms);
            let cheap: Vec<Use> = met.iter().copied().filter(|of| price(*of) < (self.weight)(*of)).collect();
            let heavy = |of: &Use| Reverse(((self.weight)(*of), *of));
            split = cheap.iter().copied().min_by_key(heavy).or(dear.iter().copied().min_by_key(heavy));
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
                let most = (self.weight)(of);
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
            side.clear(self.pieces.count());
            prices.iter().for_each(|(of, ms)| side.set(*of, *ms));
            barred.iter().for_each(|of| side.set(*of, NEVER));
        }
    }

    /// As if both legs cost what the empty one does: two drives that cost least together. Either may be
    /// the loaded leg, driven the other way, if that is open.
    fn part(&mut self, empty: &Side) {
        self.price_met(empty, false);
        let left = self.ceiling.saturating_sub(empty.found.drive.ms).saturating_sub(1);
        let PairField { graphs, from_dump, .. } = *self.field;
        let (from, to, ahead) = self.empty_ends();
        let Scratch { search, empty: prices, .. } = &mut *self.scratch;
        let extra = |arc| prices.against(self.pieces, arc);
        let rest = Rest { trees: from_dump, more: ahead };
        let Some(courses) = search.beside(graphs.empty, [&from, &to], &empty.found, left, extra, rest) else {
            return;
        };
        let [a, b] = &courses;
        for (out, home) in [(a, b), (b, a)] {
            if let (Some(out), Some(home)) = (outward(self.field, out), homeward(self.field, home)) {
                let (loaded, empty) = (self.loaded_side(out), self.empty_side(home));
                self.offer(&loaded, &empty);
            }
        }
        // Where the one is not open the other way there may be another beside it.
        for home in courses.iter().filter_map(|course| homeward(self.field, course)) {
            let empty = self.empty_side(home);
            if self.answered[1].insert(empty.uses.clone()) {
                self.answer_loaded(&empty);
            }
        }
    }

    /// The best empty leg for a loaded one.
    fn answer_empty(&mut self, loaded: &Side) {
        self.price_met(loaded, false);
        let left = self.ceiling.saturating_sub(loaded.found.drive.ms).saturating_sub(1);
        if let Some(empty) = self.empty(left) {
            self.offer(loaded, &empty);
        }
    }

    /// The best loaded leg for an empty one.
    fn answer_loaded(&mut self, empty: &Side) {
        self.price_met(empty, true);
        let left = self.ceiling.saturating_sub(empty.found.drive.ms).saturating_sub(1);
        if let Some(loaded) = self.loaded(left) {
            self.offer(&loaded, empty);
        }
    }

    /// What meeting a leg costs the other one, which is the loaded one or not.
    fn price_met(&mut self, leg: &Side, loaded: bool) {
        let Scratch { loaded: out, empty: home, .. } = &mut *self.scratch;
        let prices = if loaded { out } else { home };
        prices.clear(self.pieces.count());
        for of in &leg.uses {
            prices.set(*of, (self.weight)(*of));
        }
    }

    /// Keeps a pair if it is the best so far.
    fn offer(&mut self, loaded: &Side, empty: &Side) {
        let met = common(&loaded.uses, &empty.uses).map(|of| (self.weight)(of));
        let weights = met.fold(0u32, |sum, ms| sum.saturating_add(ms));
        let driving = loaded.found.drive.ms.saturating_add(empty.found.drive.ms);
        let cost = driving.saturating_add(weights);
        if cost < self.ceiling {
            self.ceiling = cost;
            let (loaded, empty) = (loaded.found.clone(), empty.found.clone());
            self.best = Some(Pair { loaded, empty, cost, at_least: 0 });
        }
    }

    fn loaded_side(&self, found: Between) -> Side {
        let uses = self.pieces.of_loaded(&found.drive, found.from, found.to);
        Side { found, uses }
    }
    fn empty_side(&self, found: Between) -> Side {
        let uses = self.pieces.against_empty(&found.drive, found.to, found.from);
        Side { found, uses }
    }

    /// The cheapest loaded leg at the prices set.
    fn loaded(&mut self, bound: u32) -> Option<Side> {
        let PairField { graphs, fill, dump, to_dump, .. } = *self.field;
        let (graph, pieces) = (graphs.full, self.pieces);
        let Scratch { search, loaded: prices, .. } = &mut *self.scratch;
        let prices = &*prices;
        let (from, to) = (fill.stands(), dump.stands());
        let turn = |site: Site, side: usize| prices.of[pieces.turn(site, side) as usize];
        let open = &self.open;
        let ends = |stands: [_; 2], site: Site, after: bool| {
            [0, 1].map(|i| {
                let parts = prices.sum(pieces.part(stands[i], after)).saturating_add(turn(site, i));
                let extra = open.or_never(usize::from(site == Site::Dump), i, parts);
                End { stand: stands[i], extra }
            })
        };
        let part = [0, 1].map(|i| open.or_never(1, i, graph.part_ms(to[i].arc, to[i].fraction)));
        let found = search.forward_between(
            graph,
            [&ends(from, Site::Fill, true), &ends(to, Site::Dump, false)],
            bound,
            |arc| prices.along(pieces, arc),
            Rest { trees: to_dump, more: part },
            |i, j| {
                let along = pieces.on(from[i].arc, from[i].fraction, to[j].fraction);
                prices.sum(along).saturating_add(turn(Site::Fill, i)).saturating_add(turn(Site::Dump, j))
            },
        )?;
        Some(self.loaded_side(found))
    }

    /// The cheapest empty leg at the prices set.
    fn empty(&mut self, bound: u32) -> Option<Side> {
        let PairField { graphs, fill, dump, from_dump, .. } = *self.field;
        let (graph, pieces): (&RoadGraph, _) = (graphs.empty, self.pieces);
        let (starts, goals, ahead) = self.empty_ends();
        let Scratch { search, empty: prices, .. } = &mut *self.scratch;
        let prices = &*prices;
        let (from, to) = (dump.stands(), fill.stands());
        let turn = |site: Site, side: usize| prices.of[pieces.turn(site, 1 - side) as usize];
        let found = search.backward_between(
            graph,
            [&starts, &goals],
            bound,
            |arc| prices.against(pieces, arc),
            Rest { trees: from_dump, more: ahead },
            |i, j| {
                let along = pieces.on(from[i].arc, from[i].fraction, to[j].fraction).map(|of| of ^ 1);
                prices.sum(along).saturating_add(turn(Site::Dump, i)).saturating_add(turn(Site::Fill, j))
            },
        )?;
        Some(self.empty_side(found))
    }

    /// Ends of the empty leg at the prices set, and what is left of the arcs it starts on.
    fn empty_ends(&self) -> ([End; 2], [End; 2], [u32; 2]) {
        let (graph, pieces, prices) = (self.field.graphs.empty, self.pieces, &self.scratch.empty);
        let (from, to) = (self.field.dump.stands(), self.field.fill.stands());
        let open = &self.open;
        // What the empty leg drives is priced where the loaded leg would come the other way.
        let ends = |stands: [Stand; 2], site: Site, after: bool| {
            [0, 1].map(|i| {
                let parts = prices.sum(pieces.part(stands[i], after).map(|of| of ^ 1));
                let turn = prices.of[pieces.turn(site, 1 - i) as usize];
                let which = if site == Site::Dump { 2 } else { 3 };
                End { stand: stands[i], extra: open.or_never(which, i, parts.saturating_add(turn)) }
            })
        };
        let ahead = [0, 1].map(|i| {
            let Stand { arc, fraction } = from[i];
            open.or_never(2, i, graph.rest_ms(arc, fraction))
        });
        (ends(from, Site::Dump, true), ends(to, Site::Fill, false), ahead)
    }
}
