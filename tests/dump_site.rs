//! Dump sites on text maps: which spots are tried, the one that the officer wants, the room there, the
//! relay, the waiting line and what is won farther out. The scene's numbers are at the head of
//! support/scene.rs.

#[path = "support/scene.rs"]
mod scene;
mod support;

use scene::{Scene, flow_of_one, near};
use std::path::Path;
use support::world::World;
use tankerloop::finding::Code;
use tankerloop::plan::Answer;
use tankerloop::plan::answer::PlanOption;
use tankerloop::roads::elevation::Elevation;
use tankerloop::roads::network::Network;
use tankerloop::routing::snap::SnapIndex;
use tankerloop::sites::dump::{DumpKind, HoseBed, candidates};
use tankerloop::sites::space::{Verdict, tank_side};
use tankerloop::units::{Feet, Gallons, GallonsPerMinute, Metres, Psi, Shown};
use tankerloop::water::hose::{HoseSize, Lay};
use tankerloop::water::relay::{propose, relay_flow};

/// P 1,000 m west of X, Q 1,000 m east of it.
fn road(tags: &[(&str, &str)]) -> World {
    let mut all = vec![("highway", "residential"), ("name", "Long Road")];
    all.extend(tags);
    World::new(100.0).map("P---------X---------Q").way("PXQ", &all)
}

fn told(answer: &Answer, code: Code) -> Option<String> {
    answer.findings.iter().find(|f| f.code == code).map(|f| f.cause.clone())
}

// ---------------------------------------------------------------- candidates and the pinned spot

/// The turning circle at T, 200 m up the lane, is a candidate of its own; the plain end E is none, and
/// where the lane leaves is a junction.
#[test]
fn a_turning_circle_is_a_candidate() {
    let world = World::new(100.0)
        .map(
            "
            P----J----Q
                 |
            E----+T
            ",
        )
        .road("PJ")
        .road("JQ")
        .road("JT")
        .road("TE")
        .node('T', &[("highway", "turning_circle")]);
    let folder = Path::new(env!("CARGO_TARGET_TMPDIR")).join("turning-circle");
    std::fs::create_dir_all(&folder).unwrap();
    let network = Network::read(&world.write(&folder), &mut |_, _| {}).unwrap();
    let incident = world.beside('J', 20.0, 10.0);
    let frontage = SnapIndex::build(&network).within(incident, Metres(50.0))[0];
    let bed = HoseBed { size: HoseSize::Five, total: Feet(3_000.0), pump: Psi(150.0) };
    let found =
        candidates(&network, incident, &frontage, None, &bed, &Elevation::default(), &|_| true).unwrap();
    let at = |letter: char| found.iter().find(|c| world.letter_at(c.spot.place) == Some(letter));
    assert_eq!(at('T').expect("the circle is a candidate").kind, DumpKind::TurningPlace);
    assert_eq!(at('J').expect("the junction is a candidate").kind, DumpKind::Junction);
    assert!(at('E').is_none());
    // Each once, and the shorter lays first.
    assert!(found.is_sorted_by(|a, b| a.lay.length.0 <= b.lay.length.0));
    assert_eq!(found.iter().filter(|c| c.kind == DumpKind::TurningPlace).count(), 1);
}

/// 500 m of road and 10 m to the house, in 2,000 ft (609.6 m) of hose. The hydrant is 500 m on.
#[test]
fn a_pinned_dump_site_is_the_only_one() {
    let world = road(&[("lanes", "2")]);
    let at = world.beside('X', -500.0, 15.0);
    let on_road = world.beside('X', -500.0, 0.0);
    let answer = Scene::new("pinned", world, 'X')
        .hose(5.0, 2_000.0)
        .site("Main", 'P', "hydrant", 1_800.0, &[])
        .tanker("T1")
        .dump(at)
        .plan();
    assert!(!answer.options.is_empty());
    for option in &answer.options {
        assert_eq!(option.dump_kind, DumpKind::Pinned);
        near(option.dump.distance(on_road).0, 0.0, 0.1, "off the pinned spot");
        near(option.lay.length.0, 510.0, 0.5, "lay");
        near(option.loops[0].loaded.distance.0, 500.0, 0.5, "loaded metres");
        assert!(option.trade_off.is_none());
    }
}

