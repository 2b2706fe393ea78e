//! The search against a plain expansion of states on ten thousand random worlds.
//!
//! The expansion knows nothing of `routing::memory`: its states are the arcs driven last, as many as
//! the longest ban needs, and each step is held against the lists of bans. What a turn costs is
//! worked out here anew. petgraph's Dijkstra runs on it.

mod support;

use petgraph::algo::dijkstra;
use petgraph::graph::{DiGraph, NodeIndex};
use petgraph::visit::EdgeRef;
use rand::seq::IndexedRandom;
use rand::{RngExt, SeedableRng};
use rand_pcg::Pcg64Mcg;
use rayon::prelude::*;
use std::collections::HashMap;
use std::ops::Range;
use std::sync::atomic::{AtomicUsize, Ordering};
use support::drive::{empty, folder, full, speeds};
use support::tangle::tangle;
use tankerloop::roads::network::{Arc, Network};
use tankerloop::roads::tags::{Class, OneWay, TurningPlace};
use tankerloop::routing::Roads;
use tankerloop::routing::access::Policy;
use tankerloop::routing::graph::RoadGraph;
use tankerloop::routing::search::{Drive, Search, Stand, Until};
use tankerloop::routing::topology::{CLOSED, turn_degrees};

const SEEDS: Range<u64> = 0..10_000;
const UNBOUNDED: u32 = u32::MAX - 1;
/// Origins of a world for what is not tried from all.
const SAMPLE: usize = 4;

/// Milliseconds from one arc's end to each arc's.
type Row = Vec<Option<u32>>;

/// What the worlds held, so that the test does not pass by comparing nothing.
#[derive(Default)]
struct Seen {
    labels: AtomicUsize,
    unreached: AtomicUsize,
    routes: AtomicUsize,
    parallel: AtomicUsize,
    loops: AtomicUsize,
    node_bans: AtomicUsize,
    way_bans: AtomicUsize,
    /// Labels that some ban makes longer than they would be without, or takes away.
    banned: AtomicUsize,
    shut_junctions: AtomicUsize,
    circles: AtomicUsize,
}

fn count(counter: &AtomicUsize, by: usize) {
    counter.fetch_add(by, Ordering::Relaxed);
}

fn end(arc: Arc) -> Stand {
    Stand { arc, fraction: 1.0 }
}

/// Milliseconds of a turn by the rules of the table in `ground`, bans aside.
fn turn_ms(network: &Network, from: Arc, to: Arc) -> Option<u32> {
    let arms = network.arcs().filter(|arc| network.tail(*arc) == network.tail(to)).count();
    if to == from.reversed() {
        let tags = &network.way(from).tags;
        if tags.one_way != OneWay::No || matches!(tags.class, Class::Motorway | Class::Trunk) {
            return None;
        }
        let circle = network.mark(network.tail(to)).is_some_and(|m| m.turning == TurningPlace::Circle);
        return match arms {
            _ if circle => Some(40_000),
            1 => Some(180_000),
            2 => None,
            _ => Some(90_000),
        };
    }
    Some(match turn_degrees(network, from, to).abs() {
        _ if arms <= 2 => 0,
        off if off < 45.0 => 0,
        off if off <= 135.0 => 3_000,
        _ => 11_000,
    })
}

/// Milliseconds from the end of one arc to the end of the next, bans aside.
fn step_ms(graph: &RoadGraph, from: Arc, to: Arc) -> Option<u32> {
    let pass = graph.pass_ms(graph.network.head(from));
    let drivable = graph.network.head(from) == graph.network.tail(to)
        && graph.is_open(from)
        && graph.is_open(to)
        && pass != CLOSED;
    let turn = drivable.then(|| turn_ms(graph.network, from, to)).flatten()?;
    Some(turn + pass + graph.ms(to))
}

/// Whether the last of these arcs completes a ban.
fn completes_ban(network: &Network, driven: &[Arc]) -> bool {
    let ends_in = |ban: &[Arc]| driven.ends_with(ban);
    network.bans.pairs().iter().any(|(a, b)| ends_in(&[*a, *b]))
        || network.bans.sequences().iter().any(|ban| ends_in(ban))
}

/// All that may be driven, by the arcs driven last.
struct Expansion {
    /// Each state's arc; edges in milliseconds.
    graph: DiGraph<Arc, u32>,
    fresh: HashMap<Arc, NodeIndex>,
}

