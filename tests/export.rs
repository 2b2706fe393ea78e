//! `tankerloop export` on answers of the pipeline: what each format holds is what the GeoJSON holds, names
//! from files do no harm, and what is not ours is refused. Readers of others: tests/peers/check_exports.py.

#[path = "support/run.rs"]
mod run;

use quick_xml::events::Event;
use run::{county, folder, layer, repository, tankerloop};
use rusqlite::types::ValueRef;
use rusqlite::{Connection, OpenFlags};
use serde_json::{Value, json};
use std::collections::BTreeSet;
use std::fs::{File, read_to_string};
use std::io::BufReader;
use std::path::{Path, PathBuf};

fn text(path: &Path) -> &str {
    path.to_str().expect("the path is UTF-8")
}

fn json_of(path: &Path) -> Value {
    serde_json::from_str(&read_to_string(path).unwrap()).unwrap()
}

fn exported(answer: &Path, ending: &str) -> PathBuf {
    let to = answer.with_extension(ending);
    let ran = tankerloop(&["export", text(answer), "-o", text(&to)]);
    assert_eq!(ran.code, 0, "{}", ran.err);
    assert!(ran.err.contains("planning aid") && ran.err.contains("OpenStreetMap"), "{}", ran.err);
    let beside = std::fs::read_dir(answer.parent().unwrap()).unwrap();
    let parts =
        beside.filter(|entry| entry.as_ref().unwrap().file_name().to_string_lossy().contains(".part"));
    assert_eq!(parts.count(), 0, "a temporary file was left");
    to
}

fn planned(folder: &Path) -> PathBuf {
    let answer = folder.join("answer.geojson");
    let scenario = folder.join("scenario.toml");
    let ran = tankerloop(&["plan", text(&scenario), "--quiet", "-o", text(&answer)]);
    assert!(ran.code < 2, "{}", ran.err);
    answer
}

fn zoned(folder: &Path) -> PathBuf {
    let zone = folder.join("zone.geojson");
    let scenario = folder.join("scenario.toml");
    let args = ["--longest", "2000", "--sample", "0", "--propose", "1", "--quiet", "-o", text(&zone)];
    let ran = tankerloop(&[&["zone", text(&scenario)], &args[..]].concat());
    assert!(ran.code < 2, "{}", ran.err);
    zone
}

fn layers(answer: &Value) -> BTreeSet<String> {
    let features = answer["features"].as_array().unwrap();
    features.iter().map(|f| f["properties"]["layer"].as_str().unwrap().to_string()).collect()
}

fn features<'a>(answer: &'a Value, layer: &str) -> Vec<&'a Value> {
    let all = answer["features"].as_array().unwrap();
    all.iter().filter(|feature| feature["properties"]["layer"] == layer).collect()
}

/// All numbers of the coordinates, in order.
fn numbers(coordinates: &Value) -> Vec<f64> {
    match coordinates {
        Value::Array(list) => list.iter().flat_map(numbers).collect(),
        number => vec![number.as_f64().unwrap()],
    }
}

fn open(path: &Path) -> Connection {
    Connection::open_with_flags(path, OpenFlags::SQLITE_OPEN_READ_ONLY).unwrap()
}

