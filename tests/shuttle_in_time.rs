//! A shuttle against time: milestones, series, a tanker withdrawn, a source failed.

use tankerloop::shuttle::*;
use tankerloop::units::{Gallons, GallonsPerMinute, Seconds};

/// 1,000 gal, 60 s in each berth of which 30 s handling, 120 s a leg: a cycle of 360 s.
fn tanker(name: &str, fill: usize, arrives_s: f64) -> Tanker {
    Tanker {
        name: name.into(),
        load: Gallons(1000.0),
        fill,
        arrives: Seconds(arrives_s),
        empty_travel: Seconds(120.0),
        loaded_travel: Seconds(120.0),
        empty_lanes: vec![],
        loaded_lanes: vec![],
        intake: GallonsPerMinute(2000.0),
        dump_rate: GallonsPerMinute(2000.0),
        fill_handling: Seconds(30.0),
        dump_handling: Seconds(30.0),
    }
}

fn shuttle(tankers: Vec<Tanker>, spread: Spread) -> Shuttle {
    let fill =
        |name: &str| Fill { name: name.into(), berths: 2, flow: GallonsPerMinute(4000.0), volume: None };
    Shuttle {
        tankers,
        fills: vec![fill("east"), fill("west")],
        dump: Dump { berths: 2, tank_room: Gallons(6000.0), draw_limits: vec![] },
        lanes: vec![],
        spread,
    }
}

/// Six tankers, one a minute from 10 min on, three to a site. With fixed times each brings 1,000/6 gpm.
fn six(spread: Spread) -> Shuttle {
    shuttle((0..6).map(|i| tanker(&format!("T{i}"), i % 2, 600.0 + 60.0 * i as f64)).collect(), spread)
}

fn terms() -> Terms {
    Terms { replications: 60, seed: 3, period: Seconds(3600.0), ..Terms::default() }
}

/// Six bring 1,000 gpm; first loads come each minute from 660 s on and then go on at that pace, 1,000 gal a
/// minute, so that each step can be drawn soon after the first water at 630 s. Five bring 833.3: the step of
/// 1,000 is not held. Half of them, with the other source failed, bring 500.
#[test]
fn fixed_times_by_hand() {
    let six = six(Spread::FIXED);
    let held = sustained(&six, &terms()).unwrap();
    assert_eq!(held.flow.0, 1000.0);
    assert_eq!(held.first_water, Seconds(630.0));
    assert_eq!(held.start, Seconds(960.0));
    let all = milestones(&six, &terms(), &held).unwrap();
    let from: Vec<f64> = all.iter().map(|m| m.held_from.unwrap().0).collect();
    // A load pours in 30 s at 2,000 gpm, so from 630 s on no draw of up to 1,000 gpm finds the tanks dry; starts
    // are tried in steps of 15 s back from 960 s.
    assert_eq!(from, [630.0, 630.0, 630.0, 630.0], "{all:?}");
    let five = shuttle(six.tankers[..5].to_vec(), Spread::FIXED);
    let held = sustained(&five, &terms()).unwrap();
    assert!((held.flow.0 - 5000.0 / 6.0).abs() < 1e-9, "{:?}", held.flow);
    let all = milestones(&five, &terms(), &held).unwrap();
    assert!(all[2].held_from.is_some() && all[3].held_from.is_none());
    for flow in withdrawn(&six, &terms()).unwrap() {
        assert!((flow.0 - 5000.0 / 6.0).abs() < 1.0, "{flow:?}");
    }
    for fill in 0..2 {
        let rest = source_failed(&six, &terms(), fill).unwrap().0;
        assert!((rest - 500.0).abs() < 1.0, "{rest}");
    }
    let one_site = shuttle(vec![tanker("T", 0, 600.0); 2], Spread::FIXED);
    assert_eq!(source_failed(&one_site, &terms(), 0).unwrap(), GallonsPerMinute::ZERO);
    assert_eq!(withdrawn(&shuttle(vec![tanker("T", 0, 0.0)], Spread::FIXED), &terms()).unwrap().len(), 1);
}

