//! Overlay files through the binary: what is refused and how it is told, what the schema says of the same
//! features, and what `plan` and `drive` make of a file that is read.

#[path = "support/refused.rs"]
mod refused;
#[path = "support/run.rs"]
mod run;

use refused::check;
use run::{Ran, county, layer, number, of_option, repository, tankerloop};
use serde_json::{Value, json};

/// The bridge posted 15 short tons of the county, and the unposted one on the way round.
const POSTED: i64 = 500_059;
const UNPOSTED: i64 = 500_193;
const UNREADABLE: i64 = 500_144;

fn feature(geometry: Value, properties: Value) -> Value {
    json!({ "type": "Feature", "geometry": geometry, "properties": properties })
}

fn collection(features: &[Value]) -> Value {
    json!({ "type": "FeatureCollection", "features": features })
}

/// A copy of the county with an overlay file beside it; the arguments that name both.
fn with_overlay(name: &str, overlay: &Value) -> (String, String) {
    let folder = county(name);
    let path = folder.join("local.geojson");
    std::fs::write(&path, overlay.to_string()).unwrap();
    (folder.join("scenario.toml").display().to_string(), path.display().to_string())
}

fn plan(name: &str, features: &[Value], more: &[&str]) -> Ran {
    let (scenario, overlay) = with_overlay(name, &collection(features));
    let mut args = vec!["plan", &scenario, "--overlay", &overlay, "--replications", "50"];
    args.extend(more);
    tankerloop(&args)
}

fn drive(name: &str, features: &[Value], more: &[&str]) -> Ran {
    let (scenario, overlay) = with_overlay(name, &collection(features));
    let mut args = vec!["drive", "--scenario", &scenario, "--overlay", &overlay, "--vehicle", "T1"];
    args.extend(["--format", "json", "--from=-34.0348087,31.0283697", "--to=-34.0083434,31.0196008"]);
    args.extend(more);
    tankerloop(&args)
}

fn ways(legs: &[&Value]) -> Vec<i64> {
    let text: Vec<&str> = legs.iter().flat_map(|leg| leg["ways"].as_str().unwrap().split(' ')).collect();
    text.iter().map(|way| way.parse().unwrap()).collect()
}

fn of_way(kind: &str, way: i64, more: Value) -> Value {
    let mut properties = json!({ "kind": kind, "way": way });
    properties.as_object_mut().unwrap().extend(more.as_object().unwrap().clone());
    feature(Value::Null, properties)
}

fn square() -> Value {
    let ring = [[-34.01, 31.01], [-34.0, 31.01], [-34.0, 31.02], [-34.01, 31.02], [-34.01, 31.01]];
    json!({ "type": "Polygon", "coordinates": [ring] })
}

fn point() -> Value {
    json!({ "type": "Point", "coordinates": [-34.01, 31.01] })
}

fn line() -> Value {
    json!({ "type": "LineString", "coordinates": [[-34.01, 31.01], [-34.0, 31.01]] })
}

fn sound() -> Vec<Value> {
    vec![
        feature(
            Value::Null,
            json!({ "kind": "closure", "way": 1, "direction": "forward", "reason": "works" }),
        ),
        feature(line(), json!({ "kind": "closure", "name": "Mill", "season": "nov-mar", "bridges": false })),
        feature(
            square(),
            json!({ "kind": "closure", "bridges": true, "from": "2026-01-05", "until": "2026-02-01T10:00" }),
        ),
        feature(square(), json!({ "kind": "closure", "way": 1, "direction": "backward" })),
        feature(line(), json!({ "kind": "closure", "direction": "forward", "way": null, "note": "ask Ann" })),
        feature(
            Value::Null,
            json!({ "kind": "known_weight", "way": 1, "max_weight_t": 12, "source": "owner" }),
        ),
        feature(
            point(),
            json!({ "kind": "known_weight", "max_weight_st": 15, "source": "plate", "max_weight_t": null }),
        ),
        feature(line(), json!({ "kind": "known_weight", "max_weight_lb": 30_000, "source": "plate" })),
        feature(
            line(),
            json!({ "kind": "local_speed", "speed_mph": 35, "loaded_speed_mph": 30, "source": "drill" }),
        ),
        feature(
            Value::Null,
            json!({ "kind": "local_speed", "way": 1, "speed_kmh": 40, "direction": "both" }),
        ),
        feature(point(), json!({ "kind": "opened_gate", "source": "owner", "season": "all" })),
        feature(Value::Null, json!({ "kind": "opened_gate", "node": 5.0, "source": "owner" })),
        feature(square(), json!({ "kind": "no_dump", "reason": "pasture", "until": "2026-02-01" })),
        // Columns of the GIS's own.
        feature(
            square(),
            json!({ "kind": "no_dump", "fid": 3, "OBJECTID": 7, "edited_by": "ab", "Shape_Length": 2.5 }),
        ),
    ]
}

