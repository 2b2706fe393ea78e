use super::call::call_for;
use super::stages::{Step, settings_by_flow, siphon_from, stages};
use super::*;
use crate::water::hose::HoseSize;

const SET: fn() -> TransferSettings = TransferSettings::default;

fn pumper(rated: f64, suctions: u32) -> Pumper {
    Pumper { rated: GallonsPerMinute(rated), pressure: Psi(150.0), suctions, suction: Inches(6.0) }
}

/// A rig at no lift, so that the net pressure is the discharge, without a supply line.
fn rig(rated: f64, suctions: u32, tanks: u32, siphons: u32) -> Rig {
    Rig {
        pumper: pumper(rated, suctions),
        transfer: None,
        tanks,
        siphons,
        lift: Feet(0.0),
        altitude: Feet(0.0),
        curve: CapacityCurve::Lower,
        line: None,
    }
}

fn line(feet: f64) -> Option<SupplyLine> {
    let lay = Lay { diameter: HoseSize::Five, length: Feet(feet), lines: 1 };
    Some(SupplyLine { lay, residual: Psi(20.0), gain: Feet(0.0) })
}

#[test]
fn a_rig_names_what_limits_it() {
    let second = |rig: Rig| Rig { transfer: Some(pumper(500.0, 1)), ..rig };
    // Each row: rig; flow, limit, siphons running, motive from the drafting pumper.
    for (rig, flow, limit, running, motive) in [
        (rig(1_000.0, 2, 1, 0), 300.0, RigLimit::SingleTank, 0, 0.0),
        (rig(250.0, 1, 1, 0), 250.0, RigLimit::PumpAtLift, 0, 0.0),
        (rig(1_000.0, 2, 2, 1), 500.0, RigLimit::Siphons, 1, 200.0),
        // Two siphons move 1,000; the pump has 1,000 − 400 left.
        (rig(1_000.0, 2, 2, 2), 600.0, RigLimit::PumpAtLift, 2, 400.0),
        // A third would only take pump.
        (rig(1_000.0, 2, 3, 3), 600.0, RigLimit::PumpAtLift, 2, 400.0),
        // One suction passes 1,000, motive flow and all.
        (rig(1_500.0, 1, 2, 2), 600.0, RigLimit::Suction, 2, 400.0),
        (rig(1_500.0, 2, 2, 2), 1_000.0, RigLimit::Siphons, 2, 400.0),
        // A second pumper of 500 gpm feeds two siphons.
        (second(rig(1_000.0, 2, 2, 2)), 1_000.0, RigLimit::PumpAtLift, 2, 0.0),
        // No siphon: the second tank cannot be used.
        (rig(1_000.0, 2, 2, 0), 300.0, RigLimit::SingleTank, 0, 0.0),
        // 20 ft of lift: 0.59 of the rating (√(5.3/15.3) = 0.5886), less 200.
        (Rig { lift: Feet(20.0), ..rig(1_000.0, 2, 2, 1) }, 388.6, RigLimit::PumpAtLift, 1, 200.0),
        // 23 ft cannot be lifted.
        (Rig { lift: Feet(23.0), ..rig(1_000.0, 2, 2, 1) }, 0.0, RigLimit::PumpAtLift, 0, 0.0),
    ] {
        let got = rig.at_the_tanks(&SET()).unwrap();
        assert!((got.flow.get() - flow).abs() < 0.1, "{rig:?}: {got:?}");
        assert_eq!((got.limit, got.siphons_running, got.motive.get()), (limit, running, motive), "{rig:?}");
        assert_eq!(rig.to_the_attack(&SET()), Ok(got), "without a line it is the same");
    }
}

/// 10 ft of lift are 4.34 psi: at 195.66 psi of discharge the net pressure is 200, where a pump
/// gives 70 % (NWCG; from memory of NFPA 1911).
#[test]
fn pressure_takes_pump() {
    let mut high = Rig { lift: Feet(10.0), ..rig(900.0, 2, 2, 1) };
    high.pumper.pressure = Psi(195.66);
    // 630 gpm, of which one siphon takes 200.
    let got = high.at_the_tanks(&SET()).unwrap();
    assert!((got.flow.get() - 430.0).abs() < 1e-6 && got.limit == RigLimit::PumpAtPressure, "{got:?}");
    // A short line needs far less than 196 psi, so the pump is run lower and gives all it can at
    // this lift: 900 − 200 = 700, and the siphon moves 500.
    let short = Rig { line: line(100.0), ..high };
    assert_eq!(short.at_the_tanks(&SET()).unwrap().limit, RigLimit::Siphons);
    // A long one: 5 in, 4,000 ft loses 320 psi at 1,000 gpm: 175.66 psi of it carry 740.9 gpm.
    let long = Rig { line: line(4_000.0), ..high };
    let got = long.to_the_attack(&SET()).unwrap();
    // The flow Q at which the pump still gives Q + 200: at Q the discharge is 20 + 320·(Q/1,000)²,
    // which at Q = 500 is 100 psi, below the siphon's 104: net 108.3 psi, all 900 gpm.
    assert_eq!((got.flow.get(), got.limit), (500.0, RigLimit::Siphons));
    // 12,000 ft: 175.66 psi carry 1,000·√(175.66/960) = 427.8 gpm.
    let longest = Rig { line: line(12_000.0), ..long };
    let got = longest.to_the_attack(&SET()).unwrap();
    assert!((got.flow.get() - 427.76).abs() < 0.01 && got.limit == RigLimit::SupplyLine, "{got:?}");
    assert_eq!((got.siphons_running, got.motive.get()), (1, 200.0));
}