/// Every property of every feature as the table holds it, the envelope as the coordinates are.
fn geopackage_holds(path: &Path, answer: &Value) {
    let file = open(path);
    let pragma = |name: &str| -> Value {
        let got = file.query_row(&format!("PRAGMA {name}"), [], |row| {
            Ok(match row.get_ref(0)? {
                ValueRef::Integer(number) => json!(number),
                other => json!(other.as_str().unwrap()),
            })
        });
        got.unwrap()
    };
    // OGC 12-128r17, requirement 2: "GPKG" in ASCII, and version 1.3.0.
    assert_eq!(pragma("application_id"), i64::from(u32::from_be_bytes(*b"GPKG")));
    assert_eq!(pragma("user_version"), 10_300);
    assert_eq!(pragma("integrity_check"), "ok");
    assert!(!file.prepare("PRAGMA foreign_key_check").unwrap().exists([]).unwrap());
    let mut contents = file
        .prepare("SELECT table_name FROM gpkg_contents JOIN gpkg_geometry_columns USING (table_name)")
        .unwrap();
    let tables: BTreeSet<String> = contents.query_map([], |row| row.get(0)).unwrap().flatten().collect();
    assert_eq!(tables, layers(answer));
    // A style of its own for each, with its name, which labels by a column that there is.
    let mut styles =
        file.prepare("SELECT f_table_name, styleSLD, f_geometry_column FROM layer_styles").unwrap();
    let mut styles = styles.query([]).unwrap();
    let mut styled = BTreeSet::new();
    while let Some(row) = styles.next().unwrap() {
        let (layer, sld): (String, String) = (row.get(0).unwrap(), row.get(1).unwrap());
        assert_eq!(row.get::<_, String>(2).unwrap(), "geom");
        assert!(sld.contains(&format!("<NamedLayer><Name>{layer}</Name>")), "{sld}");
        let column = |text: &str| text.split("</ogc:PropertyName>").next().unwrap().to_string();
        for key in sld.split("<ogc:PropertyName>").skip(1).map(column) {
            assert!(file.prepare(&format!("SELECT \"{key}\" FROM \"{layer}\"")).is_ok(), "{layer}: {key}");
        }
        styled.insert(layer);
    }
    assert_eq!(styled, tables);
    for table in &tables {
        let wanted = features(answer, table);
        let mut rows = file.prepare(&format!("SELECT * FROM \"{table}\" ORDER BY fid")).unwrap();
        let names: Vec<String> = rows.column_names().map(|name| name.to_string()).collect();
        let mut rows = rows.query([]).unwrap();
        let mut count = 0;
        while let Some(row) = rows.next().unwrap() {
            let feature = wanted[count];
            count += 1;
            let properties = feature["properties"].as_object().unwrap();
            // fid and geom are more, layer is less.
            assert!(names.len() + 1 >= properties.len() + 2, "{table}");
            for (at, name) in names.iter().enumerate().skip(2) {
                let value = properties.get(name).unwrap_or(&Value::Null);
                let same = match (row.get_ref(at).unwrap(), value) {
                    (ValueRef::Null, Value::Null) => true,
                    (ValueRef::Integer(held), Value::Bool(yes)) => held == i64::from(*yes),
                    (ValueRef::Integer(held), Value::Number(number)) => number.as_i64() == Some(held),
                    (ValueRef::Real(held), Value::Number(number)) => number.as_f64() == Some(held),
                    (held @ ValueRef::Text(_), Value::String(word)) => held.as_str().unwrap() == word,
                    (held @ ValueRef::Text(_), Value::Array(_)) => {
                        serde_json::from_str::<Value>(held.as_str().unwrap()).unwrap() == *value
                    }
                    _ => false,
                };
                assert!(same, "{table} {count} {name}: {value}");
            }
            let blob = row.get_ref(1).unwrap().as_blob().unwrap();
            let real = |at: usize| f64::from_le_bytes(blob[at..at + 8].try_into().unwrap());
            // Requirement 19: magic, version 0, little endian with an envelope of x and y, 4326.
            assert_eq!(&blob[..8], [&b"GP"[..], &[0, 0b011], &4326_i32.to_le_bytes()].concat());
            let given = numbers(&feature["geometry"]["coordinates"]);
            let axis = |which: usize| given.iter().copied().skip(which).step_by(2);
            let ends = |which: usize| {
                (axis(which).fold(f64::INFINITY, f64::min), axis(which).fold(f64::NEG_INFINITY, f64::max))
            };
            assert_eq!(((real(8), real(16)), (real(24), real(32))), (ends(0), ends(1)), "{table} {count}");
        }
        assert_eq!(count, wanted.len(), "{table}");
    }
    let cautions: String =
        file.query_row("SELECT value FROM about WHERE key = 'cautions'", [], |row| row.get(0)).unwrap();
    assert_eq!(serde_json::from_str::<Value>(&cautions).unwrap(), answer["tankerloop"]["cautions"]);
}

