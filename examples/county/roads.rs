//! The open country: section lines, the roads between them, the divided highway, old diagonal
//! roads and farm lanes.

use super::names::Names;
use super::net::{Net, trace};
use super::plane::{COLUMNS, HEIGHT, ROWS, SECTION, WIDTH, hilliness};
use rand::Rng;
use rand_pcg::Pcg32;

/// Grid columns of the divided highway: southbound on the west, northbound on the east side.
pub const SOUTHBOUND: i32 = 800;
pub const NORTHBOUND: i32 = 801;
/// How the east-west section lines meet the highway; the others only touch their own side.
pub const AT_GRADE: [i32; 3] = [3, 6, 10];
pub const OVER: [i32; 2] = [2, 9];
/// Here the highway passes over the section line, and there is little height under it.
pub const UNDER: i32 = 5;

pub struct Dice(Pcg32);

impl Dice {
    pub fn new(seed: u64) -> Dice {
        Dice(Pcg32::new(seed, 0x5851_f42d_4c95_7f2d))
    }
    /// An integer from `low` to `high`, both included.
    pub fn range(&mut self, low: i32, high: i32) -> i32 {
        low + (self.0.next_u32() % (high - low + 1) as u32) as i32
    }
    pub fn chance(&mut self, percent: u32) -> bool {
        self.0.next_u32() % 100 < percent
    }
}

const ROAD_KINDS: [&str; 4] = ["Road", "Road", "Line Road", "Hill Road"];

fn north_south_class(i: i32) -> &'static str {
    match i {
        4 | 14 => "secondary",
        1 | 8 | 11 => "tertiary",
        _ => "unclassified",
    }
}

fn east_west_class(j: i32) -> &'static str {
    match j {
        6 => "primary",
        2 | 10 => "secondary",
        3 | 4 | 7 => "tertiary",
        _ => "unclassified",
    }
}

pub fn class_tags(class: &str, dice: &mut Dice) -> Vec<(&'static str, &'static str)> {
    match class {
        "trunk" => vec![("maxspeed", "55 mph"), ("lanes", "2"), ("surface", "asphalt"), ("oneway", "yes")],
        "primary" => {
            vec![("maxspeed", "55 mph"), ("lanes", "2"), ("surface", "asphalt"), ("width", "7.3 m")]
        }
        "secondary" => vec![("maxspeed", "55 mph"), ("lanes", "2"), ("surface", "asphalt")],
        "tertiary" => vec![("maxspeed", "45 mph"), ("surface", "asphalt")],
        "unclassified" if dice.chance(35) => vec![("maxspeed", "35 mph"), ("surface", "gravel")],
        "unclassified" if dice.chance(30) => vec![("surface", "gravel"), ("width", "5 m")],
        "unclassified" => vec![("maxspeed", "45 mph"), ("surface", "asphalt")],
        "residential" => vec![("maxspeed", "25 mph")],
        _ => vec![],
    }
}

/// Section roads keep to their line where the plan of the county relies on it: around the
/// reservoir and the incident, in the town, and beside the highway.
fn pinned(i2: i32, j2: i32) -> bool {
    (9..=18).contains(&i2) && (11..=19).contains(&j2)
        || (25..=30).contains(&i2) && (3..=9).contains(&j2)
        || (24..=26).contains(&i2)
}

/// Stretches of the section lines that must exist, and those that the reservoir forbids.
fn planned(north_south: bool, line: i32, cell: i32) -> Option<bool> {
    match (north_south, line, cell) {
        (true, 6, 7..=8) | (false, 8, 5..=6) => Some(false),
        (true, 5 | 7 | 8, 5..=9) | (false, 7, 3..=9) | (false, 8, 7..=8) | (false, 9, 4..=5) => Some(true),
        (true, 13..=15, 1..=4) | (false, 2..=4, 11..=15) | (false, 5 | 9, 11..=13) => Some(true),
        _ => None,
    }
}

