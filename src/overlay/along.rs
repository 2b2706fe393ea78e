//! Which roads run along a line: not those that it crosses, nor those beside the one it follows.

use crate::place::Place;
use crate::roads::network::Network;
use std::collections::BTreeMap;

/// A line may be drawn so far off its road: half a wide road and a mouse.
pub const TOLERANCE_M: f64 = 20.0;
/// A road whose direction differs by more does not run along the line.
const ALONG_DEGREES: f64 = 30.0;
/// Of several roads within the tolerance the nearest is meant, and others that lie as near but for so much:
/// of two carriageways the one that the line was drawn on, or both if it lies between them.
const AS_NEAR_M: f64 = 5.0;
const STEP_M: f64 = 5.0;
/// A stretch is meant when the line follows it so far, or for half its length if it is shorter.
/// Less is the end of a line drawn past its last junction.
const MEANT_M: f64 = 25.0;

/// What a line was found to follow.
#[derive(Debug, Default)]
pub struct Followed {
    /// Stretches meant, and whether the line runs with the node order.
    pub stretches: Vec<(usize, bool)>,
    pub length_m: f64,
    /// Of that, along no road.
    pub lost_m: f64,
}

pub fn follow(network: &Network, candidates: &[usize], line: &[Place]) -> Followed {
    let mut followed = Followed::default();
    let mut metres: BTreeMap<(usize, bool), f64> = BTreeMap::new();
    for pair in line.windows(2) {
        let length = pair[0].distance(pair[1]).0;
        let steps = (length / STEP_M).ceil().max(1.0);
        let each = length / steps;
        followed.length_m += length;
        for step in 0..steps as u32 {
            let at = pair[0].between(pair[1], (f64::from(step) + 0.5) / steps);
            let near: Vec<(f64, usize, bool)> = candidates
                .iter()
                .filter_map(|s| beside(network.points(*s), at, pair).map(|(off, with)| (off, *s, with)))
                .collect();
            let least = near.iter().map(|(off, ..)| *off).fold(f64::INFINITY, f64::min);
            if near.is_empty() {
                followed.lost_m += each;
            }
            for (_, segment, with) in near.into_iter().filter(|(off, ..)| *off <= least + AS_NEAR_M) {
                *metres.entry((segment, with)).or_default() += each;
            }
        }
    }
    let meant = |segment: usize| MEANT_M.min(f64::from(network.segments[segment].length_m) / 2.0);
    followed.stretches =
        metres.into_iter().filter(|((s, _), m)| *m >= meant(*s)).map(|(key, _)| key).collect();
    followed
}

/// Metres from a place on a line to the part of a road that runs along it beside the place, and
/// whether the road runs the same way.
fn beside(points: &[Place], at: Place, line: &[Place]) -> Option<(f64, bool)> {
    let heading = line[1].offset_from(line[0]);
    let last = points.len().saturating_sub(2);
    let mut best: Option<(f64, bool)> = None;
    for (i, pair) in points.windows(2).enumerate() {
        let (a, b) = (pair[0].offset_from(at), pair[1].offset_from(at));
        let (dx, dy) = (b.0 - a.0, b.1 - a.1);
        let (length, dot) = (dx.hypot(dy), dx * heading.0 + dy * heading.1);
        let cosine = dot / (length * heading.0.hypot(heading.1));
        // Points drawn twice have no direction.
        let runs_along = cosine.abs() >= ALONG_DEGREES.to_radians().cos();
        if !runs_along {
            continue;
        }
        let t = -(a.0 * dx + a.1 * dy) / (length * length);
        // Beyond its ends a road is not beside the place; at a bend within it is.
        if (i == 0 && t < 0.0) || (i == last && t > 1.0) {
            continue;
        }
        let t = t.clamp(0.0, 1.0);
        let off = (a.0 + t * dx).hypot(a.1 + t * dy);
        if off <= TOLERANCE_M && best.is_none_or(|(least, _)| off < least) {
            best = Some((off, cosine > 0.0));
        }
    }
    best
}

/// Metres from a place to a road.
pub fn distance_m(points: &[Place], at: Place) -> f64 {
    let to_piece = |pair: &[Place]| {
        let (a, b) = (pair[0].offset_from(at), pair[1].offset_from(at));
        let (dx, dy) = (b.0 - a.0, b.1 - a.1);
        let square = dx * dx + dy * dy;
        let t = if square > 0.0 { (-(a.0 * dx + a.1 * dy) / square).clamp(0.0, 1.0) } else { 0.0 };
        (a.0 + t * dx).hypot(a.1 + t * dy)
    };
    points.windows(2).map(to_piece).fold(f64::INFINITY, f64::min)
}
