//! How long one vehicle takes over an arc: the way's speed, less what bends and grades take from it.
//!
//! An arc is cut into cells, each with the most that may be driven there. The truck brakes and speeds
//! up comfortably between them, also for and from bends that lie beyond the arc's ends.

use crate::roads::network::{Arc, Network};
use crate::routing::shape::{Beyond, Shape};
use crate::routing::speed::{SetBy, SpeedTable};
use crate::routing::topology::millis;
use crate::units::MetresPerSecond;
use crate::vehicle::Body;
use smallvec::SmallVec;

/// A part of an arc, in the direction of travel.
#[derive(Clone, Copy, Debug)]
struct Cell {
    length: f64,
    cap: f64,
    /// What sets the cap where it is not the way's own speed.
    by: Option<SetBy>,
}

/// Cells of an arc, most often few.
type Cells = SmallVec<[Cell; FEW]>;
const FEW: usize = 16;

/// Works out the times of one vehicle's arcs.
pub struct Pace<'a> {
    network: &'a Network,
    shape: &'a Shape,
    table: &'a SpeedTable,
    body: &'a Body,
    lateral: f64,
    brake: f64,
    accelerate: f64,
}

impl<'a> Pace<'a> {
    pub fn new(network: &'a Network, shape: &'a Shape, table: &'a SpeedTable, body: &'a Body) -> Pace<'a> {
        // Without curves the truck changes its speed at once.
        let (lateral, brake, accelerate) = match &table.curve {
            Some(curve) => (curve.lateral(body.load), curve.brake, curve.accelerate),
            None => (f64::INFINITY, f64::INFINITY, f64::INFINITY),
        };
        Pace { network, shape, table, body, lateral, brake, accelerate }
    }

    /// The way's own speed in the arc's direction, apart from curves and grades.
    pub fn own(&self, arc: Arc) -> MetresPerSecond {
        self.table.speed(&self.network.way(arc).tags, arc.forward(), self.body.load)
    }

    /// Whether nothing but the way's own speed counts on this arc, for any vehicle.
    pub fn is_plain(&self, arc: Arc) -> bool {
        let shape = self.shape;
        shape.bends(arc.segment()).is_empty()
            && shape.beyond(arc).is_empty()
            && shape.beyond(arc.reversed()).is_empty()
            && !self.rests_on_body(arc)
    }

    /// Whether more of the vehicle counts than its load.
    pub fn rests_on_body(&self, arc: Arc) -> bool {
        self.network.way(arc).tags.incline.is_some() || !self.shape.grades(arc.segment()).is_empty()
    }

    /// Seconds over the whole arc at the way's own speed `own`.
    pub fn seconds(&self, arc: Arc, own: MetresPerSecond) -> f64 {
        let length = self.network.length(arc).0;
        if self.is_plain(arc) || !self.is_slowed(arc, own.0) {
            return length / own.0;
        }
        let mut sum = 0.0;
        self.drive(arc, own, |_, seconds| sum += seconds);
        sum
    }

    /// The same in milliseconds as the graph counts them: driving is never for nothing.
    pub fn ms(&self, arc: Arc, own: MetresPerSecond) -> u32 {
        millis(self.seconds(arc, own)).max(1)
    }

    /// Seconds over the whole arc by what sets the speed: braking for a bend and speeding up after it count as curve.
    pub fn shares(&self, arc: Arc) -> Vec<(SetBy, f64)> {
        let tags = &self.network.way(arc).tags;
        let (own, own_by) = self.table.told_speed(tags, arc.forward(), self.body.load);
        let mut shares: Vec<(SetBy, f64)> = Vec::new();
        let mut add = |by: SetBy, seconds: f64| {
            if seconds > 1e-9 {
                match shares.iter_mut().find(|(known, _)| *known == by) {
                    Some((_, sum)) => *sum += seconds,
                    None => shares.push((by, seconds)),
                }
            }
        };
        self.drive(arc, own, |cell, seconds| {
            let steady = cell.length / cell.cap;
            add(cell.by.unwrap_or(own_by), steady);
            add(SetBy::Curve, seconds - steady);
        });
        shares
    }

    /// Whether anything binds at this speed: most bends do not, and then nothing need be cut.
    fn is_slowed(&self, arc: Arc, own: f64) -> bool {
        let square = own * own;
        let bends = || self.shape.bends(arc.segment()).iter().map(|b| b.radius);
        let beyond =
            || [arc, arc.reversed()].into_iter().flat_map(|a| self.shape.beyond(a)).map(|b| b.radius);
        self.rests_on_body(arc)
            || self.table.curve.is_some()
                && bends().chain(beyond()).any(|radius| self.lateral * f64::from(radius) < square)
    }

    fn drive(&self, arc: Arc, own: MetresPerSecond, mut told: impl FnMut(&Cell, f64)) {
        let cells = self.cells(arc, own.0);
        let (Some(first), Some(last)) = (cells.first(), cells.last()) else {
            return;
        };
        // Speeds at the cells' ends: no more than both neighbours allow ...
        let mut speeds: SmallVec<[f64; FEW + 1]> = SmallVec::with_capacity(cells.len() + 1);
        let entering = self.within(self.shape.beyond(arc.reversed()), self.accelerate);
        let leaving = self.within(self.shape.beyond(arc), self.brake);
        speeds.push(first.cap.min(entering));
        speeds.extend(cells.windows(2).map(|pair| pair[0].cap.min(pair[1].cap)));
        speeds.push(last.cap.min(leaving));
        // ... nor than can be reached from the one before and braked down to the one after.
        let reach = |speed: f64, by: f64, over: f64| (speed * speed + 2.0 * by * over).sqrt();
        for (i, cell) in cells.iter().enumerate() {
            speeds[i + 1] = speeds[i + 1].min(reach(speeds[i], self.accelerate, cell.length));
        }
        for (i, cell) in cells.iter().enumerate().rev() {
            speeds[i] = speeds[i].min(reach(speeds[i + 1], self.brake, cell.length));
        }
        for (i, cell) in cells.iter().enumerate() {
            told(cell, crossing(cell, speeds[i], speeds[i + 1], self.accelerate, self.brake));
        }
    }

    /// The most that bends beyond an end allow at that end.
    fn within(&self, beyond: &[Beyond], change: f64) -> f64 {
        if self.table.curve.is_none() {
            return f64::INFINITY;
        }
        let square = |b: &Beyond| self.lateral * f64::from(b.radius) + 2.0 * change * f64::from(b.distance);
        beyond.iter().map(square).fold(f64::INFINITY, f64::min).sqrt()
    }

    fn cells(&self, arc: Arc, own: f64) -> Cells {
        let segment = arc.segment();
        let length = self.network.length(arc).0;
        let bends = if self.table.curve.is_some() { self.shape.bends(segment) } else { &[] };
        let tagged = self.network.way(arc).tags.incline;
        let measured = self.shape.grades(segment);
        // What the map says of the road itself stands before what a grid says of the ground.
        let grades = if tagged.is_some() { tagged.as_slice() } else { measured };
        let pieces = grades.len().max(1);
        let mut cells = Cells::with_capacity(bends.len() * 2 + pieces);
        let mut next = 0;
        for piece in 0..pieces {
            let mut at = length * piece as f64 / pieces as f64;
            let end = length * (piece + 1) as f64 / pieces as f64;
            let slope = grades.get(piece).and_then(|grade| self.on_grade(arc, *grade));
            let (cap, by) = match slope {
                Some(slope) if slope < own => (slope, Some(SetBy::Grade)),
                _ => (own, None),
            };
            let mut put = |at: &mut f64, to: f64, cap: f64, by: Option<SetBy>| {
                if to - *at > 1e-6 {
                    cells.push(Cell { length: to - *at, cap, by });
                    *at = to;
                }
            };
            while let Some(bend) = bends.get(next).filter(|bend| f64::from(bend.from) < end) {
                let limit = (self.lateral * f64::from(bend.radius)).sqrt();
                if limit < cap {
                    put(&mut at, f64::from(bend.from), cap, by);
                    put(&mut at, f64::from(bend.to).min(end), limit, Some(SetBy::Curve));
                }
                if f64::from(bend.to) > end {
                    break;
                }
                next += 1;
            }
            put(&mut at, end, cap, by);
        }
        if cells.is_empty() {
            cells.push(Cell { length, cap: own, by: None });
        }
        if !arc.forward() {
            cells.reverse();
        }
        cells
    }

    fn on_grade(&self, arc: Arc, with_nodes: f32) -> Option<f64> {
        let percent = f64::from(if arc.forward() { with_nodes } else { -with_nodes });
        let grade = self.table.grade.as_ref().filter(|_| percent.is_finite())?;
        grade.cap(percent, self.body.mass, self.body.power_hp).map(|cap| cap.0)
    }
}

