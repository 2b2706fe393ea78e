//! One-ways, turn restrictions and turning round. A cell is 100 m and takes 10 s; turning round
//! takes 40 s in a circle, 90 s at a junction and 180 s by backing.

mod support;

use support::drive::{Course, full};
use support::world::World;
use tankerloop::roads::condition::Moment;
use tankerloop::routing::access::Policy;

/// ```text
/// A----B--M--C----D    straight: 50 + 60 + 50 = 160 s
///      |     |
///      E-----F         round:    50 + 20 + 60 + 20 + 50 = 200 s
/// ```
fn two_ways(tags: &[(&str, &str)]) -> World {
    let mut middle = vec![("highway", "tertiary")];
    middle.extend(tags);
    World::new(100.0)
        .map(
            "
            A----B--M--C----D
                 |     |
                 E-----F
            ",
        )
        .road("AB")
        .way("BMC", &middle)
        .road("CD")
        .road("BEFC")
}

#[test]
fn a_one_way_street_is_driven_one_way() {
    let course = Course::new(two_ways(&[("oneway", "yes")]));
    course.drive(full(), 'A', 'D').is("ABMCD", 160.0);
    course.drive(full(), 'D', 'A').is("DCFEBA", 200.0);
    let course = Course::new(two_ways(&[("oneway", "-1")]));
    course.drive(full(), 'A', 'D').is("ABEFCD", 200.0);
    course.drive(full(), 'D', 'A').is("DCMBA", 160.0);
    // A direction that changes with the hour can be relied on by nobody.
    let course = Course::new(two_ways(&[("oneway", "reversible")]));
    course.drive(full(), 'A', 'D').is("ABEFCD", 200.0);
    course.drive(full(), 'D', 'A').is("DCFEBA", 200.0);
    let course = Course::new(two_ways(&[("oneway", "no")]));
    course.drive(full(), 'D', 'A').is("DCMBA", 160.0).is_silent();
}

/// `oneway:motorcar` speaks of cars only (OSM wiki, Key:oneway).
#[test]
fn a_one_way_for_cars_only_does_not_bind_a_truck() {
    let course = Course::new(two_ways(&[("oneway:motorcar", "yes")]));
    course.drive(full(), 'D', 'A').is("DCMBA", 160.0);
}

#[test]
fn contraflow_only_by_named_override_and_told() {
    let named = |way: i64| Policy { contraflow_ways: vec![way], ..Policy::default() };
    let course = Course::with(two_ways(&[("oneway", "yes")]), &[], named(101));
    course.drive(full(), 'D', 'A').is("DCMBA", 160.0).tells("one-way-override");
    course.drive(full(), 'A', 'D').is("ABMCD", 160.0).is_silent();
    let course = Course::with(two_ways(&[("oneway", "yes")]), &[], named(103));
    course.drive(full(), 'D', 'A').is("DCFEBA", 200.0);
    let course = Course::with(two_ways(&[("oneway", "reversible")]), &[], named(101));
    course.drive(full(), 'D', 'A').is("DCFEBA", 200.0);
}

/// ```text
/// A---N---M---D    against the clock N, S, T, M: A to D 40 + 20 + 40 + 20 + 40 = 160 s,
///     |   |        D to A 40 + 40 + 40 = 120 s
///     S---T
/// ```
#[test]
fn a_roundabout_is_one_way_and_no_override_opens_it() {
    let world = || {
        World::new(100.0)
            .map(
                "
                A---N---M---D
                    |   |
                    S---T
                ",
            )
            .road("AN")
            .way("NSTMN", &[("highway", "residential"), ("junction", "roundabout")])
            .road("MD")
    };
    for named in [vec![], vec![101]] {
        let policy = Policy { contraflow_ways: named, ..Policy::default() };
        let course = Course::with(world(), &[], policy);
        course.drive(full(), 'A', 'D').is("ANSTMD", 160.0);
        course.drive(full(), 'D', 'A').is("DMNA", 120.0);
    }
}

