//! What the joins of a hierarchy cost vehicles: of each two states joined the least time from one to the other
//! over states of lower rank.
//!
//! Times are whole milliseconds in 32-bit floats, which hold them exactly up to 2^24 (4.6 hours) and stay beyond
//! that where they are beyond it: sums and comparisons of four at once then need no more than any processor has.

use super::{Hierarchy, NONE};
use crate::roads::network::Arc;
use crate::routing::graph::RoadGraph;
use rayon::prelude::*;

/// Graphs whose costs are worked out side by side.
const TOGETHER: usize = 4;

/// Of the two ways of a join.
const UP: usize = 0;
const DOWN: usize = 1;

/// Longer times are not told apart.
pub const LONGEST_MS: f32 = (1 << 24) as f32;

/// Costs of one graph for drives from some places to all, or from all to some.
#[derive(Debug)]
pub struct Costs {
    /// By join, on the side of the places.
    pub(super) climb: Vec<f32>,
    /// By rank, where its open joins start.
    pub(super) start: Vec<u32>,
    /// Upper neighbour and cost, on the side of all.
    pub(super) descend: Vec<(u32, f32)>,
}

/// Which way drives lead.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Way {
    /// From the places to all.
    From,
    /// From all to the places.
    To,
}

/// Costs of graphs on the topology of the hierarchy.
pub fn costs(hierarchy: &Hierarchy, graphs: &[(&RoadGraph, Way)]) -> Vec<Costs> {
    // As evenly as it goes.
    let of_a_turn = graphs.len().div_ceil(graphs.len().div_ceil(TOGETHER).max(1)).max(1);
    graphs.par_chunks(of_a_turn).flat_map_iter(|graphs| side_by_side(hierarchy, graphs)).collect()
}

fn side_by_side(hierarchy: &Hierarchy, graphs: &[(&RoadGraph, Way)]) -> Vec<Costs> {
    // Both ways of a join in one line of the processor's memory.
    let mut costs = vec![[[f32::INFINITY; TOGETHER]; 2]; hierarchy.joins()];
    for (lane, (graph, _)) in graphs.iter().enumerate() {
        let mut join = hierarchy.join_of_turn.iter();
        for state in (0..graph.topology.state_count() as u32).map(Arc) {
            let turns = graph.topology.after(state).len();
            let joins = join.as_slice()[..turns].iter();
            join = join.as_slice()[turns..].iter();
            let Some(pass_ms) = graph.pass_after(state) else { continue };
            for (turn, join) in graph.topology.after(state).iter().zip(joins) {
                if *join != NONE && graph.is_open(turn.to) {
                    let ms = (turn.ms + pass_ms + graph.ms(turn.to)) as f32;
                    let cost = &mut costs[(join >> 1) as usize][(join & 1) as usize][lane];
                    *cost = cost.min(ms);
                }
            }
        }
    }
    // From the lowest up: whatever is below two joined states is known when they are come to.
    for low in 0..hierarchy.len() as u32 {
        let joins = hierarchy.range(low);
        for first in joins.clone() {
            let [to_first, from_first] = costs[first];
            let mut between = hierarchy.range(hierarchy.upper[first]);
            for second in first + 1..joins.end {
                // Both are neighbours of the state that is passed over, so they are joined.
                let Some(join) = between.find(|join| hierarchy.upper[*join] == hierarchy.upper[second])
                else {
                    break;
                };
                let [to_second, from_second] = costs[second];
                let [up, down] = &mut costs[join];
                lessen(up, from_first, to_second);
                lessen(down, from_second, to_first);
            }
        }
    }
    let of = |(lane, (_, way)): (usize, &(&RoadGraph, Way))| match way {
        Way::From => Costs::of(hierarchy, &costs, [UP, DOWN], lane),
        Way::To => Costs::of(hierarchy, &costs, [DOWN, UP], lane),
    };
    graphs.par_iter().enumerate().map(of).collect()
}

#[inline]
fn lessen(known: &mut [f32; TOGETHER], first: [f32; TOGETHER], then: [f32; TOGETHER]) {
    for lane in 0..TOGETHER {
        let by = first[lane] + then[lane];
        known[lane] = if by < known[lane] { by } else { known[lane] };
    }
}

impl Costs {
    fn of(
        hierarchy: &Hierarchy,
        of_joins: &[[[f32; TOGETHER]; 2]],
        [climb, descend]: [usize; 2],
        lane: usize,
    ) -> Costs {
        let mut start = Vec::with_capacity(hierarchy.len() + 1);
        let mut open = Vec::with_capacity(hierarchy.joins() * 2 / 3);
        for rank in 0..hierarchy.len() as u32 {
            start.push(open.len() as u32);
            let joins = hierarchy.range(rank);
            let costs = hierarchy.upper(rank).iter().zip(&of_joins[joins]);
            open.extend(
                costs
                    .map(|(upper, cost)| (*upper, cost[descend][lane]))
                    .filter(|(_, cost)| *cost < LONGEST_MS),
            );
        }
        start.push(open.len() as u32);
        Costs { climb: of_joins.iter().map(|cost| cost[climb][lane]).collect(), start, descend: open }
    }
}
