//! Loops: a loaded leg and an empty leg that meet at both ends, with the turnarounds they need, and
//! what two-way traffic they cause.

use crate::roads::network::{Arc, Network};
use crate::routing::graph::RoadGraph;
use crate::routing::path::{part_length, stretches};
use crate::routing::search::{Drive, Search, Stand, Until};
use crate::routing::snap::Spot;
use crate::routing::speed::{Room, SpeedTable};
use crate::routing::topology::millis;
use crate::units::{Metres, Seconds};
use serde::Serialize;
use std::collections::HashMap;

#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum LoopKind {
    /// Each leg the quickest.
    Quickest,
    /// The least narrow, then the least other road shared by both legs, within a longer time.
    LeastOpposing,
}

impl LoopKind {
    pub fn as_str(self) -> &'static str {
        match self {
            LoopKind::Quickest => "quickest",
            LoopKind::LeastOpposing => "least_opposing",
        }
    }
}

/// A closed walk: fill site, loaded leg, dump site, empty leg, fill site.
#[derive(Clone, Debug, PartialEq)]
pub struct Loop {
    pub kind: LoopKind,
    pub loaded: Drive,
    pub empty: Drive,
    /// The truck leaves the site the way it came: it turns there.
    pub turns_at_dump: bool,
    pub turns_at_fill: bool,
    pub opposing: Opposing,
}

/// Road on which loaded and empty tankers meet.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Opposing {
    /// Driven in both directions.
    pub shared: Metres,
    /// Of that, too narrow to pass.
    pub narrow: Metres,
    /// Of that, with neither width nor lanes mapped.
    pub unknown: Metres,
    /// Unbroken narrow stretches driven both ways: milliseconds loaded and empty.
    pub stretches: Vec<(u32, u32)>,
}

/// The two graphs of one vehicle class and the speed table they were made with.
pub struct ClassGraphs<'g, 'n> {
    pub full: &'g RoadGraph<'n>,
    pub empty: &'g RoadGraph<'n>,
    pub table: &'g SpeedTable,
}

/// A loop longer than this times the quickest is no alternative.
const LONGEST_ALTERNATIVE: f64 = 1.6;
/// What a metre of opposing traffic is worth in the search, as a share of its own driving time:
/// enough to prefer another road of half again the time, and of several times that where it is narrow.
const AVERSION_WIDE: f64 = 0.5;
const AVERSION_UNKNOWN: f64 = 1.5;
const AVERSION_NARROW: f64 = 4.0;

impl Loop {
    /// Total driving, turning at the sites included.
    pub fn drive_ms(&self, table: &SpeedTable) -> u32 {
        let turn = millis(table.delay.site_turnaround);
        self.loaded.ms
            + self.empty.ms
            + turn * (u32::from(self.turns_at_dump) + u32::from(self.turns_at_fill))
    }

    /// Waiting per cycle where `tankers` share this loop: each stretch is met (n−1)·(t₁+t₂)/cycle
    /// times, and each meeting costs half the mean time to drive the stretch.
    pub fn meeting_wait(&self, tankers: usize, cycle: Seconds) -> Seconds {
        let others = tankers.saturating_sub(1) as f64;
        let wait = self.opposing.stretches.iter().map(|(loaded, empty)| {
            let both_s = f64::from(loaded + empty) / 1000.0;
            others * both_s / cycle.0.max(1.0) * both_s / 4.0
        });
        Seconds(wait.sum())
    }
}

/// Quickest drive between two stands, with a preference.
fn drive(
    search: &mut Search,
    graph: &RoadGraph,
    from: Stand,
    to: Stand,
    extra: impl Fn(Arc) -> u32,
) -> Option<Drive> {
    search.forward(graph, from, u32::MAX - 1, extra, Until::Settled(&[to.arc]));
    search.drive_to(graph, from, to)
}

/// The loop whose legs start and end as named: loaded from `out` to `in_`, empty from there on.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Ends {
    /// Leaving the fill site loaded.
    pub fill_out: Stand,
    /// Reaching the dump site loaded.
    pub dump_in: Stand,
    /// Leaving the dump site empty.
    pub dump_out: Stand,
    /// Reaching the fill site empty.
    pub fill_in: Stand,
}

impl Ends {
    fn build(&self, graphs: &ClassGraphs, kind: LoopKind, loaded: Drive, empty: Drive) -> Loop {
        let opposing = opposing(graphs, &loaded, &empty);
        Loop {
            kind,
            turns_at_dump: self.dump_in.arc != self.dump_out.arc,
            turns_at_fill: self.fill_in.arc != self.fill_out.arc,
            loaded,
            empty,
            opposing,
        }
    }
}

/// The loop made of the quickest legs between these ends.
pub fn quickest(graphs: &ClassGraphs, ends: &Ends) -> Option<Loop> {
    let mut search = Search::new();
    let loaded = drive(&mut search, graphs.full, ends.fill_out, ends.dump_in, |_| 0)?;
    let empty = drive(&mut search, graphs.empty, ends.dump_out, ends.fill_in, |_| 0)?;
    Some(ends.build(graphs, LoopKind::Quickest, loaded, empty))
}