/// ```text
/// A----X----B    A to N by the right turn at X: 50 + 20 = 70 s
///      |    |    A to N by B and M:             50 + 50 + 20 + 50 = 170 s
///      N----M    A to B: 100 s, or by N and M:  50 + 20 + 50 + 20 = 140 s
/// ```
fn block() -> World {
    World::new(100.0)
        .map(
            "
            A----X----B
                 |    |
                 N----M
            ",
        )
        .road("AX")
        .road("XB")
        .road("XN")
        .road("NMB")
}

#[test]
fn a_forbidden_turn_is_not_made() {
    Course::new(block()).drive(full(), 'A', 'N').is("AXN", 70.0);
    let course = Course::new(block().restriction("no_right_turn", "AX", 'X', "XN"));
    assert_eq!(course.roads.network.bans.applied, 1);
    assert!(course.noticed().is_empty());
    course.drive(full(), 'A', 'N').is("AXBMN", 170.0);
    // The way back and the other turns stay free.
    course.drive(full(), 'N', 'A').is("NXA", 70.0);
    course.drive(full(), 'A', 'B').is("AXB", 100.0);
    let (mill, corner) = (course.world.beside('N', 0.0, 100.0), course.world.place('B'));
    course.between(full(), mill, corner).unwrap().is("XB", 60.0);
}

#[test]
fn an_only_rule_forbids_all_other_turns() {
    let course = Course::new(block().restriction("only_straight_on", "AX", 'X', "XB"));
    course.drive(full(), 'A', 'N').is("AXBMN", 170.0);
    course.drive(full(), 'A', 'B').is("AXB", 100.0);
    let course = Course::new(block().restriction("only_right_turn", "AX", 'X', "XN"));
    course.drive(full(), 'A', 'B').is("AXNMB", 140.0);
    course.drive(full(), 'A', 'N').is("AXN", 70.0);
    course.drive(full(), 'B', 'A').is("BXA", 100.0);
}

/// `except=emergency` and `except=hgv` free a fire truck; `except=motorcar` does not (OSM wiki, Relation:restriction).
#[test]
fn exceptions_for_emergency_vehicles() {
    let with = |except: &str| {
        Course::new(block().restriction_with("no_right_turn", "AX", 'X', "XN", &[("except", except)]))
    };
    with("emergency").drive(full(), 'A', 'N').is("AXN", 70.0);
    with("psv;emergency").drive(full(), 'A', 'N').is("AXN", 70.0);
    with("hgv").drive(full(), 'A', 'N').is("AXN", 70.0);
    with("psv;hgv").drive(full(), 'A', 'N').is("AXN", 70.0);
    assert_eq!(with("emergency").roads.network.bans.exempted, 1);
    with("motorcar").drive(full(), 'A', 'N').is("AXBMN", 170.0);
    with("bicycle;psv").drive(full(), 'A', 'N').is("AXBMN", 170.0);
}

/// A restriction whose members do not meet, or that is on no road, is told and changes nothing.
#[test]
fn a_broken_restriction_is_a_finding_and_harmless() {
    let footpath = || block().way("XM", &[("highway", "footway")]);
    for (world, told) in [
        (block().restriction("no_right_turn", "AX", 'B', "XN"), "does not touch the via node"),
        (block().restriction("no_right_turn", "XB", 'N', "NMB"), "does not touch the via node"),
        (footpath().restriction("no_right_turn", "AX", 'X', "XM"), "is no road for trucks"),
        (block().restriction("no_right_turn", "AX", 'M', "XN"), "its via node is not on a road"),
    ] {
        let course = Course::new(world);
        let noticed = course.noticed();
        assert_eq!(noticed.len(), 1, "{noticed:?}");
        assert!(noticed[0].starts_with("[restriction-broken] relation 1000: "), "{noticed:?}");
        assert!(noticed[0].contains(told), "{noticed:?}");
        assert_eq!(course.roads.network.bans.len(), 0);
        course.drive(full(), 'A', 'N').is("AXN", 70.0);
    }
}

