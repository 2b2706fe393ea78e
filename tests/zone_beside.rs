//! Requests beside a zone that share what they have in common with it come to the same, to the last digit, as each
//! surveyed by itself on roads read anew.

#[path = "support/extracts.rs"]
#[allow(dead_code)]
mod extracts;
#[path = "support/run.rs"]
mod run;

use std::path::Path;
use tankerloop::plan::terrain::Terrain;
use tankerloop::plan::{Overrides, Problem};
use tankerloop::units::Metres;
use tankerloop::water::source::WaterLevel;
use tankerloop::zone::compare::Variant;
use tankerloop::zone::record::Record;
use tankerloop::zone::{Ask, Zone, block, propose};

/// How many of the requests go over the very roads of the zone.
fn compare(scenario: &Path, base: &Overrides, others: Vec<Overrides>) -> usize {
    let ask = Ask { longest: Metres(1_000.0), area: None };
    let problem = Problem::read_zone(scenario, base).unwrap();
    let roads = problem.roads.read(&mut |_, _| {}).unwrap();
    let terrain = Terrain::new(&roads);
    let zone = Zone::survey_on(&problem, &terrain, &ask).unwrap();
    let alone = Zone::survey(&problem, &roads, &ask).unwrap();
    assert_eq!((&zone.stretches, &zone.findings), (&alone.stretches, &alone.findings));
    let judged = block::work(&zone, &zone.stretches).unwrap();
    assert_eq!(judged, block::work(&alone, &alone.stretches).unwrap());
    let ceiling_gpm = Record::at_hand(judged).ceiling_gpm;
    let mut shared = 0;
    for other in others {
        let told = format!("{other:?}");
        let problem = Problem::read_zone(scenario, &other).unwrap();
        let fresh_roads = problem.roads.read(&mut |_, _| {}).unwrap();
        let fresh = Zone::survey(&problem, &fresh_roads, &ask).unwrap();
        let expected = Variant::of("x", &zone, &fresh).unwrap();
        let same_roads = problem.roads == zone.problem.roads;
        let beside = match same_roads {
            true => zone.beside(&problem, &terrain),
            false => zone.beside(&problem, &Terrain::new(&fresh_roads)),
        };
        let beside = beside.unwrap();
        let found = Variant::of("x", &zone, &beside).unwrap();
        assert!(found.ceiling_gpm == expected.ceiling_gpm, "{told}: another flow");
        // What candidates give rests on the same: once is enough.
        if shared == 0 {
            let [short, expected] =
                [&beside, &fresh].map(|c| propose::short(&zone, &ceiling_gpm, c).unwrap());
            assert_eq!(short, expected, "{told}");
        }
        shared += usize::from(same_roads);
    }
    shared
}

fn requests(tankers: &[&str], site: &str) -> Vec<Overrides> {
    let only = tankers.iter().map(|id| id.to_string()).collect();
    vec![
        Overrides::default(),
        Overrides { without: vec![site.to_string()], ..Overrides::default() },
        Overrides { tankers: Some(only), ..Overrides::default() },
        Overrides { water: Some(WaterLevel::Normal), ..Overrides::default() },
        Overrides { month: Some(7), ..Overrides::default() },
        Overrides { when: Some("2026-01-15T14:00".into()), ..Overrides::default() },
    ]
}

#[test]
fn of_the_county() {
    let folder = run::county("zone-beside");
    let closed = folder.join("closed.geojson");
    let overlay = r#"{"type":"FeatureCollection","features":[{"type":"Feature","geometry":null,
        "properties":{"kind":"closure","way":500193,"reason":"bridge out"}}]}"#;
    std::fs::write(&closed, overlay).unwrap();
    let scenario = folder.join("scenario.toml");
    let problem = Problem::read_zone(&scenario, &Overrides::default()).unwrap();
    let mut others = requests(&["T1", "T2"], &problem.listed_sites[0].name);
    others.push(Overrides { overlay: vec![closed], ..Overrides::default() });
    // The same, without a site, other tankers, another level; winter, a time and a closure need other roads.
    assert_eq!(compare(&scenario, &Overrides::default(), others), 4);
}

#[test]
fn of_real_roads() {
    let Some(path) = extracts::path("isle-of-man") else { return };
    let scenario = run::repository("tests/isle-of-man/scenario.toml");
    let base = Overrides { roads: Some(path), ..Overrides::default() };
    let problem = Problem::read_zone(&scenario, &base).unwrap();
    let ids: Vec<&str> = problem.fleet.tankers.iter().take(2).map(|t| t.chassis.id.as_str()).collect();
    let others = requests(&ids, &problem.listed_sites[0].name).into_iter();
    let others = others.map(|other| Overrides { roads: base.roads.clone(), ..other }).collect();
    assert_eq!(compare(&scenario, &base, others), 4);
}
