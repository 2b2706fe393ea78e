//! What the engine hands out when a run is over. Seconds and gallons.

use super::lane::LaneWait;

/// Time lost in a run, by place.
pub(super) struct Waits {
    /// Seconds and visits waiting for a berth: each fill site, then the dump site.
    pub berths: Vec<(f64, u32)>,
    /// Seconds unloading took longer because the tanks were full, and unloadings finished.
    pub full_tanks: (f64, u32),
    pub lanes: Vec<LaneWait>,
}

pub(super) struct Totals {
    pub delivered: f64,
    pub drawn: f64,
    pub level: f64,
    pub aboard: f64,
    pub filled: f64,
    pub dry_at_s: Option<f64>,
    pub exhausted: bool,
    pub unloadings: u64,
}