/// From A over the link XN and on along NM is forbidden; each part alone is not. A to M is 120 s
/// both ways round, so the ban decides; no ban binds who comes another way.
#[test]
fn a_restriction_through_a_way_binds_the_whole_succession_only() {
    let course = Course::new(block().restriction_via_ways("no_u_turn", "AX", &["XN"], "NMB"));
    assert!(course.noticed().is_empty(), "{:?}", course.noticed());
    assert_eq!(course.roads.network.bans.sequences().len(), 1);
    course.drive(full(), 'A', 'N').is("AXN", 70.0);
    course.drive(full(), 'A', 'M').is("AXBM", 120.0);
}

/// ```text
/// A----B----C----D    From A through BC into CX is forbidden, so A reaches X over D: 100 m a
///           |    |    letter gap is 500 m, 50 s. A to X straight would be 50+50+20 = 120 s; over
///           X----Y    D and Y it is 50+50+50+20+50 = 220 s.
/// ```
fn comb() -> World {
    World::new(100.0)
        .map(
            "
            A----B----C----D
                      |    |
                      X----Y
            ",
        )
        .road("AB")
        .road("BC")
        .road("CD")
        .road("CX")
        .road("DY")
        .road("XY")
}

#[test]
fn no_and_only_through_one_way() {
    Course::new(comb()).drive(full(), 'A', 'X').is("ABCX", 120.0);
    let no = comb().restriction_via_ways("no_right_turn", "AB", &["BC"], "CX");
    let course = Course::new(no);
    course.drive(full(), 'A', 'X').is("ABCDYX", 220.0);
    // A truck that starts on the via way, 250 m before C, did not come from A.
    let (on_the_way, x) = (course.world.beside('B', 250.0, 0.0), course.world.place('X'));
    course.between(full(), on_the_way, x).unwrap().is("CX", 45.0);
    course.drive(full(), 'A', 'D').is("ABCD", 150.0);
    let only = Course::new(comb().restriction_via_ways("only_straight_on", "AB", &["BC"], "CD"));
    only.drive(full(), 'A', 'X').is("ABCDYX", 220.0);
    only.between(full(), on_the_way, x).unwrap().is("CX", 45.0);
}

/// The same through two ways: A, then BC and CD, then DY is forbidden. A to Y is then over X.
#[test]
fn a_ban_through_two_ways() {
    let world = comb().restriction_via_ways("no_right_turn", "AB", &["BC", "CD"], "DY");
    let course = Course::new(world);
    assert_eq!(course.roads.network.bans.sequences().len(), 1);
    // 50+50+20+50 s by X; by D it would be as long.
    course.drive(full(), 'A', 'D').is("ABCD", 150.0);
    course.drive(full(), 'A', 'Y').is("ABCXY", 170.0);
}

#[test]
fn a_restriction_through_ways_that_do_not_meet_is_a_finding_and_harmless() {
    let course = Course::new(comb().restriction_via_ways("no_right_turn", "AB", &["DY"], "CX"));
    let noticed = course.noticed();
    assert!(
        noticed[0].starts_with("[restriction-broken] relation 1000: its members do not form"),
        "{noticed:?}"
    );
    course.drive(full(), 'A', 'X').is("ABCX", 120.0);
}

/// ```text
/// C              From A the way straight on to C is forbidden at J. The truck turns right,
/// |              turns round somewhere, and comes back to J: 20 + 50 s out, 50 + 20 s back,
/// J----X----B    140 s and what the turning takes.
/// |    |
/// A    N
/// ```
fn forced_to_turn(side_road: bool) -> World {
    let world = World::new(100.0)
        .map(
            "
            C
            |
            J----X----B
            |    |
            A    N
            ",
        )
        .road("AJ")
        .road("JC")
        .road("JX")
        .road("XB")
        .restriction("no_straight_on", "AJ", 'J', "JC");
    if side_road { world.road("XN") } else { world }
}

/// With the help of the side road at X: 140 + 90 = 230 s.
#[test]
fn turning_round_at_a_junction_takes_its_time() {
    let course = Course::new(forced_to_turn(true));
    course.drive(full(), 'A', 'C').is("AJXJC", 230.0).is_silent();
}

