use super::*;

const SET: TransferSettings = TransferSettings {
    siphon_moved_gpm: GallonsPerMinute(500.0),
    siphon_motive_gpm: GallonsPerMinute(200.0),
    siphon_psi: Psi(100.0),
    motive_hose: HoseSize::TwoAndHalf,
    motive_ft: Feet(50.0),
    share_moved: 1.0,
    single_tank_gpm: GallonsPerMinute(300.0),
    single_suction_gpm: GallonsPerMinute(1_000.0),
    tank_rule: TankRule::LoadAnd500,
    pitched_share: 0.5,
};

#[test]
fn siphons_follow_flow_and_tanks() {
    assert_eq!(SET, TransferSettings::default());
    for (gpm, tanks, siphons) in [
        (250.0, 1, 0),
        (400.0, 2, 1),
        (500.0, 2, 1),
        (501.0, 2, 2),
        (1_500.0, 2, 3),
        (500.0, 3, 2),
        (0.0, 2, 1),
    ] {
        assert_eq!(
            siphons_needed(GallonsPerMinute(gpm), tanks, &SET),
            Ok(siphons),
            "{gpm} gpm, {tanks} tanks"
        );
    }
    assert!(siphons_needed(GallonsPerMinute(500.0), 0, &SET).is_err());
    let half = TransferSettings { share_moved: 0.5, ..SET };
    assert_eq!(siphons_needed(GallonsPerMinute(1_000.0), 2, &half), Ok(1));
}

/// 100 psi at the jet and 2·(200/100)²·50/100 = 4 psi in the hose (IFSTA's formula).
#[test]
fn motive_pressure_is_that_of_jet_and_hose() {
    assert_eq!(SET.motive_pressure(), Ok(Psi(104.0)));
}

#[test]
fn a_pitched_lot_holds_less() {
    let held = |lot| usable_volume(Gallons(3_000.0), Feet(2.4), lot, &SET).unwrap().get();
    assert_eq!(held(Lot::Level), 3_000.0);
    assert_eq!(held(Lot::Pitched), 1_500.0);
    // A tank of side √(401.04/2.4) = 12.927 ft on 10 % falls 1.2927 ft: loses 1.2927/4.8.
    assert!((held(Lot::Grade { percent: 10.0 }) - 3_000.0 * (1.0 - 1.2927 / 4.8)).abs() < 0.5);
    // Both forms of the wedge meet where the fall is the height.
    let meet = 2.4 / 12.926_787 * 100.0;
    assert!((held(Lot::Grade { percent: meet }) - 1_500.0).abs() < 0.1);
    assert!(held(Lot::Grade { percent: 40.0 }) < held(Lot::Grade { percent: meet }));
    assert!(usable_volume(Gallons(3_000.0), Feet(2.4), Lot::Grade { percent: -1.0 }, &SET).is_err());
}

#[test]
fn unloading_waits_for_room() {
    let time = |room, out| {
        unload_time(Gallons(1_800.0), Gallons(room), GallonsPerMinute(1_000.0), GallonsPerMinute(out))
    };
    // With room for all, the tanker's own rate; with some, the rest goes as it is drawn.
    assert_eq!(time(1_800.0, 0.0), Ok(Seconds(108.0)));
    assert_eq!(time(800.0, 500.0), Ok(Seconds(120.0)));
    // Room for most: the draw frees the rest before the dump is through.
    assert_eq!(time(1_500.0, 500.0), Ok(Seconds(108.0)));
    let message = time(0.0, 0.0).unwrap_err().to_string();
    assert!(message.contains("draw from the tanks"), "{message}");
}

#[test]
fn a_dump_slows_as_it_falls() {
    let dump = GravityDump {
        tank_gal: Gallons(2_000.0),
        head_ft: Feet(4.5),
        outlet_in: Inches(10.0),
        coefficient: 0.6,
    };
    assert!(dump.mean_rate(0.1).unwrap() > dump.mean_rate(0.9).unwrap());
    // Emptying takes exactly twice as long as at the first second's rate (Torricelli).
    let first =
        0.6 * std::f64::consts::PI / 4.0 * (10.0_f64 / 12.0).powi(2) * (2.0 * 32.174 * 4.5_f64).sqrt();
    let at_first_rate = Gallons(2_000.0).cubic_feet().get() / first;
    assert!((dump.time(1.0).unwrap().get() - 2.0 * at_first_rate).abs() < 1e-6);
    assert_eq!(dump.time(0.0), Ok(Seconds(0.0)));
    assert!(dump.time(1.1).is_err() && dump.mean_rate(0.0).is_err());
    assert!(GravityDump { outlet_in: Inches(f64::NAN), ..dump }.time(0.9).is_err());
}

#[test]
fn settings_are_read_and_refused() {
    let settings: TransferSettings = toml::from_str("siphon-moved-gpm = 600\ntank-rule = 'larger'").unwrap();
    assert_eq!(
        settings,
        TransferSettings { siphon_moved_gpm: GallonsPerMinute(600.0), tank_rule: TankRule::Larger, ..SET }
    );
    assert!(toml::from_str::<TransferSettings>("siphon-gpm = 600").is_err());
    for bad in [
        TransferSettings { siphon_moved_gpm: GallonsPerMinute(0.0), ..SET },
        TransferSettings { siphon_motive_gpm: GallonsPerMinute(f64::NAN), ..SET },
        TransferSettings { share_moved: 0.0, ..SET },
        TransferSettings { siphon_psi: Psi(-1.0), ..SET },
    ] {
        assert!(siphons_needed(GallonsPerMinute(500.0), 2, &bad).is_err());
    }
}
