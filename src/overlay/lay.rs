//! Finds what every entry means on a network, and changes the network by it. Nothing is dropped in
//! silence: what an entry does, and what it cannot do, is told by file and feature.

use super::along::TOLERANCE_M;
use super::weight::{Settled, settle};
use super::{Direction, Entry, Overlay, Shape, What, gate};
use crate::finding::{Code, Finding, Findings, OsmRef, Where};
use crate::place::Bounds;
use crate::roads::condition::{Moment, Truth};
use crate::roads::local::{Local, LocalSpeed};
use crate::roads::network::Network;
use crate::roads::tags::RoadTags;
use crate::units::{Kilograms, MetresPerSecond};
use std::collections::{BTreeMap, BTreeSet};

/// Ways named in one finding.
const MOST_NAMED: usize = 8;

/// What an overlay is laid by.
pub struct Rules<'a> {
    pub moment: &'a Moment,
    /// Ways that the request opens.
    pub open_ways: &'a [i64],
    /// What the law allows on a way, with or against its node order.
    pub limit: &'a dyn Fn(&RoadTags, bool) -> Option<MetresPerSecond>,
}

/// What is to become of one segment.
#[derive(Clone, Default, PartialEq)]
pub(super) struct Wish<'o> {
    local: Local,
    weight: Option<(Kilograms, &'o Entry)>,
}

pub(super) struct Laying<'o, 'n> {
    pub(super) network: &'n Network,
    /// Of each segment.
    pub(super) boxes: Vec<Option<Bounds>>,
    /// Way ids with their segments, in order.
    pub(super) of_ways: Vec<(i64, usize)>,
    rules: &'o Rules<'o>,
    wishes: BTreeMap<usize, Wish<'o>>,
    findings: Findings,
}

impl Overlay {
    /// Lays all entries on the network, which is changed for this run and never saved.
    pub fn lay(&self, network: &mut Network, rules: &Rules, findings: &mut Findings) {
        let mut gates: Vec<(usize, &Entry)> = Vec::new();
        let boxes = (0..network.segments.len()).map(|s| Bounds::around(network.points(s).iter().copied()));
        let boxes = boxes.collect();
        let way_id = |s: usize| network.ways[network.segments[s].way as usize].id;
        let mut of_ways: Vec<(i64, usize)> = (0..network.segments.len()).map(|s| (way_id(s), s)).collect();
        of_ways.sort_unstable();
        let mut laying =
            Laying { network, boxes, of_ways, rules, wishes: BTreeMap::new(), findings: Findings::new() };
        for entry in &self.entries {
            if !laying.in_force(entry) {
                continue;
            }
            match &entry.what {
                What::Closure { bridges, direction, .. } => laying.close(entry, *bridges, *direction),
                What::KnownWeight { limit, .. } => laying.know(entry, *limit),
                What::LocalSpeed { direction, .. } => laying.speed(entry, *direction),
                What::OpenedGate { .. } => gates.extend(laying.gate(entry).map(|junction| (junction, entry))),
                What::NoDump { .. } => {
                    if laying
                        .candidates(entry)
                        .is_some_and(|c| c.iter().all(|s| laying.inside_m(entry, *s) == 0.0))
                    {
                        laying.lost(entry, "no road lies in it");
                    }
                }
            }
        }
        let Laying { wishes, findings: told, .. } = laying;
        findings.extend(told);
        fulfil(network, wishes, findings);
        for (junction, entry) in gates {
            open(network, junction, entry, findings);
        }
    }
}

fn named(network: &Network, ways: impl IntoIterator<Item = i64>) -> String {
    let ways: BTreeSet<i64> = ways.into_iter().collect();
    let name = |id: &i64| {
        let way = network.ways.iter().find(|way| way.id == *id);
        match way.map(|way| network.name(way)).filter(|name| !name.is_empty()) {
            Some(name) => format!("way {id} ({name})"),
            None => format!("way {id}"),
        }
    };
    let mut text = ways.iter().take(MOST_NAMED).map(name).collect::<Vec<_>>().join(", ");
    if ways.len() > MOST_NAMED {
        text.push_str(&format!(" and {} more", ways.len() - MOST_NAMED));
    }
    text
}

