//! What a truck must remember of the arcs behind it: bans that run through ways forbid an arc only
//! after certain others.
//!
//! All bans become one automaton over arcs (Aho and Corasick 1975). An arc driven with nothing to
//! remember is a state by itself; one driven in the midst of a forbidden succession is a further
//! state of the same arc. Few arcs have any.

use crate::roads::network::Arc;
use crate::roads::turns::TurnBans;
use std::collections::{BTreeMap, HashMap, VecDeque};

/// A node of the automaton: the longest beginning of a ban that the arcs driven last make up.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Memory(usize);

#[derive(Debug, Default)]
struct Node {
    /// Arc of the last step.
    arc: Option<Arc>,
    depth: usize,
    next: BTreeMap<Arc, usize>,
    suffix: usize,
    /// A whole ban has been driven.
    forbidden: bool,
}

/// The automaton of a network's bans.
#[derive(Debug)]
pub struct Bans {
    nodes: Vec<Node>,
    /// Nodes of a single arc, for a quick look: most arcs begin no ban.
    first: HashMap<Arc, usize>,
}

const NOTHING: usize = 0;

impl Bans {
    pub fn build(bans: &TurnBans) -> Bans {
        let mut all = Bans { nodes: vec![Node::default()], first: HashMap::new() };
        for (from, to) in bans.pairs() {
            all.insert(&[*from, *to]);
        }
        for sequence in bans.sequences() {
            all.insert(sequence);
        }
        all.link();
        all
    }

    fn insert(&mut self, arcs: &[Arc]) {
        let mut at = NOTHING;
        for &arc in arcs {
            let depth = self.nodes[at].depth + 1;
            at = match self.nodes[at].next.get(&arc) {
                Some(&node) => node,
                None => {
                    let node = self.nodes.len();
                    self.nodes.push(Node { arc: Some(arc), depth, ..Node::default() });
                    self.nodes[at].next.insert(arc, node);
                    if depth == 1 {
                        self.first.insert(arc, node);
                    }
                    node
                }
            };
        }
        self.nodes[at].forbidden = true;
    }

    fn link(&mut self) {
        let mut queue: VecDeque<usize> = self.nodes[NOTHING].next.values().copied().collect();
        while let Some(at) = queue.pop_front() {
            let children: Vec<(Arc, usize)> = self.nodes[at].next.iter().map(|(a, n)| (*a, *n)).collect();
            for (arc, child) in children {
                self.nodes[child].suffix = self.step(self.nodes[at].suffix, arc);
                self.nodes[child].forbidden |= self.nodes[self.nodes[child].suffix].forbidden;
                queue.push_back(child);
            }
        }
    }

    fn step(&self, mut at: usize, arc: Arc) -> usize {
        loop {
            if let Some(&next) = self.nodes[at].next.get(&arc) {
                return next;
            }
            if at == NOTHING {
                return NOTHING;
            }
            at = self.nodes[at].suffix;
        }
    }

    /// What is remembered on an arc entered with nothing to remember.
    pub fn fresh(&self, arc: Arc) -> Memory {
        Memory(self.first.get(&arc).copied().unwrap_or(NOTHING))
    }

    /// What is remembered after one more arc; `None` where that would complete a ban.
    pub fn after(&self, memory: Memory, arc: Arc) -> Option<Memory> {
        let next = if memory.0 == NOTHING { self.fresh(arc).0 } else { self.step(memory.0, arc) };
        (!self.nodes[next].forbidden).then_some(Memory(next))
    }

    /// Memories of more than the arc itself: each is a further state of its arc.
    pub fn deep(&self) -> impl Iterator<Item = (Memory, Arc)> + '_ {
        let deep = self.nodes.iter().enumerate().filter(|(_, n)| n.depth > 1 && !n.forbidden);
        deep.filter_map(|(i, n)| Some((Memory(i), n.arc?)))
    }

    pub fn is_deep(&self, memory: Memory) -> bool {
        self.nodes[memory.0].depth > 1
    }

    pub fn index(memory: Memory) -> usize {
        memory.0
    }
}
