//! What must be true of every shuttle: random problems from printed seeds.

use rand::{RngExt, SeedableRng};
use rand_pcg::Pcg64Mcg;
use tankerloop::shuttle::*;
use tankerloop::units::{Gallons, GallonsPerMinute, Seconds};

const PERIOD: Seconds = Seconds(7200.0);

fn problem(seed: u64) -> Shuttle {
    let mut rng = Pcg64Mcg::seed_from_u64(seed);
    let sites = rng.random_range(1..=3);
    let fills: Vec<Fill> = (0..sites)
        .map(|i| Fill {
            name: format!("site {i}"),
            berths: rng.random_range(1..=3),
            flow: GallonsPerMinute(rng.random_range(100.0..2000.0)),
            volume: rng.random_bool(0.3).then(|| Gallons(rng.random_range(0.0..60_000.0))),
        })
        .collect();
    let tankers = (0..rng.random_range(1..=12))
        .map(|i| Tanker {
            name: format!("T{i}"),
            load: Gallons(rng.random_range(600.0..3600.0)),
            fill: rng.random_range(0..sites),
            arrives: Seconds(rng.random_range(0.0..2400.0)),
            empty_travel: Seconds(rng.random_range(30.0..900.0)),
            loaded_travel: Seconds(rng.random_range(30.0..1000.0)),
            empty_lanes: vec![],
            loaded_lanes: vec![],
            intake: GallonsPerMinute(rng.random_range(300.0..1500.0)),
            dump_rate: GallonsPerMinute(rng.random_range(300.0..2500.0)),
            fill_handling: Seconds(rng.random_range(0.0..240.0)),
            dump_handling: Seconds(rng.random_range(0.0..120.0)),
        })
        .collect();
    let room = if rng.random_bool(0.1) { 0.0 } else { rng.random_range(1000.0..12_000.0) };
    let mut draw_limits = vec![];
    if rng.random_bool(0.3) {
        draw_limits.push(DrawLimit {
            kind: DrawKind::SupplyLine,
            flow: GallonsPerMinute(rng.random_range(100.0..1000.0)),
        });
    }
    let dump = Dump { berths: rng.random_range(1..=3), tank_room: Gallons(room), draw_limits };
    let spread = match rng.random_range(0..3) {
        0 => Spread::FIXED,
        1 => Spread::default(),
        _ => Spread { travel: Vary::Exponential, handling: Vary::Exponential, service: Vary::Exponential },
    };
    Shuttle { tankers, fills, dump, lanes: vec![], spread }
}

/// Delivered is drawn and level; first loads and filled are delivered and aboard; a source gives no more than it
/// has; the timeline's flows add up to the same; the level stays within the tanks.
#[test]
fn water_is_conserved() {
    for seed in 0..600 {
        let shuttle = problem(seed);
        let draw = Draw {
            flow: GallonsPerMinute((seed % 7) as f64 * 130.0),
            from: Seconds((seed % 5) as f64 * 500.0),
            until: Seconds(10_000.0),
        };
        let run = simulate(&shuttle, &draw, seed, 3).unwrap();
        let off =
            |a: f64, b: f64, what: &str| assert!((a - b).abs() < 1e-6, "seed {seed}, {what}: {a} and {b}");
        off(run.delivered.0, run.drawn.0 + run.level.0, "tanks");
        let first: f64 = shuttle.tankers.iter().map(|t| t.load.0).sum();
        off(first + run.filled.0, run.delivered.0 + run.aboard.0, "loads");
        if shuttle.fills.iter().all(|f| f.volume.is_some()) {
            let stock: f64 = shuttle.fills.iter().filter_map(|f| f.volume).map(|v| v.0).sum();
            assert!(run.filled.0 <= stock + 1e-6, "seed {seed}: {} of {stock}", run.filled.0);
        }
        let (mut level, mut drawn) = (0.0, 0.0);
        for pair in run.timeline.windows(2) {
            let minutes = (pair[1].time - pair[0].time).minutes();
            level += (pair[0].inflow - pair[0].drawn).0 * minutes;
            drawn += pair[0].drawn.0 * minutes;
            assert!((level - pair[1].level.0).abs() < 1e-6, "seed {seed}");
            assert!(pair[1].level.0 >= 0.0 && pair[1].level.0 <= shuttle.dump.tank_room.0, "seed {seed}");
        }
        assert!((drawn - run.drawn.0).abs() < 1e-6, "seed {seed}: {drawn} {}", run.drawn.0);
        if run.dry_at.is_none() {
            let asked = draw.flow.over(draw.until - draw.from).0;
            off(run.drawn.0, asked, "draw");
        }
    }
}

