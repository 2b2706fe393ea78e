//! What plain searches found, kept to lead guided ones.

use super::{Search, Stand};
use crate::roads::network::Arc;
use crate::routing::core::Nodes;
use crate::routing::graph::RoadGraph;
use crate::routing::seats::Seats;
use std::sync::Arc as Shared;
use std::sync::atomic::{AtomicU64, Ordering::Relaxed};

/// The least times a plain search settled, kept.
#[derive(Clone, Debug, Default)]
pub struct Tree {
    seats: Option<Shared<Seats>>,
    /// By seat.
    ms: Vec<u32>,
    /// Labels from here on, and what was not reached, are at least this far.
    beyond: u32,
    /// No other tree has it but its copies.
    number: u64,
}

static TREES: AtomicU64 = AtomicU64::new(1);

impl Tree {
    /// Milliseconds to or from the tree's root, or a bound that the true time does not go below.
    pub fn at_least(&self, state: Arc) -> u32 {
        self.seats.as_ref().map_or(self.beyond, |seats| self.at_least_at(seats.seat_of(state)))
    }

    #[inline]
    fn at_least_at(&self, seat: u32) -> u32 {
        self.ms.get(seat as usize).map_or(self.beyond, |ms| (*ms).min(self.beyond))
    }

    pub fn number(&self) -> u64 {
        self.number
    }

    /// The same at a node's end.
    #[inline]
    pub fn at_node(&self, nodes: &Nodes, node: u32) -> u32 {
        self.at_least_at(nodes.seat(node))
    }

    /// The true time, where the search settled it.
    pub fn exact(&self, state: Arc) -> Option<u32> {
        Some(self.at_least(state)).filter(|ms| *ms < self.beyond)
    }

    /// Of a search forward from `origin`: milliseconds to `goal`, where it was settled.
    pub fn ms_to(&self, graph: &RoadGraph, origin: Stand, goal: Stand) -> Option<u32> {
        super::ms_to(graph, origin, goal, |state| self.exact(state))
    }

    /// Of a search backward from `goal`: milliseconds from `origin`, where it was settled.
    pub fn ms_from(&self, graph: &RoadGraph, origin: Stand, goal: Stand) -> Option<u32> {
        super::ms_from(graph, origin, goal, |state| self.exact(state))
    }

    /// Memory in bytes.
    pub fn bytes(&self) -> usize {
        self.ms.len() * size_of::<u32>()
    }
}

impl Search {
    /// What the last run found, for later searches to be led by.
    pub fn tree(&self) -> Tree {
        let number = TREES.fetch_add(1, Relaxed);
        Tree { seats: self.seats.clone(), ms: self.labels.clone(), beyond: self.final_ms, number }
    }
}

/// What is left at least, for every state: the lesser of two trees' times and what comes after each.
#[derive(Clone, Copy, Debug)]
pub struct Rest<'t> {
    pub trees: [&'t Tree; 2],
    /// Milliseconds; `u32::MAX` where the tree does not count.
    pub more: [u32; 2],
}

impl Rest<'_> {
    #[inline]
    pub(super) fn at(&self, seat: u32) -> u32 {
        let side = |i: usize| self.trees[i].at_least_at(seat).saturating_add(self.more[i]);
        side(0).min(side(1))
    }
}

/// The same for the nodes of a core, read off the trees beforehand.
#[derive(Clone, Copy, Debug)]
pub struct Left<'t> {
    /// By node.
    pub times: &'t [[u32; 2]],
    /// Milliseconds; `u32::MAX` where the tree does not count.
    pub more: [u32; 2],
}

impl Left<'_> {
    #[inline]
    pub fn by(&self, tree: usize, node: u32) -> u32 {
        self.times[node as usize][tree].saturating_add(self.more[tree])
    }

    #[inline]
    pub(super) fn at(&self, node: u32) -> u32 {
        let [one, other] = self.times[node as usize];
        one.saturating_add(self.more[0]).min(other.saturating_add(self.more[1]))
    }
}
