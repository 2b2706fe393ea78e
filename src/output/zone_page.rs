//! A zone as the map page: the GeoJSON that is handed out, packed into columns, since a zone has thousands
//! of stretches. src/web/page/zone.ts unpacks it. Every property of a stretch is a column, whatever it is:
//! texts by their number in one list, the rest as it stands in the GeoJSON.

use crate::output::backdrop;
use crate::output::page::{filled, word};
use crate::output::walk::Walk;
use crate::place::{Bounds, Place};
use crate::roads::network::Network;
use crate::units::Shown;
use serde_json::{Map, Value, json};
use std::collections::HashMap;
use std::path::Path;

/// A stretch is drawn over its road, which the background draws no finer.
const STRETCH_TOLERANCE_M: f64 = 1.5;
/// The outline of a gap runs 60 m beside its road and has round corners of many points.
const GAP_TOLERANCE_M: f64 = 8.0;

/// The area that the page of a zone shows: what it holds, and some ground around it.
fn area(zone: &Value) -> Option<Bounds> {
    let bbox: Vec<f64> = zone["bbox"].as_array()?.iter().filter_map(Value::as_f64).collect();
    let [west, south, east, north] = bbox[..] else { return None };
    let west_south = Place::from_lon_lat(west, south).ok()?;
    let east_north = Place::from_lon_lat(east, north).ok()?;
    Some(backdrop::area(&Bounds { west_south, east_north }))
}

/// `zone` is what `zone::write` wrote; `file` the road file, for water, woods and settlements.
pub fn write(zone: &Value, network: &Network, file: &Path, units: Shown) -> String {
    let map = area(zone).map_or(Value::Null, |area| backdrop::read(network, file, &area));
    let about = json!({ "units": word(units) });
    filled(&[("zone", &pack(zone).to_string()), ("about", &about.to_string()), ("map", &map.to_string())])
}

fn pack(zone: &Value) -> Value {
    let nothing = Vec::new();
    let features = zone["features"].as_array().unwrap_or(&nothing);
    let of = |layer: &'static str| features.iter().filter(move |f| f["properties"]["layer"] == layer);
    let corner = area(zone).map_or(Place::from_e7(0, 0), |area| area.west_south);
    let (fine, coarse) =
        (Walk { corner, tolerance_m: STRETCH_TOLERANCE_M }, Walk { corner, tolerance_m: GAP_TOLERANCE_M });
    let lines = of("stretch").map(|f| fine.steps(&places(&f["geometry"]["coordinates"])));
    let gaps = of("gap").map(|f| {
        let mut gap = f["properties"].clone();
        gap["area"] = each(&f["geometry"]["coordinates"], |polygon| {
            each(polygon, |ring| json!(coarse.steps(&places(ring))))
        });
        gap
    });
    let point = |f: &Value| {
        let mut place = f["properties"].clone();
        place["at"] = f["geometry"]["coordinates"].clone();
        place
    };
    json!({
        "tankerloop": zone["tankerloop"],
        "bbox": zone["bbox"],
        "origin": fine.origin(),
        "lines": lines.collect::<Vec<_>>(),
        "stretches": columns(of("stretch").filter_map(|f| f["properties"].as_object())),
        "gaps": gaps.collect::<Vec<Value>>(),
        "proposals": of("proposal").map(point).collect::<Vec<Value>>(),
        "fill_sites": of("fill_site").map(point).collect::<Vec<Value>>(),
    })
}

fn each(list: &Value, of: impl Fn(&Value) -> Value) -> Value {
    list.as_array().map_or(Value::Null, |list| list.iter().map(of).collect())
}

fn places(coordinates: &Value) -> Vec<Place> {
    let place = |pair: &Value| Place::from_lon_lat(pair[0].as_f64()?, pair[1].as_f64()?).ok();
    coordinates.as_array().into_iter().flatten().filter_map(place).collect()
}

/// `texts`: the texts of all columns. `columns`: by property either `{"text": [number of the text or null or
/// a list of such]}` or `{"plain": [value]}`.
fn columns<'v>(rows: impl Iterator<Item = &'v Map<String, Value>>) -> Value {
    let mut texts: Vec<&str> = Vec::new();
    let mut index_of: HashMap<&str, usize> = HashMap::new();
    let mut columns: Vec<(&str, bool, Vec<Value>)> = Vec::new();
    for (row, properties) in rows.enumerate() {
        for (key, value) in properties.iter().filter(|(key, _)| *key != "layer") {
            let found = columns.iter().position(|(name, ..)| name == key);
            let place = found.unwrap_or_else(|| {
                columns.push((key, false, vec![Value::Null; row]));
                columns.len() - 1
            });
            let mut number = |text: &'v str| {
                *index_of.entry(text).or_insert_with(|| {
                    texts.push(text);
                    texts.len() - 1
                })
            };
            let (_, is_text, column) = &mut columns[place];
            let cell = match value {
                Value::String(text) => json!(number(text)),
                Value::Array(list) => list.iter().filter_map(Value::as_str).map(number).collect(),
                plain => plain.clone(),
            };
            *is_text |= matches!(value, Value::String(_) | Value::Array(_));
            column.push(cell);
        }
    }
    let columns = columns.into_iter().map(|(key, is_text, column)| {
        (key.to_string(), if is_text { json!({ "text": column }) } else { json!({ "plain": column }) })
    });
    json!({ "columns": columns.collect::<Map<String, Value>>(), "texts": texts })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn columns_hold_what_the_rows_held() {
        let rows = json!([
            { "layer": "stretch", "road": "A", "gpm": 1.5, "sites": ["x", "y"], "best": null },
            { "layer": "stretch", "road": "", "gpm": null, "sites": [], "best": "y" },
        ]);
        let packed = columns(rows.as_array().unwrap().iter().filter_map(Value::as_object));
        assert_eq!(packed["texts"], json!(["A", "x", "y", ""]));
        assert_eq!(packed["columns"]["road"]["text"], json!([0, 3]));
        assert_eq!(packed["columns"]["gpm"]["plain"], json!([1.5, null]));
        assert_eq!(packed["columns"]["sites"]["text"], json!([[1, 2], []]));
        // A column whose first cell is nothing is still one of texts.
        assert_eq!(packed["columns"]["best"]["text"], json!([null, 2]));
        assert!(packed["columns"].get("layer").is_none());
    }
}
