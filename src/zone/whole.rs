//! Times of all sites to every row of a block, swept on a hierarchy instead of searched one by one. Without gaps, so
//! that what the sites yield at most is worked out for all of them side by side.

use super::legs::NONE;
use super::pool::{Lent, Pool};
use super::slots::{FURTHER, Slots};
use super::sweeps::{Climbs, Sweeps, WAYS, graph};
use super::times::Ms;
use crate::plan::ground::Ground;
use crate::roads::network::Arc;
use crate::routing::graph::RoadGraph;
use crate::routing::hierarchy::Hierarchy;
use crate::routing::hierarchy::costs::{LONGEST_MS, Way};
use crate::routing::hierarchy::sweep::{Climb, LANES, Lanes};
use crate::routing::search::{Drive, Stand};
use crate::routing::snap::Spot;
use multiversion::multiversion;

/// Sites swept together, with both their sides.
pub const TOGETHER: usize = LANES / 2;
/// Bytes that a block's times may take: each thread has a block.
const MOST_BYTES: usize = 4 << 20;
/// Rows for which a sweep is worth its beginning.
const LEAST_ROWS: usize = 256;

/// Milliseconds, infinite where there is no way.
pub struct Whole<'p> {
    /// Sets of sites that are swept together.
    batches: usize,
    /// Sweeps.
    width: usize,
    /// Its `times` are by row, then class and leg, then batch, then direction; of each by side and site of the batch.
    /// What is asked of a row lies together.
    lent: Lent<'p>,
}

/// What is swept for.
pub struct Sought<'s> {
    pub ground: &'s Ground<'s>,
    pub sweeps: &'s Sweeps,
    pub climbs: &'s Climbs,
    pub block: &'s Slots,
    /// By row.
    pub segments: &'s [usize],
    /// By index into the ground's, with their places.
    pub sites: &'s [usize],
    pub fills: &'s [Spot],
    pub longest_ms: u32,
}

/// Rows that may be worked at once with so many sites; none where even few would take too much.
pub fn rows_at_once(sites: usize, classes: usize) -> Option<usize> {
    let bytes_a_row = sites.div_ceil(TOGETHER).max(1) * classes * 4 * size_of::<Lanes>();
    let rows = MOST_BYTES / bytes_a_row;
    (rows * 4 >= LEAST_ROWS).then_some(rows.max(LEAST_ROWS))
}

