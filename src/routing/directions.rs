//! A drive as a driver is told it: one step per change of road and per junction where there is a choice.

use crate::place::{Place, wind};
use crate::roads::network::{Arc, Network};
use crate::roads::tags::{Class, OneWay};
pub use crate::routing::action::{Action, Side};
use crate::routing::path::{self, part_length, stretch_points};
use crate::routing::search::Drive;
use crate::routing::topology::{Topology, Turnaround, turn_degrees, turnaround};
use crate::units::Metres;

/// Off straight on by less than this nobody would call it a turn, and by less than the second only a
/// bearing. From 45 degrees on a turn also costs time (`succession`); all three are common practice.
const STRAIGHT_DEG: f64 = 20.0;
const BEAR_DEG: f64 = 45.0;
const SHARP_DEG: f64 = 135.0;
/// Two ways on that differ by less look alike from the cab (a judgement, no source).
const ALIKE_DEG: f64 = 20.0;
/// Drawn lines wiggle where they meet: a direction is taken over so much road (a judgement).
const SIGHT: Metres = Metres(25.0);
/// Ends of a drive that are shorter say nothing: the place lies at the junction.
pub const NOTHING: Metres = Metres(0.5);
/// A gap in the name of one road, such as at a bridge, that a driver does not notice (a judgement).
const NAME_GAP: Metres = Metres(200.0);
/// The same where the gap has a name of its own, as many a bridge has (a judgement).
const NAMED_GAP: Metres = Metres(50.0);

#[derive(Clone, Debug, PartialEq)]
pub struct Step {
    pub action: Action,
    /// Road driven after it; empty where it has neither name nor number.
    pub street: String,
    /// The road keeps its name here.
    pub stays: bool,
    /// Direction of travel after it, whole degrees clockwise from north, 0 to 359; on arrival, before it.
    pub bearing_deg: u16,
    /// To the next step.
    pub distance: Metres,
    pub place: Place,
    /// OpenStreetMap node; start and goal lie on none.
    pub node: Option<i64>,
}

impl Step {
    pub fn street(&self) -> &str {
        if self.street.is_empty() { "unnamed road" } else { &self.street }
    }

    /// One of N, NE, E, SE, S, SW, W, NW.
    pub fn heading(&self) -> &'static str {
        wind(f64::from(self.bearing_deg))
    }

    /// What to do, without direction and distance.
    pub fn instruction(&self, goal: &str) -> String {
        let street = self.street();
        // Two unnamed roads in a row need not be one road.
        let onto = if self.stays && !self.street.is_empty() { "to stay on" } else { "onto" };
        match self.action {
            Action::Start => format!("start on {street}"),
            Action::Continue => format!("continue onto {street}"),
            Action::Bear(side) => format!("bear {} {onto} {street}", side.as_str()),
            Action::Turn(side) => format!("turn {} {onto} {street}", side.as_str()),
            Action::Sharp(side) => format!("turn sharp {} {onto} {street}", side.as_str()),
            Action::TurnRound(Turnaround::Circle) => {
                format!("turn round in the turning circle, back on {street}")
            }
            Action::TurnRound(Turnaround::Yard) => format!("turn round in the yard, back on {street}"),
            Action::TurnRound(Turnaround::Junction) => {
                format!("turn round at the junction, back on {street}")
            }
            Action::TurnRound(_) => format!("turn round with a spotter, back on {street}"),
            Action::Roundabout(Some(exit)) => format!("at the roundabout take exit {exit} onto {street}"),
            Action::Roundabout(None) => format!("at the roundabout leave onto {street}"),
            Action::EnterRoundabout => format!("enter the roundabout, {street}"),
            Action::LeaveRoundabout => format!("leave the roundabout onto {street}"),
            Action::Arrive => format!("arrive at {goal} on {street}"),
        }
    }
}

/// Part of an arc that is driven.
#[derive(Clone, Copy)]
struct Stretch {
    arc: Arc,
    from: f64,
    to: f64,
    length: Metres,
}

/// A step of which it is not yet known how far it goes.
struct Begun {
    action: Action,
    stays: bool,
    /// Stretch it begins with.
    first: usize,
    /// Stretch whose name and direction it tells: behind the roundabout.
    told: usize,
}

/// The turn list of a drive: from its start to its goal, distances summing to the drive's.
pub fn steps(network: &Network, topology: &Topology, drive: &Drive) -> Vec<Step> {
    Teller { network, topology }.steps(drive)
}

struct Teller<'a> {
    network: &'a Network,
    topology: &'a Topology,
}