#[test]
fn a_pinned_dump_site_beyond_the_hose_is_told() {
    let world = road(&[("lanes", "2")]);
    let at = world.beside('X', -700.0, 0.0);
    let answer = Scene::new("pinned-far", world, 'X')
        .hose(5.0, 2_000.0)
        .site("Main", 'P', "hydrant", 1_800.0, &[])
        .tanker("T1")
        .dump(at)
        .plan();
    assert!(answer.options.is_empty());
    let cause = told(&answer, Code::NoDumpSite).expect("it is told");
    assert!(cause.contains("farther along the road") && cause.contains("610"), "{cause}");
}

#[test]
fn a_pinned_dump_site_on_a_closed_road_is_told() {
    let world = World::new(100.0)
        .map(
            "
            P---------J---------Q
                      |
                      K
            ",
        )
        .road("PJ")
        .road("JQ")
        .way("JK", &[("highway", "residential"), ("name", "Lane"), ("maxweight", "5")]);
    let at = world.place('K');
    let answer = Scene::new("pinned-closed", world, 'J')
        .hose(5.0, 2_000.0)
        .site("Main", 'P', "hydrant", 1_800.0, &[])
        .tanker("T1")
        .dump(at)
        .plan();
    assert!(answer.options.is_empty());
    let cause = told(&answer, Code::NoDumpSite).expect("it is told");
    assert!(cause.contains("posted 5.0 t"), "{cause}");
}

// ---------------------------------------------------------------- relay

/// The reach of the handbook check, 2,250 ft of 5-in hose at 1,000 gpm from 200 psi to 20 psi: twice that
/// length carries 1,000/√2 = 707 gpm, and with one pumper midway 1,000 again; with two √3 · 707 =
/// 1,225, with three 1,414 (computed).
#[test]
fn relay_pumpers_by_hand() {
    let lay = Lay { diameter: HoseSize::Five, length: Feet(4_500.0), lines: 1 };
    let (pump, residual) = (Psi(200.0), Psi(20.0));
    for (pumpers, gpm) in [(0, 707.107), (1, 1_000.0), (2, 1_224.745), (3, 1_414.214)] {
        near(relay_flow(&lay, pumpers, pump, residual, Feet::ZERO).unwrap().0, gpm, 0.001, "gpm");
    }
    let ask = |wanted: f64, capacity: f64| {
        let found =
            propose(&lay, GallonsPerMinute(wanted), pump, residual, Feet::ZERO, GallonsPerMinute(capacity));
        found.unwrap().map(|relay| (relay.pumpers, relay.flow.0.round()))
    };
    assert_eq!(ask(700.0, 5_000.0), None);
    assert_eq!(ask(750.0, 5_000.0), Some((1, 1_000.0)));
    assert_eq!(ask(1_400.0, 5_000.0), Some((3, 1_414.0)));
    // Not even three are enough: what three give.
    assert_eq!(ask(2_000.0, 5_000.0), Some((3, 1_414.0)));
    // The second pumper meets its own capacity; a third adds nothing.
    assert_eq!(ask(1_400.0, 1_100.0), Some((2, 1_100.0)));
    assert_eq!(ask(1_400.0, 600.0), None);
}

/// 300 m (984 ft) of 2½-in hose from 150 psi to 20: 100·√(130·100/(2·984.25)) = 257 gpm; with a pumper
/// midway 257·√2 = 363.4. The sustained flow does not count it.
#[test]
fn a_relay_is_proposed_and_not_counted() {
    let world = road(&[("lanes", "2")]);
    let at = world.beside('X', -290.0, 0.0);
    let answer = Scene::new("relay", world, 'X')
        .hose(2.5, 1_000.0)
        .site("Main", 'P', "hydrant", 1_800.0, &[("berths", "2")])
        .tankers(3)
        .need(300.0)
        .dump(at)
        .plan();
    let best = &answer.options[0];
    let relay = best.facts.relay.expect("a relay is proposed");
    near(best.lay.flow.0, 257.0, 0.1, "lay");
    assert_eq!(relay.pumpers, 1);
    near(relay.flow.0, 363.4, 0.1, "with a relay");
    assert!(
        best.simulated.as_ref().unwrap().sustained.flow.0 <= 257.1,
        "{}",
        best.simulated.as_ref().unwrap().sustained.flow
    );
    let cause = told(&answer, Code::RelayProposed).expect("it is told");
    assert!(cause.contains("a relay pumper midway"), "{cause}");
}

// ---------------------------------------------------------------- space

/// 241.67 ft³ stand 29 in deep on 10 ft by 10 ft.
const TEN_FOOT_TANK_GAL: f64 = 241.667 * 7.48052;

