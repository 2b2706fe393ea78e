//! Posted limits: which leg they close, and what is said about it.
//!
//! The world of most tests; a cell is 100 m and takes 10 s:
//!
//! ```text
//! A----B--M--C----D    straight over the bridge BMC: 50 + 60 + 50 = 160 s
//!      |     |
//!      E-----F         round by E and F:      50 + 20 + 60 + 20 + 50 = 200 s
//! ```

mod support;

use support::drive::{Course, Driven, empty, full};
use support::world::World;
use tankerloop::roads::limits::Posted;
use tankerloop::routing::access::Policy;
use tankerloop::units::Kilograms;
use tankerloop::vehicle::Body;

fn world(bridge: &[(&str, &str)], middle: &[(&str, &str)]) -> World {
    let mut bridge = bridge.to_vec();
    bridge.extend([("highway", "tertiary"), ("name", "Mill Road")]);
    World::new(100.0)
        .map(
            "
            A----B--M--C----D
                 |     |
                 E-----F
            ",
        )
        .way("AB", &[("highway", "tertiary"), ("name", "West Road")])
        .way("BMC", &bridge)
        .way("CD", &[("highway", "tertiary"), ("name", "East Road")])
        .way("BEFC", &[("highway", "unclassified"), ("name", "River Road")])
        .node('M', middle)
}

fn posted(key: &str, value: &str) -> Course {
    Course::new(world(&[(key, value)], &[]))
}

#[track_caller]
fn straight(driven: &Driven) {
    driven.is("ABMCD", 160.0);
}

#[track_caller]
fn round_about(driven: &Driven) {
    driven.is("ABEFCD", 200.0);
}

/// What a sign with this text does to the truck, full and empty, there and back.
#[track_caller]
fn sign(key: &str, value: &str, full_passes: bool, empty_passes: bool) {
    let course = posted(key, value);
    for (body, passes) in [(full(), full_passes), (empty(), empty_passes)] {
        let (there, back) = (course.drive(body.clone(), 'A', 'D'), course.drive(body, 'D', 'A'));
        let (letters, seconds) = if passes { ("ABMCD", 160.0) } else { ("ABEFCD", 200.0) };
        there.is(letters, seconds);
        back.is(&letters.chars().rev().collect::<String>(), seconds);
    }
}

/// Nothing posted: both go straight, and nothing is said.
#[test]
fn without_a_limit_both_go_straight() {
    let course = Course::new(world(&[], &[]));
    for body in [full(), empty()] {
        let driven = course.drive(body, 'A', 'D');
        driven.is("ABMCD", 160.0).is_silent();
        assert_eq!(driven.streets, ["West Road", "Mill Road", "East Road"]);
        assert_eq!(driven.ways, [100, 101, 102]);
    }
    assert!(course.noticed().is_empty());
    // OSM wiki, Key:maxweight and Key:maxheight: words for "no sign here".
    for value in ["none", "unsigned", "no_sign", "no_indications", "default"] {
        let course = posted("maxweight", value);
        straight(&course.drive(full(), 'A', 'D'));
        assert!(course.noticed().is_empty(), "{value}: {:?}", course.noticed());
    }
}

/// 15 t lies between the empty 10 t and the full 19 t: the bridge carries one leg only.
#[test]
fn a_weight_limit_between_empty_and_full_closes_the_loaded_leg_only() {
    sign("maxweight", "15", false, true);
    let driven = posted("maxweight", "15").drive(full(), 'A', 'D');
    assert_eq!(driven.streets, ["West Road", "River Road", "East Road"]);
    sign("maxweight", "8", false, false);
    sign("maxweight", "40", true, true);
}

/// A bridge posted 19 t carries 19 t; one kilogram less does not.
#[test]
fn equality_passes() {
    sign("maxweight", "19", true, true);
    sign("maxweight", "19.0 t", true, true);
    sign("maxweight", "19000 kg", true, true);
    sign("maxweight", "18999 kg", false, true);
    sign("maxweight", "10", false, true);
    sign("maxweight", "9.999", false, false);
}

