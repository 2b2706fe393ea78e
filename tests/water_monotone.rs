//! What must always hold: more of a good thing never gives less. Drawn from a fixed seed.

use rand::{RngExt, SeedableRng};
use rand_pcg::Pcg64Mcg;
use tankerloop::units::*;
use tankerloop::water::demand::*;
use tankerloop::water::draft::*;
use tankerloop::water::dry_hydrant::*;
use tankerloop::water::hose::*;
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

/// One more tank, siphon, suction or pump never lowers a rig's flow; a rig never gives more than
/// its pump or suction; dearer siphons never help; needs never fall as the flow grows.
#[test]
fn rigs_are_monotone() {
    let mut dice = Pcg64Mcg::seed_from_u64(SEED);
    for _ in 0..ROUNDS {
        let mut gpm = |most: f64| GallonsPerMinute(dice.random_range(0.0..most));
        let (pump, suction, second, more) = (gpm(3_000.0), gpm(4_000.0), gpm(1_000.0), gpm(400.0));
        let rig = Rig {
            pump,
            suction,
            tanks: dice.random_range(1..6),
            siphons: dice.random_range(0..8),
            transfer_pump: second,
        };
        let set =
            TransferSettings { share_moved: dice.random_range(0.3..1.0), ..TransferSettings::default() };
        let flow = |rig: Rig, set| rig_flow(&rig, set).unwrap().flow;
        let base = flow(rig, &set);
        assert!(base <= pump && base <= suction && base.get() >= 0.0);
        assert!(flow(Rig { tanks: rig.tanks + 1, ..rig }, &set) >= base);
        assert!(flow(Rig { siphons: rig.siphons + 1, ..rig }, &set) >= base);
        assert!(flow(Rig { pump: pump + more, ..rig }, &set) >= base);
        assert!(flow(Rig { suction: suction + more, ..rig }, &set) >= base);
        assert!(flow(Rig { transfer_pump: second + more, ..rig }, &set) >= base);
        let dear = TransferSettings { siphon_motive_gpm: GallonsPerMinute(250.0), ..set };
        assert!(flow(rig, &dear) <= base);

        let needed = |q| siphons_needed(q, rig.tanks, &set).unwrap();
        assert!(needed(pump + more) >= needed(pump));
        assert!(siphons_needed(pump, rig.tanks + 1, &set).unwrap() >= needed(pump));
        let (small, large) = (rig_for(pump, &set).unwrap(), rig_for(pump + more, &set).unwrap());
        assert!(large.pump >= small.pump && large.tanks >= small.tanks && large.siphons >= small.siphons);

        let load = Gallons(dice.random_range(100.0..5_000.0));
        let room = Gallons(dice.random_range(0.0..6_000.0));
        let unload = |room, out| unload_time(load, room, GallonsPerMinute(800.0), out).unwrap();
        let out = GallonsPerMinute(dice.random_range(1.0..1_500.0));
        assert!(unload(room + Gallons(100.0), out) <= unload(room, out));
        assert!(unload(room, out + more) <= unload(room, out));
    }
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
