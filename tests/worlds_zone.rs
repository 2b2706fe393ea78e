//! Every road of a drawn world as the incident. The scene's numbers are at the head of support/scene.rs: a
//! cell of 100 m takes 10 s, one tanker's cycle is its driving time and 240 s, and it brings 1,800 gal.

#[path = "support/scene.rs"]
mod scene;
mod support;

use scene::{Scene, flow_of_one, near};
use support::world::World;
use tankerloop::place::Place;
use tankerloop::zone::judge::{Bound, Judged};
use tankerloop::zone::{Zone, block, gaps, propose, sample};

fn judged(zone: &Zone) -> Vec<Judged> {
    block::work(zone, &zone.stretches).unwrap()
}

/// Metres from a place to the middle of each stretch.
fn metres_to(zone: &Zone, place: Place) -> Vec<f64> {
    let network = &zone.ground.roads.network;
    zone.stretches.iter().map(|s| s.spot(network).place.distance(place).0).collect()
}

fn street() -> World {
    World::new(100.0).map("S---------A---------B---------C").road("SABC")
}

/// 3,000 m of road from the site at S, a segment, since nothing meets on it: 12 stretches of 250 m. A stretch
/// whose middle lies d m out is d / 10 s of driving each way.
#[test]
fn a_street_in_stretches() {
    let world = street();
    let site = world.place('S');
    Scene::new("zone-street", world, 'A').site("Main", 'S', "hydrant", 1_800.0, &[]).tanker("T1").zone(
        250.0,
        |zone| {
            assert_eq!(zone.stretches.len(), 12);
            let mut seen = Vec::new();
            for (metres, found) in metres_to(zone, site).into_iter().zip(judged(zone)) {
                near(found.ceiling_gpm, flow_of_one(2.0 * metres / 10.0), 0.05, "ceiling");
                near(found.at_least_gpm, found.ceiling_gpm, 1e-9, "nobody to wait for");
                near(found.cycle_s, 240.0 + 2.0 * metres / 10.0, 0.01, "cycle");
                assert_eq!(found.bound_by, Some(Bound::Tankers));
                assert_eq!(found.one_lost_gpm, 0.0);
                seen.push((metres / 125.0).round() as u32);
            }
            seen.sort_unstable();
            assert_eq!(seen, (0..12).map(|i| 2 * i + 1).collect::<Vec<u32>>());
        },
    );
}

/// Five tankers at one berth of 1,800 gpm: each is 120 s in the berth (60 s of handling, 60 s of filling), so
/// it turns over 900 gpm. At 125 m one tanker's cycle is 265 s and it brings 407.5 gpm: two for 500 gpm and
/// 750 gpm, and 1,000 gpm is never held. At 2,875 m a cycle takes 815 s, 132.5 gpm: two, four, and 662.6 gpm
/// with all five, so nobody holds 750 gpm; without one of them 530.1 gpm.
#[test]
fn tankers_for_each_flow() {
    let world = street();
    let site = world.place('S');
    let scene = Scene::new("zone-tankers", world, 'A')
        .site("Main", 'S', "hydrant", 1_800.0, &[("berths", "1")])
        .tankers(5);
    scene.zone(250.0, |zone| {
        let (all, metres) = (judged(zone), metres_to(zone, site));
        let at = |wanted: f64| {
            let i = metres.iter().position(|m| (m - wanted).abs() < 1.0).expect("a stretch lies there");
            &all[i]
        };
        let close = at(125.0);
        near(close.ceiling_gpm, 900.0, 0.1, "berth");
        assert_eq!(close.bound_by, Some(Bound::FillBerths(0)));
        assert_eq!(close.tankers_for, [Some(1), Some(2), Some(2), None]);
        near(close.one_lost_gpm, 900.0, 0.1, "four fill the berth as well");
        let far = at(2_875.0);
        near(far.ceiling_gpm, 5.0 * 132.515, 0.1, "five tankers");
        assert_eq!(far.tankers_for, [Some(2), Some(4), None, None]);
        near(far.one_lost_gpm, 4.0 * 132.515, 0.1, "four tankers");
        // Every tanker behind four others at both ends: 5 x 120 s twice, and 575 s of driving.
        near(far.at_least_gpm, 5.0 * 1_800.0 / (1_775.0 / 60.0), 0.1, "behind all others");
        assert!(far.start_s > 0.0);
    });
}

/// A need of 200 gpm: one tanker holds it on a cycle of 540 s, 300 s of driving, up to 1,500 m. Of 12
/// stretches the six beyond fall short: one gap of 1,500 m. A second site at C closes it again from the
/// other end, and a site at B, 2,000 m out, leaves none.
#[test]
fn a_gap_is_what_falls_short_in_one_piece() {
    let scene = |name| {
        let main = Scene::new(name, street(), 'A').need(200.0).tanker("T1");
        main.site("Main", 'S', "hydrant", 1_800.0, &[])
    };
    scene("zone-gap").zone(250.0, |zone| {
        let all = judged(zone);
        let found = gaps::find(zone, &all);
        assert_eq!(found.len(), 1);
        near(found[0].road_m, 1_500.0, 1.0, "gap");
        assert_eq!(found[0].stretches.len(), 6);
        near(found[0].least_gpm, flow_of_one(575.0), 0.05, "the far end");
        // Sum over the middles 1,625 to 2,875 m.
        let missing: f64 = (0..6).map(|i| 200.0 - flow_of_one(2.0 * (162.5 + 25.0 * f64::from(i)))).sum();
        near(found[0].missing_gpm_km, missing * 0.25, 0.05, "missing");
        let area = found[0].area(zone);
        assert_eq!(area.len(), 1);
        assert!(area[0][0].len() > 4 && area[0][0].first() == area[0][0].last());
    });
    scene("zone-gap-closed").site("Far", 'B', "hydrant", 1_800.0, &[]).zone(250.0, |zone| {
        let all = judged(zone);
        assert!(gaps::find(zone, &all).is_empty());
        let by = |site: u32| all.iter().filter(|j| j.alone[0].0 == site).count();
        // Half way between the two, at 1,000 m, lies the end of the fourth stretch.
        assert_eq!((by(0), by(1)), (4, 8));
        assert!(all.iter().all(|j| j.alone.len() == 2 && j.alone[0].1 >= j.alone[1].1));
    });
}

