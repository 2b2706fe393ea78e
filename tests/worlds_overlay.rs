//! What a department knows beside the map, laid on text worlds. A cell is 100 m and takes 10 s; the
//! tanker weighs 10 t empty and 19 t full.
//!
//! ```text
//! A----B--M--C----D    straight: 50 + 60 + 50 = 160 s
//!      |     |
//!      E-----F         round:    50 + 20 + 60 + 20 + 50 = 200 s
//! ```

mod support;

use serde_json::{Value, json};
use support::drive::{Course, area, empty, feature, full, line};
use support::world::World;
use tankerloop::roads::condition::Moment;
use tankerloop::routing::access::Policy;

const ROUND: (&str, f64) = ("ABEFCD", 200.0);
const STRAIGHT: (&str, f64) = ("ABMCD", 160.0);
/// The way BMC, and the node M.
const MILL_ROAD: i64 = 101;
const GATE: i64 = 3;

fn world(tags: &[(&str, &str)], middle: &[(&str, &str)]) -> World {
    let mut way = tags.to_vec();
    way.extend([("highway", "tertiary"), ("name", "Mill Road")]);
    World::new(100.0)
        .map(
            "
            A----B--M--C----D
                 |     |
                 E-----F
            ",
        )
        .road("AB")
        .way("BMC", &way)
        .road("CD")
        .road("BEFC")
        .node('M', middle)
}

fn plain() -> World {
    world(&[], &[])
}

fn bridge(more: &[(&str, &str)]) -> World {
    let mut tags = vec![("bridge", "yes")];
    tags.extend(more);
    world(&tags, &[])
}

fn laid(world: World, features: &[Value]) -> Course {
    Course::new(world).lay(features)
}

fn closed_way() -> Value {
    feature(Value::Null, json!({ "kind": "closure", "way": MILL_ROAD, "reason": "culvert washed out" }))
}

fn known(tonnes: f64) -> Value {
    let source = "county engineer, letter of 2 March 2025";
    let properties =
        json!({ "kind": "known_weight", "way": MILL_ROAD, "max_weight_t": tonnes, "source": source });
    feature(Value::Null, properties)
}

/// All that was said when the overlay was laid.
#[track_caller]
fn says(course: &Course, wanted: &[&str]) {
    let laid = course.laid();
    let all = laid.len() == wanted.len() && wanted.iter().all(|w| laid.iter().any(|l| l.contains(w)));
    assert!(all, "expected {wanted:?}, got {laid:#?}");
}

#[test]
fn a_way_is_closed_and_the_reason_is_told() {
    let course = laid(plain(), &[closed_way()]);
    course.drive(full(), 'A', 'D').is(ROUND.0, ROUND.1).is_silent();
    says(&course, &["overlay-applied: closes 600 m of road: way 101 (Mill Road)"]);
    let round = feature(Value::Null, json!({ "kind": "closure", "way": 103 }));
    let both = laid(plain(), &[closed_way(), round]);
    let reasons = both.drive(empty(), 'A', 'D').reasons;
    assert_eq!(reasons.len(), 1);
    let reason = &reasons[0];
    assert!(reason.starts_with("way 101 (Mill Road) closed: culvert washed out ("), "{reason}");
    assert!(reason.ends_with("local.geojson, feature 1)"), "{reason}");
}

#[test]
fn one_direction_alone() {
    for (direction, there, back) in [("forward", ROUND, 160.0), ("backward", STRAIGHT, 200.0)] {
        let properties = json!({ "kind": "closure", "way": MILL_ROAD, "direction": direction });
        let course = laid(plain(), &[feature(Value::Null, properties)]);
        course.drive(full(), 'A', 'D').is(there.0, there.1);
        assert_eq!(course.drive(full(), 'D', 'A').seconds.map(f64::round), Some(back));
    }
    // A line drawn against the node order: forward is its own.
    let world = plain();
    let drawn = line(&world, &[('C', -10.0, 5.0), ('B', 10.0, 5.0)]);
    let course = laid(world, &[feature(drawn, json!({ "kind": "closure", "direction": "forward" }))]);
    course.drive(full(), 'A', 'D').is(STRAIGHT.0, STRAIGHT.1);
    course.drive(full(), 'D', 'A').is("DCFEBA", 200.0);
}

