//! Every kind of source through the site list into a plan: what it gives, at which water, what of it
//! was measured, assumed or is unknown, and what several sites on one main or pond share. Text maps as
//! in plan_worlds.rs.

#[path = "support/scene.rs"]
mod scene;
mod support;

use scene::{LOAD_GAL, Scene, near, reason};
use support::world::World;
use tankerloop::finding::Code;
use tankerloop::plan::Answer;

/// A plain road: P 1,000 m west of the incident at X, Q 1,000 m east of it.
fn road() -> World {
    World::new(100.0)
        .map("P---------X---------Q")
        .way("PXQ", &[("highway", "residential"), ("name", "Long Road"), ("lanes", "2")])
}

/// One site at P, of which no flow is listed unless a column says so.
fn one(name: &'static str, kind: &str, columns: &[(&str, &str)]) -> Scene {
    let flow =
        columns.iter().find(|(key, _)| *key == "flow_gpm").map_or(0.0, |(_, gpm)| gpm.parse().unwrap());
    Scene::new(name, road(), 'X').site("Site", 'P', kind, flow, columns).tanker("T1")
}

fn flow(answer: &Answer) -> f64 {
    answer.sites[0].flow.expect("the site is rated").0
}

fn told(answer: &Answer) -> &str {
    answer.sites[0].told.as_deref().expect("the site is rated")
}

/// Each row: kind, columns; flow, volume, what is told of it. The fleet's fill pump is of 5,000 gpm.
#[test]
fn every_kind_is_rated_by_what_was_measured_there() {
    for (name, kind, columns, gpm, gallons, words) in [
        // 800 gpm, 65 to 50 psi: 1,448 at 20 psi (NFPA 291).
        (
            "hydrant-test",
            "hydrant",
            &[("flow_gpm", "800"), ("static_psi", "65"), ("residual_psi", "50")][..],
            1_447.9,
            None,
            &["measured: 800 gpm from 65 to 50 psi", "computed: 1448 gpm at 20 psi"][..],
        ),
        // 29.83·0.7·2.5²·√25 = 652.5 by the pitot at the cautious coefficient; ·(45/15)^0.54 = 1,181.0.
        (
            "hydrant-pitot",
            "hydrant",
            &[("outlet_in", "2.5"), ("pitot_psi", "25"), ("static_psi", "65"), ("residual_psi", "50")],
            1_181.0,
            None,
            &["computed: 1181 gpm at 20 psi"],
        ),
        (
            "hydrant-flow",
            "hydrant",
            &[("flow_gpm", "500")],
            500.0,
            None,
            &["unknown: static and residual pressure"],
        ),
        // 70 % at 15 ft (IFSTA), all at 10 ft; two 4-in tubes pass 1,000 (from memory of NFPA 1901).
        (
            "draft",
            "draft",
            &[
                ("pump_gpm", "1000"),
                ("lift_ft", "10"),
                ("drought_lift_ft", "15"),
                ("suction_in", "4"),
                ("suctions", "2"),
            ],
            700.0,
            None,
            &["measured: lift 15.0 ft at drought level", "1000 gpm at normal level, lift 10.0 ft"],
        ),
        (
            "draft-narrow",
            "draft",
            &[("pump_gpm", "1000"), ("drought_lift_ft", "10"), ("suction_in", "4")],
            500.0,
            None,
            &["computed: 500 gpm by pump of 1000 gpm named for the site"],
        ),
        (
            "draft-normal",
            "draft",
            &[("pump_gpm", "1000"), ("lift_ft", "10")],
            1_000.0,
            None,
            &["unknown: drought level", "assumed: suction hose"],
        ),
        // 22 = 8 + (4.8 + 2.3408·2.25)·(Q/500)²: Q = 500·√(14/10.0668) = 589.6 (NE-ENG-76).
        (
            "dry-pipe",
            "dry-hydrant",
            &[
                ("drought_lift_ft", "8"),
                ("pipe_in", "6"),
                ("pipe_ft", "185"),
                ("elbows_90", "1"),
                ("elbows_45", "1"),
                ("reducers", "1"),
            ],
            589.6,
            None,
            &["computed: 590 gpm by the losses of its pipe"],
        ),
        // A float: 4 · 0.5 ft, 100 ft in 126 s: 569.9 gpm.
        (
            "stream",
            "stream",
            &[
                ("width_ft", "4"),
                ("depth_ft", "0.5"),
                ("float_ft", "100"),
                ("float_s", "126"),
                ("lift_ft", "5"),
            ],
            569.9,
            None,
            &["measured: lift 5.0 ft at normal level, the stream carries 570 gpm by a float"],
        ),
        // 0.1 acres by 2 ft: 65,170 gal.
        (
            "pond",
            "pond",
            &[("acres", "0.1"), ("usable_depth_ft", "2"), ("drought_lift_ft", "6"), ("pump_gpm", "750")],
            750.0,
            Some(65_170.3),
            &["0.1 acres by 2.0 ft above the intake"],
        ),
        (
            "cistern",
            "cistern",
            &[("volume_gal", "12000"), ("flow_gpm", "400")],
            400.0,
            Some(12_000.0),
            &["measured: 400 gpm, 12000 gal of usable water"],
        ),
    ] {
        let answer = one(name, kind, columns).plan();
        near(flow(&answer), gpm, 0.1, name);
        assert_eq!(answer.sites[0].volume.map(|v| v.0.round()), gallons.map(f64::round), "{name}");
        for word in words {
            assert!(told(&answer).contains(word), "{name}: {}", told(&answer));
        }
        if let Some(gallons) = gallons {
            near(answer.sites[0].lasts.unwrap().minutes(), gallons / gpm, 0.01, name);
        }
    }
}

