//! The answer: options ranked and explained, and what became of every fill site.

use crate::finding::Findings;
use crate::place::Place;
use crate::plan::bridges::CrossedBridge;
use crate::plan::call::Call;
use crate::plan::circulation::PlanLoop;
use crate::plan::dump_facts::DumpFacts;
use crate::plan::ground::PlacedSite;
use crate::plan::in_time::InTime;
use crate::plan::need::Need;
use crate::plan::options::Field;
use crate::plan::reasons::no_loop;
use crate::plan::rig::{RigAnswer, RigProblem};
use crate::plan::trade_off::TradeOff;
use crate::shuttle::{self, Limitation, Sustained};
use crate::sites::dump::{DumpKind, SupplyLine};
use crate::units::{Gallons, GallonsPerMinute, Seconds};
use crate::vehicle::Tanker;
use crate::water::source::{Basis, time_to_exhaustion};

/// Everything a plan found out.
#[derive(Clone, Debug)]
pub struct Answer {
    pub name: String,
    pub incident_name: String,
    pub incident: Place,
    pub need: GallonsPerMinute,
    pub need_found: Need,
    pub reliability: f64,
    pub period: Seconds,
    /// Whether the options were simulated; if not, their ceilings are all that is known of their flow.
    pub simulated: bool,
    pub options: Vec<PlanOption>,
    pub sites: Vec<SiteReport>,
    /// The whole fleet's, for those who drive them.
    pub tankers: Vec<Tanker>,
    /// Where no option meets the need.
    pub call: Option<Call>,
    pub findings: Findings,
}

impl Answer {
    pub fn meets_need(&self) -> bool {
        self.options.iter().any(|o| o.meets_need)
    }
}

/// One way to do it.
#[derive(Clone, Debug)]
pub struct PlanOption {
    pub number: usize,
    pub dump: Place,
    pub dump_kind: DumpKind,
    pub dump_road: String,
    pub lay: SupplyLine,
    pub facts: DumpFacts,
    /// None at the dump site nearest to the fire.
    pub trade_off: Option<TradeOff>,
    pub need: GallonsPerMinute,
    pub ceiling: GallonsPerMinute,
    /// Whether `flow` does.
    pub meets_need: bool,
    /// None where only the closed form was asked for.
    pub simulated: Option<Simulated>,
    pub loops: Vec<PlanLoop>,
    /// Those on its loops that no sign rates.
    pub bridges: Vec<CrossedBridge>,
    pub findings: Findings,
    /// The dump rig asked for the need, and what it gives; none where the fleet's parts make none.
    pub rig: Option<(RigProblem, RigAnswer)>,
    /// What was simulated, for those who recompute it.
    pub shuttle: shuttle::Shuttle,
}

impl PlanOption {
    /// The sustained flow; where nothing was simulated the ceiling, which it cannot pass.
    pub fn flow(&self) -> GallonsPerMinute {
        self.simulated.as_ref().map_or(self.ceiling, |found| found.sustained.flow)
    }
}

/// What the simulation found out about an option.
#[derive(Clone, Debug)]
pub struct Simulated {
    pub sustained: Sustained,
    pub limitation: Limitation,
    pub one_lost: GallonsPerMinute,
    pub in_time: InTime,
}

/// A fill site that was considered.
#[derive(Clone, Debug)]
pub struct SiteReport {
    pub name: String,
    pub kind: &'static str,
    pub place: Place,
    pub flow: Option<GallonsPerMinute>,
    pub volume: Option<Gallons>,
    pub berths: u32,
    pub verified: bool,
    pub note: String,
    /// How far its yield can be trusted; none where it is out or not rated.
    pub basis: Option<Basis>,
    /// What of it was measured, computed, assumed, and is unknown.
    pub told: Option<String>,
    /// Main or pond that it shares with others.
    pub shares: Option<String>,
    /// How long a volume lasts at the site's own flow.
    pub lasts: Option<Seconds>,
    /// Used by at least one option; else the reason why not.
    pub used: Result<(), String>,
}

pub(super) fn report(
    field: &Field,
    index: usize,
    placed: &PlacedSite,
    options: &[PlanOption],
    alone: Option<GallonsPerMinute>,
) -> SiteReport {
    let site = &placed.site;
    let used_in_an_option = options.iter().flat_map(|o| &o.loops).any(|l| l.site == site.name);
    let used = match (&placed.state, alone) {
        _ if used_in_an_option => Ok(()),
        (Err(reason), _) => Err(reason.clone()),
        (Ok(_), Some(flow)) => {
            Err(format!("works, but gives at most {flow:.0} alone; the options shown give more"))
        }
        (Ok(_), None) if field.dumps.is_empty() => Err("no dump site within the supply hose's reach".into()),
        (Ok(_), None) => Err(no_loop(field, index)),
    };
    let state = placed.state.as_ref().ok();
    SiteReport {
        name: site.name.clone(),
        kind: site.kind.as_str(),
        place: site.place,
        flow: state.map(|s| s.flow).or(site.flow),
        volume: state.and_then(|s| s.volume).or(site.volume),
        berths: site.berths,
        verified: site.verified,
        note: site.note.clone(),
        basis: state.map(|s| s.basis),
        told: state.map(|s| s.told.clone()),
        shares: site.details.shares.clone(),
        lasts: state.and_then(|s| time_to_exhaustion(s.volume?, s.flow, GallonsPerMinute::ZERO).ok()?),
        used,
    }
}
