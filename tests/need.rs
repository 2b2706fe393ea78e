//! Needed flow from the building: the published examples through the binary, and a scenario that
//! names the method.

#[path = "support/refused.rs"]
mod refused;
#[path = "support/run.rs"]
mod run;

use refused::{case, check, run_all};
use run::{Ran, county, number, repository, tankerloop};
use serde_json::{Value, json};
use std::collections::BTreeSet;

fn need(flags: &str) -> Ran {
    let args: Vec<&str> = ["need"].into_iter().chain(flags.split_whitespace()).collect();
    tankerloop(&args)
}

/// What one method says, from the JSON.
fn says(flags: &str, method: &str) -> Value {
    let ran = need(&format!("{flags} --format json"));
    assert_eq!((ran.code, ran.err.as_str()), (0, ""), "{flags}");
    let answer = ran.json();
    let methods = answer["methods"].as_array().unwrap();
    assert_eq!(methods.len(), 4, "every method is told, worked out or not");
    methods.iter().find(|m| m["method"] == method).unwrap().clone()
}

/// Supply (gal) and flow (gpm) of NFPA 1142.
fn supply_and_flow(flags: &str) -> (f64, f64) {
    let said = says(flags, "nfpa-1142");
    (number(&said, "minimum_supply_gal"), number(&said, "flow_gpm"))
}

fn flow(flags: &str, method: &str) -> f64 {
    number(&says(flags, method), "flow_gpm")
}

/// NFPA 1142 as taught in published fire-inspection training (numbers of III and IV from memory):
/// gallons = ft³ / occupancy class × construction number, × 1.5 with exposures; at least 2,000, with
/// exposures 3,000.
#[test]
fn least_supply_of_the_trade() {
    // 60 × 24 × 10 = 14,400 ft³.
    let house = "--length-ft 60 --width-ft 24 --height-ft 10 --occupancy-class 7";
    for (more, gallons, gpm) in [
        // 14,400 / 7 × 1.0 = 2,057.1.
        ("--construction-class III", 2_057.0, 250.0),
        ("--construction-number 1.0", 2_057.0, 250.0),
        ("--construction-class V --dwelling-cap 1.0", 2_057.0, 250.0),
        // × 1.5 = 3,085.7, and however many exposures there are.
        ("--construction-class III --exposures 1", 3_086.0, 500.0),
        ("--construction-class 3 --exposures 4", 3_086.0, 500.0),
        ("--construction-class v", 3_086.0, 500.0),
        // A cap above the class's number changes nothing.
        ("--construction-class V --dwelling-cap 2", 3_086.0, 500.0),
    ] {
        let (supply, flow) = supply_and_flow(&format!("{house} {more}"));
        assert_eq!((supply.round(), flow), (gallons, gpm), "{more}");
    }
    // 80 × 40 × 15 = 48,000 ft³; / 4 × 1.5 × 1.5 = 27,000.
    let barn = "--length-ft 80 --width-ft 40 --height-ft 15 --occupancy-class 4";
    assert_eq!(supply_and_flow(&format!("{barn} --construction-class V --exposures 1")), (27_000.0, 1_000.0));
    // 48,000 / 4 = 12,000, times 0.5, 0.75, 1.0, 0.75 and 1.5.
    for (class, gallons) in
        [("I", 6_000.0), ("II", 9_000.0), ("III", 12_000.0), ("IV", 9_000.0), ("V", 18_000.0)]
    {
        assert_eq!(supply_and_flow(&format!("{barn} --construction-class {class}")).0, gallons, "{class}");
    }
    // 20 × 20 × 10 = 4,000 ft³; / 7 × 1.5 = 857, below the least; with an exposure 1,286.
    let shed = "--length-ft 20 --width-ft 20 --height-ft 10 --occupancy-class 7 --construction-class V";
    assert_eq!(supply_and_flow(shed), (2_000.0, 250.0));
    assert_eq!(supply_and_flow(&format!("{shed} --exposures 1")), (3_000.0, 500.0));
}

/// From memory of NFPA 1142's table: below 2,500 gal 250 gpm, below 10,000 500, below 20,000 750, else
/// 1,000.
#[test]
fn delivery_rate_at_every_boundary() {
    // Volume / 5 × 1.0, the height a ten-thousandth of the last foot off where it is to fall short.
    for (length, width, height, gallons, gpm) in [
        (50, 25, "9.996", 2_499.0, 250.0),
        (50, 25, "10", 2_500.0, 500.0),
        (100, 50, "9.999", 9_999.0, 500.0),
        (100, 50, "10", 10_000.0, 750.0),
        (100, 100, "9.9995", 19_999.0, 750.0),
        (100, 100, "10", 20_000.0, 1_000.0),
    ] {
        let flags = format!(
            "--length-ft {length} --width-ft {width} --height-ft {height} --occupancy-class 5 --construction-class III"
        );
        let (supply, flow) = supply_and_flow(&flags);
        assert!((supply - gallons).abs() < 1e-6, "{flags}: {supply}");
        assert_eq!(flow, gpm, "{flags}");
    }
}