/// What is missing is told, and what cannot be worked out is not rated.
#[test]
fn what_is_unknown_is_told() {
    for (name, kind, columns, code) in [
        ("stream-unmeasured", "stream", &[("lift_ft", "5")][..], Code::SiteFlowAssumed),
        ("dry-no-pipe", "dry-hydrant", &[("lift_ft", "5")], Code::SiteFlowAssumed),
        ("pond-no-volume", "pond", &[("lift_ft", "5")], Code::SiteVolumeUnknown),
        ("normal-only", "draft", &[("lift_ft", "5")], Code::DroughtUnknown),
        ("hydrant-no-pressure", "hydrant", &[("flow_gpm", "500")], Code::SiteResidualUnknown),
    ] {
        let answer = one(name, kind, columns).plan();
        assert!(answer.findings.has(code), "{name}: {:?}", answer.findings);
        assert!(told(&answer).contains("unknown: "), "{name}: {}", told(&answer));
    }
    let answer = one("no-lift", "draft", &[]).plan();
    assert!(reason(&answer, "Site").starts_with("not rated"), "{}", reason(&answer, "Site"));
    assert!(answer.findings.has(Code::LiftUnknown));
}

/// 5,000 gpm at 10 ft, 3,500 at 15 ft (IFSTA): the scenario says at which water.
#[test]
fn the_scenario_chooses_the_level() {
    let lifts = [("lift_ft", "10"), ("drought_lift_ft", "15")];
    near(flow(&one("level-default", "draft", &lifts).plan()), 3_500.0, 0.1, "drought");
    let normal = one("level-normal", "draft", &lifts).top("water_level = \"normal\"").plan();
    near(flow(&normal), 5_000.0, 0.1, "normal");
}

/// Ice shuts a site drafted from its surface, and one in a pipe is counted with a caution.
#[test]
fn ice_shuts_open_water() {
    let pond = |name, month| {
        let scene = one(name, "pond", &[("flow_gpm", "900"), ("volume_gal", "500000"), ("ice", "dec-feb")]);
        match month {
            Some(month) => scene.month(month).plan(),
            None => scene.plan(),
        }
    };
    assert_eq!(reason(&pond("ice-jan", Some(1)), "Site"), "ice is to be expected in jan (dec-feb)");
    assert!(reason(&pond("ice-any", None), "Site").contains("names no month"));
    let june = pond("ice-jun", Some(6));
    assert!(june.meets_need() && !june.findings.has(Code::SiteIce));
    let piped = one("ice-piped", "dry-hydrant", &[("flow_gpm", "900"), ("ice", "dec-feb")]).month(1).plan();
    assert!(piped.meets_need() && piped.findings.has(Code::SiteIce));
}

