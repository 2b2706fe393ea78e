//! What a search for both legs stands on, and legs laid on arcs.

use crate::routing::core::Core;
use crate::routing::search::Tree;
use crate::routing::snap::Spot;
use crate::shuttle::loops::ClassGraphs;
use std::sync::OnceLock;

/// The ground of one search: a class of tankers, a fill and a dump site, the trees around the latter.
pub struct PairField<'a, 'n> {
    pub graphs: &'a ClassGraphs<'a, 'n>,
    pub cores: &'a Cores,
    pub fill: &'a Spot,
    pub dump: &'a Spot,
    /// Loaded, from each state to the tail of the arc on each side of the dump site.
    pub to_dump: [&'a Tree; 2],
    /// Empty, from the head of the arc on each side of the dump site to each state.
    pub from_dump: [&'a Tree; 2],
}

impl PairField<'_, '_> {
    /// Tells the trees around the dump site from others, on a core.
    pub(super) fn number(&self, core: &Core) -> [u64; 5] {
        let ([to, to_other], [from, from_other]) = (self.to_dump, self.from_dump);
        [core.number, to.number(), to_other.number(), from.number(), from_other.number()]
    }
}

/// How hard to look.
#[derive(Clone, Copy, Debug)]
pub struct Effort {
    /// Price steps at the root and at each branch.
    pub rounds: (usize, usize),
    /// Branches looked at.
    pub branches: usize,
    /// Milliseconds by which the answer may miss the best.
    pub gap: u32,
}

/// The core of one class's roads, and all of them beside it, worked out when first asked for.
#[derive(Debug, Default)]
pub struct Cores {
    contracted: OnceLock<Core>,
    plain: OnceLock<Core>,
}

impl Cores {
    pub fn contracted(&self, graphs: &ClassGraphs) -> &Core {
        self.contracted.get_or_init(|| Core::of(graphs.full, graphs.empty))
    }
    pub fn plain(&self, graphs: &ClassGraphs) -> &Core {
        self.plain.get_or_init(|| Core::plain(graphs.full, graphs.empty))
    }
}
