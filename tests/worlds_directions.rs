//! Turn lists over text worlds: what the driver is told, derived from the picture; and over a real island.

#[path = "support/run.rs"]
mod run;
#[path = "support/scene.rs"]
mod scene;
mod support;

use rand::{RngExt, SeedableRng};
use rand_pcg::Pcg64Mcg;
use scene::{Scene, near};
use support::drive::{Course, empty};
use support::extracts;
use support::world::World;
use tankerloop::finding::Code;
use tankerloop::plan::circulation::{PlanLoop, Turning};
use tankerloop::routing::directions::{Action, Step, steps};
use tankerloop::routing::path;
use tankerloop::routing::trip::{FARTHEST, Snapper, Trip, between, trip};

fn street<'a>(name: &'a str, more: &[(&'a str, &'a str)]) -> Vec<(&'a str, &'a str)> {
    let mut tags = vec![("highway", "residential")];
    if !name.is_empty() {
        tags.push(("name", name));
    }
    tags.extend(more);
    tags
}

/// The turn list, a line a step: what, where to, how far in whole metres.
fn told(world: World, from: char, to: char) -> Vec<String> {
    let course = Course::new(world);
    let (origin, goal) = (course.world.place(from), course.world.place(to));
    let Trip::Found { drive, .. } = trip(&course.roads, empty(), origin, goal).unwrap() else {
        panic!("no way from {from} to {to}")
    };
    let steps = steps(&course.roads.network, &course.roads.topology, &drive);
    let line = |s: &Step| {
        format!(
            "{}, {} {}°, {:.0} m",
            s.instruction(&to.to_string()),
            s.heading(),
            s.bearing_deg,
            s.distance.0
        )
    };
    steps.iter().map(line).collect()
}

/// A cell is 100 m: A to B 500 m, B to E 200 m.
fn grid() -> World {
    World::new(100.0)
        .map(
            "
            A----B----C
                 |    |
            D----E----F
            ",
        )
        .way("ABC", &street("North Street", &[]))
        .way("BE", &street("Mid Lane", &[]))
        .way("CF", &street("", &[]))
        .way("DEF", &street("South Street", &[]))
}

#[test]
fn a_grid() {
    assert_eq!(
        told(grid(), 'A', 'D'),
        [
            "start on North Street, E 90°, 500 m",
            "turn right onto Mid Lane, S 180°, 200 m",
            "turn right onto South Street, W 270°, 500 m",
            "arrive at D on South Street, W 270°, 0 m",
        ]
    );
    assert_eq!(
        told(grid(), 'D', 'A'),
        [
            "start on South Street, E 90°, 500 m",
            "turn left onto Mid Lane, N 0°, 200 m",
            "turn left onto North Street, W 270°, 500 m",
            "arrive at A on North Street, W 270°, 0 m",
        ]
    );
    // Past Mid Lane, straight on, nothing is to be said; at C nothing but the name changes.
    assert_eq!(
        told(grid(), 'A', 'F'),
        [
            "start on North Street, E 90°, 1000 m",
            "continue onto unnamed road, S 180°, 200 m",
            "arrive at F on unnamed road, S 180°, 0 m",
        ]
        .map(str::to_string)
        .to_vec()
    );
}

#[test]
fn a_t() {
    let t = || {
        World::new(100.0)
            .map(
                "
                L----T----R
                     |
                     S
                ",
            )
            .way("LTR", &street("Bar Road", &[]))
            .way("ST", &street("Stem Road", &[]))
    };
    assert_eq!(told(t(), 'S', 'L')[1], "turn left onto Bar Road, W 270°, 500 m");
    assert_eq!(told(t(), 'S', 'R')[1], "turn right onto Bar Road, E 90°, 500 m");
    assert_eq!(told(t(), 'L', 'R').len(), 2);
}

