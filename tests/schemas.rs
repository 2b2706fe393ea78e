//! The schemas in data/ against what the tool writes and reads: they accept all of it, and refuse
//! it once it is broken.

#[path = "support/extracts.rs"]
#[allow(dead_code)]
mod extracts;
#[path = "support/run.rs"]
mod run;

use jsonschema::Validator;
use run::{folder, layer, repository, tankerloop};
use serde_json::{Value, json};
use std::collections::BTreeSet;
use std::path::Path;

fn schema(name: &str) -> (Validator, Value) {
    let path = repository(&format!("data/{name}.schema.json"));
    let text = std::fs::read_to_string(&path).expect("the schema is in data/");
    let schema: Value = serde_json::from_str(&text).expect("the schema is JSON");
    assert!(jsonschema::meta::is_valid(&schema), "{name}: not a schema of its own draft");
    (jsonschema::validator_for(&schema).expect("the schema compiles"), schema)
}

fn accepts(schema: &Validator, instance: &Value, what: &str) {
    let errors: Vec<String> =
        schema.iter_errors(instance).map(|e| format!("{}: {e}", e.instance_path())).collect();
    assert!(errors.is_empty(), "{what}:\n{}", errors.join("\n"));
}

fn toml_file(path: &Path) -> Value {
    let text = std::fs::read_to_string(path).expect("the file is there");
    let table: toml::Table = toml::from_str(&text).expect("the file is TOML");
    serde_json::to_value(table).expect("TOML without dates is JSON")
}

fn county_plan(extra: &[&str]) -> Value {
    let scenario = repository("data/county/scenario.toml");
    let mut args = vec!["plan", scenario.to_str().unwrap(), "--quiet", "--replications", "50"];
    args.extend(extra);
    let ran = tankerloop(&args);
    assert!(ran.code < 2, "{extra:?}: {}", ran.err);
    ran.json()
}

fn county_zone(extra: &[&str]) -> Value {
    let scenario = repository("data/county/scenario.toml");
    let sites = repository("data/county/extra-sites.csv");
    let mut args = vec!["zone", scenario.to_str().unwrap(), "--quiet", "--longest", "600", "--sample", "4"];
    args.extend(["--propose", "2", "--candidates", sites.to_str().unwrap()]);
    args.extend(extra);
    let ran = tankerloop(&args);
    assert!(ran.code < 2, "{extra:?}: {}", ran.err);
    ran.json()
}

#[test]
fn zones_of_the_county() {
    let (zone_schema, _) = schema("zone");
    let zone = county_zone(&["--compare", "summer: month=7", "--need", "600"]);
    accepts(&zone_schema, &zone, "a zone of the county");
    for kind in ["stretch", "gap"] {
        assert!(!layer(&zone, kind).is_empty(), "no {kind}");
    }
    let mut broken = zone;
    broken["features"][0]["properties"]["ceiling_gpm"] = json!("much");
    assert!(!zone_schema.is_valid(&broken), "a text is taken for a flow");
}

fn island_plan(incident: &str) -> Value {
    let scenario = repository("tests/isle-of-man/scenario.toml");
    let roads = extracts::path("isle-of-man").expect("the registry carries the island");
    let incident = format!("--incident={incident}");
    let ran = tankerloop(&[
        "plan",
        scenario.to_str().unwrap(),
        "--roads",
        roads.to_str().unwrap(),
        &incident,
        "--quiet",
        "--replications",
        "50",
    ]);
    assert!(ran.code < 2, "{incident}: {}", ran.err);
    ran.json()
}

#[test]
fn answers_of_the_county() {
    let (schema, _) = schema("answer");
    let out = folder("schemas-demo");
    let ran = tankerloop(&["demo", out.to_str().unwrap()]);
    assert_eq!(ran.code, 0, "{}", ran.err);
    let text = std::fs::read_to_string(out.join("answer.geojson")).unwrap();
    accepts(&schema, &serde_json::from_str(&text).unwrap(), "the demo");

    let mut layers = BTreeSet::new();
    for extra in [
        &["--need", "250"][..],
        &["--need", "1500"],
        &["--month", "1"],
        &["--month", "6"],
        // By the highway, and in the town.
        &["--incident=-33.9259538,30.9560000"],
        &["--incident=-33.9052700,30.9517600"],
    ] {
        let answer = county_plan(extra);
        accepts(&schema, &answer, &extra.join(" "));
        for feature in answer["features"].as_array().unwrap() {
            layers.insert(feature["properties"]["layer"].as_str().unwrap().to_string());
        }
    }
    // Otherwise a layer's description would go unchecked.
    let all = ["dump_site", "fill_site", "incident", "leg", "loop", "road_note", "staging", "supply_line"];
    assert_eq!(layers.iter().map(String::as_str).collect::<Vec<_>>(), all);
}

