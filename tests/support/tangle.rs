//! Random small road worlds with everything that makes a search over arcs hard: parallel roads, loops,
//! one-ways, dead ends, turning circles, barriers, weight limits, bans at nodes and through ways.

use super::pbf::{Member, MemberType};
use super::world::World;
use rand::seq::{IndexedRandom, SliceRandom};
use rand::{RngExt, SeedableRng};
use rand_pcg::Pcg64Mcg;

/// Ids of ways count from here, see `World::way`.
const FIRST_WAY: i64 = 100;
const COLUMNS: usize = 6;
const ROWS: usize = 5;
const BANS: [&str; 7] = [
    "no_left_turn",
    "no_right_turn",
    "no_straight_on",
    "no_u_turn",
    "only_left_turn",
    "only_right_turn",
    "only_straight_on",
];

/// The world of a seed: three to nine junctions, four to a dozen roads, up to five bans.
pub fn tangle(seed: u64) -> World {
    let mut random = Pcg64Mcg::seed_from_u64(seed);
    let mut letters: Vec<char> = ('A'..='Z').chain('0'..='3').collect();
    letters.shuffle(&mut random);
    let picture: String = (0..ROWS)
        .map(|row| "\n".to_string() + &letters[row * COLUMNS..][..COLUMNS].iter().collect::<String>())
        .collect();
    let mut world = World::new(37.0).map(&picture);
    let count = random.random_range(3..10);
    let (hubs, spare) = letters.split_at(count);
    let mut spare = spare.iter();
    let mut roads: Vec<String> = Vec::new();
    for _ in 0..random.random_range(4..13) {
        let road: Vec<char> = match random.random_range(0..12) {
            // A loop from a junction back to it.
            0 => match (spare.next(), spare.next()) {
                (Some(a), Some(b)) => vec![hubs[0], *a, *b, hubs[0]],
                _ => continue,
            },
            // A dead end.
            1 => match (hubs.choose(&mut random), spare.next()) {
                (Some(hub), Some(end)) => vec![*hub, *end],
                _ => continue,
            },
            // A second road beside one there is, sometimes the other way round.
            2 | 3 => match roads.choose(&mut random) {
                Some(road) if random.random_bool(0.5) => road.chars().rev().collect(),
                Some(road) => road.chars().collect(),
                None => continue,
            },
            kind => hubs.sample(&mut random, if kind == 4 { 3 } else { 2 }).copied().collect(),
        };
        roads.push(road.iter().collect());
        let class = if random.random_bool(0.05) { "trunk" } else { "residential" };
        let mut tags = vec![("highway", class)];
        if random.random_bool(0.2) {
            tags.push(("oneway", "yes"));
        }
        if random.random_bool(0.1) {
            tags.push(("maxweight", "15"));
        }
        world = world.way(&roads[roads.len() - 1], &tags);
    }
    let used = |letter: &char| roads.iter().any(|road| road.contains(*letter));
    for letter in letters.iter().filter(|letter| used(letter)) {
        world = match random.random_range(0..24) {
            0..3 => world.node(*letter, &[("highway", "turning_circle")]),
            3 => world.node(*letter, &[("barrier", "bollard")]),
            4..6 => world.node(*letter, &[("barrier", "gate")]),
            6..8 => world.node(*letter, &[("highway", "traffic_signals")]),
            _ => world,
        };
    }
    for _ in 0..random.random_range(0..6) {
        if roads.is_empty() {
            break;
        }
        if let Some(members) = ban(&mut random, &world, &roads) {
            let kind = BANS.choose(&mut random).unwrap();
            let tags = [("type", "restriction"), ("restriction", kind)];
            world = world.relation(members, tags.map(|(k, v)| (k.to_string(), v.to_string())).to_vec());
        }
    }
    world
}

fn member(role: &str, kind: MemberType, id: i64) -> Member {
    Member { role: role.into(), kind, id }
}

/// Members of a ban: from a road by a node of it, or by one road or two that hang together, to a road
/// there. Some make no sense; the reader tells so and leaves them out.
fn ban(random: &mut Pcg64Mcg, world: &World, roads: &[String]) -> Option<Vec<Member>> {
    let way = |role: &str, road: usize| member(role, MemberType::Way, FIRST_WAY + road as i64);
    let ends = |road: usize| [roads[road].chars().next(), roads[road].chars().last()];
    let from = random.random_range(0..roads.len());
    let mut at = ends(from)[random.random_range(0..2)]?;
    let mut before = from;
    let mut members = vec![way("from", from)];
    let vias = random.random_range(0..3);
    for _ in 0..vias {
        before = road_at(random, roads, at, before)?;
        members.push(way("via", before));
        let [first, last] = ends(before);
        at = if first == Some(at) { last? } else { first? };
    }
    if vias == 0 {
        members.push(member("via", MemberType::Node, world.node_id(at)));
    }
    members.push(way("to", road_at(random, roads, at, before).unwrap_or(from)));
    Some(members)
}

/// A road at a node other than the one taken, now and then that one.
fn road_at(random: &mut Pcg64Mcg, roads: &[String], node: char, taken: usize) -> Option<usize> {
    let again = random.random_range(0..8) == 0;
    let there = |road: &usize| roads[*road].contains(node) && (again || *road != taken);
    let there: Vec<usize> = (0..roads.len()).filter(there).collect();
    there.choose(random).copied()
}
