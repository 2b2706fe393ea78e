//! The loop of a crew that goes back by the road it came: what other loops are measured against.
//!
//! Of each leg's quickest way the other one is bent to it: road off it counts several times, so that it
//! is left only where it must be, on one-way roads, at roundabouts and where the other load may not go.

use crate::roads::network::Arc;
use crate::routing::graph::RoadGraph;
use crate::routing::search::{Between, Drive, End, Guided, Rest, Stand};
use crate::shuttle::pair::{Pair, PairField};
use std::collections::HashSet;

/// So many times its driving time road costs that the other leg does not drive (a judgement: a block
/// round is no longer out and back, a dual carriageway is).
const OFF_IT: u32 = 5;

/// The better of both ways of bending one leg to the other; the quickest pair where neither is open.
pub(super) fn pair(field: &PairField, quickest: &Pair, turn_ms: u32) -> Pair {
    let mut search = Guided::default();
    let mut best: Option<(u32, Pair)> = None;
    let mut offer = |loaded: &Between, empty: &Between, cost: u32| {
        if best.as_ref().is_none_or(|(known, _)| cost < *known) {
            let (loaded, empty) = (loaded.clone(), empty.clone());
            let turns = u32::from(loaded.to != empty.from) + u32::from(empty.to != loaded.from);
            let drive_ms = loaded.drive.ms.saturating_add(empty.drive.ms);
            let cost_ms = drive_ms.saturating_add(turns.saturating_mul(turn_ms));
            best = Some((cost, Pair { loaded, empty, cost: cost_ms, at_least: quickest.cost }));
        }
    };
    if let Some(empty) = empty_along(field, &quickest.loaded, turn_ms, &mut search) {
        offer(&quickest.loaded, &empty, quickest.loaded.cost.saturating_add(empty.cost));
    }
    if let Some(loaded) = loaded_along(field, &quickest.empty, turn_ms, &mut search) {
        offer(&loaded, &quickest.empty, quickest.empty.cost.saturating_add(loaded.cost));
    }
    best.map_or_else(|| quickest.clone(), |(_, pair)| pair)
}

/// Arcs a leg would drive that follows this one against its direction.
fn against(drive: &Drive) -> HashSet<Arc> {
    drive.arcs.iter().map(|arc| arc.reversed()).collect()
}

fn off_it(graph: &RoadGraph, known: &HashSet<Arc>, arc: Arc) -> u32 {
    if known.contains(&arc) { 0 } else { graph.ms(arc).saturating_mul(OFF_IT - 1) }
}

/// Ends of the leg that is sought, where the other leg has `side`: to go on as that came saves the turn.
fn ends(stands: [Stand; 2], side: usize, turn_ms: u32) -> [End; 2] {
    [0, 1].map(|i| End { stand: stands[i], extra: if i == side { 0 } else { turn_ms } })
}

fn empty_along(field: &PairField, loaded: &Between, turn_ms: u32, search: &mut Guided) -> Option<Between> {
    let graph = field.graphs.empty;
    let (from, to) = (field.dump.stands(), field.fill.stands());
    let known = against(&loaded.drive);
    let ahead = from.map(|s| graph.rest_ms(s.arc, s.fraction));
    search.backward_between(
        graph,
        [&ends(from, loaded.to, turn_ms), &ends(to, loaded.from, turn_ms)],
        u32::MAX / 4,
        |arc| off_it(graph, &known, arc),
        Rest { trees: field.from_dump, more: ahead },
        |i, j| u32::from(i != loaded.to) * turn_ms + u32::from(j != loaded.from) * turn_ms,
    )
}

fn loaded_along(field: &PairField, empty: &Between, turn_ms: u32, search: &mut Guided) -> Option<Between> {
    let graph = field.graphs.full;
    let (from, to) = (field.fill.stands(), field.dump.stands());
    let known = against(&empty.drive);
    let part = to.map(|stand| graph.part_ms(stand.arc, stand.fraction));
    search.forward_between(
        graph,
        [&ends(from, empty.to, turn_ms), &ends(to, empty.from, turn_ms)],
        u32::MAX / 4,
        |arc| off_it(graph, &known, arc),
        Rest { trees: field.to_dump, more: part },
        |i, j| u32::from(i != empty.to) * turn_ms + u32::from(j != empty.from) * turn_ms,
    )
}
