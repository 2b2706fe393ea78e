//! Input that cannot be used, through the binary: exit code 2, and on stderr nothing but lines that
//! name the file, the row or the place, what is wrong and what to do about it. Never a panic.

#[path = "support/refused.rs"]
mod refused;
#[path = "support/run.rs"]
mod run;

use refused::{case, check, run_all};
use run::{county, folder, repository, tankerloop};
use std::path::Path;

/// The row of data/county/extra-sites.csv that the cases copy: name,lon,lat,kind,flow_gpm,
/// volume_gal,berths,season,handling_s,lift_ft,in_service,note.
const HYDRANT: &str = "Plavibel hydrant,-34.0889733,31.0463155,hydrant,500,,1,all,75,,true,";

#[test]
fn scenario_files() {
    const FILE: &str = "scenario.toml";
    run_all(
        "scenario",
        &[
            case("empty", FILE, ("", ""), &["scenario.toml", "fleet"]),
            case("garbage", FILE, ("", "}{ \u{1} not toml"), &["scenario.toml, row 1"]),
            case("unknown key", FILE, ("fleet =", "fleat ="), &["scenario.toml, row 6", "fleat"]),
            case("unknown key in a table", FILE, ("need_gpm", "need_gmp"), &["need_gmp", "row 11"]),
            case(
                "missing fleet",
                FILE,
                ("\"fleet.toml\"", "\"none.toml\""),
                &["none.toml", "[file-missing]"],
            ),
            case("missing sites", FILE, ("extra-sites.csv", "none.csv"), &["none.csv", "[file-missing]"]),
            case(
                "missing roads",
                FILE,
                ("county.osm.pbf", "none.osm.pbf"),
                &["none.osm.pbf", "[file-missing]"],
            ),
            case("missing speeds", FILE, ("fleet =", "speeds = \"none.toml\"\nfleet ="), &["none.toml"]),
            case("no roads", FILE, ("roads =", "# roads ="), &["scenario.toml", "--roads"]),
            case("no sites", FILE, ("sites =", "# sites ="), &["[no-fill-site]", "mapped_sites"]),
            case(
                "a table of sites",
                FILE,
                ("extra-sites.csv", "fleet.toml"),
                &["fleet.toml", ".geojson or .csv"],
            ),
            case("no incident", FILE, ("at = [", "# at = ["), &["scenario.toml", "--incident"]),
            case(
                "a dump off the earth",
                FILE,
                ("need_gpm =", "dump = [-34.0, 91.0]\nneed_gpm ="),
                &["incident.dump"],
            ),
            case("no need", FILE, ("need_gpm = 500", ""), &["need_gpm (--need)", "not given"]),
            case("need 0", FILE, ("= 500", "= 0"), &["need_gpm (--need) is 0"]),
            case("need below zero", FILE, ("= 500", "= -500"), &["need_gpm (--need) is -500"]),
            case("need not a number", FILE, ("= 500", "= nan"), &["need_gpm", "not a number"]),
            case("need without end", FILE, ("= 500", "= inf"), &["need_gpm (--need) is inf"]),
            case("need as text", FILE, ("= 500", "= \"500\""), &["row 11", "string"]),
            case("month 13", FILE, ("fleet =", "month = 13\nfleet ="), &["month is 13"]),
            case("month 0", FILE, ("fleet =", "month = 0\nfleet ="), &["month is 0"]),
            case("when no time", FILE, ("fleet =", "when = \"noon\"\nfleet ="), &["when is \"noon\""]),
            case(
                "when no such day",
                FILE,
                ("fleet =", "when = \"2026-02-30T10:00\"\nfleet ="),
                &["when is \"2026-02-30T10:00\""],
            ),
            case(
                "when in another month",
                FILE,
                ("fleet =", "month = 2\nwhen = \"2026-01-15T14:00\"\nfleet ="),
                &["month is 2, but when is"],
            ),
            case("month 300", FILE, ("fleet =", "month = 300\nfleet ="), &["row 6", "300"]),
            case("no time", FILE, ("period_min = 120", "period_min = 0"), &["period_min is 0"]),
            case("certainty", FILE, ("reliability = 0.9", "reliability = 1.5"), &["reliability is 1.5"]),
            case("no replications", FILE, ("replications = 200", "replications = 0"), &["replications is 0"]),
            case("half a seed", FILE, ("seed = 1", "seed = -1"), &["scenario.toml, row 17"]),
            case("a spread", FILE, ("seed = 1", "spread = { travle = \"fixed\" }"), &["row 17", "travle"]),
            case(
                "a spread below zero",
                FILE,
                ("seed = 1", "spread = { travel = { log-normal = { cv = -1 } } }"),
                &["scenario.toml", "spread.travel is -1"],
            ),
            case("a place of one number", FILE, ("at = [-34.0083434,", "at = ["), &["scenario.toml, row 10"]),
            case("a place that is none", FILE, ("31.0196008", "nan"), &["incident.at", "finite"]),
            case("off the globe", FILE, ("31.0196008", "131.0"), &["incident.at", "131"]),
        ],
    );
}

