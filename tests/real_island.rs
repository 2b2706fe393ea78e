//! Real roads: the Isle of Man from OpenStreetMap, with invented sites and fleet. Three fires with
//! three different best fill sites, and one that no full tanker can come near.

#[path = "support/extracts.rs"]
#[allow(dead_code)]
mod extracts;
#[path = "support/run.rs"]
mod run;

use run::{Ran, layer, number, of_option, repository, tankerloop};
use serde_json::Value;

fn plan(incident: &str) -> Ran {
    let scenario = repository("tests/isle-of-man/scenario.toml");
    let roads = extracts::path("isle-of-man").expect("the registry carries the island");
    let incident = format!("--incident={incident}");
    tankerloop(&["plan", scenario.to_str().unwrap(), "--roads", roads.to_str().unwrap(), &incident])
}

fn ways(leg: &Value) -> Vec<i64> {
    leg["ways"].as_str().unwrap().split(' ').map(|w| w.parse().unwrap()).collect()
}

/// Pulrose Road's bridge, posted 17.5 t. Tankers A, B and C weigh 18.5 t and more when full, 9.8 t at
/// most when empty; D is under it even when full.
const PULROSE_BRIDGE: i64 = 103_436_093;

#[test]
fn across_the_posted_bridge() {
    let ran = plan("-4.5006,54.1500");
    assert_eq!(ran.code, 0, "{}", ran.err);
    let answer = ran.json();
    let best = of_option(&answer, "dump_site", 1)[0];
    assert!(best["fill_sites"].as_str().unwrap().contains("East main"), "{best}");
    let heavy: Vec<&Value> = layer(&answer, "leg")
        .into_iter()
        .filter(|l| l["fill_site"] == "East main" && l["tanker_ids"] != "D")
        .collect();
    assert!(heavy.iter().any(|l| l["option"] == 1));
    for leg in &heavy {
        let (name, over) = (leg["leg"].as_str().unwrap(), ways(leg).contains(&PULROSE_BRIDGE));
        assert_eq!(over, name == "empty", "option {} of {}: {name}", leg["option"], leg["tanker_ids"]);
    }
    // The way round is several times as long as the way over.
    let found = of_option(&answer, "loop", 1).into_iter().find(|l| l["tanker_ids"] == "A, B, C").unwrap();
    assert!(number(found, "loaded_distance_m") > 2.0 * number(found, "empty_distance_m"), "{found}");
    assert!(number(found, "loaded_travel_s") > 2.0 * number(found, "empty_travel_s"), "{found}");
}

/// The same fire with the bridge closed: no leg goes over it, and the answer passes the verification.
#[test]
fn the_posted_bridge_closed() {
    let folder = run::folder("island-overlay");
    let overlay = folder.join("closed.geojson");
    let properties =
        serde_json::json!({ "kind": "closure", "way": PULROSE_BRIDGE, "reason": "bearing failed" });
    let feature = serde_json::json!({ "type": "Feature", "geometry": null, "properties": properties });
    let whole = serde_json::json!({ "type": "FeatureCollection", "features": [feature] });
    std::fs::write(&overlay, whole.to_string()).unwrap();
    let scenario = repository("tests/isle-of-man/scenario.toml");
    let roads = extracts::path("isle-of-man").expect("the registry carries the island");
    let ran = tankerloop(&[
        "plan",
        scenario.to_str().unwrap(),
        "--roads",
        roads.to_str().unwrap(),
        "--incident=-4.5006,54.1500",
        "--overlay",
        overlay.to_str().unwrap(),
        "--verify",
    ]);
    assert!(ran.code < 2 && ran.err.contains("checks passed"), "{}", ran.err);
    let answer = ran.json();
    assert!(!layer(&answer, "leg").is_empty());
    for leg in layer(&answer, "leg") {
        assert!(!ways(leg).contains(&PULROSE_BRIDGE), "{leg}");
    }
}

