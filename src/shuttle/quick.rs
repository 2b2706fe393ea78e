//! The quickest loop, read off the trees around the dump site: at its ends only the turns at the sites
//! couple the legs, so of the four ways to come and go at either site the cheapest is looked up.

use crate::routing::graph::RoadGraph;
use crate::routing::search::{Between, Drive, End, Guided, Stand};
use crate::shuttle::pair::{Pair, PairField};

/// Milliseconds by side of origin and side of goal; none where no drive is open or the trees end before.
type Times = [[Option<u32>; 2]; 2];

/// Loaded by side of fill and dump site, empty by side of dump and fill site.
pub(super) fn times(field: &PairField) -> [Times; 2] {
    let (fill, dump) = (field.fill.stands(), field.dump.stands());
    let loaded = [0, 1].map(|i| [0, 1].map(|j| loaded_ms(field, (fill[i], dump[j]), j)));
    let empty = [0, 1].map(|j| [0, 1].map(|i| empty_ms(field, (dump[j], fill[i]), j)));
    [loaded, empty]
}

fn ahead_ms(graph: &RoadGraph, stand: Stand) -> u32 {
    graph.ms(stand.arc).saturating_sub(graph.part_ms(stand.arc, stand.fraction))
}

fn loaded_ms(field: &PairField, (from, to): (Stand, Stand), side: usize) -> Option<u32> {
    let graph = field.graphs.full;
    if !graph.is_open(from.arc) || !graph.is_open(to.arc) {
        return None;
    }
    Drive::along_ms(graph, from, to).or_else(|| {
        let between = field.to_dump[side].exact(from.arc)?;
        Some(ahead_ms(graph, from) + between + graph.part_ms(to.arc, to.fraction))
    })
}

fn empty_ms(field: &PairField, (from, to): (Stand, Stand), side: usize) -> Option<u32> {
    let graph = field.graphs.empty;
    if !graph.is_open(from.arc) || !graph.is_open(to.arc) {
        return None;
    }
    Drive::along_ms(graph, from, to).or_else(|| {
        let tree = field.from_dump[side];
        let at_end = graph.topology.states(to.arc).filter_map(|state| tree.exact(state)).min()?;
        Some(ahead_ms(graph, from) + at_end.checked_sub(ahead_ms(graph, to))?)
    })
}

/// The quickest pair of legs, turning at the sites included.
pub(super) fn quickest(field: &PairField, turn_ms: u32, search: &mut Guided) -> Option<Pair> {
    let [loaded, empty] = times(field);
    // Cost, then sides: loaded from and to, empty from and to.
    let mut best: Option<(u32, [usize; 4])> = None;
    for sides in (0..16).map(|n: usize| [n >> 3 & 1, n >> 2 & 1, n >> 1 & 1, n & 1]) {
        let [out, at, off, back] = sides;
        let (Some(there), Some(home)) = (loaded[out][at], empty[off][back]) else { continue };
        let turns = u32::from(at != off) + u32::from(back != out);
        let cost = there.saturating_add(home).saturating_add(turns * turn_ms);
        if best.is_none_or(|(least, _)| cost < least) {
            best = Some((cost, sides));
        }
    }
    let (cost, [out, at, off, back]) = best?;
    let (fill, dump) = (field.fill.stands(), field.dump.stands());
    let only = |stands: [Stand; 2], side: usize| {
        [0, 1].map(|i| End { stand: stands[i], extra: if i == side { 0 } else { u32::MAX } })
    };
    let (full, bare) = (field.graphs.full, field.graphs.empty);
    let part = full.part_ms(dump[at].arc, dump[at].fraction);
    let loaded: Between = search.forward_between(
        full,
        [&only(fill, out), &only(dump, at)],
        loaded[out][at]?,
        |_| 0,
        |state| field.to_dump[at].at_least(state).saturating_add(part),
        |_, _| 0,
    )?;
    let ahead = ahead_ms(bare, dump[off]);
    let empty: Between = search.backward_between(
        bare,
        [&only(dump, off), &only(fill, back)],
        empty[off][back]?,
        |_| 0,
        |state| field.from_dump[off].at_least(state).saturating_add(ahead),
        |_, _| 0,
    )?;
    Some(Pair { loaded, empty, cost, at_least: cost })
}

/// The least driving of each leg, over all sides: whatever else a search adds.
pub(super) fn least(field: &PairField) -> [u32; 2] {
    times(field).map(|times| times.into_iter().flatten().flatten().min().unwrap_or(0))
}
