//! The step simulation by the clock, and beside the shuttle's event by event.

use super::*;
use crate::verify::crew::Source;

/// One truck, 1,000 gal, a cycle of 60 + 60 + 300 + 60 + 60 + 300 = 840 s, from a source of
/// 1,000 gpm into a tank that begins with its first load: 71.4 gpm for ever, and over two hours
/// the head start of a load less a cycle's wait.
#[test]
fn one_truck_by_the_clock() {
    let truck = Truck {
        id: "T".into(),
        on_loop: 0,
        source: 0,
        load_gal: 1_000.0,
        arrival_s: 100.0,
        dump_handling_s: 60.0,
        dump_gpm: 1_000.0,
        empty_s: 300.0,
        loaded_s: 300.0,
        empty_lanes: vec![],
        loaded_lanes: vec![],
        fill_handling_s: 60.0,
        intake_gpm: 1_000.0,
    };
    let source = Source { site: 0, flow_gpm: 1_000.0, volume_gal: None, berths: 1 };
    let crew = Crew {
        trucks: vec![truck],
        sources: vec![source],
        lanes: 0,
        dump_berths: 1,
        room_gal: 5_000.0,
        period_s: 7_200.0,
        draw_gpm: (1_000.0, 1_000.0),
    };
    assert!((crew.trucks[0].cycle_s(&crew.sources) - 840.0).abs() < 1e-9);
    let held = |gpm: f64| share_held(&crew, &Spread::FIXED, 0.0, gpm, 1) == 1.0;
    // From 220 s, 1,000 gal in the tank; the next load begins to pour 780 s later.
    assert!(held(1_000.0 / 14.0));
    assert!(!held(1_000.0 / 12.9), "dry before the second load");
    let mut dry = crew.clone();
    dry.sources[0].volume_gal = Some(3_000.0);
    assert!(share_held(&dry, &Spread::FIXED, 0.0, 1_000.0 / 14.0, 1) == 0.0, "four loads are not enough");
}
