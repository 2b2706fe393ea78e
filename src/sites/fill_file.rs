//! Reads fill sites from GeoJSON and CSV: the same columns, the same checks, every bad row named.

use crate::finding::{Code, Finding, Findings, Outcome, Refusal, Where, read_text};
use crate::place::{NotAPlace, Place};
use crate::sites::fill::{FillSite, Kind};
use crate::sites::fill_row::check;
use std::collections::BTreeMap;
use std::path::Path;

/// Columns (CSV) or properties (GeoJSON), with the kinds of site they mean something for; none means
/// all. CSV has `lon` and `lat` besides.
pub(super) const COLUMNS: [(&str, &[Kind]); 32] = [
    ("name", &[]),
    ("kind", &[]),
    ("flow_gpm", &[]),
    ("static_psi", &[Kind::Hydrant]),
    ("residual_psi", &[Kind::Hydrant]),
    ("outlet_in", &[Kind::Hydrant]),
    ("pitot_psi", &[Kind::Hydrant]),
    ("volume_gal", &[]),
    ("berths", &[]),
    ("season", &[]),
    ("ice", &[]),
    ("handling_s", &[]),
    ("lift_ft", DRAFTED),
    ("drought_lift_ft", DRAFTED),
    ("pump_gpm", DRAFTED),
    ("suction_in", DRAFTED),
    ("suctions", DRAFTED),
    ("pipe_in", &[Kind::DryHydrant]),
    ("pipe_ft", &[Kind::DryHydrant]),
    ("elbows_90", &[Kind::DryHydrant]),
    ("elbows_45", &[Kind::DryHydrant]),
    ("reducers", &[Kind::DryHydrant]),
    ("width_ft", &[Kind::Stream]),
    ("depth_ft", &[Kind::Stream]),
    ("float_ft", &[Kind::Stream]),
    ("float_s", &[Kind::Stream]),
    ("acres", &[Kind::Pond]),
    ("usable_depth_ft", &[Kind::Pond]),
    ("shares", &[]),
    ("shared_gpm", &[]),
    ("in_service", &[]),
    ("note", &[]),
];
/// Names of the columns.
pub fn columns() -> impl Iterator<Item = &'static str> {
    COLUMNS.into_iter().map(|(name, _)| name)
}

/// Kinds at which a pump lifts the water.
const DRAFTED: &[Kind] = &[Kind::DryHydrant, Kind::Draft, Kind::Stream, Kind::Pond, Kind::Cistern];

/// One row before it is checked: every value as text.
pub(super) struct Row {
    pub number: usize,
    pub place: Result<Place, NotAPlace>,
    pub values: BTreeMap<String, String>,
}

/// Reads a site list; the file's ending says which kind it is.
pub fn read(path: &Path, findings: &mut Findings) -> Outcome<Vec<FillSite>> {
    let file = path.display().to_string();
    let text = read_text(path)?;
    let ending = path.extension().and_then(|e| e.to_str()).unwrap_or_default().to_ascii_lowercase();
    let rows = match ending.as_str() {
        "geojson" | "json" => geojson_rows(&text, &file)?,
        "csv" => csv_rows(&text, &file)?,
        _ => {
            return Err(Refusal::new(
                Code::FileUnreadable,
                Where::file(&file),
                "a site list is a .geojson or .csv file",
                "name the file by its kind",
            ));
        }
    };
    let mut found = Findings::new();
    let sites: Vec<FillSite> = rows.into_iter().filter_map(|row| check(row, &file, &mut found)).collect();
    let mut names: Vec<&str> = sites.iter().map(|s| s.name.as_str()).collect();
    names.sort_unstable();
    for pair in names.windows(2).filter(|pair| pair[0] == pair[1]) {
        found.add(Finding::new(
            Code::InputInvalid,
            Where::file(&file).named(pair[0]),
            "two sites share this name",
            "give every site its own name",
        ));
    }
    found.refuse_errors()?;
    findings.extend(found);
    Ok(sites)
}

fn csv_rows(text: &str, file: &str) -> Outcome<Vec<Row>> {
    let mut reader =
        csv::ReaderBuilder::new().trim(csv::Trim::All).comment(Some(b'#')).from_reader(text.as_bytes());
    let broken = |e: csv::Error| {
        let row = e.position().map(|p| p.line() as usize);
        let place = row.map_or(Where::file(file), |row| Where::file(file).row(row));
        Refusal::new(Code::FileUnreadable, place, format!("the row cannot be read ({e})"), "mend the row")
    };
    let headers = reader.headers().map_err(broken)?.clone();
    for wanted in ["name", "kind", "lon", "lat"] {
        if !headers.iter().any(|h| h == wanted) {
            return Err(Refusal::new(
                Code::InputInvalid,
                Where::file(file).row(1),
                format!("the column \"{wanted}\" is missing"),
                format!("give the columns lon, lat, {}", columns().collect::<Vec<_>>().join(", ")),
            ));
        }
    }
    let mut rows = Vec::new();
    let mut bad = Vec::new();
    for record in reader.records() {
        let record = match record {
            Ok(record) => record,
            Err(e) => {
                bad.extend(broken(e).0);
                continue;
            }
        };
        let number = record.position().map_or(0, |p| p.line() as usize);
        let mut values: BTreeMap<String, String> = headers
            .iter()
            .zip(record.iter())
            .filter(|(_, value)| !value.is_empty())
            .map(|(key, value)| (key.to_string(), value.to_string()))
            .collect();
        let lon = values.remove("lon").unwrap_or_default();
        let lat = values.remove("lat").unwrap_or_default();
        rows.push(Row { number, place: format!("{lon},{lat}").parse(), values });
    }
    if bad.is_empty() { Ok(rows) } else { Err(Refusal(bad)) }
}

fn geojson_rows(text: &str, file: &str) -> Outcome<Vec<Row>> {
    let refuse = |row: Option<usize>, cause: String, action: &str| {
        let place = row.map_or(Where::file(file), |row| Where::file(file).row(row));
        Refusal::new(Code::FileUnreadable, place, cause, action)
    };
    let parsed: geojson::GeoJson = text
        .parse()
        .map_err(|e| refuse(None, format!("this is not GeoJSON ({e})"), "export the sites as GeoJSON"))?;
    let geojson::GeoJson::FeatureCollection(collection) = parsed else {
        return Err(refuse(None, "the sites must be a FeatureCollection".into(), "export them as one"));
    };
    let mut rows = Vec::new();
    for (i, feature) in collection.features.into_iter().enumerate() {
        let number = i + 1;
        let Some(geojson::GeometryValue::Point { coordinates: at }) = feature.geometry.map(|g| g.value)
        else {
            return Err(refuse(
                Some(number),
                "a fill site is a Point; this feature is not".into(),
                "give the place where the tanker stands as a Point",
            ));
        };
        let values = feature
            .properties
            .unwrap_or_default()
            .into_iter()
            .filter_map(|(key, value)| {
                let text = match value {
                    serde_json::Value::Null => return None,
                    serde_json::Value::String(text) => text,
                    other => other.to_string(),
                };
                Some((key, text))
            })
            .collect();
        let at = at.as_slice();
        let (lon, lat) = (at.first().copied().unwrap_or(f64::NAN), at.get(1).copied().unwrap_or(f64::NAN));
        rows.push(Row { number, place: Place::from_lon_lat(lon, lat), values });
    }
    Ok(rows)
}
