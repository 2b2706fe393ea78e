use super::*;
use crate::finding::Where;

fn pump(gpm: f64, lift: f64) -> DraftPoint {
    DraftPoint { pump_gpm: Some(GallonsPerMinute(gpm)), lift_ft: Some(Feet(lift)), ..DraftPoint::default() }
}

fn lift(feet: f64) -> DraftPoint {
    DraftPoint { lift_ft: Some(Feet(feet)), ..DraftPoint::default() }
}

fn pipe(measured: Option<f64>) -> DryHydrant {
    DryHydrant {
        lift_ft: Feet(0.0),
        pipe_in: Inches(8.0),
        pipe_ft: Feet(50.0),
        elbows_90: 1,
        elbows_45: 0,
        reducers: 0,
        pump_gpm: None,
        measured_gpm: measured.map(GallonsPerMinute),
    }
}

const CONDITIONS: Conditions = Conditions {
    altitude_ft: Feet(0.0),
    curve: CapacityCurve::Lower,
    level: WaterLevel::Drought,
    fill_pump_gpm: Some(GallonsPerMinute(1_000.0)),
    assumed_lift_ft: None,
};

#[test]
fn every_kind_is_rated() {
    let test = HydrantTest {
        static_psi: crate::units::Psi(65.0),
        residual_psi: Some(crate::units::Psi(50.0)),
        flow_gpm: Some(GallonsPerMinute(800.0)),
        pitot: None,
    };
    let stream = Stream {
        width_ft: Feet(4.0),
        depth_ft: Feet(0.5),
        float_ft: Feet(100.0),
        float_s: Seconds(126.0),
        draft: lift(5.0),
    };
    let pond = Pond { acres: 1.0, usable_depth_ft: Feet(4.0), draft: pump(750.0, 5.0) };
    let cistern = Cistern { usable_gal: Gallons(30_000.0), draft: DraftPoint::default() };
    let wet = DraftPoint { suction: Some((Inches(4.0), 1)), ..lift(8.0) };
    for (source, flow, volume, basis) in [
        (Source::HydrantTest(test), Some(1448.0), None, Basis::Measured),
        (Source::HydrantFlow(GallonsPerMinute(600.0)), Some(600.0), None, Basis::Measured),
        // 22 = 8 + (4.8 + 0.5027·0.7)·(Q/500)², Q 824.2.
        (Source::DryHydrant(pipe(None), lift(8.0)), Some(824.2), None, Basis::Computed),
        (Source::DryHydrant(pipe(Some(700.0)), lift(8.0)), Some(700.0), None, Basis::Measured),
        (Source::DryHydrant(pipe(Some(700.0)), DraftPoint::default()), Some(700.0), None, Basis::Measured),
        (Source::DryHydrant(pipe(None), DraftPoint::default()), None, None, Basis::Unknown),
        // A 4-in suction passes 500 gpm (from memory of NFPA 1901).
        (Source::DryHydrant(pipe(None), wet), Some(500.0), None, Basis::Computed),
        (Source::Draft(wet), Some(500.0), None, Basis::Computed),
        (Source::Draft(lift(15.0)), Some(700.0), None, Basis::Computed),
        (Source::Draft(lift(30.0)), Some(0.0), None, Basis::Computed),
        (Source::Draft(DraftPoint::default()), None, None, Basis::Unknown),
        (Source::Stream(stream), Some(569.9), None, Basis::Computed),
        (Source::Pond(pond), Some(750.0), Some(1_303_406.0), Basis::Computed),
        (Source::Cistern(cistern), None, Some(30_000.0), Basis::Unknown),
    ] {
        let rating = rate(&source, &CONDITIONS).unwrap();
        let near = |got: Option<f64>, want: Option<f64>| match (got, want) {
            (Some(got), Some(want)) => (got - want).abs() < 0.5,
            (got, want) => got == want,
        };
        assert!(near(rating.flow.map(GallonsPerMinute::get), flow), "{source:?}: {:?}", rating.flow);
        assert!(near(rating.volume.map(Gallons::get), volume), "{source:?}: {:?}", rating.volume);
        assert_eq!(rating.basis, basis, "{source:?}");
        assert!(rating.flow.is_some_and(|q| q.get() > 0.0) || !rating.notes.is_empty(), "{source:?}");
        assert!(!rating.told_text().is_empty(), "{source:?}");
    }
}

