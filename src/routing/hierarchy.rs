//! The states of a topology in an order in which they can be passed over one after the other: what a table of
//! times from many places to all roads is worked out on.
//!
//! A state that is passed over leaves its neighbours joined to each other, so that between two states that are
//! left no time is lost. Where roads make no narrow lattice few such joins arise, and they are the same for every
//! vehicle: only their costs differ (`costs`). A drive then climbs to higher ranks and comes down again, and the
//! way down is one pass over all states for many origins at once (`sweep`).
//!
//! The order is by least degree (Tinney and Walker 1967); joins and costs are those of customizable contraction
//! hierarchies (Dibbelt, Strasser and Wagner 2016), the pass that of Delling, Goldberg, Nowatzyk and Werneck
//! (2011). From memory. `search` finds the same times one origin after the other, and needs none of this.

pub mod costs;
pub mod sweep;

use crate::roads::network::Arc;
use crate::routing::topology::Topology;
use std::ops::Range;

const NONE: u32 = u32::MAX;

/// When all states of fewer neighbours are passed over, no more than one in so many may be left. The roads of the Isle
/// of Man, Liechtenstein and Niue pass; the streets of Malta do not, nor does a lattice of lanes, whose joins are many times
/// as many in the end.
const DEGREE: usize = 16;
const SHARE: usize = 7;
/// Most joins a state, over all.
const MOST_JOINS: usize = 12;
/// No piece of the order is more work than one in so many.
const PIECES: usize = 16;

#[derive(Debug)]
pub struct Hierarchy {
    /// By state: those of low rank are passed over first.
    rank: Vec<u32>,
    /// By rank, where its upper neighbours start in the list of them all.
    start: Vec<u32>,
    /// Ranks, ascending; the first of each is its parent.
    upper: Vec<u32>,
    /// By turn of the topology, the join it is a part of and whether it leads down; `NONE` back into its own state.
    join_of_turn: Vec<u32>,
}

/// Rank by state; by rank where its upper neighbours start; these. Empty of roads that are too close a lattice.
pub type Lists = [Vec<u32>; 3];

/// Works out the lists of a succession: by state, where its turns start, and where they lead.
pub fn lists(start: &[u32], to: &[Arc]) -> Lists {
    let Some((order, joined)) = eliminate(neighbours(start, to)) else { return Lists::default() };
    let order = after_what_is_below(&order, &joined);
    let mut rank = vec![0; order.len()];
    for (state, own) in order.iter().zip(0..) {
        rank[*state as usize] = own;
    }
    let mut starts = Vec::with_capacity(order.len() + 1);
    let mut upper = Vec::with_capacity(joined.iter().map(Vec::len).sum());
    for state in &order {
        starts.push(upper.len() as u32);
        let first = upper.len();
        upper.extend(joined[*state as usize].iter().map(|other| rank[*other as usize]));
        upper[first..].sort_unstable();
    }
    starts.push(upper.len() as u32);
    [rank, starts, upper]
}

impl Hierarchy {
    /// None where the lists are not those of the topology, or empty.
    pub fn of(topology: &Topology, [rank, start, upper]: Lists) -> Option<Hierarchy> {
        let mut found = Hierarchy { rank, start, upper, join_of_turn: Vec::new() };
        if found.is_empty() || found.len() != topology.state_count() || !found.holds_together() {
            return None;
        }
        let states = (0..topology.state_count() as u32).map(Arc);
        let turns = states.flat_map(|state| topology.after(state).map(move |turn| (state, turn.to)));
        found.join_of_turn = turns
            .map(|(from, to)| if from == to { Some(NONE) } else { found.join(from, to) })
            .collect::<Option<_>>()?;
        Some(found)
    }

