//! Which road a place belongs to, and what is said when it belongs to none. A cell is 100 m.

mod support;

use support::drive::{Course, empty, full};
use support::world::World;
use tankerloop::place::Place;

/// An island beside the road is nearer and is never taken: 50 s from A to opposite Y on the road.
///
/// ```text
/// A----B----C
///
///      X-Y       a yard that no road reaches
/// ```
#[test]
fn an_island_is_never_snapped_to() {
    let world = World::new(100.0)
        .map(
            "
            A----B----C

                 X-Y
            ",
        )
        .road("ABC")
        .road("XY");
    let course = Course::new(world);
    course.drive(full(), 'A', 'X').is("AB", 50.0);
    let beside = course.world.beside('Y', 0.0, 10.0);
    course.between(full(), course.world.place('A'), beside).unwrap().is("AB", 70.0);
}

/// Between two roads the nearer counts; its point is the foot of the perpendicular.
#[test]
fn a_place_belongs_to_the_nearest_road() {
    let world = World::new(100.0)
        .map(
            "
            A---------B
            |         |
            C---------D
            ",
        )
        .road("AB")
        .road("BD")
        .road("DC")
        .road("CA");
    let course = Course::new(world);
    // 300 m east of A, 90 m south of AB and 110 m north of CD.
    let place = course.world.beside('A', 300.0, -90.0);
    course.between(full(), course.world.place('A'), place).unwrap().is("A", 30.0);
    // 110 m south: on CD, by C: 20 + 30 s.
    let place = course.world.beside('A', 300.0, -110.0);
    course.between(full(), course.world.place('A'), place).unwrap().is("AC", 50.0);
}

/// A usable road is taken over a nearer closed one when it is at most 25 m farther away, and not
/// when it is more: then the closed road's reason is told.
#[test]
fn a_closed_road_is_left_for_one_a_little_farther_only() {
    // A to B along the closed lane; C to D parallel, 200 m south, joined in the west, where the
    // stub AE lets the truck turn.
    let world = World::new(100.0)
        .map(
            "
         E--A---------B
            |
            C---------D
            ",
        )
        .road("AE")
        .way("AB", &[("highway", "residential"), ("name", "Low Lane"), ("maxheight", "3")])
        .road("CD")
        .road("AC");
    let course = Course::new(world);
    let start = course.world.place('C');
    // 500 m east, 90 m from the lane above and 110 m from CD: CD is 20 m farther and is taken.
    let near = course.world.beside('C', 500.0, 110.0);
    course.between(full(), start, near).unwrap().is("C", 50.0);
    // 80 m from the lane and 120 m from CD: 40 m farther, so the place keeps its own road.
    let far = course.world.beside('C', 500.0, 120.0);
    let driven = course.between(full(), start, far).unwrap();
    driven.is_stopped_by("way 101 (Low Lane) posted height 3.00 m, vehicle 3.20 m");
}

#[test]
fn a_place_far_from_every_road_is_an_error_with_the_distance() {
    let course = Course::new(World::new(100.0).map("A----B").road("AB"));
    let start = course.world.place('A');
    let near = course.world.beside('B', 0.0, 990.0);
    course.between(full(), start, near).unwrap().is("AB", 50.0);
    let refusal = course.refused(full(), start, course.world.beside('B', 0.0, 5_000.0)).to_string();
    assert!(refusal.starts_with("error: [off-the-roads] \"--to\", at -33."), "{refusal}");
    assert!(refusal.contains("5.0 km away") && refusal.contains("world.osm.pbf"), "{refusal}");
}

/// The world lies at 34 west, 31 north; 31 east, 34 south is the same numbers the other way round.
#[test]
fn exchanged_coordinates_are_recognised() {
    let course = Course::new(World::new(100.0).map("\nA----B\n     |\n     C").road("ABC"));
    let right = course.world.beside('B', -100.0, 0.0);
    let swapped = Place::from_lon_lat(right.lat(), right.lon()).unwrap();
    let refusal = course.refused(full(), course.world.place('B'), swapped).to_string();
    assert!(refusal.starts_with("error: [swapped-lon-lat] \"--to\""), "{refusal}");
    assert!(refusal.contains(&format!("Write the longitude first: {right}")), "{refusal}");
    // Out of range one way, in range the other: told while reading the numbers.
    let error = "41.5,-104.25".parse::<Place>().unwrap_err().to_string();
    assert!(error.contains("look swapped (try -104.25,41.5)"), "{error}");
}

