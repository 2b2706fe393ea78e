//! The quickest loop, read off the trees around the dump site: at its ends only the turns at the sites
//! couple the legs, so of the four ways to come and go at either site the cheapest is looked up.

use crate::routing::search::{Between, Drive, End, Guided, Rest, Stand};
use crate::shuttle::pair::{Pair, PairField};

/// Milliseconds of a leg between two sides: at least, and whether that is the true time. The trees may
/// end before a far site.
#[derive(Clone, Copy, Debug)]
struct Known {
    ms: u32,
    exact: bool,
}

const CLOSED_LEG: Known = Known { ms: u32::MAX, exact: true };

/// By side of origin and side of goal.
type Times = [[Known; 2]; 2];

/// Loaded by side of fill and dump site, empty by side of dump and fill site.
fn times(field: &PairField) -> [Times; 2] {
    let (fill, dump) = (field.fill.stands(), field.dump.stands());
    let loaded = [0, 1].map(|i| [0, 1].map(|j| loaded_ms(field, (fill[i], dump[j]), j)));
    let empty = [0, 1].map(|j| [0, 1].map(|i| empty_ms(field, (dump[j], fill[i]), j)));
    [loaded, empty]
}

fn loaded_ms(field: &PairField, (from, to): (Stand, Stand), side: usize) -> Known {
    let graph = field.graphs.full;
    if !graph.is_open(from.arc) || !graph.is_open(to.arc) {
        return CLOSED_LEG;
    }
    if let Some(ms) = Drive::along_ms(graph, from, to) {
        return Known { ms, exact: true };
    }
    let tree = field.to_dump[side];
    let driven = graph.rest_ms(from.arc, from.fraction).saturating_add(graph.part_ms(to.arc, to.fraction));
    let exact = tree.exact(from.arc).is_some();
    Known { ms: tree.at_least(from.arc).saturating_add(driven), exact }
}

fn empty_ms(field: &PairField, (from, to): (Stand, Stand), side: usize) -> Known {
    let graph = field.graphs.empty;
    if !graph.is_open(from.arc) || !graph.is_open(to.arc) {
        return CLOSED_LEG;
    }
    if let Some(ms) = Drive::along_ms(graph, from, to) {
        return Known { ms, exact: true };
    }
    let tree = field.from_dump[side];
    let least = graph.topology.states(to.arc).map(|state| (tree.at_least(state), tree.exact(state)));
    let (at_end, exact) = least.min_by_key(|(ms, _)| *ms).unwrap_or((u32::MAX, None));
    let ms = at_end
        .saturating_sub(graph.rest_ms(to.arc, to.fraction))
        .saturating_add(graph.rest_ms(from.arc, from.fraction));
    Known { ms, exact: exact.is_some() }
}

/// The quickest pair of legs, turning at the sites included.
pub(super) fn quickest(field: &PairField, turn_ms: u32, search: &mut Guided) -> Option<Pair> {
    let [mut loaded, mut empty] = times(field);
    loop {
        // Sides: loaded from and to, empty from and to. Of equals the first.
        let all = (0..16).map(|n: usize| [n >> 3 & 1, n >> 2 & 1, n >> 1 & 1, n & 1]);
        let cost = |[out, at, off, back]: [usize; 4]| {
            let turns = u32::from(at != off) + u32::from(back != out);
            let driving = loaded[out][at].ms.saturating_add(empty[off][back].ms);
            driving.saturating_add(turns.saturating_mul(turn_ms))
        };
        let sides = all.min_by_key(|sides| cost(*sides))?;
        let least = cost(sides);
        if least == u32::MAX {
            return None;
        }
        let [out, at, off, back] = sides;
        // A time that is only a bound, and could be the best, is found out.
        let there = loaded_between(field, [out, at], loaded[out][at], search);
        let home = empty_between(field, [off, back], empty[off][back], search);
        match (there, home) {
            (Some(there), Some(home)) if there.drive.ms == loaded[out][at].ms => {
                if home.drive.ms == empty[off][back].ms {
                    return Some(Pair { loaded: there, empty: home, cost: least, at_least: least });
                }
                empty[off][back] = Known { ms: home.drive.ms, exact: true };
            }
            (there, home) => {
                let found = |leg: Option<Between>| {
                    leg.map_or(CLOSED_LEG, |leg| Known { ms: leg.drive.ms, exact: true })
                };
                (loaded[out][at], empty[off][back]) = (found(there), found(home));
            }
        }
    }
}

/// Ends of which one side alone may be used.
fn only(stands: [Stand; 2], side: usize) -> [End; 2] {
    [0, 1].map(|i| End { stand: stands[i], extra: if i == side { 0 } else { u32::MAX } })
}

/// What comes after the tree of one side; the other one does not count.
fn beside(ms: u32, side: usize) -> [u32; 2] {
    [0, 1].map(|i| if i == side { ms } else { u32::MAX })
}

fn bound(known: Known) -> u32 {
    if known.exact { known.ms } else { u32::MAX / 4 }
}

fn loaded_between(
    field: &PairField,
    sides: [usize; 2],
    known: Known,
    search: &mut Guided,
) -> Option<Between> {
    let (fill, dump, full) = (field.fill.stands(), field.dump.stands(), field.graphs.full);
    let part = full.part_ms(dump[sides[1]].arc, dump[sides[1]].fraction);
    search.forward_between(
        full,
        [&only(fill, sides[0]), &only(dump, sides[1])],
        bound(known),
        |_| 0,
        Rest { trees: field.to_dump, more: beside(part, sides[1]) },
        |_, _| 0,
    )
}

fn empty_between(field: &PairField, sides: [usize; 2], known: Known, search: &mut Guided) -> Option<Between> {
    let (fill, dump, bare) = (field.fill.stands(), field.dump.stands(), field.graphs.empty);
    let ahead = bare.rest_ms(dump[sides[0]].arc, dump[sides[0]].fraction);
    search.backward_between(
        bare,
        [&only(dump, sides[0]), &only(fill, sides[1])],
        bound(known),
        |_| 0,
        Rest { trees: field.from_dump, more: beside(ahead, sides[0]) },
        |_, _| 0,
    )
}

/// The least driving of each leg by the sides it starts and ends on: loaded by side of fill and dump
/// site, empty by side of dump and fill site.
pub(super) fn least(field: &PairField) -> [[[u32; 2]; 2]; 2] {
    times(field).map(|leg| leg.map(|from| from.map(|known| known.ms)))
}
