//! What a driver meets on a drive, in the order driven: limits on signs, and road too narrow to pass on.

use crate::finding::OsmRef;
use crate::place::Place;
use crate::roads::limits::{Kind, Limits, Posted};
use crate::roads::network::{Arc, Network};
use crate::roads::tags::Special;
use crate::routing::path::{part_length, stretch_points, stretches};
use crate::routing::search::Drive;
use crate::routing::speed::{Room, SpeedTable};
use crate::units::Metres;
use std::collections::HashSet;

/// A limit that is posted on the way, whether or not it binds.
#[derive(Clone, Debug, PartialEq)]
pub struct Sign {
    pub kind: Kind,
    /// In kilograms or metres.
    pub posted: Posted<f64>,
    /// It holds under a condition only.
    pub at_times: bool,
    /// Vouched for by an overlay rather than posted.
    pub known: bool,
    pub osm: OsmRef,
    /// Empty where the road has no name.
    pub road: String,
    pub place: Place,
    /// From the start of the drive.
    pub along: Metres,
}

/// Road on which two trucks cannot pass each other.
#[derive(Clone, Debug, PartialEq)]
pub struct Narrow {
    pub road: String,
    /// From the start of the drive to where it begins.
    pub along: Metres,
    pub length: Metres,
    /// The least that is mapped of it.
    pub width: Option<Metres>,
    /// Somebody of the same option drives a part of it the other way.
    pub both_ways: bool,
}

/// What one drive meets.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct OnTheWay {
    pub signs: Vec<Sign>,
    pub narrow: Vec<Narrow>,
}

/// Looks along a drive; `driven` is every arc that somebody drives.
pub fn on_the_way(network: &Network, table: &SpeedTable, drive: &Drive, driven: &HashSet<Arc>) -> OnTheWay {
    let mut found = OnTheWay::default();
    let mut along = Metres::ZERO;
    // What was posted on the arc before: a sign that goes on is one sign.
    let mut before: Vec<Sign> = Vec::new();
    let mut narrow_goes_on = false;
    for (i, (arc, from, to)) in stretches(drive).enumerate() {
        let way = network.way(arc);
        let road = network.name(way).to_string();
        let place = stretch_points(network, arc, from, to)[0];
        let here = |(kind, posted, at_times): (Kind, Posted<f64>, bool), osm: OsmRef| Sign {
            known: kind == Kind::Weight && way.tags.local.as_ref().is_some_and(|l| l.weight.is_some()),
            kind,
            posted,
            at_times,
            osm,
            road: road.clone(),
            place,
            along,
        };
        let side = usize::from(!arc.forward());
        let of_way = limits(way.tags.limits.as_deref(), way.tags.special.as_deref(), &[side]);
        let now: Vec<Sign> = of_way.into_iter().map(|limit| here(limit, OsmRef::Way(way.id))).collect();
        let same = |a: &Sign, b: &Sign| {
            a.kind == b.kind && a.posted == b.posted && a.at_times == b.at_times && a.road == b.road
        };
        found.signs.extend(now.iter().filter(|sign| !before.iter().any(|b| same(b, sign))).cloned());
        before = now;

        let length = part_length(network, arc, from, to);
        let is_narrow = table.room(&way.tags) == Room::Narrow;
        if is_narrow && length.0 > 0.0 {
            let both_ways = driven.contains(&arc.reversed());
            match found.narrow.last_mut().filter(|last| narrow_goes_on && last.road == road) {
                Some(last) => {
                    last.length = last.length + length;
                    last.both_ways |= both_ways;
                    last.width = match (last.width, way.tags.width) {
                        (Some(a), Some(b)) => Some(a.min(b)),
                        (a, b) => a.or(b),
                    };
                }
                None => {
                    let width = way.tags.width;
                    found.narrow.push(Narrow { road: road.clone(), along, length, width, both_ways });
                }
            }
        }
        narrow_goes_on = is_narrow;
        along = along + length;

        let Some(next) = drive.arcs.get(i + 1) else { continue };
        let junction = network.head(arc);
        // Where the truck turns back it does not pass what stands there.
        let Some(mark) = network.mark(junction).filter(|_| *next != arc.reversed()) else { continue };
        let osm = OsmRef::Node(network.junctions[junction].osm_id);
        for (kind, posted, at_times) in limits(mark.limits.as_deref(), mark.special.as_deref(), &[0, 1]) {
            let place = network.junctions[junction].place;
            let road = road.clone();
            let sign = Sign { kind, posted, at_times, known: false, osm, road, place, along };
            if !found.signs.contains(&sign) {
                found.signs.push(sign);
            }
        }
    }
    found
}

/// Each limit once, those of the sides asked for.
fn limits(
    plain: Option<&Limits>,
    special: Option<&Special>,
    sides: &[usize],
) -> Vec<(Kind, Posted<f64>, bool)> {
    let mut found: Vec<(Kind, Posted<f64>, bool)> = Vec::new();
    let mut add = |kind: Kind, posted: Posted<f64>, at_times: bool| {
        let limit = (kind, posted, at_times);
        if !limit.1.is_none() && !found.contains(&limit) {
            found.push(limit);
        }
    };
    let directed = special.into_iter().flat_map(|special| sides.iter().map(|side| &special.limits[*side]));
    for limits in plain.into_iter().chain(directed) {
        Kind::ALL.into_iter().for_each(|kind| add(kind, limits.get(kind), false));
    }
    for rule in special.iter().flat_map(|special| &special.limit_rules) {
        if sides.iter().any(|side| rule.dirs[*side]) {
            add(rule.kind, rule.value.clone(), rule.when.is_some());
        }
    }
    found
}
