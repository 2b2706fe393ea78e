//! Seeded random grids and random closures: closing more never opens a way and never shortens one,
//! and a verdict does not depend on the order of the entries.

mod support;

use rand::{Rng, RngExt, SeedableRng};
use serde_json::{Value, json};
use support::drive::{Course, area, feature, full, line};
use support::world::World;
use tankerloop::roads::network::Arc;
use tankerloop::routing::search::{Search, Stand, Until};

const GRIDS: u64 = 40;
const MAP: &str = "
    A---B---C---D
    |   |   |   |
    E---F---G---H
    |   |   |   |
    I---J---K---L
    ";

fn letter(row: u32, column: u32) -> char {
    char::from_u32('A' as u32 + row * 4 + column).unwrap()
}

fn grid(random: &mut impl Rng) -> Vec<(String, bool)> {
    let mut ways = Vec::new();
    for row in 0..3 {
        for column in 0..4 {
            for (down, right) in [(0, 1), (1, 0)] {
                if row + down < 3 && column + right < 4 && random.random_bool(0.9) {
                    let nodes = [letter(row, column), letter(row + down, column + right)];
                    ways.push((nodes.iter().collect(), random.random_bool(0.2)));
                }
            }
        }
    }
    ways
}

fn world(ways: &[(String, bool)]) -> World {
    ways.iter().fold(World::new(100.0).map(MAP), |world, (nodes, bridge)| {
        let bridge = if *bridge { "yes" } else { "no" };
        world.way(nodes, &[("highway", "residential"), ("bridge", bridge)])
    })
}

fn closure(random: &mut impl Rng, ways: &[(String, bool)]) -> Value {
    let world = world(ways);
    let node = letter(random.random_range(0..3), random.random_range(0..4));
    let mut off = |most: f64| random.random_range(-most..most);
    let (a, b, c, d) = (off(400.0), off(400.0), off(15.0), off(15.0));
    match random.random_range(0..3) {
        0 => {
            let id = 100 + random.random_range(0..ways.len() as i64);
            let direction = ["both", "forward", "backward"][random.random_range(0..3)];
            feature(Value::Null, json!({ "kind": "closure", "way": id, "direction": direction }))
        }
        1 => {
            let along = if random.random_bool(0.5) {
                [(node, a, c), (node, b, d)]
            } else {
                [(node, c, a), (node, d, b)]
            };
            feature(line(&world, &along), json!({ "kind": "closure" }))
        }
        _ => {
            let size = [a.abs(), b.abs(), c.abs() * 10.0, d.abs() * 10.0];
            let bridges = random.random_bool(0.5);
            feature(area(&world, node, size), json!({ "kind": "closure", "bridges": bridges }))
        }
    }
}

/// Milliseconds from the beginning of every arc to the end of every arc, `None` where no way leads.
fn times(course: &Course) -> Vec<Option<u32>> {
    let graph = course.roads.graph(full());
    let arcs: Vec<Arc> = course.roads.network.arcs().collect();
    let mut search = Search::new();
    let mut all = Vec::new();
    for arc in &arcs {
        let origin = Stand { arc: *arc, fraction: 0.0 };
        let open = graph.is_open(*arc);
        if open {
            search.forward(&graph, origin, u32::MAX - 1, |_| 0, Until::Bound);
        }
        let to = |to: &Arc| search.ms_to(&graph, origin, Stand { arc: *to, fraction: 1.0 }).filter(|_| open);
        all.extend(arcs.iter().map(to));
    }
    all
}

#[test]
fn closing_more_never_opens_and_never_shortens() {
    let (mut joined, mut worse) = (0, 0);
    for seed in 0..GRIDS {
        let mut random = rand_pcg::Pcg64::seed_from_u64(seed);
        let ways = grid(&mut random);
        let mut closures: Vec<Value> = Vec::new();
        let mut before = times(&Course::new(world(&ways)));
        for step in 0..4 {
            closures.push(closure(&mut random, &ways));
            let after = times(&Course::new(world(&ways)).lay(&closures));
            for (b, a) in before.iter().zip(&after) {
                let fine = match (b, a) {
                    (_, None) => true,
                    (None, Some(_)) => false,
                    (Some(b), Some(a)) => a >= b,
                };
                assert!(fine, "seed {seed}, step {step}: {b:?} before, {a:?} after {closures:?}");
                joined += usize::from(a.is_some());
                worse += usize::from(a != b);
            }
            before = after;
        }
        let turned: Vec<Value> = closures.iter().rev().cloned().collect();
        assert_eq!(times(&Course::new(world(&ways)).lay(&turned)), before, "seed {seed}, in another order");
    }
    println!("{joined} pairs joined, {worse} worse for a closure");
    assert!(joined > 20_000 && worse > 10_000, "{joined} joined, {worse} worse");
}
