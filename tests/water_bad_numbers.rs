//! No number, however absurd, makes the water floor panic or answer with NaN or infinity.

use tankerloop::units::*;
use tankerloop::water::Checked;
use tankerloop::water::credit::*;
use tankerloop::water::demand::*;
use tankerloop::water::draft::*;
use tankerloop::water::dry_hydrant::*;
use tankerloop::water::hose::*;
use tankerloop::water::hydrant::*;
use tankerloop::water::relay::*;
use tankerloop::water::rig::{Pumper, Rig, SupplyLine};
use tankerloop::water::source::*;
use tankerloop::water::transfer::*;

const NUMBERS: [f64; 24] = [
    f64::NAN,
    f64::INFINITY,
    f64::NEG_INFINITY,
    f64::MAX,
    f64::MIN,
    f64::MIN_POSITIVE,
    -0.0,
    0.0,
    1e-300,
    1e-9,
    1e-6,
    -1e-6,
    0.5,
    -1.0,
    1.0,
    5.0,
    20.0,
    100.0,
    -100.0,
    1_000.0,
    1e6,
    1e9,
    1e12,
    1e300,
];

/// Ok and finite, or an error whose text says what and how to mend it.
#[track_caller]
fn sound(name: &str, result: Checked<f64>) {
    match result {
        Ok(value) => assert!(value.is_finite() && value >= -1e12, "{name} gave {value}"),
        Err(error) => {
            let text = error.to_string();
            assert!(
                !error.what.is_empty() && !error.remedy.is_empty() && text.contains(';'),
                "{name}: {text}"
            );
        }
    }
}

fn gpm(x: f64) -> GallonsPerMinute {
    GallonsPerMinute(x)
}

