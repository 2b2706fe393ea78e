//! The way round as the crew is told it: legs, turn lists, and what the truck does at either site.

use crate::place::Place;
use crate::plan::cases::Case;
use crate::plan::options::Field;
use crate::roads::network::{Arc, Network};
use crate::routing::Roads;
use crate::routing::directions::{self, Step};
use crate::routing::path::{self, Leg};
use crate::routing::posted::{OnTheWay, on_the_way};
use crate::routing::search::Drive;
use crate::routing::topology::{Topology, Turnaround, turnaround};
use crate::shuttle::Meetings;
use crate::shuttle::loops::{Loop, LoopKind};
use crate::units::{Metres, Seconds};
use std::collections::HashSet;

/// So far a crew backs or pulls ahead to turn at a junction rather than at the site (a judgement, no
/// source).
const REACH: Metres = Metres(50.0);

/// How a tanker leaves a site in the direction it does.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Turning {
    /// It leaves in the direction it came.
    DriveThrough,
    /// With a junction or a turning circle within reach.
    Turn,
    /// The road offers neither.
    BackWithSpotter,
    /// The map ends within reach, so nobody knows.
    TurnOrBack,
}

impl Turning {
    pub fn as_str(self) -> &'static str {
        match self {
            Turning::DriveThrough => "drive_through",
            Turning::Turn => "turn",
            Turning::BackWithSpotter => "back_with_spotter",
            Turning::TurnOrBack => "turn_or_back",
        }
    }

    pub fn said(self) -> &'static str {
        match self {
            Turning::DriveThrough => "drive-through",
            Turning::Turn => "turns round; a junction or turning circle lies within 50 m",
            Turning::BackWithSpotter => {
                "turns round with no junction or turning circle within 50 m: find room at the site, or back \
                 with a spotter"
            }
            Turning::TurnOrBack => {
                "turns round, and the map ends within 50 m: look for room to turn, or back with a spotter"
            }
        }
    }
}

/// What the truck does at a site.
#[derive(Clone, Debug, PartialEq)]
pub struct SiteTurn {
    pub turning: Turning,
    /// By which direction and road it comes and goes, and how it turns.
    pub told: String,
}

impl SiteTurn {
    /// At the site itself, or in the first or last metre of a leg.
    pub fn turns(&self) -> bool {
        self.turning != Turning::DriveThrough
    }

    fn of(turning: Turning, into: &[Step], out: &[Step]) -> SiteTurn {
        let (Some(last), Some(first)) = (into.last(), out.first()) else {
            return SiteTurn { turning, told: turning.said().into() };
        };
        let told = format!(
            "arrives heading {} on {}, leaves heading {}: {}",
            last.heading(),
            last.street(),
            first.heading(),
            turning.said()
        );
        SiteTurn { turning, told }
    }
}

/// The place lies at a junction and the leg turns round there: the site is not driven through, though
/// no turn at the site itself is counted.
fn turned_on_the_spot(network: &Network, into: &Drive, out: &Drive) -> Option<usize> {
    let at_start = match out.arcs[..] {
        [first, next, ..] if next == first.reversed() => {
            let left = path::part_length(network, first, out.from_fraction, 1.0);
            (left.0 <= directions::NOTHING.0).then(|| network.head(first))
        }
        _ => None,
    };
    at_start.or_else(|| match into.arcs[..] {
        [.., before, last] if last == before.reversed() => {
            let driven = path::part_length(network, last, 0.0, into.to_fraction);
            (driven.0 <= directions::NOTHING.0).then(|| network.tail(last))
        }
        _ => None,
    })
}

fn turning(
    network: &Network,
    topology: &Topology,
    turns_at_site: bool,
    into: &Drive,
    out: &Drive,
) -> Turning {
    if turns_at_site {
        return turn_at(network, topology, into);
    }
    match turned_on_the_spot(network, into, out) {
        None => Turning::DriveThrough,
        Some(junction) => match turnaround(network, junction, topology.arms(junction)) {
            Turnaround::Circle | Turnaround::Yard | Turnaround::Junction => Turning::Turn,
            Turnaround::Backing | Turnaround::Never => Turning::BackWithSpotter,
        },
    }
}

/// Looks ahead of and behind the place where the drive ends.
fn turn_at(network: &Network, topology: &Topology, into: &Drive) -> Turning {
    let Some(arc) = into.arcs.last() else { return Turning::TurnOrBack };
    let length = network.length(*arc).0;
    let ahead = room_along(network, topology, *arc, length * (1.0 - into.to_fraction));
    let behind = room_along(network, topology, arc.reversed(), length * into.to_fraction);
    match (ahead, behind) {
        (Some(Turning::Turn), _) | (_, Some(Turning::Turn)) => Turning::Turn,
        (None, None) => Turning::BackWithSpotter,
        _ => Turning::TurnOrBack,
    }
}