/// Elements of an XML file that hold text, each with its path; nothing where it is not well-formed.
fn leaves(path: &Path) -> Vec<(String, String)> {
    let mut reader = quick_xml::Reader::from_file(path).unwrap();
    let (mut found, mut at, mut held, mut buffer) = (Vec::new(), Vec::new(), String::new(), Vec::new());
    loop {
        match reader.read_event_into(&mut buffer).unwrap() {
            Event::Start(tag) => {
                at.push(String::from_utf8(tag.name().as_ref().to_vec()).unwrap());
                held.clear();
            }
            Event::Text(piece) => held.push_str(&piece.decode().unwrap()),
            Event::GeneralRef(name) => {
                let escaped = format!("&{};", name.decode().unwrap());
                held.push_str(&quick_xml::escape::unescape(&escaped).unwrap());
            }
            Event::End(_) => {
                if !held.trim().is_empty() {
                    found.push((at.join("/"), std::mem::take(&mut held)));
                }
                at.pop();
                held.clear();
            }
            Event::Eof => break,
            _ => {}
        }
        buffer.clear();
    }
    assert!(at.is_empty());
    found
}

/// Folders with their placemarks counted, and all numbers of all coordinates, in order.
fn kml_holds(path: &Path, answer: &Value) {
    let leaves = leaves(path);
    let mut folders: Vec<(String, usize)> = Vec::new();
    let mut held: Vec<f64> = Vec::new();
    for (at, text) in &leaves {
        if at == "kml/Document/Folder/name" {
            folders.push((text.clone(), 0));
        } else if at == "kml/Document/Folder/Placemark/name" {
            folders.last_mut().unwrap().1 += 1;
        } else if at.ends_with("/coordinates") {
            held.extend(text.split([' ', ',']).map(|number| number.parse::<f64>().unwrap()));
        }
    }
    let all = folders.iter().flat_map(|(layer, _)| features(answer, layer));
    let given: Vec<f64> = all.flat_map(|feature| numbers(&feature["geometry"]["coordinates"])).collect();
    assert_eq!(folders.len(), layers(answer).len());
    for (name, count) in &folders {
        assert_eq!(*count, layer(answer, name).len(), "{name}");
    }
    assert!(held == given, "coordinates differ");
}

/// Every cell; a text that begins as a formula has an apostrophe before it.
fn csv_holds(path: &Path, answer: &Value) {
    let mut rows = csv::Reader::from_path(path).unwrap();
    let head = rows.headers().unwrap().clone();
    let all = answer["features"].as_array().unwrap();
    let mut ordered: Vec<&Value> = Vec::new();
    for feature in all {
        let name = feature["properties"]["layer"].as_str().unwrap();
        if ordered.iter().all(|known| known["properties"]["layer"] != name) {
            ordered.extend(features(answer, name));
        }
    }
    let mut count = 0;
    for (row, feature) in rows.records().zip(&ordered) {
        let row = row.unwrap();
        count += 1;
        for (name, cell) in head.iter().zip(&row) {
            let value = &feature["properties"][name];
            let wanted = match value {
                _ if name == "geometry_wkt" => {
                    let digits = |c: char| c.is_ascii_digit() || c == '-' || c == '.';
                    let words = cell.split(|c: char| !digits(c)).filter(|word| !word.is_empty());
                    let held: Vec<f64> = words.map(|number| number.parse().unwrap()).collect();
                    assert_eq!(held, numbers(&feature["geometry"]["coordinates"]));
                    continue;
                }
                Value::Null => String::new(),
                Value::String(word) if word.starts_with(['=', '+', '-', '@', '\t', '\r']) => {
                    format!("'{word}")
                }
                Value::String(word) => word.clone(),
                other => other.to_string(),
            };
            assert_eq!(cell, wanted, "{name} of row {count}");
        }
    }
    assert_eq!(count, all.len());
}

