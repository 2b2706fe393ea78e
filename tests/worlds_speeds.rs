//! How fast: class, surface, posted limit and load. 1,000 m at 10 m/s take 100 s.

mod support;

use support::drive::{Course, empty, full};
use support::world::World;
use tankerloop::routing::access::Policy;
use tankerloop::routing::speed::Room;

/// Seconds for the kilometre from A to B and back, the full truck at half the speed.
#[track_caller]
fn kilometre(tags: &[(&str, &str)], seconds: [f64; 2]) {
    let mut way = tags.to_vec();
    way.push(("highway", "tertiary"));
    let world = World::new(100.0).map("A---------B").way("AB", &way);
    let course = Course::with(world, &[("full_factor = 1.0", "full_factor = 0.5")], Policy::default());
    course.drive(empty(), 'A', 'B').is("AB", seconds[0]);
    course.drive(empty(), 'B', 'A').is("BA", seconds[0]);
    course.drive(full(), 'A', 'B').is("AB", seconds[1]);
}

#[test]
fn class_and_load() {
    kilometre(&[], [100.0, 200.0]);
}

/// Gravel 5 m/s, ground 2.5 m/s, soft 1 m/s; a full truck half of it.
#[test]
fn surfaces() {
    kilometre(&[("surface", "asphalt")], [100.0, 200.0]);
    kilometre(&[("surface", "gravel")], [200.0, 400.0]);
    kilometre(&[("surface", "dirt")], [400.0, 800.0]);
    kilometre(&[("surface", "sand")], [1_000.0, 2_000.0]);
    kilometre(&[("surface", "gravel;dirt")], [200.0, 400.0]);
    // Bad smoothness is driven like gravel at the most, very bad like ground.
    kilometre(&[("smoothness", "bad")], [200.0, 400.0]);
    kilometre(&[("surface", "asphalt"), ("smoothness", "very_bad")], [400.0, 800.0]);
    kilometre(&[("smoothness", "good")], [100.0, 200.0]);
}

/// The posted limit binds the truck as driven: 18 km/h is 5 m/s, which the full truck does not pass
/// anyway; 9 km/h is 2.5 m/s for both; above the truck's own speed a sign changes nothing.
#[test]
fn posted_limits() {
    kilometre(&[("maxspeed", "18")], [200.0, 200.0]);
    kilometre(&[("maxspeed", "9")], [400.0, 400.0]);
    kilometre(&[("maxspeed", "27 km/h")], [1_000.0 / 7.5, 200.0]);
    kilometre(&[("maxspeed", "100")], [100.0, 200.0]);
    kilometre(&[("maxspeed", "none")], [100.0, 200.0]);
    // 20 mph is 20 x 1,609.344 m an hour, 8.9408 m/s.
    kilometre(&[("maxspeed", "20 mph")], [1_000.0 / 8.9408, 200.0]);
    kilometre(&[("maxspeed", "20mph")], [1_000.0 / 8.9408, 200.0]);
    kilometre(&[("maxspeed", "30 mph")], [100.0, 200.0]);
}

/// 5 m/s with the node order, 10 m/s against it.
#[test]
fn a_limit_for_one_direction() {
    let way = [("highway", "tertiary"), ("maxspeed:forward", "18")];
    let course = Course::new(World::new(100.0).map("A---------B").way("AB", &way));
    course.drive(empty(), 'A', 'B').is("AB", 200.0);
    course.drive(empty(), 'B', 'A').is("BA", 100.0);
}

/// A limit for heavy goods vehicles binds a tanker, also by direction: 5 m/s with the node order.
#[test]
fn limits_for_heavy_goods_vehicles() {
    kilometre(&[("maxspeed", "30"), ("maxspeed:hgv", "18")], [200.0, 200.0]);
    kilometre(&[("maxspeed", "18"), ("maxspeed:hgv", "30")], [200.0, 200.0]);
    kilometre(&[("maxspeed:hgv", "9")], [400.0, 400.0]);
    let way = [("highway", "tertiary"), ("maxspeed:hgv:forward", "18"), ("maxspeed", "30")];
    let course = Course::new(World::new(100.0).map("A---------B").way("AB", &way));
    course.drive(empty(), 'A', 'B').is("AB", 200.0);
    course.drive(empty(), 'B', 'A').is("BA", 120.0); // 30 km/h is 8.333 m/s
}