/// A line closes the road that it follows, a little off and a little short or long, and no other.
#[test]
fn by_a_line_along_the_road() {
    for drawn in [
        [('B', 0.0, 10.0), ('C', 0.0, 10.0)],
        [('B', 150.0, -15.0), ('B', 250.0, -15.0)],
        [('C', 12.0, 3.0), ('B', -12.0, 3.0)],
    ] {
        let world = plain();
        let course = laid(plain(), &[feature(line(&world, &drawn), json!({ "kind": "closure" }))]);
        course.drive(full(), 'A', 'D').is(ROUND.0, ROUND.1);
        // The roads before and behind are open.
        assert_eq!(course.drive(full(), 'A', 'B').seconds, Some(50.0));
        says(&course, &["closes 600 m of road: way 101 (Mill Road)"]);
    }
}

#[test]
fn a_line_that_crosses_or_lies_off_closes_nothing_and_is_told() {
    for drawn in [[('M', 0.0, 80.0), ('M', 0.0, -80.0)], [('B', 0.0, 25.0), ('C', 0.0, 25.0)]] {
        let world = plain();
        let course = laid(plain(), &[feature(line(&world, &drawn), json!({ "kind": "closure" }))]);
        course.drive(full(), 'A', 'D').is(STRAIGHT.0, STRAIGHT.1);
        says(
            &course,
            &["overlay-unmatched: this closure changes nothing: no road runs along it within 20 m"],
        );
    }
    // The end of a line, drawn past the junction, closes nothing beyond it.
    let world = plain();
    let drawn = line(&world, &[('E', 0.0, 0.0), ('B', 0.0, 0.0), ('B', 15.0, 0.0)]);
    let course = laid(plain(), &[feature(drawn, json!({ "kind": "closure" }))]);
    course.drive(full(), 'A', 'D').is(STRAIGHT.0, STRAIGHT.1);
    says(&course, &["closes 1000 m of road: way 103"]);
    // Half of it along a road: that counts, and the rest is told.
    let world = plain();
    let drawn = line(&world, &[('M', 0.0, 0.0), ('C', 0.0, 0.0), ('C', 0.0, 300.0)]);
    let course = laid(plain(), &[feature(drawn, json!({ "kind": "closure" }))]);
    course.drive(full(), 'A', 'D').is(ROUND.0, ROUND.1);
    says(&course, &["closes 600 m", "overlay-unmatched: 300 m of its 600 m run along no road"]);
}

/// One way from A to D: a line along its middle leaves the rest of it open.
#[test]
fn a_part_of_a_long_way() {
    let map = "
        A----B-----C----D
             |     |
             E-----F
        ";
    let long = || World::new(100.0).map(map).way("ABCD", &[("highway", "tertiary")]).road("BEFC");
    let drawn = line(&long(), &[('B', 0.0, 0.0), ('C', 0.0, 0.0)]);
    let course = laid(long(), &[feature(drawn, json!({ "kind": "closure" }))]);
    course.drive(full(), 'A', 'D').is(ROUND.0, ROUND.1);
    let whole = laid(long(), &[feature(Value::Null, json!({ "kind": "closure", "way": 100 }))]);
    assert!(whole.drive(full(), 'A', 'D').seconds.is_none());
    // The way is one way still: it is named once, and a line beside its id closes only its part.
    assert_eq!(course.drive(full(), 'A', 'D').ways, [100, 101, 100]);
    let around = area(&long(), 'C', [50.0, 50.0, 50.0, 50.0]);
    let of_it = laid(long(), &[feature(around, json!({ "kind": "closure", "way": 101 }))]);
    of_it.drive(full(), 'A', 'D').is("ABCD", 160.0);
}