impl<'o> Laying<'o, '_> {
    pub(super) fn tell(&mut self, code: Code, place: Where, cause: impl Into<String>, action: &str) {
        self.findings.add(Finding::new(code, place, cause, action));
    }

    pub(super) fn lost(&mut self, entry: &Entry, cause: &str) {
        let kind = entry.what.kind();
        self.tell(
            Code::OverlayUnmatched,
            entry.place(),
            format!("this {kind} changes nothing: {cause}"),
            "correct the feature, or take it out if the road is gone",
        );
    }

    /// Whether it holds at the time asked for; what does not, or may, is told.
    fn in_force(&mut self, entry: &Entry) -> bool {
        let kind = entry.what.kind();
        match entry.validity.holds(self.rules.moment) {
            Truth::Yes => {}
            Truth::No => self.tell(
                Code::OverlayIdle,
                entry.place(),
                format!("this {kind} does not hold at the time asked for"),
                "nothing to do if season and dates are right",
            ),
            Truth::Maybe => {
                let counts = if entry.holds(self.rules.moment) {
                    "it counts as in force"
                } else {
                    "it is left closed"
                };
                self.tell(
                    Code::OverlayUndecided,
                    entry.place(),
                    format!("nobody said when, so whether this {kind} holds is not known; {counts}"),
                    "give the time with when, or with --when",
                );
            }
        }
        entry.holds(self.rules.moment)
    }

    fn close(&mut self, entry: &'o Entry, bridges: bool, direction: Direction) {
        let before = self.findings.len();
        let meant = self.meant(entry, direction);
        let by_area = matches!(entry.shape, Shape::Area(_));
        let spared = |s: usize| by_area && !bridges && entry.way.is_none() && self.tags(s).bridge;
        let (over, closed): (Vec<_>, Vec<_>) = meant.into_iter().partition(|(s, _)| spared(*s));
        let over: Vec<i64> = over.into_iter().map(|(s, _)| self.way_id(s)).collect();
        let bridges_told = format!("{} over it as a bridge", named(self.network, over.iter().copied()));
        if closed.is_empty() {
            let why = match &entry.shape {
                _ if !over.is_empty() => {
                    format!("no road lies in it but {bridges_told}; \"bridges\": true closes that too")
                }
                Shape::Lines(_) => format!("no road runs along it within {TOLERANCE_M:.0} m"),
                _ => "no road lies in it".into(),
            };
            // An unknown way or a place outside has been told.
            if self.findings.len() == before {
                self.lost(entry, &why);
            }
            return;
        }
        let ways: BTreeSet<i64> = closed.iter().map(|(s, _)| self.way_id(*s)).collect();
        for id in ways.iter().filter(|id| self.rules.open_ways.contains(id)) {
            let both = Where { osm: Some(OsmRef::Way(*id)), ..entry.place() };
            self.findings.add(Finding::new(
                Code::OverlayContradiction,
                both,
                "the request opens this way by name and this entry closes it; it is closed",
                "take it out of policy.open_ways, or the entry out of the overlay",
            ));
        }
        let metres = self.metres(closed.iter().map(|(s, _)| *s));
        let mut cause = format!("closes {metres:.0} m of road: {}", named(self.network, ways));
        if by_area {
            let inside: f64 = closed.iter().map(|(s, _)| self.inside_m(entry, *s)).sum();
            cause.push_str(&format!(", junction to junction, of which {inside:.0} m lie in the area"));
            if !over.is_empty() {
                cause.push_str(&format!("; not {bridges_told}"));
            }
        }
        self.tell(Code::OverlayApplied, entry.place(), cause, "nothing to do while it is so");
        for (segment, sides) in closed {
            let wish = self.wishes.entry(segment).or_default();
            for (slot, _) in wish.local.closed.iter_mut().zip(sides).filter(|(_, closed)| *closed) {
                slot.get_or_insert_with(|| entry.said());
            }
        }
    }

    fn know(&mut self, entry: &'o Entry, limit: Kilograms) {
        let before = self.findings.len();
        let meant = self.meant(entry, Direction::Both);
        let (named_way, by_line) = (entry.way.is_some(), matches!(entry.shape, Shape::Lines(_)));
        let ways: BTreeSet<i64> = meant
            .iter()
            .filter(|(s, _)| named_way || self.tags(*s).bridge)
            .map(|(s, _)| self.way_id(*s))
            .collect();
        if ways.is_empty() {
            if self.findings.len() == before {
                let how = if by_line { "runs along it" } else { "lies" };
                self.lost(entry, &format!("no bridge {how} within {TOLERANCE_M:.0} m"));
            }
            return;
        }
        // A bridge carries what it carries from end to end.
        for segment in ways.iter().flat_map(|id| self.of_way(*id)).collect::<Vec<_>>() {
            if !self.tags(segment).bridge {
                let way = Where { osm: Some(OsmRef::Way(self.way_id(segment))), ..entry.place() };
                self.tell(
                    Code::OverlayApplied,
                    way,
                    "the way is not mapped as a bridge; the weight counts on all of it",
                    "make sure that this is the way meant",
                );
            }
            let known = self.wishes.get(&segment).and_then(|wish| wish.weight);
            if let Some((other, by)) = known.filter(|(other, _)| *other != limit) {
                self.contradict(
                    entry,
                    by,
                    &format!("{:.1} t against {:.1} t", limit.tonnes(), other.tonnes()),
                    "the lower",
                );
            }
            if known.is_none_or(|(other, _)| limit.0 < other.0) {
                self.wishes.entry(segment).or_default().weight = Some((limit, entry));
            }
        }
    }

    fn contradict(&mut self, entry: &Entry, other: &Entry, what: &str, counts: &str) {
        self.tell(
            Code::OverlayContradiction,
            entry.place(),
            format!("it contradicts {}: {what}; {counts} counts", other.origin()),
            "keep the one that is right",
        );
    }

    fn speed(&mut self, entry: &'o Entry, direction: Direction) {
        let What::LocalSpeed { empty, full, .. } = &entry.what else { return };
        let before = self.findings.len();
        let meant = self.meant(entry, direction);
        if meant.is_empty() && self.findings.len() == before {
            self.lost(entry, &format!("no road runs along it within {TOLERANCE_M:.0} m"));
        }
        for (segment, sides) in meant {
            for side in (0..2).filter(|side| sides[*side]) {
                if let Some(limit) = (self.rules.limit)(self.tags(segment), side == 0)
                    && limit.0 < empty.0 - 1e-9
                {
                    let way = Where { osm: Some(OsmRef::Way(self.way_id(segment))), ..entry.place() };
                    let cause = format!(
                        "{:.0} km/h lie above the limit of {:.0} km/h on this road; the limit counts",
                        empty.kmh(),
                        limit.kmh()
                    );
                    self.tell(Code::OverlayRefused, way, cause, "correct the map if the limit has changed");
                }
                let slot = &mut self.wishes.entry(segment).or_default().local.speed[side];
                let said = entry.said();
                let other = slot.clone().filter(|other| (other.empty, other.full) != (*empty, *full));
                if slot.as_ref().is_none_or(|other| empty.0 < other.empty.0) {
                    *slot = Some(LocalSpeed { empty: *empty, full: *full, said });
                }
                if let Some(other) = other {
                    let cause =
                        format!("it contradicts {}: another speed; the slower counts", other.said.origin);
                    self.tell(Code::OverlayContradiction, entry.place(), cause, "keep the one that is right");
                }
            }
        }
    }
}

