//! Which arc may follow which, and the seconds the turn costs: shared by all vehicles.
//!
//! Turnarounds are explicit: at turning circles, at T-junctions and crossroads, at dead ends by
//! backing; mid-road never. Times are whole milliseconds, so that sums do not depend on their order.

use crate::place::Place;
use crate::roads::network::{Arc, Network};
use crate::roads::tags::{Class, OneWay, TurningPlace};
use crate::routing::speed::SpeedTable;
use crate::units::Seconds;

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

/// Which arc may follow which: turns leaving each arc, and the same turns by the arc they enter.
#[derive(Debug)]
pub struct Topology {
    /// Where each junction's leaving arcs start in a list of them all: their number is the difference.
    leaving_start: Vec<u32>,
    start: Vec<u32>,
    turns: Vec<Turn>,
    back_start: Vec<u32>,
    back_turns: Vec<Turn>,
}

/// How a vehicle turns round at a junction.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Turnaround {
    Circle,
    /// With the help of a side road.
    Junction,
    /// Dead end: backing with a spotter.
    Backing,
    /// Mid-road: never.
    Never,
}

impl Topology {
    pub fn build(network: &Network, table: &SpeedTable) -> Topology {
        let arcs = network.arc_count();
        let (leaving, headings) = rayon::join(|| leaving_arcs(network), || Headings::of(network, table));
        let mut bans = network.bans.pairs();
        let mut start = Vec::with_capacity(arcs + 1);
        // No more than every arm into every arm: to grow a list this long is to copy it.
        let most =
            leaving.0.windows(2).map(|pair| (pair[1] - pair[0]) as usize).map(|arms| arms * arms).sum();
        let mut turns = Vec::with_capacity(most);
        for from in network.arcs() {
            start.push(turns.len() as u32);
            let junction = network.head(from);
            let next = &leaving.1[leaving.0[junction] as usize..leaving.0[junction + 1] as usize];
            // Bans and arcs come in the same order, so what is over can be left behind.
            let over = bans.iter().take_while(|(a, _)| *a < from).count();
            let own = bans[over..].iter().take_while(|(a, _)| *a == from).count();
            let banned = &bans[over..over + own];
            bans = &bans[over + own..];
            for &to in next {
                if banned.iter().any(|(_, b)| *b == to) {
                    continue;
                }
                if let Some(ms) = turn_ms(network, table, from, &headings, to, next.len()) {
                    turns.push(Turn { to, ms });
                }
            }
        }
        start.push(turns.len() as u32);
        let mut back_start = vec![0u32; arcs + 1];
        for turn in &turns {
            back_start[turn.to.index() + 1] += 1;
        }
        for i in 0..arcs {
            back_start[i + 1] += back_start[i];
        }
        let mut next = back_start.clone();
        let mut back_turns = vec![Turn { to: Arc(0), ms: 0 }; turns.len()];
        for from in network.arcs() {
            for turn in &turns[start[from.index()] as usize..start[from.index() + 1] as usize] {
                let slot = &mut next[turn.to.index()];
                back_turns[*slot as usize] = Turn { to: from, ms: turn.ms };
                *slot += 1;
            }
        }
        Topology { leaving_start: leaving.0, start, turns, back_start, back_turns }
    }

    /// Turns that leave an arc at its head.
    pub fn after(&self, arc: Arc) -> &[Turn] {
        &self.turns[self.start[arc.index()] as usize..self.start[arc.index() + 1] as usize]
    }
    /// Turns that enter an arc at its tail; `to` is the arc they come from.
    pub fn before(&self, arc: Arc) -> &[Turn] {
        &self.back_turns[self.back_start[arc.index()] as usize..self.back_start[arc.index() + 1] as usize]
    }
    /// Arms of a junction, whether a turn into them is allowed or not.
    pub fn arms(&self, junction: usize) -> usize {
        (self.leaving_start[junction + 1] - self.leaving_start[junction]) as usize
    }
    pub fn turn_count(&self) -> usize {
        self.turns.len()
    }
}

