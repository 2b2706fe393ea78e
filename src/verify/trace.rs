//! Finds the road under a line: which arcs, in which order, from where on the first to where on
//! the last. A line can lie on more than one row of arcs (it may end at a junction, of which any
//! arm could be meant), so all rows are returned.

use crate::place::Place;
use crate::roads::network::{Arc, Network};
use crate::verify::drive::{Ground, OnRoad};

/// A row of arcs under a line.
#[derive(Clone, Debug, PartialEq)]
pub struct Trace {
    pub arcs: Vec<Arc>,
    /// Fraction of the first arc at which the line starts, in the direction of travel.
    pub from: f64,
    /// Fraction of the last arc at which it ends.
    pub to: f64,
}

impl Trace {
    pub fn start(&self) -> Option<OnRoad> {
        on_road(*self.arcs.first()?, self.from)
    }
    pub fn end(&self) -> Option<OnRoad> {
        on_road(*self.arcs.last()?, self.to)
    }
    /// Stretches driven: arc, and the fractions of it where the stretch begins and ends.
    pub fn stretches(&self) -> impl Iterator<Item = (Arc, f64, f64)> + '_ {
        let last = self.arcs.len().saturating_sub(1);
        self.arcs.iter().enumerate().map(move |(i, &arc)| {
            (arc, if i == 0 { self.from } else { 0.0 }, if i == last { self.to } else { 1.0 })
        })
    }
}

fn on_road(arc: Arc, along: f64) -> Option<OnRoad> {
    Some(OnRoad { segment: arc.segment(), fraction: if arc.forward() { along } else { 1.0 - along } })
}

/// How far the end of a line, rounded to seven decimals, may lie off its road: two roundings of
/// half a unit in two directions are under 2 cm.
const OFF_ROAD_M: f64 = 0.03;
/// More rows than this are not followed: only a made-up line has so many.
const MOST_ROWS: usize = 64;

/// Distance in metres from a place to the straight piece a–b, and how far along the piece, 0 to 1.
fn off_piece(place: Place, a: Place, b: Place) -> (f64, f64) {
    let ((ax, ay), (bx, by)) = (a.offset_from(place), b.offset_from(place));
    let (dx, dy) = (bx - ax, by - ay);
    let square = dx * dx + dy * dy;
    let t = if square > 0.0 { (-(ax * dx + ay * dy) / square).clamp(0.0, 1.0) } else { 0.0 };
    ((ax + t * dx).hypot(ay + t * dy), t)
}

/// The point of a segment nearest to a place, and its distance in metres.
pub fn nearest_on(network: &Network, segment: usize, place: Place) -> Option<(f64, OnRoad)> {
    let points = network.points(segment);
    let pieces: Vec<f64> = points.windows(2).map(|p| p[0].distance(p[1]).0).collect();
    let total: f64 = pieces.iter().sum();
    let mut before = 0.0;
    let mut best: Option<(f64, OnRoad)> = None;
    for (pair, length) in points.windows(2).zip(&pieces) {
        let (distance, t) = off_piece(place, pair[0], pair[1]);
        if best.is_none_or(|(nearest, _)| distance < nearest) {
            let fraction = if total > 0.0 { (before + t * length) / total } else { 0.0 };
            best = Some((distance, OnRoad { segment, fraction }));
        }
        before += length;
    }
    best
}

/// An arc's points with the length from its start to each.
struct Shape {
    points: Vec<Place>,
    upto: Vec<f64>,
}

impl Shape {
    fn of(network: &Network, arc: Arc) -> Shape {
        let points: Vec<Place> = network.arc_points(arc).collect();
        let mut upto = vec![0.0];
        for pair in points.windows(2) {
            upto.push(upto[upto.len() - 1] + pair[0].distance(pair[1]).0);
        }
        Shape { points, upto }
    }
    fn fraction(&self, piece: usize, place: Place) -> f64 {
        let total = self.upto[self.upto.len() - 1];
        if total <= 0.0 {
            return 0.0;
        }
        let (_, t) = off_piece(place, self.points[piece], self.points[piece + 1]);
        let along = self.upto[piece] + t * (self.upto[piece + 1] - self.upto[piece]);
        (along / total).clamp(0.0, 1.0)
    }
    /// Whether the place lies on a piece, ahead of (or at) where the drive is on it.
    fn carries(&self, piece: usize, from: Place, place: Place) -> bool {
        let (a, b) = (self.points[piece], self.points[piece + 1]);
        let (distance, t) = off_piece(place, a, b);
        let (_, t0) = off_piece(from, a, b);
        distance <= OFF_ROAD_M && t >= t0
    }
}

