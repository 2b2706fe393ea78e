//! The shuttle against published examples and queueing theory.

use tankerloop::shuttle::*;
use tankerloop::units::{Gallons, GallonsPerMinute, Seconds};

fn close(got: f64, want: f64, tolerance: f64, what: &str) {
    assert!((got - want).abs() <= tolerance, "{what}: {got}, expected {want} ± {tolerance}");
}

fn minutes(m: f64) -> Seconds {
    Seconds::from_minutes(m)
}

/// A tanker at fill site 0, arriving at once.
fn tanker(
    load_gal: f64,
    leg_min: f64,
    fill_handling_min: f64,
    dump_handling_min: f64,
    rate_gpm: f64,
) -> Tanker {
    Tanker {
        name: "T".into(),
        load: Gallons(load_gal),
        fill: 0,
        arrives: Seconds(0.0),
        empty_travel: minutes(leg_min),
        loaded_travel: minutes(leg_min),
        empty_lanes: vec![],
        loaded_lanes: vec![],
        intake: GallonsPerMinute(rate_gpm),
        dump_rate: GallonsPerMinute(rate_gpm),
        fill_handling: minutes(fill_handling_min),
        dump_handling: minutes(dump_handling_min),
    }
}

fn site(berths: u32, flow_gpm: f64) -> Fill {
    Fill { name: "site".into(), berths, flow: GallonsPerMinute(flow_gpm), volume: None }
}

fn dump(berths: u32, room_gal: f64) -> Dump {
    Dump { berths, tank_room: Gallons(room_gal), draw_limits: vec![] }
}

fn fixed(tankers: Vec<Tanker>, fill: Fill, dump: Dump) -> Shuttle {
    Shuttle { tankers, fills: vec![fill], dump, lanes: vec![], spread: Spread::FIXED }
}

fn ceiling_gpm(shuttle: &Shuttle) -> f64 {
    ceiling(shuttle, minutes(120.0)).unwrap().flow.0
}

/// T = 0.65 + 1.7 D at 35 mph (ISO, from a RAND study). Published pairs: 1.5 mi 3.2 min, 2.5 mi 4.9 min;
/// the rest computed by hand.
#[test]
fn travel_time_equation() {
    for (miles, min) in
        [(0.5, 1.50), (1.0, 2.35), (1.5, 3.20), (2.0, 4.05), (2.5, 4.90), (3.0, 5.75), (5.0, 9.15)]
    {
        close(travel_time_per_leg(miles, 1.7).minutes(), min, 1e-9, "T(35)");
    }
}

/// NFPA 1142 annex, worked example, from memory: 1,500 gal, A 3 min, B 4 min, 2.10 mi out, 1.80 mi back.
#[test]
fn annex_example() {
    let (out, back) = (travel_time_per_leg(2.10, 1.7), travel_time_per_leg(1.80, 1.7));
    close(out.minutes(), 4.22, 0.005, "T1");
    close(back.minutes(), 3.71, 0.005, "T2");
    let q = maximum_continuous_flow(Gallons(1500.0), minutes(3.0), out, back, minutes(4.0));
    close(q.0, 90.4, 0.05, "Q");
    // The same by the general closed form: the 10 % is off the load and not taken again.
    let mut truck = tanker(1350.0, 0.0, 0.0, 0.0, 1350.0);
    (truck.empty_travel, truck.loaded_travel) = (out, back);
    (truck.dump_handling, truck.fill_handling) = (minutes(2.0), minutes(3.0));
    close(ceiling_gpm(&fixed(vec![truck], site(1, 1350.0), dump(1, f64::INFINITY))), 90.4, 0.05, "ceiling");
}

/// IFSTA lesson: 3,000 gal less 10 % in 12 minutes is 225 gpm; 2,250 gal usable, 3 mi in all at 35 mph and
/// 9 min handling is 152.5 gpm with the 0.65 once. Per leg (NFPA 1142) two 1.5-mi legs give 146.1, two
/// 3-mi legs 109.8, computed by hand.
#[test]
fn ifsta_examples() {
    let q = maximum_continuous_flow(Gallons(3000.0), minutes(12.0), Seconds(0.0), Seconds(0.0), Seconds(0.0));
    close(q.0, 225.0, 1e-9, "3,000 gal in 12 min");
    let flow = |out: Seconds, back: Seconds| {
        maximum_continuous_flow(Gallons(2250.0 / 0.9), minutes(9.0), out, back, Seconds(0.0)).0
    };
    close(flow(travel_time_round_trip(3.0, 1.7), Seconds(0.0)), 152.5, 0.05, "once per round trip");
    let leg = |miles: f64| travel_time_per_leg(miles, 1.7);
    close(flow(leg(1.5), leg(1.5)), 146.1, 0.05, "two legs of 1.5 mi");
    close(flow(leg(3.0), leg(3.0)), 109.8, 0.05, "two legs of 3 mi");
}

