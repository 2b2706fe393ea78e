//! Fill sites and tankers that cannot do their part, and what holds a shuttle back: text maps as in
//! plan_worlds.rs.

#[path = "support/scene.rs"]
mod scene;
mod support;

use scene::{LOAD_GAL, Scene, flow_of_one, near, reason};
use support::world::World;
use tankerloop::finding::Code;
use tankerloop::shuttle::Limiter;

/// A plain road: P 1,000 m west of the incident at X, Q 1,000 m east of it.
fn road() -> World {
    World::new(100.0)
        .map("P---------X---------Q")
        .way("PXQ", &[("highway", "residential"), ("name", "Long Road"), ("lanes", "2")])
}

/// Both legs 100 s: a cycle of 440 s.
const PLAIN_DRIVE_S: f64 = 200.0;

#[test]
fn a_seasonal_pond_is_used_in_its_season_only() {
    let plan = |name: &'static str, month: Option<u8>| {
        let scene = Scene::new(name, road(), 'X')
            .site("Pond", 'P', "pond", 1_800.0, &[("season", "apr-nov")])
            .site("Hydrant", 'Q', "hydrant", 400.0, &[])
            .tanker("T1");
        match month {
            Some(month) => scene.month(month).plan(),
            None => scene.plan(),
        }
    };
    for (name, month) in [("pond-apr", 4), ("pond-nov", 11)] {
        assert_eq!(plan(name, Some(month)).options[0].loops[0].site, "Pond");
    }
    for (name, month, word) in [("pond-mar", 3, "mar"), ("pond-dec", 12, "dec")] {
        let answer = plan(name, Some(month));
        assert!(answer.options.iter().all(|o| o.loops[0].site == "Hydrant"));
        assert_eq!(reason(&answer, "Pond"), format!("out of season in {word} (usable apr-nov)"));
        assert!(answer.findings.has(Code::SiteOutOfSeason));
    }
    let unsaid = plan("pond-any", None);
    assert_eq!(reason(&unsaid, "Pond"), "usable apr-nov only and the request names no month");
}

#[test]
fn a_site_out_of_service_is_told_and_not_used() {
    let answer = Scene::new("out-of-service", road(), 'X')
        .site("Broken", 'P', "hydrant", 1_800.0, &[("in_service", "false")])
        .site("Hydrant", 'Q', "hydrant", 400.0, &[])
        .tanker("T1")
        .plan();
    assert_eq!(reason(&answer, "Broken"), "out of service");
    assert!(answer.options.iter().all(|o| o.loops[0].site == "Hydrant"));
    assert!(answer.findings.has(Code::SiteOutOfService));
}

/// The only way to the mill runs over a bridge posted 15 t (way 101); the tanker weighs 10 t empty and
/// 20 t full. It could get there, but not come back.
#[test]
fn an_unreachable_site_names_the_way_and_the_margin() {
    let answer = Scene::new("unreachable", mill("15"), 'X')
        .site("Mill", 'Q', "hydrant", 1_800.0, &[])
        .site("Hydrant", 'P', "hydrant", 400.0, &[])
        .tanker("T1")
        .plan();
    assert_eq!(reason(&answer, "Mill"), "no loaded way: way 101 (Mill Bridge) posted 15.0 t, vehicle 20.0 t");
    assert_eq!(answer.options[0].loops[0].site, "Hydrant");
    // Nor get there, where even the empty tanker is too heavy: the loaded way is told first.
    let answer = Scene::new("unreachable-8", mill("8"), 'X')
        .site("Mill", 'Q', "hydrant", 1_800.0, &[])
        .site("Hydrant", 'P', "hydrant", 400.0, &[])
        .tanker("T1")
        .plan();
    assert!(reason(&answer, "Mill").contains("way 101 (Mill Bridge) posted 8.0 t"));
}

fn mill(posted: &str) -> World {
    World::new(100.0)
        .map("P---------X----A-B--Q")
        .way("PXA", &[("highway", "residential"), ("name", "Long Road"), ("lanes", "2")])
        .way("AB", &[("highway", "residential"), ("name", "Mill Bridge"), ("maxweight", posted)])
        .way("BQ", &[("highway", "residential"), ("name", "Mill Road")])
}

/// No way at all is an answer without options, not an error: exit code 1.
#[test]
fn no_site_within_reach_is_an_answer_without_options() {
    let answer =
        Scene::new("nothing", mill("15"), 'X').site("Mill", 'Q', "hydrant", 1_800.0, &[]).tanker("T1").plan();
    assert!(answer.options.is_empty() && !answer.meets_need());
    assert!(reason(&answer, "Mill").contains("Mill Bridge"));
}

