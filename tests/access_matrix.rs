//! data/access-matrix.csv, row by row through the whole pipeline: the tags become a PBF, the reader
//! reads it, and the tanker of tests/support/drive.rs (10 t empty, 19 t full, axle 6 t and 11 t, no
//! tandem, 3.2 m high, 2.5 m wide, 9 m long) drives it.
//!
//! ```text
//! A----B--M--C----D    the tags are on way 101, BMC, or on its node M
//!      |     |
//!      E-----F         closed means: round by E and F
//! ```
//!
//! Columns: element (way, node); tags joined by " + ", `highway=` alone for none, else tertiary;
//! vehicle (full, empty); direction of travel against way 101's; policy as in a scenario; when (a
//! month or a local time); expected (`open`, `open with note CODE`, `closed REASON`, `no road`); the
//! page of the OSM wiki that defines the tag.

mod support;

use support::drive::{Course, empty, full};
use support::world::World;
use tankerloop::roads::condition::Moment;
use tankerloop::routing::access::{self, Policy};

fn course(element: &str, tags: &[(&str, &str)], policy: Policy) -> Course {
    let (mut way, mut node) = (vec![("name", "Mill Road")], Vec::new());
    if element == "node" {
        node.extend_from_slice(tags);
        way.push(("highway", "tertiary"));
    } else {
        way.extend(tags.iter().filter(|(_, value)| !value.is_empty()));
        if !tags.iter().any(|(key, _)| *key == "highway") {
            way.push(("highway", "tertiary"));
        }
    }
    let map = "
        A----B--M--C----D
             |     |
             E-----F
        ";
    let world = World::new(100.0).map(map).road("AB").way("BMC", &way).road("CD");
    // The way round is slow: a gate or a ferry must not look closed because it takes its time.
    let world = world.way("BEFC", &[("highway", "residential"), ("maxspeed", "4")]);
    Course::with(world.node('M', &node), &[], policy)
}

fn moment(when: &str) -> Moment {
    match when.parse::<u8>() {
        Ok(month) => Moment::of_month(Some(month)),
        Err(_) if when.is_empty() => Moment::default(),
        Err(_) => Moment::parse(when).expect("when is a month or a local time"),
    }
}

/// What became of way 101 or node 3, in the words of the table.
fn found(course: &Course, body: tankerloop::vehicle::Body, backward: bool) -> String {
    let network = &course.roads.network;
    let (from, to) = if backward { ('D', 'A') } else { ('A', 'D') };
    let driven = course.drive(body.clone(), from, to);
    let straight = if backward { "DCMBA" } else { "ABMCD" };
    if driven.letters == straight {
        let notes = driven.codes.join(" ");
        return if notes.is_empty() { "open".into() } else { format!("open with note {notes}") };
    }
    if !network.ways.iter().any(|way| way.id == 101) {
        return "no road".into();
    }
    let graph = course.roads.graph(body);
    let arcs = network.arcs().filter(|arc| network.way(*arc).id == 101 && arc.forward() != backward);
    let along = arcs.filter_map(|arc| graph.closure(arc)).next();
    let at = (0..network.junctions.len())
        .filter_map(|j| network.mark(j))
        .find_map(|mark| access::node(mark, &graph.body, graph.policy).err());
    match along.or(at) {
        Some(closure) => format!("closed {}", closure.as_str()),
        None => format!("{driven:?}"),
    }
}

#[test]
fn every_row_of_the_matrix() {
    let path = concat!(env!("CARGO_MANIFEST_DIR"), "/data/access-matrix.csv");
    let mut table = csv::Reader::from_path(path).expect("the table is in data/");
    let (mut wrong, mut count) = (Vec::new(), 0);
    for (row, record) in table.records().enumerate() {
        let record = record.expect("the table is CSV");
        let [element, tags, vehicle, direction, policy, when, expected, source] =
            std::array::from_fn(|i| record.get(i).expect("eight columns"));
        assert!(!source.is_empty(), "row {}: no source", row + 2);
        let tags: Vec<(&str, &str)> =
            tags.split(" + ").map(|tag| tag.split_once('=').expect("key=value")).collect();
        let mut policy: Policy = toml::from_str(policy).expect("the policy is one of a scenario");
        policy.moment = moment(when);
        let body = if vehicle == "full" { full() } else { empty() };
        let got = found(&course(element, &tags, policy), body, direction == "backward");
        count += 1;
        if got != expected {
            wrong.push(format!("row {}: {:?}: {got}", row + 2, record));
        }
    }
    assert!(wrong.is_empty(), "{} of {count} rows:\n{}", wrong.len(), wrong.join("\n"));
    assert!(count > 250, "only {count} rows");
}
