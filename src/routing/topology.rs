//! Which arc may follow which, and the seconds the turn costs: shared by all vehicles.
//!
//! Turnarounds are explicit: at turning circles, in yards, at T-junctions and crossroads, at dead ends by
//! backing; mid-road never. Times are whole milliseconds, so that sums do not depend on their order.

use crate::memory::Spare;
use crate::roads::network::{Arc, Network};
use crate::roads::tags::TurningPlace;
use crate::routing::grouped::grouped;
use crate::routing::hierarchy::{self, Hierarchy};
use crate::routing::seats::Seats;
use crate::routing::shape::Shape;
use crate::routing::speed::SpeedTable;
use crate::routing::succession::{Leaving, Manner, Succession, leaving_arcs};
use crate::units::Seconds;
use std::fmt;
use std::sync::{Arc as Shared, OnceLock};

/// Closed, or not reached.
pub const CLOSED: u32 = u32::MAX;

/// Seconds as the graph counts them.
pub fn millis(seconds: f64) -> u32 {
    (seconds * 1000.0).round().clamp(0.0, f64::from(u32::MAX / 4)) as u32
}

pub fn seconds(millis: u32) -> Seconds {
    Seconds(f64::from(millis) / 1000.0)
}

/// A turn from one arc to the next.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Turn {
    pub to: Arc,
    pub ms: u32,
}

/// Which arc may follow which.
///
/// Its states are the network's arcs and, numbered after them, further states of arcs that lie on a
/// ban through ways: the same arc with something to remember.
#[derive(Clone, Debug)]
pub struct Topology {
    /// Where each junction's leaving arcs start in a list of them all: their number is the difference.
    leaving_start: Vec<u32>,
    start: Vec<u32>,
    /// Where each turn leads to.
    to: Vec<Arc>,
    manner: Vec<Manner>,
    /// Milliseconds by manner.
    cost: [u32; Manner::ALL.len()],
    arc_count: usize,
    /// Arc of each further state.
    further: Vec<Arc>,
    /// None without curves.
    curves: bool,
    /// Bends and grades.
    shape: Spare<Shape>,
    before: Spare<Before>,
    /// Made when first asked for: not every command searches.
    seats: OnceLock<Shared<Seats>>,
    /// The same of the hierarchy; none where the roads are no network for one.
    hierarchy: OnceLock<Option<Shared<Hierarchy>>>,
    saved_hierarchy: Kept,
}

/// What a hierarchy is made of, where it was saved; not held to the turns yet. Whether it is known changes nothing
/// but time, so it is not shown.
#[derive(Clone)]
struct Kept(Option<hierarchy::Lists>);

impl fmt::Debug for Kept {
    fn fmt(&self, f: &mut fmt::Formatter) -> fmt::Result {
        f.write_str("Kept")
    }
}

/// The states from which a turn leads into each, whoever may make it.
#[derive(Debug)]
pub struct Before {
    start: Vec<u32>,
    list: Vec<Arc>,
}

impl Before {
    fn of(topology: &Topology) -> Before {
        let turns = || {
            let all = (0..topology.state_count() as u32).map(Arc);
            all.flat_map(|state| topology.after(state).map(move |turn| (turn.to.index(), state)))
        };
        let (start, list) = grouped(topology.state_count(), turns);
        Before { start, list }
    }

    pub fn of_state(&self, state: Arc) -> &[Arc] {
        &self.list[self.start[state.index()] as usize..self.start[state.index() + 1] as usize]
    }
}

/// How a vehicle turns round at a junction.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Turnaround {
    Circle,
    /// On open ground beside the road.
    Yard,
    /// With the help of a side road.
    Junction,
    /// Dead end: backing with a spotter.
    Backing,
    /// Mid-road: never.
    Never,
}

impl Topology {
    pub fn build(network: &Network, table: &SpeedTable) -> Topology {
        let leaving = leaving_arcs(network);
        let shape = Topology::shape_of(network, &leaving, table.curve.is_some());
        Topology::of(Succession::of(network, leaving), shape, table)
    }

    fn shape_of(network: &Network, leaving: &Leaving, curves: bool) -> Shape {
        if curves { Shape::of_curves(network, leaving) } else { Shape::default() }
    }

    /// Bends and grades.
    pub fn shape(&self, network: &Network) -> Shared<Shape> {
        self.shape.get(|| Topology::shape_of(network, &leaving_arcs(network), self.curves))
    }

    pub fn set_shape(&mut self, shape: Shape) {
        self.shape = Spare::new(shape);
    }

    /// What leads into each state.
    pub fn before(&self) -> Shared<Before> {
        self.before.get(|| Before::of(self))
    }

    /// Gives back what nobody needs once all graphs are built; it is worked out anew for who asks all the same. The
    /// shape only where the network tells it again: nothing was laid on it since (`as_read`), and it has no grades.
    pub fn graphs_are_built(&self, network: &Network, as_read: bool) {
        self.before.let_go();
        if as_read && !self.shape(network).has_grades() {
            self.shape.let_go();
        }
    }

