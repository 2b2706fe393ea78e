use super::*;

#[test]
fn every_method_is_read_named_and_cautioned() {
    for (text, gpm, supply) in [
        ("method = 'given'\nflow-gpm = 500", 500.0, None),
        (
            "method = 'minimum-supply'\nvolume-ft3 = 48000\noccupancy-hazard = 4\nconstruction = 'v'\nexposures = true",
            1_000.0,
            Some(Gallons(27_000.0)),
        ),
        ("method = 'iowa'\nlength-ft = 50\nwidth-ft = 75\nheight-ft = 12", 450.0, None),
        ("method = 'national-fire-academy'\nlength-ft = 30\nwidth-ft = 50\ninvolved = 0.25", 125.0, None),
        ("method = 'iso-needed-fire-flow'\nconstruction = 'frame'\narea-ft2 = 7500", 2_250.0, None),
    ] {
        let demand: Demand = toml::from_str(text).unwrap();
        let needed = demand.needed(&DemandSettings::default()).unwrap();
        assert_eq!((needed.flow, needed.supply), (GallonsPerMinute(gpm), supply), "{text}");
        assert!(!needed.method.name().is_empty() && needed.caution == needed.method.caution());
    }
    assert!(toml::from_str::<Demand>("method = 'iowa'\nlength-ft = 50\nwidth-ft = 75").is_err());
    assert!(toml::from_str::<Demand>("method = 'given'\nflow-gpm = 500\nhold = 2").is_err());
}

#[test]
fn volume_counts_half_the_ridge() {
    // 40 × 30 × (2 × 8 + 8/2) = 24,000.
    assert_eq!(building_volume(Feet(40.0), Feet(30.0), Feet(16.0), Feet(8.0)), Ok(CubicFeet(24_000.0)));
    assert!(building_volume(Feet(40.0), Feet(30.0), Feet(0.0), Feet(8.0)).is_err());
    assert!(building_volume(Feet(1e9), Feet(1e9), Feet(1e9), Feet(0.0)).is_err());
}

#[test]
fn a_dwelling_is_capped_only_where_asked() {
    let house = Building {
        volume_ft3: CubicFeet(42_000.0),
        occupancy_hazard: 7,
        construction: Construction::V,
        exposures: false,
        dwelling: true,
    };
    let open = DemandSettings::default();
    let capped = DemandSettings { dwelling_cap: Some(1.0), ..open };
    assert_eq!(house.minimum_supply(&open), Ok(Gallons(9_000.0)));
    assert_eq!(house.minimum_supply(&capped), Ok(Gallons(6_000.0)));
    assert_eq!(Building { dwelling: false, ..house }.minimum_supply(&capped), Ok(Gallons(9_000.0)));
    assert!(Building { occupancy_hazard: 2, ..house }.minimum_supply(&open).is_err());
    assert!(Building { occupancy_hazard: 8, ..house }.minimum_supply(&open).is_err());
}

#[test]
fn the_two_exposure_rules_differ() {
    // Base 30·50/3 = 500; a quarter burns; two exposures of 125 each.
    let floor =
        FireFloor { length_ft: Feet(30.0), width_ft: Feet(50.0), involved: 0.25, floors: 1, exposures: 2 };
    let flow = |rule| floor.needed(rule).unwrap().flow;
    assert_eq!(flow(ExposureRule::AddedInFull), GallonsPerMinute(375.0));
    assert_eq!(flow(ExposureRule::ScaledByShare), GallonsPerMinute(187.5));
}

#[test]
fn iso_rounds_by_250_and_above_2500_by_500() {
    let iso = |area_ft2| IsoBuilding {
        construction: IsoConstruction::JoistedMasonry,
        area_ft2,
        occupancy: 1.0,
        exposure: 0.0,
        communication: 0.0,
    };
    // 18·√A: area for a wanted unrounded flow is (flow/18)².
    for (raw, rounded) in [
        (100.0, 500.0),
        (860.0, 750.0),
        (880.0, 1_000.0),
        (2_490.0, 2_500.0),
        (2_740.0, 2_500.0),
        (2_760.0, 3_000.0),
        (20_000.0, 12_000.0),
    ] {
        let flow = iso((raw / 18.0_f64).powi(2)).needed().unwrap().flow;
        assert_eq!(flow, GallonsPerMinute(rounded), "{raw}");
    }
    assert!(IsoBuilding { occupancy: 2.0, ..iso(100.0) }.needed().is_err());
    assert!(iso(f64::NAN).needed().is_err());
}
