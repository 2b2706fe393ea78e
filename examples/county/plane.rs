//! The drawing plane: how the fine grid on which roads are laid is bent into a landscape.
//!
//! Only `+ - * /` and `sqrt` are used. Their results are fixed by IEEE 754, those of `sin` or
//! `powf` are not, and the county must come out the same on every machine.

/// Grid steps between two section lines, and the size of one step.
pub const SECTION: i32 = 64;
pub const STEP_M: f64 = 25.0;
/// Section lines from west to east and from south to north.
pub const COLUMNS: i32 = 16;
pub const ROWS: i32 = 12;
pub const WIDTH: i32 = COLUMNS * SECTION;
pub const HEIGHT: i32 = ROWS * SECTION;

const MIDDLE_LON_E7: f64 = -340_000_000.0;
const MIDDLE_LAT_E7: f64 = 310_000_000.0;
/// 10⁻⁷ degrees of latitude per metre on the mean earth radius, and cos 31°.
const E7_PER_METRE: f64 = 89.932_036;
const COS_MIDDLE: f64 = 0.857_167_300_702_112_3;

/// Metres east and north of the county's middle.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Point {
    pub x: f64,
    pub y: f64,
}

impl Point {
    pub fn new(x: f64, y: f64) -> Point {
        Point { x, y }
    }
    /// Longitude and latitude in 10⁻⁷ degrees.
    pub fn e7(self) -> (i32, i32) {
        let lon = MIDDLE_LON_E7 + self.x * E7_PER_METRE / COS_MIDDLE;
        let lat = MIDDLE_LAT_E7 + self.y * E7_PER_METRE;
        (lon.round() as i32, lat.round() as i32)
    }
    pub fn distance(self, other: Point) -> f64 {
        let (dx, dy) = (self.x - other.x, self.y - other.y);
        (dx * dx + dy * dy).sqrt()
    }
    pub fn mix(self, other: Point, share: f64) -> Point {
        Point::new(self.x + (other.x - self.x) * share, self.y + (other.y - self.y) * share)
    }
}

/// A number in -1..1 fixed by a lattice point and a seed (an integer hash, xor-shift-multiply).
fn hash(u: i64, v: i64, seed: u64) -> f64 {
    let mut h = (u as u64).wrapping_mul(0x9E37_79B9_7F4A_7C15)
        ^ (v as u64).wrapping_mul(0xC2B2_AE3D_27D4_EB4F)
        ^ seed.wrapping_mul(0x1656_67B1_9E37_79F9);
    for _ in 0..2 {
        h = (h ^ (h >> 31)).wrapping_mul(0xD6E8_FEB8_6659_FD93);
    }
    (h >> 11) as f64 / (1u64 << 52) as f64 - 1.0
}

/// Smooth noise in -1..1 with features about `wavelength` grid steps across.
pub fn noise(u: f64, v: f64, wavelength: f64, seed: u64) -> f64 {
    let (u, v) = (u / wavelength, v / wavelength);
    let (u0, v0) = (u.floor(), v.floor());
    let smooth = |t: f64| t * t * (3.0 - 2.0 * t);
    let (su, sv) = (smooth(u - u0), smooth(v - v0));
    let at = |du: i64, dv: i64| hash(u0 as i64 + du, v0 as i64 + dv, seed);
    let south = at(0, 0) + (at(1, 0) - at(0, 0)) * su;
    let north = at(0, 1) + (at(1, 1) - at(0, 1)) * su;
    south + (north - south) * sv
}

/// 0 in the plain of the south-east to 1 in the hills of the north-west: how winding roads are.
pub fn hilliness(u: f64, v: f64) -> f64 {
    let slope = 0.5 + (v / f64::from(HEIGHT) - u / f64::from(WIDTH)) * 0.9;
    (slope + 0.3 * noise(u, v, 200.0, 5)).clamp(0.12, 1.0)
}

