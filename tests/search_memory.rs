//! A search asks for memory once: after the first run it works in what it has.

mod support;

use allocation_counter::measure;
use support::drive::{empty, full};
use support::extracts;
use tankerloop::roads::network::Arc;
use tankerloop::routing::graph::RoadGraph;
use tankerloop::routing::search::{Search, Stand, Until};

const UNBOUNDED: u32 = u32::MAX - 1;

fn end(arc: Arc) -> Stand {
    Stand { arc, fraction: 1.0 }
}

/// Open arcs spread over the file.
fn spread(graph: &RoadGraph, count: usize) -> Vec<Arc> {
    let open: Vec<Arc> = graph.network.arcs().filter(|arc| graph.is_open(*arc)).collect();
    (0..count).map(|i| open[i * 7919 % open.len()]).collect()
}

#[test]
fn no_query_after_the_first_allocates() {
    let Some(roads) = extracts::roads("isle-of-man") else { return };
    let (loaded, unloaded) = (roads.graph(full()), roads.graph(empty()));
    let (mut there, mut back) = (Search::new(), Search::new());
    let arcs = spread(&loaded, 12);
    // The first query makes the graph's lists of edges and the search's labels.
    for graph in [&loaded, &unloaded] {
        let first = measure(|| {
            there.forward(graph, end(arcs[0]), UNBOUNDED, |_| 0, Until::Bound);
            back.backward(graph, end(arcs[0]), UNBOUNDED, |_| 0, Until::Bound);
        });
        assert!(first.count_total > 0, "the counter counts nothing");
    }

    let aversion = |arc: Arc| arc.0 % 7 * 1_000;
    for graph in [&loaded, &unloaded] {
        for pair in arcs.windows(2) {
            let (origin, goal) = (end(pair[0]), end(pair[1]));
            for bound in [UNBOUNDED, 600_000, 1] {
                for until in [Until::Bound, Until::Settled(pair)] {
                    let mut told = [None; 2];
                    let seen = measure(|| {
                        there.forward(graph, origin, bound, aversion, until);
                        there.forward(graph, origin, bound, |_| 0, until);
                        back.backward(graph, goal, bound, aversion, until);
                        back.backward(graph, goal, bound, |_| 0, until);
                        told = [there.ms_to(graph, origin, goal), back.ms_from(graph, origin, goal)];
                    });
                    assert_eq!(seen.count_total, 0, "{pair:?}, bound {bound}, {until:?}: {told:?}");
                }
            }
        }
    }
}

/// A drive that is handed out owns its arcs; that one list is all it costs.
#[test]
fn a_drive_costs_one_allocation() {
    let Some(roads) = extracts::roads("isle-of-man") else { return };
    let graph = roads.graph(full());
    let (mut there, mut back) = (Search::new(), Search::new());
    let mut drives = 0;
    for pair in spread(&graph, 12).windows(2) {
        let (origin, goal) = (end(pair[0]), end(pair[1]));
        there.forward(&graph, origin, UNBOUNDED, |_| 0, Until::Bound);
        back.backward(&graph, goal, UNBOUNDED, |_| 0, Until::Bound);
        let mut drive = None;
        let forward = measure(|| drive = there.drive_to(&graph, origin, goal));
        let backward = measure(|| drive = back.drive_from(&graph, origin, goal));
        if drive.is_some() {
            drives += 1;
            assert_eq!((forward.count_total, backward.count_total), (1, 1), "{pair:?}");
        }
    }
    assert!(drives > 0, "no pair is connected: the test says nothing");
}
