//! `cargo bench --bench search`: one-to-all search beside petgraph's Dijkstra on the same graph of arcs.
//!
//! petgraph runs on the road graph itself and on its own two compact graphs, with 32-bit weights, on Csr
//! also with the states in the order of our seats; its fastest counts. All take the same origins in turn, in rounds, so that a neighbour's load on
//! the machine falls on all of them; a ratio is the median over the rounds. Every label is compared
//! first.

#[path = "../support/extracts.rs"]
mod extracts;

use petgraph::algo::dijkstra;
use petgraph::csr::Csr;
use petgraph::graph::{DiGraph, NodeIndex};
use petgraph::visit::EdgeRef;
use std::hint::black_box;
use std::path::Path;
use std::time::Instant;
use tankerloop::roads::network::Arc;
use tankerloop::routing::graph::RoadGraph;
use tankerloop::routing::search::{Search, Stand, Until};
use tankerloop::vehicle::Body;
use tankerloop::{Load, Overrides, Problem};

const EXTRACTS: [&str; 4] = ["niue", "liechtenstein", "isle-of-man", "malta"];
const ORIGINS: usize = 16;
const ROUNDS: usize = 15;
/// Times each takes the origins in a round: a time slice lost to a neighbour weighs less. As many for
/// all, since a second lap finds warm what the first has left.
const LAPS: usize = 4;
const UNBOUNDED: u32 = u32::MAX - 1;

fn main() {
    println!(
        "one-to-all, microseconds a search: petgraph on the road graph, Csr, Csr by seats, Graph; ours;"
    );
    println!("and the ratio to petgraph's fastest");
    println!("extract        load   states    turns     road      csr    seats    graph     ours   ratio");
    for name in EXTRACTS {
        let Some(roads) = extracts::roads(name) else { continue };
        for load in [Load::Full, Load::Empty] {
            compare(name, &roads.graph(largest_body(load)));
        }
    }
}

fn largest_body(load: Load) -> Body {
    let scenario = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/isle-of-man/scenario.toml");
    let roads = extracts::path("isle-of-man");
    let problem = Problem::read(&scenario, &Overrides { roads, ..Overrides::default() });
    problem.expect("the trial scenario reads").fleet.tankers[0].chassis.body(load)
}

/// The far end of an arc, from where petgraph counts too.
fn end(arc: Arc) -> Stand {
    Stand { arc, fraction: 1.0 }
}

fn compare(name: &str, graph: &RoadGraph) {
    let states = graph.topology.state_count();
    let by = |number: &dyn Fn(Arc) -> u32| -> Vec<(u32, u32, u32)> {
        let edges_of = |from: Arc| graph.onward(from).map(move |e| (number(from), number(e.to), e.ms));
        let mut edges: Vec<_> = (0..states as u32).map(Arc).flat_map(edges_of).collect();
        edges.sort_unstable();
        edges
    };
    let edges = by(&|state| state.0);
    let csr: Csr<(), u32> = Csr::from_sorted_edges(&edges).expect("turns are sorted and none is double");
    let seats: Csr<(), u32> =
        Csr::from_sorted_edges(&by(&|state| graph.seats().seat_of(state))).expect("the same");
    let plain: DiGraph<(), u32> = DiGraph::from_edges(&edges);
    let mut search = Search::new();
    let origins = origins(graph, &csr, &mut search);

    let mut micros: [Vec<f64>; 5] = Default::default();
    for _ in 0..ROUNDS {
        let mut time = |which: usize, run: &mut dyn FnMut(Arc)| {
            let begin = Instant::now();
            (0..LAPS).flat_map(|_| &origins).for_each(|origin| run(*origin));
            micros[which].push(begin.elapsed().as_secs_f64() * 1e6 / (LAPS * origins.len()) as f64);
        };
        time(0, &mut |from| drop(black_box(dijkstra(graph, from, None, |e| *e.weight() as u32))));
        time(1, &mut |from| drop(black_box(dijkstra(&csr, from.0, None, |e| *e.weight()))));
        time(2, &mut |from| {
            drop(black_box(dijkstra(&seats, graph.seats().seat_of(from), None, |e| *e.weight())));
        });
        time(3, &mut |from| {
            drop(black_box(dijkstra(&plain, NodeIndex::from(from.0), None, |e| *e.weight())));
        });
        time(4, &mut |from| {
            search.forward(graph, end(from), UNBOUNDED, |_| 0, Until::Bound);
            black_box(&search);
        });
    }
    let fastest = |r: usize| (0..4).map(|which| micros[which][r]).fold(f64::MAX, f64::min);
    let ratios: Vec<f64> = (0..ROUNDS).map(|r| fastest(r) / micros[4][r]).collect();
    let [road, csr, seats, plain, ours] = micros.map(median);
    println!(
        "{name:<14} {:<5} {states:>7}  {:>7}  {road:>7.0}  {csr:>7.0}  {seats:>7.0}  {plain:>7.0}  {ours:>7.0}  {:>6.2}",
        graph.load().as_str(),
        edges.len(),
        median(ratios)
    );
}

/// Open arcs spread over the file from which most of it is reached; there every label is petgraph's.
fn origins(graph: &RoadGraph, csr: &Csr<(), u32>, search: &mut Search) -> Vec<Arc> {
    let open: Vec<Arc> = graph.network.arcs().filter(|arc| graph.is_open(*arc)).collect();
    let mut origins = Vec::new();
    for i in 0..ORIGINS * 4 {
        let origin = open[(open.len() / 2 + i * 7919) % open.len()];
        let theirs = dijkstra(csr, origin.0, None, |e| *e.weight());
        if theirs.len() * 2 < open.len() || origins.len() == ORIGINS {
            continue;
        }
        search.forward(graph, end(origin), UNBOUNDED, |_| 0, Until::Bound);
        for state in (0..graph.topology.state_count() as u32).filter(|s| *s != origin.0) {
            assert_eq!(
                search.label(Arc(state)),
                theirs.get(&state).copied(),
                "state {state} from {origin:?}"
            );
        }
        origins.push(origin);
    }
    assert!(!origins.is_empty(), "most of the file is reached from nowhere");
    origins
}

fn median(mut values: Vec<f64>) -> f64 {
    values.sort_by(f64::total_cmp);
    values[values.len() / 2]
}
