//! Narrow road on text maps: what is a lane, what a passing place, and what lanes decide.
//! The scene's own numbers (10 m/s, 1,800 gal, 240 s standing) are at the head of support/scene.rs.

#[path = "support/scene.rs"]
mod scene;
mod support;

use scene::{STANDING_S, Scene, near};
use support::world::World;
use tankerloop::finding::Code;
use tankerloop::plan::Answer;
use tankerloop::plan::answer::PlanOption;
use tankerloop::shuttle::loops::LoopKind;
use tankerloop::shuttle::{Limiter, Passage, reliefs};

const NARROW: [(&str, &str); 2] = [("highway", "residential"), ("width", "3")];
const WIDE: [(&str, &str); 2] = [("highway", "residential"), ("lanes", "2")];

/// Seconds to the mouth and through.
fn times(passages: &[Passage]) -> Vec<(f64, f64)> {
    passages.iter().map(|p| ((p.after.0 * 10.0).round() / 10.0, (p.take.0 * 10.0).round() / 10.0)).collect()
}

/// A road of 2,000 m from S to T, its middle 1,600 m narrow, made of three ways: at B a way ends and
/// the next begins, at P a passing place may be mapped, at J a track may branch off, at M the road may be wide.
fn lane_of(scene: &'static str, marks: &[(&str, &str)], side: bool, middle: &[(&str, &str)]) -> Answer {
    let world = World::new(100.0)
        .map(
            "
                        K
            SA---B---P---J---CT
            ",
        )
        .way("SA", &WIDE)
        .way("AB", &[("highway", "residential"), ("width", "3"), ("name", "Mill Lane")])
        .way("BPJ", &[("highway", "residential"), ("width", "3"), ("name", "Long Lane")])
        .way("JC", &[middle, &[("name", "Mill Lane")]].concat())
        .way("CT", &WIDE);
    let world = if side { world.way("JK", &[("highway", "track")]) } else { world };
    let world = if marks.is_empty() { world } else { world.node('P', marks) };
    Scene::new(scene, world, 'T').site("Main", 'S', "hydrant", 3_600.0, &[("berths", "2")]).tankers(2).plan()
}

fn lanes(answer: &Answer) -> Vec<&str> {
    answer.options[0].shuttle.lanes.iter().map(|l| l.name.as_str()).collect()
}

/// From A to C 1,600 m: 160 s at 10 m/s, 10 s from either end; ways that follow each other at B and J
/// are one lane, named for the street most of it lies on (A–B and J–C 800 m, B–J 800 m: of equals
/// the first by name).
///
/// A mapped passing place at P parts it: 80 s from A by B to P, 80 s on to C. A side road at J does: 120 and
/// 40 s. A wide stretch J–C leaves 120 s. The empty leg drives them the other way.
#[test]
fn what_is_one_lane() {
    let plain = lane_of("lanes-plain", &[], false, &NARROW);
    let tanker = &plain.options[0].shuttle.tankers[0];
    assert_eq!(times(&tanker.loaded_lanes), [(10.0, 160.0)]);
    assert_eq!(times(&tanker.empty_lanes), [(10.0, 160.0)]);
    assert_ne!(tanker.loaded_lanes[0].forward, tanker.empty_lanes[0].forward);
    assert_eq!(lanes(&plain), ["Long Lane"]);

    let parted = lane_of("lanes-passing", &[("highway", "passing_place")], false, &NARROW);
    let tanker = &parted.options[0].shuttle.tankers[0];
    assert_eq!(times(&tanker.loaded_lanes), [(10.0, 80.0), (90.0, 80.0)]);
    assert_eq!(times(&tanker.empty_lanes), [(10.0, 80.0), (90.0, 80.0)]);
    assert_eq!(tanker.loaded_lanes[0].lane, tanker.empty_lanes[1].lane);
    near(parted.options[0].loops[0].narrow.0, 1_600.0, 0.5, "narrow metres");

    let branch = lane_of("lanes-branch", &[], true, &NARROW);
    assert_eq!(times(&branch.options[0].shuttle.tankers[0].loaded_lanes), [(10.0, 120.0), (130.0, 40.0)]);
    assert_eq!(lanes(&branch).len(), 2);

    let wide = lane_of("lanes-wide", &[], false, &WIDE);
    assert_eq!(times(&wide.options[0].shuttle.tankers[0].loaded_lanes), [(10.0, 120.0)]);

    // A road with passing places somewhere counts as wide enough, and the answer says so.
    let middle = [&NARROW[..], &[("passing_places", "yes")]].concat();
    let many = lane_of("lanes-passing-way", &[], false, &middle);
    assert_eq!(times(&many.options[0].shuttle.tankers[0].loaded_lanes), [(10.0, 120.0)]);
    assert!(
        many.options[0].findings.has(Code::PassingPlaces)
            && !plain.options[0].findings.has(Code::PassingPlaces)
    );
    near(many.options[0].loops[0].narrow.0, 1_200.0, 0.5, "narrow metres");

    // Two tankers, 160 s each way, 360 + 240 s around: C² − 600 C = 160², the wait 40 s of 640.
    let found = &plain.options[0].loops[0];
    let cycle = 300.0 + f64::sqrt(300.0 * 300.0 + 160.0 * 160.0);
    near(found.cycle.0, cycle, 0.1, "cycle");
    near(found.meeting_wait.0, cycle - 600.0, 0.1, "wait");
    // The ceiling knows no waiting: 2 · 1,800 gal in 600 s.
    near(plain.options[0].ceiling.0, 360.0, 0.1, "ceiling");
    assert!(reliefs(&plain.options[0].shuttle).unwrap().iter().any(|(l, _)| *l == Limiter::Lane(0)));
}

