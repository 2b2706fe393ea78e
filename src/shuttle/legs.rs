//! The cheapest leg of either load at the prices set, led by the trees around the dump site.

use crate::routing::search::{Entry, Left, Run, Stand};
use crate::shuttle::lay::{Lay, Leg, LegEnd, SiteGate};
use crate::shuttle::pair::{NEVER, PairField, Scratch, Solver};
use std::rc::Rc;

/// A second drive may take a part of the first one back instead of paying where it starts: then it starts
/// on the other side, and what that takes more is the least, over the places where it may leave the first.
pub(super) fn lower(lay: &Lay, rest: &mut Left, first: &Run, exits: &[Entry]) {
    let (nodes, field) = (&lay.core.empty, lay.field);
    let start = &lay.gates(LegEnd::FromDump)[first.from];
    let Stand { arc, fraction } = field.dump.stands()[start.side];
    let bare = field.graphs.empty.rest_ms(arc, fraction);
    let (own, other) = (start.side, 1 - start.side);
    let by_other = |node: u32| rest.by(other, node);
    let (mut along, mut least) = (start.gate.ms, NEVER);
    for pair in first.nodes.windows(2) {
        along = along.saturating_add(nodes.step_ms(pair[0], pair[1]).unwrap_or(0));
        least = least.min(by_other(pair[1]).saturating_sub(along));
    }
    let last = first.nodes.last().copied();
    let end = exits.iter().find(|exit| Some(exit.node) == last).map_or(0, |exit| exit.ms);
    for exit in exits.iter().filter(|exit| Some(exit.node) != last) {
        let there = by_other(exit.node).saturating_add(exit.ms);
        least = least.min(there.saturating_sub(along.saturating_add(end)));
    }
    rest.more[own] = rest.more[own].min(bare.saturating_add(least));
}

impl Solver<'_, '_, '_> {
    /// What going on another way than the loaded leg came or leaves costs the empty one.
    pub(super) fn price_turns(&mut self, loaded: &Leg) {
        let Scratch { empty, weights, .. } = &mut *self.scratch;
        let (weights, of_piece) = (&mut weights[self.meeting.kept as usize], self.meeting.of_piece);
        empty.clear(self.lay.count());
        for of in loaded.uses.iter().filter(|of| self.lay.is_turn(**of)) {
            empty.set(self.lay, *of, weights.of(self.lay, *of, of_piece));
        }
    }

    /// What meeting a leg costs the other one, which is the loaded one or not.
    pub(super) fn price_met(&mut self, leg: &Leg, loaded: bool) {
        let Scratch { loaded: out, empty: home, weights, .. } = &mut *self.scratch;
        let (weights, of_piece) = (&mut weights[self.meeting.kept as usize], self.meeting.of_piece);
        let prices = if loaded { out } else { home };
        prices.clear(self.lay.count());
        for of in &leg.uses {
            prices.set(self.lay, *of, weights.of(self.lay, *of, of_piece));
        }
    }

    /// The gates at an end of a leg, at the prices set.
    pub(super) fn entries(&self, end: LegEnd) -> Vec<Entry> {
        let loaded = matches!(end, LegEnd::FromFill | LegEnd::ToDump);
        let prices = if loaded { &self.scratch.loaded } else { &self.scratch.empty };
        let which = end as usize;
        let gates = self.lay.gates(end).iter().enumerate();
        let entry = |(number, gate): (usize, &SiteGate)| {
            let ms = gate.gate.ms.saturating_add(prices.sum(&gate.uses));
            let ms = self.open.or_never(which, gate.side, ms);
            (ms != NEVER).then_some(Entry { node: gate.gate.node, ms, number })
        };
        gates.filter_map(entry).collect()
    }

    /// What is left at least of a leg whose ends at the dump site are these: the trees do not know prices,
    /// and one that every way by a side pays is known before it is driven.
    pub(super) fn paid(&self, loaded: bool, at_dump: &[Entry]) -> [u32; 2] {
        let PairField { graphs, dump, .. } = *self.lay.field;
        let gates = self.lay.gates(if loaded { LegEnd::ToDump } else { LegEnd::FromDump });
        [0, 1].map(|i| {
            let Stand { arc, fraction } = dump.stands()[i];
            let of_side = at_dump.iter().filter(|entry| gates[entry.number].side == i);
            let paid = of_side.map(|entry| entry.ms.saturating_sub(gates[entry.number].gate.ms)).min();
            paid.map_or(NEVER, |paid| match loaded {
                true => graphs.full.part_ms(arc, fraction).saturating_add(paid),
                false => graphs.empty.rest_ms(arc, fraction).saturating_add(paid),
            })
        })
    }

    /// The cheapest loaded leg at the prices set.
    pub(super) fn loaded(&mut self, bound: u32) -> Option<Rc<Leg>> {
        let lay = self.lay;
        let ends = LegEnd::both(true).map(|end| self.entries(end));
        let direct = self.direct(true, bound);
        let bound = direct.as_ref().map_or(bound, |leg| bound.min(leg.cost.saturating_sub(1)));
        let (more, nodes) = (self.paid(true, &ends[1]), &lay.core.full);
        let Scratch { search, loaded: prices, guides, .. } = &mut *self.scratch;
        let rest = Left { times: &guides.loaded, more };
        let price = |node| prices.of[nodes.along(node) as usize];
        let run = search.forward_run(nodes, [&ends[0], &ends[1]], bound, price, rest);
        run.and_then(|run| lay.leg(run, true)).or(direct).map(Rc::new)
    }

    /// The cheapest empty leg at the prices set.
    pub(super) fn empty(&mut self, bound: u32) -> Option<Rc<Leg>> {
        let lay = self.lay;
        let ends = LegEnd::both(false).map(|end| self.entries(end));
        let direct = self.direct(false, bound);
        let bound = direct.as_ref().map_or(bound, |leg| bound.min(leg.cost.saturating_sub(1)));
        let (more, nodes) = (self.paid(false, &ends[0]), &lay.core.empty);
        let Scratch { search, empty: prices, guides, .. } = &mut *self.scratch;
        let rest = Left { times: &guides.empty, more };
        // What the empty leg drives is priced where the loaded leg would come the other way.
        let price = |node| prices.of[(nodes.along(node) ^ 1) as usize];
        let run = search.backward_run(nodes, [&ends[0], &ends[1]], bound, price, rest);
        run.and_then(|run| lay.leg(run, false)).or(direct).map(Rc::new)
    }

    /// The cheapest leg that stays on the road both sites lie on.
    pub(super) fn direct(&self, loaded: bool, bound: u32) -> Option<Leg> {
        let prices = if loaded { &self.scratch.loaded } else { &self.scratch.empty };
        let [start, end] = LegEnd::both(loaded).map(|end| end as usize);
        let legs = self.lay.direct(loaded).iter().map(|leg| {
            let (from, to) = self.lay.sides(leg, loaded);
            let cost = leg.ms.saturating_add(prices.sum(&leg.uses));
            let cost = self.open.or_never(end, to, self.open.or_never(start, from, cost));
            Leg { cost, ..leg.clone() }
        });
        legs.filter(|leg| leg.cost <= bound && leg.cost != NEVER).min_by_key(|leg| leg.cost)
    }
}
