//! How bends and grades slow a truck. 36 km/h is 10 m/s; lateral limit 1 m/s² full and 2 empty,
//! braking and speeding up 1 m/s², so that the numbers can be followed by hand.

#[path = "support/run.rs"]
mod run;
mod support;

use rand::seq::IndexedRandom;
use rand::{Rng, SeedableRng};
use std::time::Instant;
use support::drive::{Course, empty, full};
use support::extracts;
use support::world::World;
use tankerloop::roads::elevation::Elevation;
use tankerloop::roads::network::{Arc, Network};
use tankerloop::routing::Roads;
use tankerloop::routing::access::Policy;
use tankerloop::routing::explain::explain;
use tankerloop::routing::search::{Search, Stand, Until};
use tankerloop::routing::snap::Connection;
use tankerloop::routing::speed::{BUILT_IN, SetBy, SpeedTable};
use tankerloop::routing::trip::{Trip, trip};
use tankerloop::vehicle::Body;

const CURVES: (&str, &str) = (
    "[narrow]",
    "[curve]\nlateral_mps2 = { full = 1.0, empty = 2.0 }\nbrake_mps2 = 1.0\naccelerate_mps2 = 1.0\n[narrow]",
);
const GRADES: (&str, &str) = (
    "[narrow]",
    "[grade]\nrolling_percent = 1.0\npower_at_wheels = 0.85\n\
     downhill = [{ from_percent = 6.0, cap = \"18 km/h\" }]\n[narrow]",
);

fn course(world: World) -> Course {
    Course::with(world, &[CURVES], Policy::default())
}

/// Radius of a right angle between two straights with legs of 20 m: 20 / (2 sin 45°) m.
const CORNER_R: f64 = 14.142_135_6;

/// Seconds lost in a right angle of 20 m road at 10 m/s elsewhere: v = √(a·R); braking and speeding
/// up at 1 m/s² lose (10 − v)²/(2·10) each, and the 20 m themselves 20/v − 2.
fn corner_loses(lateral: f64) -> f64 {
    let v = (lateral * CORNER_R).sqrt();
    (10.0 - v).powi(2) / 10.0 + 20.0 / v - 2.0
}

const CORNER: &str = "
    A---------B
              |
              |
              |
              C
    ";

/// 1,400 m, one right angle in the way: full v = 3.761 m/s, lost 3.89 + 3.32 = 7.2 s; empty v = 5.318,
/// lost 2.19 + 1.76 = 3.95 s. The same where the way is cut at the corner.
#[test]
fn a_corner_slows_only_the_road_around_it() {
    for ways in [&["ABC"][..], &["AB", "BC"]] {
        let world = ways.iter().fold(World::new(100.0).map(CORNER), |world, way| world.road(way));
        let course = course(world);
        course.drive(full(), 'A', 'C').is("ABC", 140.0 + corner_loses(1.0));
        course.drive(full(), 'C', 'A').is("CBA", 140.0 + corner_loses(1.0));
        course.drive(empty(), 'A', 'C').is("ABC", 140.0 + corner_loses(2.0));
    }
}

#[test]
fn curves_can_be_switched_off() {
    let off = (CURVES.0, "[curve]\nlateral_mps2 = 0\nbrake_mps2 = 1.0\naccelerate_mps2 = 1.0\n[narrow]");
    let world = World::new(100.0).map(CORNER).road("ABC");
    Course::with(world, &[off], Policy::default()).drive(full(), 'A', 'C').is("ABC", 140.0);
}

/// At a junction with a side road the turn's delay stands for the corner, and a road that goes
/// straight on past a side road is not slowed.
#[test]
fn a_turn_is_not_counted_twice() {
    let world = World::new(100.0).map(
        "
        A---------B---D
                  |
                  |
                  |
                  C
        ",
    );
    let course = course(world.road("ABC").road("BD"));
    course.drive(full(), 'A', 'C').is("ABC", 140.0);
    course.drive(full(), 'A', 'D').is("ABD", 140.0);
}

/// A quarter circle of 200 m radius in steps of 80 m: full √200 = 14.1 m/s, more than the road's 10;
/// one of 50 m in steps of 20 m: full 7.07 m/s over 78.5 m.
#[test]
fn a_wide_bend_slows_nobody_and_a_narrow_one_does() {
    let wide = course(arc_world(20.0)).drive(full(), 'A', 'G').seconds.unwrap();
    let straight = course(arc_world(20.0)).world.metres("ABCDEFG") / 10.0;
    assert!((wide - straight).abs() < 0.1, "{wide} against {straight}");
    let narrow = course(arc_world(5.0));
    let cells = narrow.world.metres("ABCDEFG");
    let bend = narrow.world.metres("BCDEF") / 50.0f64.sqrt();
    let got = narrow.drive(full(), 'A', 'G').seconds.unwrap();
    // No slower than with the bend's speed all the way, no faster than without the way to and from it.
    assert!(got > (cells - narrow.world.metres("BCDEF")) / 10.0 + bend * 0.97, "{got}");
    assert!(got < cells / 50.0f64.sqrt(), "{got}");
}