/// The incident lies on the lane, 400 m in, and the tankers turn there: only those 400 m are driven both ways.
#[test]
fn a_lane_ends_at_the_dump_site() {
    let world = World::new(100.0)
        .map("SA---X---C---T")
        .way("SA", &WIDE)
        .way("AXCT", &[("highway", "residential"), ("width", "3"), ("name", "Mill Lane")]);
    let answer = Scene::new("lanes-end", world, 'X')
        .site("Main", 'S', "hydrant", 3_600.0, &[("berths", "2")])
        .tankers(2)
        .plan();
    let tanker = &answer.options[0].shuttle.tankers[0];
    assert_eq!(times(&tanker.loaded_lanes), [(10.0, 40.0)]);
    assert_eq!(times(&tanker.empty_lanes), [(0.0, 40.0)]);
}

/// A lane of 2,000 m, and a road of 3,200 m round it, with 100 m of wide road beyond at either end.
/// On the lane: 200 s each way, 220 s with the ends, a cycle of 440 + 240 = 680 s. On the circuit, one
/// leg on the lane and one on the road, 220 + 340 + 240 = 800 s and nobody meets.
///
/// n tankers on the lane: the wait is (n−1)·200²/C, so C² − 680 C = 40,000 (n−1), which reaches 800 s
/// at (n−1) = 800·120/40,000 = 2.4: by the formula up to three tankers are better off on the lane (782 s), from
/// four on (825 s) on the circuit. The times vary as they do by default, and then tankers stay half in
/// step: simulated, four still bring more over the lane (608 gpm against 540), five no more (490
/// against 675), fewer even than four. Asserted is what lies clear of the edge on either side.
#[test]
fn above_three_tankers_the_longer_circuit_wins() {
    let world = || {
        World::new(100.0)
            .map(
                "
                 A-------------------C
                 |                   |
                 |                   |
                 |                   |
                 |                   |
                 |                   |
                SW-------------------XT
                ",
            )
            .way("WX", &[("highway", "residential"), ("name", "Lane"), ("width", "3")])
            .way("WACX", &[("highway", "residential"), ("name", "Road"), ("lanes", "2")])
            .way("SW", &WIDE)
            .way("XT", &WIDE)
    };
    for (name, tankers, best) in [
        ("circuit-1", 1, LoopKind::Quickest),
        ("circuit-2", 2, LoopKind::Quickest),
        ("circuit-5", 5, LoopKind::LeastOpposing),
        ("circuit-6", 6, LoopKind::LeastOpposing),
        ("circuit-8", 8, LoopKind::LeastOpposing),
    ] {
        let answer = Scene::new(name, world(), 'T')
            .site("Main", 'S', "hydrant", 9_000.0, &[("berths", "4")])
            .tankers(tankers)
            .varied(200)
            .plan();
        let of = |kind: LoopKind| -> &PlanOption {
            answer.options.iter().find(|o| o.loops[0].kind == kind).expect("both kinds")
        };
        let (lane, circuit) = (of(LoopKind::Quickest), of(LoopKind::LeastOpposing));
        let cycle = 340.0 + f64::sqrt(340.0 * 340.0 + 40_000.0 * (tankers - 1) as f64);
        near(lane.loops[0].cycle.0, cycle, 0.2, "cycle on the lane");
        near(circuit.loops[0].cycle.0, 800.0, 0.2, "cycle of the circuit");
        assert_eq!(circuit.loops[0].meeting_wait.0, 0.0);
        assert!(circuit.shuttle.lanes.is_empty());
        println!(
            "{tankers} tankers: lane {:.0} (cycle {cycle:.0} s by the formula, {:?}), circuit {:.0}",
            lane.simulated.as_ref().unwrap().sustained.flow,
            lane.simulated.as_ref().unwrap().sustained.waiting.lanes,
            circuit.simulated.as_ref().unwrap().sustained.flow
        );
        assert_eq!(answer.options[0].loops[0].kind, best, "{tankers} tankers");
    }
}