/// Arcs leaving each junction, as offsets and a flat list.
fn leaving_arcs(network: &Network) -> (Vec<u32>, Vec<Arc>) {
    let mut start = vec![0u32; network.junctions.len() + 1];
    for arc in network.arcs() {
        start[network.tail(arc) + 1] += 1;
    }
    for i in 0..network.junctions.len() {
        start[i + 1] += start[i];
    }
    let mut next = start.clone();
    let mut list = vec![Arc(0); network.arc_count()];
    for arc in network.arcs() {
        let slot = &mut next[network.tail(arc)];
        list[*slot as usize] = arc;
        *slot += 1;
    }
    (start, list)
}

/// Where and how a truck can turn round at a junction with this many arms.
pub fn turnaround(network: &Network, junction: usize, arms: usize) -> Turnaround {
    if network.mark(junction).is_some_and(|m| m.turning == TurningPlace::Circle) {
        return Turnaround::Circle;
    }
    match arms {
        1 => Turnaround::Backing,
        2 => Turnaround::Never,
        _ => Turnaround::Junction,
    }
}

/// Milliseconds of a turn, `None` where it is never made.
fn turn_ms(
    network: &Network,
    table: &SpeedTable,
    from: Arc,
    headings: &Headings,
    to: Arc,
    arms: usize,
) -> Option<u32> {
    if to == from.reversed() {
        let delay = &table.delay;
        let tags = &network.way(from).tags;
        if tags.one_way != OneWay::No || matches!(tags.class, Class::Motorway | Class::Trunk) {
            return None;
        }
        return Some(millis(match turnaround(network, network.head(from), arms) {
            Turnaround::Circle => delay.turning_circle,
            Turnaround::Junction => delay.junction_turnaround,
            Turnaround::Backing => delay.backing,
            Turnaround::Never => return None,
        }));
    }
    if arms <= 2 {
        return Some(0);
    }
    Some(headings.bend_ms[headings.bend(network.head(from), from, to) as usize])
}

/// How far off straight on a turn leads: less than 45 degrees, up to 135, more.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Bend {
    Slight,
    Turn,
    Sharp,
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
    /// What each bend costs.
    bend_ms: [u32; 3],
}

impl Headings {
    fn of(network: &Network, table: &SpeedTable) -> Headings {
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
        let bend_ms = [0, millis(table.delay.turn), millis(table.delay.sharp_turn)];
        Headings { sets_out, squeeze, bend_ms }
    }

    /// The bend from an arc into another, at the junction between them.
    fn bend(&self, junction: usize, from: Arc, to: Arc) -> Bend {
        let (east, north) = self.sets_out[from.reversed().index()];
        bend((-east, -north), self.sets_out[to.index()], self.squeeze[junction])
    }
}

/// The angle by its sine and cosine on the plane that touches the earth at the junction: at 45 and at
/// 135 degrees they are equally large, so the arc tangent, which would take most of the time of
/// building the turns, is not needed.
fn bend(arriving: Offset, leaving: Offset, squeeze: f64) -> Bend {
    let (east, east_on) = (arriving.0 * squeeze, leaving.0 * squeeze);
    let straight = east * east_on + arriving.1 * leaving.1;
    let aside = (east * leaving.1 - arriving.1 * east_on).abs();
    // Two nodes at one place have no direction: straight on. Counted instead of asked one after the
    // other, since which it will be cannot be foreseen.
    let turns = (straight <= aside) & (straight.abs() + aside > 0.0);
    let sharply = straight < -aside;
    [Bend::Slight, Bend::Turn, Bend::Sharp][usize::from(turns) + usize::from(sharply)]
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

#[cfg(test)]
mod tests {
    use super::*;

    /// Heading north at 60 degrees of latitude, where a degree of longitude is half as long as one of
    /// latitude: 2 east and 1 north is then 45 degrees off.
    #[test]
    fn a_bend_is_told_by_its_angle() {
        let to = |east: i32, north: i32| bend((0.0, 1.0), (f64::from(east), f64::from(north)), 0.5);
        assert_eq!(to(0, 1000), Bend::Slight);
        assert_eq!([to(1998, 1000), to(-1998, 1000)], [Bend::Slight; 2]);
        assert_eq!([to(2000, 1000), to(-2000, 1000), to(2000, 0)], [Bend::Turn; 3]);
        assert_eq!([to(2000, -1000), to(-2000, -1000)], [Bend::Turn; 2]);
        assert_eq!([to(1998, -1000), to(-1998, -1000), to(0, -1000)], [Bend::Sharp; 3]);
        assert_eq!(to(0, 0), Bend::Slight);
    }
}
