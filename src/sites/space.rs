//! Room at a dump site: roadside for the portable tanks, and one lane left clear beside them.

use crate::place::Place;
use crate::roads::network::{Arc, Network};
use crate::routing::path::stretch_points;
use crate::routing::snap::Spot;
use crate::units::{Feet, Gallons, Metres};

/// Depth of water in a frame tank when full (common practice, no source: frames stand 29 to 30 in high).
const TANK_DEPTH: Feet = Feet(29.0 / 12.0);
/// Between two tanks, for the crew and the suctions (common practice, no source).
const TANK_GAP: Feet = Feet(2.0);
/// A lane beside the tanks on which the next tanker passes (common practice, no source: a traffic lane;
/// trade lore asks for one lane clear and gives no width).
pub const CLEAR_LANE: Feet = Feet(12.0);
/// A road that turns by more than this off its direction at the spot is not straight any more: tanks in
/// a row, and drivers who back or pass, need to see along it (common practice, no source).
const STRAIGHT_DEG: f64 = 20.0;
/// Longest road looked along: no rig fills it.
const FARTHEST: Metres = Metres(300.0);

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Verdict {
    Ok,
    Short,
    /// The length would do; the width is not mapped.
    Unknown,
}

impl Verdict {
    pub fn as_str(self) -> &'static str {
        match self {
            Verdict::Ok => "ok",
            Verdict::Short => "short",
            Verdict::Unknown => "unknown",
        }
    }
}

/// What the tanks need at a dump site, and what is mapped there.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Space {
    /// All tanks in a row along the road; the pumper stands at its end, or off the road.
    pub tank_row: Metres,
    /// Straight road about the spot.
    pub straight: Metres,
    /// The largest tank and a clear lane.
    pub width_needed: Metres,
    pub road_width: Option<Metres>,
}

impl Space {
    /// At a spot, `joined` telling the one arc that goes on where an arc ends without a junction.
    pub fn at(
        network: &Network,
        spot: &Spot,
        tanks: &[Gallons],
        joined: &dyn Fn(Arc) -> Option<Arc>,
    ) -> Space {
        let widest = tanks.iter().map(|tank| tank_side(*tank).0).fold(0.0, f64::max);
        Space {
            tank_row: tank_row(tanks),
            straight: straight(network, spot, joined),
            width_needed: Metres(widest) + CLEAR_LANE.metres(),
            road_width: network.ways[network.segments[spot.segment].way as usize].tags.width,
        }
    }

    pub fn verdict(&self) -> Verdict {
        match self.road_width {
            _ if self.straight.0 < self.tank_row.0 => Verdict::Short,
            Some(width) if width.0 < self.width_needed.0 => Verdict::Short,
            Some(_) => Verdict::Ok,
            None => Verdict::Unknown,
        }
    }
}

/// Roadside that tanks in a row take.
pub fn tank_row(tanks: &[Gallons]) -> Metres {
    let gaps = TANK_GAP.metres().0 * tanks.len().saturating_sub(1) as f64;
    Metres(tanks.iter().map(|tank| tank_side(*tank).0).sum::<f64>() + gaps)
}

/// Side of a square frame tank of a nominal volume.
pub fn tank_side(volume: Gallons) -> Metres {
    Feet((volume.cubic_feet().get() / TANK_DEPTH.0).max(0.0).sqrt()).metres()
}

/// Straight road through a spot, both ways, to the next junctions.
fn straight(network: &Network, spot: &Spot, joined: &dyn Fn(Arc) -> Option<Arc>) -> Metres {
    let both = spot.stands().map(|stand| ahead(network, stand.arc, stand.fraction, joined));
    Metres(both.iter().sum::<f64>().min(FARTHEST.0))
}

/// Metres that the road goes straight on from a stand.
fn ahead(network: &Network, arc: Arc, fraction: f64, joined: &dyn Fn(Arc) -> Option<Arc>) -> f64 {
    let mut metres = 0.0;
    let mut direction: Option<f64> = None;
    let (mut arc, mut from) = (arc, fraction);
    loop {
        let points: Vec<Place> = stretch_points(network, arc, from, 1.0);
        for pair in points.windows(2) {
            let length = pair[0].distance(pair[1]).0;
            if length <= 0.0 {
                continue;
            }
            let bearing = pair[0].bearing_deg(pair[1]);
            let first = *direction.get_or_insert(bearing);
            let off = (bearing - first).rem_euclid(360.0);
            if off.min(360.0 - off) > STRAIGHT_DEG {
                return metres;
            }
            metres += length;
        }
        match joined(arc) {
            Some(next) if metres < FARTHEST.0 => (arc, from) = (next, 0.0),
            _ => return metres,
        }
    }
}
