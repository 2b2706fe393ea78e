//! The step simulation by the clock, and beside the shuttle's event by event.

use super::*;
use crate::shuttle;
use crate::units::{Gallons, GallonsPerMinute, Seconds};
use crate::verify::crew::Source;
use rand::{RngExt, SeedableRng};

/// One truck, 1,000 gal, a cycle of 60 + 60 + 300 + 60 + 60 + 300 = 840 s, from a source of
/// 1,000 gpm into a tank that begins with its first load: 71.4 gpm for ever, and over two hours
/// the head start of a load less a cycle's wait.
#[test]
fn one_truck_by_the_clock() {
    let truck = Truck {
        id: "T".into(),
        on_loop: 0,
        source: 0,
        load_gal: 1_000.0,
        arrival_s: 100.0,
        dump_handling_s: 60.0,
        dump_gpm: 1_000.0,
        empty_s: 300.0,
        loaded_s: 300.0,
        empty_lanes: vec![],
        loaded_lanes: vec![],
        fill_handling_s: 60.0,
        intake_gpm: 1_000.0,
    };
    let source = Source { site: 0, flow_gpm: 1_000.0, volume_gal: None, berths: 1 };
    let crew = Crew {
        trucks: vec![truck],
        sources: vec![source],
        lanes: 0,
        dump_berths: 1,
        room_gal: 5_000.0,
        period_s: 7_200.0,
        draw_gpm: (1_000.0, 1_000.0),
    };
    assert!((crew.trucks[0].cycle_s(&crew.sources) - 840.0).abs() < 1e-9);
    let held = |gpm: f64| share_held(&crew, &Spread::FIXED, 0.0, gpm, 1) == 1.0;
    // From 220 s, 1,000 gal in the tank; the next load begins to pour 780 s later.
    assert!(held(1_000.0 / 14.0));
    assert!(!held(1_000.0 / 12.9), "dry before the second load");
    let mut dry = crew.clone();
    dry.sources[0].volume_gal = Some(3_000.0);
    assert!(share_held(&dry, &Spread::FIXED, 0.0, 1_000.0 / 14.0, 1) == 0.0, "four loads are not enough");
}

/// Random crews on narrow road, and the same as a shuttle.
fn narrow(seed: u64) -> (Crew, shuttle::Shuttle) {
    let mut rng = Pcg32::seed_from_u64(seed);
    let lanes = rng.random_range(1..=3);
    let mut trucks = Vec::new();
    for i in 0..rng.random_range(2..=7) {
        let mut leg = |forward: bool| {
            let (mut at_s, mut passages) = (rng.random_range(10.0..100.0), Vec::new());
            for k in 0..lanes {
                let lane = if forward { k } else { lanes - 1 - k };
                let take_s = rng.random_range(20.0..150.0);
                passages.push(Passage { lane, forward, after_s: at_s, take_s });
                at_s += take_s + if rng.random_bool(0.5) { 0.0 } else { 30.0 };
            }
            (at_s + 20.0, passages)
        };
        let ((empty_s, empty_lanes), (loaded_s, loaded_lanes)) = (leg(true), leg(false));
        trucks.push(Truck {
            id: format!("T{i}"),
            on_loop: 0,
            source: 0,
            load_gal: 1_500.0,
            arrival_s: rng.random_range(0.0..900.0),
            dump_handling_s: 60.0,
            dump_gpm: 1_200.0,
            empty_s,
            loaded_s,
            empty_lanes,
            loaded_lanes,
            fill_handling_s: 90.0,
            intake_gpm: 1_000.0,
        });
    }
    let source = Source { site: 0, flow_gpm: 2_000.0, volume_gal: None, berths: 2 };
    let crew = Crew {
        trucks,
        sources: vec![source],
        lanes,
        dump_berths: 2,
        room_gal: 12_000.0,
        period_s: 7_200.0,
        draw_gpm: (1e4, 1e4),
    };
    let gpm = GallonsPerMinute;
    let legs = |passages: &[Passage]| -> Vec<shuttle::Passage> {
        let one = |p: &Passage| shuttle::Passage {
            lane: p.lane,
            forward: p.forward,
            after: Seconds(p.after_s),
            take: Seconds(p.take_s),
        };
        passages.iter().map(one).collect()
    };
    let tanker = |t: &Truck| shuttle::Tanker {
        name: t.id.clone(),
        load: Gallons(t.load_gal),
        fill: 0,
        arrives: Seconds(t.arrival_s),
        empty_travel: Seconds(t.empty_s),
        loaded_travel: Seconds(t.loaded_s),
        empty_lanes: legs(&t.empty_lanes),
        loaded_lanes: legs(&t.loaded_lanes),
        intake: gpm(t.intake_gpm),
        dump_rate: gpm(t.dump_gpm),
        fill_handling: Seconds(t.fill_handling_s),
        dump_handling: Seconds(t.dump_handling_s),
    };
    let fill = shuttle::Fill { name: "S".into(), berths: 2, flow: gpm(2_000.0), volume: None };
    let shuttle = shuttle::Shuttle {
        tankers: crew.trucks.iter().map(tanker).collect(),
        fills: vec![fill],
        dump: shuttle::Dump { berths: 2, tank_room: Gallons(12_000.0), draw_limits: vec![] },
        lanes: (0..lanes).map(|i| shuttle::Lane { name: format!("lane {i}") }).collect(),
        spread: shuttle::Spread::FIXED,
    };
    (crew, shuttle)
}

