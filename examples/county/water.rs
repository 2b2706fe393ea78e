//! The river with its reservoir, creeks, ponds and woods, and what they do to the roads.

use super::names::Names;
use super::net::{Drawing, Net, rank, tags};
use super::plane::{HEIGHT, Point, bend, blob, hilliness, noise};
use super::roads::Dice;

pub const RESERVOIR: (f64, f64) = (402.0, 538.0);
pub const RESERVOIR_HALF: (f64, f64) = (21.0, 43.0);
/// The pond that dries up, and the two that do not.
pub const SEASONAL_POND: (f64, f64) = (508.3, 538.0);
pub const PONDS: [(f64, f64); 2] = [(890.5, 604.0), (698.5, 604.0)];

/// Column of the river at a row. Calm around the planned bridges and through the reservoir.
pub fn river_column(v: f64) -> f64 {
    let calm = (((v - 480.0).abs() - 110.0) / 120.0).clamp(0.08, 1.0);
    403.0 + calm * (46.0 * noise(3.0, v, 110.0, 41) + 16.0 * noise(9.0, v, 38.0, 42))
}

fn river() -> Vec<Point> {
    (0..=2 * HEIGHT).map(|half| f64::from(half) / 2.0).map(|v| bend(river_column(v), v)).collect()
}

/// Creeks from a spring to the river or to the county's edge, in grid steps.
const CREEKS: [((f64, f64), (f64, f64)); 8] = [
    ((60.0, 700.0), (0.0, 620.0)),
    ((150.0, 470.0), (400.0, 350.0)),
    ((250.0, 690.0), (402.0, 575.0)),
    ((610.0, 560.0), (405.0, 350.0)),
    ((90.0, 330.0), (380.0, 120.0)),
    ((690.0, 330.0), (400.0, 90.0)),
    ((720.0, 470.0), (1024.0, 560.0)),
    ((850.0, 330.0), (760.0, 0.0)),
];

fn creek(i: usize) -> Vec<Point> {
    let (from, to) = CREEKS[i];
    // Where a creek joins the river it ends on it, not beside it.
    let to = if to.0 > 370.0 && to.0 < 410.0 { (river_column(to.1), to.1) } else { to };
    let steps = 200;
    let swing = |seed: u64, share: f64| {
        let open = 1.0 - (2.0 * share - 1.0) * (2.0 * share - 1.0);
        let at = share * 300.0;
        open * (30.0 * noise(at, i as f64 * 40.0, 75.0, seed)
            + 3.5 * noise(at, i as f64 * 9.0, 21.0, seed + 3))
    };
    (0..=steps)
        .map(|step| f64::from(step) / f64::from(steps))
        .map(|share| {
            let u = from.0 + (to.0 - from.0) * share + swing(51, share);
            let v = from.1 + (to.1 - from.1) * share + swing(61, share);
            bend(u, v)
        })
        .collect()
}

pub struct Waters {
    pub river: Vec<Point>,
    pub creeks: Vec<Vec<Point>>,
    pub reservoir: Vec<Point>,
    pub island: Vec<Point>,
}

pub fn waters() -> Waters {
    Waters {
        river: river(),
        creeks: (0..CREEKS.len()).map(creek).collect(),
        reservoir: blob(RESERVOIR, RESERVOIR_HALF, 0.16, 81),
        island: blob((404.0, 548.0), (7.0, 11.0), 0.15, 82),
    }
}

/// Takes away the roads under water and those whose river bridge was never built; makes bridges
/// and fords of the other crossings.
pub fn meet_roads(net: &mut Net, waters: &Waters, bridging: &[usize], dice: &mut Dice) {
    for edge in net.edges_inside(&waters.reservoir) {
        if !net.roads[net.edges[edge].road].island {
            net.remove_stretch(edge);
        }
    }
    for edge in net.crossing_edges(&waters.river) {
        let road = net.edges[edge].road;
        if net.roads[road].island {
            continue; // the river's line runs on under the reservoir
        }
        if rank(net.roads[road].class) <= rank("secondary") || bridging.contains(&road) {
            net.edges[edge].tags = tags(&[("bridge", "yes"), ("layer", "1")]);
        } else {
            net.remove_stretch(edge);
        }
    }
    for creek in &waters.creeks {
        for edge in net.crossing_edges(creek) {
            let class = net.roads[net.edges[edge].road].class;
            // Around the incident only the planned postings count.
            let (u, v, _) = net.nodes[net.edges[edge].a].key;
            let calm = (320..=530).contains(&u) && (370..=570).contains(&v);
            let list: &[(&str, &str)] = match class {
                "track" => {
                    let node = net.edges[edge].a;
                    net.nodes[node].tags = tags(&[("ford", "yes")]);
                    continue;
                }
                "service" => continue,
                "unclassified" if !calm && dice.chance(30) => [
                    &[("bridge", "yes"), ("layer", "1"), ("maxweight", "20 st")][..],
                    &[("bridge", "yes"), ("layer", "1"), ("maxweight", "18")],
                    &[("bridge", "yes"), ("layer", "1"), ("maxweight", "46000 lbs")],
                ][dice.range(0, 2) as usize],
                _ => &[("bridge", "yes"), ("layer", "1")],
            };
            net.edges[edge].tags = tags(list);
        }
    }
}

pub fn draw(net: &mut Net, waters: &Waters, names: &mut Names, dice: &mut Dice) {
    let line = |net: &mut Net, points: &[Point], kind: &str, name: String| {
        let keep = super::plane::simplify(points, 4.0);
        let points = points.iter().zip(keep).filter(|(_, keep)| *keep).map(|(p, _)| *p).collect();
        let tags = tags(&[("waterway", kind), ("name", &name)]);
        net.drawings.push(Drawing { points, closed: false, tags });
    };
    line(net, &waters.river, "river", format!("{} River", names.word()));
    for creek in &waters.creeks {
        line(net, creek, "stream", format!("{} Creek", names.word()));
    }
    let outer = net.ring(waters.reservoir.clone(), &[]);
    let inner = net.ring(waters.island.clone(), &[("place", "islet")]);
    let name = format!("{} Reservoir", names.word());
    let list =
        tags(&[("type", "multipolygon"), ("natural", "water"), ("water", "reservoir"), ("name", &name)]);
    net.multipolygons.push((outer, inner, list));

    let pond = |at: (f64, f64), seed| blob(at, (2.6, 2.2), 0.2, seed);
    net.ring(pond(SEASONAL_POND, 91), &[("natural", "water"), ("water", "pond"), ("intermittent", "yes")]);
    for (at, seed) in PONDS.into_iter().zip(92..) {
        net.ring(pond(at, seed), &[("natural", "water"), ("water", "pond")]);
    }
    // Woods: more and larger in the hills.
    for k in 0..80 {
        let (u, v) = (f64::from(dice.range(20, 1000)), f64::from(dice.range(20, 750)));
        // The barn stands in the open.
        let farm = (430.0..=500.0).contains(&u) && (430.0..=520.0).contains(&v);
        if farm || !dice.chance((10.0 + 95.0 * hilliness(u, v)) as u32) {
            continue;
        }
        let half = (f64::from(dice.range(9, 30)), f64::from(dice.range(9, 26)));
        net.ring(blob((u, v), half, 0.45, 200 + k), &[("natural", "wood")]);
    }
    net.ring(blob((352.0, 530.0), (19.0, 34.0), 0.2, 300), &[("landuse", "forest")]);
}