/// What lies within reach along a road, first from its end that is so many metres off, then on over
/// joints that are no junctions.
fn room_along(network: &Network, topology: &Topology, mut arc: Arc, mut off_m: f64) -> Option<Turning> {
    while off_m <= REACH.0 {
        let junction = network.head(arc);
        match turnaround(network, junction, topology.arms(junction)) {
            Turnaround::Circle | Turnaround::Yard | Turnaround::Junction => return Some(Turning::Turn),
            _ if network.junctions[junction].cut => return Some(Turning::TurnOrBack),
            Turnaround::Backing => return None,
            Turnaround::Never => {}
        }
        let onward = topology.after(arc).map(|turn| topology.arc(turn.to));
        arc = onward.into_iter().find(|to| *to != arc.reversed())?;
        // A ring of joints without length would never end.
        off_m += network.length(arc).0.max(0.1);
    }
    None
}

/// One group of tankers on one loop.
#[derive(Clone, Debug)]
pub struct PlanLoop {
    pub site: String,
    pub kind: LoopKind,
    pub tankers: Vec<String>,
    /// Mean over its tankers: driving, handling and the waiting on narrow road that is expected; none for
    /// berths.
    pub cycle: Seconds,
    pub loaded: Leg,
    pub empty: Leg,
    pub shared: Metres,
    pub narrow: Metres,
    pub unknown_width: Metres,
    /// Expected waiting for oncoming tankers on narrow road, per cycle, mean over its tankers.
    pub meeting_wait: Seconds,
    pub at_dump: SiteTurn,
    pub at_fill: SiteTurn,
    pub loaded_steps: Vec<Step>,
    pub empty_steps: Vec<Step>,
    pub loaded_meets: OnTheWay,
    pub empty_meets: OnTheWay,
}

/// Tells a loop that was found; `driven` is every arc that a tanker of the option drives.
pub fn plan_loop(
    field: &Field,
    case: &Case,
    site: usize,
    found: &Loop,
    members: &[usize],
    meetings: &[Meetings],
    driven: &HashSet<Arc>,
) -> PlanLoop {
    let mean = |of: fn(&Meetings) -> Seconds| {
        Seconds(members.iter().map(|m| of(&meetings[*m]).0).sum::<f64>() / members.len() as f64)
    };
    let network = &field.ground.roads.network;
    let mut loaded = path::describe(network, &found.loaded);
    let mut empty = path::describe(network, &found.empty);
    // A spot counted from the segment's other end may come out a centimetre off: the legs meet.
    let dump = field.dumps[case.choice.dump].spot.place;
    if let ([fill, .., at_dump], [from_dump, .., at_fill]) = (&mut loaded.line[..], &mut empty.line[..]) {
        (*at_dump, *from_dump, *at_fill) = (dump, dump, *fill);
    }
    let topology = &field.ground.roads.topology;
    let mut loaded_steps = directions::steps(network, topology, &found.loaded);
    let mut empty_steps = directions::steps(network, topology, &found.empty);
    for (steps, leg) in [(&mut loaded_steps, &loaded), (&mut empty_steps, &empty)] {
        if let ([first, .., last], [start, .., end]) = (&mut steps[..], &leg.line[..]) {
            (first.place, last.place) = (*start, *end);
        }
    }
    let turning = |turns: bool, into: &Drive, out: &Drive| turning(network, topology, turns, into, out);
    let at_dump = turning(found.turns_at_dump, &found.loaded, &found.empty);
    let at_dump = SiteTurn::of(at_dump, &loaded_steps, &empty_steps);
    let at_fill = turning(found.turns_at_fill, &found.empty, &found.loaded);
    let at_fill = SiteTurn::of(at_fill, &empty_steps, &loaded_steps);
    PlanLoop {
        site: field.ground.sites[site].site.name.clone(),
        kind: found.kind,
        tankers: members.iter().map(|m| case.shuttle.tankers[*m].name.clone()).collect(),
        cycle: mean(|m| m.cycle),
        loaded,
        empty,
        shared: found.opposing.shared,
        narrow: found.opposing.narrow,
        unknown_width: found.opposing.unknown,
        meeting_wait: mean(|m| m.wait),
        at_dump,
        at_fill,
        loaded_steps,
        empty_steps,
        loaded_meets: on_the_way(network, &field.ground.roads.table, &found.loaded, driven),
        empty_meets: on_the_way(network, &field.ground.roads.table, &found.empty, driven),
    }
}

impl Loop {
    /// Where the loaded leg starts.
    pub(super) fn loaded_origin(&self, roads: &Roads) -> Place {
        let origin = self.loaded.origin();
        path::stretch_points(&roads.network, origin.arc, origin.fraction, 1.0)[0]
    }
}
