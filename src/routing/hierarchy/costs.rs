//! What the joins of a hierarchy cost vehicles: of each two states joined the least time from one to the other
//! over states of lower rank.
//!
//! Times are whole milliseconds in 32-bit floats, which hold them exactly up to 2^24 (4.6 hours) and stay beyond
//! that where they are beyond it: sums and comparisons of four at once then need no more than any processor has.

use super::{Hierarchy, NONE};
use crate::roads::network::Arc;
use crate::routing::graph::RoadGraph;
use multiversion::multiversion;
use rayon::prelude::*;
use std::ops::Range;

/// Graphs whose costs are worked out side by side: most of the work is to find the joins.
const TOGETHER: usize = 8;

/// Of the two ways of a join.
const UP: usize = 0;
const DOWN: usize = 1;

/// Up and down, by graph: one line of the processor's memory.
#[derive(Clone, Copy)]
#[repr(align(64))]
struct Join([[f32; TOGETHER]; 2]);

/// Longer times are not told apart.
pub const LONGEST_MS: f32 = (1 << 24) as f32;

/// Ranks whose joins stay at hand while the graphs' costs are taken apart.
const OF_A_TURN: usize = 512;

/// Costs of one graph for drives from some places to all, or from all to some.
#[derive(Debug, Default)]
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
    graphs.chunks(TOGETHER).flat_map(|graphs| side_by_side(hierarchy, graphs)).collect()
}

fn side_by_side(hierarchy: &Hierarchy, graphs: &[(&RoadGraph, Way)]) -> Vec<Costs> {
    let mut joins = vec![Join([[f32::INFINITY; TOGETHER]; 2]); hierarchy.joins()];
    let threads = rayon::current_num_threads();
    // Each thread goes over all turns and prices those of its own joins.
    let of_a_thread = joins.len().div_ceil(threads).max(1);
    joins.par_chunks_mut(of_a_thread).enumerate().for_each(|(nth, joins)| {
        price(hierarchy, graphs, nth * of_a_thread, joins);
    });
    pass_over_all(hierarchy, &mut joins);
    let lanes: Vec<(usize, Way)> = graphs.iter().map(|(_, way)| *way).enumerate().collect();
    let of_a_thread = lanes.len().div_ceil(threads).max(1);
    lanes.par_chunks(of_a_thread).flat_map_iter(|lanes| taken_apart(hierarchy, &joins, lanes)).collect()
}

/// What single turns cost, of the joins from `offset` on.
fn price(hierarchy: &Hierarchy, graphs: &[(&RoadGraph, Way)], offset: usize, joins: &mut [Join]) {
    let Some((first, _)) = graphs.first() else { return };
    let topology = first.topology;
    let mut of_turns = hierarchy.join_of_turn.iter();
    for state in (0..topology.state_count() as u32).map(Arc) {
        for (turn, join) in topology.after(state).iter().zip(of_turns.by_ref()) {
            let place = ((join >> 1) as usize).wrapping_sub(offset);
            let Some(Join(ways)) = joins.get_mut(place).filter(|_| *join != NONE) else { continue };
            let way = &mut ways[(join & 1) as usize];
            for ((graph, _), cost) in graphs.iter().zip(way) {
                if let Some(pass_ms) = graph.pass_after(state).filter(|_| graph.is_open(turn.to)) {
                    *cost = cost.min((turn.ms + pass_ms + graph.ms(turn.to)) as f32);
                }
            }
        }
    }
}

