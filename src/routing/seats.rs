//! Where a search keeps each state. The numbers of arcs follow the file; seats follow a curve that
//! fills the plane (Hilbert 1891), so that what lies near on the road lies near in memory, and the
//! arcs leaving one junction side by side.

use crate::roads::network::{Arc, Network};
use crate::routing::topology::Topology;

#[derive(Debug)]
pub struct Seats {
    seat_of: Vec<u32>,
    state_in: Vec<Arc>,
}

impl Seats {
    pub fn of(network: &Network, topology: &Topology) -> Seats {
        let mut junctions: Vec<(u64, u32)> =
            network.junctions.iter().zip(0..).map(|(junction, i)| (along_curve(junction.place), i)).collect();
        junctions.sort_unstable();
        let mut rank = vec![0u32; junctions.len()];
        for ((_, junction), place) in junctions.into_iter().zip(0..) {
            rank[junction as usize] = place;
        }
        let states = (0..topology.state_count() as u32).map(Arc);
        let mut keyed: Vec<(u32, Arc)> =
            states.map(|state| (rank[network.tail(topology.arc(state))], state)).collect();
        keyed.sort_unstable();
        let mut seat_of = vec![0; keyed.len()];
        for ((_, state), seat) in keyed.iter().zip(0..) {
            seat_of[state.index()] = seat;
        }
        // A list of its own: made in the place of the other it would keep twice the memory.
        let state_in = keyed.iter().map(|(_, state)| *state).collect();
        Seats { seat_of, state_in }
    }

    pub fn len(&self) -> usize {
        self.state_in.len()
    }
    pub fn is_empty(&self) -> bool {
        self.state_in.is_empty()
    }
    pub fn seat_of(&self, state: Arc) -> u32 {
        self.seat_of[state.index()]
    }
    /// Cannot panic, so that a search without a preference need not look.
    #[inline]
    pub fn state_in(&self, seat: u32) -> Arc {
        self.state_in.get(seat as usize).copied().unwrap_or(Arc(seat))
    }
    /// States in the order of seats.
    pub fn states(&self) -> impl Iterator<Item = Arc> + '_ {
        self.state_in.iter().copied()
    }
}

/// How far along Hilbert's curve over the square of all coordinates a place lies.
fn along_curve(place: crate::place::Place) -> u64 {
    // The sign bit turned: west before east, south before north.
    let (mut x, mut y) = (place.lon_e7() as u32 ^ 1 << 31, place.lat_e7() as u32 ^ 1 << 31);
    let mut along = 0;
    for bit in (0..32).rev() {
        let (right, up) = (x >> bit & 1, y >> bit & 1);
        along = along << 2 | u64::from((3 * right) ^ up);
        if up == 0 {
            if right == 1 {
                (x, y) = (!x, !y);
            }
            (x, y) = (y, x);
        }
    }
    along
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::place::Place;

    /// What makes it Hilbert's: each of 64 × 64 cells once, and each beside the one before.
    #[test]
    fn the_curve_passes_from_each_cell_to_the_next() {
        let side = 1 << 26;
        let cells = (0..64).flat_map(|x| (0..64).map(move |y| (x - 32, y - 32)));
        let mut cells: Vec<(u64, i32, i32)> =
            cells.map(|(x, y)| (along_curve(Place::from_e7(x * side, y * side)) >> 52, x, y)).collect();
        cells.sort_unstable();
        for pair in cells.windows(2) {
            let [(before, x, y), (after, next_x, next_y)] = [pair[0], pair[1]];
            assert_eq!((before + 1, (x - next_x).abs() + (y - next_y).abs()), (after, 1));
        }
    }
}
