//! The simulation laid beside the closed form on a sample of the stretches.

use super::Zone;
use super::block;
use crate::finding::{Finding, Outcome};
use crate::shuttle;

/// A stretch simulated: the flow sustained at the reliability asked for.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Sampled {
    /// Index into the zone's stretches.
    pub stretch: usize,
    pub sustained_gpm: f64,
}

/// Simulates stretches at equal steps through the list, so neighbours on the ground are seldom both in it.
/// At most `count`; the same for the same zone.
pub fn simulate(zone: &Zone, count: usize) -> Outcome<Vec<Sampled>> {
    let all = zone.stretches.len();
    let chosen: Vec<usize> = (0..count.min(all)).map(|i| (2 * i + 1) * all / (2 * count.min(all))).collect();
    let stretches: Vec<_> = chosen.iter().map(|i| zone.stretches[*i]).collect();
    let flows = block::each(zone, &stretches, false, |prepared, number, stretch| {
        let (_, shuttle) = prepared.judge(number, stretch)?;
        Ok(match shuttle {
            Some(shuttle) => shuttle::sustained_flow(&shuttle, &zone.problem.terms).map_err(Finding::from)?.0,
            None => 0.0,
        })
    })?;
    Ok(chosen.into_iter().zip(flows).map(|(stretch, gpm)| Sampled { stretch, sustained_gpm: gpm }).collect())
}
