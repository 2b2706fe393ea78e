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

/// Sites swept together, with both their sides.
pub const TOGETHER: usize = LANES / 2;
/// Bytes that a block's times may take: each thread has a block.
const MOST_BYTES: usize = 8 << 20;
/// Rows for which a sweep is worth its beginning.
const LEAST_ROWS: usize = 512;

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
        whole.lent.times.resize(slots * width, [f32::INFINITY; LANES]);
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
        let sweep = (class * 2 + leg) * self.batches + batch;
        (slot / 2 * self.width + sweep) * 2 + slot % 2
    }

    /// By side of the site and direction of the row.
    pub fn ms(&self, site: usize, class: usize, leg: usize, row: usize) -> Ms {
        let of = |side: usize, direction: usize| {
            let times = &self.lent.times[self.at(2 * row + direction, class, leg, site / TOGETHER)];
            match times[side * TOGETHER + site % TOGETHER] {
                ms if ms < LONGEST_MS => ms as u32,
                _ => NONE,
            }
        };
        [of(0, 0), of(0, 1), of(1, 0), of(1, 1)]
    }

    /// Least milliseconds of a leg of each site, whatever turns it needs: `rest_ms` by direction are taken off loaded
    /// legs and added to empty ones. Padded to whole batches.
    pub fn least(&self, class: usize, leg: usize, row: usize, rest_ms: [u32; 2], least: &mut Vec<f32>) {
        least.clear();
        for batch in 0..self.batches {
            let mut both = [f32::INFINITY; LANES];
            for (direction, rest_ms) in rest_ms.into_iter().enumerate().filter(|(_, ms)| *ms != NONE) {
                let rest = if leg == 0 { -(rest_ms as f32) } else { rest_ms as f32 };
                let times = &self.lent.times[self.at(2 * row + direction, class, leg, batch)];
                for (both, ms) in both.iter_mut().zip(times) {
                    let ms = ms + rest;
                    *both = if ms < *both { ms } else { *both };
                }
            }
            least.extend((0..TOGETHER).map(|site| {
                let (one, other) = (both[site], both[site + TOGETHER]);
                let least = if one < other { one } else { other };
                least.max(0.0)
            }));
        }
    }
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
        let here = batch * TOGETHER..self.sites.len().min((batch + 1) * TOGETHER);
        let nothing = Climb::new();
        let mut climbs: [&Climb; LANES] = [&nothing; LANES];
        let mut reach = [0.0_f32; LANES];
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
                reach[lane] = self.longest_ms.saturating_add(rest_ms) as f32;
            }
        }
        whole.lent.sweeper.sweep(hierarchy, self.sweeps.costs(class, leg), above, &climbs);
        for ((slot, rank), arc_ms) in ranks.iter().zip(arc_ms) {
            // Nothing is remembered where a drive begins.
            if leg == 1 && slot & FURTHER != 0 {
                continue;
            }
            let at = whole.at((slot & !FURTHER) as usize, class, leg, batch);
            let found = whole.lent.sweeper.ms(*rank);
            let mut times = [f32::INFINITY; LANES];
            for lane in 0..LANES {
                if found[lane] <= reach[lane] + arc_ms {
                    times[lane] = found[lane];
                }
            }
            if slot & FURTHER != 0 {
                // States of arcs come before further ones, so that what is known is of this sweep.
                for (ms, known) in times.iter_mut().zip(&whole.lent.times[at]) {
                    *ms = if known < ms { *known } else { *ms };
                }
            }
            whole.lent.times[at] = times;
        }
        for (place, site) in here.enumerate() {
            for (side, stand) in self.fills[site].stands().into_iter().enumerate() {
                if let Some((slot, ms)) = self.along(graph, leg, stand) {
                    let at = whole.at(slot as usize, class, leg, batch);
                    let known = &mut whole.lent.times[at][side * TOGETHER + place];
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
