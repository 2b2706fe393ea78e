//! The whole plan on text maps: roads, sites and fleet as files, numbers worked out by hand.
//! The scene's own numbers (10 m/s, 1,800 gal, 240 s standing) are at the head of support/scene.rs.

#[path = "support/scene.rs"]
mod scene;
mod support;

use scene::{Scene, flow_of_one, near, reason};
use support::world::World;
use tankerloop::shuttle::loops::LoopKind;
use tankerloop::sites::dump::DumpKind;

/// A block of 2,000 by 500 m, its short way over a bridge posted 15 t: open to the empty tanker
/// of 10 t, closed to the full one of 20 t. The stubs make junctions of its upper corners.
fn block(weight: &str) -> World {
    World::new(100.0)
        .map(
            "
            Y                    Z
            A---------B----------C
            W                    X
            |                    |
            |                    |
            |                    |
            D--------------------F
            ",
        )
        .road("AY")
        .road("CZ")
        .way("AB", &[("highway", "residential"), ("name", "North Road"), ("lanes", "2")])
        .way("BC", &[("highway", "residential"), ("name", "North Bridge"), ("maxweight", weight)])
        .way("AWD", &[("highway", "residential"), ("name", "West Street")])
        .way("CXF", &[("highway", "residential"), ("name", "East Street")])
        .way("DF", &[("highway", "residential"), ("name", "South Road")])
}

/// The same block for a crew that goes back by the road it came, south about: 290 s each way. Going back
/// north about would be 60 s quicker, and the loaded tanker may not come that way. Turning costs nothing
/// here: a cycle of 580 + 240 s, where the circuit below has 760.
#[test]
fn out_and_back_where_it_is_asked_for() {
    let world = block("15");
    let house = world.beside('X', 10.0, 0.0);
    let answer = Scene::new("out-and-back", world, 'X')
        .incident(house)
        .site("West main", 'W', "hydrant", 1_800.0, &[])
        .tanker("T1")
        .search("fill_sites_at_once = 1\nloops = \"out-and-back\"")
        .plan();
    let found = &answer.options[0].loops[0];
    assert_eq!(found.kind, LoopKind::OutAndBack);
    assert_eq!(found.empty.streets, ["East Street", "South Road", "West Street"]);
    near(found.empty.travel.0, 290.0, 0.1, "empty");
    near(found.shared.0, 2_900.0, 0.5, "metres both ways");
    near(found.cycle.0, 820.0, 0.1, "cycle");
    assert!(found.at_dump.turns() && found.at_fill.turns());
}

/// Loaded, W to D 400 m, to F 2,100 m, to X 400 m: 290 s. Empty, X to C 100 m, to A 2,100 m, to
/// W 100 m: 230 s. Both ends are passed in one direction, so nobody turns and nobody meets.
/// The tanker stands at the fill site when called: it drives 290 s, then sets for 60 s.
///
/// One tanker, every time fixed: its load over its cycle, 1,800 gal in 760 s, 142.1 gpm. It is held
/// because the draw begins when the first load is in the tanks: they then hold 1,800 gal, and when
/// the next load begins to run, 700 s later, 1,800 - 142.1 · 700 / 60 = 142 gal are left.
#[test]
fn a_posted_bridge_makes_a_one_way_circuit() {
    let world = block("15");
    let station = world.place('W');
    let keys = format!("station = [{}, {}]\nturnout_s = 0", station.lon(), station.lat());
    let house = world.beside('X', 10.0, 0.0);
    let answer = Scene::new("bridge", world, 'X')
        .incident(house)
        .site("West main", 'W', "hydrant", 1_800.0, &[])
        .tanker_of("T1", 20, &keys)
        .plan();
    let best = &answer.options[0];
    let found = &best.loops[0];
    assert_eq!(found.loaded.streets, ["West Street", "South Road", "East Street"]);
    assert_eq!(found.empty.streets, ["East Street", "North Bridge", "North Road", "West Street"]);
    assert_eq!(found.loaded.ways, [104, 106, 105]);
    assert_eq!(found.empty.ways, [105, 103, 102, 104]);
    near(found.loaded.travel.0, 290.0, 0.1, "loaded");
    near(found.empty.travel.0, 230.0, 0.1, "empty");
    near(found.loaded.distance.0, 2_900.0, 0.5, "loaded metres");
    near(found.empty.distance.0, 2_300.0, 0.5, "empty metres");
    near(found.cycle.0, 760.0, 0.1, "cycle");
    assert_eq!((found.shared.0, found.narrow.0), (0.0, 0.0));
    assert!(!found.at_dump.turns() && !found.at_fill.turns());
    near(best.simulated.as_ref().unwrap().sustained.first_water.0, 350.0, 0.1, "first water");
    near(best.ceiling.0, flow_of_one(520.0), 0.1, "ceiling");
    near(best.simulated.as_ref().unwrap().sustained.flow.0, flow_of_one(520.0), 1.0, "sustained");
    assert_eq!(best.dump_kind, DumpKind::Frontage);
    // The limit passes when it is met: 20 t may use a bridge posted 20 t, and the loop closes over it.
    let answer = Scene::new("bridge-20", block("20"), 'X')
        .incident(house)
        .site("West main", 'W', "hydrant", 1_800.0, &[])
        .tanker("T1")
        .plan();
    let found = &answer.options[0].loops[0];
    assert_eq!(found.loaded.ways, [104, 102, 103, 105]);
    near(found.loaded.travel.0, 230.0, 0.1, "loaded over the bridge");
    near(found.shared.0, 2_300.0, 0.5, "the same road both ways");
}