/// Two hydrants that give 200 gpm, 540 s a load, one tanker each: one of them turns over a load in
/// 600 s, 180 gpm, and two tankers bring 204. West of the junction W each has 400 m of road of its own; from W to X, 1,200 m, they share a lane.
/// Each drives 10 + 120 + 40 = 170 s each way, a cycle of 340 + 60 + 60 + 60 + 540 = 1,060 s, and meets the
/// other one there: C² − 1,060 C = 120², a wait of 13.4 s, where a formula by fill site sees nobody.
#[test]
fn two_fill_sites_on_one_lane() {
    let world = World::new(100.0)
        .map(
            "
            N---+
                W-----------XT
            M---+
            ",
        )
        .way("NW", &WIDE)
        .way("MW", &WIDE)
        .way("WX", &[("highway", "residential"), ("name", "Lane"), ("width", "3")])
        .way("XT", &WIDE);
    let answer = Scene::new("two-sites", world, 'T')
        .site("North", 'N', "hydrant", 200.0, &[])
        .site("South", 'M', "hydrant", 200.0, &[])
        .tankers(2)
        .search("fill_sites_at_once = 2")
        .varied(200)
        .plan();
    let best = &answer.options[0];
    let sites: Vec<&str> = best.loops.iter().map(|l| l.site.as_str()).collect();
    assert_eq!(sites, ["North", "South"]);
    for found in &best.loops {
        assert_eq!(found.tankers.len(), 1);
        let driving = (found.loaded.travel + found.empty.travel).0;
        let plain = driving + STANDING_S + 480.0;
        let cycle = plain / 2.0 + f64::sqrt(plain * plain / 4.0 + 120.0 * 120.0);
        near(found.meeting_wait.0, cycle - plain, 0.2, "wait");
        near(found.meeting_wait.0, 13.4, 0.1, "wait by hand");
    }
    let waiting = best.simulated.as_ref().unwrap().sustained.waiting.lanes[0];
    println!("{waiting:?}, expected {:?} a lap of two passages", best.loops[0].meeting_wait);
    assert!(waiting.share > 0.02 && waiting.mean.0 > 1.0, "{waiting:?}");
    let [north, south] = &best.shuttle.tankers[..] else { panic!("two tankers") };
    assert_ne!(north.fill, south.fill);
    assert_eq!(north.loaded_lanes[0].lane, south.empty_lanes[0].lane);
    assert_ne!(north.loaded_lanes[0].forward, south.empty_lanes[0].forward);
}