impl Expansion {
    fn of(graph: &RoadGraph, with_bans: bool) -> Expansion {
        let network = graph.network;
        let longest = network.bans.sequences().iter().map(Vec::len).max().unwrap_or(2);
        let open: Vec<Arc> = network.arcs().filter(|arc| graph.is_open(*arc)).collect();
        let next: Vec<Vec<(Arc, u32)>> = network
            .arcs()
            .map(|arc| open.iter().filter_map(|to| Some((*to, step_ms(graph, arc, *to)?))).collect())
            .collect();
        let mut states = DiGraph::new();
        let mut node_of: HashMap<Vec<Arc>, NodeIndex> = HashMap::new();
        let mut left: Vec<Vec<Arc>> = open.iter().map(|arc| vec![*arc]).collect();
        for state in &left {
            node_of.insert(state.clone(), states.add_node(state[0]));
        }
        let fresh = open.iter().map(|arc| (*arc, node_of[&vec![*arc]])).collect();
        while let Some(driven) = left.pop() {
            for &(to, ms) in &next[driven[driven.len() - 1].index()] {
                let mut onward = driven.clone();
                onward.push(to);
                if with_bans && completes_ban(network, &onward) {
                    continue;
                }
                onward.drain(..onward.len().saturating_sub(longest - 1));
                let node = *node_of.entry(onward.clone()).or_insert_with(|| {
                    left.push(onward);
                    states.add_node(to)
                });
                states.add_edge(node_of[&driven], node, ms);
            }
        }
        Expansion { graph: states, fresh }
    }

    /// Milliseconds from the end of an arc to the end of each other, and round to itself.
    fn from(&self, network: &Network, origin: Arc, extra: &[u32]) -> Row {
        let mut least = vec![None; network.arc_count()];
        let Some(&start) = self.fresh.get(&origin) else { return least };
        let weight = |ms: u32, to: NodeIndex| ms + extra[self.graph[to].index()];
        let found = dijkstra(&self.graph, start, None, |e| weight(*e.weight(), e.target()));
        // Over the last step, so that the origin's own zero is no label.
        for edge in self.graph.edge_references() {
            if let Some(before) = found.get(&edge.source()) {
                let ms = before + weight(*edge.weight(), edge.target());
                let label: &mut Option<u32> = &mut least[self.graph[edge.target()].index()];
                *label = Some(label.map_or(ms, |known| known.min(ms)));
            }
        }
        least
    }
}

/// The label of an arc by any of its states; of the origin's own arc, that of the round trip.
fn label_of(search: &Search, graph: &RoadGraph, origin: Arc, arc: Arc) -> Option<u32> {
    let fraction = if arc == origin { 0.0 } else { 1.0 };
    let ms = search.ms_to(graph, end(origin), Stand { arc, fraction })?;
    Some(if arc == origin { ms + graph.ms(arc) } else { ms })
}

struct Trial<'a> {
    seed: u64,
    graph: &'a RoadGraph<'a>,
    searches: &'a mut [Search; 2],
    seen: &'a Seen,
}