type Call = (&'static str, fn([f64; 3]) -> Checked<f64>);

const CALLS: &[Call] = &[
    ("friction_loss", |[a, b, _]| friction_loss(HoseSize::Five, gpm(a), Feet(b)).map(Psi::get)),
    ("elevation_loss", |[a, ..]| elevation_loss(Feet(a)).map(Psi::get)),
    ("Lay::flow", |[a, b, c]| {
        let lay = Lay { diameter: HoseSize::OneAndHalf, length: Feet(a), lines: 3 };
        lay.flow(Psi(b), Psi(20.0), Feet(c)).map(GallonsPerMinute::get)
    }),
    ("Lay::pump_pressure", |[a, b, c]| {
        let lay = Lay { diameter: HoseSize::OneAndHalf, length: Feet(a), lines: 1 };
        lay.pump_pressure(gpm(b), Psi(c), Feet(a)).map(Psi::get)
    }),
    ("relay_reach", |[a, b, c]| {
        relay_reach(HoseSize::Six, 2, gpm(a), Psi(b), Psi(c), Feet(a)).map(Feet::get)
    }),
    ("relay_flow", |[a, b, c]| {
        let lay = Lay { diameter: HoseSize::Six, length: Feet(a), lines: 2 };
        relay_flow(&lay, 2, Psi(b), Psi(c), Feet::ZERO).map(GallonsPerMinute::get)
    }),
    ("relay", |[a, b, c]| {
        let lay = Lay { diameter: HoseSize::Three, length: Feet(a), lines: 1 };
        let found = propose(&lay, gpm(1_000.0), Psi(b), Psi(20.0), Feet(c), gpm(c))?;
        Ok(found.map_or(0.0, |relay| relay.flow.get()))
    }),
    ("hazen_williams_loss", |[a, b, c]| hazen_williams_loss(gpm(a), Inches(b), Feet(c), 140.0).map(Psi::get)),
    ("hazen_williams_loss C", |[a, ..]| {
        hazen_williams_loss(gpm(500.0), Inches(5.0), Feet(100.0), a).map(Psi::get)
    }),
    ("HoseSize::from_inches", |[a, ..]| HoseSize::from_inches(a).map(HoseSize::coefficient)),
    ("attainable_lift", |[a, ..]| attainable_lift(Feet(a)).map(Feet::get)),
    ("lift_from_vacuum", |[a, ..]| lift_from_vacuum(a).map(Feet::get)),
    ("capacity_at_draft", |[a, b, c]| {
        capacity_at_draft(gpm(a), Feet(b), Feet(c), CapacityCurve::Lower).map(GallonsPerMinute::get)
    }),
    ("capacity_share", |[a, ..]| capacity_share(Feet(a), CapacityCurve::SquareRoot)),
    ("capacity_at_pressure", |[a, b, _]| capacity_at_pressure(gpm(a), Psi(b)).map(GallonsPerMinute::get)),
    ("suction_for", |[a, ..]| suction_for(gpm(a)).map(|s| s.diameter.get())),
    ("suction_capacity", |[a, ..]| suction_capacity(Inches(a), 2).map(GallonsPerMinute::get)),
    ("outlet_flow", |[a, b, _]| outlet_flow(Inches(a), Outlet::Square, Psi(b)).map(GallonsPerMinute::get)),
    ("available_flow", |[a, b, c]| {
        available_flow(gpm(a), Psi(b), Psi(c), Psi(20.0)).map(|q| q.map_or(0.0, GallonsPerMinute::get))
    }),
    ("HydrantClass::of", |[a, ..]| HydrantClass::of(gpm(a)).map(|_| 0.0)),
    ("Verdict::of", |[a, ..]| Verdict::of(Feet(a)).map(|_| 0.0)),
    ("hydrant test", |[a, b, c]| {
        rated(Source::HydrantTest(HydrantTest {
            static_psi: Psi(a),
            residual_psi: Some(Psi(b)),
            flow_gpm: Some(gpm(c)),
            pitot: None,
        }))
    }),
    ("hydrant test by pitot", |[a, b, c]| {
        let pitot = Pitot { diameter_in: Inches(a), outlet: Outlet::Square, pitot_psi: Psi(b), outlets: 2 };
        rated(Source::HydrantTest(HydrantTest {
            static_psi: Psi(60.0),
            residual_psi: Some(Psi(c)),
            flow_gpm: None,
            pitot: Some(pitot),
        }))
    }),
    ("hydrant flow", |[a, ..]| rated(Source::HydrantFlow(gpm(a)))),
    ("dry hydrant", |[a, b, c]| rated(Source::DryHydrant(dry(a, b, c), draft(Some(c), Some(a))))),
    ("dry hydrant head", |[a, b, c]| dry(a, 6.0, b).total_head(gpm(c)).map(Feet::get)),
    ("dry hydrant flow", |[a, b, c]| dry(a, 6.0, b).greatest_flow(Feet(c)).map(GallonsPerMinute::get)),
    ("draft", |[a, b, _]| rated(Source::Draft(draft(Some(a), Some(b))))),
    ("draft through suction", |[a, b, c]| {
        let suction = Some((Inches(c), 2));
        rated(Source::Draft(DraftPoint { suction, ..draft(Some(a), Some(b)) }))
    }),
    ("draft by conditions", |[a, b, c]| {
        let conditions = Conditions {
            altitude_ft: Feet(c),
            fill_pump_gpm: Some(gpm(a)),
            assumed_lift_ft: Some(Feet(b)),
            ..Conditions::default()
        };
        rate(&Source::Draft(DraftPoint::default()), &conditions).map(|r| flow_of(&r))
    }),
    ("stream", |[a, b, c]| {
        rated(Source::Stream(Stream {
            width_ft: Feet(a),
            depth_ft: Feet(2.0),
            float_ft: Feet(b),
            float_s: Seconds(c),
            draft: DraftPoint::default(),
        }))
    }),
    ("pond", |[a, b, c]| {
        rated(Source::Pond(Pond { acres: a, usable_depth_ft: Feet(b), draft: draft(Some(c), Some(5.0)) }))
    }),
    ("cistern", |[a, b, c]| {
        rated(Source::Cistern(Cistern { usable_gal: Gallons(a), draft: draft(Some(b), Some(c)) }))
    }),
    ("time_to_exhaustion", |[a, b, c]| {
        time_to_exhaustion(Gallons(a), gpm(b), gpm(c)).map(|t| t.map_or(0.0, Seconds::get))
    }),
    ("least_tank", |[a, ..]| TankRule::Larger.least_tank(Gallons(a)).map(Gallons::get)),
    ("siphons_needed", |[a, b, c]| siphons_needed(gpm(a), 3, &settings(b, c, 1.0)).map(f64::from)),
    ("left_for_fire", |[a, b, c]| {
        left_for_fire(gpm(a), u32::MAX, &settings(500.0, b, c)).map(GallonsPerMinute::get)
    }),
    ("rig", |[a, b, c]| {
        let rig = rig(Pumper { rated: gpm(a), pressure: Psi(b), suctions: 2, suction: Inches(c) }, 5.0);
        rig.to_the_attack(&TransferSettings::default()).map(|r| r.flow.get() + r.motive.get())
    }),
    ("rig lift", |[a, b, c]| {
        let rig = Rig { altitude: Feet(b), ..rig(PUMPER, a) };
        let set = rig.setting(gpm(c), &TransferSettings::default())?;
        Ok(set.map_or(0.0, |s| s.drawn.get() + s.discharge.get()))
    }),
    ("rig line", |[a, b, c]| {
        let lay = Lay { diameter: HoseSize::Five, length: Feet(a), lines: 1 };
        let line = Some(SupplyLine { lay, residual: Psi(b), gain: Feet(c) });
        let rig = Rig { line, ..rig(PUMPER, 5.0) };
        rig.to_the_attack(&TransferSettings::default()).map(|r| r.flow.get() + r.motive.get())
    }),
    ("rig settings", |[a, b, c]| {
        rig(PUMPER, 5.0).to_the_attack(&settings(a, b, c)).map(|r| r.flow.get() + r.motive.get())
    }),
    ("rig motive line", |[a, b, _]| {
        let set = TransferSettings { siphon_psi: Psi(a), motive_ft: Feet(b), ..TransferSettings::default() };
        rig(PUMPER, 5.0).to_the_attack(&set).map(|r| r.flow.get() + r.motive.get())
    }),
    ("usable_volume", |[a, b, c]| {
        let lot = Lot::Grade { percent: c };
        usable_volume(Gallons(a), Feet(b), lot, &TransferSettings::default()).map(Gallons::get)
    }),
    ("unload_time", |[a, b, c]| unload_time(Gallons(a), Gallons(b), gpm(1e3), gpm(c)).map(Seconds::get)),
    ("unload_time rate", |[a, b, _]| {
        unload_time(Gallons(a), Gallons(1.0), gpm(b), gpm(1.0)).map(Seconds::get)
    }),
    ("gravity time", |[a, b, c]| dump(a, b, c, 0.6).time(0.9).map(Seconds::get)),
    ("gravity mean rate", |[a, b, _]| dump(2e3, 4.5, 8.0, a).mean_rate(b).map(GallonsPerMinute::get)),
    ("building_volume", |[a, b, c]| building_volume(Feet(a), Feet(b), Feet(c), Feet(a)).map(CubicFeet::get)),
    ("minimum supply", |[a, b, c]| {
        let set = DemandSettings {
            construction_numbers: [b; 5],
            dwelling_cap: Some(c),
            exposure_rule: ExposureRule::default(),
        };
        let building = Building {
            volume_ft3: CubicFeet(a),
            occupancy_hazard: 3,
            construction: Construction::Iv,
            exposures: true,
            dwelling: true,
        };
        Demand::MinimumSupply(building)
            .needed(&set)
            .map(|n| n.flow.get() + n.supply.map_or(0.0, Gallons::get))
    }),
    ("delivery_rate", |[a, ..]| delivery_rate(Gallons(a)).map(GallonsPerMinute::get)),
    ("given", |[a, ..]| needed(Demand::Given(GivenFlow { flow_gpm: gpm(a) }))),
    ("Iowa", |[a, b, c]| {
        needed(Demand::Iowa(OpenSpace { length_ft: Feet(a), width_ft: Feet(b), height_ft: Feet(c) }))
    }),
    ("NFA", |[a, b, c]| {
        let floor = FireFloor { length_ft: Feet(a), width_ft: Feet(b), involved: c, floors: 2, exposures: 3 };
        needed(Demand::NationalFireAcademy(floor))
    }),
    ("ISO", |[a, b, c]| {
        needed(Demand::IsoNeededFireFlow(IsoBuilding {
            construction: IsoConstruction::Frame,
            area_ft2: a,
            occupancy: 1.0,
            exposure: b,
            communication: c,
        }))
    }),
    ("credit", |[a, b, c]| {
        alternative_supply_credit(&[SupplyStep { from: Seconds(a), flow: gpm(b) }], Seconds(c))
            .map(|credit| credit.flow.get())
    }),
];

fn draft(pump: Option<f64>, lift: Option<f64>) -> DraftPoint {
    DraftPoint { pump_gpm: pump.map(gpm), drought_lift_ft: lift.map(Feet), ..DraftPoint::default() }
}

fn rated(source: Source) -> Checked<f64> {
    rate(&source, &Conditions::default()).map(|rating| flow_of(&rating))
}

fn flow_of(rating: &Rating) -> f64 {
    assert!(rating.flow.is_some() || !rating.notes.is_empty(), "not rated without a word: {rating:?}");
    rating.flow.map_or(0.0, GallonsPerMinute::get) + rating.volume.map_or(0.0, Gallons::get)
}

fn needed(demand: Demand) -> Checked<f64> {
    demand.needed(&DemandSettings::default()).map(|n| n.flow.get())
}

fn dry(lift: f64, inches: f64, feet: f64) -> DryHydrant {
    DryHydrant {
        lift_ft: Feet(lift),
        pipe_in: Inches(inches),
        pipe_ft: Feet(feet),
        elbows_90: 1,
        elbows_45: 1,
        reducers: 1,
        pump_gpm: None,
        measured_gpm: None,
    }
}

const PUMPER: Pumper =
    Pumper { rated: GallonsPerMinute(1_250.0), pressure: Psi(175.0), suctions: 2, suction: Inches(6.0) };

fn rig(pumper: Pumper, lift: f64) -> Rig {
    let lay = Lay { diameter: HoseSize::Four, length: Feet(800.0), lines: 1 };
    Rig {
        pumper,
        transfer: Some(pumper),
        tanks: 3,
        siphons: 6,
        lift: Feet(lift),
        altitude: Feet(0.0),
        curve: CapacityCurve::Lower,
        line: Some(SupplyLine { lay, residual: Psi(20.0), gain: Feet(0.0) }),
    }
}

fn settings(moved: f64, motive: f64, share: f64) -> TransferSettings {
    TransferSettings {
        siphon_moved_gpm: gpm(moved),
        siphon_motive_gpm: gpm(motive),
        share_moved: share,
        ..TransferSettings::default()
    }
}

fn dump(gallons: f64, head: f64, inches: f64, coefficient: f64) -> GravityDump {
    GravityDump { tank_gal: Gallons(gallons), head_ft: Feet(head), outlet_in: Inches(inches), coefficient }
}

/// Every call with every triple of the numbers above.
#[test]
fn nothing_breaks() {
    for (name, call) in CALLS {
        for a in NUMBERS {
            for b in NUMBERS {
                for c in NUMBERS {
                    sound(&format!("{name}({a}, {b}, {c})"), call([a, b, c]));
                }
            }
        }
    }
}

/// NaN and infinity are refused by every call, not only survived.
#[test]
fn nan_is_refused_everywhere() {
    for (name, call) in CALLS {
        for bad in [f64::NAN, f64::INFINITY] {
            assert!(call([bad, 10.0, 10.0]).is_err(), "{name} took {bad}");
        }
    }
}

/// Counts: none where one is needed, and absurdly many.
#[test]
fn counts_are_bounded() {
    let lay = Lay { diameter: HoseSize::Five, length: Feet(100.0), lines: 0 };
    for lines in [0, 101, u32::MAX] {
        assert!(Lay { lines, ..lay }.flow(Psi(100.0), Psi(0.0), Feet(0.0)).is_err());
        assert!(relay_reach(HoseSize::Five, lines, gpm(500.0), Psi(100.0), Psi(0.0), Feet(0.0)).is_err());
        assert!(suction_capacity(Inches(6.0), lines).is_err());
        assert!(siphons_needed(gpm(500.0), lines, &TransferSettings::default()).is_err());
        let set = TransferSettings::default();
        assert!(Rig { tanks: lines, ..rig(PUMPER, 5.0) }.to_the_attack(&set).is_err());
        let none = Pumper { suctions: lines, ..PUMPER };
        assert!(rig(none, 5.0).to_the_attack(&set).is_err());
        assert!(Rig { transfer: Some(none), ..rig(PUMPER, 5.0) }.setting(gpm(500.0), &set).is_err());
    }
    let many =
        DryHydrant { elbows_90: u32::MAX, elbows_45: u32::MAX, reducers: u32::MAX, ..dry(5.0, 6.0, 10.0) };
    assert!(many.equivalent_length().is_err());
}
