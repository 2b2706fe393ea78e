//! Fleet files that cannot be used: see bad_input.rs.

#[path = "support/refused.rs"]
mod refused;
#[path = "support/run.rs"]
mod run;

use refused::{case, check, run_all};
use run::{county, repository, tankerloop};

#[test]
fn fleet_files() {
    const FILE: &str = "fleet.toml";
    run_all(
        "fleet",
        &[
            case("empty", FILE, ("", ""), &["fleet.toml", "no tanker", "no pumper", "no portable tank"]),
            case("garbage", FILE, ("", "\u{7f}%PDF-1.4"), &["fleet.toml, row 1"]),
            case("unknown key", FILE, ("axles = 2", "axels = 2"), &["fleet.toml", "axels"]),
            case("capacity below zero", FILE, ("tank_gal = 1000", "tank_gal = -1000"), &["\"T1\"", "-1000"]),
            case(
                "no capacity",
                FILE,
                ("tank_gal = 1000", "tank_gal = 0"),
                &["row 1, \"T1\"", "tank_gal is 0"],
            ),
            case("no number", FILE, ("tank_gal = 1000", "tank_gal = nan"), &["row 1, \"T1\"", "NaN"]),
            case("without end", FILE, ("tank_gal = 1000", "tank_gal = inf"), &["\"T1\"", "inf"]),
            case("a speck of water", FILE, ("tank_gal = 1000", "tank_gal = 0.01"), &["\"T1\"", "load"]),
            case("text for a number", FILE, ("= 1000\n", "= \"1000\"\n"), &["fleet.toml, row 22", "string"]),
            case("a number for text", FILE, ("\"22,200 lb\"", "22200"), &["row 15", "string"]),
            case("a wrong unit", FILE, ("22,200 lb", "22,200 gal"), &["row 15", "22,200 gal", "19.4 t"]),
            case("a length for a mass", FILE, ("22,200 lb", "22 ft"), &["row 15", "22 ft"]),
            case("a mass for a length", FILE, ("9'8\\\"", "9 t"), &["fleet.toml, row", "9 t"]),
            case("a mass below zero", FILE, ("22,200 lb", "-22,200 lb"), &["row 15", "-22,200 lb"]),
            case(
                "lighter when full",
                FILE,
                ("30,540 lb", "20,540 lb"),
                &["\"T1\"", "mass_full", "mass_empty"],
            ),
            case(
                "one id twice",
                FILE,
                ("id = \"T2\"", "id = \"T1\""),
                &["fleet.toml, \"T1\"", "share this id"],
            ),
            case("an empty id", FILE, ("id = \"T2\"", "id = \"\""), &["row 2", "empty id"]),
            case(
                "time below zero",
                FILE,
                ("turnout_s = 90", "turnout_s = -90"),
                &["\"T1\"", "turnout_s is -90"],
            ),
            case(
                "no suction",
                FILE,
                (
                    "lift\npump_psi = 150\nsuctions = 2\nhose = [{ diameter_in = 5, length_ft = 1200",
                    "lift\nsuctions = 0\nhose = [{ diameter_in = 5, length_ft = 1200",
                ),
                &["fleet.toml", "suction"],
            ),
            case(
                "hose of no known size",
                FILE,
                ("diameter_in = 5", "diameter_in = 5.7"),
                &["fleet.toml", "5.7"],
            ),
            case("a role", FILE, ("role = \"draft\"", "role = \"relay\""), &["fleet.toml, row", "relay"]),
            case(
                "a swapped station off the globe",
                FILE,
                ("[-33.9962060, 31.0158855]", "[31.0, -133.9]"),
                &["fleet.toml, row", "-133.9"],
            ),
        ],
    );
}

/// What is left of the fleet once a table of one kind is struck out.
fn without(table: &str) -> String {
    let text = std::fs::read_to_string(repository("data/county/fleet.toml")).unwrap();
    let mut fleet: toml::Table = toml::from_str(&text).unwrap();
    fleet.remove(table);
    toml::to_string(&fleet).unwrap()
}

#[test]
fn fleets_that_lack_something() {
    for (table, code, remedy) in [
        ("tanker", "[no-tanker]", "[[tanker]]"),
        ("pumper", "[no-pumper]", "[[pumper]]"),
        ("portable_tank", "[no-portable-tank]", "[[portable_tank]]"),
    ] {
        let folder = county(&format!("bad-without-{table}"));
        std::fs::write(folder.join("fleet.toml"), without(table)).unwrap();
        let ran = tankerloop(&["plan", folder.join("scenario.toml").to_str().unwrap()]);
        check(table, ran.code, &ran.err, &[code, remedy, "fleet.toml"]);
    }
}

/// "22,200" for 22,200 lb would be 22,200 tonnes: a truck that no posting carries and every
/// unposted bridge does.
#[test]
fn a_mass_without_a_unit_is_refused() {
    let folder = county("bad-mass");
    let path = folder.join("fleet.toml");
    let text = std::fs::read_to_string(&path).unwrap();
    std::fs::write(&path, text.replace("22,200 lb", "22,200").replace("30,540 lb", "30,540")).unwrap();
    let ran = tankerloop(&["plan", folder.join("scenario.toml").to_str().unwrap(), "--quiet"]);
    check("a mass without a unit", ran.code, &ran.err, &["fleet.toml, row 15", "22,200"]);
}
