//! The map page as a file: one truth, inert data, nothing loaded from elsewhere, and its size. What it
//! shows in a browser is tested under tests/browser.

#[path = "support/run.rs"]
mod run;

use run::{folder, repository, tankerloop};
use serde_json::Value;
use std::path::Path;

/// The data block of a page, as the text in it.
fn block<'a>(page: &'a str, id: &str) -> &'a str {
    let start = format!("<script type=\"application/json\" id=\"data-{id}\">");
    let (_, rest) = page.split_once(&start).expect("a data block");
    rest.split_once("</script>").expect("an end of the block").0
}

/// Plans and writes page and answer; `None` where this build has no page, which it then must say.
fn written(scenario: &Path, out: &Path) -> Option<(String, Value)> {
    let (page, answer) = (out.join("answer.html"), out.join("answer.geojson"));
    let args = ["plan", scenario.to_str()?, "--page", page.to_str()?, "-o", answer.to_str()?];
    let ran = tankerloop(&args);
    if ran.code == 2 {
        assert!(
            ran.err.contains("built without Node.js") && ran.err.contains("install Node.js"),
            "{}",
            ran.err
        );
        assert!(!page.exists() && !answer.exists(), "a refused command writes nothing");
        eprintln!("this build has no map page; nothing else is tested here");
        return None;
    }
    assert_eq!(ran.code, 0, "{}", ran.err);
    let answer = serde_json::from_slice(&std::fs::read(answer).unwrap()).unwrap();
    Some((std::fs::read_to_string(page).unwrap(), answer))
}

#[test]
fn the_page_holds_the_answer_and_its_roads() {
    let out = folder("page");
    std::fs::create_dir_all(&out).unwrap();
    let Some((page, answer)) = written(&repository("data/county/scenario.toml"), &out) else { return };
    assert!(page.len() < 4_000_000, "the demo page has {} bytes", page.len());
    let shown: Value = serde_json::from_str(block(&page, "answer")).unwrap();
    assert!(shown == answer, "the page's answer is not the answer");

    // Nothing is loaded: no element names an address, and the policy allows none.
    let markup = page.split("<script>").next().unwrap();
    for loading in [" src=", "url(http", "@import", "<link", "<iframe", "href=\"http"] {
        assert!(!markup.contains(loading), "{loading}");
    }
    let policy = "default-src 'none'; script-src 'sha256-";
    assert!(page.contains(policy) && !page.contains("unsafe-"), "the policy is not strict");

    let map: Value = serde_json::from_str(block(&page, "map")).unwrap();
    let names = map["names"].as_array().unwrap();
    // Every street that a leg drives is on the map by its name.
    for feature in answer["features"].as_array().unwrap() {
        let properties = &feature["properties"];
        if properties["layer"] != "leg" {
            continue;
        }
        for street in properties["streets"].as_str().unwrap().split(" → ") {
            assert!(
                street.starts_with("unnamed") || names.iter().any(|n| n == street),
                "{street} is missing"
            );
        }
    }
    // data/county has one reservoir, a multipolygon with an island (examples/county/water.rs).
    let with_holes = |a: &&Value| a[0] == "water" && a[2].as_array().is_some_and(|rings| rings.len() == 2);
    assert_eq!(map["areas"].as_array().unwrap().iter().filter(with_holes).count(), 1);

    // A minute a row beyond the operational period of 120 min, between nothing and the tanks' room, the mean
    // between the tenth and the ninetieth percentile or near them; every tanker of the option arrives.
    let about: Value = serde_json::from_str(block(&page, "about")).unwrap();
    let options = run::layer(&answer, "dump_site");
    assert_eq!(about["series"].as_array().unwrap().len(), options.len());
    for (series, option) in about["series"].as_array().unwrap().iter().zip(options) {
        let column = |key: &str| -> Vec<f64> {
            series[key].as_array().unwrap().iter().map(|v| v.as_f64().unwrap()).collect()
        };
        let (low, level, high) = (column("level_low_gal"), column("level_gal"), column("level_high_gal"));
        let room = series["tank_room_gal"].as_f64().unwrap();
        assert!(level.len() > 120 && column("t_s")[0] == 60.0);
        assert!(level.iter().all(|l| (0.0..=room + 0.1).contains(l)), "{level:?}");
        assert!(low.iter().zip(&high).all(|(low, high)| low <= high));
        // All water that came is drawn or still there: minutes of gpm are gallons, each rounded to 0.1.
        let sum = |key: &str| column(key).iter().sum::<f64>();
        let missing = sum("offered_gpm") - sum("drawn_gpm") - level[level.len() - 1];
        assert!(missing.abs() < 0.1 * level.len() as f64, "{missing} gal are missing");
        let mut tankers: Vec<&str> =
            series["arrivals"].as_array().unwrap().iter().map(|a| a["tanker"].as_str().unwrap()).collect();
        tankers.sort_unstable();
        tankers.dedup();
        assert_eq!(tankers.len() as u64, option["tankers"].as_u64().unwrap());
    }
    // The rig of each option, in both units.
    let rigs = &answer["tankerloop"]["rigs"];
    assert_eq!(rigs.as_array().unwrap().len(), about["series"].as_array().unwrap().len());
    assert!(rigs[0]["us"]["drawing"].as_str().unwrap().contains("CLEAR LANE, 12 ft"));
    assert!(rigs[0]["metric"]["drawing"].as_str().unwrap().contains("PUMPER"));
}

