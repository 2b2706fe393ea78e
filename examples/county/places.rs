//! Where people live: the town at the eastern edge, a subdivision, and five villages.

use super::names::Names;
use super::net::{Net, Restriction, tags};
use super::plane::{bend, noise};
use super::roads::Dice;

const BLOCK: i32 = 4;
const STREETS: [&str; 3] = ["Street", "Street", "Avenue"];

/// Middle of the town, on the crossing of two section lines.
pub const TOWN: (i32, i32) = (896, 192);
/// Village middles, also on section lines. The first is the one nearest to the incident.
pub const VILLAGES: [(i32, i32); 5] = [(512, 448), (192, 576), (320, 192), (640, 640), (128, 256)];

/// Streets of a town: those of the section lines' grid that lie in a ragged ellipse, less a few
/// blocks. `one_way` names the columns whose traffic runs north (true) or south (false).
pub fn streets(
    net: &mut Net,
    names: &mut Names,
    dice: &mut Dice,
    middle: (i32, i32),
    half: (i32, i32),
    one_way: &[(i32, bool)],
) {
    let within = |u: i32, v: i32| {
        let (x, y) =
            (f64::from(u - middle.0) / f64::from(half.0), f64::from(v - middle.1) / f64::from(half.1));
        x * x + y * y < 1.0 + 0.35 * noise(f64::from(u), f64::from(v), 14.0, 31)
    };
    // The middle lines are the section roads themselves.
    let offsets = |half: i32| (-half / BLOCK..=half / BLOCK).map(|k| k * BLOCK).filter(|o| *o != 0);
    for north_south in [true, false] {
        let (across, along) = if north_south { (half.0, half.1) } else { (half.1, half.0) };
        for aside in offsets(across) {
            let column = middle.0 + aside;
            let direction = one_way.iter().find(|w| north_south && w.0 == column).map(|w| w.1);
            let class = if direction.is_some() { "tertiary" } else { "residential" };
            let name = names.road(&STREETS);
            let road = net.road(class, Some(name), &[("maxspeed", "25 mph"), ("surface", "asphalt")]);
            if direction.is_some() {
                net.roads[road].tags.push(("oneway".into(), "yes".into()));
            }
            let blocks: Vec<i32> = (-along / BLOCK..along / BLOCK).map(|k| k * BLOCK).collect();
            let ordered: Vec<i32> =
                if direction == Some(false) { blocks.iter().rev().copied().collect() } else { blocks };
            for block in ordered {
                let at = |ahead: i32| {
                    if north_south {
                        (column, middle.1 + ahead)
                    } else {
                        (middle.0 + ahead, middle.1 + aside)
                    }
                };
                let (from, to) = (at(block), at(block + BLOCK));
                let built = direction.is_some() || dice.chance(86);
                if built && within(from.0, from.1) && within(to.0, to.1) {
                    if direction == Some(false) {
                        net.lay(road, &[to, from])
                    } else {
                        net.lay(road, &[from, to])
                    };
                }
            }
        }
    }
}

pub fn settle(net: &mut Net, names: &mut Names, dice: &mut Dice) -> Vec<(String, (i32, i32))> {
    let mut settled = vec![(names.word(), TOWN)];
    streets(net, names, dice, TOWN, (44, 32), &[(884, true), (888, false)]);
    for (i, middle) in VILLAGES.into_iter().enumerate() {
        settled.push((names.word(), middle));
        let half = (dice.range(10, 16), dice.range(8, 13));
        // The village beside the incident stays small: its only hydrant is the point of it.
        let half = if i == 0 { (9, 9) } else { half };
        streets(net, names, dice, middle, half, &[]);
    }
    for (i, (name, (u, v))) in settled.iter().enumerate() {
        let kind = if i == 0 { "town" } else { "village" };
        net.point(bend(f64::from(*u), f64::from(*v)), &[("place", kind), ("name", name)]);
    }
    settled
}