/// From the lowest up: whatever is below two joined states is known when they are come to. Pieces of the order are
/// passed over side by side, as far as joins within them are concerned; what they add to joins above them follows.
fn pass_over_all(hierarchy: &Hierarchy, joins: &mut [Join]) {
    let pieces = hierarchy.pieces();
    let (mut rest, mut from) = (&mut *joins, 0);
    let mut parts = Vec::with_capacity(pieces.len());
    for piece in &pieces {
        let [begin, end] = [piece.start, piece.end].map(|rank| hierarchy.start[rank as usize] as usize);
        let (part, others) = rest[begin - from..].split_at_mut(end - begin);
        parts.push((piece.clone(), begin, part));
        (rest, from) = (others, end);
    }
    parts.into_par_iter().for_each(|(piece, offset, joins)| {
        let to = piece.end;
        pass_over(hierarchy, piece, 0..to, offset, joins);
    });
    let all = hierarchy.len() as u32;
    let mut next = 0;
    for piece in pieces {
        let end = piece.end;
        pass_over(hierarchy, next..piece.start, 0..all, 0, joins);
        pass_over(hierarchy, piece, end..all, 0, joins);
        next = end;
    }
    pass_over(hierarchy, next..all, 0..all, 0, joins);
}

/// Drives over some states, from or to what they are joined with among `nearer`, to or from what is above that. The
/// joins are those from `offset` on.
#[multiversion(targets("x86_64+avx2"))]
fn pass_over(
    hierarchy: &Hierarchy,
    ranks: Range<u32>,
    nearer: Range<u32>,
    offset: usize,
    joins: &mut [Join],
) {
    for low in ranks {
        let of_low = hierarchy.range(low);
        let upper = hierarchy.upper(low);
        let from = upper.partition_point(|rank| *rank < nearer.start);
        for (first, rank) in (of_low.start..).zip(upper).skip(from).take_while(|(_, r)| **r < nearer.end) {
            let Join([to_first, from_first]) = joins[first - offset];
            let mut between = hierarchy.range(*rank);
            for second in first + 1..of_low.end {
                // Both are neighbours of the state that is passed over, so they are joined.
                let Some(join) = between.find(|join| hierarchy.upper[*join] == hierarchy.upper[second])
                else {
                    break;
                };
                let Join([to_second, from_second]) = joins[second - offset];
                let Join([up, down]) = &mut joins[join - offset];
                lessen(up, from_first, to_second);
                lessen(down, from_second, to_first);
            }
        }
    }
}

#[inline(always)]
fn lessen(known: &mut [f32; TOGETHER], first: [f32; TOGETHER], then: [f32; TOGETHER]) {
    for lane in 0..TOGETHER {
        let by = first[lane] + then[lane];
        known[lane] = if by < known[lane] { by } else { known[lane] };
    }
}

/// The costs of some graphs, by their place among the joins'.
fn taken_apart(hierarchy: &Hierarchy, joins: &[Join], lanes: &[(usize, Way)]) -> Vec<Costs> {
    let mut of_lanes: Vec<Costs> = lanes.iter().map(|_| Costs::with_room(hierarchy)).collect();
    let ranks: Vec<u32> = (0..hierarchy.len() as u32).collect();
    for ranks in ranks.chunks(OF_A_TURN) {
        for ((lane, way), costs) in lanes.iter().zip(&mut of_lanes) {
            let [climb, descend] = match way {
                Way::From => [UP, DOWN],
                Way::To => [DOWN, UP],
            };
            for rank in ranks {
                costs.start.push(costs.descend.len() as u32);
                for (upper, Join(ways)) in hierarchy.upper(*rank).iter().zip(&joins[hierarchy.range(*rank)]) {
                    costs.climb.push(ways[climb][*lane]);
                    if ways[descend][*lane] < LONGEST_MS {
                        costs.descend.push((*upper, ways[descend][*lane]));
                    }
                }
            }
        }
    }
    of_lanes.iter_mut().for_each(|costs| costs.start.push(costs.descend.len() as u32));
    of_lanes
}

impl Costs {
    fn with_room(hierarchy: &Hierarchy) -> Costs {
        Costs {
            climb: Vec::with_capacity(hierarchy.joins()),
            start: Vec::with_capacity(hierarchy.len() + 1),
            descend: Vec::with_capacity(hierarchy.joins() * 2 / 3),
        }
    }
}
