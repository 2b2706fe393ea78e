//! What a request opens by name, and when it is for.

use crate::roads::condition::Moment;
use serde::Deserialize;

/// Closures that a request opens by name. Physical limits are not here and never will be; what is
/// here and not purely legal (fords, frames nobody measured) is off unless asked for.
#[derive(Clone, Debug, PartialEq, Eq, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct Policy {
    /// Use private roads (emergency access is the officer's call; each use is flagged).
    pub private: bool,
    /// Drive through destination-only roads.
    pub destination: bool,
    /// Pass weight limits whose own sign excepts destination traffic.
    pub destination_limits: bool,
    /// Use roads signed for farm or forest traffic only.
    pub farm: bool,
    /// Use roads restricted for heavy goods vehicles.
    pub hgv_restricted: bool,
    /// Use roads whose sign limits the rated, not the actual, mass.
    pub rating_limit: bool,
    /// Worst `tracktype` grade to use.
    pub worst_track_grade: u8,
    /// Use roads of smoothness horrible and very_horrible.
    pub very_rough: bool,
    pub ford: bool,
    /// Use ferries that carry motor vehicles; what crossing and waiting take is not in the time.
    pub ferry: bool,
    /// Use winter and ice roads in the months in which they exist.
    pub winter_road: bool,
    /// Pass gates mapped as locked: somebody brings the key.
    pub locked_gates: bool,
    /// Pass height frames nobody measured.
    pub unmeasured_frames: bool,
    /// Way ids closed by access=no that this request opens.
    pub open_ways: Vec<i64>,
    /// One-way way ids that this request uses against their direction.
    pub contraflow_ways: Vec<i64>,
    /// When: of the scenario, not of the policy's own table.
    #[serde(skip)]
    pub moment: Moment,
    /// Heed the closures of an overlay; off only to find out which roads there are.
    #[serde(skip)]
    pub closures: bool,
}

impl Default for Policy {
    fn default() -> Self {
        Policy {
            private: true,
            destination: true,
            destination_limits: false,
            farm: true,
            hgv_restricted: true,
            rating_limit: true,
            worst_track_grade: 3,
            very_rough: false,
            ford: false,
            ferry: false,
            winter_road: false,
            locked_gates: false,
            unmeasured_frames: false,
            open_ways: Vec::new(),
            contraflow_ways: Vec::new(),
            moment: Moment::default(),
            closures: true,
        }
    }
}
