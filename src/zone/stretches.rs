//! Roads cut into stretches.

use super::Ask;
use crate::finding::{Code, Finding, Findings, Where};
use crate::place::Place;
use crate::plan::Problem;
use crate::plan::ground::{Errand, Ground};
use crate::roads::network::{Arc, Network};
use crate::routing::path::{between, point_at, points_at};
use crate::routing::search::Stand;
use crate::routing::snap::{Spot, stands};
use crate::units::Metres;

/// A piece of road no longer than asked for; its middle stands for it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Stretch {
    segment: u32,
    /// Which of so many alike of the segment.
    piece: u16,
    pieces: u16,
}

/// Pieces of a segment. With the shortest stretches that can be asked for, 10 m, they reach for 655 km without a junction.
const MOST_PIECES: f64 = u16::MAX as f64;

impl Stretch {
    pub fn segment(&self) -> usize {
        self.segment as usize
    }

    /// Where it begins, as a fraction of the segment's length.
    pub fn from(&self) -> f64 {
        f64::from(self.piece) / f64::from(self.pieces)
    }

    /// Where it ends.
    pub fn to(&self) -> f64 {
        (f64::from(self.piece) + 1.0) / f64::from(self.pieces)
    }

    /// As a fraction of the segment's length.
    fn middle(&self) -> f64 {
        (self.from() + self.to()) / 2.0
    }

    pub fn spot(&self, network: &Network) -> Spot {
        let fraction = self.middle();
        let (_, place) = point_at(network, Arc::new(self.segment(), true), fraction);
        Spot { segment: self.segment(), fraction, place, distance: Metres::ZERO }
    }

    /// The middle in both directions of travel.
    pub fn stands(&self) -> [Stand; 2] {
        stands(self.segment(), self.middle())
    }

    pub fn length(&self, network: &Network) -> Metres {
        Metres(f64::from(network.segments[self.segment()].length_m) * (self.to() - self.from()))
    }
}

/// The lines of stretches, in whatever order: those of one segment that come one after the other are cut on one walk along
/// it.
pub struct Lines<'n> {
    network: &'n Network,
    segment: usize,
    /// Of the segment: where its pieces begin, and where the last ends.
    cuts: Vec<(usize, Place)>,
}

impl<'n> Lines<'n> {
    pub fn on(network: &'n Network) -> Lines<'n> {
        Lines { network, segment: usize::MAX, cuts: Vec::new() }
    }

    /// At least one point.
    pub fn of(&mut self, stretch: &Stretch) -> Vec<Place> {
        if stretch.pieces == 1 {
            return self.network.points(stretch.segment()).to_vec();
        }
        let arc = Arc::new(stretch.segment(), true);
        if self.segment != stretch.segment() {
            self.segment = stretch.segment();
            let ends = (0..=stretch.pieces).map(|end| f64::from(end) / f64::from(stretch.pieces));
            self.cuts = points_at(self.network, arc, &ends.collect::<Vec<f64>>());
        }
        let [from, to] = [stretch.piece, stretch.piece + 1].map(|end| self.cuts[usize::from(end)]);
        between(self.network, arc, from, to)
    }
}

/// The stretches of all roads on which a tanker can be a dump site's guest, neighbours on the ground near
/// each other in the list. What is left out is told by its length.
pub fn cut(problem: &Problem, ground: &Ground, ask: &Ask, findings: &mut Findings) -> Vec<Stretch> {
    let network = &ground.roads.network;
    let seats = ground.roads.topology.seats(network);
    let mut order: Vec<usize> = (0..network.segments.len()).collect();
    order.sort_by_cached_key(|segment| (seats.seat_of(Arc::new(*segment, true)), *segment));
    let moment = &problem.roads.policy.moment;
    let mut stretches = Vec::new();
    let (mut closed_m, mut forbidden_m) = (0.0, 0.0);
    for segment in order.into_iter().filter(|s| ground.snapper.is_proper(*s)) {
        let length = f64::from(network.segments[segment].length_m);
        // A centimetre over is what coordinates are rounded by.
        let pieces = ((length - 0.01) / ask.longest.0).ceil().clamp(1.0, MOST_PIECES) as u16;
        for piece in 0..pieces {
            let stretch = Stretch { segment: segment as u32, piece, pieces };
            let middle = || stretch.spot(network).place;
            if ask.area.as_ref().is_some_and(|area| !area.contains(middle())) {
                continue;
            }
            if !ground.classes.iter().any(|class| class.can_use(segment, Errand::Dump)) {
                closed_m += length / f64::from(pieces);
            } else if !problem.roads.overlay.is_empty()
                && problem.roads.overlay.forbids_dump(middle(), moment).is_some()
            {
                forbidden_m += length / f64::from(pieces);
            } else {
                stretches.push(stretch);
            }
        }
    }
    let mut left_out = |metres: f64, why: &str, action: &str| {
        if metres > 0.0 {
            let cause = format!("{:.1} km of road are no stretch of the zone: {why}", metres / 1000.0);
            findings.add(Finding::new(Code::RoadLeftOut, Where::file(&problem.scenario), cause, action));
        }
    };
    left_out(
        closed_m,
        "no tanker can come there full and leave again",
        "ask `plan` for a place there: the dump site then lies on another road",
    );
    left_out(forbidden_m, "an overlay forbids a dump site there", "nothing to do while it is so");
    stretches.shrink_to_fit();
    stretches
}