/// The zone stands for 18 km/h, 5 m/s; a number on the road stands before it; a zone whose code
/// ends in a number means that number; one that the table does not know is told and slows nothing.
#[test]
fn zones_of_implicit_limits() {
    let drive = |tags: &[(&str, &str)]| {
        let mut way = tags.to_vec();
        way.push(("highway", "tertiary"));
        let world = World::new(100.0).map("A---------B").way("AB", &way);
        let zones = ("[narrow]", "[implicit]\n\"XA:rural\" = \"18 km/h\"\nwalk = \"3.6 km/h\"\n[narrow]");
        Course::with(world, &[zones], Policy::default())
    };
    for key in ["maxspeed", "maxspeed:type", "source:maxspeed", "zone:maxspeed"] {
        drive(&[(key, "XA:rural")]).drive(empty(), 'A', 'B').is("AB", 200.0);
    }
    drive(&[("maxspeed", "9"), ("maxspeed:type", "XA:rural")]).drive(empty(), 'A', 'B').is("AB", 400.0);
    drive(&[("zone:maxspeed", "XA:9")]).drive(empty(), 'A', 'B').is("AB", 400.0);
    drive(&[("maxspeed", "walk")]).drive(empty(), 'A', 'B').is("AB", 1_000.0);
    let sign = drive(&[("source:maxspeed", "sign")]);
    sign.drive(empty(), 'A', 'B').is("AB", 100.0);
    assert!(sign.noticed().is_empty());
    let unknown = drive(&[("maxspeed", "XB:rural")]);
    unknown.drive(empty(), 'A', 'B').is("AB", 100.0);
    let noticed = unknown.noticed();
    assert!(noticed[0].starts_with("[tag-unreadable] way 100: the speed table has no limit"), "{noticed:?}");
    assert!(noticed[0].contains("XB:rural"));
}

#[test]
fn an_unreadable_speed_is_told_and_the_class_decides() {
    let way = [("highway", "tertiary"), ("maxspeed", "brisk")];
    let course = Course::new(World::new(100.0).map("A---------B").way("AB", &way));
    course.drive(empty(), 'A', 'B').is("AB", 100.0);
    assert!(course.noticed()[0].starts_with("[tag-unreadable] way 100: maxspeed=brisk"));
}

/// A signal in the middle: 100 + 15 s.
#[test]
fn a_signal_costs_time() {
    let world = World::new(100.0).map("A----M----B").road("AMB").node('M', &[("highway", "traffic_signals")]);
    let course = Course::with(world, &[("signal = 0.0", "signal = 15.0")], Policy::default());
    course.drive(empty(), 'A', 'B').is("AMB", 115.0).is_silent();
}

/// The way whose other direction is slow is still found when its near end is the goal.
///
/// ```text
/// A-------------------P    the goal lies 100 m west of Q on BQ, where 10 m/s is allowed towards Q
/// |                   |    and 1 m/s from Q; the start 100 m north of Q. By Q: 10 + 100 = 110 s.
/// B-------------------Q    All round by P, A and B: 10 + 200 + 20 + 190 = 420 s.
/// ```
#[test]
fn a_slow_direction_is_taken_for_a_short_stretch() {
    let world = World::new(100.0)
        .map(
            "
            A-------------------P
            |                   |
            B-------------------Q
            ",
        )
        .road("QPAB")
        .way("BQ", &[("highway", "residential"), ("maxspeed:backward", "3.6")]);
    let course = Course::new(world);
    let (start, goal) = (course.world.beside('Q', 0.0, 100.0), course.world.beside('Q', -100.0, 0.0));
    course.between(empty(), start, goal).unwrap().is("Q", 110.0);
}

/// Two trucks cannot pass where one lane or less than 5.5 m is mapped, nor on service roads and
/// tracks of unknown width.
#[test]
fn narrow_roads() {
    let room = |tags: &[(&str, &str)]| {
        let course = Course::new(World::new(100.0).map("A---------B").way("AB", tags));
        course.roads.table.room(&course.roads.network.ways[0].tags)
    };
    assert_eq!(room(&[("highway", "tertiary"), ("lanes", "1")]), Room::Narrow);
    assert_eq!(room(&[("highway", "tertiary"), ("lanes", "2")]), Room::Passes);
    assert_eq!(room(&[("highway", "tertiary"), ("width", "5.4")]), Room::Narrow);
    assert_eq!(room(&[("highway", "tertiary"), ("width", "5.5")]), Room::Passes);
    assert_eq!(room(&[("highway", "tertiary"), ("width", "18'")]), Room::Narrow); // 5.4864 m
    assert_eq!(room(&[("highway", "tertiary"), ("lanes", "2"), ("width", "4")]), Room::Narrow);
    assert_eq!(room(&[("highway", "service")]), Room::Narrow);
    assert_eq!(room(&[("highway", "track")]), Room::Narrow);
    assert_eq!(room(&[("highway", "tertiary")]), Room::Passes);
    assert_eq!(room(&[("highway", "residential")]), Room::Unknown);
}