/// Iowa rate of flow (Royer and Nelson, Iowa State): ft³ / 100; their 50 × 75 × 12 gives 450.
#[test]
fn iowa_rate_of_flow() {
    assert_eq!(flow("--length-ft 50 --width-ft 75 --height-ft 12", "iowa"), 450.0);
    // Of a larger building the open space alone counts.
    let within = "--length-ft 200 --width-ft 100 --height-ft 30 --open-space-ft 50 75 12";
    assert_eq!(flow(within, "iowa"), 450.0);
    assert_eq!(flow("--length-ft 200 --width-ft 100 --open-space-ft 50 75 12", "iowa"), 450.0);
}

/// National Fire Academy quick formula: L·W/3 × share × floors, a quarter of L·W/3 an exposure;
/// 30 × 50 at 25 % gives 125.
#[test]
fn quick_formula() {
    let floor = "--length-ft 30 --width-ft 50";
    for (more, gpm) in [
        ("--involved 0.25", 125.0),
        // Nothing said of the share: all of it.
        ("", 500.0),
        ("--involved 0.25 --floors 2", 250.0),
        ("--involved 0.25 --floors 2 --burning-floors 1", 125.0),
        // Two exposures: 2 × 500/4 beside it, or (500 + 250) × 0.25. Sources disagree.
        ("--involved 0.25 --exposures 2", 375.0),
        ("--involved 0.25 --exposures 2 --exposure-rule scaled-by-share", 187.5),
    ] {
        assert_eq!(flow(&format!("{floor} {more}"), "nfa"), gpm, "{more}");
    }
    let told = |more: &str| says(&format!("{floor} {more}"), "nfa")["assumed"].to_string();
    assert!(told("--involved 0.6").contains("doubtful"));
    assert!(!told("--involved 0.5").contains("doubtful"));
    assert!(told("").contains("no share is given"));
}

/// ISO needed fire flow, 18·F·√A·O·(1+X+P) (USFA coffee-break training FP-2013-43 and -45), rounded to
/// 250, above 2,500 to 500 (from memory); 75 × 100 frame: 2,338, so 2,250 (from memory).
#[test]
fn iso_needed_fire_flow() {
    let building = "--length-ft 75 --width-ft 100";
    for (more, raw, gpm) in [
        ("--construction-class V", 2_338.0, 2_250.0),
        ("--iso-construction frame", 2_338.0, 2_250.0),
        // 18 × 86.603 × 1.0, 0.8, 0.6.
        ("--construction-class III", 1_559.0, 1_500.0),
        ("--construction-class IV", 1_559.0, 1_500.0),
        ("--construction-class II", 1_247.0, 1_250.0),
        ("--construction-class I", 935.0, 1_000.0),
        // 2,338.3 × 1.15 = 2,689.0, to the nearest 500.
        ("--construction-class V --exposures 1 --iso-exposure 0.15", 2_689.0, 2_500.0),
        // Two floors: 7,500 × 1.5 ft², 27 × √11,250 = 2,863.8.
        ("--construction-class V --floors 2", 2_864.0, 3_000.0),
        ("--construction-class V --floors 2 --iso-area-ft2 7500", 2_338.0, 2_250.0),
        ("--construction-class V --iso-occupancy 0.75 --iso-communication 0.2", 2_104.0, 2_000.0),
    ] {
        let said = says(&format!("{building} {more}"), "iso");
        assert_eq!(number(&said, "flow_gpm"), gpm, "{more}");
        let before = format!("{raw:.0} gpm before rounding");
        assert!(said["assumed"].to_string().contains(&before), "{more}: {said}");
    }
}

