//! `tankerloop zone` as a user runs it: stopped and resumed, cut and gathered, wrong.

#[path = "support/run.rs"]
mod run;

use run::{county, layer, tankerloop};
use serde_json::Value;
use std::path::Path;
use std::process::{Command, Stdio};
use std::time::Duration;

fn text(path: &Path) -> &str {
    path.to_str().expect("the path is UTF-8")
}

fn zone(folder: &Path, more: &[&str]) -> run::Ran {
    let scenario = folder.join("scenario.toml");
    tankerloop(&[&["zone", text(&scenario), "--longest", "400", "--sample", "3", "--quiet"], more].concat())
}

#[test]
fn the_county_in_one_run_in_blocks_and_resumed() {
    let folder = county("zone-county");
    let (whole, gathered, resumed) =
        (folder.join("whole.geojson"), folder.join("gathered.geojson"), folder.join("resumed.geojson"));
    let ran = zone(&folder, &["-o", text(&whole)]);
    assert!(ran.code == 0 || ran.code == 1, "{}", ran.err);
    let bytes = std::fs::read(&whole).unwrap();
    assert!(!folder.join("whole.geojson.parts").exists());
    let answer: Value = serde_json::from_slice(&bytes).unwrap();
    let stretches = layer(&answer, "stretch");
    assert_eq!(stretches.len(), answer["tankerloop"]["stretches"].as_u64().unwrap() as usize);
    assert!(stretches.len() > 1_000);
    assert_eq!(stretches.iter().filter(|s| s["sustained_gpm"].is_number()).count(), 3);
    // The road of the classes is all the road.
    let summary = &answer["tankerloop"]["summary"];
    let sum: f64 = ["below_250", "from_250", "from_500", "from_750", "from_1000"]
        .iter()
        .map(|class| summary[format!("{class}_gpm_m")].as_f64().unwrap())
        .sum();
    assert!((sum - summary["road_m"].as_f64().unwrap()).abs() <= 5.0);
    // Gaps are what falls short.
    let short = stretches.iter().filter(|s| s["ceiling_meets_need"] == false).count() as u64;
    let in_gaps: u64 = layer(&answer, "gap").iter().map(|gap| gap["stretches"].as_u64().unwrap()).sum();
    assert_eq!(short, in_gaps);

    let parts = folder.join("parts");
    for block in ["3/3", "1/3", "2/3"] {
        let ran = zone(&folder, &["--block", block, "--parts", text(&parts)]);
        assert_eq!(ran.code, 0, "{}", ran.err);
    }
    zone(&folder, &["--gather", text(&parts), "-o", text(&gathered)]);
    assert!(std::fs::read(&gathered).unwrap() == bytes, "gathered blocks differ from the single run");

    // One block taken away is told, and so is one of another request.
    let second = parts.join("part-00002-of-00003.zone");
    let kept = std::fs::read(&second).unwrap();
    std::fs::remove_file(&second).unwrap();
    let ran = zone(&folder, &["--gather", text(&parts), "-o", text(&resumed)]);
    assert_eq!(ran.code, 2);
    assert!(ran.err.contains("2 of 3") && ran.err.contains("--block K/3"), "{}", ran.err);
    std::fs::write(&second, &kept[..kept.len() - 1]).unwrap();
    assert_eq!(zone(&folder, &["--gather", text(&parts), "-o", text(&resumed)]).code, 2);
    std::fs::write(&second, &kept).unwrap();
    let ran = zone(&folder, &["--gather", text(&parts), "--month", "1", "-o", text(&resumed)]);
    assert_eq!(ran.code, 2, "parts of another month were taken");
    assert!(!resumed.exists());

    // Killed in the midst, and called again.
    let scenario = folder.join("scenario.toml");
    let own = folder.join("own");
    let args = ["zone", text(&scenario), "--longest", "400", "--sample", "3", "--quiet", "--blocks", "40"];
    let more = ["--parts", text(&own), "-o", text(&resumed)];
    let mut child = Command::new(env!("CARGO_BIN_EXE_tankerloop"))
        .args(args)
        .args(more)
        .stderr(Stdio::null())
        .spawn()
        .unwrap();
    let made = || std::fs::read_dir(&own).map_or(0, |entries| entries.count());
    while made() < 3 && child.try_wait().unwrap().is_none() {
        std::thread::sleep(Duration::from_millis(1));
    }
    child.kill().unwrap();
    child.wait().unwrap();
    let before = made();
    assert!((3..40).contains(&before) && !resumed.exists(), "{before} parts when it was killed");
    let ran = tankerloop(&[&args[..], &more[..]].concat());
    assert!(ran.code < 2, "{}", ran.err);
    assert!(std::fs::read(&resumed).unwrap() == bytes, "the resumed run differs from the single one");
}