fn gpx_holds(path: &Path, answer: &Value) {
    let file = gpx::read(BufReader::new(File::open(path).unwrap())).unwrap();
    let legs = features(answer, "leg");
    assert_eq!(file.routes.len(), legs.len());
    let mut names = BTreeSet::new();
    for (route, leg) in file.routes.iter().zip(legs) {
        let held: Vec<f64> = route.points.iter().flat_map(|p| [p.point().x(), p.point().y()]).collect();
        assert_eq!(held, numbers(&leg["geometry"]["coordinates"]));
        let name = route.name.clone().unwrap();
        let start = format!(
            "Option {}, {} ",
            leg["properties"]["option"],
            leg["properties"]["leg"].as_str().unwrap()
        );
        assert!(name.starts_with(&start), "{name}");
        assert!(route.description.as_ref().unwrap().len() > 10);
        assert!(names.insert(name), "two routes have one name");
    }
    let all = answer["features"].as_array().unwrap();
    let points: Vec<&Value> = all.iter().filter(|feature| feature["geometry"]["type"] == "Point").collect();
    assert_eq!(file.waypoints.len(), points.len());
    for feature in points {
        let given = numbers(&feature["geometry"]["coordinates"]);
        let kind = feature["properties"]["layer"].as_str();
        let is =
            |p: &&gpx::Waypoint| [p.point().x(), p.point().y()] == given[..] && p.type_.as_deref() == kind;
        assert!(file.waypoints.iter().find(is).is_some(), "{feature}");
    }
}

#[test]
fn the_demo_in_every_format() {
    let folder = county("export-demo");
    let path = planned(&folder);
    let answer = json_of(&path);
    let kinds = ["incident", "fill_site", "dump_site", "supply_line", "staging", "loop", "leg", "road_note"];
    assert_eq!(layers(&answer), kinds.map(String::from).into());
    geopackage_holds(&exported(&path, "gpkg"), &answer);
    gpx_holds(&exported(&path, "gpx"), &answer);
    kml_holds(&exported(&path, "kml"), &answer);
    csv_holds(&exported(&path, "csv"), &answer);

    let file = open(&path.with_extension("gpkg"));
    let kind = |column: &str| -> String {
        let of = "SELECT type FROM pragma_table_info('dump_site') WHERE name = ?1";
        file.query_row(of, [column], |row| row.get(0)).unwrap()
    };
    let kinds = ["meets_need", "tankers", "ceiling_flow_gpm", "road"].map(kind);
    assert_eq!(kinds, ["BOOLEAN", "INTEGER", "REAL", "TEXT"].map(String::from));

    // What a format has no place for is told.
    let ran = tankerloop(&["export", text(&path), "-o", text(&path.with_extension("GPX"))]);
    let told = format!(
        "no place for them: {} supply_line, {} loop",
        layer(&answer, "supply_line").len(),
        layer(&answer, "loop").len()
    );
    assert!(ran.code == 0 && ran.err.contains(&told), "{}", ran.err);
}

/// Areas with holes, and columns that are lists.
#[test]
fn a_zone_in_every_format() {
    let folder = county("export-zone");
    let path = zoned(&folder);
    let answer = json_of(&path);
    assert_eq!(layers(&answer), ["stretch", "fill_site", "gap", "proposal"].map(String::from).into());
    let holes =
        features(&answer, "gap").into_iter().flat_map(|gap| gap["geometry"]["coordinates"].as_array());
    assert!(holes.flatten().any(|area| area.as_array().unwrap().len() > 1), "no gap has a hole");
    geopackage_holds(&exported(&path, "gpkg"), &answer);
    gpx_holds(&exported(&path, "gpx"), &answer);
    kml_holds(&exported(&path, "kml"), &answer);
    csv_holds(&exported(&path, "csv"), &answer);
}