/// Of two carriageways 12 m apart the one under the line; of a line between them both.
#[test]
fn beside_a_second_carriageway() {
    let double = || {
        let map = "
            A---------B--------------------------------------------------C---------D
                      |                                                  |
                      E--------------------------------------------------F
            ";
        World::new(6.0).map(map).road("AB").road("BC").road("CD").road("BEFC")
    };
    for (north, closed) in [(1.0, "ABEFCD"), (-11.0, "ABCD"), (-6.0, "")] {
        let world = double();
        let drawn = line(&world, &[('B', 0.0, north), ('C', 0.0, north)]);
        let course = laid(double(), &[feature(drawn, json!({ "kind": "closure" }))]);
        assert_eq!(course.drive(full(), 'A', 'D').letters, closed, "{north} m off");
    }
}

#[test]
fn an_area_closes_what_lies_in_it_but_no_bridge_over_it() {
    let flood = |more: Value| {
        let mut properties = json!({ "kind": "closure", "reason": "flood" });
        properties.as_object_mut().unwrap().extend(more.as_object().unwrap().clone());
        feature(area(&plain(), 'M', [100.0, 50.0, 100.0, 50.0]), properties)
    };
    let course = laid(plain(), &[flood(json!({}))]);
    course.drive(full(), 'A', 'D').is(ROUND.0, ROUND.1);
    says(
        &course,
        &["closes 600 m of road: way 101 (Mill Road), junction to junction, of which 200 m lie in"],
    );

    let course = laid(bridge(&[]), &[flood(json!({}))]);
    course.drive(full(), 'A', 'D').is(STRAIGHT.0, STRAIGHT.1);
    says(&course, &["changes nothing: no road lies in it but way 101 (Mill Road) over it as a bridge"]);
    laid(bridge(&[]), &[flood(json!({ "bridges": true }))]).drive(full(), 'A', 'D').is(ROUND.0, ROUND.1);
    laid(bridge(&[]), &[flood(json!({ "way": MILL_ROAD }))]).drive(full(), 'A', 'D').is(ROUND.0, ROUND.1);
}

#[test]
fn an_area_without_a_road_or_off_the_map_is_told() {
    let world = plain();
    let field = area(&world, 'M', [80.0, -20.0, 80.0, 90.0]);
    let course = laid(plain(), &[feature(field.clone(), json!({ "kind": "closure" }))]);
    course.drive(full(), 'A', 'D').is(STRAIGHT.0, STRAIGHT.1);
    says(&course, &["this closure changes nothing: no road lies in it"]);
    let far = area(&world, 'D', [-90_000.0, 50.0, 90_500.0, 50.0]);
    says(&laid(plain(), &[feature(far, json!({ "kind": "closure" }))]), &["lies outside the roads of"]);
    says(&laid(plain(), &[feature(field, json!({ "kind": "no_dump" }))]), &["this no_dump changes nothing"]);
    let unknown = feature(Value::Null, json!({ "kind": "closure", "way": 4711 }));
    says(&laid(plain(), &[unknown]), &["no road of", "way id 4711"][..1]);
}

/// A hole in the area, and the second polygon of several.
#[test]
fn holes_and_several_polygons() {
    let world = plain();
    let ring = |node, size: f64| area(&world, node, [size; 4])["coordinates"][0].clone();
    let holed = json!({ "type": "Polygon", "coordinates": [ring('M', 150.0), ring('M', 149.0)] });
    // The road passes the rim between the two rings for a metre at either side.
    let course = laid(plain(), &[feature(holed, json!({ "kind": "closure" }))]);
    course.drive(full(), 'A', 'D').is(ROUND.0, ROUND.1);
    let overlapping = [[ring('A', 20.0)], [ring('M', 50.0)], [ring('M', 40.0)]];
    let several = json!({ "type": "MultiPolygon", "coordinates": overlapping });
    let course = laid(plain(), &[feature(several, json!({ "kind": "closure" }))]);
    assert!(course.laid()[0].contains("way 100, way 101"), "{:?}", course.laid());
}

