//! What must always hold: more of a good thing never gives less. Drawn from a fixed seed.

use rand::{RngExt, SeedableRng};
use rand_pcg::Pcg64Mcg;
use tankerloop::units::*;
use tankerloop::water::demand::*;
use tankerloop::water::draft::*;
use tankerloop::water::dry_hydrant::*;
use tankerloop::water::hose::*;
use tankerloop::water::rig::call::call_for;
use tankerloop::water::rig::{Pumper, Rig, SupplyLine};
use tankerloop::water::transfer::*;

const SEED: u64 = 0x7A9C;
const ROUNDS: usize = 2_000;

/// A longer lay, a higher end, a narrower hose never carries more; more pressure, one more line
/// never less.
#[test]
fn hose_is_monotone() {
    let mut dice = Pcg64Mcg::seed_from_u64(SEED);
    for _ in 0..ROUNDS {
        let size = HoseSize::ALL[dice.random_range(0..10)];
        let lay = Lay {
            diameter: size,
            length: Feet(dice.random_range(1.0..5_000.0)),
            lines: dice.random_range(1..5),
        };
        let (pump, residual) = (Psi(dice.random_range(50.0..250.0)), Psi(dice.random_range(0.0..60.0)));
        let gain = Feet(dice.random_range(-200.0..300.0));
        let more = dice.random_range(0.0..500.0);
        let flow = |lay: Lay, pump, gain| lay.flow(pump, residual, gain).unwrap();
        let base = flow(lay, pump, gain);
        assert!(flow(Lay { length: lay.length + Feet(more), ..lay }, pump, gain) <= base);
        assert!(flow(lay, pump, gain + Feet(more)) <= base);
        assert!(flow(lay, pump + Psi(more), gain) >= base);
        assert!(flow(Lay { lines: lay.lines + 1, ..lay }, pump, gain) >= base);
        let wider = HoseSize::ALL.into_iter().find(|s| s.coefficient() < size.coefficient()).unwrap();
        assert!(flow(Lay { diameter: wider, ..lay }, pump, gain) >= base);
        let needs = |q| lay.pump_pressure(GallonsPerMinute(q), residual, gain).unwrap();
        assert!(needs(base.get() + more) >= needs(base.get()));
        let reach = |q, up| relay_reach(size, lay.lines, GallonsPerMinute(q), pump, residual, up).unwrap();
        assert!(reach(500.0 + more, gain) <= reach(500.0, gain));
        assert!(reach(500.0, gain + Feet(more)) <= reach(500.0, gain));
    }
}

/// Higher lift, altitude or pressure never gives more; a larger pump never less; no pump passes
/// its rating; a deeper or longer dry hydrant never gives more.
#[test]
fn draft_is_monotone() {
    let mut dice = Pcg64Mcg::seed_from_u64(SEED);
    for _ in 0..ROUNDS {
        let rated = GallonsPerMinute(dice.random_range(100.0..2_500.0));
        let (lift, altitude) =
            (Feet(dice.random_range(0.0..30.0)), Feet(dice.random_range(-500.0..12_000.0)));
        let (dh, da) = (Feet(dice.random_range(0.0..10.0)), Feet(dice.random_range(0.0..5_000.0)));
        for curve in [CapacityCurve::Lower, CapacityCurve::Ifsta, CapacityCurve::SquareRoot] {
            let at = |rated, lift, altitude| capacity_at_draft(rated, lift, altitude, curve).unwrap();
            let base = at(rated, lift, altitude);
            assert!(base <= rated && base.get() >= 0.0);
            assert!(at(rated, lift + dh, altitude) <= base);
            assert!(at(rated, lift, altitude + da) <= base);
            assert!(at(rated * 1.1, lift, altitude) >= base);
        }
        let psi = Psi(dice.random_range(0.0..300.0));
        let press = |psi| capacity_at_pressure(rated, psi).unwrap();
        assert!(press(psi + Psi(dh.get())) <= press(psi) && press(psi) <= rated);

        let hydrant =
            dry(lift.get(), [6.0, 8.0, 10.0, 12.0][dice.random_range(0..4)], dice.random_range(0.0..500.0));
        let most = |hydrant: DryHydrant| hydrant.greatest_flow(DRY_HYDRANT_HEAD).unwrap();
        let base = most(hydrant);
        assert!(most(DryHydrant { lift_ft: lift + dh, ..hydrant }) <= base);
        assert!(most(DryHydrant { pipe_ft: hydrant.pipe_ft + da, ..hydrant }) <= base);
        assert!(most(DryHydrant { elbows_90: 1, ..hydrant }) <= base);
        if lift <= DRY_HYDRANT_HEAD {
            assert!((hydrant.total_head(base).unwrap() - DRY_HYDRANT_HEAD).get().abs() < 1e-6);
        }
    }
}

fn any_pumper(dice: &mut Pcg64Mcg) -> Pumper {
    Pumper {
        rated: GallonsPerMinute(dice.random_range(100.0..2_500.0)),
        pressure: Psi(dice.random_range(60.0..260.0)),
        suctions: dice.random_range(1..5),
        suction: Inches([2.5, 4.0, 4.5, 5.0, 6.0, 8.0][dice.random_range(0..6)]),
    }
}

