//! Road in pieces that a leg drives whole or not at all, so that two legs can be laid over each other.
//!
//! A piece is a segment, or a part of the segment on which the fill or the dump site lies. A use is a
//! piece in a direction. Legs are compared from the loaded leg's side: the loaded leg has the uses it
//! drives, the empty leg those it drives against. A use both have is road on which tankers meet.

use crate::roads::network::{Arc, Network};
use crate::routing::search::Stand;
use crate::routing::snap::Spot;

/// A piece in a direction, or the turn at a site. An index, below [`Pieces::count`].
pub type Use = u32;

/// Which site a turn is made at.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Site {
    Fill,
    Dump,
}

#[derive(Debug)]
struct Split {
    segment: usize,
    /// From 0 to 1, rising.
    bounds: Vec<f64>,
    /// Index of its first piece.
    first: u32,
}

#[derive(Debug)]
pub struct Pieces {
    splits: Vec<Split>,
    pieces: u32,
}

/// Closer than this share of a segment two bounds are one.
const SAME: f64 = 1e-9;

impl Pieces {
    pub fn new(network: &Network, fill: &Spot, dump: &Spot) -> Pieces {
        let mut splits: Vec<Split> = Vec::new();
        for spot in [fill, dump] {
            match splits.iter_mut().find(|s| s.segment == spot.segment) {
                Some(split) => split.bounds.push(spot.fraction),
                None => splits.push(Split {
                    segment: spot.segment,
                    bounds: vec![0.0, 1.0, spot.fraction],
                    first: 0,
                }),
            }
        }
        let mut pieces = network.segments.len() as u32;
        for split in &mut splits {
            split.bounds.sort_by(f64::total_cmp);
            split.bounds.dedup_by(|a, b| (*a - *b).abs() < SAME);
            split.first = pieces;
            pieces += split.bounds.len() as u32 - 1;
        }
        Pieces { splits, pieces }
    }

    /// Number of uses, the four turns included.
    pub fn count(&self) -> usize {
        self.pieces as usize * 2 + 4
    }

    /// Uses of a stretch of an arc.
    pub fn on(&self, arc: Arc, from: f64, to: f64) -> impl Iterator<Item = Use> + '_ {
        let split = self.splits.iter().find(|s| s.segment == arc.segment());
        let whole = split.is_none().then_some(arc.0);
        let (low, high) = if arc.forward() { (from, to) } else { (1.0 - to, 1.0 - from) };
        let parts = split.into_iter().flat_map(move |split| {
            split.bounds.windows(2).enumerate().filter_map(move |(i, part)| {
                let middle = (part[0] + part[1]) / 2.0;
                (low < middle && middle < high).then_some((split.first + i as u32) << 1 | (arc.0 & 1))
            })
        });
        whole.into_iter().chain(parts)
    }

    /// The segment of a use, the direction, and the share of it that the use covers; none for a turn.
    pub fn road(&self, of: Use) -> Option<(Arc, f64)> {
        if of >= self.pieces * 2 {
            return None;
        }
        let piece = of >> 1;
        let split =
            self.splits.iter().find(|s| (s.first..s.first + s.bounds.len() as u32 - 1).contains(&piece));
        Some(match split {
            None => (Arc(of), 1.0),
            Some(split) => {
                let i = (piece - split.first) as usize;
                (Arc::new(split.segment, of & 1 == 0), split.bounds[i + 1] - split.bounds[i])
            }
        })
    }

    /// The turn at a site that is made where the loaded leg has this side (of `Spot::stands`) and the
    /// empty leg the other.
    pub fn turn(&self, site: Site, loaded_side: usize) -> Use {
        self.pieces * 2 + 2 * u32::from(site == Site::Dump) + loaded_side as u32
    }

    /// Uses of the part of a stand's arc before it or after it.
    pub fn part(&self, stand: Stand, after: bool) -> impl Iterator<Item = Use> + '_ {
        let (from, to) = if after { (stand.fraction, 1.0) } else { (0.0, stand.fraction) };
        self.on(stand.arc, from, to)
    }
}

pub fn sorted(uses: impl Iterator<Item = Use>) -> Vec<Use> {
    let mut uses: Vec<Use> = uses.collect();
    uses.sort_unstable();
    uses.dedup();
    uses
}

/// What two sorted lists have in common.
pub fn common<'u>(a: &'u [Use], b: &'u [Use]) -> impl Iterator<Item = Use> + 'u {
    let mut rest = b;
    a.iter().copied().filter(move |of| {
        let skip = rest.partition_point(|other| other < of);
        rest = &rest[skip..];
        rest.first() == Some(of)
    })
}