/// 1 st is 2,000 lb or 907.18474 kg: 21 st is 19.05 t and carries 19 t, 20.9 st is 18.96 t.
/// 1 lt is 2,240 lb: 18.7 lt is 19.0001 t. 42,000 lb is 19.05 t, 41,800 lb is 18.96 t.
#[test]
fn us_and_imperial_postings() {
    sign("maxweight", "21 st", true, true);
    sign("maxweight", "20.9 st", false, true);
    sign("maxweight", "18.7 lt", true, true);
    sign("maxweight", "18.6 lt", false, true);
    sign("maxweight", "42000 lbs", true, true);
    sign("maxweight", "41,800 lb", false, true);
}

/// The heaviest axle is 11 t full and 6 t empty.
#[test]
fn an_axle_limit() {
    sign("maxaxleload", "11", true, true);
    sign("maxaxleload", "10", false, true);
    sign("maxaxleload", "5", false, false);
}

/// 3.2 m high, 2.5 m wide, 9 m long, whatever is in the tank.
/// 10'6" is 3.2004 m, 10'5" is 3.1750 m; 8'3" is 2.5146 m, 8'2" is 2.4892 m.
#[test]
fn height_width_and_length_close_both_legs() {
    for (key, passes, closes) in [
        ("maxheight", "3.2", "3.19"),
        ("maxheight", "10'6\"", "10'5\""),
        ("maxheight:physical", "3.2 m", "3.1 m"),
        ("maxwidth", "2.5", "2.4"),
        ("maxwidth", "8'3\"", "8'2\""),
        ("width", "2.5", "2.4"),
        ("maxlength", "9", "8.9"),
    ] {
        sign(key, passes, true, true);
        sign(key, closes, false, false);
    }
    // An estimate closes nothing (OSM wiki, Key:est_width).
    sign("est_width", "2.4", true, true);
    // The stricter of two signs for one thing counts, in either order.
    let two = Course::new(world(&[("maxheight", "3.0"), ("maxheight:physical", "3.5")], &[]));
    round_about(&two.drive(full(), 'A', 'D'));
    let two = Course::new(world(&[("maxheight", "3.5"), ("maxheight:physical", "3.0")], &[]));
    round_about(&two.drive(full(), 'A', 'D'));
}

/// The limit stands on the bridge's node, not on the way.
#[test]
fn a_limit_on_a_node_counts_like_one_on_the_way() {
    let course = Course::new(world(&[], &[("maxweight", "15")]));
    round_about(&course.drive(full(), 'A', 'D'));
    straight(&course.drive(empty(), 'A', 'D'));
    let course = Course::new(world(&[], &[("maxheight", "3.1")]));
    round_about(&course.drive(empty(), 'A', 'D'));
    let course = Course::new(world(&[], &[("maxweight", "survey")]));
    round_about(&course.drive(full(), 'A', 'D'));
    straight(&course.drive(empty(), 'A', 'D'));
    assert!(course.noticed()[0].contains("[limit-unreadable] node 3: maxweight=survey cannot be read"));
}

/// A bogie is the two axles of a tandem: 16 t here. A truck without one has no bogie to weigh.
#[test]
fn a_bogie_limit_counts_for_a_tandem_only() {
    let course = posted("maxbogieweight", "15");
    let tandem = |bogie: f64| Body { bogie_load: Kilograms(bogie), ..full() };
    round_about(&course.drive(tandem(16_000.0), 'A', 'D'));
    straight(&course.drive(tandem(15_000.0), 'A', 'D'));
    straight(&course.drive(full(), 'A', 'D'));
}

