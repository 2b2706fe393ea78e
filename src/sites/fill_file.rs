//! Reads fill sites from GeoJSON and CSV: the same columns, the same checks, every bad row named.

use crate::finding::{Code, Finding, Findings, Outcome, Refusal, Where, read_text};
use crate::place::{NotAPlace, Place};
use crate::sites::fill::{FillSite, Season};
use crate::units::{Feet, Gallons, GallonsPerMinute, Psi, Seconds};
use std::collections::BTreeMap;
use std::path::Path;

/// Columns (CSV) or properties (GeoJSON). CSV has `lon` and `lat` besides.
const COLUMNS: [&str; 12] = [
    "name",
    "kind",
    "flow_gpm",
    "static_psi",
    "residual_psi",
    "volume_gal",
    "berths",
    "season",
    "handling_s",
    "lift_ft",
    "in_service",
    "note",
];

/// One row before it is checked: every value as text.
struct Row {
    number: usize,
    place: Result<Place, NotAPlace>,
    values: BTreeMap<String, String>,
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
                format!("give the columns lon, lat, {}", COLUMNS.join(", ")),
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

/// Turns a row into a site; what is wrong with it goes to `found`, all of it.
fn check(mut row: Row, file: &str, found: &mut Findings) -> Option<FillSite> {
    let name = row.values.remove("name").unwrap_or_default();
    let origin = Where::file(file).row(row.number);
    let before = found.len();
    let mut wrong = |cause: String, action: &str| {
        found.add_new(Finding::new(Code::InputInvalid, origin.clone().named(name.clone()), cause, action));
    };
    if name.trim().is_empty() {
        wrong("the site has no name".into(), "give every site its own name");
    }
    let place = match row.place {
        Ok(place) => Some(place),
        Err(e) => {
            wrong(e.to_string(), "write longitude first, in decimal degrees");
            None
        }
    };
    let mut take = |key: &str| row.values.remove(key);
    let kind = match take("kind") {
        None => {
            wrong("the kind is missing".into(), "say what the site is: hydrant, dry-hydrant, draft, …");
            None
        }
        Some(text) => match text.parse() {
            Ok(kind) => Some(kind),
            Err(e) => {
                wrong(e, "correct the kind");
                None
            }
        },
    };
    let mut number = |key: &str, least: f64| -> Option<f64> {
        let text = take(key)?;
        match text.parse::<f64>() {
            Ok(value) if value.is_finite() && value > least => Some(value),
            _ => {
                wrong(
                    format!("{key} = {text} is not a number greater than {least}"),
                    "correct it or leave it empty",
                );
                None
            }
        }
    };
    let flow = number("flow_gpm", 0.0);
    let static_psi = number("static_psi", 0.0);
    let residual_psi = number("residual_psi", 0.0);
    let volume = number("volume_gal", 0.0);
    let berths = number("berths", 0.0);
    let handling = number("handling_s", -1e-9);
    let lift = number("lift_ft", -100.0);
    if berths.is_some_and(|b| b.fract() != 0.0 || b > 50.0) {
        wrong("berths is not a whole number from 1 to 50".into(), "give the tankers filled at once");
    }
    let season = match row.values.remove("season").unwrap_or_default().parse() {
        Ok(season) => season,
        Err(e) => {
            wrong(e, "correct the season");
            Season::ALL_YEAR
        }
    };
    let in_service = match row.values.remove("in_service").as_deref() {
        None | Some("true" | "yes" | "1") => true,
        Some("false" | "no" | "0") => false,
        Some(other) => {
            wrong(format!("in_service = {other} is neither true nor false"), "write true or false");
            true
        }
    };
    let note = row.values.remove("note").unwrap_or_default();
    for key in row.values.keys() {
        found.add_new(Finding::new(
            Code::ColumnIgnored,
            origin.clone().named(name.clone()),
            format!("\"{key}\" is not a column this reader knows"),
            "check the spelling; it was left out",
        ));
    }
    let only_notes = found.iter().skip(before).all(|f| f.code == Code::ColumnIgnored);
    let (place, kind) = (place?, kind?);
    only_notes.then_some(FillSite {
        name,
        kind,
        place,
        flow: flow.map(GallonsPerMinute),
        static_pressure: static_psi.map(Psi),
        residual_pressure: residual_psi.map(Psi),
        volume: volume.map(Gallons),
        berths: berths.unwrap_or(1.0) as u32,
        season,
        handling: handling.map(Seconds),
        lift: lift.map(Feet),
        in_service,
        verified: true,
        note,
        origin,
    })
}