#[test]
fn seasons_and_days() {
    let at = |text: &str| match text {
        "" => Moment::default(),
        text => Moment::parse(text).unwrap(),
    };
    let winter = json!({ "kind": "closure", "way": MILL_ROAD, "season": "nov-mar" });
    let works =
        json!({ "kind": "closure", "way": MILL_ROAD, "from": "2026-05-01", "until": "2026-05-03T12:00" });
    for (properties, moment, way, told) in [
        (&winter, "2026-01-15T14:00", ROUND, "overlay-applied"),
        (&winter, "2026-06-15T14:00", STRAIGHT, "overlay-idle"),
        (&winter, "", ROUND, "overlay-undecided"),
        (&works, "2026-05-03T12:00", ROUND, "overlay-applied"),
        (&works, "2026-05-03T12:01", STRAIGHT, "overlay-idle"),
        (&works, "", ROUND, "overlay-undecided"),
    ] {
        let policy = Policy { moment: at(moment), ..Policy::default() };
        let course = Course::with(plain(), &[], policy).lay(&[feature(Value::Null, properties.clone())]);
        course.drive(full(), 'A', 'D').is(way.0, way.1);
        assert!(course.laid()[0].starts_with(told), "{moment}: {:?}", course.laid());
    }
}

/// An unposted bridge: unknown is told, a known weight fills it in and is told with its source.
#[test]
fn a_known_weight_fills_in_an_unposted_bridge() {
    let unknown = Course::new(bridge(&[])).drive(full(), 'A', 'D');
    unknown.is(STRAIGHT.0, STRAIGHT.1).tells("bridge-unposted");
    assert!(unknown.findings[0].contains("this vehicle crosses it at 19.0 t"), "{unknown:?}");

    let strong = laid(bridge(&[]), &[known(19.0)]).drive(full(), 'A', 'D');
    strong.is(STRAIGHT.0, STRAIGHT.1).tells("bridge-known");
    assert_eq!(strong.codes, ["bridge-known"]);
    assert!(strong.findings[0].contains("19.0 t is known: county engineer, letter of 2 March 2025"));

    let weak = laid(bridge(&[]), &[known(18.9)]);
    weak.drive(full(), 'A', 'D').is(ROUND.0, ROUND.1).is_silent();
    weak.drive(empty(), 'A', 'D').is(STRAIGHT.0, STRAIGHT.1);
    let round = feature(Value::Null, json!({ "kind": "closure", "way": 103 }));
    let reasons = laid(bridge(&[]), &[known(18.9), round]).drive(full(), 'A', 'D').reasons;
    assert!(reasons[0].contains("known weight 18.9 t, vehicle 19.0 t: county engineer"), "{reasons:?}");
}

/// A known weight lowers what is posted and never raises it.
#[test]
fn a_posted_weight_is_lowered_but_never_raised() {
    laid(bridge(&[("maxweight", "25")]), &[known(15.0)]).drive(full(), 'A', 'D').is(ROUND.0, ROUND.1);
    for tags in [
        &[("maxweight", "15")][..],
        &[("maxweight:forward", "15")],
        &[("maxweight:hgv", "15"), ("maxweight", "25")],
        &[("maxweight:conditional", "15 @ (24/7)")],
    ] {
        let course = laid(bridge(tags), &[known(20.0)]);
        course.drive(full(), 'A', 'D').is(ROUND.0, ROUND.1);
        says(
            &course,
            &["overlay-refused: 20.0 t would raise the 15.0 t that is posted here; what is posted stands"],
        );
    }
    // Against the sign's direction, and where a condition lifts it, the known weight counts.
    let lifted = [("maxweight", "8"), ("maxweight:conditional", "none @ (24/7)")];
    Course::new(bridge(&lifted)).drive(full(), 'A', 'D').is(STRAIGHT.0, STRAIGHT.1);
    laid(bridge(&lifted), &[known(15.0)]).drive(full(), 'A', 'D').is(ROUND.0, ROUND.1);
    let course = laid(bridge(&[("maxweight:forward", "8")]), &[known(20.0)]);
    assert_eq!(course.drive(full(), 'D', 'A').seconds.map(f64::round), Some(160.0));
}