/// One tanker at 35 mph, 0.65 per leg, A = 1.0 + usable/1000, B = 1.5 + usable/1000: computed by hand.
#[test]
fn one_tanker_table() {
    let miles = [0.5, 1.0, 2.0, 3.0, 4.0, 5.0];
    let table = [
        (1000.0, [123.0, 100.0, 73.0, 57.0, 47.0, 40.0]),
        (2000.0, [198.0, 167.0, 127.0, 102.0, 86.0, 74.0]),
        (3000.0, [248.0, 214.0, 169.0, 139.0, 118.0, 103.0]),
        (4000.0, [283.0, 250.0, 202.0, 170.0, 146.0, 129.0]),
    ];
    for (gallons, flows) in table {
        for (miles, want) in miles.into_iter().zip(flows) {
            let leg = travel_time_per_leg(miles, 1.7).minutes();
            let truck = tanker(0.9 * gallons, leg, 1.5, 1.0, 1000.0);
            let shuttle = fixed(vec![truck], site(1, 1000.0), dump(1, 10_000.0));
            let ceiling = ceiling(&shuttle, minutes(120.0)).unwrap();
            close(ceiling.flow.0, want, 0.5, &format!("{gallons} gal, {miles} mi"));
            assert_eq!(ceiling.bound_by, Limiter::Tankers);
            // With every time fixed the simulation sustains what the closed form says.
            let held = sustained_flow(&shuttle, &Terms { replications: 1, ..Terms::default() }).unwrap();
            assert!(
                held.0 <= ceiling.flow.0 && held.0 > ceiling.flow.0 - 1.0,
                "{held:?} of {:?}",
                ceiling.flow
            );
        }
    }
}

/// The nearest source is not the best (a case after IFSTA, computed by hand): 2,000 gal tankers, 1.5 and 1.0
/// min handling, 1,000 gpm dump. A 250 gpm hydrant at 1 mi cannot pass 207 gpm with any fleet; a 1,000 gpm
/// dry hydrant at 2 mi gives 127 gpm for each tanker and 545 for each berth.
#[test]
fn nearest_is_not_best() {
    let truck = |miles: f64| tanker(1800.0, travel_time_per_leg(miles, 1.7).minutes(), 1.5, 1.0, 1000.0);
    let hydrant = |n: usize| fixed(vec![truck(1.0); n], site(1, 250.0), dump(2, 10_000.0));
    for n in [3, 6, 20] {
        close(ceiling_gpm(&hydrant(n)), 207.0, 0.5, "hydrant");
    }
    let lake = |n: usize, berths: u32, flow: f64| {
        fixed(vec![truck(2.0); n], site(berths, flow), dump(berths, 10_000.0))
    };
    close(ceiling_gpm(&lake(1, 1, 1000.0)), 127.0, 0.5, "lake, one tanker");
    close(ceiling_gpm(&lake(20, 1, 1000.0)), 545.0, 0.5, "lake, one berth");
    // Six tankers hold 750 on two fill and two dump berths, five cannot.
    assert!(ceiling_gpm(&lake(6, 2, 1000.0)) >= 750.0);
    assert!(ceiling_gpm(&lake(5, 2, 1000.0)) < 750.0);
    let terms = Terms { replications: 1, ..Terms::default() };
    // The source feeds both berths in full only from 2,000 gpm.
    let fed = sustained_flow(&lake(6, 2, 2000.0), &terms).unwrap().0;
    assert!(fed >= 750.0, "{fed}");
    assert!(sustained_flow(&hydrant(6), &terms).unwrap().0 <= 207.0);
}

