//! The legs against the overlay by plain geometry: small steps along the road and along the line of a
//! closure, and geo's polygons. And every bridge that nobody rated is told.

use crate::overlay::{Direction, Entry, Shape, What};
use crate::place::Place;
use crate::plan::Problem;
use crate::roads::limits::{Kind, Limits};
use crate::roads::network::{Arc, Network};
use crate::roads::tags::RoadTags;
use crate::verify::Verification;
use crate::verify::answer::PlanOption;
use crate::verify::legs::Driven;
use crate::verify::trace::Trace;
use geo::{Contains, LineString, Point, Polygon};

const STEP_M: f64 = 0.5;
/// A road is closed by an area when a metre of it lies inside, so of an open one there is less.
const INSIDE_M: f64 = 1.0 + 2.0 * STEP_M;
/// A leg this near to the line of a closure, along it, is on the road that it closes ...
const ON_LINE_M: f64 = 3.0;
/// ... when it goes on for longer than a line may be drawn past its end.
const ALONG_M: f64 = 30.0;
const LINE_STEP_M: f64 = 1.0;

/// `which` names the leg, `driven` the ways to read it, of which one must do.
pub fn legs(
    problem: &Problem,
    network: &Network,
    option: &PlanOption,
    which: &str,
    driven: &[Driven],
    found: &mut Verification,
) {
    let moment = &problem.roads.policy.moment;
    let closures: Vec<&Entry> = problem.roads.overlay.entries.iter().filter(|e| e.holds(moment)).collect();
    let trouble = |driven: &Driven| -> Vec<String> {
        closures.iter().filter(|e| closes(e, network, &driven.trace)).map(|e| e.origin()).collect()
    };
    let least = driven.iter().map(trouble).min_by_key(Vec::len).unwrap_or_default();
    found.add("leg.overlay", Some(option.number), least.is_empty(), format!("{which}: closed by {least:?}"));

    let untold = |driven: &Driven| -> Vec<i64> {
        let bridges =
            driven.trace.stretches().filter(|(_, from, to)| to > from).map(|(arc, ..)| network.way(arc));
        let unrated = bridges.filter(|way| unrated(&way.tags)).map(|way| way.id);
        unrated.filter(|id| !option.tells("bridge-unposted", &format!("way {id}"))).collect()
    };
    let least = driven.iter().map(untold).min_by_key(Vec::len).unwrap_or_default();
    let detail = format!("{which}: bridges of unknown weight not told of: {least:?}");
    found.add("leg.bridges", Some(option.number), least.is_empty(), detail);
}

pub fn dump(problem: &Problem, option: &PlanOption, found: &mut Verification) {
    let moment = &problem.roads.policy.moment;
    let forbids = |e: &&Entry| {
        matches!(e.what, What::NoDump { .. })
            && e.holds(moment)
            && polygons(&e.shape).iter().any(|p| p.contains(&point(option.dump)))
    };
    let entry = problem.roads.overlay.entries.iter().find(forbids).map(Entry::origin);
    let detail = format!("the dump site lies in an area without one: {entry:?}");
    found.add("dump.overlay", Some(option.number), entry.is_none(), detail);
}

fn unrated(tags: &RoadTags) -> bool {
    let none = |limits: &Limits| limits.weight.is_none();
    let mut always = tags.special.iter().flat_map(|s| &s.limit_rules).filter(|rule| rule.when.is_none());
    tags.bridge
        && tags.limits.as_ref().is_none_or(|limits| none(limits))
        && tags.special.as_ref().is_none_or(|special| special.limits.iter().all(none))
        && always.all(|rule| rule.kind != Kind::Weight)
}

fn point(place: Place) -> Point {
    Point::new(place.lon(), place.lat())
}

fn polygons(shape: &Shape) -> Vec<Polygon> {
    let Shape::Area(polygons) = shape else { return Vec::new() };
    let ring = |places: &Vec<Place>| LineString::from(places.iter().map(|p| point(*p)).collect::<Vec<_>>());
    polygons
        .iter()
        .filter_map(|rings| {
            let (outer, holes) = rings.split_first()?;
            Some(Polygon::new(ring(outer), holes.iter().map(ring).collect()))
        })
        .collect()
}

/// Whether a closure lies on the row of arcs.
fn closes(entry: &Entry, network: &Network, trace: &Trace) -> bool {
    let What::Closure { bridges, direction, .. } = &entry.what else { return false };
    let meant = |arc: Arc| entry.way.is_none_or(|id| network.way(arc).id == id);
    let mut driven = trace.stretches().filter(|(arc, from, to)| to > from && meant(*arc));
    match &entry.shape {
        Shape::None => driven.any(|(arc, ..)| direction.takes(arc.forward())),
        Shape::Point(_) => false,
        Shape::Area(_) => {
            let areas = polygons(&entry.shape);
            let over = |arc: Arc| network.way(arc).tags.bridge && !bridges && entry.way.is_none();
            driven.filter(|(arc, ..)| !over(*arc)).any(|(arc, from, to)| {
                let steps = steps(network, arc, from, to, STEP_M);
                let inside =
                    steps.iter().filter(|(at, _)| areas.iter().any(|area| area.contains(&point(*at))));
                inside.map(|(_, metres)| metres).sum::<f64>() > INSIDE_M
            })
        }
        Shape::Lines(lines) => driven.any(|(arc, from, to)| {
            let along: f64 =
                lines.iter().map(|line| along_m(network, (arc, from, to), line, *direction)).sum();
            along > ALONG_M
        }),
    }
}

/// Points in the middle of small steps along a stretch of an arc, with the length of each step.
fn steps(network: &Network, arc: Arc, from: f64, to: f64, step_m: f64) -> Vec<(Place, f64)> {
    let points: Vec<Place> = network.arc_points(arc).collect();
    let whole: f64 = points.windows(2).map(|p| p[0].distance(p[1]).0).sum();
    let (mut before, mut list) = (0.0, Vec::new());
    for pair in points.windows(2) {
        let length = pair[0].distance(pair[1]).0;
        let count = (length / step_m).ceil().max(1.0);
        for i in 0..count as u32 {
            let share = (f64::from(i) + 0.5) / count;
            if (from * whole..=to * whole).contains(&(before + share * length)) {
                list.push((pair[0].between(pair[1], share), length / count));
            }
        }
        before += length;
    }
    list
}

/// Metres of a stretch that run along a line, in a direction that the closure takes.
fn along_m(network: &Network, stretch: (Arc, f64, f64), line: &[Place], direction: Direction) -> f64 {
    let steps = steps(network, stretch.0, stretch.1, stretch.2, LINE_STEP_M);
    let mut metres = 0.0;
    for pair in steps.windows(2) {
        let (here, (dx, dy)) = (pair[0].0, pair[1].0.offset_from(pair[0].0));
        let on_line = line.windows(2).any(|piece| {
            let (a, b) = (piece[0].offset_from(here), piece[1].offset_from(here));
            let (ex, ey) = (b.0 - a.0, b.1 - a.1);
            let (length, own) = (ex.hypot(ey).max(1e-9), dx.hypot(dy).max(1e-9));
            let ahead = -(a.0 * ex + a.1 * ey) / length;
            let off = (a.0 * ey - a.1 * ex).abs() / length;
            let cosine = (dx * ex + dy * ey) / (length * own);
            (0.0..=length).contains(&ahead)
                && off <= ON_LINE_M
                && cosine.abs() > 0.94
                && direction.takes(cosine > 0.0)
        });
        if on_line {
            metres += pair[0].1;
        }
    }
    metres
}