/// Losses agree with the shuttle written down without what is lost, the worst is that of `one_tanker_lost`, and
/// milestones come later for greater flows.
#[test]
fn losses_and_milestones_hang_together() {
    let mut mixed = six(Spread::default());
    mixed.tankers[2].load = Gallons(2500.0);
    mixed.tankers[5].loaded_travel = Seconds(400.0);
    let held = sustained(&mixed, &terms()).unwrap();
    let lost = withdrawn(&mixed, &terms()).unwrap();
    let worst = lost.iter().map(|f| f.0).fold(f64::INFINITY, f64::min);
    assert_eq!(worst, one_tanker_lost(&mixed, &terms()).unwrap().0);
    assert!(lost[2].0 < lost[5].0, "the large tanker is missed more than the slow one: {lost:?}");
    // The last tanker's place is its luck: without it the rest is the same shuttle.
    let rest = Shuttle { tankers: mixed.tankers[..5].to_vec(), ..mixed.clone() };
    assert_eq!(sustained_flow(&rest, &terms()).unwrap(), lost[5]);
    let from: Vec<Seconds> =
        milestones(&mixed, &terms(), &held).unwrap().iter().filter_map(|m| m.held_from).collect();
    assert!(!from.is_empty() && from.is_sorted(), "{from:?}");
    assert!(from.iter().all(|f| *f >= held.first_water && *f <= held.start));
}

/// What came in less what went out is what stands in the tanks, step by step; and the sums are those of the runs.
#[test]
fn the_series_keeps_the_books() {
    let shuttle = six(Spread::default());
    let held = sustained(&shuttle, &terms()).unwrap();
    let series = series(&shuttle, &terms(), held.flow, Seconds(60.0)).unwrap();
    let (mut level, mut offered) = (0.0, 0.0);
    for (i, point) in series.iter().enumerate() {
        assert_eq!(point.time, Seconds(60.0 * (i + 1) as f64));
        level += (point.offered - point.drawn).0;
        offered += point.offered.0;
        assert!((level - point.level.0).abs() < 1e-6, "{point:?}: {level}");
        assert!(point.level_low <= point.level_high && point.level_high <= shuttle.dump.tank_room);
        assert!(point.drawn.0 <= held.flow.0 + 1e-9 && point.offered.0 >= -1e-9);
    }
    // The draw is sustained: it fails in no more than a tenth of the replications.
    assert!(series.last().unwrap().dry_share <= 0.1);
    assert!(series.windows(2).all(|pair| pair[0].dry_share <= pair[1].dry_share));
    let last = series.last().unwrap().time;
    let by_runs: f64 = (0..60)
        .map(|r| {
            let from = start_of_supply_in(&shuttle, 3, r).unwrap();
            let draw = Draw { flow: held.flow, from, until: last };
            simulate(&shuttle, &draw, 3, r).unwrap().delivered.0
        })
        .sum();
    assert!((offered - by_runs / 60.0).abs() < 1e-6, "{offered} and {}", by_runs / 60.0);
    // Above what it sustains the tanks run dry in more of them.
    let more = GallonsPerMinute(1.2 * held.flow.0);
    let over = tankerloop::shuttle::series(&shuttle, &terms(), more, Seconds(60.0)).unwrap();
    assert!(over.last().unwrap().dry_share > 0.1);
}

#[test]
fn the_same_on_any_number_of_threads() {
    let shuttle = six(Spread::default());
    let on = |threads: usize| {
        let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build().unwrap();
        pool.install(|| {
            let held = sustained(&shuttle, &terms()).unwrap();
            let series = series(&shuttle, &terms(), held.flow, Seconds(30.0)).unwrap();
            (milestones(&shuttle, &terms(), &held).unwrap(), withdrawn(&shuttle, &terms()).unwrap(), series)
        })
    };
    let one = on(1);
    for threads in [2, 3, 8] {
        assert_eq!(one, on(threads), "{threads} threads");
    }
}

/// One more gallon of tank never lowers the ceiling; nor does one more siphon, through the rig's flow
/// (`tests/water_monotone.rs`) and the draw limit made of it.
#[test]
fn a_gallon_more_and_a_higher_limit_never_lower_the_ceiling() {
    let period = Seconds(3600.0);
    for tenth in 0..200 {
        let mut shuttle = six(Spread::default());
        shuttle.dump.tank_room = Gallons(50.0 * f64::from(tenth));
        let flow = |s: &Shuttle| ceiling(s, period).unwrap().flow.0;
        let limit = GallonsPerMinute(20.0 + 7.0 * f64::from(tenth));
        shuttle.dump.draw_limits = vec![DrawLimit { kind: DrawKind::Siphons, flow: limit }];
        let base = flow(&shuttle);
        let mut more = shuttle.clone();
        more.dump.tank_room.0 += 1.0;
        assert!(flow(&more) >= base);
        more.dump.draw_limits[0].flow.0 += 1.0;
        assert!(flow(&more) >= base);
    }
}