/// A feature, what is said of it, and whether the schema sees it too.
fn bad() -> Vec<(Value, &'static [&'static str], bool)> {
    let with = |geometry: Value, properties: Value| feature(geometry, properties);
    let null = || Value::Null;
    let way = |kind: &str, more: Value| of_way(kind, 1, more);
    let weight = |more: Value| way("known_weight", more);
    let cut = json!({ "type": "Polygon", "coordinates": [[[0, 0], [1, 0], [1, 1]]] });
    let open = json!({ "type": "Polygon", "coordinates": [[[0, 0], [1, 0], [1, 1], [0, 1]]] });
    let swapped = json!({ "type": "Point", "coordinates": [31.0, -134.0] });
    let grid = json!({ "type": "Point", "coordinates": [432_000.0, 5_400_000.0] });
    vec![
        (with(square(), json!({})), &["it has no kind"], true),
        (with(square(), json!({ "kind": "closre" })), &["\"closre\" is no kind", "Write closure"], true),
        (with(square(), json!({ "kind": "Closure" })), &["Write closure"], true),
        (with(square(), json!({ "kind": "flood" })), &["\"flood\" is no kind", "Give one of closure"], true),
        (with(square(), json!({ "kind": 7 })), &["kind = 7 is not a text"], true),
        (json!({ "type": "Feature", "geometry": square() }), &["it has no properties"], true),
        (json!({ "geometry": square(), "properties": { "kind": "no_dump" } }), &["no Feature"], true),
        (with(null(), json!({ "kind": "closure" })), &["closure with no geometry says not where"], true),
        (with(point(), json!({ "kind": "closure" })), &["closure with a Point says not where"], true),
        (with(square(), json!({ "kind": "closure", "direction": "forward" })), &["an area has none"], true),
        (way("closure", json!({ "direction": "north" })), &["direction \"north\""], true),
        (way("closure", json!({ "bridges": "yes" })), &["bridges = \"yes\" is not true or false"], true),
        (way("closure", json!({ "reason": "" })), &["reason = \"\" is not a text"], true),
        (way("closure", json!({ "season": "winter" })), &["season \"winter\"", "nov-mar"], true),
        (way("closure", json!({ "from": "5.1.2026" })), &["from \"5.1.2026\" is no date"], true),
        (way("closure", json!({ "from": "2026-02-30" })), &["from \"2026-02-30\" is no date"], false),
        (
            way("closure", json!({ "from": "2026-02-01", "until": "2026-01-01" })),
            &["until lies before"],
            false,
        ),
        (
            with(null(), json!({ "kind": "closure", "way": "1" })),
            &["way = \"1\" is not an OpenStreetMap id"],
            true,
        ),
        (with(null(), json!({ "kind": "closure", "way": 1.5 })), &["way = 1.5"], true),
        (way("closure", json!({ "brigdes": true })), &["\"brigdes\"", "the nearest is bridges"], false),
        (way("closure", json!({ "Reason": "flood" })), &["\"Reason\"", "the nearest is reason"], false),
        (
            way("closure", json!({ "max_weight_t": 12 })),
            &["max_weight_t is no property of closure but of known_weight"],
            false,
        ),
        (
            weight(json!({ "source": "owner" })),
            &["max_weight_t or max_weight_st or max_weight_lb is missing"],
            true,
        ),
        (weight(json!({ "max_weight_t": 12 })), &["no source", "who says so"], true),
        (
            weight(json!({ "max_weight_t": 0, "source": "x" })),
            &["max_weight_t = 0 is not a number from 1 to 200"],
            true,
        ),
        (weight(json!({ "max_weight_t": "12 t", "source": "x" })), &["max_weight_t = \"12 t\""], true),
        (weight(json!({ "max_weight_t": 12, "max_weight_st": 13, "source": "x" })), &["two units"], true),
        (weight(json!({ "max_wieght_t": 12, "source": "x" })), &["max_weight_t"], true),
        (
            with(square(), json!({ "kind": "known_weight", "max_weight_t": 12, "source": "x" })),
            &["with a Polygon"],
            true,
        ),
        (way("local_speed", json!({})), &["speed_kmh or speed_mph is missing"], true),
        (way("local_speed", json!({ "speed_kmh": 500 })), &["speed_kmh = 500"], true),
        (
            way("local_speed", json!({ "speed_mph": 30, "loaded_speed_mph": 20, "loaded_speed_kmh": 30 })),
            &["two units"],
            true,
        ),
        (with(point(), json!({ "kind": "opened_gate" })), &["no source", "who opens it"], true),
        (with(line(), json!({ "kind": "opened_gate", "source": "x" })), &["with a LineString"], true),
        (with(point(), json!({ "kind": "no_dump" })), &["with a Point", "a Polygon"], true),
        (with(cut, json!({ "kind": "no_dump" })), &["fewer than four positions"], true),
        (with(open, json!({ "kind": "no_dump" })), &["does not end where it begins"], false),
        (with(swapped, json!({ "kind": "opened_gate", "source": "x" })), &["swapped"], true),
        (with(grid, json!({ "kind": "opened_gate", "source": "x" })), &["WGS 84"], true),
        (json!(7), &["no Feature"], true),
    ]
}