/// A frame without a number is closed; with one it is a height limit.
#[test]
fn a_height_frame() {
    for (tags, passes) in [
        (vec![("barrier", "height_restrictor")], false),
        (vec![("barrier", "height_restrictor"), ("maxheight", "3.1")], false),
        (vec![("barrier", "height_restrictor"), ("maxheight", "3.5")], true),
    ] {
        let driven = Course::new(world(&[], &tags)).drive(empty(), 'A', 'D');
        if passes { straight(&driven) } else { round_about(&driven) }
    }
}

#[test]
fn a_sign_nobody_can_read_closes_the_loaded_leg_only_and_is_told() {
    for key in ["maxweight", "maxaxleload", "maxbogieweight", "maxheight", "maxwidth", "maxlength"] {
        let course = posted(key, "survey");
        let noticed = course.noticed();
        assert_eq!(noticed.len(), 1, "{noticed:?}");
        assert!(noticed[0].starts_with(&format!("[limit-unreadable] way 101: {key}=survey")), "{noticed:?}");
        sign(key, "survey", false, true);
    }
}

/// 0.1 lb is readable and hardly possible: it is applied, and warned about.
#[test]
fn an_implausible_limit_does_not_vanish() {
    sign("maxweight", "0.1 lbs", false, false);
    let noticed = posted("maxweight", "0.1 lbs").noticed();
    assert!(noticed[0].starts_with("[limit-implausible] way 101: maxweight=0.1 lbs"), "{noticed:?}");
}

/// OSM wiki, Key:maxweightrating: a truck of 5 t empty and 15 t rated passes `maxweight=10` empty
/// and fails it full, and fails `maxweightrating=10` always; by our policy the rating is a flag.
#[test]
fn the_rated_weight_does_not_change_with_the_load() {
    let truck = |body: Body| {
        let mass = if body == full() { 15_000.0 } else { 5_000.0 };
        Body { mass: Kilograms(mass), rated_mass: Kilograms(15_000.0), ..body }
    };
    let weight = posted("maxweight", "10");
    round_about(&weight.drive(truck(full()), 'A', 'D'));
    straight(&weight.drive(truck(empty()), 'A', 'D'));
    let strict = Policy { rating_limit: false, ..Policy::default() };
    let rating = Course::with(world(&[("maxweightrating", "10")], &[]), &[], strict);
    let open = posted("maxweightrating", "10");
    for body in [truck(full()), truck(empty())] {
        round_about(&rating.drive(body.clone(), 'A', 'D'));
        open.drive(body, 'A', 'D').is("ABMCD", 160.0).tells("rating-limit");
    }
}

/// A bridge without a posted weight: unknown is not unlimited, and only the loaded truck asks.
#[test]
fn an_unposted_bridge_is_flagged_for_the_loaded_leg() {
    let course = Course::new(world(&[("bridge", "yes")], &[]));
    course.drive(full(), 'A', 'D').is("ABMCD", 160.0).tells("bridge-unposted");
    course.drive(empty(), 'A', 'D').is("ABMCD", 160.0).is_silent();
    let course = Course::new(world(&[("bridge", "yes"), ("maxweight", "30")], &[]));
    course.drive(full(), 'A', 'D').is("ABMCD", 160.0).is_silent();
}

/// A conditional limit is not evaluated, and that is said.
#[test]
fn a_conditional_limit_is_told() {
    let noticed = posted("maxweight:conditional", "8 @ (winter)").noticed();
    assert!(noticed[0].starts_with("[conditional-not-read] way 101: maxweight:conditional=8 @ (winter)"));
}