/// Reiser and Lavenberg 1980, mean value analysis, from memory: throughput in loads per minute.
fn mva(n: usize, drive_min: f64, services_min: &[f64]) -> f64 {
    let mut queue = vec![0.0; services_min.len()];
    let mut throughput = 0.0;
    for population in 1..=n {
        let response: Vec<f64> = services_min.iter().zip(&queue).map(|(s, q)| s * (1.0 + q)).collect();
        throughput = population as f64 / (drive_min + response.iter().sum::<f64>());
        queue = response.iter().map(|r| throughput * r).collect();
    }
    throughput
}

/// The vector: 1,800 gal usable, 8.1 min drive, one fill berth of 3.0 min, one dump berth of 2.0 min.
fn queueing_case(n: usize, service: Vary, travel: Vary) -> Shuttle {
    let mut truck = tanker(1800.0, 4.05, 0.0, 0.0, 1800.0);
    truck.intake = GallonsPerMinute(600.0);
    truck.dump_rate = GallonsPerMinute(900.0);
    let spread = Spread { travel, handling: Vary::Fixed, service };
    let (fills, dump) = (vec![site(1, 1e6)], dump(1, f64::INFINITY));
    Shuttle { tankers: vec![truck; n], fills, dump, lanes: vec![], spread }
}

fn delivered_by(shuttle: &Shuttle, hours: f64, seed: u64, replication: u32) -> f64 {
    let draw = Draw { flow: GallonsPerMinute(0.0), from: Seconds(0.0), until: Seconds(hours * 3600.0) };
    simulate(shuttle, &draw, seed, replication).unwrap().delivered.0
}

/// Columns computed beforehand (bounds of Lazowska et al. 1984, from memory; MVA; a deterministic run) against the
/// formulas and the simulation.
#[test]
fn queueing_table() {
    const SEED: u64 = 20_250_101;
    println!("seed {SEED}");
    let table = [
        (1, 137.0, 137.4, 138.0),
        (2, 275.0, 255.5, 275.0),
        (3, 412.0, 352.4, 412.0),
        (4, 550.0, 428.0, 549.0),
        (5, 600.0, 483.9, 600.0),
        (6, 600.0, 523.2, 600.0),
        (8, 600.0, 567.3, 600.0),
    ];
    for (n, ceiling_col, mva_col, fixed_col) in table {
        let (drive, total) = (8.1, 5.0);
        let high = 1800.0 * (n as f64 / (drive + total)).min(1.0 / 3.0);
        let low = 1800.0 * n as f64 / (drive + n as f64 * total);
        close(high, ceiling_col, 0.5, "ceiling column");
        let exact = 1800.0 * mva(n, drive, &[3.0, 2.0]);
        close(exact, mva_col, 0.05, "MVA column");
        let steady = queueing_case(n, Vary::Fixed, Vary::Fixed);
        close(ceiling_gpm(&steady), high, 1e-9, "our ceiling");

        // Fixed times, over 200 h after 20 h: within one fleet's load of the exact rate.
        let gpm = (delivered_by(&steady, 220.0, SEED, 0) - delivered_by(&steady, 20.0, SEED, 0)) / 12_000.0;
        let resolution = 1800.0 * n as f64 / 12_000.0;
        close(gpm, high, resolution, "fixed times, exact");
        // The column's 138 and 549 are not the exact 137.4 and 549.6; why is not known.
        close(gpm, fixed_col, 1.0, "fixed times, column");

        // Exponential service: 24 independent runs of 100 h after 20 h of warm-up.
        let random = queueing_case(n, Vary::Exponential, Vary::Fixed);
        let runs = 24;
        let flows: Vec<f64> = (0..runs)
            .map(|r| (delivered_by(&random, 120.0, SEED, r) - delivered_by(&random, 20.0, SEED, r)) / 6000.0)
            .collect();
        let mean = flows.iter().sum::<f64>() / f64::from(runs);
        let variance = flows.iter().map(|f| (f - mean).powi(2)).sum::<f64>() / f64::from(runs - 1);
        // 3.77: Student's t at 23 degrees of freedom, 99.9 % two-sided; seven such checks in one test.
        let half = 3.77 * (variance / f64::from(runs)).sqrt();
        println!("N {n}: {mean:.2} ± {half:.2} gpm, MVA {exact:.2}, fixed {gpm:.1}");
        close(mean, exact, half, "MVA");
        assert!(half < 0.02 * exact, "the interval is too wide to say anything: {half}");
        // At N = 1 both bounds are the value itself: an estimate needs its own margin.
        for (flow, margin) in [(gpm, resolution), (mean, half)] {
            assert!(flow <= high + margin && flow >= low - margin, "N {n}: {flow} in {low}..{high}");
        }
    }
}