/// One more tanker, berth, tank or source flow never lowers the ceiling; a longer leg never raises it.
#[test]
fn ceiling_is_monotone() {
    let flow = |s: &Shuttle| ceiling(s, PERIOD).unwrap().flow.0;
    for seed in 0..500 {
        let shuttle = problem(seed);
        let base = flow(&shuttle);
        for (relief, relieved) in reliefs(&shuttle).unwrap() {
            assert!(flow(&relieved) >= base * (1.0 - 1e-12), "seed {seed}: {relief:?} lowers {base}");
        }
        for i in 0..shuttle.tankers.len() {
            for add in [1.0, 60.0, 3600.0] {
                let mut longer = shuttle.clone();
                longer.tankers[i].empty_travel.0 += add;
                assert!(flow(&longer) <= base * (1.0 + 1e-12), "seed {seed}");
                let mut longer = shuttle.clone();
                longer.tankers[i].loaded_travel.0 += add;
                assert!(flow(&longer) <= base * (1.0 + 1e-12), "seed {seed}");
                let mut longer = shuttle.clone();
                longer.tankers[i].fill_handling.0 += add;
                assert!(flow(&longer) <= base * (1.0 + 1e-12), "seed {seed}");
            }
        }
    }
}

/// Fixed times, no tanks in the way: what is delivered over a long run never passes the ceiling.
#[test]
fn nothing_passes_the_ceiling() {
    for seed in 0..300 {
        let mut shuttle = problem(seed);
        shuttle.dump.tank_room = Gallons(f64::INFINITY);
        shuttle.dump.draw_limits.clear();
        shuttle.fills.iter_mut().for_each(|f| f.volume = None);
        shuttle.spread = if seed % 2 == 0 { Spread::FIXED } else { Spread::default() };
        let by = |hours: f64| {
            let draw =
                Draw { flow: GallonsPerMinute(0.0), from: Seconds(0.0), until: Seconds(hours * 3600.0) };
            simulate(&shuttle, &draw, seed, 0).unwrap().delivered.0
        };
        let gpm = (by(110.0) - by(10.0)) / 6000.0;
        let ceiling = ceiling(&shuttle, PERIOD).unwrap().flow.0;
        let fleet: f64 = shuttle.tankers.iter().map(|t| t.load.0).sum();
        // One fleet's load is the error of the window; a random run strays by a little.
        let slack = fleet / 6000.0 + if seed % 2 == 0 { 1e-6 } else { 0.03 * ceiling };
        assert!(gpm <= ceiling + slack, "seed {seed}: {gpm} over {ceiling}");
    }
}

fn terms(replications: u32) -> Terms {
    Terms { need: GallonsPerMinute(250.0), period: PERIOD, replications, seed: 42, ..Terms::default() }
}