/// A loop with less opposing traffic than the quickest, if there is one: first the empty leg gives
/// way, then the loaded one; the better of the two is taken.
pub fn least_opposing(graphs: &ClassGraphs, quickest: &Loop, fill: &Spot, dump: &Spot) -> Option<Loop> {
    let limit = f64::from(quickest.drive_ms(graphs.table)) * LONGEST_ALTERNATIVE;
    let mut found: Vec<Loop> = Vec::new();
    let yielding_empty = yield_leg(graphs, &quickest.loaded, true, limit as u32, fill, dump);
    found.extend(yielding_empty.clone());
    if let Some(loop_) = yielding_empty {
        found.extend(yield_leg(graphs, &loop_.empty, false, limit as u32, fill, dump));
    }
    found.extend(yield_leg(graphs, &quickest.empty, false, limit as u32, fill, dump));
    let rank = |l: &Loop| {
        let metres = |m: Metres| m.0.round() as u64;
        (metres(l.opposing.narrow), metres(l.opposing.shared), l.drive_ms(graphs.table))
    };
    let base = rank(quickest);
    found
        .into_iter()
        .filter(|l| f64::from(l.drive_ms(graphs.table)) <= limit)
        .filter(|l| {
            let own = rank(l);
            (own.0, own.1) < (base.0, base.1)
        })
        .min_by_key(rank)
}

/// Keeps one leg and finds the other anew, away from it. `keep_loaded` says which is kept.
fn yield_leg(
    graphs: &ClassGraphs,
    kept: &Drive,
    keep_loaded: bool,
    longest: u32,
    fill: &Spot,
    dump: &Spot,
) -> Option<Loop> {
    let graph = if keep_loaded { graphs.empty } else { graphs.full };
    let network = graph.network;
    // A dense table: the search asks for it at every turn it looks at.
    let mut aversion = vec![0u32; network.arc_count()];
    for arc in &kept.arcs {
        let share = match graphs.table.room(&network.way(*arc).tags) {
            Room::Passes => AVERSION_WIDE,
            Room::Unknown => AVERSION_UNKNOWN,
            Room::Narrow => AVERSION_NARROW,
        };
        let against = arc.reversed();
        if graph.is_open(against) {
            aversion[against.index()] = (f64::from(graph.ms(against)) * share) as u32;
        }
    }
    let extra = |arc: Arc| aversion[arc.index()];
    let turn = millis(graphs.table.delay.site_turnaround);
    let turning = |a: Stand, b: Stand| if a.arc == b.arc { 0 } else { turn };
    let (from_spot, to_spot) = if keep_loaded { (dump, fill) } else { (fill, dump) };
    // Beyond this even a leg without any aversion would make the loop too long.
    let bound = (f64::from(longest) * (1.0 + AVERSION_NARROW)) as u32;
    let mut search = Search::new();
    let mut best: Option<(u64, Drive)> = None;
    for from in from_spot.stands() {
        let wanted: Vec<Arc> = to_spot.stands().iter().map(|s| s.arc).filter(|a| graph.is_open(*a)).collect();
        search.forward(graph, from, bound, extra, Until::Settled(&wanted));
        for to in to_spot.stands() {
            let Some(found) = search.drive_to(graph, from, to) else { continue };
            // The kept leg ends where this one starts, and starts where this one ends.
            let turns = turning(kept.goal(), from) + turning(to, kept.origin());
            let cost = u64::from(found.ms)
                + u64::from(turns)
                + found.arcs.iter().map(|a| u64::from(extra(*a))).sum::<u64>();
            if best.as_ref().is_none_or(|(least, _)| cost < *least) {
                best = Some((cost, found));
            }
        }
    }
    let (_, other) = best?;
    let (loaded, empty) = if keep_loaded { (kept.clone(), other) } else { (other, kept.clone()) };
    let ends = Ends {
        fill_out: loaded.origin(),
        dump_in: loaded.goal(),
        dump_out: empty.origin(),
        fill_in: empty.goal(),
    };
    Some(ends.build(graphs, LoopKind::LeastOpposing, loaded, empty))
}

/// Where the two legs drive the same road in opposite directions.
fn opposing(graphs: &ClassGraphs, loaded: &Drive, empty: &Drive) -> Opposing {
    let network: &Network = graphs.full.network;
    let mut back: HashMap<Arc, Vec<(f64, f64)>> = HashMap::new();
    for (arc, from, to) in stretches(empty) {
        back.entry(arc).or_default().push((from, to));
    }
    let mut found = Opposing::default();
    let mut run: Option<(u32, u32)> = None;
    for (arc, from, to) in stretches(loaded) {
        let against = arc.reversed();
        // The same stretch, counted from the other end.
        let overlaps = back.get(&against).into_iter().flatten().map(|(f, t)| {
            let (low, high) = ((1.0 - t).max(from), (1.0 - f).min(to));
            (low, high.max(low))
        });
        let mut narrow_here = false;
        for (low, high) in overlaps {
            let metres = part_length(network, arc, low, high);
            found.shared = found.shared + metres;
            match graphs.table.room(&network.way(arc).tags) {
                Room::Passes => {}
                Room::Unknown => found.unknown = found.unknown + metres,
                Room::Narrow if metres.0 > 0.0 => {
                    narrow_here = true;
                    found.narrow = found.narrow + metres;
                    let ms = |graph: &RoadGraph, arc: Arc, low: f64, high: f64| {
                        graph.part_ms(arc, high) - graph.part_ms(arc, low)
                    };
                    let (l, e) = run.unwrap_or_default();
                    run = Some((
                        l + ms(graphs.full, arc, low, high),
                        e + ms(graphs.empty, against, 1.0 - high, 1.0 - low),
                    ));
                }
                Room::Narrow => {}
            }
        }
        if !narrow_here && let Some(stretch) = run.take() {
            found.stretches.push(stretch);
        }
    }
    found.stretches.extend(run);
    found
}
