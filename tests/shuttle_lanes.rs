//! Narrow road in the shuttle: the rule of who waits, and the rule checked on random shuttles.

use rand::{RngExt, SeedableRng};
use rand_pcg::Pcg64Mcg;
use tankerloop::shuttle::*;
use tankerloop::units::{Gallons, GallonsPerMinute, Seconds};

const PERIOD: Seconds = Seconds(7200.0);

/// A random shuttle whose legs pass up to four lanes, each leg as many of them as it likes and in any
/// direction, so that every kind of meeting occurs.
fn random(seed: u64) -> Shuttle {
    let mut rng = Pcg64Mcg::seed_from_u64(seed);
    let lanes = rng.random_range(1..=4);
    let sites = rng.random_range(1..=2);
    let leg = |rng: &mut Pcg64Mcg| {
        let (mut at_s, mut passages) = (rng.random_range(0.0..200.0), Vec::new());
        for lane in 0..lanes {
            if rng.random_bool(0.7) {
                let take_s = rng.random_range(0.0..150.0);
                let (after, take) = (Seconds(at_s), Seconds(take_s));
                passages.push(Passage { lane, forward: rng.random_bool(0.5), after, take });
                // Some lanes are next to each other.
                at_s += take_s + if rng.random_bool(0.3) { 0.0 } else { rng.random_range(0.0..100.0) };
            }
        }
        (Seconds(at_s + if rng.random_bool(0.2) { 0.0 } else { 60.0 }), passages)
    };
    let tankers = (0..rng.random_range(1..=10))
        .map(|i| {
            let ((empty_travel, empty_lanes), (loaded_travel, loaded_lanes)) = (leg(&mut rng), leg(&mut rng));
            Tanker {
                name: format!("T{i}"),
                load: Gallons(rng.random_range(600.0..3600.0)),
                fill: rng.random_range(0..sites),
                arrives: Seconds(rng.random_range(0.0..1200.0)),
                empty_travel,
                loaded_travel,
                empty_lanes,
                loaded_lanes,
                intake: GallonsPerMinute(rng.random_range(300.0..1500.0)),
                dump_rate: GallonsPerMinute(rng.random_range(300.0..2500.0)),
                fill_handling: Seconds(rng.random_range(20.0..240.0)),
                dump_handling: Seconds(rng.random_range(20.0..120.0)),
            }
        })
        .collect();
    let fill = |i: usize| Fill {
        name: format!("site {i}"),
        berths: 2,
        flow: GallonsPerMinute(1500.0),
        volume: (i == 1).then_some(Gallons(30_000.0)),
    };
    Shuttle {
        tankers,
        fills: (0..sites).map(fill).collect(),
        dump: Dump { berths: 2, tank_room: Gallons(rng.random_range(2000.0..12_000.0)), draw_limits: vec![] },
        lanes: (0..lanes).map(|i| Lane { name: format!("lane {i}") }).collect(),
        spread: if seed.is_multiple_of(3) { Spread::FIXED } else { Spread::default() },
    }
}

fn open_draw(hours: f64) -> Draw {
    Draw { flow: GallonsPerMinute(200.0), from: Seconds(1200.0), until: Seconds(hours * 3600.0) }
}

/// The rule by brute force over the trace: a tanker enters when it has come, when all that came before
/// it from the other end are through, and not before any that came before it. So no two are ever in a
/// lane in opposite directions, nobody waits longer than that, and service is in order of arrival.
#[test]
fn nobody_meets_in_a_lane() {
    let (mut passages, mut waited, mut behind) = (0, 0, 0);
    for seed in 0..300 {
        let shuttle = random(seed);
        let run = simulate(&shuttle, &open_draw(4.0), seed, 1).unwrap();
        assert!(run.passages.is_sorted_by(|a, b| a.reaches <= b.reaches), "seed {seed}");
        for lane in 0..shuttle.lanes.len() {
            let all: Vec<&LanePass> = run.passages.iter().filter(|p| p.lane == lane).collect();
            for (i, pass) in all.iter().enumerate() {
                let mut enters = pass.reaches.0;
                for earlier in &all[..i] {
                    let through =
                        if earlier.forward != pass.forward { earlier.leaves } else { earlier.enters };
                    enters = enters.max(through.0);
                    let apart = earlier.forward == pass.forward || earlier.leaves <= pass.enters;
                    assert!(apart, "seed {seed}: {earlier:?} and {pass:?}");
                }
                assert_eq!(pass.enters.0, enters, "seed {seed}: {pass:?}");
                assert!(pass.leaves >= pass.enters);
                passages += 1;
                waited += usize::from(pass.enters > pass.reaches);
                // Its way was free, and it held back for one that waited.
                let same_way = all[..i].iter().rfind(|p| p.enters <= pass.reaches);
                behind += usize::from(
                    pass.enters > pass.reaches && same_way.is_some_and(|p| p.forward == pass.forward),
                );
            }
        }
    }
    println!("{passages} passages, {waited} waited, {behind} of them behind a waiting oncoming tanker");
    assert!(waited > passages / 20 && behind > 20, "{waited} and {behind} of {passages} say nothing");
}