/// The sustained flow holds in the share promised, one gpm more does not (or would pass the ceiling), asking
/// every replication one by one; and the greatest draw that holds anywhere is near.
#[test]
fn sustained_means_what_it_says() {
    let terms = terms(60);
    let (mut uneven, mut worst) = (0, 0.0_f64);
    for seed in 0..60 {
        let shuttle = problem(seed);
        let answer = sustained(&shuttle, &terms).unwrap();
        let cap = ceiling(&shuttle, PERIOD).unwrap().flow.0;
        let held = |gpm: f64| {
            let runs_dry = |r: &u32| {
                let from = start_of_supply_in(&shuttle, 42, *r).unwrap();
                let draw = Draw { flow: GallonsPerMinute(gpm), from, until: from + PERIOD };
                simulate(&shuttle, &draw, 42, *r).unwrap().dry_at.is_some()
            };
            (0..60).filter(runs_dry).count() <= 6
        };
        let flow = answer.flow.0;
        assert!(flow <= cap, "seed {seed}");
        assert!(flow == 0.0 || held(flow), "seed {seed}: {flow} does not hold");
        assert!(flow == cap || !held((flow + 1.0).min(cap)), "seed {seed}: {flow} and one more holds");
        let higher = (2..60).map(|i| flow + f64::from(i)).rfind(|&gpm| gpm <= cap && held(gpm));
        if let Some(higher) = higher {
            uneven += 1;
            worst = worst.max(higher / flow - 1.0);
            println!("seed {seed}: {flow} of {cap:.0}, but {higher} holds too; {:?}", shuttle.spread.travel);
        }
        assert!(answer.first_water <= answer.held_from && answer.held_from <= answer.start, "seed {seed}");
        for wait in answer.waiting.fills.iter().chain([&answer.waiting.dump, &answer.waiting.full_tanks]) {
            assert!(wait.0.is_finite() && wait.0 >= 0.0, "seed {seed}");
        }
    }
    println!("{uneven} of 60 answers are below a higher draw that holds, by at most {worst:.3}");
    // Measured 0.052 in 2 of 60, on problems with exponential times: a draw so high that tankers never
    // wait at full tanks can hold where a lower one does not. The lower is told. A guard against growth.
    assert!(worst < 0.06 && uneven <= 3, "{uneven}, {worst}");
}

#[test]
fn same_answer_on_any_number_of_threads() {
    let on = |threads: usize, shuttle: &Shuttle| {
        let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build().unwrap();
        pool.install(|| {
            let terms = terms(200);
            let sustained = sustained(shuttle, &terms).unwrap();
            let limiter = limiter_of(shuttle, &terms, &sustained).unwrap();
            (sustained, limiter, one_tanker_lost(shuttle, &terms).unwrap())
        })
    };
    for seed in [1, 2, 5, 8, 13] {
        let shuttle = problem(seed);
        let one = on(1, &shuttle);
        for threads in [2, 3, 8] {
            assert_eq!(one, on(threads, &shuttle), "seed {seed}, {threads} threads");
        }
    }
}