#[test]
fn an_unreadable_weight_gives_way_to_a_known_one_and_that_is_told() {
    for tags in [
        ("maxweight", "survey"),
        ("maxweight:forward", "survey"),
        ("maxweight:conditional", "survey @ (24/7)"),
    ] {
        Course::new(bridge(&[tags])).drive(full(), 'A', 'D').is(ROUND.0, ROUND.1);
        let course = laid(bridge(&[tags]), &[known(20.0)]);
        let driven = course.drive(full(), 'A', 'D');
        driven.is(STRAIGHT.0, STRAIGHT.1).tells("bridge-known");
        let told = "maxweight=survey cannot be read; 20.0 t is known";
        assert!(driven.findings.iter().any(|f| f.contains(told)), "{driven:?}");
        laid(bridge(&[tags]), &[known(15.0)]).drive(full(), 'A', 'D').is(ROUND.0, ROUND.1);
    }
    // Another sign that nobody can read is not a weight.
    let height = [("maxheight", "low")];
    laid(bridge(&height), &[known(20.0)]).drive(full(), 'A', 'D').is(ROUND.0, ROUND.1);
}

#[test]
fn a_point_or_a_line_on_the_bridge() {
    let weight = json!({ "kind": "known_weight", "max_weight_st": 15, "source": "plate on the rail, 2024" });
    let at = |east: f64, north: f64| json!({ "type": "Point", "coordinates": bridge(&[]).beside('M', east, north) });
    let drawn = line(&bridge(&[]), &[('M', -60.0, 4.0), ('M', 60.0, 4.0)]);
    for geometry in [at(40.0, 12.0), drawn] {
        let course = laid(bridge(&[]), &[feature(geometry, weight.clone())]);
        course.drive(full(), 'A', 'D').is(ROUND.0, ROUND.1);
    }
    let off = laid(bridge(&[]), &[feature(at(0.0, 30.0), weight.clone())]);
    says(&off, &["this known_weight changes nothing: no bridge lies within 20 m"]);
    let road = laid(plain(), &[feature(at(0.0, 0.0), weight)]);
    says(&road, &["no bridge lies within 20 m"]);
    // By its id any way will do, and that it is no bridge is told.
    let culvert = laid(plain(), &[known(15.0)]);
    culvert.drive(full(), 'A', 'D').is(ROUND.0, ROUND.1);
    says(&culvert, &["the way is not mapped as a bridge"]);
}

/// 600 m at 20 m/s are 30 s in place of 60 s.
#[test]
fn local_speeds() {
    let speed = |more: Value| {
        let mut properties = json!({ "kind": "local_speed", "way": MILL_ROAD, "source": "drill of 2025" });
        properties.as_object_mut().unwrap().extend(more.as_object().unwrap().clone());
        feature(Value::Null, properties)
    };
    let fast = laid(plain(), &[speed(json!({ "speed_kmh": 72 }))]);
    fast.drive(full(), 'A', 'D').is("ABMCD", 130.0).tells("local-speed");
    let loaded = laid(plain(), &[speed(json!({ "speed_kmh": 72, "loaded_speed_kmh": 54 }))]);
    loaded.drive(full(), 'A', 'D').is("ABMCD", 140.0);
    loaded.drive(empty(), 'A', 'D').is("ABMCD", 130.0);
    laid(plain(), &[speed(json!({ "speed_kmh": 18 }))]).drive(full(), 'A', 'D').is(ROUND.0, ROUND.1);
    let one = laid(plain(), &[speed(json!({ "speed_kmh": 72, "direction": "backward" }))]);
    one.drive(full(), 'A', 'D').is("ABMCD", 160.0).is_silent();
    // The table's share for a full tank, where the overlay has none of its own: 30 s / 0.5.
    let half = [("full_factor = 1.0", "full_factor = 0.5")];
    let course = Course::with(plain(), &half, Policy::default()).lay(&[speed(json!({ "speed_kmh": 72 }))]);
    course.drive(full(), 'A', 'D').is("ABMCD", 260.0);

    // What is posted counts, and that it does is told.
    let posted = laid(world(&[("maxspeed", "36")], &[]), &[speed(json!({ "speed_kmh": 72 }))]);
    posted.drive(full(), 'A', 'D').is(STRAIGHT.0, STRAIGHT.1);
    says(
        &posted,
        &["overlay-refused: 72 km/h lie above the limit of 36 km/h on this road; the limit counts"],
    );
}

