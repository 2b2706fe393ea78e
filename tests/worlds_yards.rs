//! Turning round in marked yards. A cell is 10 m and takes 1 s; turning round takes 60 s in a yard,
//! 90 s at a junction and 180 s by backing.

mod support;

use support::drive::{Course, full};
use support::world::World;

/// ```text
/// C         P---Q       From A the way straight on to C is forbidden at J. The truck turns right, turns
/// |         |   |       round somewhere and comes back to J: A to J and J to C take 2 s each, J to M 10,
/// J----X----M---N--B    to N 14, to B 17, and the turning comes on top. At B, by backing:
/// |         |   |       2 + 17 + 180 + 17 + 2 = 218 s.
/// A         S---R
/// ```
fn forced_to_turn() -> World {
    World::new(10.0)
        .map(
            "
            C         P---Q
            |         |   |
            J----X----M---N--B
            |         |   |
            A         S---R
            ",
        )
        .road("AJ")
        .road("JC")
        .road("JXMNB")
        .restriction("no_straight_on", "AJ", 'J', "JC")
}

/// The outline through P, Q, N, R, S and M measures 40 m by 40 m: turning at M takes
/// 2 + 10 + 60 + 10 + 2 = 84 s, in the middle of the way, and the driver is told.
#[test]
fn a_road_that_crosses_a_parking_area_has_room_to_turn() {
    for tags in [
        &[("amenity", "parking")][..],
        &[("amenity", "parking"), ("parking", "surface"), ("access", "customers")],
        &[("highway", "service"), ("area", "yes")],
    ] {
        let course = Course::new(forced_to_turn().way("PQNRSMP", tags));
        let driven = course.drive(full(), 'A', 'C');
        driven.is("AJXMXJC", 84.0).tells("yard-turn");
        let told = &driven.findings[0];
        assert!(told.contains("parking area or yard") && told.contains("kept free"), "{told}");
    }
}

#[test]
fn ground_that_is_shut_roofed_or_built_on_is_no_yard() {
    for tags in [
        &[("amenity", "parking"), ("parking", "multi-storey")][..],
        &[("amenity", "parking"), ("parking", "underground")],
        &[("amenity", "parking"), ("access", "private")],
        &[("amenity", "parking"), ("building", "yes")],
        &[("landuse", "farmyard")],
    ] {
        let course = Course::new(forced_to_turn().way("PQNRSMP", tags));
        course.drive(full(), 'A', 'C').is("AJXMNBNMXJC", 218.0).tells("backing");
    }
    // Nor is a line that does not close.
    let course = Course::new(forced_to_turn().way("PQNRSM", &[("amenity", "parking")]));
    course.drive(full(), 'A', 'C').is("AJXMNBNMXJC", 218.0);
}

/// ```text
/// C         P-----Q     The road ends at B inside the area, and shares no node with its outline:
/// |         |     |     2 + 13 + 60 + 13 + 2 = 90 s. V is inside as well, but in the middle of the
/// J----X----+V-B  |     way.
/// |         |     |
/// A         S-----R
/// ```
#[test]
fn a_road_that_ends_in_a_yard_is_no_dead_end() {
    let world = World::new(10.0)
        .map(
            "
            C         P-----Q
            |         |     |
            J----X----+V-B  |
            |         |     |
            A         S-----R
            ",
        )
        .road("AJ")
        .road("JC")
        .road("JXVB")
        .way("PQRSP", &[("amenity", "parking")])
        .restriction("no_straight_on", "AJ", 'J', "JC");
    Course::new(world).drive(full(), 'A', 'C').is("AJXVBVXJC", 90.0).tells("yard-turn");
}

/// 10 m is less than the 60 ft (18.3 m) that a "Y" for fire apparatus takes (International Fire Code,
/// appendix D); 20 m is more. The road ends at B on the outline: 2 + 12 + 180 + 12 + 2 = 208 s by
/// backing, 2 + 12 + 60 + 12 + 2 = 88 s in the yard.
#[test]
fn a_strip_of_parking_beside_the_road_is_too_narrow() {
    let world = |outline: &str| {
        World::new(10.0)
            .map(
                "
                C           PQT
                |           |||
                J----X------B||
                |           |||
                A           SRU
                ",
            )
            .road("AJ")
            .road("JC")
            .road("JXB")
            .way(outline, &[("amenity", "parking")])
            .restriction("no_straight_on", "AJ", 'J', "JC")
    };
    Course::new(world("PQRSBP")).drive(full(), 'A', 'C').is("AJXBXJC", 208.0).tells("backing");
    Course::new(world("PTUSBP")).drive(full(), 'A', 'C').is("AJXBXJC", 88.0).tells("yard-turn");
}