#[test]
fn schema_and_reader_agree() {
    let text = std::fs::read_to_string(repository("data/overlay.schema.json")).unwrap();
    let schema: Value = serde_json::from_str(&text).unwrap();
    assert!(jsonschema::meta::is_valid(&schema));
    let schema = jsonschema::validator_for(&schema).unwrap();
    for one in sound() {
        let whole = collection(std::slice::from_ref(&one));
        let errors: Vec<String> = schema.iter_errors(&whole).map(|e| e.to_string()).collect();
        assert!(errors.is_empty(), "{one}: {errors:?}");
    }
    for (one, _, seen) in bad() {
        assert_eq!(schema.is_valid(&collection(std::slice::from_ref(&one))), !seen, "{one}");
    }
}

/// All features of a file that is sound are read; those far from the county's roads are told.
#[test]
fn what_is_sound_is_read() {
    let ran = plan("overlay-sound", &sound(), &["--when", "2026-01-15T14:00"]);
    assert!(ran.code < 2, "{}", ran.err);
    let answer = ran.json();
    let findings = answer["tankerloop"]["findings"].as_array().unwrap();
    let of = |code: &str| findings.iter().filter(|f| f["code"] == code).collect::<Vec<_>>();
    assert!(
        of("overlay-unmatched")
            .iter()
            .all(|f| f["where"]["file"].as_str().unwrap().ends_with("local.geojson"))
    );
    assert_eq!(of("column-ignored").len(), 4, "{findings:?}");
}

