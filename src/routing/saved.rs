//! A saved network with what routing works out of it for every speed table: the turns, the curves and the hierarchy.
//!
//! `roads::saved` keeps the file; here are the sections it carries for this floor, each a list of plain
//! numbers. Anyone may have written them, so they are held to the network before they are used.

use crate::finding::{Code, Outcome, Refusal, Where};
use crate::roads::buildings::Wish;
use crate::roads::extract::Extract;
use crate::roads::network::{Arc, Network};
use crate::roads::saved::{self, OF_ROUTING, Origin, countable, damaged, rows};
use crate::routing::hierarchy;
use crate::routing::shape::{Bend, Beyond, Rows, Shape};
use crate::routing::speed::SpeedTable;
use crate::routing::succession::{Manner, Succession, leaving_arcs};
use crate::routing::topology::Topology;
use bytemuck::Pod;
use std::path::Path;

/// What `prepare` made.
#[derive(Clone, Copy, Debug)]
pub struct Prepared {
    pub segments: usize,
    pub ways: usize,
    pub bytes: u64,
}

/// Reads an extract and saves its network.
pub fn prepare(extract: &Path, to: &Path, progress: &mut dyn FnMut(u64, u64)) -> Outcome<Prepared> {
    let origin = Origin::of(extract)?;
    let network = Network::build(Extract::read(extract, Wish { buildings: true }, progress)?);
    if origin.changed(to).is_some() {
        return Err(Refusal::new(
            Code::FileUnreadable,
            Where::file(extract.display()),
            "the extract changed while it was read",
            "prepare again when whatever writes it is done",
        ));
    }
    let leaving = leaving_arcs(&network);
    let Shape { bends, beyond, .. } = Shape::of_curves(&network, &leaving);
    let Succession { leaving_start, start, to: turns, manner, further } = Succession::of(&network, leaving);
    let [rank, upper_start, upper] = hierarchy::lists(&start, &turns);
    let sections: [&[u8]; OF_ROUTING] = [
        bytemuck::cast_slice(&leaving_start),
        bytemuck::cast_slice(&start),
        bytemuck::cast_slice(&turns),
        bytemuck::cast_slice(&manner),
        bytemuck::cast_slice(&further),
        bytemuck::cast_slice(&bends.start),
        bytemuck::cast_slice(&bends.items),
        bytemuck::cast_slice(&beyond.start),
        bytemuck::cast_slice(&beyond.items),
        bytemuck::cast_slice(&rank),
        bytemuck::cast_slice(&upper_start),
        bytemuck::cast_slice(&upper),
    ];
    let bytes = saved::write(&network, &origin, sections, to)?;
    Ok(Prepared { segments: network.segments.len(), ways: network.ways.len(), bytes })
}

/// Opens a saved network with its topology; `None` if the file is something else.
pub fn open(path: &Path, wish: Wish, table: &SpeedTable) -> Outcome<Option<(Network, Topology)>> {
    let curves = table.curve.is_some();
    saved::open(
        path,
        wish,
        |sections| Copies::of(sections, curves),
        |network, copies| copies.fit(network, table),
    )
}

/// Copies of the sections: it is these that are checked; see `roads::saved::open`.
struct Copies {
    succession: Succession,
    /// Where the speed table has curves: without, there are none to slow for, as `Topology::build` has it.
    shape: Option<(Rows<Bend>, Rows<Beyond>)>,
    /// Held to the turns when it is asked for, which few commands do.
    hierarchy: [Vec<u32>; 3],
}

impl Copies {
    fn of(sections: [&[u8]; OF_ROUTING], curves: bool) -> Result<Copies, String> {
        let [
            leaving_start,
            start,
            to,
            manner,
            further,
            bend_start,
            bends,
            beyond_start,
            beyond,
            hierarchy @ ..,
        ] = sections;
        let manner = manner.iter().map(|number| Manner::ALL.get(usize::from(*number)).copied());
        let succession = Succession {
            leaving_start: rows(leaving_start)?.to_vec(),
            start: rows(start)?.to_vec(),
            to: rows(to)?.to_vec(),
            manner: manner.collect::<Option<_>>().ok_or_else(|| damaged("a turn is of an unknown manner"))?,
            further: rows(further)?.to_vec(),
        };
        let shape = match curves {
            true => Some((lists(bend_start, bends)?, lists(beyond_start, beyond)?)),
            false => None,
        };
        let [rank, upper_start, upper] = hierarchy;
        let hierarchy = [rows(rank)?.to_vec(), rows(upper_start)?.to_vec(), rows(upper)?.to_vec()];
        Ok(Copies { succession, shape, hierarchy })
    }

    fn fit(self, network: &Network, table: &SpeedTable) -> Result<Topology, String> {
        let Copies { succession, shape, hierarchy } = self;
        check_succession(network, &succession)?;
        let shape = match shape {
            Some((bends, beyond)) => {
                check_shape(network, &bends, &beyond)?;
                Shape::of_rows(bends, beyond)
            }
            None => Shape::default(),
        };
        Ok(Topology::of(succession, shape, table).with_hierarchy(hierarchy))
    }
}

fn lists<T: Pod>(start: &[u8], items: &[u8]) -> Result<Rows<T>, String> {
    Ok(Rows { start: rows(start)?.to_vec(), items: rows(items)?.to_vec() })
}

/// Offsets of `count` lists that lie one after another and are `total` long together.
fn are_offsets(start: &[u32], count: usize, total: usize) -> bool {
    start.len() == count + 1
        && start[0] == 0
        && start[count] as usize == total
        && start.is_sorted()
        && countable(total)
}

fn check_succession(network: &Network, succession: &Succession) -> Result<(), String> {
    let Succession { leaving_start, start, to, manner, further } = succession;
    let arcs = network.arc_count();
    let states = arcs + further.len();
    if !are_offsets(leaving_start, network.junctions.len(), arcs)
        || !countable(states)
        || !are_offsets(start, states, to.len())
        || manner.len() != to.len()
        || !further.iter().all(|arc| arc.index() < arcs)
    {
        return Err(damaged("its turns do not fit its roads"));
    }
    // An arc leads on from the junction at which the one before it ends.
    let arc = |state: Arc| match state.index().checked_sub(arcs) {
        None => Some(state),
        Some(more) => further.get(more).copied(),
    };
    let leads_on = |state: usize| {
        let Some(from) = arc(Arc(state as u32)) else { return false };
        let head = network.head(from);
        let own = &to[start[state] as usize..start[state + 1] as usize];
        own.iter().all(|to| arc(*to).is_some_and(|to| network.tail(to) == head))
    };
    if (0..states).all(leads_on) { Ok(()) } else { Err(damaged("a turn leads to a road that is not there")) }
}

fn check_shape(network: &Network, bends: &Rows<Bend>, beyond: &Rows<Beyond>) -> Result<(), String> {
    let is_length = |metres: f32| metres >= 0.0 && metres.is_finite();
    let is_radius = |metres: f32| metres > 0.0 && metres.is_finite();
    let fits = are_offsets(&bends.start, network.segments.len(), bends.items.len())
        && are_offsets(&beyond.start, network.arc_count(), beyond.items.len())
        && bends.items.iter().all(|b| is_length(b.from) && is_length(b.to) && is_radius(b.radius))
        && beyond.items.iter().all(|b| is_length(b.distance) && is_radius(b.radius));
    if fits { Ok(()) } else { Err(damaged("its curves do not fit its roads")) }
}