/// Every property of every stretch is in the page as it is in the GeoJSON, in columns, and every line
/// begins and ends where it does there (`output::walk` tests what lies between).
#[test]
fn the_page_of_a_zone_holds_the_zone() {
    let out = folder("page-zone");
    std::fs::create_dir_all(&out).unwrap();
    let scenario = repository("data/county/scenario.toml");
    let (page, zone) = (out.join("zone.html"), out.join("zone.geojson"));
    let paths = [scenario.to_str().unwrap(), page.to_str().unwrap(), zone.to_str().unwrap()];
    let args = ["zone", paths[0], "--page", paths[1], "-o", paths[2], "--longest", "600", "--sample", "2"];
    let more = ["--quiet", "--compare", "Two tankers: tankers=T1+T2", "--propose", "2"];
    let ran = tankerloop(&[&args[..], &more[..]].concat());
    if ran.code == 2 {
        assert!(ran.err.contains("built without Node.js"), "{}", ran.err);
        assert!(!page.exists() && !zone.exists(), "a refused command writes nothing");
        return;
    }
    let page = std::fs::read_to_string(page).unwrap();
    assert!(page.len() < 4_000_000, "the page of the zone has {} bytes", page.len());
    let zone: Value = serde_json::from_slice(&std::fs::read(zone).unwrap()).unwrap();
    let shown: Value = serde_json::from_str(block(&page, "zone")).unwrap();
    assert_eq!(shown["tankerloop"], zone["tankerloop"]);
    assert_eq!(shown["tankerloop"]["compared"][0]["key"], "two_tankers");
    let features = zone["features"].as_array().unwrap();
    let of = |layer: &str| -> Vec<&Value> {
        features.iter().filter(|f| f["properties"]["layer"] == layer).collect()
    };
    for (layer, key) in [("gap", "gaps"), ("proposal", "proposals"), ("fill_site", "fill_sites")] {
        assert!(!of(layer).is_empty(), "no {layer}");
        assert_eq!(shown[key].as_array().unwrap().len(), of(layer).len(), "{layer}");
    }
    let texts = shown["stretches"]["texts"].as_array().unwrap();
    let text = |number: &Value| number.as_u64().map_or(Value::Null, |n| texts[n as usize].clone());
    let stretches = of("stretch");
    let columns = shown["stretches"]["columns"].as_object().unwrap();
    for (i, stretch) in stretches.iter().enumerate() {
        let properties = stretch["properties"].as_object().unwrap();
        assert_eq!(properties.len(), columns.len() + 1, "all but the layer");
        for (key, column) in columns {
            let held = match (&column["plain"][i], &column["text"][i]) {
                (Value::Null, Value::Array(list)) => list.iter().map(text).collect(),
                (Value::Null, number @ Value::Number(_)) => text(number),
                (plain, _) => plain.clone(),
            };
            assert_eq!(held, properties[key], "{key} of stretch {}", i + 1);
        }
    }
    let origin = [&shown["origin"][0], &shown["origin"][1]].map(|x| x.as_f64().unwrap());
    for (line, stretch) in shown["lines"].as_array().unwrap().iter().zip(&stretches) {
        let steps: Vec<f64> = line.as_array().unwrap().iter().map(|x| x.as_f64().unwrap()).collect();
        let given = stretch["geometry"]["coordinates"].as_array().unwrap();
        // The ends are never left out: half of 1e-5 degrees each way.
        let near = |x: f64, y: f64, place: &Value| {
            let [lon, lat] = [&place[0], &place[1]].map(|d| d.as_f64().unwrap());
            (x / 1e5 - lon).abs() < 0.51e-5 && (y / 1e5 - lat).abs() < 0.51e-5
        };
        assert!(near(origin[0] + steps[0], origin[1] + steps[1], &given[0]), "{stretch}");
        let sum = |from: usize| steps.iter().skip(from).step_by(2).sum::<f64>();
        assert!(near(origin[0] + sum(0), origin[1] + sum(1), &given[given.len() - 1]), "{stretch}");
    }
}