/// The arms leave 1 cell up or down in 5, at 11 degrees; or in 2, at 27.
fn fork(wide: bool, stem: &str, upper: &str, lower: &str) -> World {
    let world = World::new(100.0);
    let world = if wide {
        world.map(
            "
                   C
            A----B
                   D
            ",
        )
    } else {
        world.map(
            "
                      C
            A----B
                      D
            ",
        )
    };
    world.way("AB", &street(stem, &[])).way("BC", &street(upper, &[])).way("BD", &street(lower, &[]))
}

#[test]
fn a_fork() {
    let second = |world: World, to: char| told(world, 'A', to)[1].clone();
    assert_eq!(
        second(fork(true, "Long Road", "Upper Road", "Lower Road"), 'C'),
        "bear left onto Upper Road, NE 63°, 224 m"
    );
    assert_eq!(
        second(fork(true, "Long Road", "Upper Road", "Lower Road"), 'D'),
        "bear right onto Lower Road, SE 117°, 224 m"
    );
    assert_eq!(
        second(fork(false, "Long Road", "Upper Road", "Long Road"), 'C'),
        "continue onto Upper Road, E 79°, 510 m"
    );
    // The name tells which arm, the truck stays on it.
    assert_eq!(told(fork(false, "Long Road", "Upper Road", "Long Road"), 'A', 'D').len(), 2);
    // No name tells: the side does.
    assert_eq!(second(fork(false, "", "", ""), 'C'), "bear left onto unnamed road, E 79°, 510 m");
    assert_eq!(second(fork(false, "", "", ""), 'D'), "bear right onto unnamed road, E 101°, 510 m");
}

/// Driven N, S, T, M: to East Road 200 + 400 + 200 m round, past the exit to South Road.
#[test]
fn a_roundabout() {
    let round = || {
        World::new(100.0)
            .map(
                "
                A---N---M---D
                    |   |
                    S---T
                    |
                    X
                ",
            )
            .way("NSTMN", &street("", &[("junction", "roundabout")]))
            .way("AN", &street("West Road", &[]))
            .way("MD", &street("East Road", &[]))
            .way("SX", &street("South Road", &[]))
    };
    assert_eq!(
        told(round(), 'A', 'D'),
        [
            "start on West Road, E 90°, 400 m",
            "at the roundabout take exit 2 onto East Road, E 90°, 1200 m",
            "arrive at D on East Road, E 90°, 0 m",
        ]
    );
    assert_eq!(told(round(), 'A', 'X')[1], "at the roundabout take exit 1 onto South Road, S 180°, 400 m");
    assert_eq!(told(round(), 'A', 'T')[1], "enter the roundabout, unnamed road, S 180°, 600 m");
    assert_eq!(told(round(), 'T', 'A')[1], "leave the roundabout onto West Road, W 270°, 400 m");
}

fn sums_hold(found: &PlanLoop) {
    for (leg, steps) in [(&found.loaded, &found.loaded_steps), (&found.empty, &found.empty_steps)] {
        let sum: f64 = steps.iter().map(|s| s.distance.0).sum();
        assert!((sum - leg.distance.0).abs() < 1.0, "{sum} of {}", leg.distance.0);
    }
}

/// A one-way round trip: nobody turns, and the two lists have no street but the sites' in common.
#[test]
fn a_circuit() {
    let one = [("oneway", "yes")];
    let world = World::new(100.0)
        .map(
            "
            A----B----C
            |         |
            D----E----F
            ",
        )
        .way("ABC", &street("North Street", &one))
        .way("CF", &street("East Lane", &one))
        .way("FED", &street("South Street", &one))
        .way("DA", &street("West Lane", &one));
    let answer = Scene::new("directions-circuit", world, 'E')
        .site("Pond", 'B', "hydrant", 1_000.0, &[])
        .tanker("T1")
        .plan();
    let found = &answer.options[0].loops[0];
    sums_hold(found);
    let streets = |steps: &[Step]| steps.iter().map(|s| s.street().to_string()).collect::<Vec<_>>();
    assert_eq!(streets(&found.loaded_steps), ["North Street", "East Lane", "South Street", "South Street"]);
    assert_eq!(streets(&found.empty_steps), ["South Street", "West Lane", "North Street", "North Street"]);
    assert_eq!(
        (found.at_dump.turning, found.at_fill.turning),
        (Turning::DriveThrough, Turning::DriveThrough)
    );
    assert_eq!(found.at_dump.told, "arrives heading W on South Street, leaves heading W: drive-through");
    assert_eq!(found.at_fill.told, "arrives heading E on North Street, leaves heading E: drive-through");
}

