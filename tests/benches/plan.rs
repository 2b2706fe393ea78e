//! `cargo bench --bench plan`: reading each extract into a graph, one plan. Figures are compared with
//! each other within one run on one machine; none is asserted. The search has its own, search.rs.

#[path = "../support/extracts.rs"]
mod extracts;
#[path = "../support/signs.rs"]
mod signs;

use divan::Bencher;
use divan::counter::ItemsCount;
use std::collections::HashSet;
use std::path::Path;
use tankerloop::plan::plan;
use tankerloop::routing::access::Policy;
use tankerloop::routing::speed::SpeedTable;
use tankerloop::{Network, Overrides, Problem, Roads};

const EXTRACTS: [&str; 4] = ["niue", "liechtenstein", "isle-of-man", "malta"];

fn main() {
    for name in EXTRACTS {
        if let Some(roads) = extracts::roads(name) {
            println!(
                "{name}: {} nodes, {} ways, {} segments, {} turns",
                roads.network.node_count,
                roads.network.ways.len(),
                roads.network.segments.len(),
                roads.topology.turn_count()
            );
            if let Some(path) = extracts::path(name) {
                let ways: HashSet<i64> = roads.network.ways.iter().map(|way| way.id).collect();
                print!("{}", signs::table(&signs::signs(&path, |id| ways.contains(&id))));
            }
        }
    }
    divan::main();
}

/// File to network, junctions, turns: what every command does first. Items are the file's nodes.
#[divan::bench(args = EXTRACTS, sample_count = 20)]
fn read_into_graph(bencher: Bencher, name: &str) {
    let Some(path) = extracts::path(name) else { return };
    let nodes = extracts::roads(name).map_or(0, |r| r.network.node_count);
    bencher.counter(ItemsCount::new(nodes)).bench(|| {
        let network = Network::read(&path, &mut |_, _| ());
        let table = SpeedTable::built_in();
        Roads::new(network.expect("the extract reads"), table.expect("built in"), Policy::default())
    });
}

fn island_problem() -> Problem {
    let scenario = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/isle-of-man/scenario.toml");
    let roads = extracts::path("isle-of-man");
    Problem::read(&scenario, &Overrides { roads, ..Overrides::default() }).expect("the trial scenario reads")
}

/// One plan on roads already read, simulation included.
#[divan::bench(sample_count = 30)]
fn plan_isle_of_man(bencher: Bencher) {
    let Some(roads) = extracts::roads("isle-of-man") else { return };
    let problem = island_problem();
    bencher.bench(|| plan(&problem, roads));
}

/// The same without the simulation's weight: one replication.
#[divan::bench(sample_count = 30)]
fn plan_isle_of_man_one_replication(bencher: Bencher) {
    let Some(roads) = extracts::roads("isle-of-man") else { return };
    let mut problem = island_problem();
    problem.terms.replications = 1;
    bencher.bench(|| plan(&problem, roads));
}
