//! Roads for one vehicle at one load: what is open, how long it takes, and the search over arcs.
//!
//! The search state is the arc, never the junction: turn restrictions, turnarounds and the side
//! of approach live there.
//!
//! `access` says open or closed, `speed` how fast on a way, `shape` how the road bends and climbs,
//! `dynamics` and `pace` what that leaves of the speed, `succession` which arc may follow which, `topology`
//! at what cost; `saved` keeps what of that no table changes; `graph` puts them together for one vehicle
//! at one load. `edges` lays it out by `seats`, `search` finds drives with a `queue`, `core` is what is left of
//! a graph for drives between far places, `hierarchy` makes tables of times between many places and all roads,
//! `snap` puts places on the road, `path`, `directions`, `posted`, `bridge` and `explain` tell a drive to people, `why` says why there is none, `trip` is one drive
//! from place to place.

pub mod access;
mod action;
pub mod bridge;
pub mod climb;
mod closure;
pub mod core;
pub mod cuts;
pub mod directions;
pub mod dynamics;
pub mod edges;
pub mod explain;
pub mod graph;
pub mod grouped;
pub mod hierarchy;
mod memory;
pub mod pace;
pub mod path;
mod policy;
pub mod posted;
mod queue;
pub mod saved;
pub mod search;
pub mod seats;
pub mod shape;
pub mod snap;
pub mod speed;
pub(crate) mod succession;
pub mod topology;
pub mod trip;
pub mod visit;
pub mod why;

use crate::finding::{Findings, Outcome};
use crate::roads::buildings::Wish;
use crate::roads::elevation::Elevation;
use crate::roads::extract::Extract;
use crate::roads::network::Network;
use crate::vehicle::Body;
use access::Policy;
use graph::RoadGraph;
use pace::Pace;
use shape::Shape;
use speed::SpeedTable;
use std::path::Path;
use topology::{CLOSED, Topology};

/// A road network with the rules it is driven by: everything a graph is made of but the vehicle.
#[derive(Clone, Debug)]
pub struct Roads {
    pub network: Network,
    pub topology: Topology,
    pub table: SpeedTable,
    pub policy: Policy,
    /// What was noticed when an overlay was laid on the network.
    pub notes: Findings,
}

impl Roads {
    /// Opens a saved network, or reads an extract; the file's first bytes say which it is.
    pub fn read(
        path: &Path,
        table: SpeedTable,
        policy: Policy,
        progress: &mut dyn FnMut(u64, u64),
    ) -> Outcome<Roads> {
        Roads::read_with(path, Wish::default(), table, policy, progress)
    }

    /// The same with more than the roads.
    pub fn read_with(
        path: &Path,
        wish: Wish,
        table: SpeedTable,
        policy: Policy,
        progress: &mut dyn FnMut(u64, u64),
    ) -> Outcome<Roads> {
        match saved::open(path, wish, &table)? {
            Some((mut network, saved)) => {
                // The saved turns are those with all bans in force.
                let lifted = settle(&mut network, &policy);
                let topology = if lifted { Topology::build(&network, &table) } else { saved };
                Ok(Roads::of(network, topology, table, policy))
            }
            None => Ok(Roads::new(Network::build(Extract::read(path, wish, progress)?), table, policy)),
        }
    }

    pub fn new(mut network: Network, table: SpeedTable, policy: Policy) -> Roads {
        settle(&mut network, &policy);
        let topology = Topology::build(&network, &table);
        Roads::of(network, topology, table, policy)
    }

    fn of(mut network: Network, topology: Topology, table: SpeedTable, policy: Policy) -> Roads {
        speed::tell_unknown_zones(&mut network, &table);
        Roads { network, topology, table, policy, notes: Findings::new() }
    }

    /// Takes the grades of the roads from an elevation grid.
    pub fn elevate(&mut self, elevation: &Elevation) {
        if !elevation.is_empty() {
            let network = &self.network;
            let mut shape = Shape::clone(&self.topology.shape(network));
            shape.set_grades(network, |segment| climb::grades(network, elevation, segment));
            self.topology.set_shape(shape);
        }
    }

    /// The roads as one vehicle at one load finds them.
    pub fn graph(&self, body: Body) -> RoadGraph<'_> {
        self.graph_beside(body, None)
    }

    /// The same beside the graph of another body with the same load: what is no grade takes both the same time.
    pub fn graph_beside(&self, body: Body, other: Option<&RoadGraph>) -> RoadGraph<'_> {
        let other = other.filter(|other| other.body.load == body.load);
        let shape = self.topology.shape(&self.network);
        let pace = Pace::new(&self.network, &shape, &self.table, &body);
        let ms = |arc, own| match other.map(|other| other.ms(arc)) {
            Some(known) if known != CLOSED && !pace.rests_on_body(arc) => known,
            _ => pace.ms(arc, own),
        };
        RoadGraph::build(&self.network, &self.topology, &self.table, &self.policy, body.clone(), ms)
    }
}

/// Settles which turn bans are in force; `true` if one is not.
fn settle(network: &mut Network, policy: &Policy) -> bool {
    network.bans.settle(&policy.moment, &mut network.findings)
}