#[test]
fn hostile_names_do_no_harm() {
    let folder = county("export-hostile");
    let long = "Pond of a very long name ".repeat(400);
    assert_eq!(long.len(), 10_000);
    let names = [
        "</name></Placemark><script>alert(1)</script>'\"&lt;]]>",
        "=HYPERLINK(\"http://127.0.0.1/\",\"tap\")",
        "Mill \u{202e}dnop\u{2066} \u{200f}end'); DROP TABLE leg;--",
        long.trim_end(),
    ];
    let file = folder.join("fill-sites.geojson");
    let mut sites = json_of(&file);
    for (i, site) in sites["features"].as_array_mut().unwrap().iter_mut().enumerate() {
        if let Some(name) = names.get(i) {
            site["properties"]["name"] = json!(name);
            site["properties"]["note"] = json!(name);
        }
    }
    std::fs::write(&file, sites.to_string()).unwrap();
    let path = planned(&folder);
    let answer = json_of(&path);
    let kept: Vec<&str> =
        layer(&answer, "fill_site").iter().filter_map(|site| site["name"].as_str()).collect();
    assert!(names.iter().all(|name| kept.contains(name)), "the planner itself changed a name: {kept:?}");

    // As data they are whole, to the character; a spreadsheet sees no formula.
    geopackage_holds(&exported(&path, "gpkg"), &answer);
    csv_holds(&exported(&path, "csv"), &answer);
    let table = read_to_string(path.with_extension("csv")).unwrap();
    assert!(table.contains("'=HYPERLINK") && !table.contains(",\"=HYPERLINK"));

    // In texts for people they are bounded, and no mark-up nor a turn of direction.
    kml_holds(&exported(&path, "kml"), &answer);
    gpx_holds(&exported(&path, "gpx"), &answer);
    for ending in ["kml", "gpx"] {
        let leaves = leaves(&path.with_extension(ending));
        let turns =
            |c: char| ('\u{202a}'..='\u{202e}').contains(&c) || ('\u{2066}'..='\u{2069}').contains(&c);
        assert!(leaves.iter().all(|(_, text)| !text.contains(turns)), "{ending}");
        let names = leaves.iter().filter(|(at, _)| at.ends_with("/name"));
        assert!(names.clone().all(|(_, name)| name.chars().count() <= 120), "{ending}");
        assert!(names.filter(|(_, name)| name.ends_with('…')).count() > 0, "{ending}");
        let whole = |(at, text): &(String, String)| at.contains("desc") && text.contains(long.trim_end());
        assert!(leaves.iter().any(whole), "{ending}: the long name is nowhere whole");
    }
    for (at, text) in leaves(&path.with_extension("kml")) {
        // Read as HTML, nothing but line breaks is mark-up.
        let markup = text.replace("<br/>", "");
        assert!(!markup.contains(['<', '>']), "{at}: {text}");
    }
}

