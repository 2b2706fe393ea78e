//! One table of all layers: a row a feature, its shape as well-known text (OGC 06-103r4, longitude first).

use super::{Document, Made, Written};
use crate::output::zone_csv::harmless;
use geozero::ToWkt;
use serde_json::Value;
use std::path::Path;

pub const LAYER: &str = "layer";
pub const SHAPE: &str = "geometry_wkt";

pub fn write(document: &Document, path: &Path) -> Made {
    let mut names: Vec<&str> = Vec::new();
    for column in document.layers.iter().flat_map(|layer| &layer.columns) {
        if !names.contains(&column.name.as_str()) {
            names.push(&column.name);
        }
    }
    let mut rows = csv::Writer::from_path(path)?;
    rows.write_record([LAYER].into_iter().chain(names.iter().copied()).chain([SHAPE]))?;
    for layer in &document.layers {
        for feature in &layer.features {
            let cells = names.iter().map(|name| feature.properties.get(*name).map_or(String::new(), cell));
            let shape = feature.shape.to_wkt()?;
            rows.write_record([layer.name.clone()].into_iter().chain(cells).chain([shape]))?;
        }
    }
    rows.flush()?;
    Ok(Written::all(document))
}

/// Numbers stay as they are, a minus before them too; only text could be taken for a formula.
fn cell(value: &Value) -> String {
    match value {
        Value::Null => String::new(),
        Value::String(text) => harmless(text),
        other => other.to_string(),
    }
}