/// A drive half followed.
struct Row {
    arcs: Vec<Arc>,
    from: f64,
    piece: usize,
    /// Points of the line reached.
    reached: usize,
}

/// Every row of arcs that lies under the line.
pub fn traces(ground: &Ground, line: &[Place]) -> Vec<Trace> {
    let network = ground.network();
    let mut line = line.to_vec();
    line.dedup();
    let mut found: Vec<Trace> = Vec::new();
    let Some(&first) = line.first() else { return found };
    let mut open = starts(network, first);
    while let Some(row) = open.pop() {
        if found.len() >= MOST_ROWS {
            break;
        }
        let Some(&arc) = row.arcs.last() else { continue };
        // More arcs than points: it goes round on segments without length.
        if row.arcs.len() > line.len() * 2 + 4 {
            continue;
        }
        let shape = Shape::of(network, arc);
        let mut piece = row.piece;
        let mut reached = row.reached;
        loop {
            let at = line[reached - 1];
            if reached == line.len() {
                let to = shape.fraction(piece.min(shape.points.len() - 2), at);
                let trace = Trace { arcs: row.arcs.clone(), from: row.from, to };
                if !found.contains(&trace) {
                    found.push(trace);
                }
            }
            let next = shape.points[piece + 1];
            if at != next {
                if line.get(reached) == Some(&next) {
                    reached += 1;
                } else {
                    // The line ends on this piece, or leaves the road.
                    if reached + 1 == line.len() && shape.carries(piece, at, line[reached]) {
                        let to = shape.fraction(piece, line[reached]);
                        found.push(Trace { arcs: row.arcs.clone(), from: row.from, to });
                    }
                    break;
                }
            }
            if piece + 2 < shape.points.len() {
                piece += 1;
                continue;
            }
            // At the junction: every arm is tried, the line tells which was meant.
            let ended = reached == line.len();
            if ended {
                let trace = Trace { arcs: row.arcs.clone(), from: row.from, to: 1.0 };
                if !found.contains(&trace) {
                    found.push(trace);
                }
            }
            for &onward in ground.onward(arc) {
                let mut arcs = row.arcs.clone();
                arcs.push(onward);
                if ended {
                    found.push(Trace { arcs, from: row.from, to: 0.0 });
                } else if leads(network, onward, &line, reached) {
                    open.push(Row { arcs, from: row.from, piece: 0, reached });
                }
            }
            break;
        }
    }
    found
}

/// Whether the next point of the line can lie on the first straight piece of an arc.
fn leads(network: &Network, arc: Arc, line: &[Place], reached: usize) -> bool {
    let mut points = network.arc_points(arc);
    let (Some(a), Some(b)) = (points.next(), points.find(|p| *p != line[reached - 1])) else { return true };
    let next = line[reached];
    next == b || (reached + 1 == line.len() && off_piece(next, a, b).0 <= OFF_ROAD_M)
}

/// Every arc the line can start on.
fn starts(network: &Network, first: Place) -> Vec<Row> {
    let mut rows = Vec::new();
    for segment in 0..network.segments.len() {
        let points = network.points(segment);
        // Cheap before exact: 10 units of 10⁻⁷ degrees are more than the 3 cm allowed.
        let near = |a: Place, b: Place| {
            let within = |x: i32, p: i32, q: i32| p.min(q) - 10 <= x && x <= p.max(q) + 10;
            within(first.lon_e7(), a.lon_e7(), b.lon_e7()) && within(first.lat_e7(), a.lat_e7(), b.lat_e7())
        };
        if !points.windows(2).any(|p| near(p[0], p[1])) {
            continue;
        }
        for arc in [Arc::new(segment, true), Arc::new(segment, false)] {
            let shape = Shape::of(network, arc);
            for piece in 0..shape.points.len() - 1 {
                let (a, b) = (shape.points[piece], shape.points[piece + 1]);
                let (distance, _) = off_piece(first, a, b);
                // A point shared by two pieces starts on the later one, once.
                let inner_end = first == b && piece + 2 < shape.points.len();
                if distance <= OFF_ROAD_M && !inner_end {
                    let from = shape.fraction(piece, first);
                    rows.push(Row { arcs: vec![arc], from, piece, reached: 1 });
                }
            }
        }
    }
    rows
}
