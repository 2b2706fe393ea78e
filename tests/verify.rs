//! Every answer passes the independent recomputation, and every way of tampering with one that we
//! could think of is caught by the check that should catch it.

use serde_json::{Value, json};
use std::path::{Path, PathBuf};
use std::sync::LazyLock;
use tankerloop::finding::Findings;
use tankerloop::output::geojson;
use tankerloop::overlay::Overlay;
use tankerloop::plan::{Overrides, Problem, plan};
use tankerloop::routing::Roads;
use tankerloop::verify::{Verification, verify};

fn scenario() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("data/county/scenario.toml")
}

fn read(overrides: &Overrides) -> (Problem, Roads) {
    let problem = Problem::read(&scenario(), overrides).unwrap();
    let roads = problem.roads.read(&mut |_, _| ()).unwrap();
    (problem, roads)
}

fn answer(problem: &Problem, roads: &Roads) -> Value {
    serde_json::from_str(&geojson::write(&plan(problem, roads).unwrap())).unwrap()
}

fn told(verification: &Verification) -> Vec<String> {
    verification.failures().map(|c| format!("{} {:?}: {}", c.what, c.option, c.detail)).collect()
}

#[test]
fn every_answer_of_the_demonstration_county_passes() {
    // The barn, the village, the town, a subdivision, a pond, the river lane, the dry hydrant.
    let places = [
        None,
        Some("-34.0888,31.0463"),
        Some("-33.9055,30.9545"),
        Some("-33.8813,30.9570"),
        Some("-33.9550,31.0475"),
        Some("-34.0240,31.0052"),
        Some("-34.0349,31.0282"),
    ];
    for (i, at) in places.into_iter().enumerate() {
        let overrides = Overrides {
            incident: at.map(|text| text.parse().unwrap()),
            need: Some([250.0, 500.0, 1_000.0][i % 3]),
            month: [None, Some(1), Some(6), Some(9)][i % 4],
            ..Overrides::default()
        };
        let (problem, roads) = read(&overrides);
        let verification = verify(&problem, &roads, &answer(&problem, &roads));
        assert!(verification.passed(), "{at:?}: {:#?}", told(&verification));
        assert!(verification.checks.len() > 200, "{at:?}: only {}", verification.checks.len());
        assert!(verification.findings().is_empty());
    }
}

/// The barn and an answer to it that passes.
struct Sound {
    problem: Problem,
    roads: Roads,
    answer: Value,
}

fn sound(options: usize) -> Sound {
    let (mut problem, roads) = read(&Overrides::default());
    problem.search.options = options;
    let answer = answer(&problem, &roads);
    Sound { problem, roads, answer }
}

/// One option is enough to be wrong about a road or a flow.
static SOUND: LazyLock<Sound> = LazyLock::new(|| sound(1));
/// Order needs two.
static PAIR: LazyLock<Sound> = LazyLock::new(|| sound(2));

/// Index of the n-th feature of a layer.
fn nth(answer: &Value, layer: &str, n: usize) -> usize {
    let of_layer = |f: &Value| f["properties"]["layer"] == layer;
    let features = answer["features"].as_array().unwrap().iter().enumerate();
    features.filter(|(_, f)| of_layer(f)).nth(n).unwrap().0
}

/// Tampers with the sound answer and asks for the check that must fail.
fn caught_by(what: &str, tamper: impl FnOnce(&mut Value)) {
    caught_in(&SOUND, what, tamper);
}

fn caught_in(sound: &Sound, what: &str, tamper: impl FnOnce(&mut Value)) {
    let mut bad = sound.answer.clone();
    tamper(&mut bad);
    assert_ne!(bad, sound.answer, "{what}: nothing was changed");
    let verification = verify(&sound.problem, &sound.roads, &bad);
    assert!(verification.failures().any(|c| c.what == what), "not {what} but {:#?}", told(&verification));
}

/// Changes one property of the n-th feature of a layer.
fn set(answer: &mut Value, layer: &str, n: usize, key: &str, change: impl FnOnce(&Value) -> Value) {
    let at = nth(answer, layer, n);
    let slot = &mut answer["features"][at]["properties"][key];
    assert!(!slot.is_null() || key == "reason", "{layer} has no {key}");
    *slot = change(slot);
}

fn plus(more: f64) -> impl FnOnce(&Value) -> Value {
    move |v| json!(v.as_f64().unwrap() + more)
}

fn times(factor: f64) -> impl FnOnce(&Value) -> Value {
    move |v| json!(v.as_f64().unwrap() * factor)
}

fn one_more(v: &Value) -> Value {
    json!(v.as_u64().unwrap() + 1)
}

fn not(v: &Value) -> Value {
    json!(!v.as_bool().unwrap())
}

