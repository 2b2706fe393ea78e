//! An answer or a zone in other formats, from the GeoJSON that `plan` and `zone` wrote: one reader, a
//! writer a format. What a format cannot hold is told, see [`Written`].

mod csv;
mod gpkg;
mod gpx;
mod kml;
mod style;
pub(super) mod text;

use crate::finding::{Code, Outcome, Refusal, Where};
use crate::replace::replace;
use geo::{BoundingRect, Geometry, Rect};
use geojson::{FeatureCollection, GeometryValue, JsonObject, Position};
use serde_json::Value;
use std::error::Error;
use std::path::Path;

/// A file this tool wrote, by layer.
pub struct Document {
    /// The foreign member `tankerloop`: what belongs to the whole.
    pub about: JsonObject,
    /// In the order in which they first appear.
    pub layers: Vec<Layer>,
}

/// The features of one `layer` and the columns of their properties, `layer` itself left out.
pub struct Layer {
    pub name: String,
    pub columns: Vec<Column>,
    pub features: Vec<Feature>,
}

pub struct Feature {
    pub shape: Geometry<f64>,
    /// West, south, east and north of the shape, in degrees.
    pub bounds: Rect<f64>,
    pub properties: JsonObject,
}

pub struct Column {
    pub name: String,
    pub kind: Kind,
}

/// What all values of a column that are not null have in common.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Kind {
    Boolean,
    Integer,
    Real,
    Text,
}

/// The formats, told by the ending of a file.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Format {
    GeoPackage,
    Gpx,
    Kml,
    Csv,
}

/// What went into the file and what the format has no place for, as layers with counts of features.
#[derive(Default)]
pub struct Written {
    pub held: Vec<(String, usize)>,
    pub left_out: Vec<(String, usize)>,
}

impl Written {
    fn all(document: &Document) -> Written {
        let count = |layer: &Layer| (layer.name.clone(), layer.features.len());
        Written { held: document.layers.iter().map(count).collect(), left_out: Vec::new() }
    }
}

type Made = Result<Written, Box<dyn Error>>;

impl Format {
    /// By the ending of the path, in either case.
    pub fn of(path: &Path) -> Outcome<Format> {
        let ending = path.extension().map(|e| e.to_string_lossy().to_ascii_lowercase());
        match ending.as_deref() {
            Some("gpkg") => Ok(Format::GeoPackage),
            Some("gpx") => Ok(Format::Gpx),
            Some("kml") => Ok(Format::Kml),
            Some("csv") => Ok(Format::Csv),
            _ => Err(Refusal::new(
                Code::InputInvalid,
                Where::file(path.display()),
                "its ending names no format to export to",
                "end the name in .gpkg, .gpx, .kml or .csv",
            )),
        }
    }
}

/// A file that was there stays whole until the new one is.
pub fn write(document: &Document, format: Format, path: &Path) -> Made {
    replace(path, |fresh| match format {
        Format::GeoPackage => gpkg::write(document, fresh),
        Format::Gpx => gpx::write(document, fresh),
        Format::Kml => kml::write(document, fresh),
        Format::Csv => csv::write(document, fresh),
    })
}

/// Takes apart what `plan` or `zone` wrote; `file` is the name for refusals.
pub fn read(text: &str, file: &str) -> Outcome<Document> {
    let refuse = |place: Where, cause: String| {
        let action = "give the GeoJSON that `tankerloop plan -o` or `tankerloop zone -o` wrote";
        Refusal::new(Code::FileUnreadable, place, cause, action)
    };
    let whole = || Where::file(file);
    let parsed: FeatureCollection =
        text.parse().map_err(|e| refuse(whole(), format!("it is no GeoJSON FeatureCollection ({e})")))?;
    let mut foreign = parsed.foreign_members.unwrap_or_default();
    let Some(Value::Object(about)) = foreign.remove("tankerloop") else {
        return Err(refuse(whole(), "it has no member \"tankerloop\": another program wrote it".into()));
    };
    let mut layers: Vec<Layer> = Vec::new();
    for (number, feature) in (1..).zip(parsed.features) {
        let (name, feature) = taken(feature).map_err(|cause| refuse(whole().row(number), cause))?;
        let at = layers.iter().position(|layer| layer.name == name).unwrap_or_else(|| {
            layers.push(Layer { name, columns: Vec::new(), features: Vec::new() });
            layers.len() - 1
        });
        layers[at].features.push(feature);
    }
    for layer in &mut layers {
        layer.columns = columns(&layer.features);
    }
    Ok(Document { about, layers })
}

/// Names of ours are plain, so they need no quoting in any format and cannot clash with its own.
fn ours(name: &str) -> bool {
    let plain = |c: char| c.is_ascii_lowercase() || c.is_ascii_digit() || c == '_';
    !name.is_empty() && name.len() <= 200 && name.chars().all(plain)
}