#[test]
fn an_area_cuts_the_zone_and_is_refused_where_it_is_none() {
    let folder = county("zone-area");
    let put = |name: &str, text: &str| std::fs::write(folder.join(name), text).unwrap();
    put(
        "west.geojson",
        r#"{"type":"Polygon","coordinates":[[[-180,-80],[-34.0,-80],[-34.0,80],[-180,80],[-180,-80]]]}"#,
    );
    let area = folder.join("west.geojson");
    let ran = zone(&folder, &["--area", text(&area)]);
    let answer = ran.json();
    let lons: Vec<f64> = answer["features"]
        .as_array()
        .unwrap()
        .iter()
        .filter(|f| f["properties"]["layer"] == "stretch")
        .map(|f| f["geometry"]["coordinates"][0][0].as_f64().unwrap())
        .collect();
    assert!(!lons.is_empty() && lons.iter().all(|lon| *lon < -33.99), "{} stretches", lons.len());
    for (name, content, cause) in [
        ("line.geojson", r#"{"type":"LineString","coordinates":[[0,0],[1,1]]}"#, "not an area"),
        ("empty.geojson", r#"{"type":"FeatureCollection","features":[]}"#, "no polygon"),
        ("far.geojson", r#"{"type":"Polygon","coordinates":[[[0,0],[1,0],[1,1],[0,0]]]}"#, "in the zone"),
        ("none.geojson", "roads", "not GeoJSON"),
    ] {
        put(name, content);
        let ran = zone(&folder, &["--area", text(&folder.join(name))]);
        assert_eq!(ran.code, 2, "{name}");
        assert!(ran.err.contains(cause), "{name}: {}", ran.err);
    }
    for wrong in [&["--block", "4/3", "--parts", "p"][..], &["--block", "1/3"], &["--longest", "0"]] {
        assert_eq!(zone(&folder, wrong).code, 2, "{wrong:?}");
    }
}

#[test]
fn other_requests_beside_the_zone_s_own() {
    let folder = county("zone-compare");
    let closed = folder.join("closed.geojson");
    std::fs::write(
        &closed,
        r#"{"type":"FeatureCollection","features":[{"type":"Feature","geometry":null,
            "properties":{"kind":"closure","way":500193,"reason":"bridge out"}}]}"#,
    )
    .unwrap();
    let bridge = format!("bridge out: overlay={}", text(&closed));
    let known = zone(&folder, &["--compare", "x: without=no such pond"]);
    assert_eq!(known.code, 2);
    let names = known.err.split("names are: ").nth(1).expect("the names are told");
    let first = names.split(',').next().unwrap().trim();
    let lost = format!("one lost: without={first}");
    let ran = zone(
        &folder,
        &[
            "--compare",
            "Two tankers: tankers=T1+T2",
            "--compare",
            &bridge,
            "--compare",
            "summer: month=7",
            "--compare",
            &lost,
        ],
    );
    assert!(ran.code < 2, "{}", ran.err);
    let answer = ran.json();
    let stretches = layer(&answer, "stretch");
    let number = |s: &Value, key: &str| s[key].as_f64().unwrap_or_else(|| panic!("{key} of {s}"));
    let (mut less, mut more, mut same) = (0, 0, 0);
    for s in &stretches {
        let own = number(s, "ceiling_gpm");
        for key in ["two_tankers", "bridge_out", "summer", "one_lost"] {
            let (then, change) =
                (number(s, &format!("{key}_ceiling_gpm")), number(s, &format!("{key}_change_gpm")));
            assert!((own + change - then).abs() < 0.11, "{s}");
            match key {
                // Nothing is gained by what is taken away, but for the price of a second site: one site may
                // be preferred to two that together have less than 5 % more.
                "two_tankers" | "bridge_out" | "one_lost" => {
                    assert!(change < 0.05 * own + 0.11, "{key}: {s}")
                }
                // Sites that are used in summer only.
                _ if change > 0.1 => more += 1,
                _ => same += 1,
            }
        }
        less += usize::from(number(s, "two_tankers_change_gpm") < -0.1);
    }
    assert!(less * 2 > stretches.len(), "two tankers do as well as all: {less}");
    assert!(more > 0 && same > 0, "summer: {more} more, {same} the same");
    for wrong in ["no colon", "x: month", "x: colour=red", "x: month=13", "x: tankers=T99", "x: water=wine"] {
        assert_eq!(zone(&folder, &["--compare", wrong]).code, 2, "{wrong}");
    }
}