/// Every number out of range, one at a time, is refused with a remedy, and nothing panics on extremes within range.
#[test]
fn bad_input_is_refused() {
    let good = problem(1);
    type Spoil = fn(&mut Shuttle, f64);
    let spoils: [Spoil; 12] = [
        |s, x| s.tankers[0].load.0 = x,
        |s, x| s.tankers[0].arrives.0 = x,
        |s, x| s.tankers[0].empty_travel.0 = x,
        |s, x| s.tankers[0].loaded_travel.0 = x,
        |s, x| s.tankers[0].intake.0 = x,
        |s, x| s.tankers[0].dump_rate.0 = x,
        |s, x| s.tankers[0].fill_handling.0 = x,
        |s, x| s.tankers[0].dump_handling.0 = x,
        |s, x| s.fills[0].flow.0 = x,
        |s, x| s.fills[0].volume = Some(Gallons(x)),
        |s, x| s.dump.draw_limits.push(DrawLimit { kind: DrawKind::Pumper, flow: GallonsPerMinute(x) }),
        |s, x| s.spread.travel = Vary::LogNormal { cv: x },
    ];
    for (i, spoil) in spoils.iter().enumerate() {
        for x in [f64::NAN, f64::INFINITY, f64::NEG_INFINITY, -1.0, 1e300] {
            let mut bad = good.clone();
            spoil(&mut bad, x);
            let error = sustained(&bad, &terms(10)).expect_err(&format!("{i} with {x}"));
            assert!(!error.what.is_empty() && error.to_string().contains("give"), "{error}");
            assert!(ceiling(&bad, PERIOD).is_err() && limiter(&bad, &terms(10)).is_err());
            assert!(one_tanker_lost(&bad, &terms(10)).is_err() && reliefs(&bad).is_err());
        }
    }
    for i in [0, 4, 5, 8, 10] {
        let mut bad = good.clone();
        spoils[i](&mut bad, 0.0);
        assert!(sustained(&bad, &terms(10)).is_err(), "{i} with zero");
    }
    let structural: [fn(&mut Shuttle); 8] = [
        |s| s.tankers.clear(),
        |s| s.fills.clear(),
        |s| s.tankers[0].fill = 99,
        |s| s.fills[0].berths = 0,
        |s| s.dump.berths = 0,
        |s| s.dump.berths = u32::MAX,
        |s| s.dump.tank_room.0 = f64::NAN,
        |s| s.dump.tank_room.0 = -1.0,
    ];
    for (i, spoil) in structural.iter().enumerate() {
        let mut bad = good.clone();
        spoil(&mut bad);
        assert!(sustained(&bad, &terms(10)).is_err(), "{i}");
    }
    for bad in [
        Terms { period: Seconds(0.0), ..terms(10) },
        Terms { period: Seconds(f64::NAN), ..terms(10) },
        Terms { reliability: 0.0, ..terms(10) },
        Terms { reliability: 1.1, ..terms(10) },
        Terms { replications: 0, ..terms(10) },
        Terms { need: GallonsPerMinute(f64::NAN), ..terms(10) },
    ] {
        assert!(sustained(&good, &bad).is_err(), "{bad:?}");
    }
}

#[test]
fn extremes_stay_finite() {
    for seed in 0..12 {
        let mut rng = Pcg64Mcg::seed_from_u64(seed);
        let mut shuttle = problem(seed);
        let mut pick = |from: &[f64]| from[rng.random_range(0..from.len())];
        for t in &mut shuttle.tankers {
            t.load.0 = pick(&[1.0, 1000.0, 1e6]);
            t.intake.0 = pick(&[0.1, 1000.0, 1e7]);
            t.dump_rate.0 = pick(&[0.1, 1000.0, 1e7]);
            // A day is allowed too, but a day of half-minute cycles makes this test slow.
            t.arrives.0 = pick(&[0.0, 600.0, 21_600.0]);
            t.empty_travel.0 = pick(&[30.0, 86_400.0]);
            t.loaded_travel.0 = pick(&[0.0, 600.0]);
        }
        for f in &mut shuttle.fills {
            f.flow.0 = pick(&[0.1, 1000.0, 1e7]);
            f.volume = Some(Gallons(pick(&[0.0, 1.0, 1e15])));
        }
        shuttle.dump.tank_room.0 = pick(&[0.0, 1.0, 1e15, f64::INFINITY]);
        shuttle.spread.travel = Vary::LogNormal { cv: pick(&[0.0, 3.0]) };
        let terms = Terms { period: Seconds(pick(&[1.0, 7200.0])), ..terms(20) };
        let answer = sustained(&shuttle, &terms).unwrap();
        assert!(answer.flow.0.is_finite() && answer.flow.0 >= 0.0, "seed {seed}");
        assert!(answer.start.0.is_finite() && answer.held_from.0.is_finite(), "seed {seed}");
        for point in &answer.timeline {
            assert!(point.level.0.is_finite() && point.inflow.0.is_finite() && point.drawn.0.is_finite());
        }
        let limiter = limiter_of(&shuttle, &terms, &answer).unwrap();
        assert!(
            limiter.gain.0.is_finite() && limiter.gain.0 >= 0.0 && !limiter.text.is_empty(),
            "seed {seed}"
        );
        assert!(one_tanker_lost(&shuttle, &terms).unwrap().0.is_finite());
    }
}