/// 3,600 gal in the cistern are two loads, and the first load is aboard when it begins: 5,400 gal
/// in 120 minutes are 45 gpm, far less than the 245.5 gpm one tanker could bring.
#[test]
fn a_cistern_that_runs_out_limits_the_flow() {
    let answer = Scene::new("cistern", road(), 'X')
        .site("Cistern", 'P', "cistern", 1_800.0, &[("volume_gal", "3600")])
        .tanker("T1")
        .plan();
    let best = &answer.options[0];
    near(best.ceiling.0, 3.0 * LOAD_GAL / 120.0, 0.01, "ceiling");
    near(best.simulated.as_ref().unwrap().sustained.flow.0, 45.0, 1.0, "sustained");
    assert_eq!(best.simulated.as_ref().unwrap().limitation.limiter, Limiter::SourceVolume(0));
    assert!(
        best.simulated.as_ref().unwrap().limitation.text.contains("water in fill site \"Cistern\""),
        "{}",
        best.simulated.as_ref().unwrap().limitation.text
    );
    near(best.simulated.as_ref().unwrap().limitation.gain.0, flow_of_one(PLAIN_DRIVE_S) - 45.0, 2.0, "gain");
    assert!(best.findings.has(Code::SiteVolumeLimited));
}

/// The bridge carries 15 t: the tanker of 12 t crosses it full, that of 20 t does not. The shuttle is the
/// light one's alone, and the heavy one is told of by name.
#[test]
fn of_unlike_tankers_only_those_that_can_cross_take_part() {
    let answer = Scene::new("unlike", mill("15"), 'X')
        .site("Mill", 'Q', "hydrant", 1_800.0, &[])
        .tanker_of("Heavy", 20, "")
        .tanker_of("Light", 12, "")
        .plan();
    let best = &answer.options[0];
    assert_eq!(best.loops.len(), 1);
    assert_eq!(best.loops[0].tankers, ["Light"]);
    assert_eq!(best.shuttle.tankers.len(), 1);
    near(
        best.simulated.as_ref().unwrap().sustained.flow.0,
        flow_of_one(PLAIN_DRIVE_S),
        1.0,
        "the light one alone",
    );
    let told = best.findings.iter().find(|f| f.code == Code::TankerCannotReach).expect("it is told");
    assert_eq!(told.place.name.as_deref(), Some("Heavy"));
}

/// Two tankers of 1,800 gal in 440 s each: 490.9 gpm; without one of them 245.5 gpm. The berths
/// are no limit: 120 s of 440 each at the fill site, less at the two dump berths. Both arrive at
/// once and fill one after the other, so the second waits once, 120 s, and never again.
#[test]
fn one_tanker_lost_is_one_tanker_less() {
    let answer =
        Scene::new("lost", road(), 'X').site("Hydrant", 'P', "hydrant", 1_800.0, &[]).tankers(2).plan();
    let best = &answer.options[0];
    near(best.cycle_of_first(), 440.0, 0.1, "cycle");
    near(best.ceiling.0, 2.0 * flow_of_one(PLAIN_DRIVE_S), 0.1, "ceiling");
    near(best.simulated.as_ref().unwrap().one_lost.0, flow_of_one(PLAIN_DRIVE_S), 1.0, "one lost");
    assert!(
        best.simulated.as_ref().unwrap().sustained.flow.0 > 1.9 * best.simulated.as_ref().unwrap().one_lost.0,
        "{}",
        best.simulated.as_ref().unwrap().sustained.flow
    );
    // A fleet of one that is lost brings nothing.
    let answer =
        Scene::new("lost-all", road(), 'X').site("Hydrant", 'P', "hydrant", 1_800.0, &[]).tanker("T1").plan();
    assert_eq!(answer.options[0].simulated.as_ref().unwrap().one_lost.0, 0.0);
}

trait First {
    fn cycle_of_first(&self) -> f64;
}
impl First for tankerloop::plan::answer::PlanOption {
    fn cycle_of_first(&self) -> f64 {
        self.loops[0].cycle.0
    }
}