#[test]
fn valves_follow_the_flow() {
    let both = rig(1_500.0, 2, 3, 2);
    let found = settings_by_flow(&both, &SET()).unwrap();
    let rows: Vec<_> = found.iter().map(|s| (s.flow.get(), s.siphons(), s.drawn.get(), s.suctions)).collect();
    // One suction tube passes 1,000 gpm, motive flow included.
    assert_eq!(
        rows,
        [(250.0, 1, 450.0, 1), (500.0, 1, 700.0, 1), (750.0, 2, 1_150.0, 2), (1_000.0, 2, 1_400.0, 2)]
    );
    assert_eq!(both.setting(GallonsPerMinute(1_001.0), &SET()), Ok(None));
    // A pump too small for motive flow gives what one tank supports, without siphons.
    let small = rig(250.0, 1, 2, 1).setting(GallonsPerMinute(200.0), &SET()).unwrap().unwrap();
    assert_eq!((small.siphons(), small.drawn.get()), (0, 200.0));
    // The second pumper's siphons come first, and only the others load the drafting pump.
    let second = Rig { transfer: Some(pumper(250.0, 1)), ..both };
    let set = second.setting(GallonsPerMinute(1_000.0), &SET()).unwrap().unwrap();
    assert_eq!((set.siphons_by_second, set.siphons_by_first, set.drawn.get()), (1, 1, 1_200.0));
}

#[test]
fn what_to_call_for() {
    let call = |rig: Rig, gpm: f64| call_for(&rig, GallonsPerMinute(gpm), &SET()).unwrap();
    assert!(call(rig(1_250.0, 2, 2, 1), 500.0).unwrap().nothing());
    // One tank: a second and a siphon.
    let more = call(rig(1_250.0, 2, 1, 0), 500.0).unwrap();
    assert_eq!((more.tanks, more.siphons, more.suctions, more.second_pumper), (1, 1, 0, None));
    // 600 gpm and two siphons draw 1,000: one suction does; 750 and two draw 1,150.
    let more = call(rig(1_250.0, 1, 2, 1), 750.0).unwrap();
    assert_eq!((more.tanks, more.siphons, more.suctions, more.second_pumper), (0, 1, 1, None));
    // 1,000 gpm and two siphons' 400 are beyond 1,250: a second pumper that feeds one siphon, the
    // smallest there is.
    let more = call(rig(1_250.0, 2, 2, 2), 1_000.0).unwrap();
    assert_eq!((more.second_pumper, more.larger_pumper), (Some(GallonsPerMinute(500.0)), None));
    // 1,500 gpm is beyond the pump itself.
    let more = call(rig(1_250.0, 2, 2, 2), 1_500.0).unwrap();
    assert!(more.larger_pumper.is_some() && more.siphons == 1, "{more:?}");
    // 1,000 gpm over 3,000 ft of 5 in lose 240 psi; two lines 60.
    let more = call(Rig { line: line(3_000.0), ..rig(1_500.0, 2, 2, 2) }, 1_000.0).unwrap();
    assert_eq!((more.lines, more.siphons), (1, 0));
    // Nothing lifts 23 ft, and no rig of one site gives 9,000.
    assert_eq!(call(Rig { lift: Feet(23.0), ..rig(1_250.0, 2, 2, 2) }, 500.0), None);
    assert_eq!(call(rig(1_250.0, 2, 2, 2), 9_000.0), None);
}

#[test]
fn stages_end_with_the_whole_rig() {
    let whole = Rig { transfer: Some(pumper(500.0, 1)), ..rig(1_250.0, 2, 3, 3) };
    let found = stages(&whole, &SET()).unwrap();
    let steps: Vec<Step> = found.iter().map(|s| s.step).collect();
    assert_eq!(
        steps,
        [
            Step::First,
            Step::Tank { tank: 2, siphon: Some(1) },
            Step::Tank { tank: 3, siphon: Some(2) },
            // 600 gpm and two siphons' 400 fill the one suction.
            Step::Suction { suction: 2 },
            // 850 and 400 are all of the pump.
            Step::SecondPumper,
            Step::Siphon { siphon: 3, from_tank: 2 },
        ]
    );
    let flows: Vec<f64> = found.iter().map(|s| s.then.flow.get().round()).collect();
    assert_eq!(flows, [300.0, 500.0, 600.0, 850.0, 1_000.0, 1_050.0]);
    assert_eq!(found.last().unwrap().then, whole.to_the_attack(&SET()).unwrap());
    let from: Vec<u32> = (1..=5).map(|siphon| siphon_from(siphon, 3)).collect();
    assert_eq!(from, [2, 3, 2, 3, 2]);
    assert_eq!(siphon_from(1, 1), 0);
}