/// Without the side road X is mid-road: on to B, another 50 s each way, and 180 s of backing there:
/// 140 + 100 + 180 = 420 s, and the driver is told.
#[test]
fn never_mid_road_so_backing_at_the_dead_end_which_is_told() {
    let course = Course::new(forced_to_turn(false));
    course.drive(full(), 'A', 'C').is("AJXBXJC", 420.0).tells("backing");
    let told = course.drive(full(), 'A', 'C').findings;
    assert!(told[0].starts_with("[backing] node 4, at ") && told[0].contains("spotter"), "{told:?}");
}

/// A turning circle at B: 140 + 100 + 40 = 280 s; at X, mid-road, 140 + 40 = 180 s.
#[test]
fn turning_circles_take_their_time() {
    for word in ["turning_circle", "turning_loop"] {
        let circle = [("highway", word)];
        let course = Course::new(forced_to_turn(false).node('B', &circle));
        course.drive(full(), 'A', 'C').is("AJXBXJC", 280.0).is_silent();
        let course = Course::new(forced_to_turn(false).node('X', &circle));
        course.drive(full(), 'A', 'C').is("AJXJC", 180.0).is_silent();
    }
}

/// No U-turn at X: into the side road N, 20 s each way, and backing: 140 + 40 + 180 = 360 s.
#[test]
fn a_forbidden_u_turn_is_not_made() {
    let course = Course::new(forced_to_turn(true).restriction("no_u_turn", "JX", 'X', "JX"));
    course.drive(full(), 'A', 'C').is("AJXNXJC", 360.0).tells("backing");
}

/// Signs leave only the turning round at X: that is still a junction, and nobody backs at a dead end.
#[test]
fn turning_round_where_signs_leave_nothing_else_is_no_dead_end() {
    let world = forced_to_turn(true).restriction("no_right_turn", "JX", 'X', "XN").restriction(
        "no_straight_on",
        "JX",
        'X',
        "XB",
    );
    Course::new(world).drive(full(), 'A', 'C').is("AJXJC", 230.0).is_silent();
}

/// The same node written twice in a row is a slip of the mapper, not a junction.
#[test]
fn a_repeated_node_is_no_place_to_turn() {
    let world = World::new(100.0)
        .map(
            "
            C
            |
            J----X----B
            |
            A
            ",
        )
        .road("AJ")
        .road("JC")
        .road("JXXB")
        .restriction("no_straight_on", "AJ", 'J', "JC");
    Course::new(world).drive(full(), 'A', 'C').is("AJXBXJC", 420.0);
}

/// Turning costs 4 s, a sharp turn 8 s, straight on nothing; a bend between two junctions costs
/// nothing either.
///
/// ```text
/// A---X---B    A to B 80 s; A to N, 90 degrees, 40 + 4 + 30 = 74 s. S lies 4 west and 3 south of
///    /|        X, 500 m: from A a turn of 180 - 36.87 = 143 degrees, 40 + 8 + 50 = 98 s; from S to
///   / |        B 36.87 degrees off straight on, which is no turn: 50 + 40 = 90 s.
/// S   N
/// ```
#[test]
fn turns_cost_by_their_angle() {
    let world = World::new(100.0)
        .map(
            "
            A---X---B
               /|
              / |
            S   N
            ",
        )
        .road("AX")
        .road("XB")
        .road("XN")
        .road("XS");
    let course = Course::with(
        world,
        &[("\nturn = 0.0", "\nturn = 4.0"), ("sharp_turn = 0.0", "sharp_turn = 8.0")],
        Policy::default(),
    );
    course.drive(full(), 'A', 'B').is("AXB", 80.0);
    course.drive(full(), 'A', 'N').is("AXN", 74.0);
    course.drive(full(), 'A', 'S').is("AXS", 98.0);
    course.drive(full(), 'S', 'B').is("SXB", 90.0);
}

