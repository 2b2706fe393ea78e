//! Pieces of an outline and how they go on: from a row of the lattice to the next.

use super::{Ring, Run, Spot};

/// One end of a piece, in wait for the piece that goes on there.
#[derive(Clone, Copy)]
struct Loose {
    spot: Spot,
    piece: u32,
    starts: bool,
}

/// Pieces of outline, the inside on the left, each from a middle to where the next begins. Squares are gone through
/// row by row, so that what a piece goes on with is the last but few that came: nothing is looked up.
#[derive(Default)]
struct Pieces {
    from: Vec<Spot>,
    /// `NONE` until it is known.
    next: Vec<u32>,
    /// On the row of nodes below the squares, from west to east, and how many of them have been met.
    below: Vec<Loose>,
    met: usize,
    /// On the row above.
    above: Vec<Loose>,
    /// Between the rows.
    beside: Vec<Loose>,
}

const NONE: u32 = u32::MAX;

impl Pieces {
    /// In the squares above a row of nodes, whose middles have this height.
    fn put(&mut self, row_y: i32, from: Spot, to: Spot) {
        let piece = self.from.len() as u32;
        self.from.push(from);
        self.next.push(NONE);
        for (spot, starts) in [(from, true), (to, false)] {
            let here = Loose { spot, piece, starts };
            let other = if spot.1 == row_y {
                self.met += 1;
                self.below.get(self.met - 1).copied()
            } else if spot.1 == row_y + 2 {
                self.above.push(here);
                None
            } else {
                let known = self.beside.iter().position(|loose| loose.spot == spot);
                known.map(|at| self.beside.swap_remove(at)).or_else(|| {
                    self.beside.push(here);
                    None
                })
            };
            if let Some(other) = other {
                debug_assert!(other.spot == spot && other.starts != starts);
                let (before, after) = if starts { (other.piece, piece) } else { (piece, other.piece) };
                self.next[before as usize] = after;
            }
        }
    }

    /// On to the next row.
    fn rise(&mut self) {
        debug_assert!(self.met == self.below.len() && self.beside.is_empty());
        std::mem::swap(&mut self.below, &mut self.above);
        self.above.clear();
        self.met = 0;
    }

    /// The squares between two rows of nodes, of which the lower is `row`.
    fn between(&mut self, row: i32, below: &[Run], above: &[Run]) {
        let y = 2 * row;
        let mut ends: Vec<i32> = below.iter().chain(above).flat_map(|(from, to)| [*from, *to]).collect();
        ends.sort_unstable();
        ends.dedup();
        let (mut below_runs, mut above_runs) = (below.iter().peekable(), above.iter().peekable());
        let holds = |runs: &mut std::iter::Peekable<std::slice::Iter<Run>>, column: i32| {
            while runs.next_if(|(_, to)| *to <= column).is_some() {}
            runs.peek().is_some_and(|(from, _)| *from <= column)
        };
        // In or out west of the square: below and above.
        let mut west = (false, false);
        let mut since = 0;
        for &column in &ends {
            let [left, right] = [2 * (column - 1), 2 * column];
            // Along the row between the last such square and this one.
            if west.0 != west.1 && since < left {
                let (a, b) = ((since, y + 1), (left, y + 1));
                if west.1 { self.put(y, a, b) } else { self.put(y, b, a) }
            }
            let east = (holds(&mut below_runs, column), holds(&mut above_runs, column));
            let (bottom, top) = ((left + 1, y), (left + 1, y + 2));
            let (west_side, east_side) = ((left, y + 1), (right, y + 1));
            if west.0 != west.1 && west.0 == east.1 && west.1 == east.0 {
                // Two corners across are in: they hang together.
                let [a, b] = if west.0 {
                    [(bottom, east_side), (top, west_side)]
                } else {
                    [(west_side, bottom), (east_side, top)]
                };
                self.put(y, a.0, a.1);
                self.put(y, b.0, b.1);
            } else {
                // Sides that the outline crosses, and whether it comes in by them.
                let sides = [
                    (bottom, west.0 != east.0, west.0),
                    (east_side, east.0 != east.1, east.0),
                    (top, west.1 != east.1, east.1),
                    (west_side, west.0 != west.1, west.1),
                ];
                let by = |inward: bool| sides.iter().find(|(_, crossed, into)| *crossed && *into == inward);
                if let (Some((from, ..)), Some((to, ..))) = (by(true), by(false)) {
                    self.put(y, *from, *to);
                }
            }
            (west, since) = (east, right);
        }
        self.rise();
    }
}

/// Closed curves around what lies in runs, row by row from the first on, without corners that lie on a straight line.
pub fn rings(first: i32, runs: Vec<Vec<Run>>) -> Vec<Ring> {
    let mut pieces = Pieces::default();
    // The rows at both ends are empty.
    for (row, pair) in (first..).zip(runs.windows(2)) {
        pieces.between(row, &pair[0], &pair[1]);
    }
    drop(runs);
    let Pieces { from, mut next, .. } = pieces;
    let mut rings = Vec::new();
    for start in 0..from.len() {
        let mut ring: Ring = Vec::new();
        let mut here = start;
        while next[here] != NONE {
            ring.push(from[here]);
            here = std::mem::replace(&mut next[here], NONE) as usize;
        }
        let count = ring.len();
        let turns = |i: usize| {
            let ((ax, ay), (bx, by), (cx, cy)) =
                (ring[(i + count - 1) % count], ring[i], ring[(i + 1) % count]);
            let cross = i64::from(bx - ax) * i64::from(cy - by) - i64::from(by - ay) * i64::from(cx - bx);
            cross != 0
        };
        let corners: Ring = (0..count).filter(|i| turns(*i)).map(|i| ring[i]).collect();
        if !corners.is_empty() {
            rings.push(corners);
        }
    }
    rings
}