/// Straight, a quarter circle of ten cells' radius by five points, straight. Turns of 14, 20, 23, 20
/// and 14 degrees.
fn arc_world(metres_per_cell: f64) -> World {
    World::new(metres_per_cell)
        .map(
            "
            A-----------------------B
                                        C

                                           D


                                             E



                                              F
                                              |
                                              |
                                              |
                                              |
                                              |
                                              |
                                              |
                                              |
                                              |
                                              G
            ",
        )
        .road("ABCDEFG")
}

/// A driven line in steps of a centimetre against the closed form: caps by cell, forward and back.
#[test]
fn small_steps_agree() {
    for body in [full(), empty()] {
        let course = course(World::new(30.0).map(CORNER).road("ABC"));
        let lateral: f64 = if body == full() { 1.0 } else { 2.0 };
        let (length, step) = (30.0 * 14.0, 0.01);
        let count = (length / step) as usize;
        let corner = (lateral * CORNER_R).sqrt();
        let mut speeds: Vec<f64> = (0..=count)
            .map(|i| if (i as f64 * step - 300.0).abs() <= 10.0 { corner } else { 10.0 })
            .collect();
        for i in 1..=count {
            speeds[i] = speeds[i].min((speeds[i - 1].powi(2) + 2.0 * step).sqrt());
        }
        for i in (0..count).rev() {
            speeds[i] = speeds[i].min((speeds[i + 1].powi(2) + 2.0 * step).sqrt());
        }
        let seconds: f64 = speeds.windows(2).map(|pair| 2.0 * step / (pair[0] + pair[1])).sum();
        course.drive(body, 'A', 'C').is("ABC", seconds);
    }
}

/// A 1,000-m hill of 6 %: 50,000 lb and 350 hp climb it at 31.875 mph (14.25 m/s), so a road of 10 m/s
/// is not slowed; 175 hp at half of that, 7.125 m/s. Downhill the policy's 5 m/s hold for any truck.
#[test]
fn grades_by_power_and_policy() {
    let heavy = |power_hp: Option<f64>| Body {
        mass: tankerloop::units::Kilograms::from_pounds(50_000.0),
        power_hp,
        ..full()
    };
    let hill = |incline: &str| {
        let way = [("highway", "tertiary"), ("incline", incline)];
        let world = World::new(100.0).map("A---------B").way("AB", &way);
        Course::with(world, &[GRADES], Policy::default())
    };
    let course = hill("6%");
    course.drive(heavy(Some(350.0)), 'A', 'B').is("AB", 100.0);
    course.drive(heavy(Some(175.0)), 'A', 'B').is("AB", 1_000.0 / 7.1247);
    course.drive(heavy(None), 'A', 'B').is("AB", 100.0);
    course.drive(heavy(None), 'B', 'A').is("BA", 200.0);
    hill("-6%").drive(heavy(Some(175.0)), 'B', 'A').is("BA", 1_000.0 / 7.1247);
    hill("up").drive(heavy(Some(175.0)), 'A', 'B').is("AB", 100.0);
    hill("5.9%").drive(heavy(None), 'B', 'A').is("BA", 100.0);
}

/// The same hill in a grid: N31W034.hgt rises 6 m in 100 m towards the east, as the road does.
#[test]
fn grades_from_an_elevation_grid() {
    let side = 3_601usize;
    // A cell of one second of arc is 30.887 m north-south and cos 31.5° of it at the road.
    let cell_m = 111_195.08 / 3_600.0 * 31.5f64.to_radians().cos();
    let row: Vec<u8> =
        (0..side).flat_map(|column| ((column as f64 * cell_m * 0.06).round() as i16).to_be_bytes()).collect();
    let folder = support::drive::folder();
    let file = folder.join("N31W034.hgt");
    std::fs::write(&file, row.repeat(side)).unwrap();
    let grid = Elevation::read(&[&file]).unwrap();
    let refused = Elevation::read(&[folder.join("N32W034.hgt"), folder.join("hill.hgt")]).unwrap_err();
    assert_eq!(refused.0.len(), 2);
    std::fs::write(&file, "not a grid").unwrap();
    assert!(Elevation::read(&[&file]).unwrap_err().to_string().contains("10 bytes"));
    std::fs::remove_dir_all(folder).unwrap();

    // The picture's middle lies at 34° W, 31° N, the grid's corner: its right upper part is inside.
    let world = World::new(1_000.0).map(
        "
                                                  A---B






















        X
        ",
    );
    let mut course = Course::with(world.road("AB"), &[GRADES], Policy::default());
    let truck =
        Body { mass: tankerloop::units::Kilograms::from_pounds(50_000.0), power_hp: Some(175.0), ..full() };
    course.drive(truck.clone(), 'A', 'B').is("AB", 400.0);
    course.roads.elevate(&grid);
    // 7.125 m/s at 6 %, within what whole metres in the grid and the row's own latitude make of it.
    let up = course.drive(truck.clone(), 'A', 'B').seconds.unwrap();
    assert!((up / (4_000.0 / 7.1247) - 1.0).abs() < 0.02, "{up}");
    let down = course.drive(truck, 'B', 'A').seconds.unwrap();
    assert!((400.0..=801.0).contains(&down), "{down}");
}

