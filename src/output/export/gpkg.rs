//! GeoPackage 1.3 (OGC 12-128r17): a table a layer, a table `about` of what belongs to the whole, and the layers'
//! styles.
//! Requirement numbers are that document's.

use super::{Column, Document, Feature, Kind, Layer, Made, Written, style, text};
use geo::{Geometry, Rect};
use geozero::{CoordDimensions, ToWkb};
use rusqlite::types::Value as Cell;
use rusqlite::{Connection, params, params_from_iter};
use serde_json::Value;
use std::error::Error;
use std::path::Path;

/// Columns of every feature table, and the table of the whole.
pub const KEY: &str = "fid";
pub const SHAPE: &str = "geom";
pub const ABOUT: &str = "about";

const WGS_84: i32 = 4326;

/// Requirements 2 (application_id "GPKG" and version), 10 and 11 (reference systems), 13 and 21 (tables).
const TABLES: &str = r#"
PRAGMA journal_mode = OFF;
PRAGMA synchronous = OFF;
PRAGMA application_id = 0x47504B47;
PRAGMA user_version = 10300;
CREATE TABLE gpkg_spatial_ref_sys (
  srs_name TEXT NOT NULL, srs_id INTEGER PRIMARY KEY, organization TEXT NOT NULL,
  organization_coordsys_id INTEGER NOT NULL, definition TEXT NOT NULL, description TEXT);
INSERT INTO gpkg_spatial_ref_sys VALUES
  ('Undefined Cartesian SRS', -1, 'NONE', -1, 'undefined', 'undefined Cartesian coordinate reference system'),
  ('Undefined geographic SRS', 0, 'NONE', 0, 'undefined', 'undefined geographic coordinate reference system'),
  ('WGS 84 geodetic', 4326, 'EPSG', 4326, 'GEOGCS["WGS 84",DATUM["WGS_1984",SPHEROID["WGS 84",6378137,298.257223563,AUTHORITY["EPSG","7030"]],AUTHORITY["EPSG","6326"]],PRIMEM["Greenwich",0,AUTHORITY["EPSG","8901"]],UNIT["degree",0.0174532925199433,AUTHORITY["EPSG","9122"]],AXIS["Latitude",NORTH],AXIS["Longitude",EAST],AUTHORITY["EPSG","4326"]]', 'longitude and latitude in degrees on the WGS 84 spheroid');
CREATE TABLE gpkg_contents (
  table_name TEXT NOT NULL PRIMARY KEY, data_type TEXT NOT NULL, identifier TEXT UNIQUE,
  description TEXT DEFAULT '', last_change DATETIME NOT NULL DEFAULT (strftime('%Y-%m-%dT%H:%M:%fZ','now')),
  min_x DOUBLE, min_y DOUBLE, max_x DOUBLE, max_y DOUBLE, srs_id INTEGER,
  CONSTRAINT fk_gc_r_srs_id FOREIGN KEY (srs_id) REFERENCES gpkg_spatial_ref_sys(srs_id));
CREATE TABLE gpkg_geometry_columns (
  table_name TEXT NOT NULL, column_name TEXT NOT NULL, geometry_type_name TEXT NOT NULL,
  srs_id INTEGER NOT NULL, z TINYINT NOT NULL, m TINYINT NOT NULL,
  CONSTRAINT pk_geom_cols PRIMARY KEY (table_name, column_name),
  CONSTRAINT uk_gc_table_name UNIQUE (table_name),
  CONSTRAINT fk_gc_tn FOREIGN KEY (table_name) REFERENCES gpkg_contents(table_name),
  CONSTRAINT fk_gc_srs FOREIGN KEY (srs_id) REFERENCES gpkg_spatial_ref_sys(srs_id));
"#;

pub fn write(document: &Document, path: &Path) -> Made {
    let mut file = Connection::open(path)?;
    file.execute_batch(TABLES)?;
    let all = file.transaction()?;
    let notes = text::notes(document).join("\n");
    document.layers.iter().try_for_each(|layer| table(&all, layer, &notes))?;
    about(&all, document)?;
    style::write(&all, document, SHAPE)?;
    all.commit()?;
    file.close().map_err(|(_, e)| e)?;
    Ok(Written::all(document))
}

/// Names are quoted although [`super::read`] lets only plain ones by.
fn quoted(name: &str) -> String {
    format!("\"{}\"", name.replace('"', "\"\""))
}