/// A method without its inputs names the flags; one that is not made for the building says why.
#[test]
fn what_cannot_be_worked_out_says_why() {
    let bare = "--length-ft 50 --width-ft 30 --exposures 1";
    for (method, lacks) in [
        ("nfpa-1142", "not given: --height-ft, --occupancy-class, --construction-class"),
        ("iowa", "not given: --height-ft"),
        ("iso", "not given: --construction-class, --iso-exposure"),
    ] {
        let said = says(bare, method);
        assert_eq!((&said["flow_gpm"], &said["not_worked_out"]), (&Value::Null, &json!(lacks)), "{method}");
    }
    let text = need(bare);
    assert_eq!(text.code, 0);
    assert!(text.text().contains("not worked out; not given: --height-ft\n"), "{}", text.text());

    let wet = format!(
        "{bare} --height-ft 10 --occupancy-class 7 --construction-class V --iso-exposure 0 --sprinklered"
    );
    for method in ["nfpa-1142", "iso"] {
        assert!(says(&wet, method)["not_worked_out"].as_str().unwrap().contains("sprinklers"), "{method}");
    }
    assert_eq!(flow(&wet, "iowa"), 150.0);
}

/// The help's own example works out all four, with the sources and cautions, in either unit.
#[test]
fn the_example_of_the_help() {
    let help = need("--help");
    let example = help.text().split("tankerloop need --length-ft").nth(1).expect("an example");
    let example = example.split("\n\n").next().unwrap().replace('\\', " ");
    let flags = format!("--length-ft {example}");
    let ran = need(&flags);
    assert_eq!(ran.code, 0, "{}", ran.err);
    let lines: Vec<&str> = ran.text().lines().collect();
    // 50 × 30 × 20 = 30,000 ft³; / 7 × 1.5 × 1.5 = 9,643; Iowa 300; 500 × 0.25 + 125 = 250;
    // 27 × √2,250 × 1.15 = 1,473.
    for (line, begin) in [
        (1, "nfpa-1142  500 gpm   9643 gal"),
        (2, "iowa       300 gpm   -"),
        (3, "nfa        250 gpm   -"),
        (4, "iso        1500 gpm  -"),
    ] {
        assert!(lines[line].starts_with(begin), "{begin}:\n{}", ran.text());
    }
    for said in [
        "from memory of NFPA 1142",
        "Royer and Nelson",
        "FP-2013-43",
        "authority having jurisdiction",
        "qualified officer",
    ] {
        assert!(ran.text().contains(said), "{said}");
    }
    // 500 × 3.785411784 = 1,892.7; 9,642.857 × 3.785411784 = 36,502.
    let metric = need(&format!("{flags} --units metric"));
    assert!(metric.text().contains("nfpa-1142  1893 L/min  36502 L"), "{}", metric.text());
}

#[test]
fn wrong_flags_are_named_with_a_remedy() {
    let good = "--length-ft 50 --width-ft 30";
    for (flags, said) in [
        ("--length-ft 0 --width-ft 30", &["--length-ft is 0", "1 to 10,000"][..]),
        ("--length-ft 50 --width-ft nan", &["--width-ft is NaN"]),
        (&format!("{good} --height-ft -12"), &["--height-ft is -12", "half of the ridge"]),
        (&format!("{good} --floors 0"), &["--floors is 0"]),
        (&format!("{good} --floors 2 --burning-floors 3"), &["--burning-floors is 3", "has 2"]),
        (&format!("{good} --involved 25"), &["--involved is 25", "0.01 to 1"]),
        (&format!("{good} --occupancy-class 2"), &["--occupancy-class is 2", "3 (severe"]),
        (&format!("{good} --occupancy-class 8"), &["--occupancy-class is 8"]),
        (&format!("{good} --construction-number 15"), &["--construction-number is 15"]),
        (&format!("{good} --dwelling-cap 0"), &["--dwelling-cap is 0"]),
        (&format!("{good} --exposures 101"), &["--exposures is 101"]),
        (&format!("{good} --open-space-ft 50 0 10"), &["--open-space-ft is 0", "length, width and height"]),
        (&format!("{good} --iso-area-ft2 inf"), &["--iso-area-ft2 is inf"]),
        (&format!("{good} --iso-occupancy 2"), &["--iso-occupancy is 2"]),
        (&format!("{good} --iso-exposure -1"), &["--iso-exposure is -1"]),
        (&format!("{good} --iso-communication 1.1"), &["--iso-communication is 1.1"]),
        ("--length-ft 10000 --width-ft 10000 --height-ft 3000", &["volume", "is 300000000000"]),
    ] {
        let ran = need(flags);
        check(flags, ran.code, &ran.err, said);
        assert!(ran.out.is_empty(), "{flags}");
    }
    // Words are refused where the command line is read.
    for (flags, said) in [
        (format!("{good} --construction-class VI"), "--construction-class <I..V>"),
        (format!("{good} --exposure-rule half"), "added-in-full"),
        ("--length-ft 50".to_string(), "--width-ft"),
    ] {
        let ran = need(&flags);
        assert_eq!(ran.code, 2, "{flags}");
        assert!(ran.err.contains(said), "{flags}: {}", ran.err);
    }
}