#[test]
fn answers_of_an_island_with_and_without_options() {
    let (schema, _) = schema("answer");
    let answer = island_plan("-4.5006,54.1500");
    assert!(!layer(&answer, "dump_site").is_empty());
    accepts(&schema, &answer, "an island");
    let nothing = island_plan("-4.48,54.27");
    assert!(layer(&nothing, "dump_site").is_empty());
    accepts(&schema, &nothing, "an answer without an option");
}

#[test]
fn the_input_files() {
    for (name, file) in [("scenario", "scenario.toml"), ("fleet", "fleet.toml")] {
        let (schema, _) = schema(name);
        for folder in ["data/county", "tests/isle-of-man"] {
            let path = repository(folder).join(file);
            accepts(&schema, &toml_file(&path), &path.display().to_string());
        }
    }
}

/// The schema of site lists has the reader's columns, no more and no less, and takes the county's list;
/// a list of all columns passes the reader without a word of an unknown one.
#[test]
fn site_lists() {
    let (schema, text) = schema("sites");
    let path = repository("data/county/fill-sites.geojson");
    let county = serde_json::from_str(&std::fs::read_to_string(path).unwrap()).unwrap();
    accepts(&schema, &county, "the county's sites");
    let columns = text.pointer("/properties/features/items/properties/properties/properties").unwrap();
    let described: BTreeSet<&str> = columns.as_object().unwrap().keys().map(String::as_str).collect();
    let read: BTreeSet<&str> = tankerloop::sites::fill_file::columns().collect();
    assert_eq!(described, read);

    let refused: [Damage; 6] = [
        |p| p["kind"] = json!("well"),
        |p| p["flow_gpm"] = json!(-5),
        |p| p["pipe_in"] = json!(6),
        |p| p["elbows_90"] = json!(1),
        |p| p["season"] = json!("spring"),
        |p| p["shared_gpm"] = json!(500),
    ];
    for (nth, damage) in refused.into_iter().enumerate() {
        let mut broken = county.clone();
        damage(&mut broken["features"][0]["properties"]);
        assert!(!schema.is_valid(&broken), "damage {nth} passes");
    }
}

/// Every key and every property says what it is, with its unit where its name ends in one.
#[test]
fn every_key_is_described() {
    fn walk(value: &Value, path: &str, missing: &mut Vec<String>) {
        if let Some(properties) = value.get("properties").and_then(Value::as_object)
            && value.get("type") == Some(&json!("object"))
        {
            for (key, member) in properties {
                let told = member.get("description").is_some()
                    || member.get("const").is_some()
                    || member.get("$ref").is_some()
                    // Structure of GeoJSON itself, and arrays of tables told by their items.
                    || ["features", "geometry", "properties", "coordinates", "type"].contains(&key.as_str())
                    || member.pointer("/items/description").is_some()
                    || path.ends_with("osm");
                let text = member.get("description").and_then(Value::as_str).unwrap_or_default();
                let unit = [
                    ("_gpm", "gallons per minute"),
                    ("_gal", "gallons"),
                    ("_s", "seconds"),
                    ("_m", "metres"),
                    ("_min", "minutes"),
                    ("_ft", "feet"),
                    ("_in", "inches"),
                    ("_psi", "psi"),
                ]
                .iter()
                .find(|(ending, _)| key.ends_with(ending));
                if !told || unit.is_some_and(|(_, unit)| !text.contains(unit)) {
                    missing.push(format!("{path}/{key}"));
                }
            }
        }
        match value {
            Value::Object(map) => map.iter().for_each(|(k, v)| walk(v, &format!("{path}/{k}"), missing)),
            Value::Array(list) => list.iter().for_each(|v| walk(v, path, missing)),
            _ => {}
        }
    }
    for name in ["answer", "scenario", "fleet", "overlay", "sites"] {
        let mut missing = Vec::new();
        walk(&schema(name).1, "", &mut missing);
        assert!(missing.is_empty(), "{name}: without description or unit: {missing:#?}");
    }
}

fn first<'a>(answer: &'a mut Value, layer: &str) -> &'a mut Value {
    let features = answer["features"].as_array_mut().unwrap();
    features.iter_mut().find(|f| f["properties"]["layer"] == layer).expect("the layer is there")
}

type Damage = fn(&mut Value);

