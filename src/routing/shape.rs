//! The shape of the roads, the same for every vehicle: how sharply each segment bends, and how
//! steeply it climbs where an elevation grid says so.

use crate::roads::network::{Arc, Network};
use crate::routing::succession::Leaving;
use crate::routing::topology::turn_degrees;
use bytemuck::{Pod, Zeroable};
use rayon::prelude::*;

/// A part of a segment that bends, in metres along it with the way's node order.
#[derive(Clone, Copy, Debug, PartialEq, Pod, Zeroable)]
#[repr(C)]
pub struct Bend {
    pub from: f32,
    pub to: f32,
    pub radius: f32,
}

/// A bend on the road that goes on beyond an arc's head: a truck brakes for it on the arc, and one
/// that comes from it still speeds up there.
#[derive(Clone, Copy, Debug, PartialEq, Pod, Zeroable)]
#[repr(C)]
pub struct Beyond {
    pub distance: f32,
    pub radius: f32,
}

/// Lists of items, one list per row, in one piece of memory.
#[derive(Clone, Debug)]
pub(super) struct Rows<T> {
    pub start: Vec<u32>,
    pub items: Vec<T>,
}

impl<T> Default for Rows<T> {
    fn default() -> Self {
        Rows { start: Vec::new(), items: Vec::new() }
    }
}

impl<T: Send> Rows<T> {
    fn collect(count: usize, row: impl Fn(usize) -> Vec<T> + Sync + Send) -> Rows<T> {
        let rows: Vec<Vec<T>> = (0..count).into_par_iter().with_min_len(1024).map(row).collect();
        let mut all = Rows { start: Vec::with_capacity(count + 1), items: Vec::new() };
        for row in rows {
            all.start.push(all.items.len() as u32);
            all.items.extend(row);
        }
        all.start.push(all.items.len() as u32);
        all.items.shrink_to_fit();
        all
    }
    /// Empty where nothing was collected.
    fn row(&self, index: usize) -> &[T] {
        match (self.start.get(index), self.start.get(index + 1)) {
            (Some(first), Some(end)) => &self.items[*first as usize..*end as usize],
            _ => &[],
        }
    }
}

#[derive(Clone, Debug, Default)]
pub struct Shape {
    /// By segment.
    pub(super) bends: Rows<Bend>,
    /// By arc.
    pub(super) beyond: Rows<Beyond>,
    /// By segment: per cent with the node order, of equal pieces.
    grades: Rows<f32>,
}

/// A bend's circle goes through points at least so far apart along the road: a mapper's hand and a
/// satellite picture are good to a metre or two, and over 20 m that is a bend of 100 m or more.
const LEAST_LEG_M: f64 = 20.0;
/// Beside a dead end or a junction there is less; below this a corner says nothing about a bend.
const TOO_SHORT_M: f64 = 8.0;
/// Where a mapper sets points far apart, the road as built leaves the straight line between them by
/// no more than this. It tells a wide curve drawn with few points from a corner between two straights.
const GREATEST_SAG_M: f64 = 3.0;
/// Wider bends slow nobody: at 1 m/s² 800 m are driven at 28 m/s.
const WIDEST_M: f64 = 800.0;
/// No truck turns in less.
const TIGHTEST_M: f64 = 5.0;
/// Bends farther beyond an arc's end than this are left to the next arc: from 15 m/s a truck stops
/// comfortably in 100 m.
const REACH_M: f64 = 200.0;
/// Junctions looked through on the way to a bend beyond: a guard against rings of short segments.
const MOST_JUNCTIONS: usize = 24;
/// A road that turns off more than this at a junction with side roads is a turn, and the delay for
/// turns covers it.
const TURN_DEGREES: f64 = 45.0;

impl Shape {
    pub fn of_curves(network: &Network, leaving: &Leaving) -> Shape {
        let chains = Chains { network, leaving };
        let bends = Rows::collect(network.segments.len(), |segment| chains.bends(segment));
        let beyond = Rows::collect(network.arc_count(), |arc| chains.beyond(Arc(arc as u32), &bends));
        Shape::of_rows(bends, beyond)
    }

    pub(super) fn of_rows(bends: Rows<Bend>, beyond: Rows<Beyond>) -> Shape {
        Shape { bends, beyond, grades: Rows::default() }
    }

    /// Takes grades in per cent with the node order, each segment in equal pieces.
    pub fn set_grades(&mut self, network: &Network, pieces: impl Fn(usize) -> Vec<f32> + Sync + Send) {
        self.grades = Rows::collect(network.segments.len(), pieces);
    }

    pub fn has_grades(&self) -> bool {
        !self.grades.items.is_empty()
    }
    /// In the node order, none overlapping another.
    pub fn bends(&self, segment: usize) -> &[Bend] {
        self.bends.row(segment)
    }
    /// The nearest first, each sharper than the one before it.
    pub fn beyond(&self, arc: Arc) -> &[Beyond] {
        self.beyond.row(arc.index())
    }
    pub fn grades(&self, segment: usize) -> &[f32] {
        self.grades.row(segment)
    }
}