impl Teller<'_> {
    fn steps(&self, drive: &Drive) -> Vec<Step> {
        let all: Vec<Stretch> = path::stretches(drive)
            .map(|(arc, from, to)| Stretch {
                arc,
                from,
                to,
                length: part_length(self.network, arc, from, to),
            })
            .collect();
        let (Some(first), Some(last)) = (all.first(), all.last()) else { return Vec::new() };
        let whole: Metres = all.iter().map(|s| s.length).sum();
        let place_of = |s: &Stretch, fraction: f64| {
            stretch_points(self.network, s.arc, fraction, fraction).first().copied()
        };
        let node_place = self.network.junctions[self.network.head(last.arc)].place;
        let goal = place_of(last, last.to).unwrap_or(node_place);
        let start = place_of(first, first.from).unwrap_or(goal);
        let driven = worth_telling(&all);
        let begun = self.begun(&driven);
        let ends: Vec<usize> = begun.iter().skip(1).map(|b| b.first).chain([driven.len()]).collect();
        let mut steps: Vec<Step> = begun
            .iter()
            .zip(&ends)
            .map(|(b, end)| Step {
                action: b.action,
                street: self.name(driven[b.told].arc).to_string(),
                stays: b.stays,
                bearing_deg: self.bearing(&driven[b.told..(*end).max(b.told + 1)]),
                distance: driven[b.first..*end].iter().map(|s| s.length).sum(),
                place: self.network.junctions[self.network.tail(driven[b.first].arc)].place,
                node: Some(self.network.junctions[self.network.tail(driven[b.first].arc)].osm_id),
            })
            .collect();
        let mut back: Vec<Stretch> = driven
            .iter()
            .map(|s| Stretch { arc: s.arc.reversed(), from: 1.0 - s.to, to: 1.0 - s.from, ..*s })
            .collect();
        back.reverse();
        let last_told = begun.last().map_or(0, |b| b.told);
        back.truncate((driven.len() - last_told).max(1));
        let arrival = (self.bearing(&back) + 180) % 360;
        let street = driven.last().map_or("", |s| self.name(s.arc)).to_string();
        if let Some(step) = steps.first_mut() {
            (step.place, step.node) = (start, None);
        }
        // What was not worth a step is driven all the same.
        let told: Metres = steps.iter().map(|s| s.distance).sum();
        if let Some(step) = steps.last_mut() {
            step.distance = Metres((step.distance.0 + whole.0 - told.0).max(0.0));
        }
        if start == goal && whole.0 <= NOTHING.0 {
            steps.clear();
        }
        steps.push(Step {
            action: Action::Arrive,
            street,
            stays: true,
            bearing_deg: arrival,
            distance: Metres(0.0),
            place: goal,
            node: None,
        });
        steps
    }

    fn name(&self, arc: Arc) -> &str {
        self.network.name(self.network.way(arc))
    }

    fn is_round(&self, arc: Arc) -> bool {
        self.network.way(arc).tags.roundabout
    }

    fn begun(&self, driven: &[Stretch]) -> Vec<Begun> {
        let mut begun = vec![Begun { action: Action::Start, stays: false, first: 0, told: 0 }];
        let mut i = 1;
        while i < driven.len() {
            let (before, next) = (driven[i - 1].arc, driven[i].arc);
            let mut told = i;
            let action = match (self.is_round(before), self.is_round(next)) {
                (false, true) => match driven[i..].iter().position(|s| !self.is_round(s.arc)) {
                    Some(circling) => {
                        told = i + circling;
                        Some(Action::Roundabout(self.exit(&driven[i..=told])))
                    }
                    None => {
                        told = i;
                        Some(Action::EnterRoundabout)
                    }
                },
                (true, true) => None,
                (true, false) => Some(Action::LeaveRoundabout),
                (false, false) => self.action(before, next),
            };
            if let Some(action) = action {
                let stays = self.name(before) == self.name(driven[told].arc);
                begun.push(Begun { action, stays, first: i, told });
            }
            i = told + 1;
        }
        self.close_name_gaps(driven, begun)
    }

    /// The number of the exit, counting those passed; `None` where a yard's gate might be counted or not.
    fn exit(&self, circling: &[Stretch]) -> Option<u32> {
        let mut count = 0;
        for pair in circling.windows(2) {
            let exits = self.ways_on(pair[0].arc).filter(|arc| !self.is_round(*arc));
            for exit in exits {
                if minor(self.network.way(exit).tags.class) && exit != pair[1].arc {
                    return None;
                }
                // Of several at one node the driver's is one.
                if !self.is_round(pair[1].arc) {
                    continue;
                }
                count += 1;
            }
        }
        Some(count + 1)
    }

    /// Where a vehicle may go from an arc, but back.
    fn ways_on(&self, from: Arc) -> impl Iterator<Item = Arc> + '_ {
        let turns = self.topology.after(from).map(|turn| self.topology.arc(turn.to));
        turns.filter(move |to| {
            let against = match self.network.way(*to).tags.one_way {
                OneWay::Forward => !to.forward(),
                OneWay::Backward => to.forward(),
                OneWay::No | OneWay::Changing => false,
            };
            *to != from.reversed() && !against
        })
    }

    /// `None` where the driver simply follows the road.
    fn action(&self, before: Arc, next: Arc) -> Option<Action> {
        let network = self.network;
        let junction = network.tail(next);
        let arms = self.topology.arms(junction);
        if next == before.reversed() {
            return Some(Action::TurnRound(turnaround(network, junction, arms)));
        }
        let same = self.name(before) == self.name(next);
        if arms <= 2 {
            return (!same).then_some(Action::Continue);
        }
        let angle = turn_degrees(network, before, next);
        let off = angle.abs();
        let lesser = minor(network.way(next).tags.class);
        // A driveway is nothing that a driver on a road could mistake for it.
        let others: Vec<Arc> = self
            .ways_on(before)
            .filter(|arc| *arc != next && (lesser || !minor(network.way(*arc).tags.class)))
            .collect();
        let side = Side::of(angle);
        if off < STRAIGHT_DEG {
            if !same {
                return Some(Action::Continue);
            }
            // Where the name does not tell a fork's arms apart, the side must.
            return others
                .iter()
                .map(|arc| (turn_degrees(network, before, *arc), *arc))
                .filter(|(other, arc)| {
                    other.abs() < BEAR_DEG
                        && other.abs() - off < ALIKE_DEG
                        && self.name(*arc) == self.name(next)
                })
                .min_by(|a, b| (a.0 - angle).abs().total_cmp(&(b.0 - angle).abs()))
                .map(|(other, _)| Action::Bear(Side::of(angle - other)));
        }
        let straighter = |arc: &Arc| turn_degrees(network, before, *arc).abs() < off + ALIKE_DEG;
        if off < BEAR_DEG {
            let follows = same && !others.iter().any(straighter);
            return (!follows).then_some(Action::Bear(side));
        }
        if same && others.is_empty() {
            return None;
        }
        Some(if off <= SHARP_DEG { Action::Turn(side) } else { Action::Sharp(side) })
    }

    /// Straight on into another name and soon straight on into the old one is no news.
    fn close_name_gaps(&self, driven: &[Stretch], begun: Vec<Begun>) -> Vec<Begun> {
        let mut kept: Vec<Begun> = Vec::new();
        for step in begun {
            if let [.., before, gap] = &kept[..]
                && (gap.action, step.action) == (Action::Continue, Action::Continue)
                && self.name(driven[before.told].arc) == self.name(driven[step.told].arc)
                && driven[gap.first..step.first].iter().map(|s| s.length).sum::<Metres>().0
                    < if self.name(driven[gap.told].arc).is_empty() { NAME_GAP.0 } else { NAMED_GAP.0 }
            {
                kept.pop();
            } else {
                kept.push(step);
            }
        }
        kept
    }

    /// Direction from where these stretches begin to where the driver sees them go.
    fn bearing(&self, ahead: &[Stretch]) -> u16 {
        let mut line: Vec<Place> = Vec::new();
        let mut along = 0.0;
        for stretch in ahead {
            for place in stretch_points(self.network, stretch.arc, stretch.from, stretch.to) {
                let step = line.last().map_or(0.0, |last| last.distance(place).0);
                if along + step >= SIGHT.0 {
                    let last = line[line.len() - 1];
                    return whole_degrees(line[0], last.between(place, (SIGHT.0 - along) / step));
                }
                along += step;
                line.push(place);
            }
        }
        match (line.first(), line.last()) {
            (Some(first), Some(last)) if along > NOTHING.0 && first != last => whole_degrees(*first, *last),
            // Nothing driven: the direction of the road there.
            _ => ahead.first().map_or(0, |stretch| {
                let points: Vec<Place> = self.network.arc_points(stretch.arc).collect();
                whole_degrees(points[0], points[points.len() - 1])
            }),
        }
    }
}

fn whole_degrees(from: Place, to: Place) -> u16 {
    from.bearing_deg(to).round() as u16 % 360
}

/// Not a road that a stranger would take for a public one.
fn minor(class: Class) -> bool {
    matches!(class, Class::Service | Class::Track | Class::Path)
}

/// Without ends at a junction and without pieces of no length; never nothing.
fn worth_telling(all: &[Stretch]) -> Vec<Stretch> {
    let longest = all.iter().copied().max_by(|a, b| a.length.0.total_cmp(&b.length.0));
    let last = all.len() - 1;
    let worth = |(i, s): (usize, &Stretch)| {
        let least = if i == 0 || i == last { NOTHING.0 } else { 0.0 };
        (s.length.0 > least).then_some(*s)
    };
    let kept: Vec<Stretch> = all.iter().enumerate().filter_map(worth).collect();
    if kept.is_empty() { longest.into_iter().collect() } else { kept }
}
