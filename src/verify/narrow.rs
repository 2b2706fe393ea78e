//! Narrow road that trucks drive both ways, found anew: metre by metre along each leg.
//!
//! Every narrow arc is cut into short cells. A cell that some leg drives one way and some leg the
//! other is contested. A row of contested cells that a leg drives one after the other, with nothing in
//! between that lets trucks pass, is a lane; two legs are in the same lane when their rows have the same
//! two ends, and meet in it when they enter at different ends.

use crate::roads::network::Arc;
use crate::roads::tags::TurningPlace;
use crate::routing::speed::Room;
use crate::verify::crew::Crew;
use crate::verify::drive::{Garage, Ground};
use crate::verify::loops::DrivenLoop;
use crate::verify::trace::Trace;
use crate::verify::vehicle::Vehicle;
use std::collections::{HashMap, HashSet};

/// One way through a lane.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Passage {
    /// Numbered over all loops of the option.
    pub lane: usize,
    pub forward: bool,
    /// Seconds from the start of the leg to the mouth, and through.
    pub after_s: f64,
    pub take_s: f64,
}

/// Cells of about a quarter of a metre: what a truck drives in some hundredths of a second.
const CELLS_PER_M: f64 = 4.0;

/// Segment and cell, counted in the way's direction.
type Cell = (usize, u64);

fn cells(ground: &Ground, segment: usize) -> u64 {
    (f64::from(ground.network().segments[segment].length_m) * CELLS_PER_M).ceil().max(1.0) as u64
}

/// A contested row of cells on a leg.
struct Row {
    from: Cell,
    to: Cell,
    forward: bool,
    /// Index of the arc and fraction of it where the row begins, and where it ends.
    enters: (usize, f64),
    leaves: (usize, f64),
}