/// 1,800 gal at a 500 gpm draw into full tanks takes 1,800/500 = 3.6 min, not 1.8.
#[test]
fn unloading_into_full_tanks() {
    // The first tanker fills the tanks to the brim at 1.8 min; the second comes at 5 min with the draw.
    let mut second = tanker(1800.0, 100.0, 0.0, 0.0, 1000.0);
    second.arrives = minutes(5.0);
    let first = tanker(1800.0, 100.0, 0.0, 0.0, 1000.0);
    let shuttle = fixed(vec![first, second], site(1, 1000.0), dump(1, 1800.0));
    let draw = Draw { flow: GallonsPerMinute(500.0), from: minutes(5.0), until: minutes(30.0) };
    let run = simulate(&shuttle, &draw, 1, 0).unwrap();
    let done = run.timeline.iter().find(|p| p.time > minutes(5.0) && p.inflow.0 == 0.0).unwrap();
    close(done.time.minutes(), 5.0 + 3.6, 1e-9, "unloaded");
    close(done.level.0, 1800.0, 1e-9, "still full");
    // Then 1,800 gal last another 3.6 min.
    close(run.dry_at.unwrap().minutes(), 5.0 + 7.2, 1e-9, "dry");
}

/// Two berths share a 1,000 gpm source: alone a 1,000 gal load takes 1 min, two at once 2 min each; with an
/// intake of 300 the other gets 700.
#[test]
fn berths_share_their_source() {
    // Dumped at 1,000 gpm on two berths by 1 min, then straight under the source, back at once.
    let refill = |intake: [f64; 2]| {
        let mut trucks = vec![tanker(1000.0, 0.0, 0.0, 1.0, 1000.0); 2];
        for (truck, gpm) in trucks.iter_mut().zip(intake) {
            truck.intake = GallonsPerMinute(gpm);
        }
        let draw = Draw { flow: GallonsPerMinute(0.0), from: Seconds(0.0), until: minutes(3.0) };
        let run = simulate(&fixed(trucks, site(2, 1000.0), dump(2, 1e6)), &draw, 1, 0).unwrap();
        run.aboard.0
    };
    // Unloaded at 2 min; at 3 min one minute of filling is aboard.
    close(refill([1000.0, 1000.0]), 1000.0, 1e-9, "shared");
    close(refill([300.0, 1000.0]), 1000.0, 1e-9, "the rest to the other");
    close(refill([300.0, 400.0]), 700.0, 1e-9, "capped by intake");
    let truck = tanker(1000.0, 1.0, 0.0, 0.0, 1000.0);
    close(ceiling_gpm(&fixed(vec![truck; 20], site(2, 1000.0), dump(20, 1e6))), 1000.0, 1e-9, "ceiling");
}

/// A finite source: all of its water and the first loads come, no more, and the run says so.
#[test]
fn a_source_gives_out() {
    let trucks = vec![tanker(1000.0, 1.0, 0.5, 0.5, 1000.0); 3];
    let mut shuttle = fixed(trucks, site(1, 1000.0), dump(2, 1e6));
    shuttle.fills[0].volume = Some(Gallons(7_500.0));
    let draw = Draw { flow: GallonsPerMinute(0.0), from: Seconds(0.0), until: minutes(120.0) };
    let run = simulate(&shuttle, &draw, 1, 0).unwrap();
    assert!(run.exhausted);
    close(run.filled.0, 7_500.0, 1e-6, "filled");
    close(run.delivered.0, 10_500.0, 1e-6, "delivered");
    let bound = ceiling(&shuttle, minutes(120.0)).unwrap();
    assert_eq!(bound.bound_by, Limiter::SourceVolume(0));
    close(bound.flow.0, 10_500.0 / 120.0, 1e-9, "spread over the period");
    let held = sustained(&shuttle, &Terms::default()).unwrap();
    assert!(held.flow.0 <= 87.5 && held.flow.0 > 84.0, "{:?}", held.flow);
    assert!(held.exhausted);
}