#[test]
fn broken_answers_are_refused() {
    let (schema, _) = schema("answer");
    let sound = county_plan(&[]);
    accepts(&schema, &sound, "before it is broken");
    let damage: [(&str, Damage); 19] = [
        ("a property more", |a| first(a, "loop")["properties"]["colour"] = json!("red")),
        ("a property less", |a| {
            first(a, "dump_site")["properties"].as_object_mut().unwrap().remove("limiter").unwrap();
        }),
        ("another type", |a| first(a, "dump_site")["properties"]["sustained_flow_gpm"] = json!("531")),
        ("an unknown layer", |a| first(a, "leg")["properties"]["layer"] = json!("legs")),
        ("no layer", |a| {
            first(a, "leg")["properties"].as_object_mut().unwrap().remove("layer").unwrap();
        }),
        ("another layer's properties", |a| first(a, "leg")["properties"]["layer"] = json!("loop")),
        ("option 0", |a| first(a, "supply_line")["properties"]["option"] = json!(0)),
        ("a word for the leg", |a| first(a, "leg")["properties"]["leg"] = json!("full")),
        ("a point for a line", |a| {
            first(a, "leg")["geometry"] = json!({ "type": "Point", "coordinates": [0.0, 0.0] });
        }),
        ("a line of one position", |a| first(a, "leg")["geometry"]["coordinates"] = json!([[0.0, 0.0]])),
        ("latitude first", |a| first(a, "incident")["geometry"]["coordinates"] = json!([54.0, -104.5])),
        ("no incident", |a| {
            a["features"].as_array_mut().unwrap().remove(0);
        }),
        ("a negative time", |a| first(a, "loop")["properties"]["cycle_s"] = json!(-1)),
        ("no bbox", |a| {
            a.as_object_mut().unwrap().remove("bbox").unwrap();
        }),
        ("another foreign member", |a| a["crs"] = json!("EPSG:4326")),
        ("no steps", |a| first(a, "leg")["properties"]["steps"] = json!([])),
        ("a word for the turning", |a| first(a, "loop")["properties"]["at_dump"] = json!("u_turn")),
        ("a finding without a cause", |a| {
            a["tankerloop"]["findings"][0].as_object_mut().unwrap().remove("cause").unwrap();
        }),
        ("a feature for a collection", |a| a["type"] = json!("Feature")),
    ];
    for (what, damage) in damage {
        let mut broken = sound.clone();
        damage(&mut broken);
        assert!(!schema.is_valid(&broken), "{what} passes");
    }
}

#[test]
fn broken_input_files_are_refused() {
    let damage: [(&str, &str, Damage); 15] = [
        ("scenario", "an unknown key", |v| v["fleat"] = json!("fleet.toml")),
        ("scenario", "no fleet", |v| {
            v.as_object_mut().unwrap().remove("fleet").unwrap();
        }),
        ("scenario", "need below zero", |v| v["incident"]["need_gpm"] = json!(-5)),
        ("scenario", "a place of three numbers", |v| v["incident"]["at"] = json!([1, 2, 3])),
        ("scenario", "a dump of one number", |v| v["incident"]["dump"] = json!([1])),
        ("scenario", "month 13", |v| v["month"] = json!(13)),
        ("scenario", "certainty", |v| v["shuttle"]["reliability"] = json!(1)),
        ("scenario", "a misspelt spread", |v| v["shuttle"]["spread"] = json!({ "travle": "fixed" })),
        ("scenario", "a spreadsheet of sites", |v| v["sites"] = json!(["sites.xlsx"])),
        ("fleet", "a mass without a unit", |v| v["tanker"][0]["mass_full"] = json!("19000")),
        ("fleet", "a mass as a number", |v| v["tanker"][0]["mass_full"] = json!(19)),
        ("fleet", "an empty tank", |v| v["tanker"][0]["tank_gal"] = json!(0)),
        ("fleet", "an unknown role", |v| v["pumper"][0]["role"] = json!("relay")),
        ("fleet", "hose of no known size", |v| {
            v["pumper"][0]["hose"] = json!([{ "diameter_in": 5.5, "length_ft": 1000 }]);
        }),
        ("fleet", "no portable tank", |v| {
            v.as_object_mut().unwrap().remove("portable_tank").unwrap();
        }),
    ];
    for (name, what, damage) in damage {
        let (schema, _) = schema(name);
        let mut broken = toml_file(&repository(&format!("data/county/{name}.toml")));
        damage(&mut broken);
        assert!(!schema.is_valid(&broken), "{name}: {what} passes");
    }
}
