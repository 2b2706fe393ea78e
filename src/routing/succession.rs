//! Which arc may follow which and in what manner: what of the topology no speed table changes, and
//! what a saved network therefore holds.

use crate::place::Place;
use crate::roads::network::{Arc, Network};
use crate::roads::tags::{Class, OneWay};
use crate::routing::grouped::grouped;
use crate::routing::memory::{Bans, Memory};
use crate::routing::topology::{Turnaround, turnaround};
use bytemuck::NoUninit;
use std::collections::HashMap;

/// How a turn is made; the speed table says what that costs.
#[derive(Clone, Copy, Debug, PartialEq, Eq, NoUninit)]
#[repr(u8)]
pub enum Manner {
    /// Less than 45 degrees off straight on, or no junction at all.
    On,
    /// Up to 135 degrees off.
    Turn,
    Sharp,
    /// Round, and back on the same road.
    Circle,
    Yard,
    SideRoad,
    Backing,
}

impl Manner {
    /// In the order of their numbers.
    pub const ALL: [Manner; 7] = [
        Manner::On,
        Manner::Turn,
        Manner::Sharp,
        Manner::Circle,
        Manner::Yard,
        Manner::SideRoad,
        Manner::Backing,
    ];
}

/// Arcs leaving each junction, as offsets and a flat list.
pub type Leaving = (Vec<u32>, Vec<Arc>);

/// All turns, by the state they leave; see `Topology` for states.
#[derive(Debug)]
pub struct Succession {
    /// Where each junction's leaving arcs start in a list of them all.
    pub leaving_start: Vec<u32>,
    /// Where each state's turns start.
    pub start: Vec<u32>,
    pub to: Vec<Arc>,
    /// As many as `to`.
    pub manner: Vec<Manner>,
    /// Arc of each further state.
    pub further: Vec<Arc>,
}

impl Succession {
    pub fn of(network: &Network, leaving: Leaving) -> Succession {
        let arc_count = network.arc_count();
        let headings = Headings::of(network);
        let bans = Bans::build(&network.bans.all_in_force());
        let mut state_of: HashMap<usize, Arc> = HashMap::new();
        let mut states: Vec<(Arc, Memory)> = network.arcs().map(|arc| (arc, bans.fresh(arc))).collect();
        for (memory, arc) in bans.deep() {
            state_of.insert(Bans::index(memory), Arc(states.len() as u32));
            states.push((arc, memory));
        }
        let mut start = Vec::with_capacity(states.len() + 1);
        let mut to_all = Vec::with_capacity(arc_count * 5 / 2);
        let mut manner_all = Vec::with_capacity(arc_count * 5 / 2);
        for &(from, memory) in &states {
            start.push(to_all.len() as u32);
            let junction = network.head(from);
            let next = &leaving.1[leaving.0[junction] as usize..leaving.0[junction + 1] as usize];
            for &to in next {
                let Some(after) = bans.after(memory, to) else { continue };
                if let Some(manner) = manner(network, &headings, from, to, next.len()) {
                    to_all.push(if bans.is_deep(after) { state_of[&Bans::index(after)] } else { to });
                    manner_all.push(manner);
                }
            }
        }
        start.push(to_all.len() as u32);
        Succession {
            leaving_start: leaving.0,
            start,
            to: to_all,
            manner: manner_all,
            further: states[arc_count..].iter().map(|(arc, _)| *arc).collect(),
        }
    }
}

pub fn leaving_arcs(network: &Network) -> Leaving {
    grouped(network.junctions.len(), || network.arcs().map(|arc| (network.tail(arc), arc)))
}

/// Whether a truck may turn back into the road it came on at all.
fn may_back(network: &Network, arc: Arc) -> bool {
    let tags = &network.way(arc).tags;
    tags.one_way == OneWay::No && !matches!(tags.class, Class::Motorway | Class::Trunk)
}