#[test]
fn places() {
    const FILE: &str = "scenario.toml";
    run_all(
        "places",
        &[
            // 0.4 degrees of latitude are 44 km; the county ends 17 km north of the incident.
            case(
                "an incident far off the roads",
                FILE,
                ("31.0196008", "31.4196008"),
                &["[off-the-roads]", "barn fire", "31.4196008", "km away"],
            ),
            case(
                "a swapped incident",
                FILE,
                ("-34.0083434, 31.0196008", "31.0196008, -34.0083434"),
                &["[swapped-lon-lat]", "barn fire", "-34.0083434,31.0196008"],
            ),
            case(
                "a swapped site",
                "extra-sites.csv",
                ("-34.0889733,31.0463155", "31.0463155,-34.0889733"),
                &["[swapped-lon-lat]", "extra-sites.csv, row 2", "-34.0889733,31.0463155"],
            ),
            case(
                "a swapped site in GeoJSON",
                "fill-sites.geojson",
                ("[-34.0348087, 31.0283697]", "[31.0283697, -34.0348087]"),
                &["[swapped-lon-lat]", "fill-sites.geojson, row 1", "Reservoir landing"],
            ),
            case(
                "a swapped station",
                "fleet.toml",
                ("[-34.0896657, 31.0463874]", "[31.0463874, -34.0896657]"),
                &["[swapped-lon-lat]", "fleet.toml", "station of T3"],
            ),
            case(
                "a site in the sea",
                "extra-sites.csv",
                ("-34.0889733,31.0463155", "-34.4889733,31.0463155"),
                &["[off-the-roads]", "extra-sites.csv, row 2", "Plavibel hydrant", "km away"],
            ),
            // 0.03 degrees of longitude are 2.9 km at 31° N; no road of the county is there.
            case(
                "a station in the sea",
                "fleet.toml",
                ("[-34.0896657, 31.0463874]", "[-34.5, 31.0463874]"),
                &["[off-the-roads]", "fleet.toml", "station of T3"],
            ),
        ],
    );
}