/// One run tells all that is wrong with a file, each by its feature.
#[test]
fn what_cannot_be_used_is_refused() {
    let bad = bad();
    let features: Vec<Value> = bad.iter().map(|(feature, ..)| feature.clone()).collect();
    let ran = plan("overlay-bad", &features, &["--quiet"]);
    check("all", ran.code, &ran.err, &[]);
    for (i, (feature, said, _)) in bad.iter().enumerate() {
        let row = format!("local.geojson, row {}: ", i + 1);
        let lines: Vec<&str> = ran.err.lines().filter(|line| line.contains(&row)).collect();
        assert!(!lines.is_empty(), "nothing is said of {feature}");
        for words in *said {
            assert!(
                lines.iter().any(|line| line.contains(words)),
                "\"{words}\" is not said of {feature}: {lines:?}"
            );
        }
    }
    for (text, said) in [
        ("not json", "this is not GeoJSON"),
        ("{ \"type\": \"Feature\" }", "an overlay is a FeatureCollection"),
        ("[]", "an overlay is a FeatureCollection"),
    ] {
        let (scenario, overlay) = with_overlay("overlay-torn", &Value::Null);
        std::fs::write(&overlay, text).unwrap();
        let ran = tankerloop(&["plan", &scenario, "--overlay", &overlay]);
        check(text, ran.code, &ran.err, &["local.geojson", said]);
    }
    let (scenario, _) = with_overlay("overlay-none", &Value::Null);
    let ran = tankerloop(&["plan", &scenario, "--overlay", "nowhere.geojson"]);
    check("none", ran.code, &ran.err, &["nowhere.geojson", "[file-missing]"]);
}

/// The scenario names overlays by paths beside itself; the flag adds to them.
#[test]
fn overlays_of_the_scenario_and_of_the_command_line() {
    let closed = |way: i64| collection(&[of_way("closure", way, json!({ "reason": "works" }))]);
    let (scenario, local) = with_overlay("overlay-both", &closed(POSTED));
    let folder = std::path::Path::new(&scenario).parent().unwrap();
    let text = std::fs::read_to_string(&scenario).unwrap();
    std::fs::write(&scenario, text.replacen("fleet =", "overlay = [\"local.geojson\"]\nfleet =", 1)).unwrap();
    let other = folder.join("today.geojson").display().to_string();
    std::fs::write(&other, closed(UNPOSTED).to_string()).unwrap();
    let ran = tankerloop(&["plan", &scenario, "--overlay", &other, "--verify", "--replications", "50"]);
    assert!(ran.code < 2, "{}", ran.err);
    let answer = ran.json();
    let driven = ways(&layer(&answer, "leg"));
    assert!(!driven.contains(&POSTED) && !driven.contains(&UNPOSTED));
    assert!(local.ends_with("local.geojson"));
    let audit = tankerloop(&["audit", &scenario, "--most", "1000"]);
    assert!(
        audit.text().contains("[overlay-applied]") && audit.text().contains("closes"),
        "{}",
        audit.text()
    );
}

/// The demonstration's loops cross the posted bridge empty. With it closed they do not, the answer
/// passes the verification, and the best flow is no greater.
#[test]
fn a_closed_bridge_changes_the_loops() {
    let open = plan("overlay-open", &[], &["--verify"]);
    let before = open.json();
    let best = |answer: &Value| number(of_option(answer, "dump_site", 1)[0], "sustained_flow_gpm");
    assert!(ways(&of_option(&before, "leg", 1)).contains(&POSTED));
    let closed = of_way("closure", POSTED, json!({ "reason": "deck under repair" }));
    let ran = plan("overlay-closed", &[closed], &["--verify"]);
    assert!(ran.code < 2, "{}", ran.err);
    assert!(ran.err.contains("checks passed"), "{}", ran.err);
    let after = ran.json();
    assert!(!ways(&layer(&after, "leg")).contains(&POSTED));
    assert!(best(&after) < best(&before), "{} against {}", best(&after), best(&before));
}

