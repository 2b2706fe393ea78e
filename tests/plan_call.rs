//! What to call for, crews and failures, on text maps as in plan_worlds.rs.

#[path = "support/scene.rs"]
mod scene;
mod support;

use scene::Scene;
use support::world::World;

/// A plain road: P 1,000 m west of the incident at X, Q 1,000 m east of it; a tanker's cycle is 440 s, so
/// it brings 1,800/440·60 = 245 gpm.
fn road() -> World {
    World::new(100.0)
        .map("P---------X---------Q")
        .way("PXQ", &[("highway", "residential"), ("name", "Long Road"), ("lanes", "2")])
}

fn scene(name: &'static str) -> Scene {
    Scene::new(name, road(), 'X').site("Hydrant", 'P', "hydrant", 1_800.0, &[]).tanker("T1")
}

/// Mutual aid takes part in no option; where the need is met nobody is called.
#[test]
fn mutual_aid_stays_out_until_it_is_needed() {
    let aid = "call = \"second alarm\"";
    let answer = scene("aid-idle").tanker_of("M1", 20, aid).need(240.0).plan();
    assert!(answer.meets_need() && answer.call.is_none());
    for option in &answer.options {
        assert_eq!(option.shuttle.tankers.len(), 1);
    }
    assert!(
        answer.options[0]
            .simulated
            .as_ref()
            .unwrap()
            .in_time
            .full
            .as_ref()
            .unwrap()
            .fewest
            .as_ref()
            .is_some_and(|ids| ids == &["T1"])
    );
}

/// 400 gpm needs two tankers: one is called, and of two alike the one that arrives first. Like T1 one more would do.
#[test]
fn the_smallest_set_is_called() {
    let answer = scene("aid-one")
        .tanker_of("M1", 20, "call = \"second alarm\"\nturnout_s = 600")
        .tanker_of("M2", 20, "call = \"Plavibel\"\nturnout_s = 240")
        .need(400.0)
        .plan();
    assert!(!answer.meets_need());
    let call = answer.call.as_ref().expect("the need is not met");
    let called: Vec<_> =
        call.vehicles.iter().map(|v| (v.id.as_str(), v.call.as_str(), v.arrives.0)).collect();
    // Without a station a quarter of an hour after turnout.
    assert_eq!(called, [("M2", "Plavibel", 240.0 + 900.0)]);
    assert!(call.meets_need && call.flow.unwrap().0 >= 400.0, "{:?}", call.flow);
    assert_eq!(call.more_like, Some(("T1".into(), 1)));
    // 600 gpm needs three; all there is, in the order of arrival.
    let answer = scene("aid-both")
        .tanker_of("M1", 20, "call = \"second alarm\"\nturnout_s = 600")
        .tanker_of("M2", 20, "call = \"Plavibel\"\nturnout_s = 240")
        .need(600.0)
        .plan();
    let call = answer.call.as_ref().unwrap();
    let called: Vec<_> = call.vehicles.iter().map(|v| v.id.as_str()).collect();
    assert_eq!((called, call.meets_need), (vec!["M2", "M1"], true));
}

/// Four tankers bring up to 900 gpm, but the only pumper that drafts is rated at 300 gpm: no tanker is called, the
/// smallest pumper that lifts it to the need of 500 gpm is. Without a station it comes a quarter of an hour
/// after turnout.
#[test]
fn a_pumper_is_called_where_the_pump_holds_it_back() {
    let fire = |name: &'static str| {
        Scene::new(name, road(), 'X')
            .site("Hydrant", 'P', "hydrant", 1_800.0, &[])
            .tankers(4)
            .rated(300)
            .need(500.0)
    };
    let answer = fire("aid-no-pumper").plan();
    let call = answer.call.as_ref().expect("the need is not met");
    assert!(answer.options[0].ceiling.0 <= 300.0);
    assert!(call.held_by.is_some() && call.vehicles.is_empty() && !call.meets_need);

    let answer = fire("aid-pumper")
        .pumper_of("E8", 2_000, "third alarm", 60)
        .pumper_of("E7", 1_250, "second alarm", 120)
        .tanker_of("M1", 20, "call = \"second alarm\"")
        .plan();
    let call = answer.call.as_ref().expect("the need is not met");
    let called: Vec<_> =
        call.vehicles.iter().map(|v| (v.id.as_str(), v.call.as_str(), v.arrives.0, v.pumper)).collect();
    assert_eq!(called, [("E7", "second alarm", 120.0 + 900.0, true)]);
    assert!(call.meets_need && call.flow.unwrap().0 >= 500.0, "{:?}", call.flow);
    assert!(call.held_by.is_none());
}

/// 249 gpm from one tanker: a cycle of at most 1,800/249·60 = 433.7 s. At a source of 1,000 gpm it fills in
/// 108 s and takes 60 + 60 + 60 s besides, which leaves 145.7 s for two legs: 72 s, 1.2 min.
#[test]
fn a_nearer_source_is_told_by_its_distance() {
    let answer = scene("aid-source").need(249.0).plan();
    let call = answer.call.as_ref().unwrap();
    assert!(call.vehicles.is_empty() && call.flow.is_none() && !call.meets_need);
    let source = call.nearer_source.expect("a nearer one would do");
    assert!((source.leg.0 - 72.0).abs() < 1e-9, "{source:?}");
    // T = 0.65 + 1.7 D: (1.2 - 0.65)/1.7 = 0.32 mi.
    assert!((source.miles - 0.3235).abs() < 1e-3);
    // 4,000 gpm is more than pump and siphons carry, whoever comes.
    let answer = scene("aid-rig").need(4000.0).plan();
    let call = answer.call.as_ref().unwrap();
    assert!(call.held_by.is_some() && call.more_like.is_none() && call.nearer_source.is_none());
}

/// The hydrant fails: nothing is left of a shuttle that fills there only, and the tanker goes to the other.
#[test]
fn a_failed_source_sends_the_fleet_elsewhere() {
    let answer =
        scene("failed").site("Pond", 'Q', "pond", 1_000.0, &[("volume_gal", "900000")]).need(100.0).plan();
    let failed = &answer.options[0].simulated.as_ref().unwrap().in_time.full.as_ref().unwrap().sources;
    assert_eq!(failed.len(), 1);
    assert_eq!((failed[0].site.as_str(), failed[0].rest.0), ("Hydrant", 0.0));
    let (flow, sites) = failed[0].moved.as_ref().expect("the pond is there");
    assert_eq!(sites, &["Pond"]);
    assert!(flow.0 > 150.0 && flow.0 < 245.0, "{flow:?}");
}

/// Four tankers at two berths; one crew works one of them, and the answer says so.
#[test]
fn crews_limit_the_berths() {
    let plan = |name: &'static str, keys: &str| {
        Scene::new(name, road(), 'X')
            .site("Hydrant", 'P', "hydrant", 3_600.0, &[("berths", "2")])
            .tankers(6)
            .need(100.0)
            .search(keys)
            .plan()
    };
    let (all, one) = (plan("crews-all", ""), plan("crews-one", "fill_crews = 1"));
    assert_eq!(all.options[0].shuttle.fills[0].berths, 2);
    assert_eq!(one.options[0].shuttle.fills[0].berths, 1);
    // One berth turns 1,800 gal over in 120 s: 900 gpm.
    assert!(one.options[0].ceiling.0 <= 900.0 + 1e-6 && all.options[0].ceiling.0 > 900.0);
    assert_eq!(
        all.options[0].simulated.as_ref().unwrap().in_time.full.as_ref().unwrap().berths,
        [("Hydrant".to_string(), 1)]
    );
}