/// Seconds over a cell entered and left at given speeds: up to the cap, or to where speeding up and
/// braking meet.
fn crossing(cell: &Cell, from: f64, to: f64, accelerate: f64, brake: f64) -> f64 {
    let square = (2.0 * cell.length + from * from / accelerate + to * to / brake)
        / (accelerate.recip() + brake.recip());
    let peak = square.sqrt().min(cell.cap).max(from).max(to);
    let rise = (peak * peak - from * from) / (2.0 * accelerate);
    let fall = (peak * peak - to * to) / (2.0 * brake);
    (peak - from) / accelerate + (peak - to) / brake + (cell.length - rise - fall).max(0.0) / peak
}

#[cfg(test)]
mod tests {
    use super::*;

    fn over(length: f64, cap: f64, from: f64, to: f64) -> f64 {
        crossing(&Cell { length, cap, by: None }, from, to, 1.0, 1.0)
    }

    #[test]
    fn crossing_a_cell() {
        // Steadily: 100 m at 10 m/s.
        assert!((over(100.0, 10.0, 10.0, 10.0) - 10.0).abs() < 1e-12);
        // From 0 to 10 m/s at 1 m/s²: 50 m in 10 s; then 50 m at 10 m/s in 5 s.
        assert!((over(100.0, 10.0, 0.0, 10.0) - 15.0).abs() < 1e-12);
        // Up from rest and down to rest over 100 m: 50 m each, 10 s each.
        assert!((over(100.0, 99.0, 0.0, 0.0) - 20.0).abs() < 1e-12);
        // Speed changes at once where nothing is said of bends.
        let cell = Cell { length: 100.0, cap: 10.0, by: None };
        assert!((crossing(&cell, 5.0, 2.0, f64::INFINITY, f64::INFINITY) - 10.0).abs() < 1e-12);
    }
}