/// All lanes of an option, to be asked for the passages of each truck.
pub struct Lanes<'d> {
    /// By loop: loaded, empty.
    legs: Vec<[(&'d Trace, Vec<Row>); 2]>,
    number: HashMap<(Cell, Cell), usize>,
}

/// One cell of a leg as it is driven.
struct Step {
    cell: Cell,
    forward: bool,
    arc: usize,
    /// Fractions of the arc in the direction of travel.
    from: f64,
    to: f64,
    /// Nobody can pass between the cell before and this one.
    follows: bool,
}

/// Where trucks stand: before which cell of a segment, and at which junctions.
#[derive(Default)]
struct Stands {
    cuts: HashSet<Cell>,
    junctions: HashSet<usize>,
}

fn steps(ground: &Ground, trace: &Trace, stands: &Stands) -> Vec<Step> {
    let network = ground.network();
    let mut out: Vec<Step> = Vec::new();
    let mut before: Option<Arc> = None;
    for (i, (arc, from, to)) in trace.stretches().enumerate() {
        let segment = arc.segment();
        let count = cells(ground, segment);
        let tail = network.tail(arc);
        let passing = ground.leaving(tail) != 2
            || stands.junctions.contains(&tail)
            || network.mark(tail).is_some_and(|mark| mark.turning != TurningPlace::None);
        let mut follows = before.is_some_and(|last| last.reversed() != arc) && !passing;
        for k in 0..count {
            let (low, high) = (k as f64 / count as f64, (k + 1) as f64 / count as f64);
            let middle = (low + high) / 2.0;
            if middle < from || middle > to {
                continue;
            }
            let own = if arc.forward() { k } else { count - 1 - k };
            // The edge between this cell and the one driven before it, named by its upper side.
            let edge = if arc.forward() { own } else { own + 1 };
            if k > 0 {
                follows &= !stands.cuts.contains(&(segment, edge));
            }
            out.push(Step {
                cell: (segment, own),
                forward: arc.forward(),
                arc: i,
                from: low,
                to: high,
                follows,
            });
            follows = true;
        }
        before = Some(arc);
    }
    out
}

impl<'d> Lanes<'d> {
    pub fn of(ground: &Ground, drives: &'d [DrivenLoop]) -> Lanes<'d> {
        let traces: Vec<&Trace> = drives.iter().flat_map(|d| [&d.loaded, &d.empty]).collect();
        let mut stands = Stands::default();
        for end in traces.iter().flat_map(|t| [t.start(), t.end()]).flatten() {
            let count = cells(ground, end.segment);
            let arc = Arc::new(end.segment, true);
            match (end.fraction * count as f64).round() as u64 {
                0 => stands.junctions.insert(ground.network().tail(arc)),
                edge if edge >= count => stands.junctions.insert(ground.network().head(arc)),
                edge => stands.cuts.insert((end.segment, edge)),
            };
        }
        let driven: Vec<Vec<Step>> = traces.iter().map(|t| steps(ground, t, &stands)).collect();
        let table = &ground.roads.table;
        let narrow =
            |segment: usize| table.room(&ground.network().way(Arc::new(segment, true)).tags) == Room::Narrow;
        let mut ways: HashMap<Cell, [bool; 2]> = HashMap::new();
        for step in driven.iter().flatten().filter(|step| narrow(step.cell.0)) {
            ways.entry(step.cell).or_default()[usize::from(step.forward)] = true;
        }
        let mut number = HashMap::new();
        let mut rows = driven.iter().map(|leg| {
            let mut rows: Vec<Row> = Vec::new();
            let mut open = false;
            for step in leg {
                if ways.get(&step.cell) != Some(&[true; 2]) {
                    open = false;
                    continue;
                }
                match rows.last_mut() {
                    Some(row) if open && step.follows => {
                        (row.to, row.leaves) = (step.cell, (step.arc, step.to));
                    }
                    _ => rows.push(Row {
                        from: step.cell,
                        to: step.cell,
                        forward: step.forward,
                        enters: (step.arc, step.from),
                        leaves: (step.arc, step.to),
                    }),
                }
                open = true;
            }
            for row in &mut rows {
                if row.from != row.to {
                    row.forward = row.from < row.to;
                }
                let next = number.len();
                number.entry(row.ends()).or_insert(next);
            }
            rows
        });
        let mut legs = Vec::new();
        for drive in drives {
            if let (Some(loaded), Some(empty)) = (rows.next(), rows.next()) {
                legs.push([(&drive.loaded, loaded), (&drive.empty, empty)]);
            }
        }
        drop(rows);
        Lanes { legs, number }
    }

    pub fn count(&self) -> usize {
        self.number.len()
    }

    /// A vehicle's passages on one leg of a loop; the leg must be one it can drive.
    fn passages(
        &self,
        garage: &Garage,
        vehicle: &Vehicle,
        (trace, rows): &(&Trace, Vec<Row>),
    ) -> Option<Vec<Passage>> {
        let starts = vehicle.starts(&garage.ground, trace)?;
        let at_s = |(arc, fraction): (usize, f64)| {
            let ms = starts.get(arc)? + vehicle.part(*trace.arcs.get(arc)?, fraction)? as i64;
            Some(ms as f64 / 1000.0)
        };
        rows.iter()
            .map(|row| {
                let (enters_s, leaves_s) = (at_s(row.enters)?.max(0.0), at_s(row.leaves)?);
                Some(Passage {
                    lane: *self.number.get(&row.ends())?,
                    forward: row.forward,
                    after_s: enters_s,
                    take_s: (leaves_s - enters_s).max(0.0),
                })
            })
            .collect()
    }

    /// Loaded and empty passages of one truck on the n-th of the loops.
    pub fn of_truck(
        &self,
        garage: &Garage,
        nth: usize,
        full: &Vehicle,
        empty: &Vehicle,
    ) -> Option<[Vec<Passage>; 2]> {
        let [out, back] = self.legs.get(nth)?;
        Some([self.passages(garage, full, out)?, self.passages(garage, empty, back)?])
    }
}

impl Row {
    fn ends(&self) -> (Cell, Cell) {
        (self.from.min(self.to), self.from.max(self.to))
    }
}

/// What each truck of a crew waits per lap on the average, at all its lanes: an oncoming truck is in a
/// lane for a share t/C of the time, and has t/2 left then. Cycles grow by the waits until both agree.
pub fn waits_s(crew: &Crew) -> Vec<f64> {
    let plain: Vec<f64> = crew.trucks.iter().map(|t| t.cycle_s(&crew.sources)).collect();
    let mut waits = vec![0.0; plain.len()];
    for _ in 0..100 {
        let cycles: Vec<f64> = plain.iter().zip(&waits).map(|(plain, wait)| plain + wait).collect();
        for (i, truck) in crew.trucks.iter().enumerate() {
            waits[i] = 0.0;
            for own in truck.passages() {
                for (j, other) in crew.trucks.iter().enumerate() {
                    let oncoming =
                        other.passages().filter(|p| j != i && p.lane == own.lane && p.forward != own.forward);
                    waits[i] += oncoming.map(|p| p.take_s * p.take_s / 2.0 / cycles[j]).sum::<f64>();
                }
            }
        }
    }
    waits
}
