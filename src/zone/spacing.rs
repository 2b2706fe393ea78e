//! Places on the road that keep apart from each other, by the length of the road between them, whoever may drive it.

use crate::roads::network::Network;
use crate::routing::grouped::grouped;
use crate::units::Metres;
use std::cmp::Reverse;
use std::collections::{BinaryHeap, HashMap};

/// Places taken so far, and how far the junctions around are from the nearest of them.
pub struct Spacing<'n> {
    network: &'n Network,
    apart: Metres,
    /// By junction: where its segments begin in `touching`.
    start: Vec<u32>,
    touching: Vec<u32>,
    /// Metres from junctions to the nearest place taken, where that is within `apart`.
    near: HashMap<u32, f64>,
    /// By segment: fractions of the places taken.
    taken: HashMap<usize, Vec<f64>>,
}

impl<'n> Spacing<'n> {
    pub fn new(network: &'n Network, apart: Metres) -> Spacing<'n> {
        let ends = |segment: u32| {
            let ends = [network.segments[segment as usize].from, network.segments[segment as usize].to];
            ends.map(|junction| (junction as usize, segment))
        };
        let all = || (0..network.segments.len() as u32).flat_map(ends);
        let (start, touching) = grouped(network.junctions.len(), all);
        Spacing { network, apart, start, touching, near: HashMap::new(), taken: HashMap::new() }
    }

    /// Takes a place unless one taken before is closer along the road.
    pub fn takes(&mut self, segment: usize, fraction: f64) -> bool {
        let length = self.length(segment);
        let ends = self.ends(segment);
        let to_ends = [fraction * length, (1.0 - fraction) * length];
        let here = self.taken.get(&segment).into_iter().flatten();
        let beside = here.map(|other| (other - fraction).abs() * length);
        let round = ends.iter().zip(to_ends).filter_map(|(end, metres)| Some(self.near.get(end)? + metres));
        if beside.chain(round).any(|metres| metres < self.apart.0) {
            return false;
        }
        self.taken.entry(segment).or_default().push(fraction);
        let mut open = BinaryHeap::new();
        ends.into_iter().zip(to_ends).for_each(|(end, metres)| self.reach(&mut open, end, metres));
        while let Some(Reverse((_, junction))) = open.pop() {
            let Some(metres) = self.near.get(&junction).copied() else { continue };
            let [first, last] = [junction, junction + 1].map(|j| self.start[j as usize] as usize);
            for i in first..last {
                let segment = self.touching[i] as usize;
                let [from, to] = self.ends(segment);
                let other = if from == junction { to } else { from };
                self.reach(&mut open, other, metres + self.length(segment));
            }
        }
        true
    }

    fn reach(&mut self, open: &mut BinaryHeap<Reverse<(u64, u32)>>, junction: u32, metres: f64) {
        if metres < self.apart.0 && self.near.get(&junction).is_none_or(|known| metres < *known) {
            self.near.insert(junction, metres);
            // Millimetres order the queue; the length itself is not rounded.
            open.push(Reverse(((metres * 1000.0) as u64, junction)));
        }
    }

    fn length(&self, segment: usize) -> f64 {
        f64::from(self.network.segments[segment].length_m)
    }

    fn ends(&self, segment: usize) -> [u32; 2] {
        let segment = &self.network.segments[segment];
        [segment.from, segment.to]
    }
}