/// The only road is posted: the reason names way, street, sign and vehicle.
#[test]
fn a_pocket_behind_a_posted_sign_gives_the_reason_with_its_margin() {
    let pocket = |tags: &[(&str, &str)], middle: &[(&str, &str)]| {
        let mut bridge = tags.to_vec();
        bridge.extend([("highway", "tertiary"), ("name", "Mill Road")]);
        let map = World::new(100.0).map("A----B--M--C----D");
        Course::new(map.road("AB").way("BMC", &bridge).road("CD").node('M', middle))
    };
    let course = pocket(&[("maxweight", "8")], &[]);
    course.drive(full(), 'A', 'D').is_stopped_by("way 101 (Mill Road) posted 8.0 t, vehicle 19.0 t");
    course.drive(full(), 'D', 'A').is_stopped_by("way 101 (Mill Road) posted 8.0 t, vehicle 19.0 t");
    course.drive(empty(), 'A', 'D').is_stopped_by("way 101 (Mill Road) posted 8.0 t, vehicle 10.0 t");
    for (key, value, reason) in [
        ("maxaxleload", "9", "way 101 (Mill Road) posted 9.0 t per axle, vehicle 11.0 t"),
        ("maxheight", "3", "way 101 (Mill Road) posted height 3.00 m, vehicle 3.20 m"),
        ("maxwidth", "2.4", "way 101 (Mill Road) width 2.40 m, vehicle 2.50 m"),
        ("maxlength", "8", "way 101 (Mill Road) posted length 8.0 m, vehicle 9.0 m"),
        ("maxweight", "survey", "way 101 (Mill Road) maxweight=survey cannot be read"),
    ] {
        pocket(&[(key, value)], &[]).drive(full(), 'A', 'D').is_stopped_by(reason);
    }
    let course = pocket(&[], &[("maxweight", "8")]);
    course.drive(full(), 'A', 'D').is_stopped_by("node 3 (Mill Road) posted 8.0 t, vehicle 19.0 t");
    // Two signs on the way: both are told, in the order met.
    let course = pocket(&[("maxweight", "8")], &[("maxheight", "3")]);
    let reasons = course.drive(full(), 'A', 'D').reasons;
    assert_eq!(
        reasons,
        [
            "way 101 (Mill Road) posted 8.0 t, vehicle 19.0 t",
            "node 3 (Mill Road) posted height 3.00 m, vehicle 3.20 m"
        ]
    );
}

/// Two ways between the same two junctions over the same 500 m: 50 s on the one, 100 s on the other
/// (posted 18 km/h). A limit on the faster sends the loaded truck over the slower.
#[test]
fn parallel_ways_between_the_same_junctions_are_both_kept() {
    let course = |limit: &[(&str, &str)]| {
        let mut fast = limit.to_vec();
        fast.extend([("highway", "tertiary"), ("name", "Upper Deck")]);
        let slow = [("highway", "tertiary"), ("name", "Lower Deck"), ("maxspeed", "18")];
        let map = World::new(100.0).map("A----B----C----D");
        Course::new(map.road("AB").way("BC", &slow).way("BC", &fast).road("CD"))
    };
    let free = course(&[]);
    assert_eq!(free.roads.network.segments.len(), 4);
    let driven = free.drive(full(), 'A', 'D');
    assert_eq!(driven.is("ABCD", 150.0).ways, [100, 102, 103]);
    let limited = course(&[("maxweight", "15")]);
    assert_eq!(limited.drive(full(), 'A', 'D').is("ABCD", 200.0).ways, [100, 101, 103]);
    assert_eq!(limited.drive(empty(), 'A', 'D').is("ABCD", 150.0).ways, [100, 102, 103]);
}

/// The three states of a sign.
#[test]
fn posted_none_and_unreadable_are_three_states() {
    let limit = |value: &str| {
        let course = posted("maxweight", value);
        let way = course.roads.network.ways.iter().find(|way| way.id == 101).unwrap();
        way.tags.limits.as_ref().map_or(Posted::None, |limits| limits.weight.clone())
    };
    assert_eq!(limit("none"), Posted::None);
    assert_eq!(limit("7.5"), Posted::At(Kilograms(7_500.0)));
    assert_eq!(limit("7,5"), Posted::Unreadable("7,5".into()));
}
