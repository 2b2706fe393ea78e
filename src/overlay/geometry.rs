//! Shapes of overlay entries. Edges are straight in longitude and latitude (RFC 7946, section
//! 3.1.1), so what lies inside is found in those.

use crate::place::{Bounds, Place};
use serde_json::Value;

#[derive(Clone, Debug, PartialEq)]
pub enum Shape {
    /// By id alone.
    None,
    Point(Place),
    Lines(Vec<Vec<Place>>),
    /// Polygons, each as its rings, the outer one and holes.
    Area(Vec<Vec<Vec<Place>>>),
}

impl Shape {
    pub fn as_str(&self) -> &'static str {
        match self {
            Shape::None => "no geometry",
            Shape::Point(_) => "a Point",
            Shape::Lines(_) => "a LineString",
            Shape::Area(_) => "a Polygon",
        }
    }

    fn places(&self) -> Vec<Place> {
        match self {
            Shape::None => Vec::new(),
            Shape::Point(place) => vec![*place],
            Shape::Lines(lines) => lines.concat(),
            Shape::Area(polygons) => polygons.concat().concat(),
        }
    }

    /// Its box, so many metres larger on every side.
    pub fn bounds(&self, margin_m: f64) -> Option<Bounds> {
        let bounds = Bounds::around(self.places())?;
        let (low, high) = (bounds.west_south, bounds.east_north);
        // A degree of latitude is 111 km or more; one of longitude shrinks with the cosine.
        let north = margin_m / 111_000.0 * 1e7;
        let cosine = low.lat().abs().max(high.lat().abs()).to_radians().cos().max(0.01);
        let moved = |place: Place, sign: f64| {
            let shift = |at: i32, by: f64| (f64::from(at) + sign * by) as i32;
            Place::from_e7(shift(place.lon_e7(), north / cosine), shift(place.lat_e7(), north))
        };
        Some(Bounds { west_south: moved(low, -1.0), east_north: moved(high, 1.0) })
    }

    /// Whether a place lies inside an area.
    pub fn contains(&self, place: Place) -> bool {
        matches!(self, Shape::Area(polygons) if inside(polygons, xy(place)))
    }

    /// How much of a straight piece of road lies inside an area, 0 to 1.
    pub fn share_inside(&self, a: Place, b: Place) -> f64 {
        let Shape::Area(polygons) = self else { return 0.0 };
        let (a, b) = (xy(a), xy(b));
        let mut cuts = vec![0.0, 1.0];
        for (c, d) in polygons.iter().flat_map(|rings| edges(rings)) {
            cuts.extend(crossing(a, b, c, d));
        }
        cuts.sort_by(f64::total_cmp);
        let middle_inside = |pair: &[f64]| {
            let t = (pair[0] + pair[1]) / 2.0;
            inside(polygons, (a.0 + (b.0 - a.0) * t, a.1 + (b.1 - a.1) * t))
        };
        cuts.windows(2).filter(|pair| middle_inside(pair)).map(|pair| pair[1] - pair[0]).sum()
    }

    /// Reads a GeoJSON geometry; null is no shape.
    pub fn read(value: &Value) -> Result<Shape, String> {
        if value.is_null() {
            return Ok(Shape::None);
        }
        let kind = value.get("type").and_then(Value::as_str).ok_or("the geometry has no type")?;
        let at = value.get("coordinates").ok_or("the geometry has no coordinates")?;
        Ok(match kind {
            "Point" => Shape::Point(position(at)?),
            "LineString" => Shape::Lines(vec![line(at)?]),
            "MultiLineString" => Shape::Lines(several(at, line)?),
            "Polygon" => Shape::Area(vec![several(at, ring)?]),
            "MultiPolygon" => Shape::Area(several(at, |polygon| several(polygon, ring))?),
            other => return Err(format!("a {other} is no geometry of an overlay")),
        })
    }
}

/// In 10⁻⁷ degrees.
type Xy = (f64, f64);

fn xy(place: Place) -> Xy {
    (f64::from(place.lon_e7()), f64::from(place.lat_e7()))
}

fn edges(rings: &[Vec<Place>]) -> impl Iterator<Item = (Xy, Xy)> + '_ {
    rings.iter().flat_map(|ring| ring.windows(2)).map(|pair| (xy(pair[0]), xy(pair[1])))
}