/// 1,000 gpm at 10 ft, 700 at 15 ft (IFSTA): the drought level counts unless the normal one is asked
/// for, and where only the normal one is known that is told.
#[test]
fn the_drought_level_counts() {
    let both = DraftPoint { drought_lift_ft: Some(Feet(15.0)), ..lift(10.0) };
    let at =
        |draft: DraftPoint, level| rate(&Source::Draft(draft), &Conditions { level, ..CONDITIONS }).unwrap();
    let drought = at(both, WaterLevel::Drought);
    assert_eq!(drought.flow, Some(GallonsPerMinute(700.0)));
    let text = drought.told_text();
    assert!(text.contains("measured: lift 15.0 ft at drought level"), "{text}");
    assert!(text.contains("1000 gpm at normal level, lift 10.0 ft"), "{text}");
    assert!(drought.notes.is_empty());
    assert_eq!(at(both, WaterLevel::Normal).flow, Some(GallonsPerMinute(1_000.0)));
    let only_normal = at(lift(10.0), WaterLevel::Drought);
    assert_eq!(only_normal.flow, Some(GallonsPerMinute(1_000.0)));
    assert_eq!(only_normal.notes[0].code, Code::DroughtUnknown);
    assert!(only_normal.told_text().contains("unknown: drought level"), "{}", only_normal.told_text());
    assert!(at(lift(10.0), WaterLevel::Normal).notes.is_empty());
    // A dry hydrant too: 22 − 12 over 5.152 ft at 500 gpm, 696.6; 22 − 8, 824.2.
    let piped = Source::DryHydrant(pipe(None), DraftPoint { drought_lift_ft: Some(Feet(12.0)), ..lift(8.0) });
    let rating = rate(&piped, &CONDITIONS).unwrap();
    assert!((rating.flow.unwrap().get() - 696.6).abs() < 0.1, "{rating:?}");
    assert!(rating.told_text().contains("824 gpm at normal level"), "{}", rating.told_text());
}

#[test]
fn an_assumed_lift_is_called_assumed() {
    let conditions = Conditions { assumed_lift_ft: Some(Feet(15.0)), ..CONDITIONS };
    let rating = rate(&Source::Draft(DraftPoint::default()), &conditions).unwrap();
    assert_eq!((rating.flow, rating.basis), (Some(GallonsPerMinute(700.0)), Basis::Assumed));
    assert_eq!(rating.notes[0].code, Code::LiftUnknown);
    assert!(rating.told_text().contains("assumed: lift 15.0 ft"), "{}", rating.told_text());
    let finding = rating.notes[0].clone().finding(Where::file("sites.csv").row(2));
    assert!(finding.to_string().contains("15.0 ft was assumed"), "{finding}");
    let piped = rate(&Source::DryHydrant(pipe(None), DraftPoint::default()), &conditions).unwrap();
    assert_eq!(piped.basis, Basis::Assumed);
}

#[test]
fn an_inflow_that_keeps_up_never_empties() {
    let time = |draw, inflow| {
        time_to_exhaustion(Gallons(30_000.0), GallonsPerMinute(draw), GallonsPerMinute(inflow)).unwrap()
    };
    // 30,000 gal at 250 gpm: the two hours of the alternative supply rule.
    assert_eq!(time(250.0, 0.0), Some(Seconds(7200.0)));
    assert_eq!(time(250.0, 250.0), None);
    assert_eq!(time(0.0, 0.0), None);
}
