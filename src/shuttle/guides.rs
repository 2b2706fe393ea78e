//! What is left at least to the dump site, by node of the core: read off the trees around it once for all
//! fill sites that are asked for in a row.

use crate::routing::core::{Core, Nodes};
use crate::routing::search::Tree;
use crate::shuttle::ground::PairField;

/// Milliseconds from or to either side of the dump site.
type Times = Vec<[u32; 2]>;

#[derive(Debug, Default)]
pub(super) struct Guides {
    /// The core and the trees that they were read off.
    of: Option<[u64; 5]>,
    pub loaded: Times,
    pub empty: Times,
}

impl Guides {
    pub fn read(&mut self, field: &PairField, core: &Core) {
        let of = Some(field.number(core));
        if self.of == of {
            return;
        }
        self.of = of;
        fill(&mut self.loaded, field.to_dump, &core.full);
        fill(&mut self.empty, field.from_dump, &core.empty);
    }
}

fn fill(times: &mut Times, trees: [&Tree; 2], nodes: &Nodes) {
    times.clear();
    times.extend((0..nodes.count() as u32).map(|node| trees.map(|tree| tree.at_node(nodes, node))));
}
