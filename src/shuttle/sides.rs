//! What the sides on which legs come to the sites and leave them tell before any search: a leg that
//! leaves by the road the other one comes by shares it, however it goes on.

use crate::routing::search::Stand;
use crate::shuttle::pair::{NEVER, PairField};
use crate::shuttle::pieces::{Pieces, Site, Use};
use crate::shuttle::quick;

/// Sides of the sites: of the loaded leg at fill and dump site, of the empty leg at dump and fill site.
type Sides = [usize; 4];

/// What a pair with these sides costs at least: the driving of each leg, and the road beside a site
/// where the one leaves by it and the other comes by it.
pub(super) struct SidePair {
    sides: Sides,
    loaded: u32,
    empty: u32,
    at_least: u32,
}

impl SidePair {
    pub fn all(field: &PairField, pieces: &Pieces, weight: &dyn Fn(Use) -> u32) -> Vec<SidePair> {
        let [loaded, empty] = quick::least(field);
        let sum =
            |uses: &mut dyn Iterator<Item = Use>| uses.fold(0u32, |sum, of| sum.saturating_add(weight(of)));
        // On one road a leg need not drive to its end.
        let apart = field.fill.segment != field.dump.segment;
        let beside = |site: Site, stands: [Stand; 2], side: usize, after: bool| {
            let road = if apart { sum(&mut pieces.part(stands[side], after)) } else { 0 };
            road.saturating_add(weight(pieces.turn(site, side)))
        };
        let at_fill = [0, 1].map(|side| beside(Site::Fill, field.fill.stands(), side, true));
        let at_dump = [0, 1].map(|side| beside(Site::Dump, field.dump.stands(), side, false));
        let all = (0..16).map(|n: usize| [n >> 3 & 1, n >> 2 & 1, n >> 1 & 1, n & 1]);
        let pair = |sides: Sides| {
            let [out, at, off, back] = sides;
            let (loaded, empty) = (loaded[out][at], empty[off][back]);
            let fill = if out == back { 0 } else { at_fill[out] };
            let dump = if at == off { 0 } else { at_dump[at] };
            let at_least = loaded.saturating_add(empty).saturating_add(fill).saturating_add(dump);
            SidePair { sides, loaded, empty, at_least }
        };
        all.map(pair).collect()
    }
}

/// What pairs below the ceiling may still have: sides, as in [`Sides`], and the least driving of each
/// leg, in milliseconds.
#[derive(Default)]
pub(super) struct Open {
    sides: [[bool; 2]; 4],
    pub least: [u32; 2],
}

impl Open {
    pub fn below(ceiling: u32, pairs: &[SidePair]) -> Open {
        let mut open = Open { sides: [[false; 2]; 4], least: [NEVER; 2] };
        for pair in pairs.iter().filter(|pair| pair.at_least < ceiling) {
            for (which, side) in pair.sides.iter().enumerate() {
                open.sides[which][*side] = true;
            }
            open.least = [open.least[0].min(pair.loaded), open.least[1].min(pair.empty)];
        }
        open
    }

    /// Milliseconds where a side may be used, `NEVER` where not.
    pub fn or_never(&self, which: usize, side: usize, ms: u32) -> u32 {
        if self.sides[which][side] { ms } else { NEVER }
    }
}