/// A collector road with cul-de-sacs, each ending in a turning circle.
pub fn subdivision(net: &mut Net, names: &mut Names) -> usize {
    let list = [("maxspeed", "25 mph"), ("surface", "asphalt"), ("lanes", "2")];
    let collector = net.road("residential", Some(names.road(&["Parkway"])), &list);
    net.lay(collector, &[(960, 192), (962, 206), (972, 218), (974, 240), (968, 256)]);
    let mut first = usize::MAX;
    for (from, to) in [
        ((962, 206), (976, 202)),
        ((967, 212), (954, 222)),
        ((973, 226), (988, 232)),
        ((974, 236), (958, 238)),
        ((971, 246), (986, 250)),
    ] {
        let name = names.road(&["Court", "Circle"]);
        let road = net.road("residential", Some(name), &[("maxspeed", "25 mph"), ("surface", "asphalt")]);
        // From the closest point of the collector, which bows a little.
        let start = net.nodes.iter().filter(|n| n.edges.iter().any(|e| net.edges[*e].road == collector));
        let near = start.min_by_key(|n| (n.key.0 - from.0).pow(2) + (n.key.1 - from.1).pow(2));
        let (u, v, _) = near.expect("the collector has been laid").key;
        net.lay(road, &[(u, v), to]);
        let end = net.must(to.0, to.1);
        net.nodes[end].tags = tags(&[("highway", "turning_circle")]);
        first = first.min(end);
    }
    first
}

/// Turn restrictions: two in the town by a node, and the highway's U-turn by the median link.
pub fn restrictions(net: &mut Net) {
    let (u, v) = (884, TOWN.1);
    let no_left = Restriction {
        kind: "no_left_turn",
        from: net.must_edge((u, v - 1), (u, v)),
        via_node: net.must(u, v),
        via_edge: None,
        to: net.must_edge((u, v), (u - 1, v)),
    };
    let (u, v) = (TOWN.0, TOWN.1);
    let only_straight = Restriction {
        kind: "only_straight_on",
        from: net.must_edge((u, v - 1), (u, v)),
        via_node: net.must(u, v),
        via_edge: None,
        to: net.must_edge((u, v), (u, v + 1)),
    };
    let (south, north, v) = (super::roads::SOUTHBOUND, super::roads::NORTHBOUND, 3 * super::plane::SECTION);
    let no_u_turn = Restriction {
        kind: "no_u_turn",
        from: net.must_edge((south, v + 1), (south, v)),
        via_node: net.must(south, v),
        via_edge: Some(net.must_edge((south, v), (north, v))),
        to: net.must_edge((north, v), (north, v + 1)),
    };
    for restriction in [no_left, only_straight, no_u_turn] {
        net.split.insert(restriction.via_node);
        if let Some(edge) = restriction.via_edge {
            let far = net.other(edge, restriction.via_node);
            net.split.insert(far);
        }
        net.restrictions.push(restriction);
    }
}

/// Hydrants, tanks and suction points as mappers tag them, beside the streets.
pub fn water_supply(net: &mut Net, dice: &mut Dice) {
    let mut found = Vec::new();
    for node in &net.nodes {
        let (u, v, _) = node.key;
        let town = (u - TOWN.0).abs() <= 44 && (v - TOWN.1).abs() <= 32;
        let village = (u - VILLAGES[1].0).abs() <= 14 && (v - VILLAGES[1].1).abs() <= 11;
        if !(town || village) || node.edges.len() < 3 || !dice.chance(if town { 14 } else { 12 }) {
            continue;
        }
        let at = super::plane::Point::new(node.at.x + 7.0, node.at.y + 7.0);
        found.push((at, dice.range(0, 9)));
    }
    for (at, kind) in found {
        let list: &[(&str, &str)] = match kind {
            0 => &[("fire_hydrant:type", "underground"), ("fire_hydrant:diameter", "100")],
            1 => &[("fire_hydrant:type", "pillar"), ("fire_hydrant:pressure", "suction")],
            2 => &[("fire_hydrant:type", "pillar"), ("colour", "red"), ("fire_hydrant:diameter", "100")],
            3 | 4 => &[("fire_hydrant:type", "pillar"), ("fire_hydrant:diameter", "200"), ("colour", "blue")],
            _ => &[("fire_hydrant:type", "pillar"), ("fire_hydrant:diameter", "150")],
        };
        let mut all = vec![("emergency", "fire_hydrant")];
        all.extend_from_slice(list);
        net.point(at, &all);
    }
}