/// In any polygon, by the number of its edges that a ray to the east crosses; holes are rings like
/// others.
fn inside(polygons: &[Vec<Vec<Place>>], (x, y): Xy) -> bool {
    let crosses =
        |&((x1, y1), (x2, y2)): &(Xy, Xy)| (y1 > y) != (y2 > y) && x < (x2 - x1) * (y - y1) / (y2 - y1) + x1;
    polygons.iter().any(|rings| edges(rings).filter(crosses).count() % 2 == 1)
}

/// Where on a–b it meets c–d, 0 to 1.
fn crossing(a: Xy, b: Xy, c: Xy, d: Xy) -> Option<f64> {
    let cross = |u: Xy, v: Xy| u.0 * v.1 - u.1 * v.0;
    let minus = |u: Xy, v: Xy| (u.0 - v.0, u.1 - v.1);
    let (ab, cd, ac) = (minus(b, a), minus(d, c), minus(c, a));
    let area = cross(ab, cd);
    if area == 0.0 {
        return None;
    }
    let (t, u) = (cross(ac, cd) / area, cross(ac, ab) / area);
    ((0.0..=1.0).contains(&t) && (0.0..=1.0).contains(&u)).then_some(t)
}

fn several<T>(value: &Value, one: impl Fn(&Value) -> Result<T, String>) -> Result<Vec<T>, String> {
    let list = value.as_array().filter(|list| !list.is_empty()).ok_or("the coordinates are no list")?;
    list.iter().map(one).collect()
}

fn position(value: &Value) -> Result<Place, String> {
    let numbers: Option<Vec<f64>> =
        value.as_array().and_then(|list| list.iter().map(Value::as_f64).collect());
    match numbers.as_deref() {
        // A height as third number is allowed and says nothing here.
        Some([lon, lat]) | Some([lon, lat, _]) => Place::from_lon_lat(*lon, *lat).map_err(|e| e.to_string()),
        _ => Err("a position is not [longitude, latitude]".into()),
    }
}

fn line(value: &Value) -> Result<Vec<Place>, String> {
    let places = several(value, position)?;
    if places.len() < 2 { Err("a line has fewer than two positions".into()) } else { Ok(places) }
}

fn ring(value: &Value) -> Result<Vec<Place>, String> {
    let places = several(value, position)?;
    match places.len() {
        0..=3 => Err("a ring has fewer than four positions".into()),
        _ if places.first() != places.last() => Err("a ring does not end where it begins".into()),
        _ => Ok(places),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use serde_json::json;

    fn area(rings: Value) -> Shape {
        Shape::read(&json!({ "type": "Polygon", "coordinates": rings })).unwrap()
    }

    fn at(lon: f64, lat: f64) -> Place {
        Place::from_lon_lat(lon, lat).unwrap()
    }

    #[test]
    fn what_lies_inside_a_polygon_with_a_hole() {
        let square =
            |low: f64, high: f64| json!([[low, low], [high, low], [high, high], [low, high], [low, low]]);
        let ring = area(json!([square(0.0, 1.0), square(0.25, 0.75)]));
        assert!(ring.contains(at(0.1, 0.5)) && !ring.contains(at(0.5, 0.5)) && !ring.contains(at(1.1, 0.5)));
        // Through the middle from half a side before to half a side beyond: a quarter inside twice.
        let share = ring.share_inside(at(-0.5, 0.5), at(1.5, 0.5));
        assert!((share - 0.25).abs() < 1e-9, "{share}");
        assert_eq!(ring.share_inside(at(2.0, 2.0), at(3.0, 2.0)), 0.0);
    }

    #[test]
    fn what_is_no_shape_is_told() {
        for (value, told) in [
            (json!({ "type": "Polygon", "coordinates": [[[0, 0], [1, 0], [1, 1], [0, 1]]] }), "end where"),
            (json!({ "type": "LineString", "coordinates": [[0, 0]] }), "two positions"),
            (json!({ "type": "Point", "coordinates": [54.2, -104.5] }), "swapped"),
            (json!({ "type": "Point", "coordinates": [432_000, 5_400_000] }), "outside"),
            (json!({ "type": "GeometryCollection", "geometries": [] }), "coordinates"),
            (json!({ "type": "MultiPoint", "coordinates": [[0, 0]] }), "MultiPoint"),
            (json!({ "type": "Polygon", "coordinates": [] }), "no list"),
        ] {
            let error = Shape::read(&value).unwrap_err();
            assert!(error.contains(told), "{value}: {error}");
        }
    }
}