#[test]
fn what_is_not_ours_is_refused_in_a_line() {
    let folder = folder("export-refused");
    let point = json!({ "type": "Point", "coordinates": [1.0, 2.0] });
    let written = |name: &str, geometry: Value, properties: Value, about: Value| {
        let feature = json!({ "type": "Feature", "geometry": geometry, "properties": properties });
        let whole = json!({ "type": "FeatureCollection", "features": [feature], "tankerloop": about });
        let path = folder.join(name);
        std::fs::write(&path, whole.to_string()).unwrap();
        path
    };
    let ours = json!({ "layer": "leg", "option": 1 });
    let with = |geometry: Value| written("shape.geojson", geometry, ours.clone(), json!({}));
    let held = folder.join("held.gpkg");
    std::fs::write(&held, "kept").unwrap();
    let refused = |from: &Path, to: &Path, why: &str, remedy: &str| {
        let ran = tankerloop(&["export", text(from), "-o", text(to)]);
        assert_eq!(ran.code, 2, "{why}: {}", ran.err);
        assert!(ran.err.contains(why) && ran.err.contains(remedy), "{why}: {}", ran.err);
        assert_eq!(ran.err.lines().count(), 1, "{}", ran.err);
        assert_eq!(std::fs::read_to_string(&held).unwrap(), "kept");
    };
    let good = written("good.geojson", point.clone(), ours.clone(), json!({}));
    for name in ["answer.shp", "answer", "gpkg"] {
        refused(&good, &folder.join(name), "no format", ".gpkg, .gpx, .kml or .csv");
        assert!(!folder.join(name).exists());
    }
    let give = "tankerloop plan -o";
    refused(&repository("README.md"), &held, "no GeoJSON", give);
    refused(&repository("data/county/fill-sites.geojson"), &held, "another program", give);
    refused(&folder.join("nowhere.geojson"), &held, "file-missing", give);
    refused(&with(json!(null)), &held, "row 1: the feature has no geometry", give);
    refused(&with(json!({ "type": "Point", "coordinates": [200.0, 2.0] })), &held, "outside", give);
    refused(&with(json!({ "type": "LineString", "coordinates": [] })), &held, "empty", give);
    refused(&with(json!({ "type": "Point", "coordinates": [1.0] })), &held, "two or more", give);
    let short = json!({ "type": "LineString", "coordinates": [[1.0], [2.0, 3.0]] });
    refused(&with(short), &held, "fewer than two", give);
    refused(&with(json!({ "type": "MultiPoint", "coordinates": [[1.0, 2.0]] })), &held, "no shape of", give);
    let several = json!({ "type": "GeometryCollection", "geometries": [point] });
    refused(&with(several), &held, "no shape of", give);
    for layer in ["", "about", "sqlite_master", "gpkg_contents", "a\"; DROP TABLE leg", "<b>"] {
        let from = written("layer.geojson", point.clone(), json!({ "layer": layer }), json!({}));
        refused(&from, &held, "no layer of this tool", give);
    }
    for key in ["fid", "geom", "geometry_wkt", "A", "a b", "x\"y"] {
        let from = written("key.geojson", point.clone(), json!({ "layer": "leg", key: 1 }), json!({}));
        refused(&from, &held, "no property of this tool", give);
    }
    let nowhere = folder.join("nowhere").join("a.gpkg");
    refused(&good, &nowhere, "cannot be written", "folder that exists");
    // And the good one replaces what was there.
    let ran = tankerloop(&["export", text(&good), "-o", text(&held)]);
    assert_eq!(ran.code, 0, "{}", ran.err);
    geopackage_count(&held, 1);
}

fn geopackage_count(path: &Path, legs: i64) {
    let count: i64 = open(path).query_row("SELECT count(*) FROM leg", [], |row| row.get(0)).unwrap();
    assert_eq!(count, legs);
}

/// Names of all commands, from the help.
fn commands() -> Vec<String> {
    let help = tankerloop(&["--help"]).text().to_string();
    let (_, rest) = help.split_once("Commands:\n").unwrap();
    let listed = rest.lines().take_while(|line| !line.starts_with("Options"));
    let named = listed.filter(|line| line.starts_with("  ") && !line.starts_with("   "));
    let names: Vec<String> = named.filter_map(|line| Some(line.split_whitespace().next()?.into())).collect();
    assert!(names.len() > 10 && names.contains(&"export".to_string()), "{names:?}");
    names.into_iter().filter(|name| name != "help").collect()
}

#[test]
fn completions_name_every_command() {
    for shell in ["bash", "zsh", "fish", "elvish", "powershell"] {
        let ran = tankerloop(&["completions", shell]);
        assert_eq!(ran.code, 0, "{}", ran.err);
        for command in commands() {
            assert!(ran.text().contains(&command), "{shell} lacks {command}");
        }
        assert!(ran.text().contains("replications"), "{shell} lacks the options");
    }
}

#[test]
fn manual_pages_name_every_command() {
    let folder = folder("export-manual").join("man1");
    let ran = tankerloop(&["manual", text(&folder)]);
    assert_eq!(ran.code, 0, "{}", ran.err);
    let whole = read_to_string(folder.join("tankerloop.1")).unwrap();
    for command in commands() {
        assert!(whole.contains(&format!("tankerloop\\-{command}(1)")), "{command}");
        let page = read_to_string(folder.join(format!("tankerloop-{command}.1"))).unwrap();
        assert!(page.contains(".SH DESCRIPTION"), "{command}");
    }
}