/// All water is accounted for, and nothing panics.
#[test]
fn water_is_conserved() {
    for seed in 0..300 {
        let shuttle = random(seed);
        let run = simulate(&shuttle, &open_draw(3.0), seed, 2).unwrap();
        let off = |a: f64, b: f64| assert!((a - b).abs() < 1e-6, "seed {seed}: {a} and {b}");
        off(run.delivered.0, run.drawn.0 + run.level.0);
        let first: f64 = shuttle.tankers.iter().map(|t| t.load.0).sum();
        off(first + run.filled.0, run.delivered.0 + run.aboard.0);
    }
}

/// Times of a leg's pieces are scaled together and luck stays with trips: where nobody meets, a leg
/// broken at lanes takes what the whole leg takes.
#[test]
fn a_lane_without_oncoming_traffic_changes_nothing() {
    for seed in 0..60 {
        let mut shuttle = random(seed);
        shuttle.tankers.truncate(1);
        let with = sustained(&shuttle, &terms(60)).unwrap();
        let mut without = shuttle.clone();
        without.lanes.clear();
        without.tankers[0].empty_lanes.clear();
        without.tankers[0].loaded_lanes.clear();
        let mut plain = sustained(&without, &terms(60)).unwrap();
        assert!(with.waiting.lanes.iter().all(|w| *w == LaneWaiting::default()));
        plain.waiting.lanes = with.waiting.lanes.clone();
        assert_eq!(with, plain, "seed {seed}");
    }
    // Two that go one way only: passages are not even traced.
    let mut shuttle = random(4);
    for tanker in &mut shuttle.tankers {
        tanker.empty_lanes.clear();
        tanker.loaded_lanes.iter_mut().for_each(|p| p.forward = true);
    }
    assert!(simulate(&shuttle, &open_draw(3.0), 1, 0).unwrap().passages.is_empty());
}

fn terms(replications: u32) -> Terms {
    Terms { need: GallonsPerMinute(250.0), period: PERIOD, replications, seed: 42, ..Terms::default() }
}

#[test]
fn same_answer_on_any_number_of_threads() {
    let on = |threads: usize, shuttle: &Shuttle| {
        let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build().unwrap();
        pool.install(|| {
            let held = sustained(shuttle, &terms(200)).unwrap();
            let limiter = limiter_of(shuttle, &terms(200), &held).unwrap();
            (held, limiter, one_tanker_lost(shuttle, &terms(200)).unwrap())
        })
    };
    for seed in [1, 2, 5, 8] {
        let shuttle = random(seed);
        assert_eq!(on(1, &shuttle), on(3, &shuttle), "seed {seed}");
    }
}

/// Making a lane passable does not lower what is brought, on the average over replications under the
/// same luck. In a single run it can, with fixed times too: held up at the lane a tanker may find a
/// berth free that it would have queued for behind a slower one, an anomaly every such system has.
/// The ceiling knows no lanes, so for it the statement is exact.
#[test]
fn a_lane_made_passable_does_not_cost_water() {
    let (mut lower, mut runs, mut worst) = (0, 0, 0.0_f64);
    for seed in 0..60 {
        let mut shuttle = random(seed);
        shuttle.spread = Spread::default();
        shuttle.dump.tank_room = Gallons(f64::INFINITY);
        shuttle.fills.iter_mut().for_each(|f| f.volume = None);
        let base = ceiling(&shuttle, PERIOD).unwrap().flow;
        for (limiter, relieved) in reliefs(&shuttle).unwrap() {
            if !matches!(limiter, Limiter::Lane(_)) {
                continue;
            }
            assert_eq!(ceiling(&relieved, PERIOD).unwrap().flow, base);
            let brought = |s: &Shuttle| -> Vec<f64> {
                (0..60).map(|r| simulate(s, &open_draw(12.0), 9, r).unwrap().delivered.0).collect()
            };
            let (with, without) = (brought(&shuttle), brought(&relieved));
            runs += with.len();
            lower += with.iter().zip(&without).filter(|(with, without)| without < with).count();
            let mean = |all: &[f64]| all.iter().sum::<f64>() / all.len() as f64;
            let change = mean(&without) / mean(&with) - 1.0;
            worst = worst.min(change);
            assert!(change > -0.002, "seed {seed}, {limiter:?}: {change}");
        }
    }
    println!("least mean change {worst:.5}; lower in {lower} of {runs} single runs");
}