    /// Every state has a rank of its own, its neighbours are above it and joined to each other, and what is below a
    /// state comes right before it.
    fn holds_together(&self) -> bool {
        let count = self.len();
        let mut known = vec![false; count];
        let free =
            |rank: &u32| known.get_mut(*rank as usize).is_some_and(|known| !std::mem::replace(known, true));
        if !self.rank.iter().all(free)
            || self.start.len() != count + 1
            || self.start[0] != 0
            || !self.start.is_sorted()
            || self.start[count] as usize != self.upper.len()
            || self.upper.iter().any(|upper| *upper as usize >= count)
        {
            return false;
        }
        let joined = |rank: u32| {
            let Some((parent, others)) = self.upper(rank).split_first() else { return true };
            let mut among = self.upper(*parent).iter();
            rank < *parent && others.iter().all(|other| among.any(|upper| upper == other))
        };
        if !(0..count as u32).all(joined) {
            return false;
        }
        let mut lowest: Vec<u32> = (0..count as u32).collect();
        for rank in 0..count {
            if let Some(parent) = self.parent(rank as u32) {
                lowest[parent as usize] = lowest[parent as usize].min(lowest[rank]);
            }
        }
        (0..).zip(&lowest).zip(self.below()).all(|((rank, lowest), below)| rank - below == *lowest)
    }

    /// By rank, how many states are below it: passed over before it and hanging together with it until then.
    fn below(&self) -> Vec<u32> {
        let mut below = vec![0; self.len()];
        for rank in 0..self.len() {
            if let Some(parent) = self.parent(rank as u32) {
                below[parent as usize] += below[rank] + 1;
            }
        }
        below
    }

    /// None of states that are not joined.
    fn join(&self, from: Arc, to: Arc) -> Option<u32> {
        let (from, to) = (self.rank(from), self.rank(to));
        let (low, high) = (from.min(to), from.max(to));
        let place = self.upper(low).binary_search(&high).ok()?;
        Some((self.start[low as usize] + place as u32) << 1 | u32::from(from > to))
    }

    pub fn len(&self) -> usize {
        self.rank.len()
    }
    pub fn is_empty(&self) -> bool {
        self.rank.is_empty()
    }
    pub fn rank(&self, state: Arc) -> u32 {
        self.rank[state.index()]
    }
    /// Joins with states of higher rank.
    pub fn joins(&self) -> usize {
        self.upper.len()
    }
    fn range(&self, rank: u32) -> std::ops::Range<usize> {
        self.start[rank as usize] as usize..self.start[rank as usize + 1] as usize
    }
    fn upper(&self, rank: u32) -> &[u32] {
        &self.upper[self.range(rank)]
    }
    /// The lowest of the upper neighbours: all others are above it as well.
    fn parent(&self, rank: u32) -> Option<u32> {
        self.upper(rank).first().copied()
    }

    /// Ranges of ranks that are joined with nothing but each other and what is above all of them: each a state with all
    /// that is below it, and none more than a small part of the work of passing over all.
    fn pieces(&self) -> Vec<Range<u32>> {
        let below = self.below();
        let mut work: Vec<usize> = (0..self.len() as u32).map(|rank| self.range(rank).len().pow(2)).collect();
        let most = work.iter().sum::<usize>() / PIECES;
        for rank in 0..self.len() {
            if let Some(parent) = self.parent(rank as u32) {
                work[parent as usize] += work[rank];
            }
        }
        let mut pieces = Vec::new();
        let mut end = self.len() as u32;
        while let Some(top) = end.checked_sub(1) {
            end = top;
            if work[top as usize] <= most {
                end = top - below[top as usize];
                pieces.push(end..top + 1);
            }
        }
        pieces.reverse();
        pieces
    }

    /// What has to be worked out for some states: they and all above them, highest first.
    pub fn above(&self, ranks: impl Iterator<Item = u32>) -> Vec<u32> {
        let mut wanted = vec![false; self.len()];
        for rank in ranks {
            let mut at = Some(rank);
            while let Some(rank) = at.filter(|rank| !std::mem::replace(&mut wanted[*rank as usize], true)) {
                at = self.parent(rank);
            }
        }
        (0..self.len() as u32).rev().filter(|rank| wanted[*rank as usize]).collect()
    }
}

