//! Height above sea from grids in the SRTM `.hgt` format, smoothed so that the grid's noise is no hill.
//!
//! A tile is named by its south-west corner (`N54W005.hgt`) and holds 1201, 3601 or 7201 heights a side,
//! 16-bit big-endian metres, rows from north to south (SRTM Topo documentation, USGS, from memory).

use crate::finding::{Code, Outcome, Refusal, Where};
use crate::place::Place;
use crate::units::Metres;
use srtm_reader::Resolution;
use std::path::Path;

#[derive(Clone, Debug, PartialEq)]
struct Tile {
    south: i32,
    west: i32,
    side: usize,
    heights: Vec<i16>,
}

#[derive(Clone, Debug, Default, PartialEq)]
pub struct Elevation {
    tiles: Vec<Tile>,
}

/// No height was measured here.
const VOID: i16 = i16::MIN;
/// Slopes are taken over a square of twice this: a grid of 30 m errs by a few metres from cell to cell.
const HALF_SQUARE_M: f64 = 50.0;
/// Of the earth, as in `place`.
const METRES_PER_DEGREE: f64 = 111_195.08;

impl Elevation {
    pub fn read<P: AsRef<Path>>(files: &[P]) -> Outcome<Elevation> {
        let mut refused = Vec::new();
        let mut tiles = Vec::new();
        for file in files {
            match read_tile(file.as_ref()) {
                Ok(tile) => tiles.push(tile),
                Err(Refusal(findings)) => refused.extend(findings),
            }
        }
        if refused.is_empty() { Ok(Elevation { tiles }) } else { Err(Refusal(refused)) }
    }

    pub fn is_empty(&self) -> bool {
        self.tiles.is_empty()
    }

    /// Metres at a place given in degrees, between the grid's four points around it.
    fn at(&self, lon: f64, lat: f64) -> Option<f64> {
        let tile = self.tiles.iter().find(|t| {
            let (east, north) = (lon - f64::from(t.west), lat - f64::from(t.south));
            (0.0..=1.0).contains(&east) && (0.0..=1.0).contains(&north)
        })?;
        let cells = (tile.side - 1) as f64;
        let (column, row) =
            ((lon - f64::from(tile.west)) * cells, (f64::from(tile.south) + 1.0 - lat) * cells);
        let (left, top) = ((column as usize).min(tile.side - 2), (row.max(0.0) as usize).min(tile.side - 2));
        let (right_share, lower_share) = (column - left as f64, row - top as f64);
        let height = |down: usize, right: usize| {
            let height = *tile.heights.get((top + down) * tile.side + left + right)?;
            (height != VOID).then(|| f64::from(height))
        };
        let upper = height(0, 0)? * (1.0 - right_share) + height(0, 1)? * right_share;
        let lower = height(1, 0)? * (1.0 - right_share) + height(1, 1)? * right_share;
        Some(upper * (1.0 - lower_share) + lower * lower_share)
    }

    /// Mean height of the square around a place.
    pub fn height(&self, place: Place) -> Option<f64> {
        Some(self.square(place)?.iter().sum::<f64>() / 9.0)
    }

    /// From one place up to another, less than nothing downhill.
    pub fn rise(&self, from: Place, to: Place) -> Option<Metres> {
        Some(Metres(self.height(to)? - self.height(from)?))
    }

    /// Rise over run towards east and north, over the square around a place.
    pub fn slope(&self, place: Place) -> Option<(f64, f64)> {
        let h = self.square(place)?;
        let three = |a: usize, b: usize, c: usize| (h[a] + h[b] + h[c]) / 3.0;
        let run = 2.0 * HALF_SQUARE_M;
        Some(((three(2, 5, 8) - three(0, 3, 6)) / run, (three(6, 7, 8) - three(0, 1, 2)) / run))
    }