pub fn section_lines(net: &mut Net, names: &mut Names, dice: &mut Dice) {
    for north_south in [false, true] {
        let (lines, cells) = if north_south { (COLUMNS, ROWS) } else { (ROWS, COLUMNS) };
        for line in 1..lines {
            let class = if north_south { north_south_class(line) } else { east_west_class(line) };
            let name = names.road(&ROAD_KINDS);
            let list = class_tags(class, dice);
            let road = net.road(class, Some(name), &list);
            if class != "unclassified" {
                let number = if north_south { 300 + line } else { 400 + line };
                let prefix = if class == "tertiary" { "CR" } else { "SR" };
                net.roads[road].tags.push(("ref".into(), format!("{prefix} {number}")));
            }
            // Halfway points too, so that a road can leave its line and come back.
            let mut last: Option<(i32, i32)> = None;
            for half in 0..=2 * cells {
                let (i2, j2) = if north_south { (2 * line, half) } else { (half, 2 * line) };
                let (u, v) = (i2 * SECTION / 2, j2 * SECTION / 2);
                let swing = 4.0 + 13.0 * hilliness(f64::from(u), f64::from(v));
                let swing = if rank_is_main(class) { swing * 0.4 } else { swing } as i32;
                let drift = if pinned(i2, j2) { 0 } else { dice.range(-swing, swing) };
                let here = if north_south { (u + drift, v) } else { (u, v + drift) };
                let cell = (half - 1) / 2;
                let open = planned(north_south, line, cell)
                    .unwrap_or_else(|| rank_is_main(class) || !missing(line, cell, north_south, u, v));
                if let (Some(last), true) = (last, open) {
                    let level = |(u, _): (i32, i32)| {
                        let beside = (SOUTHBOUND - 3..=NORTHBOUND + 3).contains(&u);
                        i32::from(!north_south && OVER.contains(&line) && beside)
                    };
                    net.lay_line(road, &trace(&[last, here]), &level);
                }
                last = Some(here);
            }
        }
    }
}

fn rank_is_main(class: &str) -> bool {
    !matches!(class, "unclassified")
}

/// Whether a mile of a minor section line was never built: more of them in the hills. By a hash
/// of the place and not by dice, so that both halves of the mile agree.
fn missing(line: i32, cell: i32, north_south: bool, u: i32, v: i32) -> bool {
    let seed = if north_south { 71 } else { 72 };
    let share = super::plane::noise(f64::from(line * 7 + 1), f64::from(cell * 5 + 1), 1.0, seed);
    share < -0.62 + 0.55 * hilliness(f64::from(u), f64::from(v))
}

pub fn highway(net: &mut Net, dice: &mut Dice, name: &str) {
    let list = class_tags("trunk", dice);
    for (column, from, to) in [(SOUTHBOUND, HEIGHT, 0), (NORTHBOUND, 0, HEIGHT)] {
        let road = net.road("trunk", Some(name.to_string()), &list);
        net.roads[road].tags.push(("ref".into(), "SR 7".into()));
        let level = |(_, v): (i32, i32)| i32::from((v - UNDER * SECTION).abs() <= 3);
        net.lay_line(road, &trace(&[(column, from), (column, to)]), &level);
    }
}

/// Between the carriageways only the named crossings stay open.
pub fn close_median(net: &mut Net) {
    for line in 1..ROWS {
        if AT_GRADE.contains(&line) || OVER.contains(&line) || line == UNDER {
            continue;
        }
        let v = line * SECTION;
        if let (Some(a), Some(b)) = (net.at((SOUTHBOUND, v, 0)), net.at((NORTHBOUND, v, 0)))
            && let Some(edge) = net.edge_between(a, b)
        {
            net.edges[edge].gone = true;
        }
    }
}

