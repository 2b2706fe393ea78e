//! Each leg against the road: does it follow it, may the tankers drive it, how long does it take?

use crate::place::Place;
use crate::roads::network::Network;
use crate::vehicle::Load;
use crate::verify::answer::{PlanOption, SaidLoop, Which};
use crate::verify::drive::Garage;
use crate::verify::trace::{Trace, traces};
use crate::verify::{ROUNDED, Verification};
use geo::{Distance, Geodesic, Point};

/// A leg stands on milliseconds, but the ends of its line are rounded to about a centimetre, which
/// a truck at walking pace crosses in some milliseconds.
const TIME_WITHIN_S: f64 = 0.010;
/// The answer measures on a sphere of the mean radius, off by up to 0.56 % from the ellipsoid.
const DISTANCE_WITHIN: f64 = 0.007;

/// A leg found on the road.
#[derive(Clone, Debug)]
pub struct Driven {
    pub trace: Trace,
    pub ms: u64,
}

/// Every way to read the leg that agrees with the road, best first; empty if there is none.
pub fn check(
    garage: &Garage,
    option: &PlanOption,
    of: &SaidLoop,
    which: Which,
    found: &mut Verification,
) -> Vec<Driven> {
    let number = option.number;
    let title = format!("{} leg of {}", which.as_str(), of.title());
    let Some((leg, line)) = of.leg(which) else {
        found.add("leg.present", Some(number), false, format!("{title} is missing"));
        return Vec::new();
    };
    found.add("leg.present", Some(number), true, title.clone());
    let ground = &garage.ground;
    let all = traces(ground, line);
    let follows = !all.is_empty();
    found.add("leg.geometry", Some(number), follows, format!("{title}: {} points on the road", line.len()));
    if !follows {
        return Vec::new();
    }
    let load = if which == Which::Loaded { Load::Full } else { Load::Empty };
    let read: Vec<Reading> =
        all.into_iter().map(|trace| Reading::of(garage, trace, &of.tankers(), load)).collect();
    let off = |reading: &Reading| reading.ms.iter().map(|ms| off_s(*ms, leg.travel_s)).fold(0.0, f64::max);
    let says = |reading: &Reading| !lists(ground.network(), &reading.trace, &leg.ways);
    let best = read.iter().min_by(|a, b| {
        let key = |r: &Reading| (r.trouble.len(), r.ms.is_empty(), says(r));
        key(a).cmp(&key(b)).then(off(a).total_cmp(&off(b)))
    });
    let Some(best) = best else { return Vec::new() };

    for kind in ["leg.open", "leg.turns"] {
        let trouble: Vec<&str> =
            best.trouble.iter().filter(|(k, _)| *k == kind).map(|(_, why)| why.as_str()).collect();
        found.add(kind, Some(number), trouble.is_empty(), format!("{title}: {}", trouble.join("; ")));
    }
    for ms in &best.ms {
        found.near("leg.time", number, &title, leg.travel_s, *ms as f64 / 1000.0, TIME_WITHIN_S);
    }
    let metres: f64 = line.windows(2).map(|p| ellipsoid_m(p[0], p[1])).sum();
    let within = metres * DISTANCE_WITHIN + ROUNDED;
    found.near("leg.distance", number, &title, leg.distance_m, metres, within);
    let network = ground.network();
    found.add(
        "leg.ways",
        Some(number),
        lists(network, &best.trace, &leg.ways),
        format!("{title}: stated {}, found {}", leg.ways, ways(network, &best.trace)),
    );
    let streets = streets(network, &best.trace);
    found.add(
        "leg.streets",
        Some(number),
        streets.contains(&leg.streets),
        format!("{title}: stated \"{}\", found \"{}\"", leg.streets, streets[0]),
    );
    let mut good: Vec<Driven> = Vec::new();
    for reading in &read {
        if let (true, Some(ms)) = (reading.trouble.is_empty(), reading.ms.first())
            && off(reading) <= TIME_WITHIN_S
        {
            good.push(Driven { trace: reading.trace.clone(), ms: *ms });
        }
    }
    // A leg with a wrong time still has a place on the road, which the loop is judged by.
    if good.is_empty()
        && let Some(ms) = best.ms.first()
    {
        good.push(Driven { trace: best.trace.clone(), ms: *ms });
    }
    good
}

/// One trace as the tankers of the loop can drive it.
struct Reading {
    trace: Trace,
    /// Milliseconds, of each tanker that can.
    ms: Vec<u64>,
    trouble: Vec<(&'static str, String)>,
}

impl Reading {
    fn of(garage: &Garage, trace: Trace, tankers: &[&str], load: Load) -> Reading {
        let mut reading = Reading { trace, ms: Vec::new(), trouble: Vec::new() };
        for id in tankers {
            let Some(vehicle) = garage.vehicle(id, load) else {
                reading.trouble.push(("leg.open", format!("no tanker {id} in the fleet")));
                continue;
            };
            let Trace { arcs, from, to } = &reading.trace;
            match vehicle.drive(&garage.ground, arcs, *from, *to) {
                Ok(ms) => reading.ms.push(ms),
                Err((kind, why)) => reading.trouble.push((kind, format!("{id}: {why}"))),
            }
        }
        reading
    }
}

fn off_s(ms: u64, stated_s: f64) -> f64 {
    (ms as f64 / 1000.0 - stated_s).abs()
}

fn ellipsoid_m(a: Place, b: Place) -> f64 {
    Geodesic.distance(Point::new(a.lon(), a.lat()), Point::new(b.lon(), b.lat()))
}

/// A trace without end arcs of which nothing is driven.
fn bare(trace: &Trace) -> Vec<usize> {
    trace.stretches().filter(|(_, from, to)| to > from).map(|(arc, ..)| arc.segment()).collect()
}

fn whole(trace: &Trace) -> Vec<usize> {
    trace.arcs.iter().map(|a| a.segment()).collect()
}

fn in_turn<T: PartialEq>(items: impl Iterator<Item = T>) -> Vec<T> {
    let mut list: Vec<T> = items.collect();
    list.dedup();
    list
}

fn way_ids(network: &Network, segments: &[usize]) -> String {
    let ids = in_turn(segments.iter().map(|s| network.ways[network.segments[*s].way as usize].id));
    ids.iter().map(i64::to_string).collect::<Vec<_>>().join(" ")
}

fn ways(network: &Network, trace: &Trace) -> String {
    way_ids(network, &whole(trace))
}

/// Whether the listed ways are the trace's, with or without ends of no length.
fn lists(network: &Network, trace: &Trace, stated: &str) -> bool {
    [whole(trace), bare(trace)].iter().any(|segments| way_ids(network, segments) == stated)
}

/// The named streets in order. Where an unnamed stretch parts two of one name, the name may be
/// said once or twice.
fn streets(network: &Network, trace: &Trace) -> Vec<String> {
    let mut texts = Vec::new();
    for segments in [whole(trace), bare(trace)] {
        let names = || {
            segments
                .iter()
                .map(|s| network.name(&network.ways[network.segments[*s].way as usize]).to_string())
        };
        texts.push(in_turn(names().filter(|n| !n.is_empty())).join(" → "));
        let twice: Vec<String> = in_turn(names()).into_iter().filter(|n| !n.is_empty()).collect();
        texts.push(twice.join(" → "));
    }
    texts
}
