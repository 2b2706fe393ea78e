//! Tankers going round between fill sites and a dump site, and the flow they sustain.
//!
//! Knows no roads: travel times come in, flows go out. Three views of one problem:
//! [`ceiling`] is the closed form, a flow no shuttle of these parts can pass; [`simulate`] is one
//! seeded run with queues, shared sources and tanks that fill up; [`sustained`] is the answer, the
//! constant draw that holds for the whole period in nearly all of many such runs.
//!
//! Handling (approach, connect, disconnect) is counted before the water moves; only its sum matters
//! to the berth. A tanker is given its berth in order of arrival.
//!
//! Road too narrow for two tankers to pass is a [`Lane`]: `lane` says who waits for whom, [`lanes`]
//! finds the lanes of a plan's loops, [`expected_meetings`] says what they cost on the average.

mod chance;
mod clocks;
mod crew;
mod crew_best;
mod crew_bounds;
mod crew_flow;
mod cycle;
mod engine;
mod first_loads;
mod fluid;
mod ground;
mod guides;
mod in_time;
mod known;
mod lane;
pub mod lanes;
mod lay;
mod layout;
mod legs;
mod limiter;
pub mod loops;
mod meetings;
mod out_and_back;
pub mod pair;
pub mod pieces;
mod prices;
mod quick;
mod search;
pub mod share;
mod sides;
mod simulate;
mod sustained;
mod tally;
mod validate;

pub use crew::{Assignment, Posts, Recruit, RoundTrip, SITES_COMBINED};
pub use crew_best::{Alone, Best};
pub use crew_flow::fewest_berths;
pub use cycle::{
    Ceiling, Cycle, FillCeiling, Rounds, TankerCeiling, ceiling, cycle, maximum_continuous_flow,
    travel_time_per_leg, travel_time_round_trip,
};
pub use in_time::{MILESTONES, Milestone, SeriesPoint, milestones, series, source_failed, withdrawn};
pub use lane::{Lane, LanePass, Passage};
pub use limiter::{Limitation, limiter, limiter_of, one_tanker_lost, relief_text, reliefs};
pub use meetings::{Meetings, expected_flow, expected_meetings, worth_simulating};
pub use share::Main;
pub use simulate::{Arrival, Draw, Run, TimePoint, simulate};
pub use sustained::{
    LaneWaiting, Sustained, Terms, Waiting, holds_share, start_of_supply, start_of_supply_in, sustained,
    sustained_flow, sustained_from,
};
pub use validate::ShuttleError;

use crate::units::{Gallons, GallonsPerMinute, Seconds};
use serde::{Deserialize, Serialize};

/// A fleet, the sites it fills at and the site it dumps at.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Shuttle {
    pub tankers: Vec<Tanker>,
    pub fills: Vec<Fill>,
    pub dump: Dump,
    /// Where tankers cannot pass each other. Knows no roads: which leg passes which lane, and when, stands
    /// with the tanker.
    pub lanes: Vec<Lane>,
    pub spread: Spread,
}

/// One tanker on its loop. Distances are already travel times, one for each leg.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Tanker {
    pub name: String,
    /// Usable load: the 10 % for spill, under-filling and water left aboard is already taken off.
    pub load: Gallons,
    /// Index into [`Shuttle::fills`].
    pub fill: usize,
    /// When it reaches the dump site, full, counted from dispatch.
    pub arrives: Seconds,
    /// Dump site to fill site.
    pub empty_travel: Seconds,
    /// Fill site to dump site.
    pub loaded_travel: Seconds,
    /// Narrow road on the empty leg, in driving order. A leg's travel time has the driving through its
    /// lanes in it, and no waiting; when a drive takes longer, so does each of its pieces.
    pub empty_lanes: Vec<Passage>,
    /// The same for the loaded leg. The first way from the station does not use lanes.
    pub loaded_lanes: Vec<Passage>,
    /// What the tank can take in, whatever the source offers.
    pub intake: GallonsPerMinute,
    /// Averaged over the unloading of the usable load; never the first second's rate.
    pub dump_rate: GallonsPerMinute,
    /// Approach, connect and disconnect at the fill site.
    pub fill_handling: Seconds,
    /// Approach, set and clear at the dump site.
    pub dump_handling: Seconds,
}

/// A place where tankers are filled.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Fill {
    pub name: String,
    /// Tankers filled at once.
    pub berths: u32,
    /// Of the whole source: its berths share it.
    pub flow: GallonsPerMinute,
    /// Water in a cistern or pond; `None` for a source that does not run out.
    pub volume: Option<Gallons>,
}

/// The place where tankers unload and the attack draws.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Dump {
    /// Tankers unloading at once.
    pub berths: u32,
    /// All portable tanks together. May be infinite.
    pub tank_room: Gallons,
    pub draw_limits: Vec<DrawLimit>,
}

/// Something between the portable tanks and the fire that carries only so much.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct DrawLimit {
    pub kind: DrawKind,
    pub flow: GallonsPerMinute,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum DrawKind {
    SupplyLine,
    Pumper,
    Siphons,
    Suction,
}

/// How a time varies from one trip to the next; every kind keeps the mean.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Vary {
    Fixed,
    /// Skewed to the long side, as driving and handling times are. `cv` is standard deviation over mean.
    LogNormal {
        cv: f64,
    },
    /// Far wider than any real shuttle: the assumption of textbook queueing, for checks.
    Exponential,
}

/// How much the parts of a cycle vary.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Spread {
    /// Both legs, and the first arrival.
    pub travel: Vary,
    /// Approach, connecting, disconnecting, at either end.
    pub handling: Vary,
    /// A tanker's own filling and unloading rate. Not the flow of the source.
    pub service: Vary,
}

impl Spread {
    /// Every time is its mean: one run says everything.
    pub const FIXED: Spread = Spread { travel: Vary::Fixed, handling: Vary::Fixed, service: Vary::Fixed };

    pub fn is_fixed(&self) -> bool {
        let fixed = |v: Vary| matches!(v, Vary::Fixed) || v == Vary::LogNormal { cv: 0.0 };
        fixed(self.travel) && fixed(self.handling) && fixed(self.service)
    }
}

impl Default for Spread {
    /// Common practice, no source: a tenth on driving, a quarter on handling (hands, hose, mud and
    /// light), a tenth on the rate at which water goes in and out.
    fn default() -> Self {
        Spread {
            travel: Vary::LogNormal { cv: 0.10 },
            handling: Vary::LogNormal { cv: 0.25 },
            service: Vary::LogNormal { cv: 0.10 },
        }
    }
}

/// The element that holds a shuttle back. Fill sites by index.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Limiter {
    Tankers,
    FillBerths(usize),
    SourceFlow(usize),
    SourceVolume(usize),
    DumpBerths,
    TankRoom,
    SupplyLine,
    Pumper,
    Siphons,
    Suction,
    /// Narrow road, by index into [`Shuttle::lanes`].
    Lane(usize),
}

impl From<DrawKind> for Limiter {
    fn from(kind: DrawKind) -> Self {
        match kind {
            DrawKind::SupplyLine => Limiter::SupplyLine,
            DrawKind::Pumper => Limiter::Pumper,
            DrawKind::Siphons => Limiter::Siphons,
            DrawKind::Suction => Limiter::Suction,
        }
    }
}