fn any_rig(dice: &mut Pcg64Mcg) -> Rig {
    let line = SupplyLine {
        lay: Lay {
            diameter: HoseSize::ALL[dice.random_range(3..11)],
            length: Feet(dice.random_range(1.0..6_000.0)),
            lines: dice.random_range(1..3),
        },
        residual: Psi(20.0),
        gain: Feet(dice.random_range(-50.0..80.0)),
    };
    let second = any_pumper(dice);
    Rig {
        pumper: any_pumper(dice),
        transfer: dice.random_bool(0.4).then_some(second),
        tanks: dice.random_range(1..6),
        siphons: dice.random_range(0..8),
        lift: Feet(dice.random_range(0.0..20.0)),
        altitude: Feet(dice.random_range(0.0..6_000.0)),
        curve: CapacityCurve::Lower,
        line: dice.random_bool(0.7).then_some(line),
    }
}

/// One more siphon, tank, suction, supply line or pumper, a larger pump, a wider suction never lowers
/// the flow to the attack; a longer or narrower hose, a rise, more lift or altitude, dearer siphons
/// or a longer motive line never raise it. It never passes the pump, and the rig can be set for it
/// and for all below it, and for nothing above.
#[test]
fn rigs_are_monotone() {
    println!("seed {SEED}");
    let mut dice = Pcg64Mcg::seed_from_u64(SEED);
    for _ in 0..ROUNDS {
        let rig = any_rig(&mut dice);
        let set =
            TransferSettings { share_moved: dice.random_range(0.3..1.0), ..TransferSettings::default() };
        let gives = |rig: Rig, set: &TransferSettings| rig.to_the_attack(set).unwrap().flow.get();
        // Flows found by halving are good to far less than this.
        const HAIR: f64 = 1e-6;
        let base = gives(rig, &set);
        assert!((0.0..=rig.pumper.rated.get() + HAIR).contains(&base), "{rig:?}: {base}");
        let better = |what: &str, rig_: Rig| {
            let more = gives(rig_, &set);
            assert!(more >= base - HAIR, "{what}: {more} for {base}\n{rig:?}");
        };
        let pumper = rig.pumper;
        better("a tank", Rig { tanks: rig.tanks + 1, ..rig });
        better("a siphon", Rig { siphons: rig.siphons + 1, ..rig });
        better("a tank and a siphon", Rig { tanks: rig.tanks + 1, siphons: rig.siphons + 1, ..rig });
        better("a suction", Rig { pumper: Pumper { suctions: pumper.suctions + 1, ..pumper }, ..rig });
        better("a wide suction", Rig { pumper: Pumper { suction: Inches(8.0), ..pumper }, ..rig });
        let rated = pumper.rated + GallonsPerMinute(dice.random_range(0.0..500.0));
        better("a larger pump", Rig { pumper: Pumper { rated, ..pumper }, ..rig });
        let second = any_pumper(&mut dice);
        if rig.transfer.is_none() {
            better("a second pumper", Rig { transfer: Some(second), ..rig });
        }
        let worse = |what: &str, rig_: Rig, set: &TransferSettings| {
            let less = gives(rig_, set);
            assert!(less <= base + HAIR, "{what}: {less} for {base}\n{rig:?}");
        };
        let more = Feet(dice.random_range(0.0..500.0));
        if let Some(line) = rig.line {
            let with = |line: SupplyLine| Rig { line: Some(line), ..rig };
            let lay = line.lay;
            worse(
                "longer hose",
                with(SupplyLine { lay: Lay { length: lay.length + more, ..lay }, ..line }),
                &set,
            );
            worse("a rise", with(SupplyLine { gain: line.gain + more, ..line }), &set);
            worse(
                "narrow hose",
                with(SupplyLine { lay: Lay { diameter: HoseSize::Two, ..lay }, ..line }),
                &set,
            );
            better("a line", with(SupplyLine { lay: Lay { lines: lay.lines + 1, ..lay }, ..line }));
        }
        worse("lift", Rig { lift: rig.lift + more / 50.0, ..rig }, &set);
        worse("altitude", Rig { altitude: rig.altitude + more * 5.0, ..rig }, &set);
        let dear = TransferSettings { siphon_motive_gpm: GallonsPerMinute(250.0), ..set };
        worse("dear siphons", rig, &dear);
        worse("motive hose", rig, &TransferSettings { motive_ft: set.motive_ft + more, ..set });

        let can = |gpm: f64| rig.setting(GallonsPerMinute(gpm), &set).unwrap();
        let below = dice.random_range(0.0..1.0) * base;
        for flow in [base, below] {
            let setting = can(flow).unwrap_or_else(|| panic!("cannot be set for {flow} of {base}: {rig:?}"));
            assert!((setting.drawn - setting.motive).get() - flow < HAIR);
            assert!(setting.siphons() <= rig.siphons && setting.suctions <= pumper.suctions);
        }
        assert_eq!(can(base + 0.1), None, "{rig:?}");
    }
}

