//! Why there is no way: the closures on the least obstructed way, each with its margin.

use crate::finding::OsmRef;
use crate::roads::network::Arc;
use crate::routing::access::{self, Closure};
use crate::routing::graph::RoadGraph;
use crate::routing::search::{Search, Stand, Until};
use crate::routing::speed::SpeedTable;
use crate::routing::topology::CLOSED;
use std::fmt;

/// One thing in the way.
#[derive(Clone, Debug, PartialEq)]
pub struct Obstacle {
    pub osm: OsmRef,
    pub name: String,
    pub closure: Closure,
}

impl fmt::Display for Obstacle {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}", self.osm)?;
        if !self.name.is_empty() {
            write!(f, " ({})", self.name)?;
        }
        write!(f, " {}", self.closure)
    }
}

/// What a closed arc costs when looking for the way with the fewest closures: more than an hour's
/// detour, and little enough that a thousand of them still fit the search's counter.
const CLOSED_ARC_MS: u32 = 4_000_000;

/// Closures on the least obstructed way between any of the stands; empty if no road connects them.
pub fn obstacles(graph: &RoadGraph, table: &SpeedTable, origins: &[Stand], goals: &[Stand]) -> Vec<Obstacle> {
    let free = &graph.unobstructed(table);
    let blocked = |arc: Arc| !graph.is_open(arc) || graph.pass_ms(graph.network.head(arc)) == CLOSED;
    let extra = |arc: Arc| if blocked(arc) { CLOSED_ARC_MS } else { 0 };
    let mut search = Search::new();
    let mut best: Option<(u64, Vec<Arc>)> = None;
    for origin in origins {
        search.forward(free, *origin, u32::MAX - 1, extra, Until::Bound);
        for goal in goals {
            if let Some(drive) = search.drive_to(free, *origin, *goal) {
                let cost: u64 =
                    drive.arcs.iter().map(|a| u64::from(extra(*a))).sum::<u64>() + u64::from(drive.ms);
                if best.as_ref().is_none_or(|(least, _)| cost < *least) {
                    best = Some((cost, drive.arcs));
                }
            }
        }
    }
    let mut found: Vec<Obstacle> = Vec::new();
    let arcs = best.map(|(_, arcs)| arcs).unwrap_or_default();
    for (i, &arc) in arcs.iter().enumerate() {
        let network = graph.network;
        let way = network.way(arc);
        if let Some(closure) = graph.closure(arc) {
            let obstacle =
                Obstacle { osm: OsmRef::Way(way.id), name: network.name(way).to_string(), closure };
            if !found.contains(&obstacle) {
                found.push(obstacle);
            }
        }
        let junction = network.head(arc);
        if i + 1 < arcs.len()
            && let Some(mark) = network.mark(junction)
            && let Err(closure) = access::node(mark, &graph.body, graph.policy)
        {
            let osm = OsmRef::Node(network.junctions[junction].osm_id);
            found.push(Obstacle { osm, name: network.name(way).to_string(), closure });
        }
    }
    found
}