/// One road that ends at both ends: there and back, and turning is never called driving through.
#[test]
fn there_and_back() {
    let world = World::new(100.0).map("A--B------C--D").way("ABCD", &street("Mill Road", &[]));
    let answer = Scene::new("directions-back", world, 'C')
        .site("Pond", 'B', "hydrant", 1_000.0, &[])
        .tanker("T1")
        .plan();
    let found = &answer.options[0].loops[0];
    sums_hold(found);
    let told = &found.at_dump.told;
    assert!(told.starts_with("arrives heading E on Mill Road, leaves heading "), "{told}");
    let back = found.empty_steps[0].heading() == "W";
    assert_eq!(back, found.at_dump.turning != Turning::DriveThrough, "{told}");
    assert!(back || found.empty_steps.iter().any(|s| matches!(s.action, Action::TurnRound(_))), "{told}");
}

#[test]
fn random_drives_over_an_island() {
    const SEED: u64 = 7;
    let Some(roads) = extracts::roads("isle-of-man") else { return };
    println!("seed {SEED}");
    let mut rng = Pcg64Mcg::seed_from_u64(SEED);
    let (graph, snapper) = (roads.graph(empty()), Snapper::new(roads));
    let mut drives = 0;
    for _ in 0..80 {
        let mut spot = || {
            let junction = rng.random_range(0..roads.network.junctions.len());
            snapper.snap(roads.network.junctions[junction].place, &|_| true, FARTHEST)
        };
        let (Some(origin), Some(goal)) = (spot(), spot()) else { continue };
        let Trip::Found { drive, leg, .. } = between(&graph, roads, &origin, &goal) else { continue };
        drives += 1;
        let steps = steps(&roads.network, &roads.topology, &drive);
        let sum: f64 = steps.iter().map(|s| s.distance.0).sum();
        let what = format!("{:?} to {:?}", origin.place, goal.place);
        assert!((sum - path::distance(&roads.network, &drive).0).abs() < 1.0, "{what}: {sum}");
        let (first, last) = (&steps[0], &steps[steps.len() - 1]);
        assert!(first.place.distance(leg.line[0]).0 < 0.1, "{what}: starts elsewhere");
        assert!(last.place.distance(leg.line[leg.line.len() - 1]).0 < 0.1, "{what}: ends elsewhere");
        assert_eq!((last.action, last.distance.0), (Action::Arrive, 0.0), "{what}");
        assert!(steps.iter().all(|s| s.bearing_deg < 360));
        for pair in steps.windows(2) {
            assert!(pair[0].distance.0 > 0.0 || pair[0].place != pair[1].place, "{what}: {pair:#?}");
            assert!(pair[0].action != Action::Arrive && pair[1].action != Action::Start, "{what}");
        }
    }
    assert!(drives > 40, "{drives} drives");
}