#[test]
fn wrong_legs_are_caught() {
    caught_by("leg.time", |a| set(a, "leg", 0, "travel_s", plus(2.0)));
    caught_by("leg.time", |a| set(a, "leg", 1, "travel_s", plus(-0.05)));
    caught_by("leg.distance", |a| set(a, "leg", 0, "distance_m", times(1.02)));
    caught_by("leg.ways", |a| {
        set(a, "leg", 0, "ways", |v| json!(v.as_str().unwrap().split_once(' ').unwrap().1));
    });
    caught_by("leg.streets", |a| {
        set(a, "leg", 0, "streets", |v| json!(format!("{} road", v.as_str().unwrap())))
    });
    caught_by("leg.geometry", |a| {
        let at = nth(a, "leg", 0);
        let vertex = &mut a["features"][at]["geometry"]["coordinates"][5];
        vertex[0] = json!(vertex[0].as_f64().unwrap() + 3e-7);
    });
    caught_by("leg.geometry", |a| {
        let at = nth(a, "leg", 0);
        a["features"][at]["geometry"]["coordinates"].as_array_mut().unwrap().remove(7);
    });
    caught_by("leg.present", |a| {
        let at = nth(a, "leg", 2);
        a["features"].as_array_mut().unwrap().remove(at);
    });
    caught_by("leg.open", |a| {
        // The tanker is not in the fleet.
        for (layer, n) in [("loop", 0), ("leg", 0), ("leg", 1)] {
            set(a, layer, n, "tanker_ids", |_| json!("T9"));
        }
    });
}

/// Swapping the lines of the two legs leaves each of them on the road, one against its times.
#[test]
fn swapped_legs_are_caught() {
    caught_by("loop.shape", |a| {
        let (one, other) = (nth(a, "leg", 0), nth(a, "leg", 1));
        let line = a["features"][one]["geometry"].clone();
        a["features"][one]["geometry"] = a["features"][other]["geometry"].clone();
        a["features"][other]["geometry"] = line;
    });
    caught_by("leg.time", |a| {
        for (n, which) in [(2, "empty"), (3, "loaded")] {
            set(a, "leg", n, "leg", |_| json!(which));
        }
    });
}

/// A loaded leg over the bridge posted 30,000 lb: way 500059 lies on the short way from the dry
/// hydrant, and the empty leg takes it.
#[test]
fn a_loaded_tanker_over_the_posted_bridge_is_caught() {
    let (mut problem, roads) = read(&Overrides::default());
    // Only the dry hydrant beyond the bridge is left to fill at.
    problem.listed_sites.retain(|site| site.name == "Reservoir landing");
    let mut bad = answer(&problem, &roads);
    assert!(verify(&problem, &roads, &bad).passed());
    let features = bad["features"].as_array().unwrap();
    let over = |f: &Value| {
        f["properties"]["layer"] == "leg"
            && f["properties"]["leg"] == "empty"
            && f["properties"]["ways"].as_str().unwrap().contains("500059")
    };
    let empty = features.iter().position(over).expect("an empty leg over the bridge");
    let mut line = features[empty]["geometry"]["coordinates"].as_array().unwrap().clone();
    line.reverse();
    // Features come as loop, loaded leg, empty leg.
    assert_eq!(bad["features"][empty - 1]["properties"]["leg"], "loaded");
    bad["features"][empty - 1]["geometry"]["coordinates"] = Value::Array(line);
    let verification = verify(&problem, &roads, &bad);
    let open: Vec<String> = told(&verification).into_iter().filter(|t| t.starts_with("leg.open")).collect();
    assert!(open.iter().any(|t| t.contains("500059")), "{:#?}", told(&verification));
}

#[test]
fn a_wrong_waiting_line_or_relay_is_caught() {
    caught_by("dump.staging", |a| set(a, "staging", 0, "tankers", one_more));
    caught_by("dump.staging", |a| set(a, "staging", 0, "before_dump_m", plus(5.0)));
    caught_by("dump.staging", |a| set(a, "staging", 0, "room_m", plus(1_000.0)));
    caught_by("dump.relay", |a| set(a, "dump_site", 0, "relay_pumpers", one_more));
}

#[test]
fn wrong_loops_are_caught() {
    caught_by("loop.figures", |a| set(a, "loop", 0, "loaded_travel_s", plus(1.0)));
    caught_by("loop.figures", |a| set(a, "loop", 0, "empty_distance_m", plus(10.0)));
    caught_by("loop.turns", |a| set(a, "loop", 0, "turns_at_dump", not));
    caught_by("loop.shared", |a| set(a, "loop", 1, "shared_two_way_m", plus(-10.0)));
    caught_by("loop.shared", |a| set(a, "loop", 1, "narrow_two_way_m", plus(10.0)));
    caught_by("loop.shared", |a| set(a, "loop", 1, "unknown_width_two_way_m", plus(10.0)));
    caught_by("loop.meeting_wait", |a| set(a, "loop", 0, "meeting_wait_s", plus(-200.0)));
    caught_by("cycle.time", |a| set(a, "loop", 0, "cycle_s", plus(1.0)));
    caught_by("option.tankers", |a| set(a, "loop", 0, "tankers", |_| json!(5)));
    caught_by("loop.dump_spot", |a| {
        let at = nth(a, "dump_site", 0);
        a["features"][at]["geometry"]["coordinates"][0] = json!(-34.0);
    });
}