fn taken(feature: geojson::Feature) -> Result<(String, Feature), String> {
    let mut properties = feature.properties.unwrap_or_default();
    let Some(Value::String(name)) = properties.shift_remove("layer") else {
        return Err("the feature has no text \"layer\"".into());
    };
    let reserved = [gpkg::ABOUT, style::TABLE, "gpkg", "sqlite", "rtree"];
    if !ours(&name) || reserved.iter().any(|word| name.starts_with(word)) {
        return Err(format!("\"{}\" is no layer of this tool", text::short(&name)));
    }
    let own = |key: &str| ours(key) && ![gpkg::KEY, gpkg::SHAPE, csv::LAYER, csv::SHAPE].contains(&key);
    if let Some(key) = properties.keys().find(|key| !own(key)) {
        return Err(format!("\"{}\" is no property of this tool", text::short(key)));
    }
    let value = feature.geometry.ok_or("the feature has no geometry")?.value;
    if matches!(value, GeometryValue::MultiPoint { .. } | GeometryValue::GeometryCollection { .. }) {
        return Err(format!("a {} is no shape of this tool", value.type_name()));
    }
    if !positions(&value).all(|position| position.len() >= 2) {
        return Err("a position has fewer than two numbers".into());
    }
    let shape: Geometry<f64> = Geometry::try_from(value).map_err(|e| e.to_string())?;
    let bounds = shape.bounding_rect().ok_or("the geometry is empty")?;
    let (low, high) = (bounds.min(), bounds.max());
    if low.x < -180.0 || high.x > 180.0 || low.y < -90.0 || high.y > 90.0 {
        return Err("a position is outside longitude -180 to 180, latitude -90 to 90".into());
    }
    Ok((name, Feature { shape, bounds, properties }))
}

fn positions(value: &GeometryValue) -> Box<dyn Iterator<Item = &Position> + '_> {
    match value {
        GeometryValue::Point { coordinates } => Box::new(std::iter::once(coordinates)),
        GeometryValue::LineString { coordinates } => Box::new(coordinates.iter()),
        GeometryValue::MultiLineString { coordinates } | GeometryValue::Polygon { coordinates } => {
            Box::new(coordinates.iter().flatten())
        }
        GeometryValue::MultiPolygon { coordinates } => Box::new(coordinates.iter().flatten().flatten()),
        // Refused before.
        GeometryValue::MultiPoint { .. } | GeometryValue::GeometryCollection { .. } => {
            Box::new(std::iter::empty())
        }
    }
}

/// Columns in the order in which their properties first appear.
fn columns(features: &[Feature]) -> Vec<Column> {
    let mut found: serde_json::Map<String, Value> = JsonObject::new();
    let mut kinds: Vec<Option<Kind>> = Vec::new();
    for feature in features {
        for (key, value) in &feature.properties {
            let at = match found.get(key).and_then(Value::as_u64) {
                Some(at) => at as usize,
                None => {
                    found.insert(key.clone(), kinds.len().into());
                    kinds.push(None);
                    kinds.len() - 1
                }
            };
            kinds[at] = match (kinds[at], Kind::of(value)) {
                (known, None) => known,
                (None, new) => new,
                (Some(known), Some(new)) => Some(known.with(new)),
            };
        }
    }
    let column = |(name, kind): (String, Option<Kind>)| Column { name, kind: kind.unwrap_or(Kind::Text) };
    found.into_iter().map(|(name, _)| name).zip(kinds).map(column).collect()
}

impl Kind {
    fn of(value: &Value) -> Option<Kind> {
        match value {
            Value::Null => None,
            Value::Bool(_) => Some(Kind::Boolean),
            Value::Number(number) if number.is_i64() => Some(Kind::Integer),
            Value::Number(_) => Some(Kind::Real),
            _ => Some(Kind::Text),
        }
    }

    fn with(self, other: Kind) -> Kind {
        match (self, other) {
            (a, b) if a == b => a,
            (Kind::Integer, Kind::Real) | (Kind::Real, Kind::Integer) => Kind::Real,
            _ => Kind::Text,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn column(values: &[Value]) -> Kind {
        let feature = |value: &Value| {
            serde_json::json!({
                "type": "Feature",
                "geometry": { "type": "Point", "coordinates": [1.0, 2.0] },
                "properties": { "layer": "leg", "a": value },
            })
        };
        let features: Vec<Value> = values.iter().map(feature).collect();
        let whole =
            serde_json::json!({ "type": "FeatureCollection", "tankerloop": {}, "features": features });
        let columns = &read(&whole.to_string(), "test").unwrap().layers[0].columns;
        assert_eq!(columns.len(), 1);
        columns[0].kind
    }

    #[test]
    fn a_column_is_as_wide_as_its_values() {
        let (whole, real, yes, word) =
            (Value::from(3), Value::from(2.5), Value::from(true), Value::from("x"));
        assert_eq!(column(std::slice::from_ref(&whole)), Kind::Integer);
        assert_eq!(column(&[Value::Null, whole.clone(), Value::Null]), Kind::Integer);
        assert_eq!(column(&[whole.clone(), real.clone()]), Kind::Real);
        // Past the largest whole number that SQLite holds, 2^63 - 1.
        assert_eq!(column(&[whole.clone(), Value::from(u64::MAX)]), Kind::Real);
        assert_eq!(column(&[yes.clone(), Value::Null]), Kind::Boolean);
        assert_eq!(column(&[yes, whole]), Kind::Text);
        assert_eq!(column(&[real, word]), Kind::Text);
        assert_eq!(column(&[serde_json::json!([1, 2])]), Kind::Text);
        assert_eq!(column(&[Value::Null]), Kind::Text);
    }
}
