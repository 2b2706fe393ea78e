//! Gaps: stretches below the needed flow that hang together on the road, as areas.

use super::Zone;
use super::outline;
use super::stretches::Lines;
use crate::place::Place;
use std::collections::HashMap;
use std::num::NonZeroU32;

/// Road below the needed flow, in one piece.
#[derive(Clone, Debug)]
pub struct Gap {
    /// Indices into the zone's stretches, ascending.
    pub stretches: Vec<usize>,
    pub road_m: f64,
    /// Least and greatest ceiling.
    pub least_gpm: f64,
    pub most_gpm: f64,
    /// Flow missing, summed over the road: gpm · km.
    pub missing_gpm_km: f64,
}

/// All gaps by the ceilings of the stretches, the one with most missing first.
pub fn find(zone: &Zone, ceiling_gpm: &[f64]) -> Vec<Gap> {
    let network = &zone.ground.roads.network;
    let need = zone.problem.need.0;
    let short: Vec<usize> = (0..ceiling_gpm.len()).filter(|i| ceiling_gpm[*i] < need).collect();
    let mut joined = petgraph::unionfind::UnionFind::<usize>::new(short.len());
    // By junction: one of the stretches that end there.
    let mut at_junction: Vec<Option<NonZeroU32>> = vec![None; network.junctions.len()];
    for (place, index) in short.iter().enumerate() {
        let stretch = &zone.stretches[*index];
        let segment = &network.segments[stretch.segment()];
        let ends = [(stretch.from() <= 0.0, segment.from), (stretch.to() >= 1.0, segment.to)];
        for (_, junction) in ends.iter().filter(|(at_end, _)| *at_end) {
            let known = &mut at_junction[*junction as usize];
            match known {
                Some(known) => {
                    joined.union(known.get() as usize - 1, place);
                }
                None => *known = NonZeroU32::new(place as u32 + 1),
            }
        }
        // Stretches of a segment follow each other.
        let before = place.checked_sub(1).map(|before| &zone.stretches[short[before]]);
        if before.is_some_and(|b| b.segment() == stretch.segment() && b.to() == stretch.from()) {
            joined.union(place - 1, place);
        }
    }
    let mut by_root: HashMap<usize, Gap> = HashMap::new();
    for (place, index) in short.iter().enumerate() {
        let metres = zone.stretches[*index].length(network).0;
        let gpm = ceiling_gpm[*index];
        let gap = by_root.entry(joined.find(place)).or_insert_with(|| Gap {
            stretches: Vec::new(),
            road_m: 0.0,
            least_gpm: f64::INFINITY,
            most_gpm: 0.0,
            missing_gpm_km: 0.0,
        });
        gap.stretches.push(*index);
        gap.road_m += metres;
        gap.least_gpm = gap.least_gpm.min(gpm);
        gap.most_gpm = gap.most_gpm.max(gpm);
        gap.missing_gpm_km += (need - gpm) * metres / 1000.0;
    }
    let mut gaps: Vec<Gap> = by_root.into_values().collect();
    gaps.sort_by(|a, b| b.missing_gpm_km.total_cmp(&a.missing_gpm_km).then(a.stretches.cmp(&b.stretches)));
    gaps
}

impl Gap {
    /// Buildings that lie nearest to its stretches, of those counted by stretch.
    pub fn buildings(&self, by_stretch: &[u32]) -> u64 {
        self.stretches.iter().map(|i| u64::from(by_stretch[*i])).sum()
    }

    /// The road of the gap with some ground beside it: rings of each polygon, the outer one first.
    pub fn area(&self, zone: &Zone) -> Vec<Vec<Vec<Place>>> {
        outline::around(|| {
            let mut lines = Lines::on(&zone.ground.roads.network);
            self.stretches.iter().map(move |i| lines.of(&zone.stretches[*i]))
        })
    }
}
