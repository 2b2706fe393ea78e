//! Seeded random small worlds: tightening a limit or closing a road never makes a new way possible
//! and never shortens one, and a lighter, lower vehicle never has a longer way at the same speeds.

mod support;

use rand::seq::IndexedRandom;
use rand::{Rng, RngExt, SeedableRng};
use support::drive::{Course, empty, full};
use support::world::World;
use tankerloop::roads::network::Arc;
use tankerloop::routing::access::Policy;
use tankerloop::routing::search::{Search, Stand, Until};
use tankerloop::units::{Kilograms, Metres};
use tankerloop::vehicle::Body;

const WORLDS: u64 = 60;
const MAP: &str = "
    A--B--C--D
    |  |  |  |
    E--F--G--H
    |  |  |  |
    I--J--K--L
    |  |  |  |
    M--N--O--P
    ";

type Tag = (&'static str, &'static str);

/// Each pair: a sign and a stricter one of the same key. Values lie about the vehicle's sizes.
const TIGHTER: &[(Tag, Tag)] = &[
    (("maxweight", "25"), ("maxweight", "15")),
    (("maxweight", "15"), ("maxweight", "8")),
    (("maxweight", "none"), ("maxweight", "survey")),
    (("maxweight:forward", "25"), ("maxweight:forward", "12")),
    (("maxweight:hgv", "20"), ("maxweight:hgv", "7.5")),
    (("maxweightrating", "20"), ("maxweightrating", "10")),
    (("maxaxleload", "12"), ("maxaxleload", "8")),
    (("maxheight", "3.5"), ("maxheight", "3.1")),
    (("maxheight:backward", "4"), ("maxheight:backward", "3")),
    (("maxwidth", "8'6\""), ("maxwidth", "8'")),
    (("maxlength", "12"), ("maxlength", "8")),
    (("maxweight:conditional", "30 @ (Mo-Fr)"), ("maxweight:conditional", "10 @ (Mo-Fr)")),
];

/// What closes a road, or one side of it, where nothing was said before.
const CLOSING: &[Tag] = &[
    ("access", "no"),
    ("motor_vehicle", "no"),
    ("motor_vehicle:forward", "no"),
    ("vehicle:backward", "no"),
    ("access", "private"),
    ("hgv", "no"),
    ("oneway", "yes"),
    ("oneway", "-1"),
    ("oneway", "reversible"),
    ("smoothness", "impassable"),
    ("ford", "yes"),
    ("seasonal", "summer"),
    ("winter_road", "yes"),
    ("maxweight", "5"),
    ("maxheight:forward", "2.5"),
    ("width", "2"),
    ("access:conditional", "no @ (Nov-Mar)"),
    ("hgv:conditional", "no @ (weight>7.5)"),
];

#[derive(Clone)]
struct Plan {
    ways: Vec<(String, Vec<Tag>)>,
    nodes: Vec<(char, Vec<Tag>)>,
}

impl Plan {
    fn random(random: &mut impl Rng) -> Plan {
        let letter = |row: u32, column: u32| char::from_u32('A' as u32 + row * 4 + column).unwrap();
        let mut ways = Vec::new();
        for row in 0..4 {
            for column in 0..4 {
                for (down, right) in [(0, 1), (1, 0)] {
                    if row + down < 4 && column + right < 4 && random.random_bool(0.85) {
                        let (a, b) = (letter(row, column), letter(row + down, column + right));
                        let mut tags = Vec::new();
                        if random.random_bool(0.4) {
                            let (wide, tight) = TIGHTER.choose(random).unwrap();
                            tags.push(*if random.random_bool(0.7) { wide } else { tight });
                        }
                        ways.push((format!("{a}{b}"), tags));
                    }
                }
            }
        }
        let nodes =
            (0..2).map(|_| (letter(random.random_range(0..4), random.random_range(0..4)), Vec::new()));
        let nodes = nodes.collect();
        Plan { ways, nodes }
    }

    fn course(&self) -> Course {
        let mut world = World::new(100.0).map(MAP);
        for (nodes, tags) in &self.ways {
            let mut tags = tags.clone();
            tags.push(("highway", "residential"));
            world = world.way(nodes, &tags);
        }
        for (node, tags) in &self.nodes {
            world = world.node(*node, tags);
        }
        let mut policy =
            Policy { private: false, hgv_restricted: false, rating_limit: false, ..Policy::default() };
        policy.moment.month = Some(1);
        Course::with(world, &[], policy)
    }