/// Printed on demand only, loaded and empty apart, in the units asked for.
#[test]
fn the_terminal_prints_them() {
    let scenario = run::repository("data/county/scenario.toml");
    let plan = |more: &[&str]| {
        let mut args = vec!["plan", scenario.to_str().unwrap(), "--replications", "20"];
        args.extend(more);
        run::tankerloop(&args)
    };
    let (without, with, metric) =
        (plan(&[]), plan(&["--directions"]), plan(&["--directions", "--units", "metric"]));
    assert_eq!(without.out, with.out);
    assert!(!without.err.contains("LOADED"));
    for words in
        ["1 LOADED, ", "2 EMPTY, ", "start on ", "turn left onto ", " mi\n", "arrive at the dump site on "]
    {
        assert!(with.err.contains(words), "\"{words}\" is not in:\n{}", with.err);
    }
    assert!(metric.err.contains(" km\n") && !metric.err.contains(" mi\n"), "{}", metric.err);
    let answer = with.json();
    for (i, leg) in run::layer(&answer, "leg").into_iter().enumerate() {
        assert_eq!(leg["leg_order"], i % 2 + 1);
        let steps = leg["steps"].as_array().unwrap();
        let sum: f64 = steps.iter().map(|s| run::number(s, "distance_m")).sum();
        assert!((sum - run::number(leg, "distance_m")).abs() < 1.0, "{leg}");
        assert_eq!(leg["start_bearing_deg"], steps[0]["bearing_deg"]);
        assert_eq!(leg["end_bearing_deg"], steps[steps.len() - 1]["bearing_deg"]);
    }
    for found in run::layer(&answer, "loop") {
        // A drive-through does not leave against the direction it came by.
        for (site, turn) in [("dump", "at_dump"), ("fill", "at_fill")] {
            let told = found[format!("{site}_approach")].as_str().unwrap();
            assert_eq!(told.ends_with("drive-through"), found[turn] == "drive_through", "{found}");
            let opposite = ["N", "NE", "E", "SE", "S", "SW", "W", "NW"];
            let (came, left) = told.split_once(", leaves heading ").unwrap();
            let came = came.split(' ').nth(2).unwrap();
            let left = left.split(':').next().unwrap();
            let of = |wind: &str| opposite.iter().position(|w| *w == wind).unwrap();
            let back = of(came).abs_diff(of(left)) == 4;
            assert!(!back || found[turn] != "drive_through", "{told}");
        }
    }
}

/// The tanks stand at the junction J, at the mouth of South Road, which a tanker comes by and goes by: the
/// turn lies in the first or last metre of a leg, and is told all the same, by the loop, as a finding and
/// to whoever looks for a drive-through. At the dead end E of the other world it backs. Turning at a junction
/// takes no time here, at a site 120 s.
#[test]
fn a_turn_in_the_first_metre_of_a_leg_is_told() {
    for (name, side_road, turning) in
        [("turn-at-junction", true, Turning::Turn), ("turn-at-end", false, Turning::BackWithSpotter)]
    {
        let world = World::new(100.0)
            .map(
                "
                W---J---E
                    |
                    |
                    |
                    S
                ",
            )
            .way("SJ", &street("South Road", &[("highway", "tertiary"), ("lanes", "2")]));
        let world = match side_road {
            true => world.way("WJE", &street("Cross Lane", &[("maxweight", "3")])),
            false => world.way("WE", &street("Far Lane", &[])),
        };
        let world = if side_road { world } else { world.way("WS", &street("Far Lane", &[])) };
        let at = world.place('J');
        let answer = Scene::new(name, world, 'J')
            .site("Pond", 'S', "hydrant", 1_000.0, &[])
            .tanker("T1")
            .dump(at)
            .site_turn(120.0)
            .plan();
        let option = &answer.options[0];
        let found = &option.loops[0];
        // Not at the site, where it would take 120 s.
        near(option.shuttle.tankers[0].dump_handling.0, 60.0, 1e-9, "seconds of handling");
        assert_eq!(found.at_dump.turning, turning, "{name}: {}", found.at_dump.told);
        assert!(found.at_dump.turns() && !option.facts.drive_through);
        let told = option.findings.iter().any(|f| f.code == Code::Backing && f.cause.contains("dump site"));
        assert!(told, "{name}: {:?}", option.findings);
    }
}