fn table(to: &Connection, layer: &Layer, notes: &str) -> Result<(), Box<dyn Error>> {
    let typed = |column: &Column| {
        let kind = match column.kind {
            Kind::Boolean => "BOOLEAN",
            Kind::Integer => "INTEGER",
            Kind::Real => "REAL",
            Kind::Text => "TEXT",
        };
        format!(", {} {kind}", quoted(&column.name))
    };
    let name = quoted(&layer.name);
    let geometry = geometry_type(&layer.features);
    let columns: String = layer.columns.iter().map(typed).collect();
    to.execute_batch(&format!(
        "CREATE TABLE {name} ({KEY} INTEGER PRIMARY KEY AUTOINCREMENT NOT NULL, {SHAPE} {geometry}{columns})"
    ))?;
    let corners = layer.features.iter().map(|feature| feature.bounds).reduce(|a, b| {
        let (low, high) = ((a.min(), b.min()), (a.max(), b.max()));
        Rect::new(
            (low.0.x.min(low.1.x), low.0.y.min(low.1.y)),
            (high.0.x.max(high.1.x), high.0.y.max(high.1.y)),
        )
    });
    to.execute(
        "INSERT INTO gpkg_contents (table_name, data_type, identifier, description, min_x, min_y, max_x, max_y, \
         srs_id) VALUES (?1, 'features', ?2, ?3, ?4, ?5, ?6, ?7, ?8)",
        params![
            layer.name,
            layer.name.replace('_', " "),
            notes,
            corners.map(|c| c.min().x),
            corners.map(|c| c.min().y),
            corners.map(|c| c.max().x),
            corners.map(|c| c.max().y),
            WGS_84
        ],
    )?;
    to.execute(
        "INSERT INTO gpkg_geometry_columns VALUES (?1, ?2, ?3, ?4, 0, 0)",
        params![layer.name, SHAPE, geometry, WGS_84],
    )?;
    let names: String = layer.columns.iter().map(|column| format!(", {}", quoted(&column.name))).collect();
    let places: String = layer.columns.iter().map(|_| ", ?").collect();
    let mut insert = to.prepare(&format!("INSERT INTO {name} ({SHAPE}{names}) VALUES (?{places})"))?;
    for feature in &layer.features {
        let cells = layer.columns.iter().map(|column| cell(column, feature.properties.get(&column.name)));
        insert.execute(params_from_iter([Cell::Blob(binary(feature)?)].into_iter().chain(cells)))?;
    }
    Ok(())
}

/// The type that all shapes of a layer have, or that of any.
fn geometry_type(features: &[Feature]) -> &'static str {
    let of = |feature: &Feature| match feature.shape {
        Geometry::Point(_) => "POINT",
        Geometry::LineString(_) => "LINESTRING",
        Geometry::Polygon(_) => "POLYGON",
        Geometry::MultiPoint(_) => "MULTIPOINT",
        Geometry::MultiLineString(_) => "MULTILINESTRING",
        Geometry::MultiPolygon(_) => "MULTIPOLYGON",
        _ => "GEOMETRY",
    };
    let first = features.first().map_or("GEOMETRY", of);
    if features.iter().all(|feature| of(feature) == first) { first } else { "GEOMETRY" }
}

/// GeoPackageBinary (requirement 19) with an envelope: least and greatest x, then least and greatest y.
fn binary(feature: &Feature) -> Result<Vec<u8>, Box<dyn Error>> {
    let (low, high) = (feature.bounds.min(), feature.bounds.max());
    let envelope = vec![low.x, high.x, low.y, high.y];
    Ok(feature.shape.to_gpkg_wkb(CoordDimensions::xy(), Some(WGS_84), envelope)?)
}

fn cell(column: &Column, value: Option<&Value>) -> Cell {
    let Some(value) = value.filter(|value| !value.is_null()) else { return Cell::Null };
    match (column.kind, value) {
        (Kind::Boolean, Value::Bool(yes)) => Cell::Integer(i64::from(*yes)),
        (Kind::Integer, Value::Number(number)) => number.as_i64().map_or(Cell::Null, Cell::Integer),
        (Kind::Real, Value::Number(number)) => number.as_f64().map_or(Cell::Null, Cell::Real),
        (_, value) => text::of(value).map_or(Cell::Null, Cell::Text),
    }
}

/// Version, needed flow, cautions, attribution, findings: lists and objects as JSON.
fn about(to: &Connection, document: &Document) -> Result<(), Box<dyn Error>> {
    to.execute_batch(&format!(
        "CREATE TABLE {ABOUT} ({KEY} INTEGER PRIMARY KEY AUTOINCREMENT NOT NULL, key TEXT NOT NULL, value TEXT);
         INSERT INTO gpkg_contents (table_name, data_type, identifier, description)
         VALUES ('{ABOUT}', 'attributes', '{ABOUT}', 'what belongs to the whole, with cautions and attribution')"
    ))?;
    let mut insert = to.prepare(&format!("INSERT INTO {ABOUT} (key, value) VALUES (?1, ?2)"))?;
    for (key, value) in &document.about {
        insert.execute(params![key, text::of(value)])?;
    }
    Ok(())
}