// 60 × 40 × 15 = 36,000 ft³. NFPA 1142: / 6 × 1.5 = 9,000 gal, 500 gpm. Iowa 360. National Fire
// Academy: 800 × 0.25 = 200. ISO: 27 × √2,400 = 1,323, so 1,250.
const BARN: &str = "[incident.building]
length_ft = 60
width_ft = 40
height_ft = 15
involved = 0.25
occupancy_class = 6
construction_class = \"V\"
";

fn schema(name: &str) -> Value {
    let text = std::fs::read_to_string(repository(&format!("data/{name}.schema.json"))).unwrap();
    serde_json::from_str(&text).unwrap()
}

/// Plans the county's fire with these lines in place of its need, and the barn described.
fn plan(name: &str, lines: &str, extra: &[&str]) -> Ran {
    let path = county(name).join("scenario.toml");
    let text = std::fs::read_to_string(&path).unwrap();
    assert!(text.contains("need_gpm = 500"));
    std::fs::write(&path, text.replace("need_gpm = 500", &format!("{lines}\n{BARN}"))).unwrap();
    let mut args = vec!["plan", path.to_str().unwrap(), "--replications", "20"];
    args.extend(extra);
    tankerloop(&args)
}

fn used(answer: &Value) -> Vec<&str> {
    let methods = answer["tankerloop"]["needed_flow_methods"].as_array().unwrap();
    methods.iter().filter(|m| m["used"] == true).map(|m| m["method"].as_str().unwrap()).collect()
}

#[test]
fn a_scenario_by_each_method_equals_the_one_with_that_flow() {
    let answers = jsonschema::validator_for(&schema("answer")).unwrap();
    for (method, gpm) in [("nfpa-1142", 500.0), ("iowa", 360.0), ("nfa", 200.0), ("iso", 1_250.0)] {
        let by = plan("need-methods", &format!("need_by = {method:?}"), &["--verify"]);
        assert!(by.code < 2, "{method}: {}", by.err);
        let given = plan("need-methods", &format!("need_gpm = {gpm:?}"), &[]);
        assert_eq!(given.code, by.code, "{method}");
        let (mut by_json, mut given_json) = (by.json(), given.json());
        assert!(answers.is_valid(&by_json) && answers.is_valid(&given_json), "{method}");
        let told = &by_json["tankerloop"];
        assert_eq!((number(told, "needed_flow_gpm"), &told["needed_flow_by"]), (gpm, &json!(method)));
        assert_eq!(used(&by_json), [method]);
        let flows: Vec<f64> =
            told["needed_flow_methods"].as_array().unwrap().iter().map(|m| number(m, "flow_gpm")).collect();
        assert_eq!(flows, [500.0, 360.0, 200.0, 1_250.0], "side by side");
        assert_eq!(given_json["tankerloop"]["needed_flow_by"], "given");
        assert_eq!(used(&given_json), [""; 0], "a flow given is no method's");
        // Who said how much is needed is all that differs.
        for answer in [&mut by_json, &mut given_json] {
            for key in ["needed_flow_by", "needed_flow_methods"] {
                answer["tankerloop"].as_object_mut().unwrap().remove(key).unwrap();
            }
        }
        assert!(by_json == given_json, "{method}: the answers differ");
        assert!(by.err.contains(&format!("needed flow by {method}, of the building")), "{}", by.err);
        assert_eq!(by.err.matches(": used\n").count(), 1, "{}", by.err);
        assert!(given.err.contains(&format!("needed flow: {gpm:.0} gpm as given")), "{}", given.err);
    }
}

/// A flag goes before the scenario's method, and the methods are still told.
#[test]
fn the_flag_goes_before_the_method() {
    let ran = plan("need-flag", "need_by = \"iso\"", &["--need", "250"]);
    assert_eq!(ran.code, 0, "{}", ran.err);
    let answer = ran.json();
    let told = &answer["tankerloop"];
    assert_eq!((number(told, "needed_flow_gpm"), &told["needed_flow_by"]), (250.0, &json!("given")));
    assert_eq!((told["needed_flow_methods"].as_array().unwrap().len(), used(&answer).len()), (4, 0));
}