    /// Makes one thing stricter.
    fn tighten(&mut self, random: &mut impl Rng) {
        if random.random_bool(0.2) {
            let (_, tags) = ChooseMut::choose_mut(&mut self.nodes, random);
            let mut words: Vec<Tag> = vec![("maxweight", "12"), ("maxheight", "3"), ("barrier", "bollard")];
            words.retain(|(key, _)| !tags.iter().any(|(had, _)| had == key));
            tags.extend(words.choose(random).copied());
            return;
        }
        let at = random.random_range(0..self.ways.len());
        let tags = &mut self.ways[at].1;
        let stricter = tags.iter_mut().find_map(|tag| {
            let (_, tight) = TIGHTER.iter().find(|(wide, _)| wide == tag)?;
            *tag = *tight;
            Some(())
        });
        if stricter.is_none() {
            // A second word of a kind could replace the first; only what says nothing new is left out.
            let base = |key: &str| key.split(':').next().unwrap_or_default().to_string();
            let access = |key: &str| matches!(base(key).as_str(), "access" | "vehicle" | "motor_vehicle");
            let added = CLOSING.choose(random).unwrap();
            let clash = |had: &Tag| base(had.0) == base(added.0) || access(had.0) && access(added.0);
            if !tags.iter().any(clash) {
                tags.push(*added);
            }
        }
    }
}

trait ChooseMut<T> {
    fn choose_mut(&mut self, random: &mut impl Rng) -> &mut T;
}

impl<T> ChooseMut<T> for Vec<T> {
    fn choose_mut(&mut self, random: &mut impl Rng) -> &mut T {
        let at = random.random_range(0..self.len());
        &mut self[at]
    }
}

/// Milliseconds from the beginning of every arc to the end of every arc, `None` where no way leads.
fn times(course: &Course, body: Body) -> Vec<Vec<Option<u32>>> {
    let graph = course.roads.graph(body);
    let arcs: Vec<Arc> = course.roads.network.arcs().collect();
    let mut search = Search::new();
    let from = |arc: &Arc| {
        if !graph.is_open(*arc) {
            return vec![None; arcs.len()];
        }
        let origin = Stand { arc: *arc, fraction: 0.0 };
        search.forward(&graph, origin, u32::MAX - 1, |_| 0, Until::Bound);
        arcs.iter().map(|to| search.ms_to(&graph, origin, Stand { arc: *to, fraction: 1.0 })).collect()
    };
    arcs.iter().map(from).collect()
}

/// Pairs of arcs joined in both worlds, and pairs that differ.
fn never_better(before: &[Vec<Option<u32>>], after: &[Vec<Option<u32>>], what: &str) -> (usize, usize) {
    assert_eq!(before.len(), after.len(), "{what}");
    let (mut joined, mut worse) = (0, 0);
    for (row, (b, a)) in before.iter().zip(after).enumerate() {
        for (column, (b, a)) in b.iter().zip(a).enumerate() {
            let fine = match (b, a) {
                (_, None) => true,
                (None, Some(_)) => false,
                (Some(b), Some(a)) => a >= b,
            };
            assert!(fine, "{what}: arc {row} to arc {column}: {b:?} before, {a:?} after");
            joined += usize::from(a.is_some());
            worse += usize::from(a != b);
        }
    }
    (joined, worse)
}

#[test]
fn tightening_never_opens_and_never_shortens() {
    let (mut joined, mut worse) = (0, 0);
    for seed in 0..WORLDS {
        let mut random = rand_pcg::Pcg64::seed_from_u64(seed);
        let mut plan = Plan::random(&mut random);
        let mut before = [full(), empty()].map(|body| times(&plan.course(), body));
        for step in 0..6 {
            let old = plan.clone();
            plan.tighten(&mut random);
            let course = plan.course();
            let after = [full(), empty()].map(|body| times(&course, body));
            for (before, after) in before.iter().zip(&after) {
                let changed = plan.ways.iter().zip(&old.ways).find(|(new, old)| new != old);
                let what = format!("seed {seed}, step {step}, {changed:?}, nodes {:?}", plan.nodes);
                let (j, w) = never_better(before, after, &what);
                joined += j;
                worse += w;
            }
            before = after;
        }
    }
    // The worlds are neither all open nor all closed, and tightening does something.
    assert!(joined > 100_000 && worse > 10_000, "{joined} joined, {worse} worse");
}

#[test]
fn a_lighter_lower_vehicle_never_has_a_longer_way() {
    let mut worse = 0;
    for seed in 0..WORLDS {
        let mut random = rand_pcg::Pcg64::seed_from_u64(1_000 + seed);
        let mut plan = Plan::random(&mut random);
        for _ in 0..4 {
            plan.tighten(&mut random);
        }
        let course = plan.course();
        let heavy = full();
        let mut light = heavy.clone();
        let mut share = || random.random_range(0.4..=1.0);
        light.mass = Kilograms(heavy.mass.0 * share());
        light.rated_mass = Kilograms(heavy.rated_mass.0 * share());
        light.axle_load = Kilograms(heavy.axle_load.0 * share());
        light.height = Metres(heavy.height.0 * share());
        light.width = Metres(heavy.width.0 * share());
        light.length = Metres(heavy.length.0 * share());
        let (easy, hard) = (times(&course, light), times(&course, heavy.clone()));
        worse += never_better(&easy, &hard, &format!("seed {seed}, lighter")).1;
        // Empty is the same vehicle, lighter: the round speeds do not depend on the load.
        worse += never_better(&times(&course, empty()), &hard, &format!("seed {seed}, empty")).1;
    }
    assert!(worse > 10_000, "only {worse} pairs differ");
}
