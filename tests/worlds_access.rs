//! Who may drive where: access words, barriers, tracks, fords, and what is no road at all.
//! A cell is 100 m and takes 10 s.
//!
//! ```text
//! A----B--M--C----D    straight: 50 + 60 + 50 = 160 s
//!      |     |
//!      E-----F         round:    50 + 20 + 60 + 20 + 50 = 200 s
//! ```

mod support;

use support::drive::{Course, Driven, empty, full};
use support::world::World;
use tankerloop::roads::tags::NotARoad;
use tankerloop::routing::access::Policy;

fn world(tags: &[(&str, &str)], middle: &[(&str, &str)]) -> World {
    let mut way = tags.to_vec();
    if !tags.iter().any(|(key, _)| *key == "highway") {
        way.push(("highway", "tertiary"));
    }
    way.push(("name", "Mill Road"));
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

fn on_way(tags: &[(&str, &str)]) -> Driven {
    Course::new(world(tags, &[])).drive(full(), 'A', 'D')
}

fn on_node(tags: &[(&str, &str)]) -> Driven {
    Course::new(world(&[], tags)).drive(full(), 'A', 'D')
}

fn under(policy: Policy, tags: &[(&str, &str)]) -> Driven {
    Course::with(world(tags, &[]), &[], policy).drive(full(), 'A', 'D')
}

#[track_caller]
fn open(driven: &Driven) -> &Driven {
    driven.is("ABMCD", 160.0)
}

#[track_caller]
fn closed(driven: &Driven) -> &Driven {
    driven.is("ABEFCD", 200.0).is_silent()
}

#[test]
fn private_destination_and_farm_roads_are_open_and_flagged_by_policy() {
    for (key, value) in [
        ("access", "private"),
        ("access", "permit"),
        ("motor_vehicle", "private"),
        ("vehicle", "destination"),
        ("access", "delivery"),
        ("access", "customers"),
        ("motor_vehicle", "agricultural"),
        ("motor_vehicle", "forestry"),
    ] {
        let driven = on_way(&[(key, value)]);
        open(&driven).tells("private-road");
        assert!(driven.findings[0].starts_with("[private-road] way 101, \"Mill Road\", at "));
    }
    let default = Policy::default;
    closed(&under(Policy { private: false, ..default() }, &[("access", "private")]));
    closed(&under(Policy { destination: false, ..default() }, &[("access", "destination")]));
    closed(&under(Policy { farm: false, ..default() }, &[("access", "agricultural")]));
}

#[test]
fn closed_to_traffic_is_closed_unless_named() {
    for value in ["no", "military", "restricted"] {
        closed(&on_way(&[("access", value)]));
    }
    closed(&on_way(&[("motor_vehicle", "no")]));
    closed(&on_way(&[("emergency", "no")]));
    let named = Policy { open_ways: vec![101], ..Policy::default() };
    open(&under(named, &[("access", "no")])).tells("private-road");
    let other = Policy { open_ways: vec![103], ..Policy::default() };
    closed(&under(other, &[("access", "no")]));
}

#[test]
fn emergency_access_opens_what_is_closed_to_others() {
    for value in ["yes", "designated"] {
        open(&on_way(&[("access", "no"), ("emergency", value)])).is_silent();
        open(&on_way(&[("motor_vehicle", "private"), ("emergency", value)])).is_silent();
    }
    open(&on_way(&[("access", "emergency")])).is_silent();
    // But no physical limit.
    closed(&on_way(&[("access", "no"), ("emergency", "yes"), ("maxweight", "8")]));
}

/// The narrower word decides: motor_vehicle over vehicle over access (OSM wiki, Key:access).
#[test]
fn the_narrower_access_word_decides() {
    open(&on_way(&[("access", "no"), ("motor_vehicle", "yes")])).is_silent();
    open(&on_way(&[("access", "no"), ("vehicle", "permissive")])).is_silent();
    closed(&on_way(&[("access", "yes"), ("motor_vehicle", "no")]));
    // A sign for cars alone says nothing about trucks.
    open(&on_way(&[("motorcar", "no")])).is_silent();
}

#[test]
fn an_unknown_access_word_is_private_and_told() {
    let course = Course::new(world(&[("access", "maybe")], &[]));
    open(&course.drive(full(), 'A', 'D')).tells("private-road");
    assert!(course.noticed()[0].starts_with("[tag-unreadable] way 101: access=maybe"));
}

#[test]
fn a_heavy_goods_restriction_is_open_and_flagged_by_policy() {
    for value in ["no", "destination"] {
        open(&on_way(&[("hgv", value)])).tells("hgv-restricted");
        let policy = Policy { hgv_restricted: false, ..Policy::default() };
        closed(&under(policy, &[("hgv", value)]));
    }
    open(&on_way(&[("hgv", "yes")])).is_silent();
}

/// A gate takes 30 s: 160 + 30 = 190 s, still less than 200 s; at 50 s the way round is quicker.
#[test]
fn a_gate_costs_time_and_is_told() {
    for word in ["gate", "lift_gate", "swing_gate", "chain"] {
        let driven = on_node(&[("barrier", word)]);
        driven.is("ABMCD", 190.0).tells("gate-on-way");
        assert!(driven.findings[0].starts_with("[gate-on-way] node 3, at "), "{driven:?}");
    }
    on_node(&[("barrier", "bollard"), ("bollard", "removable")]).is("ABMCD", 190.0).tells("gate-on-way");
    let slow =
        Course::with(world(&[], &[("barrier", "gate")]), &[("gate = 30", "gate = 50")], Policy::default());
    closed(&slow.drive(full(), 'A', 'D'));
    // A closed gate; and one that opens for the fire service.
    closed(&on_node(&[("barrier", "gate"), ("access", "no")]));
    on_node(&[("barrier", "gate"), ("access", "no"), ("emergency", "yes")]).is("ABMCD", 190.0);
    on_node(&[("barrier", "gate"), ("access", "private")]).is("ABMCD", 190.0);
}

#[test]
fn bollards_and_blocks_close_a_cattle_grid_does_not() {
    for word in ["bollard", "block", "jersey_barrier", "cycle_barrier"] {
        closed(&on_node(&[("barrier", word)]));
    }
    // A word the reader does not know is taken as blocking.
    closed(&on_node(&[("barrier", "moat")]));
    assert_eq!(on_node(&[("barrier", "cattle_grid")]).is("ABMCD", 160.0).letters, "ABMCD");
    open(&on_node(&[("barrier", "no")])).is_silent();
}

/// The only road ends at a bollard: the reason names the node.
#[test]
fn a_bollard_on_the_only_road_is_the_reason() {
    // The way round is posted, so that for this truck the road with the bollard is the only one; for
    // a lighter one all of it hangs together, so that D is no island.
    let world = World::new(100.0)
        .map(
            "
            A----B--M--C----D
                 |     |
                 E-----F
            ",
        )
        .road("AB")
        .way("BMC", &[("highway", "tertiary"), ("name", "Mill Road")])
        .road("CD")
        .way("BEFC", &[("highway", "tertiary"), ("maxweight", "8")])
        .node('M', &[("barrier", "bollard")]);
    let course = Course::new(world);
    let reasons = course.drive(full(), 'A', 'D').reasons;
    assert_eq!(reasons, ["node 3 (Mill Road) barrier a truck cannot pass"]);
}

#[test]
fn tracks_by_their_grade() {
    for grade in ["grade1", "grade2", "grade3"] {
        open(&on_way(&[("highway", "track"), ("tracktype", grade)])).tells("track-used");
    }
    open(&on_way(&[("highway", "track")])).tells("track-used");
    for grade in ["grade4", "grade5"] {
        closed(&on_way(&[("highway", "track"), ("tracktype", grade)]));
    }
    let bold = Policy { worst_track_grade: 5, ..Policy::default() };
    open(&under(bold, &[("highway", "track"), ("tracktype", "grade5")])).tells("track-used");
}

#[test]
fn fords_winter_roads_and_the_roughest_are_closed() {
    closed(&on_way(&[("ford", "yes")]));
    open(&under(Policy { ford: true, ..Policy::default() }, &[("ford", "yes")]));
    open(&on_way(&[("ford", "no")])).is_silent();
    closed(&on_way(&[("winter_road", "yes")]));
    closed(&on_way(&[("ice_road", "yes")]));
    for value in ["horrible", "very_horrible", "impassable"] {
        closed(&on_way(&[("smoothness", value)]));
    }
}

/// What is under construction, for feet only or an area is no road; it is counted, not forgotten.
#[test]
fn what_is_no_road_is_left_out_and_counted() {
    for (tags, reason) in [
        (vec![("highway", "construction")], NotARoad::Unfinished),
        (vec![("highway", "proposed")], NotARoad::Unfinished),
        (vec![("highway", "steps")], NotARoad::FootOrCycle),
        (vec![("highway", "footway")], NotARoad::FootOrCycle),
        (vec![("highway", "residential"), ("area", "yes")], NotARoad::Area),
        (vec![("highway", "raceway")], NotARoad::OtherKind),
    ] {
        let course = Course::new(world(&tags, &[]));
        closed(&course.drive(empty(), 'A', 'D'));
        assert_eq!(course.roads.network.left_out.get(&reason), Some(&1), "{tags:?}");
        assert_eq!(course.roads.network.ways.len(), 3);
    }
    // A footway that the map opens to the fire service is a road for it.
    open(&on_way(&[("highway", "footway"), ("emergency", "yes")]));
}