#[test]
fn a_table_for_spreadsheets() {
    let folder = county("zone-csv");
    let sites = folder.join("extra-sites.csv");
    let list = std::fs::read_to_string(&sites).unwrap();
    // A name that a spreadsheet would run.
    let row = list.lines().nth(1).unwrap();
    let name = row.split(',').next().unwrap();
    std::fs::write(&sites, list.replacen(name, "=HYPERLINK(1)", 1)).unwrap();
    let out = folder.join("zone.csv");
    let ran = zone(&folder, &["-o", text(&out)]);
    assert!(ran.code < 2, "{}", ran.err);
    let mut table = csv::Reader::from_path(&out).unwrap();
    let head = table.headers().unwrap().clone();
    let column = |name: &str| head.iter().position(|h| h == name).unwrap_or_else(|| panic!("no {name}"));
    let rows: Vec<csv::StringRecord> = table.records().map(Result::unwrap).collect();
    let answer: Value = serde_json::from_str(zone(&folder, &[]).text()).unwrap();
    let stretches = layer(&answer, "stretch");
    assert_eq!(rows.len(), stretches.len());
    for (row, stretch) in rows.iter().zip(&stretches) {
        assert_eq!(
            row[column("ceiling_gpm")].parse::<f64>().unwrap(),
            stretch["ceiling_gpm"].as_f64().unwrap()
        );
        assert!(row.iter().all(|cell| !cell.starts_with(['=', '@'])), "{row:?}");
    }
    assert!(rows.iter().any(|row| &row[column("best_site")] == "'=HYPERLINK(1)"));
}

/// A file without the times of change that a GeoPackage must hold, such as 2026-01-15T14:00:00.000Z.
fn timeless(path: &Path) -> Vec<u8> {
    let mut bytes = std::fs::read(path).unwrap();
    let is_time = |w: &[u8]| {
        let marks = [(4, b'-'), (7, b'-'), (10, b'T'), (13, b':'), (16, b':'), (19, b'.'), (23, b'Z')];
        marks.iter().all(|(at, mark)| w[*at] == *mark) && w[..4].iter().all(u8::is_ascii_digit)
    };
    let times: Vec<usize> =
        bytes.windows(24).enumerate().filter(|(_, w)| is_time(w)).map(|(at, _)| at).collect();
    assert!(!times.is_empty(), "no time of change in {}", path.display());
    times.into_iter().for_each(|at| bytes[at..at + 24].fill(0));
    bytes
}

/// A GeoPackage written at once is the one that `export` makes of the GeoJSON, byte for byte but for its time.
#[test]
fn a_geopackage_at_once() {
    let folder = county("zone-gpkg");
    let [json, direct, exported] = ["zone.geojson", "direct.gpkg", "exported.gpkg"].map(|n| folder.join(n));
    let ran = zone(&folder, &["-o", text(&json)]);
    assert!(ran.code < 2, "{}", ran.err);
    let ran = tankerloop(&["export", text(&json), "-o", text(&exported), "--quiet"]);
    assert_eq!(ran.code, 0, "{}", ran.err);
    let scenario = folder.join("scenario.toml");
    let args = ["zone", text(&scenario), "--longest", "400", "--sample", "3", "-o", text(&direct)];
    let ran = tankerloop(&args);
    assert!(ran.code < 2, "{}", ran.err);
    assert!(timeless(&direct) == timeless(&exported), "another file");
    let answer: Value = serde_json::from_slice(&std::fs::read(&json).unwrap()).unwrap();
    // The summary says what the file holds.
    let told = ran.err.lines().find(|line| line.starts_with(text(&direct))).expect("the file is told of");
    for kind in ["stretch", "fill_site", "gap"] {
        let count = layer(&answer, kind).len();
        assert!(count == 0 || told.contains(&format!("{count} {kind}")), "{told}");
    }
}