impl<'p> Whole<'p> {
    pub fn sweep(sought: &Sought, pool: &'p Pool) -> Option<Whole<'p>> {
        let Sought { ground, block, .. } = sought;
        let hierarchy = ground.roads.topology.hierarchy()?;
        let seats = ground.roads.topology.seats(&ground.roads.network);
        let ranks: Vec<(u32, u32)> = block
            .seats
            .iter()
            .map(|seat| (block.of[*seat as usize], hierarchy.rank(seats.state_in(*seat))))
            .collect();
        let above = hierarchy.above(ranks.iter().map(|(_, rank)| *rank));
        let batches = sought.sites.len().div_ceil(TOGETHER);
        let width = ground.classes.len() * 2 * batches;
        let slots = sought.segments.len() * 2;
        let mut whole = Whole { batches, width, lent: pool.take() };
        whole.lent.times.resize(slots * width, Lanes::NOWHERE);
        for class in 0..ground.classes.len() {
            for (leg, way) in WAYS.iter().enumerate() {
                // What is farther than a leg may be is not known to any search: loaded, of where an arc begins.
                let graph = graph(&ground.classes[class], leg);
                let arc_ms: Vec<f32> = match way {
                    Way::From => ranks.iter().map(|(slot, _)| sought.arc_ms(graph, *slot)).collect(),
                    Way::To => vec![0.0; ranks.len()],
                };
                for batch in 0..batches {
                    sought.one(hierarchy, (&ranks, &arc_ms, &above), (class, leg, batch), &mut whole);
                }
            }
        }
        Some(whole)
    }

    #[inline]
    fn at(&self, slot: usize, class: usize, leg: usize, batch: usize) -> usize {
        place(slot, self.width, (class * 2 + leg) * self.batches + batch)
    }

    /// By side of the site and direction of the row.
    pub fn ms(&self, site: usize, class: usize, leg: usize, row: usize) -> Ms {
        let of = |side: usize, direction: usize| {
            let times = &self.lent.times[self.at(2 * row + direction, class, leg, site / TOGETHER)];
            match times.0[side * TOGETHER + site % TOGETHER] {
                ms if ms < LONGEST_MS => ms as u32,
                _ => NONE,
            }
        };
        [of(0, 0), of(0, 1), of(1, 0), of(1, 1)]
    }

    /// Least milliseconds of a leg of each site, whatever turns it needs: `rest_ms` by direction are taken off loaded
    /// legs and added to empty ones. Padded to whole batches.
    pub fn least(&self, class: usize, leg: usize, row: usize, rest_ms: [u32; 2], least: &mut Vec<f32>) {
        let first = self.at(2 * row, class, leg, 0);
        let rest_ms = rest_ms.map(|ms| match ms {
            NONE => f32::INFINITY,
            ms if leg == 0 => -(ms as f32),
            ms => ms as f32,
        });
        least.clear();
        least.resize(self.batches * TOGETHER, f32::INFINITY);
        least_of(&self.lent.times[first..first + 2 * self.batches], rest_ms, least);
    }
}

/// Of both directions and sides.
#[multiversion(targets("x86_64+avx512f", "x86_64+avx2"))]
fn least_of(times: &[Lanes], rest_ms: [f32; 2], least: &mut [f32]) {
    for (both, least) in times.chunks_exact(2).zip(least.chunks_exact_mut(TOGETHER)) {
        let (mut of_sides, other) = (both[0].0, &both[1].0);
        for lane in 0..LANES {
            let (one, other) = (of_sides[lane] + rest_ms[0], other[lane] + rest_ms[1]);
            of_sides[lane] = if one < other { one } else { other };
        }
        let (one, other) = of_sides.split_at(TOGETHER);
        for ((least, one), other) in least.iter_mut().zip(one).zip(other) {
            let of_both = if one < other { *one } else { *other };
            *least = if of_both > 0.0 { of_both } else { 0.0 };
        }
    }
}

/// What is within reach of a slot's rank, by the slots of a sweep.
#[multiversion(targets("x86_64+avx512f", "x86_64+avx2"))]
fn hand_out(
    found: &[Lanes],
    (ranks, arc_ms, reach): (&[(u32, u32)], &[f32], &Lanes),
    leg: usize,
    (width, sweep): (usize, usize),
    times: &mut [Lanes],
) {
    for ((slot, rank), arc_ms) in ranks.iter().zip(arc_ms) {
        // Nothing is remembered where a drive begins.
        if leg == 1 && slot & FURTHER != 0 {
            continue;
        }
        let mut within = found[*rank as usize];
        for (ms, reach) in within.0.iter_mut().zip(&reach.0) {
            *ms = if *ms <= reach + arc_ms { *ms } else { f32::INFINITY };
        }
        let times = &mut times[place((slot & !FURTHER) as usize, width, sweep)];
        if slot & FURTHER != 0 {
            // States of arcs come before further ones, so that what is known is of this sweep.
            for (ms, known) in within.0.iter_mut().zip(&times.0) {
                *ms = if known < ms { *known } else { *ms };
            }
        }
        *times = within;
    }
}

/// Where the times of a slot lie.
#[inline]
fn place(slot: usize, width: usize, sweep: usize) -> usize {
    (slot / 2 * width + sweep) * 2 + slot % 2
}

impl Sought<'_> {
    /// Both sides of a few sites, one class and leg.
    fn one(
        &self,
        hierarchy: &Hierarchy,
        (ranks, arc_ms, above): (&[(u32, u32)], &[f32], &[u32]),
        (class, leg, batch): (usize, usize, usize),
        whole: &mut Whole,
    ) {
        let graph = graph(&self.ground.classes[class], leg);
        let sweep = (class * 2 + leg) * whole.batches + batch;
        let here = batch * TOGETHER..self.sites.len().min((batch + 1) * TOGETHER);
        let nothing = Climb::new();
        let mut climbs: [&Climb; LANES] = [&nothing; LANES];
        let mut reach = Lanes([0.0; LANES]);
        for (place, site) in here.clone().enumerate() {
            let Some(both) = self.climbs.around(class, leg, self.sites[site]) else { continue };
            for (side, stand) in self.fills[site].stands().into_iter().enumerate() {
                let lane = side * TOGETHER + place;
                climbs[lane] = &both[side];
                let rest_ms = if leg == 0 && graph.is_open(stand.arc) {
                    graph.rest_ms(stand.arc, stand.fraction)
                } else {
                    0
                };
                reach.0[lane] = self.longest_ms.saturating_add(rest_ms) as f32;
            }
        }
        whole.lent.sweeper.sweep(hierarchy, self.sweeps.costs(class, leg), above, &climbs);
        let tools = &mut *whole.lent;
        hand_out(tools.sweeper.ms(), (ranks, arc_ms, &reach), leg, (whole.width, sweep), &mut tools.times);
        for (place, site) in here.enumerate() {
            for (side, stand) in self.fills[site].stands().into_iter().enumerate() {
                if let Some((slot, ms)) = self.along(graph, leg, stand) {
                    let at = whole.at(slot as usize, class, leg, batch);
                    let known = &mut whole.lent.times[at].0[side * TOGETHER + place];
                    *known = known.min(ms as f32);
                }
            }
        }
    }

    /// Of the arc of a slot.
    fn arc_ms(&self, graph: &RoadGraph, slot: u32) -> f32 {
        let slot = (slot & !FURTHER) as usize;
        let arc = Arc::new(self.segments[slot / 2], slot.is_multiple_of(2));
        if graph.is_open(arc) { graph.ms(arc) as f32 } else { 0.0 }
    }

    /// A drive along the site's own arc, to or from its end.
    fn along(&self, graph: &RoadGraph, leg: usize, stand: Stand) -> Option<(u32, u32)> {
        let seats = graph.seats();
        let ms = if leg == 0 {
            Drive::along_ms(graph, stand, Stand { arc: stand.arc, fraction: 0.0 })? + graph.ms(stand.arc)
        } else {
            Drive::along_ms(graph, Stand { arc: stand.arc, fraction: 1.0 }, stand)?
        };
        Some(self.block.of[seats.seat_of(stand.arc) as usize])
            .filter(|slot| *slot != NONE)
            .map(|slot| (slot, ms))
    }
}