#[test]
fn site_lists() {
    const CSV: &str = "extra-sites.csv";
    const JSON: &str = "fill-sites.geojson";
    run_all(
        "sites",
        &[
            case("empty CSV", CSV, ("", ""), &["extra-sites.csv, row 1", "column"]),
            case("a missing column", CSV, ("name,lon", "nom,lon"), &["row 1", "\"name\" is missing"]),
            case(
                "flow below zero",
                CSV,
                (HYDRANT, "Plavibel hydrant,-34.0889733,31.0463155,hydrant,-500,,1,all,75,,true,"),
                &["extra-sites.csv, row 2", "Plavibel hydrant", "flow_gpm = -500"],
            ),
            case("NaN", CSV, ("hydrant,500", "hydrant,NaN"), &["row 2", "flow_gpm = NaN"]),
            case("zero", CSV, ("hydrant,500", "hydrant,0"), &["row 2", "flow_gpm = 0"]),
            case("text", CSV, ("hydrant,500", "hydrant,plenty"), &["row 2", "flow_gpm = plenty"]),
            case("a unit", CSV, ("hydrant,500", "hydrant,500 gpm"), &["row 2", "flow_gpm = 500 gpm"]),
            case("no berth", CSV, (",1,all,75", ",0,all,75"), &["row 2", "berths"]),
            case("half a berth", CSV, (",1,all,75", ",1.5,all,75"), &["row 2", "berths"]),
            case("a bad season", CSV, (",1,all,75", ",1,spring,75"), &["row 2", "spring", "apr-nov"]),
            case("a bad state", CSV, (",75,,true", ",75,,perhaps"), &["row 2", "in_service = perhaps"]),
            case("an unknown kind", CSV, (",hydrant,", ",fountain,"), &["row 2", "fountain", "dry-hydrant"]),
            case("no place", CSV, ("-34.0889733,31.0463155", ","), &["row 2", "LON,LAT"]),
            case("no name", CSV, ("Plavibel hydrant,", ","), &["row 2", "no name"]),
            case("one name twice", CSV, ("Grange tank", "Two Barns pond"), &["Two Barns pond", "share"]),
            case(
                "one name in two lists",
                CSV,
                ("Grange tank", "Reservoir landing"),
                &["extra-sites.csv, row 4", "Reservoir landing", "fill-sites.geojson"],
            ),
            case(
                "every bad row is told",
                CSV,
                (
                    "",
                    "name,lon,lat,kind,flow_gpm,berths,season\n\
                     A,-34.0889733,31.0463155,hydrant,-1,1,all\n\
                     B,-34.0889733,31.0463155,hydrant,500,1,all\n\
                     C,-34.0889733,31.0463155,hydrant,500,none,spring\n\
                     D,-34.0889733,north,hydrant,500,1,all\n",
                ),
                &["row 2, \"A\"", "row 4, \"C\": berths", "\"spring\" is not a season", "row 5, \"D\""],
            ),
            case(
                "every torn row is told",
                CSV,
                ("", "name,lon,lat,kind\nA,-34.08,31.04\nB,-34.08,31.04,pond\nC\n"),
                &["row 2", "row 4"],
            ),
            case("empty GeoJSON", JSON, ("", ""), &["fill-sites.geojson", "not GeoJSON"]),
            case("invalid JSON", JSON, ("{", "{{"), &["fill-sites.geojson", "not GeoJSON"]),
            case(
                "a feature alone",
                JSON,
                ("", r#"{"type":"Feature","geometry":null,"properties":{}}"#),
                &["fill-sites.geojson", "FeatureCollection"],
            ),
            case(
                "a line",
                JSON,
                (
                    r#""type": "Point", "coordinates": [-34.0348087, 31.0283697]"#,
                    r#""type": "LineString", "coordinates": [[-34.0348087, 31.0283697], [-34.0, 31.0]]"#,
                ),
                &["fill-sites.geojson, row 1", "Point"],
            ),
            case(
                "text for a number",
                JSON,
                ("\"berths\": 2", "\"berths\": \"two\""),
                &["row 1", "berths = two"],
            ),
            case(
                "a list for a number",
                JSON,
                ("\"berths\": 2", "\"berths\": [2]"),
                &["row 1", "berths = [2]"],
            ),
            case("a bad season in GeoJSON", JSON, ("apr-nov", "apr"), &["row 4", "\"apr\" is not a season"]),
        ],
    );
}

/// Every text file in turn as Latin-1: a byte that is no UTF-8.
#[test]
fn files_that_are_not_utf_8() {
    for (i, file) in
        ["scenario.toml", "fleet.toml", "extra-sites.csv", "fill-sites.geojson"].iter().enumerate()
    {
        let folder = county(&format!("bad-latin-{i}"));
        let path = folder.join(file);
        let mut bytes = std::fs::read(&path).unwrap();
        bytes.extend(b"# caf\xe9\n");
        std::fs::write(&path, bytes).unwrap();
        let ran = tankerloop(&["plan", folder.join("scenario.toml").to_str().unwrap()]);
        check(file, ran.code, &ran.err, &[file, "UTF-8"]);
    }
}

#[test]
fn road_files() {
    let pbf = std::fs::read(repository("data/county/county.osm.pbf")).unwrap();
    let cases: [(&str, Vec<u8>); 4] = [
        ("empty", Vec::new()),
        ("garbage", b"this is no extract, only text of some length".repeat(40)),
        ("torn in the middle", pbf[..pbf.len() / 2].to_vec()),
        ("torn in the header", pbf[..9].to_vec()),
    ];
    for (i, (what, bytes)) in cases.into_iter().enumerate() {
        let folder = county(&format!("bad-roads-{i}"));
        std::fs::write(folder.join("county.osm.pbf"), bytes).unwrap();
        let ran = tankerloop(&["plan", folder.join("scenario.toml").to_str().unwrap()]);
        check(what, ran.code, &ran.err, &["county.osm.pbf"]);
    }
}

#[test]
fn several_errors_are_told_at_once() {
    let folder = county("bad-several");
    let spoil = |file: &str, old: &str, new: &str| {
        let path = folder.join(file);
        let text = std::fs::read_to_string(&path).unwrap();
        assert!(text.contains(old));
        std::fs::write(&path, text.replacen(old, new, 1)).unwrap();
    };
    spoil("scenario.toml", "need_gpm = 500", "need_gpm = 0");
    spoil("fleet.toml", "tank_gal = 1000", "tank_gal = 0");
    spoil("extra-sites.csv", "hydrant,500", "hydrant,-500");
    spoil("fill-sites.geojson", "\"berths\": 2", "\"berths\": 0");
    let ran = tankerloop(&["plan", folder.join("scenario.toml").to_str().unwrap()]);
    let said = ["need_gpm (--need) is 0", "tank_gal is 0", "flow_gpm = -500", "berths = 0"];
    check("several", ran.code, &ran.err, &said);
    assert_eq!(ran.err.lines().count(), 4, "{}", ran.err);
}

/// Flags are judged like the keys they override.
#[test]
fn flags() {
    let folder = county("bad-flags");
    let scenario = folder.join("scenario.toml");
    let scenario = scenario.to_str().unwrap();
    for (flag, said) in [
        ("--need=0", "need_gpm (--need) is 0"),
        ("--need=-1", "need_gpm (--need) is -1"),
        ("--need=NaN", "not a number"),
        ("--month=0", "month is 0"),
        ("--month=13", "month is 13"),
        ("--when=2026-01-15T14:00Z", "when is \"2026-01-15T14:00Z\""),
        ("--replications=0", "replications is 0"),
        ("--roads=nowhere.osm.pbf", "nowhere.osm.pbf"),
        ("--incident=-34.0,31.6", "km away"),
        ("--incident=31.0196008,-34.0083434", "swapped"),
        ("--dump=-34.0,31.6", "km away"),
        ("--dump=31.0196008,-34.0083434", "swapped"),
        ("--output=no/such/folder/answer.geojson", "no/such/folder"),
    ] {
        let ran = tankerloop(&["plan", scenario, "--quiet", flag]);
        check(flag, ran.code, &ran.err, &[said]);
    }
    let ran = tankerloop(&["plan", folder.join("none.toml").to_str().unwrap()]);
    check("no scenario", ran.code, &ran.err, &["none.toml", "[file-missing]"]);
    let ran = tankerloop(&["audit", folder.join("none.toml").to_str().unwrap()]);
    check("no scenario to audit", ran.code, &ran.err, &["none.toml"]);
    let ran = tankerloop(&["demo", Path::new(scenario).to_str().unwrap()]);
    check("a file for a folder", ran.code, &ran.err, &["scenario.toml"]);
}

/// Errors of use are the command line's own: they begin like ours and end in the same exit code.
#[test]
fn errors_of_use() {
    let scenario = repository("data/county/scenario.toml");
    let scenario = scenario.to_str().unwrap();
    for args in [
        &["plan"][..],
        &["plan", scenario, "--incident=here"],
        &["plan", scenario, "--incident=-34.0"],
        &["plan", scenario, "--dump=-34.0"],
        &["plan", scenario, "--need=plenty"],
        &["plan", scenario, "--units=furlongs"],
        &["paln", scenario],
        &[],
    ] {
        let ran = tankerloop(args);
        assert_eq!(ran.code, 2, "{args:?}");
        assert!(!ran.err.contains("panicked"), "{args:?}: {}", ran.err);
    }
    let ran = tankerloop(&["plan", scenario, "--incident=here"]);
    assert!(ran.err.starts_with("error: ") && ran.err.contains("LON,LAT"), "{}", ran.err);
    let nowhere = folder("bad-use");
    let ran = tankerloop(&["plan", nowhere.to_str().unwrap()]);
    check("a folder for a scenario", ran.code, &ran.err, &["bad-use"]);
}