/// A loop that is longer than need be and calls itself the quickest.
#[test]
fn a_wrong_loop_kind_is_caught() {
    let (mut problem, roads) = read(&Overrides::default());
    problem.search.options = 50;
    let mut bad = answer(&problem, &roads);
    let kind = |f: &Value| f["properties"]["loop_kind"].as_str().map(str::to_owned);
    let mut relabelled = 0;
    for feature in bad["features"].as_array_mut().unwrap() {
        if kind(feature).is_some_and(|k| k != "quickest") {
            feature["properties"]["loop_kind"] = json!("quickest");
            relabelled += 1;
        }
    }
    assert!(relabelled > 0);
    let verification = verify(&problem, &roads, &bad);
    assert!(verification.failures().any(|c| c.what == "loop.quickest"), "{:#?}", told(&verification));
    let only = |c: &&tankerloop::verify::Check| c.what != "loop.quickest";
    assert_eq!(verification.failures().filter(only).count(), 0, "{:#?}", told(&verification));
}

#[test]
fn wrong_flows_are_caught() {
    caught_by("flow.sustained", |a| {
        set(a, "dump_site", 0, "sustained_flow_gpm", times(2.0));
        set(a, "dump_site", 0, "ceiling_flow_gpm", times(2.0));
    });
    caught_by("flow.below_ceiling", |a| set(a, "dump_site", 0, "sustained_flow_gpm", times(1.01)));
    caught_by("flow.sustained", |a| set(a, "dump_site", 0, "sustained_flow_gpm", times(0.85)));
    caught_by("flow.ceiling", |a| set(a, "dump_site", 0, "ceiling_flow_gpm", times(0.97)));
    caught_by("flow.ceiling", |a| set(a, "dump_site", 0, "ceiling_flow_gpm", times(1.03)));
    caught_by("flow.one_lost", |a| set(a, "dump_site", 0, "one_tanker_lost_flow_gpm", times(1.15)));
    caught_by("flow.one_lost", |a| set(a, "dump_site", 0, "one_tanker_lost_flow_gpm", times(0.85)));
    caught_by("time.first_water", |a| set(a, "dump_site", 0, "first_water_s", plus(-1.0)));
    caught_by("time.sustained_from", |a| set(a, "dump_site", 0, "sustained_from_s", plus(-1_200.0)));
    caught_by("time.sustained_from", |a| set(a, "dump_site", 0, "sustained_from_s", plus(900.0)));
    caught_by("time.held", |a| set(a, "dump_site", 0, "sustained_from_s", plus(-700.0)));
    caught_by("dump.berths", |a| set(a, "dump_site", 0, "dump_berths", |_| json!(3)));
    caught_by("dump.room", |a| set(a, "dump_site", 0, "tank_room_gal", plus(500.0)));
    caught_by("hose.flow", |a| set(a, "supply_line", 0, "flow_gpm", plus(20.0)));
    caught_by("hose.flow", |a| set(a, "supply_line", 0, "lines", |v| json!(if v == 1 { 2 } else { 1 })));
    caught_by("hose.rise", |a| {
        let at = nth(a, "supply_line", 0);
        a["features"][at]["properties"]["rise_ft"] = json!(10.0);
    });
    caught_by("hose.length", |a| set(a, "supply_line", 0, "length_m", plus(1.0)));
    caught_by("hose.stock", |a| set(a, "supply_line", 0, "lines", |_| json!(20)));
}