/// Gives the segments their new tags. Segments of one way with one wish share them.
fn fulfil(network: &mut Network, wishes: BTreeMap<usize, Wish>, findings: &mut Findings) {
    let mut groups: BTreeMap<u32, Vec<(Wish, Vec<usize>)>> = BTreeMap::new();
    for (segment, wish) in wishes {
        let of_way = groups.entry(network.segments[segment].way).or_default();
        match of_way.iter_mut().find(|(known, _)| *known == wish) {
            Some((_, segments)) => segments.push(segment),
            None => of_way.push((wish, vec![segment])),
        }
    }
    for (way, group) in groups {
        for (wish, segments) in group {
            let mut tags = RoadTags::clone(&network.ways[way as usize].tags);
            tags.local = Some(Box::new(wish.local));
            if let Some((limit, entry)) = wish.weight {
                let osm = Some(OsmRef::Way(network.ways[way as usize].id));
                let place = Where { osm, ..entry.place() };
                match settle(&mut tags, limit, entry.said()) {
                    Settled::Known => {}
                    Settled::Stands(posted) => findings.add(Finding::new(
                        Code::OverlayRefused,
                        place,
                        format!(
                            "{:.1} t would raise the {:.1} t that is posted here; what is posted stands",
                            limit.tonnes(),
                            posted.tonnes()
                        ),
                        "ask the owner of the bridge, and correct the map if the sign has changed",
                    )),
                }
            }
            network.retag(&segments, tags);
        }
    }
}

fn open(network: &mut Network, junction: usize, entry: &Entry, findings: &mut Findings) {
    let osm = Some(OsmRef::Node(network.junctions[junction].osm_id));
    let place = Where { osm, ..entry.place() };
    let opened = network.mark_mut(junction).map(|mark| gate::open(mark, entry.said()));
    let (code, cause) = match opened {
        Some(Ok(true)) => return,
        Some(Ok(false)) => (Code::OverlayIdle, "the gate is mapped as open; there is nothing to open"),
        Some(Err(why)) => (Code::OverlayRefused, why),
        None => (Code::OverlayRefused, "no gate is mapped there"),
    };
    findings.add(Finding::new(code, place, cause, "look at the place, and correct the map or the feature"));
}