/// A bridge posted at 15 t stops the tanker of 20 t full and not the empty one: beyond it there is no loop,
/// and a second site there serves only its own side.
#[test]
fn no_loop_beyond_a_posted_bridge() {
    let world = World::new(100.0)
        .map("S-----A--B-----C")
        .road("SA")
        .way("AB", &[("highway", "residential"), ("maxweight", "15")])
        .road("BC");
    let site = world.place('S');
    Scene::new("zone-bridge", world, 'A').site("Main", 'S', "hydrant", 1_800.0, &[]).tanker("T1").zone(
        250.0,
        |zone| {
            for (metres, found) in metres_to(zone, site).into_iter().zip(judged(zone)) {
                assert_eq!(found.bound_by.is_some(), metres < 600.0, "{metres} m");
                assert_eq!(found.ceiling_gpm > 0.0, metres < 600.0);
            }
        },
    );
}

/// Blocks of any cut, in any order, are the whole.
#[test]
fn blocks_are_the_whole() {
    let scene =
        Scene::new("zone-blocks", street(), 'A').site("Main", 'S', "hydrant", 1_800.0, &[]).tankers(3);
    scene.zone(30.0, |zone| {
        let whole = judged(zone);
        assert_eq!(whole.len(), 100);
        for of in [1, 2, 7, 64] {
            let mut joined = Vec::new();
            for number in 1..=of {
                joined.extend(block::work(zone, &zone.stretches[block::part(100, number, of)]).unwrap());
            }
            assert_eq!(joined, whole, "{of} blocks");
        }
        // With fixed times one tanker's simulation is the closed form; three wait for the berth at first.
        let sampled = sample::simulate(zone, 10).unwrap();
        assert_eq!(sampled.len(), 10);
        for s in &sampled {
            let (ceiling, at_least) = (whole[s.stretch].ceiling_gpm, whole[s.stretch].at_least_gpm);
            assert!(
                s.sustained_gpm <= ceiling + 1e-6 && s.sustained_gpm >= at_least * 0.98,
                "{s:?} of {ceiling}"
            );
        }
    });
}

/// Main at S and a need of 300 gpm: one tanker holds it on 360 s, up to 600 m out. Of the candidates A, B
/// and C, 1,000, 2,000 and 3,000 m out, each closes on a stretch whose middle lies d m from it what
/// 1,800 gal / (240 s + 2 d / 10) is above what Main gives there, up to the need, on 250 m of road.
#[test]
fn new_sites_in_the_order_of_what_they_close() {
    let need = 300.0;
    let base = || Scene::new("zone-propose", street(), 'A').need(need).tanker("T1");
    let given = |metres: f64| flow_of_one(2.0 * metres / 10.0);
    let middles: Vec<f64> = (0..12).map(|i| 125.0 + 250.0 * f64::from(i)).collect();
    let candidates = [1_000.0, 2_000.0, 3_000.0];
    let mut has: Vec<f64> = middles.iter().map(|m| given(*m)).collect();
    let mut expected: Vec<(usize, f64)> = Vec::new();
    for _ in 0..3 {
        let gain = |at: f64| -> f64 {
            let each = middles.iter().zip(&has);
            each.map(|(m, has)| (given((m - at).abs()).min(need) - has.min(need)).max(0.0) * 0.25).sum()
        };
        let best = (0..3).max_by(|a, b| gain(candidates[*a]).total_cmp(&gain(candidates[*b]))).unwrap();
        expected.push((best, gain(candidates[best])));
        for (m, has) in middles.iter().zip(&mut has) {
            *has = has.max(given((m - candidates[best]).abs()));
        }
    }
    let nodes = ['A', 'B', 'C'];
    let found = base().site("Main", 'S', "hydrant", 1_800.0, &[]).zone(250.0, |zone| {
        let all = judged(zone);
        let others =
            nodes.iter().fold(Scene::new("zone-candidates", street(), 'A').need(need), |scene, node| {
                scene.site(&node.to_string(), *node, "hydrant", 1_800.0, &[])
            });
        others.tanker("T1").zone(5_000.0, |candidates| {
            let short = propose::short(zone, &all, candidates).unwrap();
            propose::greedy(&short, zone.problem.need, 5)
        })
    });
    assert_eq!(found.len(), 3);
    for (proposal, (candidate, gain)) in found.iter().zip(&expected) {
        assert_eq!(proposal.candidate, *candidate, "{found:?}");
        near(proposal.gain_gpm_km, *gain, 0.02, "gain");
    }
    assert_eq!(found[0].candidate, 1, "the one in the midst of the gap comes first");
}