pub fn diagonals(net: &mut Net, names: &mut Names, dice: &mut Dice) {
    let lines: [(&'static str, &[(i32, i32)]); 4] = [
        ("secondary", &[(0, 96), (110, 150), (256, 192), (330, 262), (448, 318), (512, 384)]),
        ("tertiary", &[(512, 448), (580, 500), (640, 590), (700, 640), (748, 768)]),
        ("tertiary", &[(904, 222), (950, 300), (960, 384), (1024, 446)]),
        ("tertiary", &[(256, 704), (180, 600), (90, 560), (0, 545)]),
    ];
    for (class, waypoints) in lines {
        let name = names.road(&["Turnpike", "Old Road", "Post Road"]);
        let list = class_tags(class, dice);
        let road = net.road(class, Some(name), &list);
        net.lay(road, waypoints);
    }
}

/// Roads through the middle of a section, winding, from one side to the other.
pub fn half_sections(net: &mut Net, names: &mut Names, dice: &mut Dice, kept_clear: &[(i32, i32)]) {
    for j in 0..ROWS {
        for i in 0..COLUMNS {
            let near_highway = i == SOUTHBOUND / SECTION;
            for north_south in [true, false] {
                let (u, v) = (i * SECTION + 32, j * SECTION + 32);
                if !dice.chance(46) || kept_clear.contains(&(i, j)) || near_highway || !net.free((u, v), 4) {
                    continue;
                }
                let list = class_tags("unclassified", dice);
                let road =
                    net.road("unclassified", Some(names.road(&["Road", "Lane", "Hollow Road"])), &list);
                for end in [-44, 44] {
                    let mut bow = || dice.range(-9, 9);
                    let line = if north_south {
                        [(u, v), (u + bow(), v + end / 3), (u + bow(), v + end)]
                    } else {
                        [(u, v), (u + end / 3, v + bow()), (u + end, v + bow())]
                    };
                    net.lay_until_met(road, &line);
                }
            }
        }
    }
}

/// Farm lanes and drives, each off a public road and clear of every other.
pub fn lanes(net: &mut Net, names: &mut Names, dice: &mut Dice) {
    for start in 0..net.nodes.len() {
        let edges = &net.nodes[start].edges;
        let class = net.roads[net.edges[edges[0]].road].class;
        let fits = matches!(class, "secondary" | "tertiary" | "unclassified") && edges.len() == 2;
        if !fits || !dice.chance(4) {
            continue;
        }
        let (u, v, _) = net.nodes[start].key;
        let turn = dice.range(0, 3);
        let long = if dice.chance(20) { dice.range(16, 34) } else { dice.range(3, 13) };
        let drift = dice.range(-long / 2, long / 2);
        let route = (0..4).map(|k| (turn + k) % 4).find_map(|direction| {
            let along = |ahead: i32, aside: i32| match direction {
                0 => (u + ahead, v + aside),
                1 => (u - ahead, v + aside),
                2 => (u + aside, v + ahead),
                _ => (u + aside, v - ahead),
            };
            let line = [(u, v), along(2, 0), along(2 + long / 2, drift / 3), along(2 + long, drift)];
            let clear = trace(&line).iter().enumerate().skip(1).all(|(step, (point, _))| {
                let inside = (1..WIDTH).contains(&point.0) && (1..HEIGHT).contains(&point.1);
                inside && net.free(*point, (step as i32 - 1).min(2))
            });
            clear.then_some(line)
        });
        let Some(line) = route else { continue };
        let road = match dice.range(0, 9) {
            0 | 1 => {
                let name = names.road(&["Lane", "Farm Lane", "Lane", "Drive"]);
                net.road("residential", Some(name), &[("surface", "gravel")])
            }
            2 | 3 => net.road("track", None, &[("tracktype", "grade2"), ("surface", "gravel")]),
            4 => net.road("track", None, &[("tracktype", "grade4"), ("surface", "dirt")]),
            5 => net.road("service", None, &[("service", "driveway"), ("access", "private")]),
            6 => net.road("unclassified", Some(names.road(&["Lane", "Hollow"])), &[("width", "4.5 m")]),
            _ => net.road("service", None, &[("service", "driveway"), ("surface", "gravel")]),
        };
        net.lay(road, &line);
        if matches!(net.roads[road].class, "residential" | "unclassified") && dice.chance(40) {
            let end = net.must(line[3].0, line[3].1);
            net.nodes[end].tags.push(("highway".into(), "turning_circle".into()));
        }
    }
}