struct Chains<'a> {
    network: &'a Network,
    leaving: &'a Leaving,
}

impl Chains<'_> {
    /// The arc on which the road goes on beyond an arc's head.
    fn onward(&self, arc: Arc) -> Option<Arc> {
        let network = self.network;
        let junction = network.head(arc);
        let arms = &self.leaving.1[self.leaving.0[junction] as usize..self.leaving.0[junction + 1] as usize];
        let others = || arms.iter().copied().filter(|a| *a != arc.reversed());
        if arms.len() == 2 {
            return others().next();
        }
        let way = network.segment(arc).way;
        let here = &network.ways[way as usize];
        // The same way; where another begins at the junction, the road of its name and class.
        let same_way = |a: &Arc| network.segment(*a).way == way;
        let same_road = |a: &Arc| {
            let there = network.way(*a);
            here.name != 0 && there.name == here.name && there.tags.class == here.tags.class
        };
        let alone = |fits: &dyn Fn(&Arc) -> bool| {
            let mut fitting = others().filter(fits);
            fitting.next().filter(|_| fitting.next().is_none())
        };
        let next = if others().any(|a| same_way(&a)) { alone(&same_way) } else { alone(&same_road) };
        next.filter(|next| turn_degrees(network, arc, *next).abs() < TURN_DEGREES)
    }

    /// Points beyond an arc's head, as far as a bend's leg reaches.
    fn lead(&self, arc: Arc) -> Vec<crate::place::Place> {
        let (mut points, mut at, mut length) = (Vec::new(), arc, 0.0);
        for _ in 0..MOST_JUNCTIONS {
            let Some(next) = self.onward(at) else { break };
            let mut along = self.network.arc_points(next);
            let mut last = along.next();
            for point in along {
                if let Some(last) = last {
                    length += last.distance(point).0;
                }
                points.push(point);
                last = Some(point);
                if length >= LEAST_LEG_M {
                    return points;
                }
            }
            at = next;
        }
        points
    }

    fn bends(&self, segment: usize) -> Vec<Bend> {
        let network = self.network;
        let own = network.points(segment);
        let length = f64::from(network.segments[segment].length_m);
        let before = self.lead(Arc::new(segment, false));
        let after = self.lead(Arc::new(segment, true));
        if own.len() + before.len() + after.len() < 3 {
            return Vec::new();
        }
        let origin = own[0];
        let places = before.iter().rev().chain(own).chain(&after);
        let line = Line::through(places.map(|p| p.offset_from(origin)), before.len());
        let mut bends = Vec::new();
        for vertex in 1..line.points.len().saturating_sub(1) {
            let at = line.along[vertex] - line.own_start;
            if at < -0.01 || at > length + 0.01 {
                continue;
            }
            let Some((radius, back, on)) = line.bend(vertex) else { continue };
            let (from, to) = ((at - back).max(0.0), (at + on).min(length));
            if radius < WIDEST_M && to > from {
                let radius = radius.max(TIGHTEST_M);
                bends.push(Bend { from: from as f32, to: to as f32, radius: radius as f32 });
            }
        }
        bends
    }

    fn beyond(&self, arc: Arc, bends: &Rows<Bend>) -> Vec<Beyond> {
        let (mut found, mut at, mut passed, mut sharpest) = (Vec::new(), arc, 0.0f32, f32::INFINITY);
        for _ in 0..MOST_JUNCTIONS {
            let Some(next) = self.onward(at) else { break };
            let length = self.network.segment(next).length_m;
            let row = bends.row(next.segment());
            for i in 0..row.len() {
                let bend = if next.forward() { row[i] } else { row[row.len() - 1 - i] };
                let starts = if next.forward() { bend.from } else { length - bend.to };
                let distance = passed + starts.max(0.0);
                if f64::from(distance) > REACH_M {
                    return found;
                }
                // A wider bend behind a sharper one asks for nothing more.
                if bend.radius < sharpest {
                    sharpest = bend.radius;
                    found.push(Beyond { distance, radius: bend.radius });
                }
            }
            passed += length;
            if f64::from(passed) > REACH_M {
                break;
            }
            at = next;
        }
        found
    }
}

/// A line on the plane with its length so far at each point.
struct Line {
    points: Vec<(f64, f64)>,
    along: Vec<f64>,
    /// Length at which the segment itself begins.
    own_start: f64,
}

impl Line {
    fn through(points: impl Iterator<Item = (f64, f64)>, lead: usize) -> Line {
        let mut line = Line { points: Vec::new(), along: Vec::new(), own_start: 0.0 };
        let mut length = 0.0;
        for (i, point) in points.enumerate() {
            if let Some(last) = line.points.last() {
                let step = distance(*last, point);
                // Points drawn twice make no corner.
                if step < 0.05 {
                    if i == lead {
                        line.own_start = length;
                    }
                    continue;
                }
                length += step;
            }
            if i == lead {
                line.own_start = length;
            }
            line.points.push(point);
            line.along.push(length);
        }
        line
    }

