//! One run of the shuttle, event by event.

use super::chance::Chances;
use super::engine::Engine;
use super::layout::Layout;
use super::validate::{check, check_draw};
use super::{LanePass, Shuttle, ShuttleError};
use crate::units::{Gallons, GallonsPerMinute, Seconds};
use serde::Serialize;

/// A constant draw by the attack. The run ends with it.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Draw {
    pub flow: GallonsPerMinute,
    pub from: Seconds,
    pub until: Seconds,
}

/// The portable tanks from one moment to the next point: level now, flows until then.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct TimePoint {
    pub time: Seconds,
    pub level: Gallons,
    pub inflow: GallonsPerMinute,
    pub drawn: GallonsPerMinute,
}

/// A tanker comes to the dump site; it may still have to wait for a berth.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Arrival {
    /// Index into [`Shuttle::tankers`].
    pub tanker: usize,
    pub time: Seconds,
    pub load: Gallons,
}

/// What one run did. All water is accounted for: `delivered` is `drawn` and `level`, and first loads
/// and `filled` are `delivered` and `aboard`.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Run {
    /// Into the portable tanks.
    pub delivered: Gallons,
    pub drawn: Gallons,
    /// In the portable tanks at the end.
    pub level: Gallons,
    /// In the tankers at the end.
    pub aboard: Gallons,
    /// Taken from all sources.
    pub filled: Gallons,
    /// When the tanks first ran dry under the draw. From then on the attack gets what comes in.
    pub dry_at: Option<Seconds>,
    /// A source gave out; tankers that fill there stop.
    pub exhausted: bool,
    /// Loads emptied into the tanks, a part load as one.
    pub unloadings: u64,
    pub timeline: Vec<TimePoint>,
    /// In the order in which they come.
    pub arrivals: Vec<Arrival>,
    /// Every passage of narrow road on which tankers can meet, in the order in which they came to its
    /// mouth; those begun before the end are told to their end.
    pub passages: Vec<LanePass>,
}

/// Runs one replication to the end of the draw. The same (seed, replication) gives the same luck to
/// every shuttle with the same spread.
pub fn simulate(shuttle: &Shuttle, draw: &Draw, seed: u64, replication: u32) -> Result<Run, ShuttleError> {
    check(shuttle)?;
    check_draw(draw.from.0, draw.until.0, draw.flow.0)?;
    let layout = Layout::new(shuttle);
    let chances = Chances::new(&shuttle.spread, seed, 1, layout.tankers(), 0);
    Ok(run(&layout, &chances, replication, draw))
}

pub(super) fn run(layout: &Layout, chances: &Chances, replication: u32, draw: &Draw) -> Run {
    let mut engine = Engine::new(layout);
    engine.keep_timeline();
    engine.run(layout, chances, replication, draw, false);
    let totals = engine.totals();
    Run {
        delivered: Gallons(totals.delivered),
        drawn: Gallons(totals.drawn),
        level: Gallons(totals.level),
        aboard: Gallons(totals.aboard),
        filled: Gallons(totals.filled),
        dry_at: totals.dry_at_s.map(Seconds),
        exhausted: totals.exhausted,
        unloadings: totals.unloadings,
        timeline: engine.take_timeline(),
        arrivals: engine.take_arrivals(),
        passages: engine.take_passages(),
    }
}
