//! Where tankers wait for a dump berth without blocking the loop.

use crate::place::Place;
use crate::roads::network::{Arc, Network};
use crate::roads::tags::RoadTags;
use crate::routing::Roads;
use crate::routing::bridge;
use crate::routing::path::{stretch_points, stretches};
use crate::routing::search::Drive;
use crate::routing::speed::Room;
use crate::units::Metres;

/// Farthest from the dump site at which waiting tankers are still at hand: a minute or two of driving
/// (common practice, no source).
pub const FARTHEST: Metres = Metres(1_000.0);
/// Between two waiting tankers, enough to pull out past the one in front (common practice, no source).
const GAP: Metres = Metres(3.0);

/// A stretch of the loaded leg on which tankers wait in line.
#[derive(Clone, Debug, PartialEq)]
pub struct Staging {
    /// The head of the line, the end nearer to the dump site.
    pub place: Place,
    pub road: String,
    /// Length of the stretch.
    pub room: Metres,
    /// Tankers that may wait there.
    pub tankers: usize,
    /// From the head of the line to the dump site, along the leg.
    pub before_dump: Metres,
}

/// Road that a line of tankers of these lengths takes up.
pub fn needed(lengths: impl Iterator<Item = Metres>) -> Metres {
    lengths.map(|length| length + GAP).sum()
}

/// The stretch of a loaded leg nearest before the dump site on which `needed` metres of tankers stand
/// while others get past them: room for two trucks, no junction and no bridge in it, and beyond the
/// tanks at the dump site, which take up the road `clear` before it.
pub fn find(roads: &Roads, drive: &Drive, tankers: usize, needed: Metres, clear: Metres) -> Option<Staging> {
    let network = &roads.network;
    let driven: Vec<(Arc, f64, f64)> = stretches(drive).collect();
    let mut before = 0.0;
    // The stretch under way: the arc, fraction and distance of its head, and its length.
    let mut open: Option<(Arc, f64, f64, f64)> = None;
    for (i, &(arc, from, to)) in driven.iter().enumerate().rev() {
        let tags = &network.way(arc).tags;
        let stands = roads.table.room(tags) == Room::Passes && !tags.roundabout && !on_bridge(tags);
        // Nobody stands across a side road, nor where the leg itself turns back.
        let parts = driven.get(i + 1).is_some_and(|(next, ..)| {
            roads.topology.arms(network.head(arc)) >= 3 || next.segment() == arc.segment()
        });
        if parts || !stands {
            open = None;
        }
        let whole = network.length(arc).0;
        let length = whole * (to - from);
        if stands {
            // The part of the arc that lies between the tanks and the farthest place.
            let skipped = (clear.0 - before).clamp(0.0, length);
            let taken = (FARTHEST.0 - before).clamp(0.0, length) - skipped;
            if taken > 0.0 {
                let head = to - skipped / whole.max(1e-9);
                let (at, fraction, distance, known) = open.unwrap_or((arc, head, before + skipped, 0.0));
                open = Some((at, fraction, distance, known + taken));
            }
        }
        before += length;
        if let Some((at, fraction, distance, room)) = open
            && room >= needed.0
        {
            return Some(Staging {
                place: stretch_points(network, at, fraction, 1.0)[0],
                road: road_of(network, at),
                room: Metres(room),
                tankers,
                before_dump: Metres(distance),
            });
        }
        if before >= FARTHEST.0 {
            return None;
        }
    }
    None
}

/// A line of full tankers is no load that anybody rated a bridge for.
fn on_bridge(tags: &RoadTags) -> bool {
    tags.bridge || bridge::weight(tags).is_some()
}

fn road_of(network: &Network, arc: Arc) -> String {
    super::explain::road_of(network, arc.segment())
}
