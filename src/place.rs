//! A point on the earth. Longitude and latitude have one constructor and named accessors, so
//! that their order cannot be exchanged by accident.

use crate::units::Metres;
use bytemuck::{Pod, Zeroable};
use geo::{Bearing, Distance, Haversine, Point};
use serde::ser::SerializeSeq;
use serde::{Deserialize, Deserializer, Serialize, Serializer};
use std::fmt;
use std::str::FromStr;

/// WGS 84 position in units of 10⁻⁷ degrees (OpenStreetMap's own resolution, about 1 cm).
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Pod, Zeroable)]
#[repr(C)]
pub struct Place {
    lon_e7: i32,
    lat_e7: i32,
}

/// Why two numbers are not a place.
#[derive(Clone, Debug, PartialEq)]
pub enum NotAPlace {
    NotFinite,
    /// The latitude is out of range but the pair would be valid the other way round.
    Swapped {
        lon: f64,
        lat: f64,
    },
    OutOfRange {
        lon: f64,
        lat: f64,
    },
    Unreadable(String),
}

impl fmt::Display for NotAPlace {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            NotAPlace::NotFinite => write!(f, "a coordinate is not a finite number"),
            NotAPlace::Swapped { lon, lat } => {
                write!(
                    f,
                    "latitude {lat} is out of range; longitude and latitude look swapped (try {lat},{lon})"
                )
            }
            NotAPlace::OutOfRange { lon, lat } => {
                write!(f, "longitude {lon}, latitude {lat} is outside -180..180, -90..90")
            }
            NotAPlace::Unreadable(text) => {
                write!(f, "\"{text}\" is not LON,LAT in decimal degrees, such as -34.0123,31.0456")
            }
        }
    }
}
impl std::error::Error for NotAPlace {}

impl Place {
    /// Degrees east, degrees north.
    pub fn from_lon_lat(lon: f64, lat: f64) -> Result<Place, NotAPlace> {
        if !lon.is_finite() || !lat.is_finite() {
            return Err(NotAPlace::NotFinite);
        }
        if lat.abs() > 90.0 && lat.abs() <= 180.0 && lon.abs() <= 90.0 {
            return Err(NotAPlace::Swapped { lon, lat });
        }
        if lon.abs() > 180.0 || lat.abs() > 90.0 {
            return Err(NotAPlace::OutOfRange { lon, lat });
        }
        Ok(Place { lon_e7: (lon * 1e7).round() as i32, lat_e7: (lat * 1e7).round() as i32 })
    }
    /// From 10⁻⁷ degrees, as stored in an extract.
    pub const fn from_e7(lon_e7: i32, lat_e7: i32) -> Place {
        Place { lon_e7, lat_e7 }
    }
    /// Whether the numbers are on the earth; only a place read from a file may not be.
    pub fn on_earth(self) -> bool {
        self.lon_e7.unsigned_abs() <= 1_800_000_000 && self.lat_e7.unsigned_abs() <= 900_000_000
    }
    pub fn lon_e7(self) -> i32 {
        self.lon_e7
    }
    pub fn lat_e7(self) -> i32 {
        self.lat_e7
    }
    pub fn lon(self) -> f64 {
        f64::from(self.lon_e7) / 1e7
    }
    pub fn lat(self) -> f64 {
        f64::from(self.lat_e7) / 1e7
    }
    /// The same numbers with longitude and latitude exchanged, where that is a place at all.
    pub fn exchanged(self) -> Option<Place> {
        Place::from_lon_lat(self.lat(), self.lon()).ok()
    }
    fn point(self) -> Point {
        Point::new(self.lon(), self.lat())
    }
    /// Great-circle distance (geo's haversine on the mean earth radius; within 0.6 % of the ellipsoid).
    pub fn distance(self, other: Place) -> Metres {
        Metres(Haversine.distance(self.point(), other.point()))
    }
    /// Initial bearing in degrees clockwise from true north, 0..360.
    pub fn bearing_deg(self, other: Place) -> f64 {
        Haversine.bearing(self.point(), other.point()).rem_euclid(360.0)
    }
    /// The point a `fraction` (0..1) of the straight way to `other`.
    pub fn between(self, other: Place, fraction: f64) -> Place {
        let mix = |a: i32, b: i32| (f64::from(a) + (f64::from(b) - f64::from(a)) * fraction).round() as i32;
        Place { lon_e7: mix(self.lon_e7, other.lon_e7), lat_e7: mix(self.lat_e7, other.lat_e7) }
    }
    /// Metres east and north of `origin` on a plane that touches the earth there; for distances
    /// of a few kilometres.
    pub fn offset_from(self, origin: Place) -> (f64, f64) {
        let metres_per_degree =
            geo::algorithm::line_measures::metric_spaces::HaversineMeasure::GRS80_MEAN_RADIUS
                .radius()
                .to_radians();
        let east = (self.lon() - origin.lon()) * metres_per_degree * origin.lat().to_radians().cos();
        let north = (self.lat() - origin.lat()) * metres_per_degree;
        (east, north)
    }
}