/// A cell is 100 m and takes 10 s: 30 + 30 s straight on, and 20 + 20 s more round by D and E. Where the hour is not known, or the condition is none
/// that can be read, the ban holds and is told (OSM wiki, "Conditional restrictions").
#[test]
fn a_restriction_that_holds_at_times_holds_then() {
    let map = "
        A--B--C
           |  |
           D--E
        ";
    let world = || {
        ["AB", "BC", "BD", "DE", "EC"].iter().fold(World::new(100.0).map(map), |world, way| world.road(way))
    };
    let (on, off) = (("ABDEC", 100.0), ("ABC", 60.0));
    let weekday = "2026-01-14T08:30";
    let sunday = "2026-01-18T08:30";
    for (key, value, when, (letters, seconds)) in [
        ("restriction:conditional", "no_straight_on @ (Mo-Fr 07:00-09:00)", weekday, on),
        ("restriction:conditional", "no_straight_on @ (Mo-Fr 07:00-09:00)", "2026-01-14T09:30", off),
        ("restriction:conditional", "no_straight_on @ (Mo-Fr 07:00-09:00)", sunday, off),
        ("restriction:conditional", "no_straight_on @ (Mo-Fr); no_straight_on @ (Su)", sunday, on),
        ("restriction:hgv:conditional", "only_right_turn @ (Mo-Fr); none @ (We)", weekday, off),
        ("restriction:hgv:conditional", "only_right_turn @ (Mo-Fr); none @ (Su)", weekday, on),
    ] {
        // An only_ rule names the turn to make, a no_ rule the one not to.
        let to = if value.starts_with("no_") { "BC" } else { "BD" };
        let barred = || world().restriction_with("", "AB", 'B', to, &[(key, value)]);
        let policy = Policy { moment: Moment::parse(when).unwrap(), ..Policy::default() };
        let course = Course::with(barred(), &[], policy);
        course.drive(full(), 'A', 'C').is(letters, seconds);
        assert!(course.noticed().is_empty(), "{key}={value} at {when}: {:?}", course.noticed());
        let course = Course::new(barred());
        course.drive(full(), 'A', 'C').is("ABDEC", 100.0);
        let told = format!("[condition-undecided] relation 1000: whether {key}={value} holds is not known");
        assert!(course.noticed().iter().any(|line| line.starts_with(&told)), "{:?}", course.noticed());
    }
    let value = "no_straight_on @ (wet)";
    let barred = world().restriction_with("", "AB", 'B', "BC", &[("restriction:conditional", value)]);
    let policy = Policy { moment: Moment::parse(sunday).unwrap(), ..Policy::default() };
    let course = Course::with(barred, &[], policy);
    course.drive(full(), 'A', 'C').is("ABDEC", 100.0);
    let told =
        "[restriction-not-read] relation 1000: restriction:conditional=no_straight_on @ (wet) is taken";
    assert!(course.noticed().iter().any(|line| line.starts_with(told)), "{:?}", course.noticed());
}

#[test]
fn a_restriction_of_another_kind_is_told_and_not_applied() {
    let world = || World::new(100.0).map("A--B--C").road("AB").road("BC");
    for kind in ["only_u_turn", "no_right_turn_on_red", "none"] {
        let course = Course::new(world().restriction(kind, "AB", 'B', "BC"));
        course.drive(full(), 'A', 'C').is("ABC", 60.0);
        let told = format!("[restriction-not-read] relation 1000: restriction={kind} is not applied");
        assert!(course.noticed().iter().any(|line| line.starts_with(&told)), "{:?}", course.noticed());
    }
    let at_times = [("restriction:conditional", "no_straight_on @ (Mo-Fr)")];
    let course = Course::new(world().restriction_with("no_u_turn", "AB", 'B', "AB", &at_times));
    course.drive(full(), 'A', 'C').is("ABC", 60.0);
    let told = "[restriction-not-read] relation 1000: restriction:conditional=no_straight_on @ (Mo-Fr)";
    assert!(course.noticed().iter().any(|line| line.starts_with(told)), "{:?}", course.noticed());
}