/// The way leaves the extract between C and D: the parts inside are used, and it is told.
///
/// ```text
/// A----B----C . . . . D----E
///      |                   |
///      F-------------------G
/// ```
#[test]
fn a_way_cut_by_the_edge_of_the_extract_is_told_and_its_inside_used() {
    let world = World::new(100.0)
        .map(
            "
            A----B----C--X--Y--D----E
                 |                  |
                 F------------------G
            ",
        )
        .road("ABCXYDE")
        .road("BFGE")
        .cut("XY");
    let course = Course::new(world);
    let noticed = course.noticed();
    assert_eq!(noticed.len(), 1, "{noticed:?}");
    assert!(noticed[0].starts_with("[way-cut] way 100: 2 of its 7 nodes lie outside"), "{noticed:?}");
    course.drive(full(), 'A', 'C').is("ABC", 100.0);
    // Not through the gap: B to E round by F and G, 20 + 190 + 20 s, then 50 s to D.
    course.drive(empty(), 'A', 'D').is("ABFGED", 50.0 + 20.0 + 190.0 + 20.0 + 50.0);
    // Both ends of the gap are known as such.
    assert_eq!(course.roads.network.junctions.iter().filter(|j| j.cut).count(), 2);
}

/// Start and goal on one stretch of road: the straight way, in either direction; mid-road no
/// turning round is needed, for the truck may start facing either way.
#[test]
fn start_and_goal_on_the_same_stretch() {
    let course = Course::new(World::new(100.0).map("A---------B").road("AB"));
    let (west, east) = (course.world.beside('A', 200.0, 0.0), course.world.beside('A', 700.0, 0.0));
    course.between(full(), west, east).unwrap().is("", 50.0).is_silent();
    course.between(full(), east, west).unwrap().is("", 50.0).is_silent();
}

/// On a one-way ring the goal just behind the start is a whole round away: 1,000 m less 100 m.
///
/// ```text
/// A--B    300 m by 200 m, driven A, B, D, C
/// |  |
/// C--D
/// ```
#[test]
fn just_behind_on_a_one_way_ring_is_a_whole_round() {
    let world = World::new(100.0)
        .map(
            "
            A--B
            |  |
            C--D
            ",
        )
        .one("ABDCA");
    let course = Course::new(world);
    let (start, goal) = (course.world.beside('A', 200.0, 0.0), course.world.beside('A', 100.0, 0.0));
    course.between(full(), start, goal).unwrap().is("BDCA", 90.0);
    course.between(full(), goal, start).unwrap().is("", 10.0);
}

/// A lane that the truck can drive is not left for another road because what comes after its end is
/// closed: the truck comes, is turned where it stands, and goes. The goal lies 200 m up the lane,
/// 50 + 20 s.
fn lane(beyond: &[(&str, &str)], at_the_end: &[(&str, &str)]) -> Course {
    let world = World::new(100.0)
        .map(
            "
                 Y
                 |
                 X
                 |
                 |
                 |
            A----B----C
            |         |
            D---------E
            ",
        )
        .road("ABCEDA")
        .road("BX")
        .way("XY", beyond)
        .node('X', at_the_end);
    Course::new(world)
}

#[track_caller]
fn up_the_lane(course: &Course) {
    let goal = course.world.beside('B', 0.0, 200.0);
    course.between(full(), course.world.place('A'), goal).unwrap().is("AB", 70.0);
    course.between(full(), goal, course.world.place('A')).unwrap().is("BA", 70.0);
}

#[test]
fn a_lane_that_ends_is_driven() {
    up_the_lane(&lane(&[("highway", "footway")], &[]));
}

#[test]
fn a_lane_that_goes_on_as_a_closed_track_is_driven() {
    up_the_lane(&lane(&[("highway", "track"), ("tracktype", "grade5")], &[]));
}

#[test]
fn a_lane_that_goes_on_over_a_posted_bridge_is_driven() {
    up_the_lane(&lane(&[("highway", "residential"), ("maxweight", "3.5")], &[]));
}

#[test]
fn a_lane_that_ends_at_a_bollard_is_driven() {
    up_the_lane(&lane(&[("highway", "footway")], &[("barrier", "bollard")]));
}

/// At a junction of a one-way and a two-way road the place belongs to both: the truck that starts there
/// need not drive round the one-way to come back to where it stands.
#[test]
fn a_place_at_a_junction_is_on_the_road_that_goes_both_ways() {
    let course = Course::new(
        World::new(100.0)
            .map(
                "
                C--D
                |  |
                A--B
                |
                E
                ",
            )
            .one("ACDBA")
            .road("AE"),
    );
    course.drive(full(), 'A', 'E').is("AE", 20.0);
    course.drive(full(), 'E', 'A').is("EA", 20.0);
}

/// The nearest road ends nowhere: the place is put on the next one, and that is told.
#[test]
fn a_place_put_on_another_road_is_told() {
    let course = Course::new(
        World::new(100.0)
            .map(
                "
                X--Y

                A--B--C
                ",
            )
            .way("XY", &[("highway", "track"), ("tracktype", "grade5"), ("name", "Peat Track")])
            .road("ABC"),
    );
    let driven = course.drive(full(), 'X', 'C');
    driven.tells("place-moved");
    let told = driven.findings.iter().find(|f| f.contains("place-moved")).unwrap();
    assert!(told.contains("200 m off; nearer is Peat Track (way"), "{told}");
    assert!(!course.drive(full(), 'A', 'C').codes.contains(&"place-moved"));
}
