//! The outline of a response zone.

use crate::finding::{Code, Outcome, Refusal, Where, read_text};
use crate::overlay::Shape;
use crate::place::Place;
use serde_json::Value;
use std::path::Path;

/// One or more polygons.
#[derive(Clone, Debug)]
pub struct Area {
    pub file: String,
    shapes: Vec<Shape>,
}

impl Area {
    /// Reads GeoJSON: a polygon, a feature that has one, or a collection of such features.
    pub fn read(path: &Path) -> Outcome<Area> {
        let file = path.display().to_string();
        let refuse = |cause: String| {
            let action =
                "write the zone's outline as a GeoJSON Polygon or MultiPolygon, longitude first, WGS 84";
            Refusal::new(Code::FileUnreadable, Where::file(&file), cause, action)
        };
        let whole: Value = serde_json::from_str(&read_text(path)?)
            .map_err(|e| refuse(format!("this is not GeoJSON ({e})")))?;
        let geometry = |feature: &Value| feature.get("geometry").cloned().unwrap_or(Value::Null);
        let geometries = match whole.get("type").and_then(Value::as_str) {
            Some("FeatureCollection") => {
                whole.get("features").and_then(Value::as_array).into_iter().flatten().map(geometry).collect()
            }
            Some("Feature") => vec![geometry(&whole)],
            _ => vec![whole],
        };
        let mut shapes = Vec::new();
        for (i, geometry) in geometries.iter().enumerate() {
            match Shape::read(geometry).map_err(|cause| refuse(format!("feature {}: {cause}", i + 1)))? {
                shape @ Shape::Area(_) => shapes.push(shape),
                other => {
                    return Err(refuse(format!("feature {} is {}, not an area", i + 1, other.as_str())));
                }
            }
        }
        if shapes.is_empty() { Err(refuse("it holds no polygon".into())) } else { Ok(Area { file, shapes }) }
    }

    pub fn contains(&self, place: Place) -> bool {
        self.shapes.iter().any(|shape| shape.contains(place))
    }
}
