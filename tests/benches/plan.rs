//! `cargo bench --bench plan`: reading each extract into a graph, one plan. Figures are compared with
//! each other within one run on one machine; none is asserted. The search has its own, search.rs.

#[path = "../support/extracts.rs"]
mod extracts;
#[path = "../support/signs.rs"]
mod signs;

use divan::Bencher;
use divan::counter::ItemsCount;
use std::collections::HashSet;
use std::path::{Path, PathBuf};
use std::sync::Mutex;
use std::time::Instant;
use tankerloop::plan::plan;
use tankerloop::routing::access::Policy;
use tankerloop::routing::saved;
use tankerloop::routing::speed::{BUILT_IN, SpeedTable};
use tankerloop::{Network, Overrides, Problem, Roads};

const EXTRACTS: [&str; 4] = ["niue", "liechtenstein", "isle-of-man", "malta"];

/// The extract saved, once per run: an older run's file may be of another reader.
fn prepared(name: &str) -> Option<PathBuf> {
    static DONE: Mutex<Vec<String>> = Mutex::new(Vec::new());
    let path = Path::new(env!("CARGO_TARGET_TMPDIR")).join(format!("bench-{name}.roads"));
    let extract = extracts::path(name)?;
    let mut done = DONE.lock().expect("no bench has panicked");
    if !done.iter().any(|d| d == name) {
        saved::prepare(&extract, &path, &mut |_, _| ()).expect("the network can be saved");
        done.push(name.to_string());
    }
    Some(path)
}

fn table(curves: bool) -> SpeedTable {
    let lateral = "lateral_mps2 = { full = 1.5, empty = 2.0 }";
    assert!(BUILT_IN.contains(lateral), "the built-in table has other curves");
    let without = BUILT_IN.replace(lateral, "lateral_mps2 = \"off\"");
    let table = SpeedTable::parse(if curves { BUILT_IN } else { &without }, "built in");
    table.expect("the table reads")
}

/// File to roads on which a plan can start: network, findings, priced turns, curves.
fn usable(path: &Path, table: SpeedTable) -> Roads {
    Roads::read(path, table, Policy::default(), &mut |_, _| ()).expect("the roads read")
}

/// Reading and opening by turns, so that whatever else the machine does slows both: medians, fastest,
/// and the sizes of both files. Both begin with the file and a parsed speed table and end with equal
/// roads (a test compares them), before those are dropped. Reading uses all cores, opening one: on a
/// busy machine the fastest compare better. Without curves both have less to do, reading more so.
fn compare(name: &str, curves: bool) {
    let (Some(extract), Some(saved)) = (extracts::path(name), prepared(name)) else { return };
    let time = |path: &Path| {
        let table = table(curves);
        let begin = Instant::now();
        let roads = divan::black_box(usable(path, table));
        let took = begin.elapsed().as_secs_f64() * 1e3;
        drop(roads);
        took
    };
    let mut took: [Vec<f64>; 2] = Default::default();
    for _ in 0..31 {
        took[0].push(time(&extract));
        took[1].push(time(&saved));
    }
    let [[read_least, read], [open_least, open]] = took.map(|mut t| {
        t.sort_by(f64::total_cmp);
        [t[0], t[t.len() / 2]]
    });
    let size = |path: &Path| std::fs::metadata(path).map_or(0, |meta| meta.len()) as f64 / 1e6;
    println!(
        "{name}, {}: saved {:.1} times faster, reading {read:.1} ms, opening {open:.2} ms; \
         fastest {:.1} times, {read_least:.1} ms, {open_least:.2} ms; {:.2} MB as extract, {:.2} MB saved",
        if curves { "with curves" } else { "without curves" },
        read / open,
        read_least / open_least,
        size(&extract),
        size(&saved)
    );
}

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
            compare(name, true);
            compare(name, false);
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

/// The same from a saved network.
#[divan::bench(args = EXTRACTS, sample_count = 50)]
fn open_saved(bencher: Bencher, name: &str) {
    let Some(path) = prepared(name) else { return };
    let nodes = extracts::roads(name).map_or(0, |r| r.network.node_count);
    bencher.counter(ItemsCount::new(nodes)).bench(|| usable(&path, table(true)));
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