#[test]
fn the_side_of_a_tank() {
    near(tank_side(Gallons(TEN_FOOT_TANK_GAL)).feet().0, 10.0, 0.001, "side, ft");
    // 2,000 gal are 267.4 ft³, 110.6 ft².
    near(tank_side(Gallons(2_000.0)).feet().0, 10.52, 0.01, "side, ft");
}

/// Two tanks of 10 ft and 2 ft between them take 22 ft, 6.71 m; a tank and a lane of 12 ft as much.
#[test]
fn a_lane_beside_the_tanks() {
    let plan = |name: &'static str, tags: &[(&str, &str)]| {
        let world = road(tags);
        let at = world.place('X');
        let scene = Scene::new(name, world, 'X').site("Main", 'P', "hydrant", 1_800.0, &[]).tanker("T1");
        scene.tanks(&[TEN_FOOT_TANK_GAL; 2]).dump(at).plan()
    };
    for (name, tags, verdict, code) in [
        ("space-ok", &[("width", "7")][..], Verdict::Ok, None),
        ("space-short", &[("width", "6")], Verdict::Short, Some(Code::DumpSpaceShort)),
        // Two lanes tell no width.
        ("space-unknown", &[("lanes", "2")], Verdict::Unknown, Some(Code::DumpSpaceUnknown)),
    ] {
        let answer = plan(name, tags);
        let space = &answer.options[0].facts.space;
        near(space.tank_row.0, 6.706, 0.01, "row");
        near(space.width_needed.0, 6.706, 0.01, "width");
        near(space.straight.0, 300.0, 0.01, "straight road, as far as is looked");
        assert_eq!(space.verdict(), verdict, "{name}");
        for one in [Code::DumpSpaceShort, Code::DumpSpaceUnknown] {
            assert_eq!(answer.findings.has(one), code == Some(one), "{name}: {one:?}");
        }
    }
}

/// Between side roads 40 m apart three tanks of 50,000 gal, 52.6 ft each, do not fit: 49.3 m. Two do,
/// 32.7 m. Where only the name changes (at M) the road goes on.
#[test]
fn a_row_between_two_side_roads() {
    for (name, tanks, row_m, verdict) in
        [("row-2", 2, 32.67, Verdict::Ok), ("row-3", 3, 49.31, Verdict::Short)]
    {
        let world = World::new(10.0)
            .map(
                "
                P----AMX-B----Q
                     |   |
                     C   D
                ",
            )
            .way("PAM", &[("highway", "residential"), ("width", "30")])
            .way("MXBQ", &[("highway", "residential"), ("width", "30"), ("name", "Other Road")])
            .road("AC")
            .road("BD");
        let at = world.beside('X', 5.0, 0.0);
        let answer = Scene::new(name, world, 'X')
            .site("Main", 'P', "hydrant", 1_800.0, &[])
            .tanker("T1")
            .tanks(&vec![50_000.0; tanks])
            .dump(at)
            .plan();
        let space = &answer.options[0].facts.space;
        near(space.straight.0, 40.0, 0.1, "between the side roads");
        near(space.tank_row.0, row_m, 0.05, "row");
        assert_eq!(space.verdict(), verdict, "{name}");
        assert_eq!(answer.findings.has(Code::DumpSpaceShort), verdict == Verdict::Short, "{name}");
    }
}

// ---------------------------------------------------------------- staging

/// Four tankers and two berths: two may wait, each 8 m and 3 m more, 22 m. The tanks, two of 50,000 gal,
/// take 107.2 ft, 32.67 m.
const ROW_M: f64 = 32.67;

fn staged(name: &'static str, world: World, tankers: usize) -> Answer {
    Scene::new(name, world, 'X')
        .site("Main", 'P', "hydrant", 3_600.0, &[("berths", "2")])
        .tankers(tankers)
        .plan()
}

fn best(answer: &Answer) -> &PlanOption {
    answer.options.first().expect("an option")
}

#[test]
fn tankers_wait_where_two_pass() {
    let answer = staged("staging", road(&[("lanes", "2")]), 4);
    let staging = best(&answer).facts.staging.clone().expect("a place to wait");
    assert_eq!((staging.tankers, staging.road.as_str()), (2, "Long Road"));
    near(staging.before_dump.0, ROW_M, 0.05, "head of the line");
    near(staging.room.0, 1_000.0 - ROW_M, 0.5, "room");
    assert!(!answer.findings.has(Code::StagingNone));
    // Both find a berth.
    let answer = staged("staging-two", road(&[("lanes", "2")]), 2);
    assert!(best(&answer).facts.staging.is_none() && !answer.findings.has(Code::StagingNone));
}