/// By state, the states that a turn joins it with, ascending.
fn neighbours(start: &[u32], to: &[Arc]) -> Vec<Vec<u32>> {
    let count = start.len() - 1;
    let mut joined = vec![Vec::new(); count];
    for state in 0..count {
        for to in &to[start[state] as usize..start[state + 1] as usize] {
            if to.index() != state {
                joined[state].push(to.0);
                joined[to.index()].push(state as u32);
            }
        }
    }
    for list in &mut joined {
        list.sort_unstable();
        list.dedup();
    }
    joined
}

/// The states in the order in which they are passed over, and of each the neighbours it then had.
fn eliminate(mut joined: Vec<Vec<u32>>) -> Option<(Vec<u32>, Vec<Vec<u32>>)> {
    let count = joined.len();
    let mut gone = vec![false; count];
    let mut order = Vec::with_capacity(count);
    let mut joins = 0;
    // By degree; a state may stand in several, and counts where its degree still is.
    let mut waiting: Vec<Vec<u32>> = Vec::new();
    let wait = |waiting: &mut Vec<Vec<u32>>, degree: usize, state: u32| {
        if waiting.len() <= degree {
            waiting.resize_with(degree + 1, Vec::new);
        }
        waiting[degree].push(state);
    };
    (0..count).rev().for_each(|state| wait(&mut waiting, joined[state].len(), state as u32));
    let (mut degree, mut narrow) = (0, false);
    let mut merged = Vec::new();
    while degree < waiting.len() {
        if degree == DEGREE && !narrow {
            narrow = (count - order.len()) * SHARE <= count;
            if !narrow {
                return None;
            }
        }
        let Some(state) = waiting[degree].pop() else {
            degree += 1;
            continue;
        };
        let own = state as usize;
        if gone[own] || joined[own].len() != degree {
            continue;
        }
        gone[own] = true;
        order.push(state);
        joins += degree;
        if joins > count * MOST_JOINS {
            return None;
        }
        let around = std::mem::take(&mut joined[own]);
        for &other in &around {
            let list = &mut joined[other as usize];
            let before = list.len();
            union(list, &around, &mut merged);
            merged.retain(|known| *known != other && *known != state);
            std::mem::swap(list, &mut merged);
            if list.len() != before {
                degree = degree.min(list.len());
                wait(&mut waiting, list.len(), other);
            }
        }
        joined[own] = around;
    }
    Some((order, joined))
}

/// Another order that makes the same joins (Liu 1990, from memory): each state comes right after all that is below it,
/// so that what is worked out one after the other lies together.
fn after_what_is_below(order: &[u32], joined: &[Vec<u32>]) -> Vec<u32> {
    let mut passed = vec![0; order.len()];
    for (state, at) in order.iter().zip(0..) {
        passed[*state as usize] = at;
    }
    // By place in the first order. The parent of a state is the first passed over of what it was joined with then.
    let mut children: Vec<Vec<usize>> = vec![Vec::new(); order.len()];
    let mut open: Vec<usize> = Vec::new();
    for (at, state) in order.iter().enumerate() {
        match joined[*state as usize].iter().map(|other| passed[*other as usize]).min() {
            Some(parent) => children[parent].push(at),
            None => open.push(at),
        }
    }
    // Parents come before what is below them, and the whole is turned round.
    let mut turned = Vec::with_capacity(order.len());
    while let Some(at) = open.pop() {
        turned.push(order[at]);
        open.append(&mut children[at]);
    }
    turned.reverse();
    turned
}

/// Of two ascending lists.
fn union(a: &[u32], b: &[u32], merged: &mut Vec<u32>) {
    merged.clear();
    let (mut a, mut b) = (a.iter().copied().peekable(), b.iter().copied().peekable());
    loop {
        match (a.peek(), b.peek()) {
            (Some(left), Some(right)) if left < right => merged.extend(a.next()),
            (Some(left), Some(right)) if left > right => merged.extend(b.next()),
            (Some(_), Some(_)) => {
                merged.extend(a.next());
                b.next();
            }
            (Some(_), None) => return merged.extend(a),
            (None, _) => return merged.extend(b),
        }
    }
}