/// A lay of 2½-inch hose: 210 m up a closed lane, 689 ft, for which 1,000 ft make one line. 150 psi at the
/// pump less 20 psi at the fire are 130 psi of friction; at C = 2 that is
/// 100 · √(130 / (2 · 6.89)) = 307.2 gpm. Four tankers bring 982 gpm to the junction.
#[test]
fn a_thin_supply_line_holds_the_shuttle_back() {
    let world = World::new(100.0)
        .map(
            "
            P---------J---------Q
                      |
                      K
            ",
        )
        .way("PJ", &[("highway", "residential"), ("name", "Main Road"), ("lanes", "2")])
        .way("JQ", &[("highway", "residential"), ("name", "Main Road"), ("lanes", "2")])
        .way("JK", &[("highway", "residential"), ("name", "Lane"), ("maxweight", "5")]);
    let at = world.beside('K', 10.0, 0.0);
    let answer = Scene::new("thin-hose", world, 'K')
        .incident(at)
        .hose(2.5, 1_000.0)
        .site("Hydrant", 'P', "hydrant", 3_600.0, &[("berths", "2")])
        .tankers(4)
        .plan();
    let best = &answer.options[0];
    let carried = 100.0 * (130.0_f64 / (2.0 * 210.0 / 0.3048 / 100.0)).sqrt();
    near(best.lay.length.0, 210.0, 0.1, "lay");
    assert_eq!(best.lay.lines, 1);
    near(best.lay.flow.0, carried, 1.0, "carried");
    near(best.ceiling.0, carried, 1.0, "ceiling");
    near(best.simulated.as_ref().unwrap().sustained.flow.0, carried, 1.0, "sustained");
    assert_eq!(best.simulated.as_ref().unwrap().limitation.limiter, Limiter::SupplyLine);
    assert!(
        best.simulated.as_ref().unwrap().limitation.text.starts_with("supply line"),
        "{}",
        best.simulated.as_ref().unwrap().limitation.text
    );
    assert!(
        best.simulated.as_ref().unwrap().limitation.gain.0 > 500.0,
        "{:?}",
        best.simulated.as_ref().unwrap().limitation.gain
    );
}

/// With every time fixed one tanker sustains its load over its cycle, on loops of any length: the first
/// load is in the tanks when the draw begins, lasts for one cycle at that draw, and the next comes in
/// as it ends.
#[test]
fn one_tanker_sustains_its_load_over_its_cycle() {
    for (name, metres) in [("one-500", 50.0), ("one-2000", 200.0), ("one-7000", 700.0)] {
        let best = &shuttle_of(1, name, metres).plan().options[0];
        let expected = flow_of_one(2.0 * metres);
        near(best.ceiling.0, expected, 0.1, "ceiling");
        near(best.simulated.as_ref().unwrap().sustained.flow.0, expected, 1.0, "sustained");
        assert_eq!(best.simulated.as_ref().unwrap().limitation.limiter, Limiter::Tankers);
    }
}

/// A hydrant for two tankers at the end of a road of ten cells: a leg takes as many seconds as a
/// cell has metres.
fn shuttle_of(tankers: usize, name: &'static str, metres: f64) -> Scene {
    let world =
        World::new(metres).map("P---------X").way("PX", &[("highway", "residential"), ("lanes", "2")]);
    Scene::new(name, world, 'X')
        .site("Hydrant", 'P', "hydrant", 3_600.0, &[("berths", "2")])
        .tankers(tankers)
        .search("longest_leg_min = 60")
}

/// Where times vary, the flow held in nine of ten replications is never more than where they do not.
/// A fleet begins with its first loads in the tanks, and over 120 min they even out most late arrivals:
/// two tankers keep nine tenths, three the whole of the closed form.
#[test]
fn varying_times_cost_flow() {
    for (name, tankers) in [("varied-2", 2), ("varied-3", 3), ("varied-4", 4), ("varied-5", 5)] {
        let scene = shuttle_of(tankers, name, 200.0);
        let fixed = scene.plan().options[0].simulated.as_ref().unwrap().sustained.flow.0;
        let varied = scene.varied(100).plan().options[0].simulated.as_ref().unwrap().sustained.flow.0;
        assert!(varied <= fixed && varied > 0.9 * fixed, "{name}: {varied} of {fixed}");
    }
}

/// One tanker brings its load every 640 s or so, late or early. At half its closed form the first load
/// lasts two cycles, so no lateness of a tenth or a quarter can empty the tanks.
#[test]
fn one_tanker_with_varying_times_sustains_something() {
    let flow = shuttle_of(1, "varied-1", 200.0).varied(100).plan().options[0]
        .simulated
        .as_ref()
        .unwrap()
        .sustained
        .flow
        .0;
    assert!(flow > 0.5 * flow_of_one(400.0), "{flow}");
}

/// No posted limit is read as closed to the loaded leg only when it cannot be read: an unreadable
/// sign on the bridge shuts the mill out, and the reason quotes the sign.
#[test]
fn an_unreadable_limit_is_quoted() {
    let answer = Scene::new("unreadable", mill("survey"), 'X')
        .site("Mill", 'Q', "hydrant", 1_800.0, &[])
        .tanker("T1")
        .plan();
    let told = reason(&answer, "Mill");
    assert!(told.contains("way 101") && told.contains("maxweight=survey cannot be read"), "{told}");
}