#[test]
fn a_gate_that_somebody_opens() {
    let opened = |geometry: Value, node: Value| {
        feature(
            geometry,
            json!({ "kind": "opened_gate", "node": node, "source": "farmer, key in the station" }),
        )
    };
    let by_id = || opened(Value::Null, json!(GATE));
    for tags in [&[("barrier", "gate"), ("locked", "yes")][..], &[("barrier", "gate"), ("access", "no")]] {
        Course::new(world(&[], tags)).drive(full(), 'A', 'D').is(ROUND.0, ROUND.1);
        let at = plain().beside('M', 5.0, 5.0);
        for gate in [by_id(), opened(json!({ "type": "Point", "coordinates": at }), Value::Null)] {
            let driven = laid(world(&[], tags), &[gate]).drive(full(), 'A', 'D');
            driven.is("ABMCD", 190.0).tells("gate-opened").tells("gate-on-way");
            assert!(driven.findings[0].contains("farmer, key in the station ("), "{driven:?}");
        }
    }
    for (tags, told) in [
        (&[("barrier", "bollard")][..], "posts or blocks"),
        (&[("barrier", "block")], "posts or blocks"),
        (&[("barrier", "height_restrictor")], "height frame"),
        (&[("barrier", "moat")], "unknown kind"),
    ] {
        let course = laid(world(&[], tags), &[by_id()]);
        course.drive(full(), 'A', 'D').is(ROUND.0, ROUND.1);
        says(&course, &[told]);
        assert!(course.laid()[0].starts_with("overlay-refused"));
    }
    // A width is no lock.
    let narrow = [("barrier", "gate"), ("locked", "yes"), ("maxwidth", "2.2")];
    laid(world(&[], &narrow), &[by_id()]).drive(full(), 'A', 'D').is(ROUND.0, ROUND.1);
    says(&laid(world(&[], &[("barrier", "gate")]), &[by_id()]), &["overlay-idle"]);
    says(&laid(plain(), &[by_id()]), &["no gate or junction of"]);
    // Without a date nobody knows that somebody is there.
    let summer = json!({ "kind": "opened_gate", "node": GATE, "source": "farmer", "season": "may-sep" });
    let course = laid(world(&[], &[("barrier", "gate"), ("locked", "yes")]), &[feature(Value::Null, summer)]);
    course.drive(full(), 'A', 'D').is(ROUND.0, ROUND.1);
    says(&course, &["overlay-undecided: nobody said when"][..1]);
}

#[test]
fn contradictions_are_told_and_the_stricter_counts() {
    for pair in [[known(15.0), known(20.0)], [known(20.0), known(15.0)]] {
        let course = laid(bridge(&[]), &pair);
        course.drive(full(), 'A', 'D').is(ROUND.0, ROUND.1);
        assert!(
            course.laid()[0].starts_with("overlay-contradiction: it contradicts "),
            "{:?}",
            course.laid()
        );
    }
    assert!(laid(bridge(&[]), &[known(15.0), known(15.0)]).laid().is_empty());
    let speed =
        |kmh: f64| feature(Value::Null, json!({ "kind": "local_speed", "way": MILL_ROAD, "speed_kmh": kmh }));
    let course = laid(plain(), &[speed(72.0), speed(54.0)]);
    course.drive(full(), 'A', 'D').is("ABMCD", 140.0);
    says(&course, &["overlay-contradiction"]);
    let policy = Policy { open_ways: vec![MILL_ROAD], ..Policy::default() };
    let course = Course::with(world(&[("access", "no")], &[]), &[], policy).lay(&[closed_way()]);
    course.drive(full(), 'A', 'D').is(ROUND.0, ROUND.1);
    says(
        &course,
        &["overlay-applied", "the request opens this way by name and this entry closes it; it is closed"],
    );
}

/// A truck that comes to a closure does not turn there: D lies behind it, and no way leads on.
#[test]
fn a_closure_makes_no_place_to_turn() {
    let lane = || World::new(100.0).map("A----B----C----D").road("AB").road("BC").road("CD");
    let course = laid(lane(), &[feature(Value::Null, json!({ "kind": "closure", "way": 102 }))]);
    let network = &course.roads.network;
    let graph = course.roads.graph(full());
    let to_c = network.arcs().find(|arc| network.way(*arc).id == 101 && arc.forward()).unwrap();
    assert!(graph.is_open(to_c) && graph.onward(to_c).is_empty());
}
