//! Road that is the only link between two parts of the network: a tanker that goes over it comes back
//! over it, whichever way it goes round.

use crate::routing::graph::RoadGraph;
use petgraph::graph::{NodeIndex, UnGraph};
use petgraph::visit::EdgeRef;

/// By segment: whether taking it away would part the roads that are open to one graph or the other,
/// in whatever direction (the bridges of graph theory). Dead ends are among them.
pub fn only_links(full: &RoadGraph, empty: &RoadGraph) -> Vec<bool> {
    let network = full.network;
    let open = |segment: usize| {
        let arcs = [true, false].map(|forward| crate::roads::network::Arc::new(segment, forward));
        arcs.iter().any(|arc| full.is_open(*arc) || empty.is_open(*arc))
    };
    // A node in the middle of each segment keeps parallel roads apart: petgraph wants a simple graph.
    let junctions = network.junctions.len();
    let mut graph: UnGraph<(), (), u32> = UnGraph::with_capacity(junctions, network.segments.len() * 2);
    for _ in 0..junctions + network.segments.len() {
        graph.add_node(());
    }
    let mut found = vec![false; network.segments.len()];
    for (s, segment) in network.segments.iter().enumerate() {
        // A road back to its own junction links nothing.
        if segment.from != segment.to && open(s) {
            let middle = NodeIndex::new(junctions + s);
            graph.add_edge(NodeIndex::new(segment.from as usize), middle, ());
            graph.add_edge(middle, NodeIndex::new(segment.to as usize), ());
        }
    }
    for edge in petgraph::algo::bridges(&graph) {
        let middle = edge.source().index().max(edge.target().index());
        found[middle - junctions] = true;
    }
    found
}