impl Trial<'_> {
    fn run(&mut self) {
        let (graph, network) = (self.graph, self.graph.network);
        let arcs: Vec<Arc> = network.arcs().collect();
        let mut random = Pcg64Mcg::seed_from_u64(self.seed);
        let oracle = Expansion::of(graph, true);
        let none = vec![0; arcs.len()];
        let extra: Vec<u32> = arcs.iter().map(|_| random.random_range(0..4) * 20_000).collect();
        let plain: Vec<Row> = arcs.iter().map(|origin| oracle.from(network, *origin, &none)).collect();
        self.labels(&arcs, &arcs, &plain, &none);
        // The oracle is most of the work: steered searches and the count of what bans do take a sample.
        let some: Vec<Arc> = arcs.sample(&mut random, SAMPLE).copied().collect();
        let steered: Vec<Row> = some.iter().map(|origin| oracle.from(network, *origin, &extra)).collect();
        self.labels(&some, &arcs, &steered, &extra);
        if !network.bans.is_empty() {
            let free = Expansion::of(graph, false);
            for &origin in &some {
                let (with, without) = (&plain[origin.index()], free.from(network, origin, &none));
                count(&self.seen.banned, with.iter().zip(&without).filter(|(a, b)| a != b).count());
            }
        }
        self.limits(&arcs, &plain, &mut random);
        self.routes(&arcs, &plain, &mut random);
    }

    /// Every arc's label forward from some origins, a row of the oracle's each, and the same ways
    /// found backward.
    fn labels(&mut self, origins: &[Arc], arcs: &[Arc], rows: &[Row], extra: &[u32]) {
        let (graph, seed, load) = (self.graph, self.seed, self.graph.load());
        let [there, back] = &mut *self.searches;
        for (&from, row) in origins.iter().zip(rows) {
            there.forward(graph, end(from), UNBOUNDED, |arc| extra[arc.index()], Until::Bound);
            for (&arc, &oracle) in arcs.iter().zip(row) {
                let ours = label_of(there, graph, from, arc);
                assert_eq!(ours, oracle, "seed {seed}, {load:?}: forward from {from:?} at {arc:?}");
                count(if oracle.is_some() { &self.seen.labels } else { &self.seen.unreached }, 1);
            }
        }
        for &goal in arcs {
            back.backward(graph, end(goal), UNBOUNDED, |arc| extra[arc.index()], Until::Bound);
            for (&arc, row) in origins.iter().zip(rows) {
                // The goal's own preference is no part of the way to it.
                let oracle = row[goal.index()].map(|ms| ms - extra[goal.index()]);
                assert_eq!(
                    back.label(arc),
                    oracle,
                    "seed {seed}, {load:?}: backward from {goal:?} at {arc:?}"
                );
            }
        }
    }

    /// A bound leaves out what lies beyond it and nothing else; arcs waited for have their labels.
    fn limits(&mut self, arcs: &[Arc], expected: &[Row], random: &mut Pcg64Mcg) {
        let (graph, seed, load) = (self.graph, self.seed, self.graph.load());
        let [there, back] = &mut *self.searches;
        for &from in arcs.sample(random, SAMPLE) {
            let known: Vec<u32> = expected[from.index()].iter().flatten().copied().collect();
            let bound = known.choose(random).map_or(50_000, |ms| ms - random.random_range(0..2));
            there.forward(graph, end(from), bound, |_| 0, Until::Bound);
            back.backward(graph, end(from), bound, |_| 0, Until::Bound);
            for &arc in arcs {
                let oracle = |a: Arc, b: Arc| expected[a.index()][b.index()].filter(|ms| *ms <= bound);
                let (ours, theirs) = (label_of(there, graph, from, arc), oracle(from, arc));
                assert_eq!(ours, theirs, "seed {seed}, {load:?}: from {from:?} to {arc:?} within {bound}");
                let (ours, theirs) = (back.label(arc), oracle(arc, from));
                assert_eq!(ours, theirs, "seed {seed}, {load:?}: to {from:?} from {arc:?} within {bound}");
            }
            let awaited: Vec<Arc> = arcs.sample(random, 2).copied().collect();
            there.forward(graph, end(from), UNBOUNDED, |_| 0, Until::Settled(&awaited));
            back.backward(graph, end(from), UNBOUNDED, |_| 0, Until::Settled(&awaited));
            for &arc in &awaited {
                let ours = (label_of(there, graph, from, arc), back.label(arc));
                let theirs = (expected[from.index()][arc.index()], expected[arc.index()][from.index()]);
                assert_eq!(ours, theirs, "seed {seed}, {load:?}: {from:?} and {arc:?}, awaited");
            }
        }
    }

    /// Between places within arcs: matrix cell and route, forward and backward, are one number, and
    /// the route can be driven in it.
    fn routes(&mut self, arcs: &[Arc], expected: &[Row], random: &mut Pcg64Mcg) {
        let (graph, seed, load) = (self.graph, self.seed, self.graph.load());
        let [there, back] = &mut *self.searches;
        for _ in 0..6 {
            let mut stand = || Stand { arc: *arcs.choose(random).unwrap(), fraction: random.random() };
            let (from, to) = (stand(), stand());
            let part = |stand: Stand| graph.part_ms(stand.arc, stand.fraction);
            let ahead = from.arc == to.arc && from.fraction <= to.fraction && graph.is_open(from.arc);
            let round = expected[from.arc.index()][to.arc.index()];
            let oracle = if ahead {
                Some(part(to) - part(from))
            } else {
                round.map(|ms| ms + graph.ms(from.arc) - part(from) - graph.ms(to.arc) + part(to))
            };
            there.forward(graph, from, UNBOUNDED, |_| 0, Until::Bound);
            back.backward(graph, to, UNBOUNDED, |_| 0, Until::Bound);
            let drives = [there.drive_to(graph, from, to), back.drive_from(graph, from, to)];
            let cells = [there.ms_to(graph, from, to), back.ms_from(graph, from, to)];
            let routes = drives.each_ref().map(|drive| drive.as_ref().map(|drive| drive.ms));
            let what = format!("seed {seed}, {load:?}: {from:?} to {to:?}");
            assert_eq!((cells, routes), ([oracle; 2], [oracle; 2]), "{what}");
            for drive in drives.iter().flatten() {
                let unused = graph.ms(from.arc) - part(from);
                assert_eq!(
                    drive_ms(graph, drive),
                    Some(drive.ms + graph.ms(to.arc) - part(to) - unused),
                    "{what}"
                );
                count(&self.seen.routes, 1);
            }
        }
    }
}