#[test]
fn nobody_waits_where_room_is_not_known() {
    for (name, tags) in [("staging-narrow", &[("lanes", "1")][..]), ("staging-unknown", &[])] {
        let answer = staged(name, road(tags), 4);
        assert!(best(&answer).facts.staging.is_none(), "{name}");
        let cause = told(&answer, Code::StagingNone).expect("it is told");
        assert!(cause.contains("2 tankers may wait, 22 m"), "{cause}");
    }
}

/// 300 m before the dump site the road is wide; nearer there is a lane, or a bridge. And a side road
/// 40 m before it leaves too little between the tanks and its mouth: they wait beyond it.
#[test]
fn they_wait_before_a_lane_a_bridge_and_a_side_road() {
    for (name, tags) in [
        ("staging-lane", [("highway", "residential"), ("lanes", "1")]),
        ("staging-bridge", [("highway", "tertiary"), ("bridge", "yes")]),
    ] {
        let world = World::new(100.0)
            .map("P------W--X---------Q")
            .way("PW", &[("highway", "residential"), ("lanes", "2")])
            .way("WX", &tags)
            .way("XQ", &[("highway", "residential"), ("lanes", "2")]);
        let answer = staged(name, world, 4);
        let staging = best(&answer).facts.staging.clone().expect("a place to wait");
        near(staging.before_dump.0, 300.0, 0.5, name);
        near(staging.room.0, 700.0, 0.5, name);
    }
    let world = World::new(10.0)
        .map(
            "
            P-------------------------J---X----Q
                                      |
                                      S
            ",
        )
        .way("PJXQ", &[("highway", "residential"), ("lanes", "2")])
        .way("JS", &[("highway", "residential"), ("lanes", "2")]);
    let at = world.place('X');
    let answer = Scene::new("staging-side", world, 'X')
        .site("Main", 'P', "hydrant", 3_600.0, &[("berths", "2")])
        .tankers(4)
        .dump(at)
        .plan();
    let staging = best(&answer).facts.staging.clone().expect("a place to wait");
    near(staging.before_dump.0, 40.0, 0.5, "beyond the side road");
    near(staging.room.0, 260.0, 0.5, "room beyond the side road");
}

// ---------------------------------------------------------------- trade-off

/// A farm 50 m up a dead end. At the farm the legs are 1,050 m, 210 s together: 240 gpm; out at the
/// junction 1,000 m, 200 s: 245.5 gpm for 60 m of hose in place of two lines of 10 m. The 250 ft (76 m)
/// reach no farther.
#[test]
fn a_dead_end_farm_makes_the_dump_go_out_to_the_junction() {
    let world = World::new(50.0)
        .map(
            "
            P-------------------J--------------Q
                                K
            ",
        )
        .way("PJ", &[("highway", "residential"), ("name", "Main Road"), ("lanes", "2")])
        .way("JQ", &[("highway", "residential"), ("name", "Main Road"), ("lanes", "2")])
        .way("JK", &[("highway", "residential"), ("name", "Farm Lane"), ("lanes", "2")]);
    let at = world.beside('K', 10.0, 0.0);
    let answer = Scene::new("farm", world, 'K')
        .incident(at)
        .hose(5.0, 250.0)
        .site("Main", 'P', "hydrant", 1_800.0, &[])
        .tanker("T1")
        .plan();
    let first = best(&answer);
    assert_eq!((first.dump_kind, first.dump_road.as_str()), (DumpKind::Junction, "Main Road"));
    let farm = answer.options.iter().find(|o| o.dump_road == "Farm Lane").expect("the farm is an option");
    assert!(farm.trade_off.is_none(), "nothing is nearer");
    let won = first.trade_off.as_ref().expect("it is compared");
    assert_eq!(won.against, farm.number);
    near(won.gain.0, flow_of_one(200.0) - flow_of_one(210.0), 1.0, "gpm won");
    near(won.farther.0, farm.dump.distance(first.dump).0, 0.5, "farther");
    near(won.hose.0, 60.0 - 20.0, 1.0, "hose");
    let text = won.text(Shown::Metric);
    assert!(text.starts_with("dump 50 m farther out on Main Road (junction): "), "{text}");
    assert!(text.ends_with(&format!(" more, 40 m more hose than option {}", farm.number)), "{text}");
    let table = tankerloop::output::table::write(&answer, Shown::Metric);
    assert!(table.contains(&format!("  option 1: {text}\n")), "{table}");
}

