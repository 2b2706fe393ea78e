//! The search against petgraph's Dijkstra on real extracts, arc by arc, forward and backward.

mod support;

use petgraph::algo::dijkstra;
use petgraph::graph::{DiGraph, NodeIndex};
use petgraph::visit::{EdgeRef, IntoEdgeReferences};
use rand::seq::IndexedRandom;
use rand::{Rng, SeedableRng};
use std::time::Instant;
use support::drive::{empty, full};
use support::extracts;
use tankerloop::roads::network::Arc;
use tankerloop::routing::graph::RoadGraph;
use tankerloop::routing::search::{Drive, Search, Stand, Until};
use tankerloop::routing::snap::Connection;
use tankerloop::vehicle::Body;

const SEED: u64 = 20_240_607;
const ORIGINS: usize = 20;
const GOALS: usize = 50;
/// Goals whose backward labels are compared with the oracle's on every arc.
const GOALS_IN_FULL: usize = 20;
const UNBOUNDED: u32 = u32::MAX - 1;

/// The far end of an arc: what a label is the time to, or from.
fn end(arc: Arc) -> Stand {
    Stand { arc, fraction: 1.0 }
}

/// Every arc's label against the oracle's. The oracle starts from an arc at zero; the search gives
/// that arc only the time of a round trip, so it is left out here.
fn compare(graph: &RoadGraph, search: &Search, start: Arc, oracle: impl Fn(Arc) -> Option<u64>, what: &str) {
    for arc in graph.network.arcs().filter(|arc| *arc != start) {
        let (ours, theirs) = (search.label(arc).map(u64::from), oracle(arc));
        assert_eq!(ours, theirs, "{what} from {start:?} at {arc:?}, seed {SEED}");
    }
}

fn check(name: &str, body: Body) {
    let Some(roads) = extracts::roads(name) else { return };
    let begin = Instant::now();
    let load = body.load;
    let graph = roads.graph(body);
    let mut random = rand_pcg::Pcg64Mcg::seed_from_u64(SEED);
    let open: Vec<Arc> = roads.network.arcs().filter(|arc| graph.is_open(*arc)).collect();
    let mut pick = |count: usize| -> Vec<Arc> { open.sample(&mut random, count).copied().collect() };
    let (origins, goals) = (pick(ORIGINS), pick(GOALS));

    let mut forward = Search::new();
    let mut told = vec![vec![None; GOALS]; ORIGINS];
    let mut reachable = 0;
    for (o, &origin) in origins.iter().enumerate() {
        forward.forward(&graph, end(origin), UNBOUNDED, |_| 0, Until::Bound);
        let oracle = dijkstra(&graph, origin, None, |edge| *edge.weight());
        compare(&graph, &forward, origin, |arc| oracle.get(&arc).copied(), "forward");
        for (g, &goal) in goals.iter().enumerate() {
            if goal == origin {
                continue;
            }
            told[o][g] = forward.ms_to(&graph, end(origin), end(goal));
            let drive = forward.drive_to(&graph, end(origin), end(goal));
            assert_eq!(drive.as_ref().map(|d| d.ms), told[o][g], "{origin:?} to {goal:?}, seed {SEED}");
            if let Some(drive) = drive {
                reachable += 1;
                adds_up(&graph, &drive, origin, goal);
            }
        }
    }

    let mut backward = Search::new();
    let reversed = reversed(&graph);
    for (g, &goal) in goals.iter().enumerate() {
        backward.backward(&graph, end(goal), UNBOUNDED, |_| 0, Until::Bound);
        if g < GOALS_IN_FULL {
            let oracle = dijkstra(&reversed, NodeIndex::new(goal.index()), None, |edge| *edge.weight());
            let at = |arc: Arc| oracle.get(&NodeIndex::new(arc.index())).copied();
            compare(&graph, &backward, goal, at, "backward");
        }
        for (o, &origin) in origins.iter().enumerate().filter(|(_, origin)| **origin != goal) {
            assert_eq!(backward.label(origin), told[o][g], "{origin:?} to {goal:?}, seed {SEED}");
            let drive = backward.drive_from(&graph, end(origin), end(goal));
            assert_eq!(drive.as_ref().map(|d| d.ms), told[o][g], "{origin:?} to {goal:?}, seed {SEED}");
            if let Some(drive) = drive {
                adds_up(&graph, &drive, origin, goal);
            }
        }
    }
    println!(
        "{name}, {}: seed {SEED}, {} arcs, {} open, {reachable} of {} pairs reachable, {:.1} s",
        load.as_str(),
        graph.network.arc_count(),
        open.len(),
        ORIGINS * GOALS,
        begin.elapsed().as_secs_f64()
    );
    assert!(reachable > 0, "no pair of {name} is connected: the comparison says nothing");
}