/// `None` where the turn is never made.
fn manner(network: &Network, headings: &Headings, from: Arc, to: Arc, arms: usize) -> Option<Manner> {
    if to == from.reversed() {
        if !may_back(network, from) {
            return None;
        }
        return match turnaround(network, network.head(from), arms) {
            Turnaround::Circle => Some(Manner::Circle),
            Turnaround::Yard => Some(Manner::Yard),
            Turnaround::Junction => Some(Manner::SideRoad),
            Turnaround::Backing => Some(Manner::Backing),
            Turnaround::Never => None,
        };
    }
    if arms <= 2 {
        return Some(Manner::On);
    }
    Some(headings.bend(network.head(from), from, to))
}

/// East and north, in 10⁻⁷ degrees of longitude and latitude.
type Offset = (f64, f64);

/// Which way each arc sets out, found in one run over the points: turns look at the same arcs again
/// and again, out of order.
struct Headings {
    /// From each arc's first point to its second.
    sets_out: Vec<Offset>,
    /// By junction: how much shorter a degree of longitude is there than one of latitude.
    squeeze: Vec<f64>,
}

impl Headings {
    fn of(network: &Network) -> Headings {
        let offset = |from: Place, to: Place| {
            (
                f64::from(to.lon_e7()) - f64::from(from.lon_e7()),
                f64::from(to.lat_e7()) - f64::from(from.lat_e7()),
            )
        };
        let mut sets_out = Vec::with_capacity(network.arc_count());
        for segment in 0..network.segments.len() {
            let points = network.points(segment);
            let there = points.first_chunk().map(|[first, second]| offset(*first, *second));
            let back = points.last_chunk().map(|[before, last]| offset(*last, *before));
            // A segment has two points at least.
            sets_out.extend([there, back].map(Option::unwrap_or_default));
        }
        let squeeze = network.junctions.iter().map(|j| j.place.lat().to_radians().cos()).collect();
        Headings { sets_out, squeeze }
    }

    /// The bend from an arc into another, at the junction between them.
    fn bend(&self, junction: usize, from: Arc, to: Arc) -> Manner {
        let (east, north) = self.sets_out[from.reversed().index()];
        bend((-east, -north), self.sets_out[to.index()], self.squeeze[junction])
    }
}

/// The angle by its sine and cosine on the plane that touches the earth at the junction: at 45 and at
/// 135 degrees they are equally large, so the arc tangent, which would take most of the time of
/// building the turns, is not needed.
fn bend(arriving: Offset, leaving: Offset, squeeze: f64) -> Manner {
    let (east, east_on) = (arriving.0 * squeeze, leaving.0 * squeeze);
    let straight = east * east_on + arriving.1 * leaving.1;
    let aside = (east * leaving.1 - arriving.1 * east_on).abs();
    // Two nodes at one place have no direction: straight on.
    if straight > aside || straight.abs() + aside <= 0.0 {
        Manner::On
    } else if straight < -aside {
        Manner::Sharp
    } else {
        Manner::Turn
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Heading north at 60 degrees of latitude, where a degree of longitude is half as long as one of
    /// latitude: 2 east and 1 north is then 45 degrees off.
    #[test]
    fn a_bend_is_told_by_its_angle() {
        let to = |east: i32, north: i32| bend((0.0, 1.0), (f64::from(east), f64::from(north)), 0.5);
        assert_eq!(to(0, 1000), Manner::On);
        assert_eq!([to(1998, 1000), to(-1998, 1000)], [Manner::On; 2]);
        assert_eq!([to(2000, 1000), to(-2000, 1000), to(2000, 0)], [Manner::Turn; 3]);
        assert_eq!([to(2000, -1000), to(-2000, -1000)], [Manner::Turn; 2]);
        assert_eq!([to(1998, -1000), to(-1998, -1000), to(0, -1000)], [Manner::Sharp; 3]);
        assert_eq!(to(0, 0), Manner::On);
    }
}