/// Every option names the bridges on its loops that nobody rated, with the heaviest tanker that
/// crosses; one that the overlay rates is told as known, with its source.
#[test]
fn bridges_of_unknown_weight_are_listed_until_they_are_known() {
    let ran = plan("overlay-unknown", &[], &["--verify"]);
    let answer = ran.json();
    let notes = |answer: &Value, code: &str, way: i64| -> Vec<Value> {
        let notes = layer(answer, "road_note").into_iter();
        notes.filter(|n| n["code"] == code && n["osm"] == format!("way {way}")).cloned().collect()
    };
    let mut crossing = 0;
    for option in layer(&answer, "dump_site") {
        let of = option["option"].as_u64().unwrap();
        let over = ways(&of_option(&answer, "leg", of)).contains(&UNPOSTED);
        let told = notes(&answer, "bridge-unposted", UNPOSTED).iter().any(|n| n["option"] == of);
        assert_eq!(told, over, "option {of}");
        assert_eq!(option["unknown_weight_bridges"].as_u64().unwrap() > 0, over, "option {of}");
        crossing += usize::from(over);
    }
    assert!(crossing > 0);
    let table =
        ran.err.split("bridges nobody has rated, ask their owners").nth(1).expect("they are in the table");
    assert!(table.contains(&format!("(way {UNPOSTED}) by T")) && table.contains(" tons"), "{}", ran.err);
    let note = &notes(&answer, "bridge-unposted", UNPOSTED)[0];
    let cause = note["cause"].as_str().unwrap();
    assert!(cause.contains("the heaviest to cross it is T") && cause.contains(" t; unknown"), "{cause}");

    let source = "county engineer, 2025-03-02";
    let known = of_way("known_weight", UNPOSTED, json!({ "max_weight_st": 40, "source": source }));
    let ran = plan("overlay-known", &[known], &["--verify"]);
    assert!(ran.err.contains("checks passed"), "{}", ran.err);
    let answer = ran.json();
    assert!(notes(&answer, "bridge-unposted", UNPOSTED).is_empty());
    let told = notes(&answer, "bridge-known", UNPOSTED);
    assert!(!told.is_empty() && told.iter().all(|n| n["cause"].as_str().unwrap().contains(source)));
    assert!(ran.err.contains("bridges rated by an overlay") && ran.err.contains(source), "{}", ran.err);

    let weak = of_way("known_weight", UNPOSTED, json!({ "max_weight_t": 12, "source": source }));
    let answer = plan("overlay-weak", &[weak], &["--verify"]).json();
    let loaded: Vec<&Value> = layer(&answer, "leg").into_iter().filter(|l| l["leg"] == "loaded").collect();
    assert!(!ways(&loaded).contains(&UNPOSTED));
    // A weight posted for 15 short tons is not raised; one that nobody can read is replaced.
    let strong = of_way("known_weight", POSTED, json!({ "max_weight_t": 40, "source": source }));
    let read = of_way("known_weight", UNREADABLE, json!({ "max_weight_t": 40, "source": source }));
    let ran = plan("overlay-strong", &[strong, read], &["--verify"]);
    let answer = ran.json();
    let findings = answer["tankerloop"]["findings"].as_array().unwrap();
    assert_eq!(findings.iter().filter(|f| f["code"] == "overlay-refused").count(), 1);
    let loaded: Vec<&Value> = layer(&answer, "leg").into_iter().filter(|l| l["leg"] == "loaded").collect();
    assert!(!ways(&loaded).contains(&POSTED));
}

