//! Each element made the tight one in turn: the limiter must name it and its gain must be real.

use tankerloop::shuttle::*;
use tankerloop::units::{Gallons, GallonsPerMinute, Seconds};

const TERMS: Terms = Terms {
    need: GallonsPerMinute(250.0),
    period: Seconds(7200.0),
    reliability: 0.9,
    replications: 200,
    seed: 11,
};

/// Six tankers of 1,800 gal on a 16-minute cycle (675 gpm), with room to spare everywhere else.
fn roomy() -> Shuttle {
    let tanker = |i: usize| Tanker {
        name: format!("T{}", i + 1),
        load: Gallons(1800.0),
        fill: 0,
        arrives: Seconds(300.0 + 160.0 * i as f64),
        empty_travel: Seconds::from_minutes(5.0),
        loaded_travel: Seconds::from_minutes(5.0),
        empty_lanes: vec![],
        loaded_lanes: vec![],
        intake: GallonsPerMinute(1000.0),
        dump_rate: GallonsPerMinute(1000.0),
        fill_handling: Seconds::from_minutes(1.4),
        dump_handling: Seconds::from_minutes(1.0),
    };
    Shuttle {
        tankers: (0..6).map(tanker).collect(),
        fills: vec![Fill { name: "pond".into(), berths: 4, flow: GallonsPerMinute(4000.0), volume: None }],
        dump: Dump { berths: 4, tank_room: Gallons(20_000.0), draw_limits: vec![] },
        lanes: vec![],
        spread: Spread::default(),
    }
}

#[test]
fn the_tight_element_is_named() {
    type Tighten = fn(&mut Shuttle);
    let cases: [(Limiter, &str, Tighten); 8] = [
        (Limiter::Tankers, "tankers: one more like \"T1\" (1,800 gal usable)", |_| {}),
        (Limiter::FillBerths(0), "one more", |s| {
            s.fills[0].berths = 1;
            s.tankers.iter_mut().for_each(|t| t.fill_handling = Seconds(150.0));
        }),
        (Limiter::SourceFlow(0), "800 gpm instead of 400", |s| s.fills[0].flow = GallonsPerMinute(400.0)),
        (Limiter::SourceVolume(0), "does not run out", |s| s.fills[0].volume = Some(Gallons(40_000.0))),
        (Limiter::DumpBerths, "one more", |s| {
            s.dump.berths = 1;
            s.tankers.iter_mut().for_each(|t| t.dump_handling = Seconds(150.0));
        }),
        (Limiter::TankRoom, "2,500 gal", |s| {
            s.dump.tank_room = Gallons(300.0);
            s.dump.berths = 1;
        }),
        (Limiter::SupplyLine, "supply line", |s| {
            s.dump.draw_limits.push(DrawLimit { kind: DrawKind::SupplyLine, flow: GallonsPerMinute(300.0) });
        }),
        (Limiter::Pumper, "pumper", |s| {
            s.dump.draw_limits.push(DrawLimit { kind: DrawKind::SupplyLine, flow: GallonsPerMinute(500.0) });
            s.dump.draw_limits.push(DrawLimit { kind: DrawKind::Pumper, flow: GallonsPerMinute(350.0) });
        }),
    ];
    for (want, words, tighten) in cases {
        let mut shuttle = roomy();
        tighten(&mut shuttle);
        let held = sustained_flow(&shuttle, &TERMS).unwrap();
        let found = limiter(&shuttle, &TERMS).unwrap();
        println!("{:?} at {held:.0}: {} gains {:.1}", found.limiter, found.text, found.gain);
        assert_eq!(found.limiter, want, "{found:?}");
        assert!(found.text.contains(words), "{found:?}");
        assert!(found.gain.0 >= 1.0, "{found:?}");
        // The gain is the relieved shuttle's own sustained flow less this one's, and no relief gives more.
        for (limiter, relieved) in reliefs(&shuttle).unwrap() {
            let gain = sustained_flow(&relieved, &TERMS).unwrap().0 - held.0;
            if limiter == want {
                assert!((gain - found.gain.0).abs() < 1e-9, "{limiter:?}: {gain}, {found:?}");
            }
            // One gpm is the resolution of the search.
            assert!(gain <= found.gain.0 + 1.0, "{limiter:?}: {gain}, {found:?}");
        }
    }
}

/// Where two elements are equally tight no single relief helps, and the limiter says so.
#[test]
fn two_tight_elements() {
    let mut shuttle = roomy();
    for kind in [DrawKind::SupplyLine, DrawKind::Pumper] {
        shuttle.dump.draw_limits.push(DrawLimit { kind, flow: GallonsPerMinute(300.0) });
    }
    let found = limiter(&shuttle, &TERMS).unwrap();
    assert_eq!(found.gain.0, 0.0);
    assert!(matches!(found.limiter, Limiter::SupplyLine | Limiter::Pumper), "{found:?}");
    assert!(found.text.contains("gains nothing"));
}

/// The worst loss, against withdrawing each in turn; with fixed times the luck of the others cannot differ.
#[test]
fn losing_one_tanker() {
    let mut shuttle = roomy();
    shuttle.spread = Spread::FIXED;
    for (i, load) in [2700.0, 1800.0, 900.0, 1800.0, 2250.0, 1350.0].into_iter().enumerate() {
        shuttle.tankers[i].load = Gallons(load);
    }
    let worst = (0..6)
        .map(|i| {
            let mut fewer = shuttle.clone();
            fewer.tankers.remove(i);
            sustained_flow(&fewer, &TERMS).unwrap().0
        })
        .fold(f64::INFINITY, f64::min);
    assert_eq!(one_tanker_lost(&shuttle, &TERMS).unwrap().0, worst);
    shuttle.tankers.truncate(1);
    assert_eq!(one_tanker_lost(&shuttle, &TERMS).unwrap().0, 0.0);
}

/// By hand: two dump berths, loads of 1,800 gal at 1,000 gpm after 1 min, arrivals at 0, 1, 2 min. Water first at
/// 1.0 min; berths free at 2.8 and 3.8; the third tanker starts at 2.8 and is empty at 5.6 min.
#[test]
fn start_of_supply_by_hand() {
    let mut shuttle = roomy();
    shuttle.tankers.truncate(3);
    for (i, tanker) in shuttle.tankers.iter_mut().enumerate() {
        tanker.arrives = Seconds(60.0 * i as f64);
    }
    shuttle.dump.berths = 2;
    let (first, start) = start_of_supply(&shuttle).unwrap();
    assert!((first.minutes() - 1.0).abs() < 1e-9 && (start.minutes() - 5.6).abs() < 1e-9, "{first} {start}");
    // One tanker's need can be met before the last has come; nothing starts before there is water.
    let answer = sustained(&shuttle, &Terms { need: GallonsPerMinute(60.0), ..TERMS }).unwrap();
    assert!(answer.held_from >= first && answer.held_from < start, "{}", answer.held_from);
}