#[test]
fn wrong_books_are_caught() {
    caught_in(&PAIR, "books.numbers", |a| {
        for feature in a["features"].as_array_mut().unwrap() {
            if feature["properties"]["option"] == 2 {
                feature["properties"]["option"] = json!(7);
            }
        }
    });
    caught_in(&PAIR, "books.order", |a| set(a, "dump_site", 1, "sustained_flow_gpm", |_| json!(9_999.0)));
    caught_by("books.strays", |a| set(a, "leg", 0, "option", |_| json!(99)));
    caught_by("books.meets_need", |a| a["tankerloop"]["meets_need"] = json!(false));
    caught_by("books.terms", |a| a["tankerloop"]["reliability"] = json!(0.5));
    caught_by("books.bbox", |a| a["bbox"][0] = json!(-34.01));
    caught_by("option.meets_need", |a| set(a, "dump_site", 0, "meets_need", not));
    caught_by("option.gain", |a| set(a, "dump_site", 0, "limiter_gain_gpm", |_| json!(-3.0)));
    caught_by("option.once", |a| {
        let other = a["features"][nth(a, "loop", 1)]["properties"]["tanker_ids"].clone();
        let one_of_it = other.as_str().unwrap().split(", ").next().unwrap();
        for (layer, n) in [("loop", 0), ("leg", 0), ("leg", 1)] {
            set(a, layer, n, "tanker_ids", |_| json!(one_of_it));
        }
    });
    caught_by("site.used", |a| set(a, "fill_site", 0, "used", not));
    caught_by("site.reason", |a| set(a, "fill_site", 2, "reason", |_| Value::Null));
    caught_by("site.water", |a| set(a, "fill_site", 1, "flow_gpm", times(2.0)));
    caught_by("site.listed", |a| set(a, "fill_site", 3, "name", |_| json!("nowhere")));
    caught_by("answer.readable", |a| set(a, "leg", 0, "travel_s", |_| json!("soon")));
    caught_by("answer.readable", |a| a["features"] = json!(3));
}

#[test]
fn an_untold_bridge_is_caught() {
    caught_by("leg.bridges", |a| {
        let unposted = |f: &Value| f["properties"]["code"] == "bridge-unposted";
        a["features"].as_array_mut().unwrap().retain(|f| !unposted(f));
    });
}

/// The problem with an overlay that the answer knows nothing of.
fn with_overlay(properties: Value, geometry: Value) -> Vec<String> {
    let mut properties = properties;
    properties["note"] = json!("laid after planning");
    let feature = json!({ "type": "Feature", "geometry": geometry, "properties": properties });
    let whole = json!({ "type": "FeatureCollection", "features": [feature] });
    let path = Path::new(env!("CARGO_TARGET_TMPDIR")).join("verify-overlay.geojson");
    std::fs::write(&path, whole.to_string()).unwrap();
    let mut problem = SOUND.problem.clone();
    problem.roads.overlay = Overlay::read(&[path], &mut Findings::new()).unwrap();
    told(&verify(&problem, &SOUND.roads, &SOUND.answer))
}

/// A closed way, a line along the road and an area on it, each found under a leg by other means than
/// those that would have closed the road.
#[test]
fn a_leg_over_a_closure_is_caught() {
    let leg = &SOUND.answer["features"][nth(&SOUND.answer, "leg", 0)];
    let line = leg["geometry"]["coordinates"].as_array().unwrap();
    let middle: [f64; 2] = serde_json::from_value(line[line.len() / 2].clone()).unwrap();
    let ways: Vec<i64> =
        leg["properties"]["ways"].as_str().unwrap().split(' ').map(|w| w.parse().unwrap()).collect();
    let part = json!({ "type": "LineString", "coordinates": line });
    let square = |half: f64| {
        let ring = [(-half, -half), (half, -half), (half, half), (-half, half), (-half, -half)];
        let ring: Vec<[f64; 2]> = ring.iter().map(|(e, n)| [middle[0] + e, middle[1] + n]).collect();
        json!({ "type": "Polygon", "coordinates": [ring] })
    };
    let caught = |told: &[String]| told.iter().any(|t| t.starts_with("leg.overlay") && t.contains("loaded"));
    for (properties, geometry) in [
        (json!({ "kind": "closure", "way": ways[1] }), Value::Null),
        (json!({ "kind": "closure", "direction": "forward" }), part.clone()),
        (json!({ "kind": "closure", "bridges": true }), square(0.0003)),
    ] {
        let told = with_overlay(properties.clone(), geometry);
        assert!(caught(&told), "{properties}: {told:?}");
    }
    // Against the way it is driven, and off the road, nothing is closed to the leg.
    for (properties, geometry) in [
        (json!({ "kind": "closure", "direction": "backward" }), part),
        (json!({ "kind": "closure", "way": 4711 }), Value::Null),
    ] {
        let told = with_overlay(properties.clone(), geometry);
        assert!(!caught(&told), "{properties}: {told:?}");
    }
    let dump = &SOUND.answer["features"][nth(&SOUND.answer, "dump_site", 0)]["geometry"]["coordinates"];
    let at: [f64; 2] = serde_json::from_value(dump.clone()).unwrap();
    let ring: Vec<[f64; 2]> = [(-1.0, -1.0), (1.0, -1.0), (0.0, 1.0), (-1.0, -1.0)]
        .iter()
        .map(|(e, n)| [at[0] + e * 1e-4, at[1] + n * 1e-4])
        .collect();
    let told =
        with_overlay(json!({ "kind": "no_dump" }), json!({ "type": "Polygon", "coordinates": [ring] }));
    assert!(told.iter().any(|t| t.starts_with("dump.overlay")), "{told:?}");
}