#[test]
fn three_fires_have_three_best_sites() {
    for (incident, site, code) in [
        ("-4.5006,54.1500", "East main", 0),
        ("-4.7511,54.0717", "Harbour head", 1),
        ("-4.41,54.33", "North sands", 1),
    ] {
        let ran = plan(incident);
        assert_eq!(ran.code, code, "{incident}: {}", ran.err);
        let answer = ran.json();
        let loops = of_option(&answer, "loop", 1);
        assert_eq!(loops[0]["fill_site"], site, "{incident}");
        for option in layer(&answer, "dump_site") {
            assert!(number(option, "sustained_flow_gpm") <= number(option, "ceiling_flow_gpm") + 0.05);
            assert!(number(option, "first_water_s") > 0.0);
        }
        // Nobody drives a leg faster than 60 mph or slower than a walk; legs end where they should.
        for leg in layer(&answer, "leg") {
            let speed = number(leg, "distance_m") / number(leg, "travel_s");
            assert!((1.5..27.0).contains(&speed), "{speed} m/s: {leg}");
        }
        for name in ["East main", "Harbour head", "North sands", "West quay", "Abbey pond"] {
            assert!(layer(&answer, "fill_site").iter().any(|s| s["name"] == name), "{name} is not told of");
        }
    }
}

/// Every leg begins where the other one ends: at the option's dump site, and at one place by the fill site.
#[test]
fn loops_close() {
    // At the second of these a spot counted from either end of its road differs by a centimetre.
    for incident in ["-4.5006,54.1500", "-4.638961,54.147370"] {
        legs_meet(&plan(incident).json());
    }
}

fn legs_meet(answer: &Value) {
    let features = answer["features"].as_array().unwrap();
    let lines: Vec<(&Value, &Vec<Value>)> = features
        .iter()
        .filter(|f| f["properties"]["layer"] == "leg")
        .map(|f| (&f["properties"], f["geometry"]["coordinates"].as_array().unwrap()))
        .collect();
    for pair in lines.chunks(2) {
        let [(loaded, out), (empty, back)] = pair else { panic!("legs come in pairs") };
        assert_eq!((&loaded["leg"], &empty["leg"]), (&"loaded".into(), &"empty".into()));
        assert_eq!(out.last(), back.first(), "dump end of {loaded}");
        assert_eq!(out.first(), back.last(), "fill end of {loaded}");
        let dump = features.iter().find(|f| {
            f["properties"]["layer"] == "dump_site" && f["properties"]["option"] == loaded["option"]
        });
        assert_eq!(out.last().unwrap(), &dump.unwrap()["geometry"]["coordinates"]);
    }
}

/// The house lies on a road that is open, in a pocket between postings of 10 t: the reason names the
/// posted way and the margin, on the table and in the answer.
#[test]
fn a_house_no_full_tanker_comes_near() {
    let ran = plan("-4.62,54.13");
    assert_eq!(ran.code, 1, "{}", ran.err);
    let answer = ran.json();
    assert!(layer(&answer, "dump_site").is_empty());
    let findings = answer["tankerloop"]["findings"].as_array().unwrap();
    let told = findings.iter().find(|f| f["code"] == "no-dump-site").expect("it is told");
    let cause = told["cause"].as_str().unwrap();
    for words in ["way 25986241", "Ballacharry Road", "posted 10.0 t", "vehicle 19.0 t"] {
        assert!(cause.contains(words), "\"{words}\" is not in: {cause}");
        assert!(ran.err.contains(words), "\"{words}\" is not in the table:\n{}", ran.err);
    }
    for site in layer(&answer, "fill_site") {
        assert_eq!(site["used"], false);
        assert!(!site["reason"].as_str().unwrap().is_empty());
    }
}

/// The road at the house is open both to the full and the empty tanker, 406 m off; the hose is 1,000 ft.
#[test]
fn a_house_too_far_from_the_road() {
    let ran = plan("-4.374720,54.326146");
    assert_eq!(ran.code, 1, "{}", ran.err);
    assert!(ran.err.contains("406 m from the road and the supply hose is 305 m long"), "{}", ran.err);
}