/// Needs never fall as the flow grows; unloading never takes longer for more room or draw; more
/// gallons of tank never last shorter.
#[test]
fn needs_and_unloading_are_monotone() {
    let mut dice = Pcg64Mcg::seed_from_u64(SEED);
    for _ in 0..ROUNDS {
        let set = TransferSettings::default();
        let flow = GallonsPerMinute(dice.random_range(0.0..3_000.0));
        let more = GallonsPerMinute(dice.random_range(0.0..400.0));
        let tanks = dice.random_range(1..6);
        let needed = |q| siphons_needed(q, tanks, &set).unwrap();
        assert!(needed(flow + more) >= needed(flow));
        assert!(siphons_needed(flow, tanks + 1, &set).unwrap() >= needed(flow));

        let load = Gallons(dice.random_range(100.0..5_000.0));
        let room = Gallons(dice.random_range(0.0..6_000.0));
        let unload = |room, out| unload_time(load, room, GallonsPerMinute(800.0), out).unwrap();
        let out = GallonsPerMinute(dice.random_range(1.0..1_500.0));
        assert!(unload(room + Gallons(100.0), out) <= unload(room, out));
        assert!(unload(room, out + more) <= unload(room, out));
    }
}

/// What is called for gives the flow, and nothing of it can be left out. Whatever is called for, more
/// flow is never had for less.
#[test]
fn a_call_is_enough_and_no_more() {
    println!("seed {SEED}");
    let mut dice = Pcg64Mcg::seed_from_u64(SEED);
    let set = TransferSettings::default();
    let mut answered = 0;
    for _ in 0..150 {
        let rig = any_rig(&mut dice);
        let wanted = GallonsPerMinute(f64::from(dice.random_range(1..8)) * 250.0);
        let has = |rig: Rig| rig.to_the_attack(&set).unwrap().flow.get() >= wanted.get() - 1e-6;
        let Some(call) = call_for(&rig, wanted, &set).unwrap() else {
            assert!(!has(rig), "{rig:?} gives {wanted}, and no call is found");
            continue;
        };
        answered += 1;
        assert!(has(call.rig), "{wanted}: {call:?}");
        assert_eq!(call.nothing(), has(rig), "{wanted}: {rig:?}");
        let with = call.rig;
        let less = [
            (call.tanks > 0, Rig { tanks: with.tanks.saturating_sub(1), ..with }),
            (call.siphons > 0, Rig { siphons: with.siphons.saturating_sub(1), ..with }),
            (
                call.suctions > 0,
                Rig { pumper: Pumper { suctions: with.pumper.suctions - 1, ..with.pumper }, ..with },
            ),
            (call.second_pumper.is_some(), Rig { transfer: None, ..with }),
            (call.larger_pumper.is_some(), Rig { pumper: rig.pumper, ..with }),
            (call.lines > 0, Rig { line: rig.line, ..with }),
        ];
        for (called, without) in less {
            assert!(!called || !has(without), "{wanted}: {call:?} does without");
        }
    }
    assert!(answered > 75, "{answered} of 150 answered");
}

/// A larger building, a worse class, an exposure never needs less.
#[test]
fn demand_is_monotone() {
    let mut dice = Pcg64Mcg::seed_from_u64(SEED);
    for _ in 0..ROUNDS {
        let building = Building {
            volume_ft3: CubicFeet(dice.random_range(1.0..500_000.0)),
            occupancy_hazard: dice.random_range(4..=7),
            construction: Construction::Iii,
            exposures: false,
            dwelling: false,
        };
        let supply = |b: Building| b.minimum_supply(&DemandSettings::default()).unwrap();
        let base = supply(building);
        let more = building.volume_ft3 * dice.random_range(1.0..2.0);
        for worse in [
            Building { volume_ft3: more, ..building },
            Building { occupancy_hazard: building.occupancy_hazard - 1, ..building },
            Building { construction: Construction::V, ..building },
            Building { exposures: true, ..building },
        ] {
            assert!(supply(worse) >= base);
            assert!(delivery_rate(supply(worse)).unwrap() >= delivery_rate(base).unwrap());
        }
        let iso = IsoBuilding {
            construction: IsoConstruction::JoistedMasonry,
            area_ft2: dice.random_range(100.0..90_000.0),
            occupancy: 1.0,
            exposure: 0.0,
            communication: 0.0,
        };
        let flow = |b: IsoBuilding| b.needed().unwrap().flow;
        assert!(flow(IsoBuilding { area_ft2: iso.area_ft2 * 1.2, ..iso }) >= flow(iso));
        assert!(flow(IsoBuilding { exposure: 0.2, ..iso }) >= flow(iso));
    }
}

fn dry(lift: f64, inches: f64, feet: f64) -> DryHydrant {
    DryHydrant {
        lift_ft: Feet(lift),
        pipe_in: Inches(inches),
        pipe_ft: Feet(feet),
        elbows_90: 0,
        elbows_45: 0,
        reducers: 0,
        pump_gpm: None,
        measured_gpm: None,
    }
}