/// Stretches and delays add up, and each says what set its speed.
#[test]
fn a_drive_explained() {
    let world = World::new(100.0)
        .map(
            "
            A---------B---------D
                                |
                                C
            ",
        )
        .way("AB", &[("highway", "tertiary"), ("surface", "gravel"), ("name", "Pit Lane")])
        .way("BDC", &[("highway", "tertiary"), ("maxspeed", "18"), ("name", "Low Road")])
        .node('B', &[("highway", "traffic_signals")]);
    let curves = CURVES.1.replace("full = 1.0", "full = 0.1");
    let course =
        Course::with(world, &[(CURVES.0, &curves), ("signal = 0.0", "signal = 15.0")], Policy::default());
    let roads = &course.roads;
    let found = trip(roads, full(), course.world.place('A'), course.world.place('C')).unwrap();
    let Trip::Found { drive, leg, .. } = found else { panic!("no way") };
    let told = explain(&roads.graph(full()), &roads.table, &drive);
    let sum: f64 = told.iter().map(|s| s.travel.0 + s.delay.0).sum();
    assert!((sum - leg.travel.0).abs() < 1e-6, "{sum} against {}", leg.travel);
    let [pit, low] = &told[..] else { panic!("{told:?}") };
    assert_eq!((pit.street.as_str(), pit.set_by, pit.full_factor), ("Pit Lane", SetBy::Surface, true));
    assert!((pit.speed.0 - 5.0).abs() < 0.01 && (pit.delay.0 - 15.0).abs() < 1e-9);
    assert_eq!((low.street.as_str(), low.set_by, low.full_factor), ("Low Road", SetBy::Posted, false));
    assert!(low.shares.iter().any(|s| s.set_by == SetBy::Curve && s.travel.0 > 10.0), "{low:?}");
    let of_shares: f64 = low.shares.iter().map(|s| s.travel.0).sum();
    assert!((of_shares - low.travel.0).abs() < 0.01);
}

/// The standard's equation for 1,400 m: 0.65 + 1.7 x 0.8699 miles = 2.129 min, 127.7 s.
#[test]
fn drive_tells_stretches_and_the_standards_time() {
    let world = World::new(100.0).map(CORNER).way("ABC", &[("highway", "tertiary"), ("name", "Elbow Road")]);
    let folder = run::folder("drive-explain");
    let (roads, fleet) = (world.write(&folder), run::repository("data/county/fleet.toml"));
    let at = |letter: char| world.place(letter).to_string();
    let (from, to) = (format!("--from={}", at('A')), format!("--to={}", at('C')));
    let (roads, fleet) = (roads.to_str().unwrap(), fleet.to_str().unwrap());
    let drive =
        ["drive", "--roads", roads, "--fleet", fleet, "--vehicle", "T3", "--load", "full", &from, &to];
    let json = run::tankerloop(&[&drive[..], &["--explain", "--format", "json"]].concat()).json();
    assert_eq!(json["standard_travel_s"], 127.7);
    let stretch = &json["stretches"][0];
    assert_eq!((&stretch["way"], &stretch["street"]), (&100.into(), &"Elbow Road".into()));
    assert_eq!((&stretch["set_by"], &stretch["full_factor"]), (&"class".into(), &true.into()));
    assert_eq!(stretch["travel_s"], json["travel_s"]);
    let text = run::tankerloop(&[&drive[..], &["--explain"]].concat());
    assert!(text.text().contains("standard's equation (0.65 min + 1.7 min/mi): 2:08 min"), "{}", text.text());
    assert!(text.text().contains("class × full") && text.text().contains("curve"), "{}", text.text());
    let plain = run::tankerloop(&drive);
    assert!(!plain.text().contains("set by"));
}