    /// Heights at three by three points, from west to east, rows from south to north.
    fn square(&self, place: Place) -> Option<[f64; 9]> {
        let north = HALF_SQUARE_M / METRES_PER_DEGREE;
        let east = north / place.lat().to_radians().cos().max(0.01);
        let mut heights = [0.0; 9];
        for (i, height) in heights.iter_mut().enumerate() {
            let (column, row) = ((i % 3) as f64 - 1.0, (i / 3) as f64 - 1.0);
            *height = self.at(place.lon() + column * east, place.lat() + row * north)?;
        }
        Some(heights)
    }
}

fn read_tile(path: &Path) -> Outcome<Tile> {
    let refuse = |code: Code, cause: String, action: &str| {
        Refusal::new(code, Where::file(path.display()), cause, action)
    };
    let name = path.file_stem().and_then(|stem| stem.to_str()).unwrap_or_default();
    let (south, west) = corner(name).ok_or_else(|| {
        let action = "give SRTM tiles named by their south-west corner, such as N54W005.hgt";
        refuse(Code::InputInvalid, "the name does not say which square degree this is".into(), action)
    })?;
    let action = "check the path and that the file can be read";
    let bytes = std::fs::read(path).map_err(|e| match e.kind() {
        std::io::ErrorKind::NotFound => refuse(Code::FileMissing, "there is no such file".into(), action),
        _ => refuse(Code::FileUnreadable, e.to_string(), action),
    })?;
    let resolution = Resolution::try_from(bytes.len() as u64).map_err(|_| {
        let cause = format!("{} bytes are not 1201, 3601 or 7201 heights a side", bytes.len());
        refuse(Code::FileUnreadable, cause, "give an unpacked SRTM tile (.hgt)")
    })?;
    let heights = srtm_reader::Tile::parse_hgt(bytes.as_slice(), resolution)
        .map_err(|e| refuse(Code::FileUnreadable, e.to_string(), action))?;
    let side = resolution.extent();
    Ok(Tile { south, west, side, heights })
}

/// `N54W005` to 54, -5.
fn corner(name: &str) -> Option<(i32, i32)> {
    if !name.is_ascii() || name.len() < 7 {
        return None;
    }
    let degrees = |text: &str, plus: &str, minus: &str| -> Option<i32> {
        let (sign, digits) = text.split_at(1);
        let number: i32 = digits.parse().ok().filter(|_| digits.chars().all(|c| c.is_ascii_digit()))?;
        match sign.to_ascii_uppercase() {
            s if s == plus => Some(number),
            s if s == minus => Some(-number),
            _ => None,
        }
    };
    let (south, west) = (degrees(&name[..3], "N", "S")?, degrees(&name[3..7], "E", "W")?);
    ((-90..90).contains(&south) && (-180..180).contains(&west)).then_some((south, west))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn corners() {
        assert_eq!(corner("N54W005"), Some((54, -5)));
        assert_eq!(corner("s01e114"), Some((-1, 114)));
        for wrong in ["", "N54", "X54W005", "N5aW005", "N54W+05", "Ñ54W005", "N95W005"] {
            assert_eq!(corner(wrong), None, "{wrong}");
        }
    }

    /// Heights of 10 m a cell towards the north and 20 m towards the east; cells of 1/1200 degree.
    #[test]
    fn a_plane_has_one_slope() {
        let side = 1201;
        let heights =
            (0..side * side).map(|i| ((side - 1 - i / side) * 10 + (i % side) * 20) as i16).collect();
        let grid = Elevation { tiles: vec![Tile { south: 10, west: -34, side, heights }] };
        let place = Place::from_lon_lat(-33.9, 10.05).unwrap();
        // 0.1 degrees are 120 cells, 0.05 are 60: 120 x 20 + 60 x 10 = 3,000 m.
        assert!((grid.height(place).unwrap() - 3_000.0).abs() < 0.01);
        let (east, north) = grid.slope(place).unwrap();
        let cell = METRES_PER_DEGREE / 1_200.0;
        assert!((north - 10.0 / cell).abs() < 1e-4, "{north}");
        assert!((east - 20.0 / (cell * 10.05f64.to_radians().cos())).abs() < 1e-4, "{east}");
        assert_eq!(grid.height(Place::from_lon_lat(-32.0, 10.05).unwrap()), None);
    }
}
