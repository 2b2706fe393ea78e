//! A relay: pumpers in a supply line, each taking in what the one before sends.

use super::hose::Lay;
use super::{Checked, positive};
use crate::units::{Feet, GallonsPerMinute, Psi};
use serde::Serialize;

/// Most pumpers proposed in one line: each takes an engine, its crew and its time from the fire (common
/// practice, no source).
pub const MOST_RELAY_PUMPERS: u32 = 3;

/// Pumpers that would raise what a line carries.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Relay {
    pub pumpers: u32,
    /// What the line carries with them.
    pub flow: GallonsPerMinute,
}

/// What a line carries with pumpers in it that stand at equal distances, every pump at the same pressure
/// and every intake keeping `residual`: each stretch is a line of its own, so n pumpers shorten the hose
/// between two pumps to a part in n + 1, and as friction grows with the square of the flow the line
/// carries √(n + 1) times as much on level ground; of a rise of `gain` over the whole line, taken as even,
/// each pump lifts its part. The spacing is the relay reach taught after IFSTA (from memory of its
/// table; the arithmetic is that of [`Lay::flow`]).
/// Errors: any unusable number.
pub fn relay_flow(
    lay: &Lay,
    pumpers: u32,
    pump: Psi,
    residual: Psi,
    gain: Feet,
) -> Checked<GallonsPerMinute> {
    let parts = f64::from(pumpers) + 1.0;
    let stretch = Lay { length: lay.length / parts, ..*lay };
    stretch.flow(pump, residual, gain / parts)
}

/// The fewest pumpers with which the line carries the flow wanted, or, where the most allowed do not,
/// the fewest that carry as much as those. No pump passes on more than its own `capacity`.
/// None where the line carries it alone, or where pumpers in it would add nothing.
/// Errors: any unusable number.
pub fn propose(
    lay: &Lay,
    wanted: GallonsPerMinute,
    pump: Psi,
    residual: Psi,
    gain: Feet,
    capacity: GallonsPerMinute,
) -> Checked<Option<Relay>> {
    positive("pump capacity (gpm)", capacity.get())?;
    let alone = lay.flow(pump, residual, gain)?;
    if alone >= wanted {
        return Ok(None);
    }
    let mut best = Relay { pumpers: 0, flow: alone };
    for pumpers in 1..=MOST_RELAY_PUMPERS {
        let flow = relay_flow(lay, pumpers, pump, residual, gain)?.min(capacity);
        if flow > best.flow {
            best = Relay { pumpers, flow };
        }
        if flow >= wanted {
            break;
        }
    }
    Ok((best.pumpers > 0).then_some(best))
}