/// Eight-wind name of a bearing in degrees.
pub fn compass(bearing_deg: f64) -> &'static str {
    const WINDS: [&str; 8] =
        ["north", "north-east", "east", "south-east", "south", "south-west", "west", "north-west"];
    WINDS[((bearing_deg.rem_euclid(360.0) / 45.0).round() as usize) % 8]
}

/// The same, as on a compass rose.
pub fn wind(bearing_deg: f64) -> &'static str {
    const WINDS: [&str; 8] = ["N", "NE", "E", "SE", "S", "SW", "W", "NW"];
    WINDS[((bearing_deg.rem_euclid(360.0) / 45.0).round() as usize) % 8]
}

impl fmt::Display for Place {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{:.7},{:.7}", self.lon(), self.lat())
    }
}

impl FromStr for Place {
    type Err = NotAPlace;
    fn from_str(text: &str) -> Result<Place, NotAPlace> {
        let unreadable = || NotAPlace::Unreadable(text.to_string());
        let (lon, lat) = text.split_once(',').ok_or_else(unreadable)?;
        let number = |part: &str| part.trim().parse::<f64>().map_err(|_| unreadable());
        Place::from_lon_lat(number(lon)?, number(lat)?)
    }
}

impl Serialize for Place {
    /// A GeoJSON position: `[longitude, latitude]`.
    fn serialize<S: Serializer>(&self, s: S) -> Result<S::Ok, S::Error> {
        let mut seq = s.serialize_seq(Some(2))?;
        seq.serialize_element(&self.lon())?;
        seq.serialize_element(&self.lat())?;
        seq.end()
    }
}

impl<'de> Deserialize<'de> for Place {
    fn deserialize<D: Deserializer<'de>>(d: D) -> Result<Place, D::Error> {
        let [lon, lat] = <[f64; 2]>::deserialize(d)?;
        Place::from_lon_lat(lon, lat).map_err(serde::de::Error::custom)
    }
}

/// A box in longitude and latitude.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Bounds {
    pub west_south: Place,
    pub east_north: Place,
}

impl Bounds {
    pub fn around(places: impl IntoIterator<Item = Place>) -> Option<Bounds> {
        places.into_iter().fold(None, |bounds, p| {
            let b = bounds.unwrap_or(Bounds { west_south: p, east_north: p });
            Some(Bounds {
                west_south: Place {
                    lon_e7: b.west_south.lon_e7.min(p.lon_e7),
                    lat_e7: b.west_south.lat_e7.min(p.lat_e7),
                },
                east_north: Place {
                    lon_e7: b.east_north.lon_e7.max(p.lon_e7),
                    lat_e7: b.east_north.lat_e7.max(p.lat_e7),
                },
            })
        })
    }
    pub fn contains(&self, p: Place) -> bool {
        (self.west_south.lon_e7..=self.east_north.lon_e7).contains(&p.lon_e7)
            && (self.west_south.lat_e7..=self.east_north.lat_e7).contains(&p.lat_e7)
    }
    /// They have a place in common.
    pub fn meets(&self, other: &Bounds) -> bool {
        let apart = |a: (i32, i32), b: (i32, i32)| a.1 < b.0 || b.1 < a.0;
        let lon = |b: &Bounds| (b.west_south.lon_e7, b.east_north.lon_e7);
        let lat = |b: &Bounds| (b.west_south.lat_e7, b.east_north.lat_e7);
        !apart(lon(self), lon(other)) && !apart(lat(self), lat(other))
    }
    /// `[west, south, east, north]`, the order of RFC 7946 section 5.
    pub fn bbox(&self) -> [f64; 4] {
        [self.west_south.lon(), self.west_south.lat(), self.east_north.lon(), self.east_north.lat()]
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn swapped_coordinates_are_recognised() {
        // -4.5 E, 54.2 N is valid both ways; only the range tells, so 54.2, -104.5 is the clear case.
        let error = Place::from_lon_lat(54.2, -104.5).unwrap_err();
        assert!(matches!(error, NotAPlace::Swapped { .. }));
        assert!(error.to_string().contains("-104.5,54.2"));
        assert!(Place::from_lon_lat(f64::NAN, 0.0).is_err());
        assert!("1;2".parse::<Place>().is_err());
    }

    /// One minute of latitude is about one nautical mile (1,852 m): definition of the mile.
    #[test]
    fn one_minute_of_latitude() {
        let a = Place::from_lon_lat(0.0, 45.0).unwrap();
        let b = Place::from_lon_lat(0.0, 45.0 + 1.0 / 60.0).unwrap();
        assert!((a.distance(b).0 - 1852.0).abs() < 2.0);
        assert!(a.bearing_deg(b) < 1e-6);
        let (east, north) = b.offset_from(a);
        assert!(east.abs() < 1e-9 && (north - a.distance(b).0).abs() < 0.01);
    }
}