/// Columns that contradict each other or say half of something refuse the list, and tell the row and the
/// remedy; one that means nothing for the kind is left out and told.
#[test]
fn half_said_columns_are_refused() {
    let read = |kind: &str, columns: &str, cells: &str| {
        let folder = std::path::Path::new(env!("CARGO_TARGET_TMPDIR")).join("sources-rows");
        std::fs::create_dir_all(&folder).unwrap();
        let file = folder.join(format!("{}.csv", columns.replace(',', "-")));
        let text = format!("name,lon,lat,kind,{columns}\nSite,-34.0,31.0,{kind},{cells}\n");
        std::fs::write(&file, text).unwrap();
        let mut findings = tankerloop::Findings::new();
        let sites = tankerloop::sites::fill_file::read(&file, &mut findings);
        (sites, findings)
    };
    for (kind, columns, cells, about) in [
        ("dry-hydrant", "pipe_in", "6", "pipe_in is given without pipe_ft"),
        ("dry-hydrant", "elbows_90", "2", "elbows_90 is given without pipe_in and pipe_ft"),
        (
            "dry-hydrant",
            "pipe_in,pipe_ft,elbows_45",
            "6,100,1.5",
            "elbows_45 is not a whole number from 0 to 50",
        ),
        ("stream", "width_ft,depth_ft", "4,0.5", "width_ft, depth_ft is given without float_ft, float_s"),
        ("pond", "acres,usable_depth_ft", "1,-2", "usable_depth_ft = -2 is not a number greater than 0"),
        ("pond", "acres", "1", "acres is given without usable_depth_ft"),
        ("hydrant", "pitot_psi", "20", "pitot_psi is given without outlet_in"),
        ("draft", "suctions", "2", "suctions is given without suction_in"),
        ("hydrant", "shared_gpm", "600", "shared_gpm is given without shares"),
        ("pond", "ice", "winter", "\"winter\" is not a season"),
    ] {
        let (sites, _) = read(kind, columns, cells);
        let told = sites.unwrap_err().to_string();
        assert!(told.contains(about) && told.contains("row 2") && told.contains("[input-invalid]"), "{told}");
    }
    let (sites, findings) = read("hydrant", "acres,usable_depth_ft", "1,2");
    assert_eq!(sites.unwrap()[0].details.pond, None);
    assert!(findings.iter().all(|f| f.code == Code::ColumnIgnored) && findings.len() == 2, "{findings:?}");
    let told = findings.iter().next().unwrap().to_string();
    assert!(told.contains("acres means nothing for a site of the kind hydrant"), "{told}");
}

/// P and Q hang on one main of 600 gpm, and each passes 1,800 alone. Four tankers at 1,800 gpm sources
/// bring 245.5 gpm each. With the main shared two sites together give no more than 600.
#[test]
fn sites_on_one_main_share_it() {
    let plan = |name: &'static str, more: &[(&str, &str)]| {
        Scene::new(name, road(), 'X')
            .site("West", 'P', "hydrant", 1_800.0, more)
            .site("East", 'Q', "hydrant", 1_800.0, more)
            .tankers(8)
            .search("fill_sites_at_once = 2")
            .plan()
    };
    let apart = plan("apart", &[]);
    let on_one = plan("on-one-main", &[("shares", "east main"), ("shared_gpm", "600")]);
    let (free, cut) = (apart.options[0].ceiling.0, on_one.options[0].ceiling.0);
    assert!(free > 1_000.0, "apart {free}");
    assert!(cut <= 600.0 + 0.1, "on one main {cut}");
    for option in &on_one.options {
        let given: f64 = option.shuttle.fills.iter().map(|fill| fill.flow.0).sum();
        assert!(given <= 600.0 + 1e-6, "{given}");
    }
}

/// One pond with two fill sites is emptied once: 18,000 gal are ten loads, with the two first loads
/// twelve; over 120 minutes 180 gpm, whichever site they are filled at.
#[test]
fn sites_at_one_pond_empty_it_once() {
    let pond = |volume: &'static str| [("shares", "mill pond"), ("volume_gal", volume)];
    let answer = Scene::new("one-pond", road(), 'X')
        .site("West", 'P', "pond", 900.0, &pond("18000"))
        // The volume stands in one row only, and holds for both.
        .site("East", 'Q', "pond", 900.0, &pond(""))
        .tankers(2)
        .search("fill_sites_at_once = 2")
        .plan();
    for option in &answer.options {
        let ceiling = option.ceiling.0;
        assert!(ceiling <= 12.0 * LOAD_GAL / 120.0 + 0.01, "{ceiling}");
        assert!(option.findings.has(Code::SiteVolumeLimited));
    }
    assert!(answer.sites.iter().all(|site| site.volume.is_some()));
}