/// A saved network holds no water: it is taken from the extract, or the page says why there is none.
#[test]
fn a_saved_network_has_the_water_of_its_extract() {
    let out = run::county("page-saved");
    let (extract, saved) = (out.join("county.osm.pbf"), out.join("county.roads"));
    let ran = tankerloop(&["prepare", extract.to_str().unwrap(), "-o", saved.to_str().unwrap()]);
    assert_eq!(ran.code, 0, "{}", ran.err);
    let scenario = out.join("scenario.toml");
    let text = std::fs::read_to_string(&scenario).unwrap();
    std::fs::write(&scenario, text.replace("county.osm.pbf", "county.roads")).unwrap();
    let map = |page: &str| -> Value { serde_json::from_str(block(page, "map")).unwrap() };
    let Some((page, _)) = written(&scenario, &out) else { return };
    assert!(!map(&page)["areas"].as_array().unwrap().is_empty());
    std::fs::remove_file(&extract).unwrap();
    let (page, _) = written(&scenario, &out).unwrap();
    assert!(map(&page)["areas"].as_array().unwrap().is_empty());
    assert!(map(&page)["notes"][0].as_str().unwrap().contains("extract it was saved from is not there"));
}

/// A site list and a scenario that try to leave their place in the page.
#[test]
fn hostile_names_stay_names() {
    let out = folder("page-hostile");
    std::fs::create_dir_all(&out).unwrap();
    for file in ["county.osm.pbf", "fleet.toml", "fill-sites.geojson", "extra-sites.csv"] {
        std::fs::copy(repository("data/county").join(file), out.join(file)).unwrap();
    }
    let hostile = "</script><script>alert(1)</script><!--\u{2028}\u{202e}&lt;";
    let text = std::fs::read_to_string(repository("data/county/scenario.toml")).unwrap();
    let named = text.replace(
        "\"barn fire, hay and machinery\"",
        &format!("{hostile:?}").replace("\\u{2028}", "\\u2028").replace("\\u{202e}", "\\u202e"),
    );
    assert_ne!(named, text);
    std::fs::write(out.join("scenario.toml"), named).unwrap();
    let Some((page, answer)) = written(&out.join("scenario.toml"), &out) else { return };
    assert_eq!(answer["features"][0]["properties"]["name"], hostile);
    assert!(!page.contains("<script>alert") && !page.contains('\u{2028}'));
    let shown: Value = serde_json::from_str(block(&page, "answer")).unwrap();
    assert!(shown == answer);
}
