//! Grades of the roads from an elevation grid.

use crate::place::Place;
use crate::roads::elevation::Elevation;
use crate::roads::network::{Arc, Network};
use crate::routing::path::stretch_points;

/// A segment's grade is taken in pieces of at most this.
const PIECE_M: f64 = 100.0;
/// Steeper than this is an error of the grid (a cutting, a cliff beside the road).
const STEEPEST_PERCENT: f64 = 25.0;

/// Per cent with the node order, of equal pieces; empty where the grid says nothing.
pub fn grades(network: &Network, elevation: &Elevation, segment: usize) -> Vec<f32> {
    let arc = Arc::new(segment, true);
    let length = network.length(arc).0;
    let points = network.points(segment);
    let (Some(first), Some(last)) = (points.first(), points.last()) else { return Vec::new() };
    // The grid measures the valley under a bridge; its ends stand on the ground.
    if network.way(arc).tags.bridge {
        let rise = elevation.height(*last).zip(elevation.height(*first)).map(|(end, begin)| end - begin);
        return rise.map(|rise| vec![percent(rise, length.max(PIECE_M))]).unwrap_or_default();
    }
    let count = (length / PIECE_M).ceil().max(1.0) as usize;
    let pieces: Option<Vec<f32>> = (0..count)
        .map(|i| {
            let share = |k: usize| k as f64 / count as f64;
            let line = stretch_points(network, arc, share(i), share(i + 1));
            piece(elevation, line.first()?, line.last()?, length / count as f64)
        })
        .collect();
    pieces.unwrap_or_default()
}

/// The slope of the ground in the middle of a piece, taken along the piece: rises of a few metres
/// between the ends of a short piece would say more of the grid than of the road.
fn piece(elevation: &Elevation, from: &Place, to: &Place, length: f64) -> Option<f32> {
    let (east, north) = elevation.slope(from.between(*to, 0.5))?;
    let (x, y) = to.offset_from(*from);
    Some(percent(east * x + north * y, length))
}

fn percent(rise: f64, length: f64) -> f32 {
    (rise / length.max(1.0) * 100.0).clamp(-STEEPEST_PERCENT, STEEPEST_PERCENT) as f32
}
