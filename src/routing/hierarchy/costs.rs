//! What the joins of a hierarchy cost vehicles: of each two states joined the least time from one to the other
//! over states of lower rank.
//!
//! Times are whole milliseconds in 32-bit floats, which hold them exactly up to 2^24 (4.6 hours) and stay beyond
//! that where they are beyond it: sums and comparisons of four at once then need no more than any processor has.

use super::{Hierarchy, NONE};
use crate::roads::network::Arc;
use crate::routing::graph::RoadGraph;
use crate::routing::grouped::grouped;
use multiversion::multiversion;
use rayon::prelude::*;
use std::ops::Range;

/// Graphs whose costs are worked out side by side: what leads to a join is read once for all of them.
const TOGETHER: usize = 8;

/// Of the two ways of a join.
const UP: usize = 0;
const DOWN: usize = 1;

/// Up and down, by graph: one line of the processor's memory.
#[derive(Clone, Copy)]
#[repr(align(64))]
struct Join([[f32; TOGETHER]; 2]);

impl Join {
    const NOWHERE: Join = Join([[f32::INFINITY; TOGETHER]; 2]);
}

/// Longer times are not told apart.
pub const LONGEST_MS: f32 = (1 << 24) as f32;

/// Joins that lead up to a rank, from which on two threads look at them.
const WORTH_TWO: usize = 128;

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
    let mut joins = vec![Join::NOWHERE; hierarchy.joins()];
    let threads = rayon::current_num_threads();
    // Each thread goes over all turns and prices those of its own joins.
    let of_a_thread = joins.len().div_ceil(threads).max(1);
    let price_all = || {
        joins.par_chunks_mut(of_a_thread).enumerate().for_each(|(nth, joins)| {
            price(hierarchy, graphs, nth * of_a_thread, joins);
        });
    };
    let (below, ()) = rayon::join(|| Below::of(hierarchy), price_all);
    pass_over_all(hierarchy, &below, &mut joins);
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
        for (turn, join) in topology.after(state).zip(of_turns.by_ref()) {
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
/// gone through side by side, and what is above them all after that.
fn pass_over_all(hierarchy: &Hierarchy, below: &Below, joins: &mut [Join]) {
    let pieces = hierarchy.pieces();
    let (mut rest, mut from) = (&mut *joins, 0);
    let mut parts = Vec::with_capacity(pieces.len());
    for piece in &pieces {
        let [begin, end] = [piece.start, piece.end].map(|rank| hierarchy.start[rank as usize] as usize);
        let (part, others) = rest[begin - from..].split_at_mut(end - begin);
        parts.push((piece.clone(), begin, part));
        (rest, from) = (others, end);
    }
    let places = || vec![NONE; hierarchy.len()];
    parts.into_par_iter().for_each_init(places, |places, (piece, offset, joins)| {
        for rank in piece {
            collect(hierarchy, below, rank, offset, places, joins, gather);
        }
    });
    let all = hierarchy.len() as u32;
    let (mut next, mut places) = (0, places());
    for piece in pieces.into_iter().chain(std::iter::once(all..all)) {
        for rank in next..piece.start {
            collect(hierarchy, below, rank, 0, &mut places, joins, gather_together);
        }
        next = piece.end;
    }
}

/// The joins that lead up to each rank.
struct Below {
    /// By rank, where its own start.
    start: Vec<u32>,
    /// Joins, and where those of their lower state end.
    joins: Vec<[u32; 2]>,
}

impl Below {
    fn of(hierarchy: &Hierarchy) -> Below {
        let of_low = |low: u32| {
            let [begin, end] = [low, low + 1].map(|rank| hierarchy.start[rank as usize]);
            let joins = (begin..end).zip(hierarchy.upper(low));
            joins.map(move |(join, upper)| (*upper as usize, [join, end]))
        };
        let (start, joins) = grouped(hierarchy.len(), || (0..hierarchy.len() as u32).flat_map(of_low));
        Below { start, joins }
    }

    fn range(&self, rank: u32) -> Range<usize> {
        self.start[rank as usize] as usize..self.start[rank as usize + 1] as usize
    }
}

/// For each join of a rank the drives over all states below both, found by `gather`. The joins are those from `offset` on;
/// `places` is memory by rank.
fn collect(
    hierarchy: &Hierarchy,
    below: &Below,
    rank: u32,
    offset: usize,
    places: &mut [u32],
    joins: &mut [Join],
    gather: impl Fn(&Pairs, &[[u32; 2]], &mut [Join]),
) {
    let own = hierarchy.range(rank);
    for (place, upper) in (0..).zip(hierarchy.upper(rank)) {
        places[*upper as usize] = place;
    }
    // Joins of what is below come before its own.
    let (lower, rest) = joins.split_at_mut(own.start - offset);
    let pairs = Pairs { hierarchy, lower, offset, places };
    gather(&pairs, &below.joins[below.range(rank)], &mut rest[..own.len()]);
}

/// Where two joins up from one state meet.
struct Pairs<'p> {
    hierarchy: &'p Hierarchy,
    /// Joins from `offset` on.
    lower: &'p [Join],
    offset: usize,
    /// Of the state to which both lead, by rank, the place of its join.
    places: &'p [u32],
}

#[multiversion(targets("x86_64+avx512f", "x86_64+avx2"))]
fn gather(pairs: &Pairs, below: &[[u32; 2]], own: &mut [Join]) {
    let Pairs { hierarchy, lower, offset, places } = *pairs;
    for [first, end] in below {
        let Join([to_first, from_first]) = lower[*first as usize - offset];
        for second in *first as usize + 1..*end as usize {
            // Both are neighbours of the state that is passed over, so they are joined.
            let between = places[hierarchy.upper[second] as usize] as usize;
            let Join([to_second, from_second]) = lower[second - offset];
            let Join([up, down]) = &mut own[between];
            lessen(up, from_first, to_second);
            lessen(down, from_second, to_first);
        }
    }
}

/// The same by two threads, where there is enough of it.
fn gather_together(pairs: &Pairs, below: &[[u32; 2]], own: &mut [Join]) {
    if below.len() < WORTH_TWO {
        return gather(pairs, below, own);
    }
    let (some, others) = below.split_at(below.len() / 2);
    let mut theirs = vec![Join::NOWHERE; own.len()];
    rayon::join(|| gather(pairs, some, own), || gather(pairs, others, &mut theirs));
    for (Join(own), Join(theirs)) in own.iter_mut().zip(theirs) {
        own.iter_mut().zip(theirs).for_each(|(own, theirs)| lessen(own, theirs, [0.0; TOGETHER]));
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