    fn at(&self, length: f64) -> (f64, f64) {
        let next = self.along.partition_point(|l| *l < length).clamp(1, self.along.len() - 1);
        let (a, b) = (self.points[next - 1], self.points[next]);
        let share = (length - self.along[next - 1]) / (self.along[next] - self.along[next - 1]);
        (a.0 + (b.0 - a.0) * share, a.1 + (b.1 - a.1) * share)
    }

    /// Radius at an inner point, and how far to each side of it that radius holds.
    fn bend(&self, vertex: usize) -> Option<(f64, f64, f64)> {
        let here = self.along[vertex];
        let (before, after) = (here - self.along[vertex - 1], self.along[vertex + 1] - here);
        let room = here.min(self.along[self.along.len() - 1] - here);
        let mut leg = before.min(after).max(LEAST_LEG_M).min(room);
        if leg < TOO_SHORT_M {
            return None;
        }
        let mut radius = circle(self.at(here - leg), self.points[vertex], self.at(here + leg));
        if leg > LEAST_LEG_M {
            // Both legs are straight here: the chord of length leg turns by twice the angle whose
            // sine is leg/2R, and its arc leaves it by leg²/8R, which is leg · sine / 4.
            let sine = leg / (2.0 * radius);
            if leg * sine / 4.0 > GREATEST_SAG_M {
                leg = (4.0 * GREATEST_SAG_M / sine).max(LEAST_LEG_M);
                radius = leg / (2.0 * sine);
            }
        }
        Some((radius, leg.min(before) / 2.0, leg.min(after) / 2.0))
    }
}

fn distance(a: (f64, f64), b: (f64, f64)) -> f64 {
    (b.0 - a.0).hypot(b.1 - a.1)
}

/// Radius of the circle through three points; infinite for a straight line, half the way to the
/// middle one for a line that goes back on itself.
fn circle(a: (f64, f64), b: (f64, f64), c: (f64, f64)) -> f64 {
    let (before, after, across) = (distance(a, b), distance(b, c), distance(a, c));
    let double_area = ((b.0 - a.0) * (c.1 - b.1) - (b.1 - a.1) * (c.0 - b.0)).abs();
    if double_area > 1e-6 * before * after {
        return before * after * across / (2.0 * double_area);
    }
    let goes_on = (b.0 - a.0) * (c.0 - b.0) + (b.1 - a.1) * (c.1 - b.1) >= 0.0;
    if goes_on { f64::INFINITY } else { (before + after) / 4.0 }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn bend(points: &[(f64, f64)], vertex: usize) -> Option<(f64, f64, f64)> {
        Line::through(points.iter().copied(), 0).bend(vertex)
    }

    fn on_circle(radius: f64, step: f64) -> Vec<(f64, f64)> {
        (0..9).map(|i| f64::from(i) * step / radius).map(|a| (radius * a.sin(), radius * a.cos())).collect()
    }

    #[test]
    fn a_circle_drawn_densely_or_sparsely_keeps_its_radius() {
        for (radius, step) in [(100.0, 4.0), (100.0, 25.0), (100.0, 45.0), (300.0, 80.0), (30.0, 5.0)] {
            let (got, ..) = bend(&on_circle(radius, step), 4).unwrap();
            assert!((got / radius - 1.0).abs() < 0.02, "{radius} m in steps of {step} m: {got}");
        }
    }

    /// A right angle between two straights: legs of 20 m, R = 20 / (2 sin 45°) = 14.1 m.
    #[test]
    fn a_corner_is_sharp_however_long_the_straights() {
        for straight in [20.0, 50.0, 1_000.0] {
            let (radius, back, on) = bend(&[(0.0, 0.0), (straight, 0.0), (straight, straight)], 1).unwrap();
            assert!((radius - 14.142).abs() < 0.01, "{straight}: {radius}");
            assert!((back - 10.0).abs() < 1e-9 && (on - 10.0).abs() < 1e-9);
        }
    }

    /// A point drawn 1 m beside a straight line: R = 20²/2 = 200 m, not a corner.
    #[test]
    fn a_shaky_hand_makes_no_corner() {
        let (radius, ..) =
            bend(&[(0.0, 0.0), (50.0, 0.0), (53.0, 1.0), (56.0, 0.0), (100.0, 0.0)], 2).unwrap();
        assert!(radius > 150.0, "{radius}");
        assert_eq!(bend(&[(0.0, 0.0), (50.0, 0.0), (100.0, 0.0)], 1).unwrap().0, f64::INFINITY);
        assert_eq!(bend(&[(0.0, 0.0), (50.0, 0.0), (0.0, 0.0)], 1).unwrap().0, 10.0);
        assert_eq!(bend(&[(0.0, 0.0), (5.0, 0.0), (5.0, 100.0)], 1), None);
    }
}
