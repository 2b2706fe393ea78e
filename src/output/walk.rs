//! Lines packed small: whole 10⁻⁵ degrees (1.1 m or less), x and y of the first point from an origin, then
//! steps from point to point. src/web/page/backdrop.ts unpacks them.

use crate::place::Place;
use geo::{LineString, SimplifyIdx};

/// How the lines of one picture are packed.
#[derive(Clone, Copy)]
pub struct Walk {
    pub corner: Place,
    /// Points that the line passes within it are left out.
    pub tolerance_m: f64,
}

fn e5(place: Place) -> [i64; 2] {
    let whole = |e7: i32| (f64::from(e7) / 100.0).round() as i64;
    [whole(place.lon_e7()), whole(place.lat_e7())]
}

impl Walk {
    pub fn origin(&self) -> [i64; 2] {
        e5(self.corner)
    }

    /// At least the first point; no step is of no length.
    pub fn steps(&self, points: &[Place]) -> Vec<i64> {
        let [mut x, mut y] = self.origin();
        let mut steps = Vec::new();
        for index in self.kept(points) {
            let [to_x, to_y] = e5(points[index]);
            if steps.is_empty() || (to_x, to_y) != (x, y) {
                steps.extend([to_x - x, to_y - y]);
            }
            (x, y) = (to_x, to_y);
        }
        steps
    }

    fn kept(&self, points: &[Place]) -> Vec<usize> {
        if points.len() < 3 {
            return (0..points.len()).collect();
        }
        let plane: LineString = points.iter().map(|p| p.offset_from(self.corner)).collect::<Vec<_>>().into();
        plane.simplify_idx(self.tolerance_m)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn at(lon: f64, lat: f64) -> Place {
        Place::from_lon_lat(lon, lat).unwrap()
    }

    /// Unpacked again, a winding line passes each of its points within the tolerance and the rounding
    /// (half of 10⁻⁵ degrees each way, 0.8 m), by distances to a line sampled every 1/50 of a stretch.
    #[test]
    fn a_packed_line_stays_within_its_tolerance() {
        let line: Vec<Place> = (0..200)
            .map(|i| {
                let t = f64::from(i) / 20.0;
                at(7.0 + t * 1e-3, 47.0 + (t * 1.7).sin() * 4e-4 + (t * 9.0).cos() * 2e-5)
            })
            .collect();
        for tolerance_m in [1.5, 10.0, 40.0] {
            let walk = Walk { corner: at(6.9, 46.9), tolerance_m };
            let steps = walk.steps(&line);
            assert!(steps.len() / 2 < line.len(), "nothing was left out");
            let [mut x, mut y] = walk.origin();
            let drawn: Vec<Place> = steps
                .chunks(2)
                .map(|step| {
                    (x, y) = (x + step[0], y + step[1]);
                    Place::from_e7(x as i32 * 100, y as i32 * 100)
                })
                .collect();
            for point in &line {
                let sampled = drawn.windows(2).flat_map(|pair| {
                    (0..=50).map(move |k| pair[0].between(pair[1], f64::from(k) / 50.0).distance(*point).0)
                });
                let nearest = sampled.fold(f64::INFINITY, f64::min);
                // Samples lie up to a hundredth of a stretch from the foot of the perpendicular.
                let longest = drawn.windows(2).map(|p| p[0].distance(p[1]).0).fold(0.0, f64::max);
                assert!(
                    nearest <= (tolerance_m + 0.8).hypot(longest / 100.0),
                    "{nearest} m at {tolerance_m}"
                );
            }
        }
    }
}
