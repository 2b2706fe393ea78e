//! Where a search's seats have their place in the tables of a block.

use super::legs::NONE;
use crate::plan::ground::Ground;
use crate::roads::network::Arc;

/// A slot of a state that is not an arc itself, but one with something to remember.
pub const FURTHER: u32 = 1 << 31;

/// Seats of a block.
pub struct Slots {
    /// By seat: twice the row of its segment and one more for the arc against it; none outside the block.
    pub of: Vec<u32>,
    /// Seats of the block.
    pub seats: Vec<u32>,
}

impl Slots {
    pub fn of(ground: &Ground, segments: &[usize]) -> Slots {
        let network = &ground.roads.network;
        let topology = &ground.roads.topology;
        let seats = topology.seats(network);
        let mut slots = Slots { of: vec![NONE; seats.len()], seats: Vec::with_capacity(segments.len() * 2) };
        for (row, segment) in (0..).zip(segments) {
            for forward in [true, false] {
                let seat = seats.seat_of(Arc::new(*segment, forward));
                slots.of[seat as usize] = 2 * row + u32::from(!forward);
                slots.seats.push(seat);
            }
        }
        for (state, arc) in topology.further() {
            let slot = slots.of[seats.seat_of(arc) as usize];
            if slot != NONE {
                let seat = seats.seat_of(state);
                slots.of[seat as usize] = slot | FURTHER;
                slots.seats.push(seat);
            }
        }
        slots
    }
}