fn with_curves(name: &str, curves: &str) -> Option<Roads> {
    let path = extracts::path(name)?;
    let written = "lateral_mps2 = { full = 1.5, empty = 2.0 }";
    assert!(BUILT_IN.contains(written));
    let table = SpeedTable::parse(&BUILT_IN.replace(written, curves), "curves").unwrap();
    Some(Roads::new(Network::read(&path, &mut |_, _| {}).unwrap(), table, Policy::default()))
}

/// Arc by arc: a tighter lateral limit, a heavier truck or less power never arrives earlier.
#[test]
fn tighter_or_heavier_is_never_earlier() {
    let (Some(tight), Some(loose)) =
        (with_curves("isle-of-man", "lateral_mps2 = 0.8"), with_curves("isle-of-man", "lateral_mps2 = 2.5"))
    else {
        return;
    };
    let truck = |tonnes: f64, hp: f64| Body {
        mass: tankerloop::units::Kilograms(tonnes * 1_000.0),
        power_hp: Some(hp),
        ..Body::weightless()
    };
    let slower = |slow: &Roads, slow_body: Body, fast: &Roads, fast_body: Body| {
        let (slow, fast) = (slow.graph(slow_body), fast.graph(fast_body));
        let mut differ = 0;
        for arc in slow.network.arcs().filter(|arc| slow.is_open(*arc)) {
            assert!(slow.ms(arc) >= fast.ms(arc), "{arc:?}: {} ms, {} ms", slow.ms(arc), fast.ms(arc));
            differ += usize::from(slow.ms(arc) > fast.ms(arc));
        }
        differ
    };
    assert!(slower(&tight, truck(10.0, 300.0), &loose, truck(10.0, 300.0)) > 1_000);
    slower(&loose, truck(20.0, 300.0), &loose, truck(10.0, 300.0));
    slower(&loose, truck(20.0, 150.0), &loose, truck(20.0, 300.0));
}

/// The effect of curves on 200 random drives: told, and held to sense.
#[test]
fn effect_of_curves_on_real_roads() {
    for name in ["isle-of-man", "liechtenstein"] {
        let (Some(with), Some(without)) = (
            with_curves(name, "lateral_mps2 = { full = 1.5, empty = 2.0 }"),
            with_curves(name, "lateral_mps2 = \"off\""),
        ) else {
            continue;
        };
        let mut random = rand_pcg::Pcg64Mcg::seed_from_u64(7);
        let begin = Instant::now();
        let curved = with.graph(full());
        let curved_in = begin.elapsed();
        let begin = Instant::now();
        let plain = without.graph(full());
        println!(
            "{name}: {} arcs; a graph with curves in {curved_in:.1?}, without in {:.1?}",
            with.network.arc_count(),
            begin.elapsed()
        );
        let open: Vec<Arc> = with.network.arcs().filter(|arc| curved.is_open(*arc)).collect();
        let mut ratios = Vec::new();
        let (mut a, mut b) = (Search::new(), Search::new());
        while ratios.len() < 200 {
            let mut stand = || Stand {
                arc: *open.choose(&mut random).unwrap(),
                fraction: f64::from(random.next_u32()) / f64::from(u32::MAX),
            };
            let (from, to) = (stand(), stand());
            a.forward(&curved, from, u32::MAX - 1, |_| 0, Until::Bound);
            b.forward(&plain, from, u32::MAX - 1, |_| 0, Until::Bound);
            if let (Some(slow), Some(fast)) = (a.ms_to(&curved, from, to), b.ms_to(&plain, from, to)) {
                ratios.push(f64::from(slow) / f64::from(fast.max(1)));
            }
        }
        ratios.sort_by(f64::total_cmp);
        println!(
            "{name}: travel time with curves over without, full, 200 drives: median {:.3}, tenth {:.3}, nine tenths {:.3}",
            ratios[100], ratios[20], ratios[180]
        );
        assert!((1.0..1.6).contains(&ratios[100]), "{name}: {}", ratios[100]);
    }
}

/// What only the building of graphs needs is let go and worked out anew: another graph is the same.
#[test]
fn what_was_let_go_makes_the_same_graph() {
    for name in ["niue", "liechtenstein"] {
        let Some(roads) = extracts::roads(name) else { return };
        let roads = Roads::clone(roads);
        let graph = |roads: &Roads| {
            let graph = roads.graph(full());
            let times: Vec<u32> = roads.network.arcs().map(|arc| graph.ms(arc)).collect();
            (times, Connection::of(&graph))
        };
        let before = graph(&roads);
        roads.topology.graphs_are_built(&roads.network, true);
        assert!(graph(&roads) == before, "{name}");
    }
}