/// Twelve tankers on 20 minutes, 240 s of it on each way through one lane, berths for all: the lane is
/// named, and its relief in words. With six it is one more tanker that would gain most.
#[test]
fn a_lane_is_named_as_what_limits() {
    let passage =
        |forward: bool| vec![Passage { lane: 0, forward, after: Seconds(30.0), take: Seconds(240.0) }];
    let tanker = |i: usize| Tanker {
        name: format!("T{i}"),
        load: Gallons(1800.0),
        fill: 0,
        arrives: Seconds(100.0 * i as f64),
        empty_travel: Seconds(300.0),
        loaded_travel: Seconds(300.0),
        empty_lanes: passage(true),
        loaded_lanes: passage(false),
        intake: GallonsPerMinute(1000.0),
        dump_rate: GallonsPerMinute(1000.0),
        fill_handling: Seconds(192.0),
        dump_handling: Seconds(192.0),
    };
    let shuttle = |n: usize| Shuttle {
        tankers: (0..n).map(tanker).collect(),
        fills: vec![Fill { name: "pond".into(), berths: 12, flow: GallonsPerMinute(9000.0), volume: None }],
        dump: Dump { berths: 12, tank_room: Gallons(60_000.0), draw_limits: vec![] },
        lanes: vec![Lane { name: "Mill Lane".into() }],
        spread: Spread::default(),
    };
    for (n, lane) in [(6, false), (12, true)] {
        let shuttle = shuttle(n);
        let held = sustained(&shuttle, &terms(200)).unwrap();
        let found = limiter_of(&shuttle, &terms(200), &held).unwrap();
        println!("{n}: {:.0}; {found:?}; {:?}", held.flow, held.waiting.lanes);
        assert_eq!(found.limiter == Limiter::Lane(0), lane, "{found:?}");
        assert!(held.waiting.lanes[0].share > 0.2 && held.waiting.lanes[0].mean.0 > 20.0);
        if lane {
            assert!(
                found.text.contains("\"Mill Lane\"") && found.text.contains("run a circuit"),
                "{found:?}"
            );
            assert!(found.gain.0 > 50.0);
        }
    }
}

/// Passages that cannot be are refused with a remedy.
#[test]
fn bad_passages_are_refused() {
    let mut good = random(1);
    good.tankers[0].empty_travel = Seconds(500.0);
    let at = |lane: usize, after: f64, take: f64| Passage {
        lane,
        forward: true,
        after: Seconds(after),
        take: Seconds(take),
    };
    let check = |passages: &[Passage]| {
        let mut shuttle = good.clone();
        shuttle.tankers[0].empty_lanes = passages.to_vec();
        let empty = sustained(&shuttle, &terms(5)).map(|_| ());
        assert_eq!(expected_meetings(&shuttle).is_ok(), empty.is_ok());
        assert_eq!(worth_simulating(&shuttle).is_ok(), empty.is_ok());
        empty
    };
    assert!(check(&[at(0, 0.0, 500.0)]).is_ok());
    assert!(check(&[at(0, 10.0, 40.0), at(0, 50.0, 450.0)]).is_ok());
    let bad = [
        vec![at(99, 10.0, 40.0)],
        vec![at(0, -1.0, 40.0)],
        vec![at(0, 10.0, -1.0)],
        vec![at(0, 10.0, 491.0)],
        vec![at(0, 501.0, 0.0)],
        vec![at(0, f64::NAN, 1.0)],
        vec![at(0, 1.0, f64::NAN)],
        vec![at(0, 1.0, f64::INFINITY)],
        vec![at(0, 10.0, 40.0), at(0, 49.0, 10.0)],
        vec![at(0, 100.0, 40.0), at(0, 50.0, 10.0)],
        vec![at(0, 0.0, 0.0); 101],
    ];
    for passages in &bad {
        let error = check(passages).expect_err(&format!("{:?}", passages[0]));
        assert!(error.to_string().contains("give"), "{error}");
    }
    good.lanes = vec![Lane { name: String::new() }; 1001];
    assert!(sustained(&good, &terms(5)).is_err());
}