/// The same graph with every turn reversed, in petgraph's own type. A turn's weight holds the arc
/// it leads into, so the time from an arc's end to the goal's end is the same sum read backward.
fn reversed(graph: &RoadGraph) -> DiGraph<(), u64> {
    let edges = graph.edge_references().map(|e| (e.target().0, e.source().0, *e.weight()));
    let mut reversed = DiGraph::from_edges(edges);
    while reversed.node_count() < graph.network.arc_count() {
        reversed.add_node(());
    }
    reversed
}

/// The drive goes from origin to goal over joined arcs, and its time is the sum of its parts.
fn adds_up(graph: &RoadGraph, drive: &Drive, origin: Arc, goal: Arc) {
    assert_eq!((drive.arcs.first(), drive.arcs.last()), (Some(&origin), Some(&goal)));
    let mut sum = 0u64;
    for pair in drive.arcs.windows(2) {
        assert_eq!(graph.network.head(pair[0]), graph.network.tail(pair[1]));
        let turn = graph.turn(pair[0], pair[1]).expect("every turn of a drive can be made");
        sum += u64::from(turn) + u64::from(graph.ms(pair[1]));
    }
    assert_eq!(sum, u64::from(drive.ms));
    let over = Drive::over(graph, drive.arcs.clone(), drive.from_fraction, drive.to_fraction);
    assert_eq!(over.as_ref(), Some(drive));
}

/// Places within arcs: forward, backward and summed anew agree on the millisecond.
fn check_fractions(name: &str) {
    let Some(roads) = extracts::roads(name) else { return };
    let graph = roads.graph(full());
    let mut random = rand_pcg::Pcg64Mcg::seed_from_u64(SEED);
    let open: Vec<Arc> = roads.network.arcs().filter(|arc| graph.is_open(*arc)).collect();
    let (mut forward, mut backward) = (Search::new(), Search::new());
    for _ in 0..50 {
        let mut stand = || Stand {
            arc: *open.choose(&mut random).unwrap(),
            fraction: f64::from(random.next_u32()) / f64::from(u32::MAX),
        };
        let (origin, goal) = (stand(), stand());
        forward.forward(&graph, origin, UNBOUNDED, |_| 0, Until::Bound);
        backward.backward(&graph, goal, UNBOUNDED, |_| 0, Until::Bound);
        let there = forward.drive_to(&graph, origin, goal);
        let back = backward.drive_from(&graph, origin, goal);
        let ms = there.as_ref().map(|drive| drive.ms);
        assert_eq!(ms, back.as_ref().map(|drive| drive.ms), "{origin:?} to {goal:?}, seed {SEED}");
        assert_eq!(ms, forward.ms_to(&graph, origin, goal));
        assert_eq!(ms, backward.ms_from(&graph, origin, goal));
    }
}

#[test]
fn sha256_of_abc() {
    // FIPS 180-4 names SHA-256; NIST's example for the three bytes "abc".
    let abc = "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad";
    assert_eq!(extracts::sha256(b"abc"), abc);
    let two_blocks = "248d6a61d20638b8e5c026930c3e6039a33ce45964ff2167f6ecedd419db06c1";
    assert_eq!(extracts::sha256(b"abcdbcdecdefdefgefghfghighijhijkijkljklmklmnlmnomnopnopq"), two_blocks);
}

#[test]
fn niue_full() {
    check("niue", full());
}
#[test]
fn niue_empty() {
    check("niue", empty());
}
#[test]
fn isle_of_man_full() {
    check("isle-of-man", full());
}
#[test]
fn isle_of_man_empty() {
    check("isle-of-man", empty());
}
#[test]
fn liechtenstein_full() {
    check("liechtenstein", full());
}
#[test]
fn liechtenstein_empty() {
    check("liechtenstein", empty());
}
#[test]
fn malta_full() {
    check("malta", full());
}
#[test]
fn malta_empty() {
    check("malta", empty());
}
#[test]
fn within_arcs_on_the_isle_of_man() {
    check_fractions("isle-of-man");
}
#[test]
fn within_arcs_on_niue() {
    check_fractions("niue");
}

/// What hangs together is seen from one place of the largest part; petgraph's Kosaraju parts all of it.
#[test]
fn one_place_tells_what_hangs_together() {
    for name in ["niue", "liechtenstein", "isle-of-man", "malta"] {
        let Some(roads) = extracts::roads(name) else { continue };
        for body in [full(), empty(), Body::weightless()] {
            let graph = roads.graph(body);
            assert_eq!(Connection::of(&graph), Connection::parted(&graph), "{name}");
        }
    }
}