/// The near hydrant is 500 m off and gives 200 gpm, the far dry hydrant 3,000 m and 1,000 gpm.
/// Filling takes 540 s at the one and 108 s at the other, so the cycles are 120 + 100 + 60 + 540 =
/// 820 s and 120 + 600 + 60 + 108 = 888 s, and one tanker brings 131.7 gpm or 121.6 gpm: near wins.
/// Two tankers share the near berth, which is taken 600 s for 1,800 gal: 180 gpm whatever the fleet;
/// far, they bring 243.2 gpm, its berth being taken 168 s of 888 for each.
#[test]
fn the_nearest_site_is_not_the_best_for_a_larger_fleet() {
    for (tankers, best, ceiling_gpm) in
        [(1, "Near hydrant", 131.7), (2, "Far landing", 243.2), (3, "Far landing", 364.9)]
    {
        let world = World::new(250.0)
            .map("N-X-----------F")
            .way("NXF", &[("highway", "residential"), ("name", "Long Road")]);
        let world_scene = Scene::new(["nearest-1", "nearest-2", "nearest-3"][tankers - 1], world, 'X');
        let answer = world_scene
            .site("Near hydrant", 'N', "hydrant", 200.0, &[])
            .site("Far landing", 'F', "dry-hydrant", 1_000.0, &[])
            .tankers(tankers)
            .plan();
        let option = &answer.options[0];
        assert_eq!(option.loops[0].site, best, "{tankers} tankers");
        near(option.ceiling.0, ceiling_gpm, 0.1, best);
        let other = if best == "Far landing" { "Near hydrant" } else { "Far landing" };
        // The other is either shown as a lesser option or told as one.
        let lesser = answer.options.iter().find(|o| o.loops[0].site == other);
        if let Some(lesser) = lesser {
            assert!(
                lesser.simulated.as_ref().unwrap().sustained.flow.0
                    <= option.simulated.as_ref().unwrap().sustained.flow.0
            );
        } else {
            assert!(reason(&answer, other).contains("works, but gives at most"));
        }
    }
}

/// A lane of 1,000 m, 3 m wide, and a road of 1,400 m round it, with 100 m of wide road beyond at
/// either end. Quickest: 1,200 m each way, 240 s, 1,000 m of it narrow and shared. Least opposing:
/// one leg of 1,600 m, 280 s, and only the ends shared.
///
/// Alone, a tanker meets nobody and the lane is better: cycles of 480 s and 520 s. Of four, each finds
/// an oncoming one in the lane and waits for it 3 · 100²/C a lap, so C² − 480 C = 30,000: a wait of 56 s,
/// a cycle of 536 s by the formula. But the times are fixed here: the four fall into step after their
/// first meetings and the lane wins all the same; worlds_lanes.rs has times that vary.
#[test]
fn a_narrow_lane_and_the_road_round_it() {
    let world = || {
        World::new(100.0)
            .map(
                "
                 A---------C
                 |         |
                SW---------XT
                ",
            )
            .way("WX", &[("highway", "residential"), ("name", "Lane"), ("width", "3")])
            .way("WACX", &[("highway", "residential"), ("name", "Road"), ("lanes", "2")])
            .way("SW", &[("highway", "residential"), ("name", "West End"), ("lanes", "2")])
            .way("XT", &[("highway", "residential"), ("name", "East End"), ("lanes", "2")])
    };
    for (name, tankers, best) in [("lane-1", 1, LoopKind::Quickest), ("lane-4", 4, LoopKind::Quickest)] {
        let answer = Scene::new(name, world(), 'T')
            .site("Main", 'S', "hydrant", 3_600.0, &[("berths", "2")])
            .tankers(tankers)
            .plan();
        let of = |kind: LoopKind| {
            let found = answer.options.iter().find(|o| o.loops[0].kind == kind);
            &found.unwrap_or_else(|| panic!("{tankers} tankers: no {kind:?} loop")).loops[0]
        };
        let (quick, quiet) = (of(LoopKind::Quickest), of(LoopKind::LeastOpposing));
        near(quick.narrow.0, 1_000.0, 0.5, "narrow, quickest");
        near(quick.shared.0, 1_200.0, 0.5, "shared, quickest");
        near((quick.loaded.travel + quick.empty.travel).0, 240.0, 0.1, "driving, quickest");
        let cycle = 240.0 + f64::sqrt(240.0 * 240.0 + 10_000.0 * (tankers - 1) as f64);
        near(quick.meeting_wait.0, cycle - 480.0, 0.1, "waiting, quickest");
        near(quick.cycle.0, cycle, 0.1, "cycle, quickest");
        assert_eq!(quiet.narrow.0, 0.0);
        near(quiet.shared.0, 200.0, 0.5, "shared, least opposing");
        near((quiet.loaded.travel + quiet.empty.travel).0, 280.0, 0.1, "driving, least opposing");
        near(quiet.cycle.0, 520.0, 0.1, "cycle, least opposing");
        assert_eq!(answer.options[0].loops[0].kind, best, "{tankers} tankers");
    }
}