/// The two simulations share no line, keep their lanes in different ways, and find the same flow on
/// narrow road within what other dice do. (With fixed times they need not: tankers that meet at a mouth
/// fall into one step or another by a hair, and the steps of two seconds decide that anew.) That lanes
/// matter to it at all is checked as well.
#[test]
fn narrow_road_in_both_simulations() {
    let mut held_back = 0;
    for seed in 0..40 {
        let (crew, mut shuttle) = narrow(seed);
        let terms = shuttle::Terms::default();
        shuttle.spread = shuttle::Spread::default();
        let mut wide = shuttle.clone();
        for tanker in &mut wide.tankers {
            tanker.empty_lanes.clear();
            tanker.loaded_lanes.clear();
        }
        let spread = Spread::read(&serde_json::to_value(shuttle.spread).unwrap()).unwrap();
        let cap = shuttle::ceiling(&shuttle, terms.period).unwrap().flow.0;
        let flow = shuttle::sustained_flow(&shuttle, &terms).unwrap().0;
        held_back += u32::from(flow < 0.97 * shuttle::sustained_flow(&wide, &terms).unwrap().0);
        let held = |gpm: f64| share_held(&crew, &spread, 0.0, gpm, 400);
        let (low, high) = (held(flow * 0.95), held(flow * 1.05));
        println!("seed {seed}: {flow} of {cap:.0}, held {low:.2} below, {high:.2} above");
        assert!(low >= 0.9 && (high < 0.9 || flow * 1.05 > cap), "seed {seed}: {flow}, {low}, {high}");
    }
    println!("the lanes cost 3 % or more in {held_back} of 40");
    assert!(held_back >= 10);
}

/// What the shuttle's tankers did at their lanes, done again with `Mouths`: who came when and took how
/// long is given, who entered when must come out, to the last bit.
#[test]
fn the_same_tankers_at_the_mouths() {
    let (mut all, mut waited) = (0, 0);
    for seed in 0..200 {
        let (_, mut shuttle) = narrow(seed);
        if seed % 2 == 0 {
            shuttle.spread = shuttle::Spread::default();
        }
        let (none, hours) = (GallonsPerMinute(0.0), Seconds(4.0 * 3600.0));
        let draw = shuttle::Draw { flow: none, from: Seconds(0.0), until: hours };
        let trace = shuttle::simulate(&shuttle, &draw, seed, 0).unwrap().passages;
        for lane in 0..shuttle.lanes.len() {
            let came: Vec<&shuttle::LanePass> = trace.iter().filter(|p| p.lane == lane).collect();
            let mut mouths = Mouths::default();
            let mut entered: Vec<Option<f64>> = vec![None; came.len()];
            let (mut next, mut inside): (usize, Vec<usize>) = (0, Vec::new());
            // A passage that began takes as long as it took; waiting or not is up to the lists.
            let leaves = |i: usize, at: f64| if at == came[i].enters.0 { came[i].leaves.0 } else { f64::NAN };
            while next < came.len() || !inside.is_empty() {
                let first = inside.iter().copied().min_by(|a, b| {
                    let leaves = |i: usize| leaves(i, entered[i].unwrap());
                    leaves(*a).total_cmp(&leaves(*b))
                });
                let leaving = first.map(|i| (leaves(i, entered[i].unwrap()), i));
                match leaving {
                    Some((at, i)) if next == came.len() || at <= came[next].reaches.0 => {
                        inside.retain(|other| *other != i);
                        for admitted in mouths.leave(i) {
                            entered[admitted] = Some(at);
                            inside.push(admitted);
                            waited += 1;
                        }
                    }
                    _ => {
                        if mouths.arrive(next, came[next].forward) {
                            entered[next] = Some(came[next].reaches.0);
                            inside.push(next);
                        }
                        next += 1;
                    }
                }
            }
            let found: Vec<f64> = entered.into_iter().map(Option::unwrap).collect();
            let said: Vec<f64> = came.iter().map(|p| p.enters.0).collect();
            assert_eq!(found, said, "seed {seed}, lane {lane}");
            all += came.len();
        }
    }
    println!("{waited} of {all} passages waited");
    assert!(waited > all / 10);
}