#[test]
fn no_dump_site_in_a_forbidden_area() {
    let before = plan("overlay-dumps", &[], &[]).json();
    let at = |answer: &Value| -> Vec<[f64; 2]> {
        let features = answer["features"].as_array().unwrap().iter();
        let dumps = features.filter(|f| f["properties"]["layer"] == "dump_site");
        dumps.map(|f| serde_json::from_value(f["geometry"]["coordinates"].clone()).unwrap()).collect()
    };
    let [lon, lat] = at(&before)[0];
    let around = |half: f64| {
        let ring = [(-half, -half), (half, -half), (half, half), (-half, half), (-half, -half)];
        let ring: Vec<[f64; 2]> = ring.iter().map(|(e, n)| [lon + e, lat + n]).collect();
        let polygon = json!({ "type": "Polygon", "coordinates": [ring] });
        feature(polygon, json!({ "kind": "no_dump", "reason": "school" }))
    };
    let ran = plan("overlay-near", &[around(0.0004)], &["--verify"]);
    assert!(ran.err.contains("checks passed"), "{}", ran.err);
    let dumps = at(&ran.json());
    assert!(!dumps.is_empty());
    let off = |d: &[f64; 2]| (d[0] - lon).abs() > 0.0004 || (d[1] - lat).abs() > 0.0004;
    assert!(dumps.iter().all(off), "{dumps:?}");
    let ran = plan("overlay-everywhere", &[around(0.05)], &["--verify"]);
    assert_eq!(ran.code, 1, "{}", ran.err);
    assert!(ran.err.contains("an overlay forbids a dump site at every place"), "{}", ran.err);
    assert!(String::from_utf8(ran.out).unwrap().contains("school"));
}

#[test]
fn a_drive_takes_overlay_time_and_policy() {
    let json_of = |ran: Ran| {
        assert!(ran.code < 2, "{}", ran.err);
        ran.json()
    };
    let over = |value: &Value| value["ways"].as_array().unwrap().iter().any(|way| way == POSTED);
    assert!(over(&json_of(drive("drive-open", &[], &["--load", "empty"]))));
    let closed = || [of_way("closure", POSTED, json!({ "season": "nov-mar", "reason": "ice" }))];
    for (name, when, open, code) in [
        ("drive-winter", "--when=2026-01-15T14:00", false, "overlay-applied"),
        ("drive-summer", "--when=2026-06-15T14:00", true, "overlay-idle"),
        ("drive-january", "--month=1", false, "overlay-applied"),
        ("drive-undated", "--units=us", false, "overlay-undecided"),
    ] {
        let value = json_of(drive(name, &closed(), &["--load", "empty", when]));
        assert_eq!(over(&value), open, "{name}");
        assert!(value["findings"].as_array().unwrap().iter().any(|f| f["code"] == code), "{name}: {value}");
    }
    let ran = drive("drive-when", &[], &["--load", "empty", "--when", "noon"]);
    check("a time that is none", ran.code, &ran.err, &["scenario.toml", "when is \"noon\""]);

    // The policy of the scenario closes the forest track.
    let (scenario, _) = with_overlay("drive-policy", &collection(&[]));
    let to_track = |scenario: &str| {
        let from_to = ["--from=-34.0349602,31.0282490", "--to=-34.0389186,31.0252205"];
        let args =
            ["drive", "--scenario", scenario, "--vehicle", "T1", "--load", "empty", "--format", "json"];
        tankerloop(&[&args[..], &from_to[..]].concat())
    };
    let track = |value: &Value| value["ways"].as_array().unwrap().iter().any(|way| way == 500_199);
    assert!(track(&json_of(to_track(&scenario))));
    let text = std::fs::read_to_string(&scenario).unwrap();
    std::fs::write(&scenario, text.clone() + "\n[policy]\nworst_track_grade = 1\n").unwrap();
    assert!(!track(&json_of(to_track(&scenario))));
    std::fs::write(&scenario, text + "\n[policy]\nopen_ways = \"all\"\n").unwrap();
    check("a policy of another kind", 2, &to_track(&scenario).err, &["scenario.toml, row 20"]);
    // Without a scenario roads and fleet must be named.
    let ran =
        tankerloop(&["drive", "--vehicle", "T1", "--load", "full", "--from=-34.03,31.02", "--to=-34.0,31.0"]);
    assert_eq!(ran.code, 2);
    assert!(ran.err.contains("--roads") && ran.err.contains("--fleet"), "{}", ran.err);
}