/// Milliseconds from the end of a drive's first arc to the end of its last; `None` where it takes a
/// turn that cannot be made or a banned succession. Of a drive along one arc, what it leaves out.
fn drive_ms(graph: &RoadGraph, drive: &Drive) -> Option<u32> {
    let arcs = &drive.arcs;
    if arcs.len() == 1 {
        let part = |fraction| graph.part_ms(arcs[0], fraction);
        return (part(drive.to_fraction) - part(drive.from_fraction) == drive.ms).then_some(0);
    }
    let legal = (2..=arcs.len()).all(|count| !completes_ban(graph.network, &arcs[..count]));
    let steps = arcs.windows(2).map(|pair| step_ms(graph, pair[0], pair[1]));
    legal.then(|| steps.sum::<Option<u32>>()).flatten()
}

fn note(network: &Network, seen: &Seen) {
    let mut ends: Vec<[u32; 2]> =
        network.segments.iter().map(|s| [s.from.min(s.to), s.from.max(s.to)]).collect();
    count(&seen.loops, ends.iter().filter(|[a, b]| a == b).count());
    ends.sort_unstable();
    count(&seen.parallel, ends.windows(2).filter(|pair| pair[0] == pair[1]).count());
    count(&seen.node_bans, network.bans.pairs().len());
    count(&seen.way_bans, network.bans.sequences().len());
    let marks = (0..network.junctions.len()).filter_map(|junction| network.mark(junction));
    count(&seen.circles, marks.filter(|mark| mark.turning == TurningPlace::Circle).count());
}

#[test]
fn equals_the_expansion_on_ten_thousand_worlds() {
    let seen = Seen::default();
    let begin = std::time::Instant::now();
    SEEDS.into_par_iter().for_each_init(
        || (folder(), [Search::new(), Search::new()]),
        |(folder, searches), seed| {
            let table = speeds(&[
                ("turn = 0.0", "turn = 3.0"),
                ("sharp_turn = 3.0", "sharp_turn = 11.0"),
                ("signal = 0.0", "signal = 5.0"),
                ("full_factor = 1.0", "full_factor = 0.8"),
            ]);
            let path = tangle(seed).write(folder);
            let roads = Roads::read(&path, table, Policy::default(), &mut |_, _| {});
            let roads = roads.unwrap_or_else(|refusal| panic!("seed {seed}: {refusal}"));
            note(&roads.network, &seen);
            for body in [full(), empty()] {
                let graph = roads.graph(body);
                let junctions = 0..roads.network.junctions.len();
                count(&seen.shut_junctions, junctions.filter(|j| graph.pass_ms(*j) == CLOSED).count());
                Trial { seed, graph: &graph, searches, seen: &seen }.run();
            }
        },
    );
    let counts = [
        ("labels", seen.labels),
        ("unreached arcs", seen.unreached),
        ("labels that bans change", seen.banned),
        ("routes", seen.routes),
        ("parallel segments", seen.parallel),
        ("loops", seen.loops),
        ("bans at nodes", seen.node_bans),
        ("bans through ways", seen.way_bans),
        ("junctions shut", seen.shut_junctions),
        ("turning circles", seen.circles),
    ];
    println!("seeds {SEEDS:?}, {:.1} s", begin.elapsed().as_secs_f64());
    for (what, number) in counts {
        let number = number.into_inner();
        println!("{number:>10} {what}");
        assert!(number > 1_000, "too few {what}: the comparison says little");
    }
}