/// Where a point of the grid, given in steps, lies in the landscape.
pub fn bend(u: f64, v: f64) -> Point {
    let hills = hilliness(u, v);
    let shift = |seed: u64| {
        430.0 * noise(u, v, 230.0, seed)
            + hills * 250.0 * noise(u, v, 80.0, seed + 1)
            + hills * 120.0 * noise(u, v, 34.0, seed + 2)
    };
    Point::new(
        (u - f64::from(WIDTH) / 2.0) * STEP_M + shift(11),
        (v - f64::from(HEIGHT) / 2.0) * STEP_M + shift(21),
    )
}

/// Where two line pieces cross, as shares of both.
pub fn crossing(a: (Point, Point), b: (Point, Point)) -> Option<(f64, f64)> {
    let (rx, ry) = (a.1.x - a.0.x, a.1.y - a.0.y);
    let (sx, sy) = (b.1.x - b.0.x, b.1.y - b.0.y);
    let cross = rx * sy - ry * sx;
    if cross == 0.0 {
        return None;
    }
    let (qx, qy) = (b.0.x - a.0.x, b.0.y - a.0.y);
    let t = (qx * sy - qy * sx) / cross;
    let u = (qx * ry - qy * rx) / cross;
    ((0.0..=1.0).contains(&t) && (0.0..=1.0).contains(&u)).then_some((t, u))
}

pub fn inside(ring: &[Point], p: Point) -> bool {
    let mut within = false;
    for (i, a) in ring.iter().enumerate() {
        let b = ring[(i + 1) % ring.len()];
        if (a.y > p.y) != (b.y > p.y) && p.x < (b.x - a.x) * (p.y - a.y) / (b.y - a.y) + a.x {
            within = !within;
        }
    }
    within
}

/// Which points of a line to keep so that none of the others is farther off than `tolerance`
/// (Douglas and Peucker). The ends stay.
pub fn simplify(line: &[Point], tolerance: f64) -> Vec<bool> {
    let mut keep = vec![false; line.len()];
    let Some(last) = line.len().checked_sub(1) else { return keep };
    keep[0] = true;
    keep[last] = true;
    let mut spans = vec![(0, last)];
    while let Some((from, to)) = spans.pop() {
        let (a, b) = (line[from], line[to]);
        let off = |p: Point| {
            let length = a.distance(b);
            if length < 1e-9 {
                return a.distance(p);
            }
            let along = ((p.x - a.x) * (b.x - a.x) + (p.y - a.y) * (b.y - a.y)) / (length * length);
            p.distance(a.mix(b, along.clamp(0.0, 1.0)))
        };
        let mut worst = (from, tolerance);
        for (i, &p) in line.iter().enumerate().take(to).skip(from + 1) {
            if off(p) > worst.1 {
                worst = (i, off(p));
            }
        }
        if worst.0 != from {
            keep[worst.0] = true;
            spans.push((from, worst.0));
            spans.push((worst.0, to));
        }
    }
    keep
}

/// A closed ring around a middle (in grid steps) with half-axes in steps and a ragged outline.
/// Turns by a fixed angle with a constant rotation instead of calling `sin`.
pub fn blob(middle: (f64, f64), half: (f64, f64), ragged: f64, seed: u64) -> Vec<Point> {
    const CORNERS: usize = 32;
    // cos and sin of 360° / 32.
    let (c, s) = (0.980_785_280_403_230_4, 0.195_090_322_016_128_27);
    let (mut x, mut y) = (1.0f64, 0.0f64);
    let mut ring = Vec::with_capacity(CORNERS);
    for _ in 0..CORNERS {
        let swell = 1.0 + ragged * noise(x * 3.0 + 50.0, y * 3.0 + 50.0, 1.0, seed);
        ring.push(bend(middle.0 + half.0 * x * swell, middle.1 + half.1 * y * swell));
        (x, y) = (x * c - y * s, x * s + y * c);
    }
    ring
}