/// The house lies 200 m up a lane posted 5 t, closed even to the empty tanker: the tanks stand out at
/// the junction, and the hose of 300 m is laid up the lane: 200 m, and 10 m to the house. Whether
/// the lane comes first or last in the extract must not matter.
#[test]
fn a_house_on_a_closed_lane_is_served_from_the_junction() {
    for (name, lane_first) in [("lane-first", true), ("lane-last", false)] {
        let world = World::new(100.0).map(
            "
            P---------J---------Q
                      |
                      K
            ",
        );
        let lane = |world: World| {
            world.way("JK", &[("highway", "residential"), ("name", "Lane"), ("maxweight", "5")])
        };
        let main = |world: World| {
            world
                .way("PJ", &[("highway", "residential"), ("name", "Main Road")])
                .way("JQ", &[("highway", "residential"), ("name", "Main Road")])
        };
        let world = if lane_first { main(lane(world)) } else { lane(main(world)) };
        let at = world.beside('K', 10.0, 0.0);
        let answer = Scene::new(name, world, 'K')
            .incident(at)
            .hose(5.0, 1_000.0)
            .site("Main", 'P', "hydrant", 1_800.0, &[])
            .tanker("T1")
            .plan();
        let shown: Vec<_> = answer.options.iter().map(|o| (o.dump_kind, o.lay.length.0.round())).collect();
        // Nearer to the hydrant the cycle is shorter: the junction need not be first, but it must
        // be there, and nothing on the lane.
        assert!(shown.contains(&(DumpKind::Junction, 210.0)), "{name}: {shown:?}");
        assert!(shown.iter().all(|(_, metres)| *metres >= 210.0), "{name}: {shown:?}");
        assert!(answer.options.iter().all(|o| o.dump_road == "Main Road"), "{name}");
    }
}

/// Between the last junction and the bridge: a full tanker comes from the junction at J, cannot turn
/// before the bridge posted 15 t, and goes on over it empty. The road before the bridge is no road it
/// could come back from full; it need not.
/// Loaded: S to F 100 m, to D 300 m, to E 1,600 m, to J 300 m, to X 400 m: 270 s.
/// Empty: X to F 1,200 m over the bridge, to S 100 m: 130 s.
#[test]
fn a_fire_between_the_last_junction_and_a_posted_bridge() {
    let world = World::new(100.0)
        .map(
            "
            SF---A---B---X---J---Q
             |               |
             |               |
             D---------------E
            ",
        )
        .way("SF", &[("highway", "residential"), ("lanes", "2")])
        .way("FA", &[("highway", "residential"), ("name", "Hill Road")])
        .way("AB", &[("highway", "residential"), ("name", "Hill Bridge"), ("maxweight", "15")])
        .way("BXJ", &[("highway", "residential"), ("name", "Hill Road")])
        .way("JQ", &[("highway", "residential"), ("lanes", "2")])
        .way("FDEJ", &[("highway", "residential"), ("name", "Valley Road")]);
    let answer = Scene::new("last-junction", world, 'X')
        .site("Main", 'S', "hydrant", 1_800.0, &[])
        .tanker("T1")
        .plan();
    let best = answer.options.first().expect("an option");
    assert_eq!((best.dump_kind, best.dump_road.as_str()), (DumpKind::Frontage, "Hill Road"));
    let found = &best.loops[0];
    assert_eq!(found.loaded.streets, ["Valley Road", "Hill Road"]);
    assert_eq!(found.empty.streets, ["Hill Road", "Hill Bridge", "Hill Road"]);
    near(found.loaded.travel.0, 270.0, 0.1, "loaded");
    near(found.empty.travel.0, 130.0, 0.1, "empty");
    assert!(!found.at_dump.turns());
}