// ---------------------------------------------------------------- height and driveways

/// The ground rises 10 m a cell of 1/1200 degree, 92.66 m, to the north. The pinned dump site lies 300 m
/// south of K and the house 10 m north of it: 310 m, 33.45 m or 109.8 ft up, which takes 47.63 psi. Of 150
/// psi 20 must be left, so that friction has 82.37 in 310 m, 1,017 ft, of 5 in (C 0.08):
/// Q = 100 √(82.37 · 100 / (0.08 · 1,017)) = 1,006 gpm; level 1,264.
#[test]
fn a_line_uphill_carries_less() {
    let world = || {
        World::new(100.0)
            .map(
                "
                    K
                    |
                    |
                    |
                P---J---Q
                ",
            )
            .road("PJ")
            .road("JQ")
            .road("JK")
            .node('K', &[("highway", "turning_circle")])
    };
    let scene = |name: &'static str| {
        let at = world().beside('K', 0.0, -300.0);
        let scene = Scene::new(name, world(), 'K').hose(5.0, 1_100.0).dump(at).need(1_200.0);
        scene.site("Main", 'P', "hydrant", 1_800.0, &[]).tanker("T1")
    };
    let level = scene("level").plan();
    let lay = &level.options[0].lay;
    assert_eq!(lay.rise, None);
    near(lay.flow.0, 1_264.0, 3.0, "gpm of the level line");
    assert!(told(&level, Code::ElevationUnknown).is_some());

    let uphill = scene("uphill").rising_north(10).plan();
    let lay = &uphill.options[0].lay;
    near(lay.rise.expect("the height is known").0, 109.8, 0.3, "feet up");
    near(lay.flow.0, 1_006.0, 3.0, "gpm of the line uphill");
    assert!(told(&uphill, Code::ElevationUnknown).is_none());
    let cause = told(&uphill, Code::SupplyLineLimits).expect("it is less than the need");
    assert!(cause.contains("up 110 ft"), "{cause}");
    // One pumper midway halves length and rise: 106.2 psi in 508.5 ft carry 1,616 gpm.
    let relay = uphill.options[0].facts.relay.expect("a relay would help");
    assert_eq!(relay.pumpers, 1);
    near(relay.flow.0, 1_616.0, 4.0, "gpm with a relay");

    // Downhill the same height helps: 177.6 psi of friction, Q = 1,477 gpm.
    let downhill = scene("downhill").rising_north(-10).plan();
    near(downhill.options[0].lay.flow.0, 1_477.0, 4.0, "gpm of the line downhill");
}

/// The house stands 10 m north of the end E of a driveway, 100 m east and 300 m north of the road's J, 310 m
/// from the road as the crow flies. A truck may not drive there: the sign, the width or the owner keeps it
/// out. The hose may lie there all the same: 400 m from the tanks at J and 10 m more, where along the
/// road and across the field it would be 100 and 310.
#[test]
fn the_hose_follows_a_driveway_closed_to_trucks() {
    let closed: [&[(&str, &str)]; 4] =
        [&[("maxweight", "3.5")], &[("width", "2")], &[("access", "no")], &[("motor_vehicle", "no")]];
    for (i, tags) in closed.into_iter().enumerate() {
        let world = World::new(100.0)
            .map(
                "
                    BE
                    |
                    |
                P---J------------Q
                ",
            )
            .way("PJ", &[("highway", "residential"), ("lanes", "2")])
            .way("JQ", &[("highway", "residential"), ("lanes", "2")])
            .way("JBE", &[&[("highway", "service"), ("service", "driveway")], tags].concat());
        let name = ["driveway-weight", "driveway-width", "driveway-access", "driveway-motor"][i];
        let at = world.place('J');
        let answer = Scene::new(name, world, 'E')
            .hose(5.0, 2_000.0)
            .dump(at)
            .site("Main", 'P', "hydrant", 1_800.0, &[])
            .tanker("T1")
            .plan();
        let lay = &answer.options.first().unwrap_or_else(|| panic!("{tags:?}: no option")).lay;
        near(lay.length.0, 410.0, 0.5, &format!("metres of hose, {tags:?}"));
        assert_eq!(lay.line.len(), 4, "{tags:?}: not by the driveway");
        // Those that a lighter vehicle may drive are the incident's own road.
        let closed = matches!(tags[0].0, "access" | "motor_vehicle");
        assert_eq!(told(&answer, Code::HoseOffTruckRoads).is_some(), closed, "{tags:?}");
    }
}