#[test]
fn scenarios_that_cannot_be_used() {
    const FILE: &str = "scenario.toml";
    const NEED: &str = "need_gpm = 500";
    run_all(
        "need-scenario",
        &[
            case(
                "both",
                FILE,
                (
                    NEED,
                    "need_gpm = 500\nneed_by = \"iowa\"\n[incident.building]\nlength_ft = 50\nwidth_ft = 75",
                ),
                &["need_gpm and incident.need_by are both given", "Keep one"],
            ),
            case(
                "no building",
                FILE,
                (NEED, "need_by = \"iowa\""),
                &["need_by is \"iowa\"", "no building", "[incident.building]"],
            ),
            case(
                "too little said of it",
                FILE,
                (
                    NEED,
                    "need_by = \"nfpa-1142\"\n[incident.building]\nlength_ft = 50\nwidth_ft = 75\nheight_ft = 12",
                ),
                &["need_by is \"nfpa-1142\"", "not given: occupancy_class, construction_class"],
            ),
            case(
                "sprinklers",
                FILE,
                (
                    NEED,
                    "need_by = \"iso\"\n[incident.building]\nlength_ft = 50\nwidth_ft = 75\nsprinklered = true",
                ),
                &["need_by is \"iso\"", "sprinklers"],
            ),
            case(
                "no such method",
                FILE,
                (NEED, "need_by = \"best\""),
                &["scenario.toml, row 11", "best", "nfpa-1142"],
            ),
            case(
                "a key of none",
                FILE,
                (NEED, "need_gpm = 500\n[incident.building]\nlength_ft = 50\nwidth_ft = 75\nstoreys = 2"),
                &["row 15", "storeys"],
            ),
            case(
                "a class of none",
                FILE,
                (
                    NEED,
                    "need_gpm = 500\n[incident.building]\nlength_ft = 50\nwidth_ft = 75\nconstruction_class = \"VI\"",
                ),
                &["scenario.toml, row", "VI"],
            ),
            case(
                "a number of none, whichever flow is taken",
                FILE,
                (NEED, "need_gpm = 500\n[incident.building]\nlength_ft = 50\nwidth_ft = -75"),
                &["incident.building: width_ft is -75", "1 to 10,000"],
            ),
            // 1 × 1 / 3 × 1 gpm.
            case(
                "a flow no plan can use",
                FILE,
                (NEED, "need_by = \"nfa\"\n[incident.building]\nlength_ft = 1\nwidth_ft = 1"),
                &["need_by \"nfa\" finds 0.3 gpm", "1 to 20000"],
            ),
        ],
    );
}

/// The flags, the schema and the reader have the same keys; and the schema refuses two needs.
#[test]
fn one_set_of_keys() {
    let schema = schema("scenario");
    let keys: BTreeSet<String> = schema["properties"]["incident"]["properties"]["building"]["properties"]
        .as_object()
        .unwrap()
        .keys()
        .cloned()
        .collect();
    let help = need("--help");
    let flags: BTreeSet<String> = help
        .text()
        .lines()
        .filter_map(|line| line.trim().trim_start_matches("-h, ").strip_prefix("--"))
        .map(|rest| rest.split_whitespace().next().unwrap().replace('-', "_"))
        .filter(|flag| !["format", "units", "help"].contains(&flag.as_str()))
        .collect();
    assert_eq!(flags, keys);

    let all = format!(
        "{BARN}floors = 2\nburning_floors = 1\nconstruction_number = 1.5\ndwelling_cap = 1.0\nexposures = 1\n\
         exposure_rule = \"scaled-by-share\"\nsprinklered = false\nopen_space_ft = [50, 75, 12]\niso_area_ft2 = 2000\n\
         iso_construction = \"joisted-masonry\"\niso_occupancy = 1.15\niso_exposure = 0.1\niso_communication = 0.1\n"
    )
    .replace("\"V\"", "5");
    let building: toml::Table = toml::from_str(&all).unwrap();
    let written = &building["incident"]["building"];
    let given: BTreeSet<String> = written.as_table().unwrap().keys().cloned().collect();
    assert_eq!(given, keys, "the text above has every key");
    let read: tankerloop::water::demand::FireBuilding =
        written.clone().try_into().expect("the reader takes every key");
    assert!(read.figures().unwrap().iter().all(|figure| figure.found.is_ok()));

    let schema = jsonschema::validator_for(&schema).unwrap();
    let mut scenario = serde_json::to_value(&building).unwrap();
    scenario["fleet"] = json!("fleet.toml");
    scenario["incident"]["need_by"] = json!("nfa");
    assert!(schema.is_valid(&scenario));
    scenario["incident"]["need_gpm"] = json!(500);
    assert!(!schema.is_valid(&scenario), "two needs");
    scenario["incident"].as_object_mut().unwrap().remove("need_by").unwrap();
    assert!(schema.is_valid(&scenario));
    scenario["incident"]["building"]["occupancy_class"] = json!(8);
    assert!(!schema.is_valid(&scenario));
}