    /// Prices the turns by a speed table.
    pub fn of(succession: Succession, shape: Shape, table: &SpeedTable) -> Topology {
        let Succession { leaving_start, start, to, manner, further } = succession;
        let arc_count = start.len() - 1 - further.len();
        Topology {
            leaving_start,
            start,
            to,
            manner,
            cost: Manner::ALL.map(|manner| delay_ms(table, manner)),
            arc_count,
            further,
            curves: table.curve.is_some(),
            shape: Spare::new(shape),
            before: Spare::default(),
            seats: OnceLock::new(),
            hierarchy: OnceLock::new(),
            saved_hierarchy: Kept(None),
        }
    }

    /// Where a search keeps the states; shared, so that it can tell them when the graph is gone.
    pub fn seats(&self, network: &Network) -> &Shared<Seats> {
        self.seats.get_or_init(|| Shared::new(Seats::of(network, self)))
    }

    /// With the lists of a hierarchy that were worked out before.
    pub fn with_hierarchy(self, lists: hierarchy::Lists) -> Topology {
        Topology { saved_hierarchy: Kept(Some(lists)), ..self }
    }

    /// What tables of times are worked out on, where the roads have one.
    pub fn hierarchy(&self) -> Option<&Hierarchy> {
        let make = || {
            if let Kept(Some(lists)) = &self.saved_hierarchy {
                let found = Hierarchy::of(self, lists.clone());
                // Lists that do not fit, of whatever origin, are worked out anew.
                if found.is_some() || lists.iter().all(Vec::is_empty) {
                    return found;
                }
            }
            Hierarchy::of(self, hierarchy::lists(&self.start, &self.to))
        };
        self.hierarchy.get_or_init(|| make().map(Shared::new)).as_deref()
    }

    /// Turns that leave a state's arc at its head.
    #[inline]
    pub fn after(&self, state: Arc) -> impl ExactSizeIterator<Item = Turn> + '_ {
        self.after_where(state, true)
    }
    /// The same, or none.
    #[inline]
    pub fn after_where(&self, state: Arc, wanted: bool) -> impl ExactSizeIterator<Item = Turn> + '_ {
        let own = match wanted {
            true => self.start[state.index()] as usize..self.start[state.index() + 1] as usize,
            false => 0..0,
        };
        let turns = self.to[own.clone()].iter().zip(&self.manner[own]);
        turns.map(|(to, manner)| Turn { to: *to, ms: self.cost[*manner as usize] })
    }
    pub fn state_count(&self) -> usize {
        self.arc_count + self.further.len()
    }
    /// The arc a state is on; arcs are states of their own.
    pub fn arc(&self, state: Arc) -> Arc {
        self.further.get(state.index().wrapping_sub(self.arc_count)).copied().unwrap_or(state)
    }
    /// All states of an arc, itself first.
    pub fn states(&self, arc: Arc) -> impl Iterator<Item = Arc> + '_ {
        let further = self.further.iter().enumerate().filter(move |(_, a)| **a == arc);
        std::iter::once(arc).chain(further.map(|(i, _)| Arc((self.arc_count + i) as u32)))
    }
    /// Further states with their arcs.
    pub fn further(&self) -> impl Iterator<Item = (Arc, Arc)> + '_ {
        self.further.iter().enumerate().map(|(i, arc)| (Arc((self.arc_count + i) as u32), *arc))
    }
    /// Arms of a junction, whether a turn into them is allowed or not.
    pub fn arms(&self, junction: usize) -> usize {
        (self.leaving_start[junction + 1] - self.leaving_start[junction]) as usize
    }
    pub fn turn_count(&self) -> usize {
        self.to.len()
    }
}

/// Where and how a truck can turn round at a junction with this many arms.
pub fn turnaround(network: &Network, junction: usize, arms: usize) -> Turnaround {
    let place = network.mark(junction).map_or(TurningPlace::None, |mark| mark.turning);
    match arms {
        _ if place == TurningPlace::Circle => Turnaround::Circle,
        _ if place == TurningPlace::Yard => Turnaround::Yard,
        1 => Turnaround::Backing,
        2 => Turnaround::Never,
        _ => Turnaround::Junction,
    }
}

/// Milliseconds that a turn of this manner costs.
fn delay_ms(table: &SpeedTable, manner: Manner) -> u32 {
    let delay = &table.delay;
    millis(match manner {
        Manner::On => 0.0,
        Manner::Turn => delay.turn,
        Manner::Sharp => delay.sharp_turn,
        Manner::Circle => delay.turning_circle,
        Manner::Yard => delay.yard_turnaround,
        Manner::SideRoad => delay.junction_turnaround,
        Manner::Backing => delay.backing,
    })
}

/// Degrees off straight on, -180..180, positive to the right.
pub fn turn_degrees(network: &Network, from: Arc, to: Arc) -> f64 {
    let mut end = network.arc_points(from).rev();
    let mut begin = network.arc_points(to);
    let (Some(at), Some(before)) = (end.next(), end.next()) else { return 0.0 };
    let (Some(_), Some(after)) = (begin.next(), begin.next()) else { return 0.0 };
    let bearing = |a: crate::place::Place, b: crate::place::Place| {
        let (east, north) = b.offset_from(a);
        east.atan2(north).to_degrees()
    };
    let mut off = bearing(at, after) - bearing(before, at);
    if off > 180.0 {
        off -= 360.0;
    } else if off < -180.0 {
        off += 360.0;
    }
    off
}
