//! What a shuttle must be before anything is computed from it, so that no result is ever NaN,
//! infinite or a run without end.

use super::cycle::cycle;
use super::{Passage, Shuttle, Terms, Vary};
use crate::finding::{Code, Finding, Where};
use serde::Serialize;
use std::fmt;

/// Input that cannot be used: what is wrong, and what to do about it.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct ShuttleError {
    pub what: String,
    pub remedy: String,
}

impl ShuttleError {
    pub(super) fn new(what: impl Into<String>, remedy: impl Into<String>) -> Self {
        ShuttleError { what: what.into(), remedy: remedy.into() }
    }
}

impl fmt::Display for ShuttleError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}; {}", self.what, self.remedy)
    }
}
impl std::error::Error for ShuttleError {}

impl From<ShuttleError> for Finding {
    fn from(error: ShuttleError) -> Self {
        Finding::new(Code::InputInvalid, Where::default(), error.what, error.remedy)
    }
}

/// No road tanker, pond or pump comes near these; beyond them a unit was mistaken.
const LEAST_LOAD_GAL: f64 = 1.0;
const GREATEST_LOAD_GAL: f64 = 1e6;
const LEAST_FLOW_GPM: f64 = 0.1;
const GREATEST_FLOW_GPM: f64 = 1e7;
const GREATEST_VOLUME_GAL: f64 = 1e15;
/// For one leg, one handling or one way from a station.
const GREATEST_TIME_S: f64 = 86_400.0;
const GREATEST_PERIOD_S: f64 = 7.0 * 86_400.0;
/// A shorter cycle cannot be driven, and would make the number of events unbounded.
const LEAST_CYCLE_S: f64 = 30.0;
const MOST_TANKERS: usize = 1_000;
const MOST_FILLS: usize = 1_000;
const MOST_LANES: usize = 1_000;
const MOST_PASSAGES: usize = 100;
/// Sums of driving times may differ by their rounding.
const TIMES_WITHIN_S: f64 = 1e-6;
const MOST_BERTHS: u32 = 1_000;
const MOST_REPLICATIONS: u32 = 100_000;
const GREATEST_CV: f64 = 3.0;

fn within(
    what: impl Fn() -> String,
    value: f64,
    least: f64,
    greatest: f64,
    unit: &str,
) -> Result<(), ShuttleError> {
    // Written so that NaN fails.
    if value >= least && value <= greatest {
        return Ok(());
    }
    Err(ShuttleError::new(
        format!("{} is {value} {unit}", what()),
        format!("give a value from {least} to {greatest} {unit}"),
    ))
}

fn berths(what: impl Fn() -> String, berths: u32) -> Result<(), ShuttleError> {
    if (1..=MOST_BERTHS).contains(&berths) {
        return Ok(());
    }
    Err(ShuttleError::new(format!("{} has {berths} berths", what()), format!("give 1 to {MOST_BERTHS}")))
}

fn count(what: &str, number: usize, most: usize) -> Result<(), ShuttleError> {
    if (1..=most).contains(&number) {
        return Ok(());
    }
    Err(ShuttleError::new(format!("the shuttle has {number} {what}"), format!("give 1 to {most}")))
}

fn vary(what: &str, vary: Vary) -> Result<(), ShuttleError> {
    match vary {
        Vary::LogNormal { cv } => within(|| format!("the spread of {what}"), cv, 0.0, GREATEST_CV, "(cv)"),
        Vary::Fixed | Vary::Exponential => Ok(()),
    }
}

/// Passages lie within the leg, one after the other.
fn passages(
    leg: &dyn Fn() -> String,
    travel_s: f64,
    all: &[Passage],
    lanes: usize,
) -> Result<(), ShuttleError> {
    if all.len() > MOST_PASSAGES {
        let what = format!("{} passes {} narrow lanes", leg(), all.len());
        return Err(ShuttleError::new(what, format!("give at most {MOST_PASSAGES}")));
    }
    let mut free_s = 0.0;
    for (i, passage) in all.iter().enumerate() {
        let of = |part: &str| format!("{part} of passage {} on {}", i + 1, leg());
        if passage.lane >= lanes {
            return Err(ShuttleError::new(
                format!("{} is number {}", of("the lane"), passage.lane),
                format!("give the number of one of the shuttle's {lanes} lanes, from 0"),
            ));
        }
        within(|| of("the time to the mouth"), passage.after.0, free_s - TIMES_WITHIN_S, travel_s, "s")?;
        let most_s = travel_s - passage.after.0 + TIMES_WITHIN_S;
        within(|| of("the time through"), passage.take.0, 0.0, most_s, "s")?;
        free_s = passage.after.0 + passage.take.0;
    }
    Ok(())
}

/// Refuses what cannot be simulated; every public entry goes through here.
pub(super) fn check(shuttle: &Shuttle) -> Result<(), ShuttleError> {
    count("tankers", shuttle.tankers.len(), MOST_TANKERS)?;
    count("fill sites", shuttle.fills.len(), MOST_FILLS)?;
    vary("travel", shuttle.spread.travel)?;
    vary("handling", shuttle.spread.handling)?;
    vary("service", shuttle.spread.service)?;
    for fill in &shuttle.fills {
        let site = |part: &str| format!("{part} of fill site \"{}\"", fill.name);
        berths(|| format!("fill site \"{}\"", fill.name), fill.berths)?;
        within(|| site("the flow"), fill.flow.0, LEAST_FLOW_GPM, GREATEST_FLOW_GPM, "gpm")?;
        if let Some(volume) = fill.volume {
            within(|| site("the volume"), volume.0, 0.0, GREATEST_VOLUME_GAL, "gal")?;
        }
    }
    berths(|| "the dump site".to_string(), shuttle.dump.berths)?;
    if shuttle.dump.tank_room.0 != f64::INFINITY {
        let room = shuttle.dump.tank_room.0;
        within(|| "the room in the portable tanks".to_string(), room, 0.0, GREATEST_VOLUME_GAL, "gal")?;
    }
    for limit in &shuttle.dump.draw_limits {
        let what = || format!("the draw limit {:?}", limit.kind);
        within(what, limit.flow.0, LEAST_FLOW_GPM, GREATEST_FLOW_GPM, "gpm")?;
    }
    if shuttle.lanes.len() > MOST_LANES {
        return Err(ShuttleError::new(
            format!("the shuttle has {} narrow lanes", shuttle.lanes.len()),
            format!("give at most {MOST_LANES}"),
        ));
    }
    for tanker in &shuttle.tankers {
        let of = |part: &str| format!("{part} of tanker \"{}\"", tanker.name);
        within(|| of("the load"), tanker.load.0, LEAST_LOAD_GAL, GREATEST_LOAD_GAL, "gal")?;
        for (part, flow) in [("the intake", tanker.intake), ("the dump rate", tanker.dump_rate)] {
            within(|| of(part), flow.0, LEAST_FLOW_GPM, GREATEST_FLOW_GPM, "gpm")?;
        }
        for (part, time) in [
            ("the arrival", tanker.arrives),
            ("the empty travel time", tanker.empty_travel),
            ("the loaded travel time", tanker.loaded_travel),
            ("the fill handling", tanker.fill_handling),
            ("the dump handling", tanker.dump_handling),
        ] {
            within(|| of(part), time.0, 0.0, GREATEST_TIME_S, "s")?;
        }
        let Some(fill) = shuttle.fills.get(tanker.fill) else {
            return Err(ShuttleError::new(
                format!("{} is number {}", of("the fill site"), tanker.fill),
                format!("give a number from 0 to {}", shuttle.fills.len() - 1),
            ));
        };
        passages(&|| of("the empty leg"), tanker.empty_travel.0, &tanker.empty_lanes, shuttle.lanes.len())?;
        passages(
            &|| of("the loaded leg"),
            tanker.loaded_travel.0,
            &tanker.loaded_lanes,
            shuttle.lanes.len(),
        )?;
        let around_s = cycle(tanker, fill).total().0;
        if around_s < LEAST_CYCLE_S {
            return Err(ShuttleError::new(
                format!("{} is {around_s:.3} s", of("the cycle")),
                format!("check the units of its times and flows: no cycle takes less than {LEAST_CYCLE_S} s"),
            ));
        }
    }
    Ok(())
}

pub(super) fn check_period(what: &str, seconds: f64) -> Result<(), ShuttleError> {
    within(|| what.to_string(), seconds, 1.0, GREATEST_PERIOD_S, "s")
}

/// Times and flow of a single draw; a draw of nothing is allowed.
pub(super) fn check_draw(from_s: f64, until_s: f64, flow_gpm: f64) -> Result<(), ShuttleError> {
    within(|| "the end of the run".to_string(), until_s, 0.0, 2.0 * GREATEST_PERIOD_S, "s")?;
    within(|| "the start of the draw".to_string(), from_s, 0.0, 2.0 * GREATEST_PERIOD_S, "s")?;
    within(|| "the draw".to_string(), flow_gpm, 0.0, GREATEST_FLOW_GPM, "gpm")
}

pub(super) fn check_terms(terms: &Terms) -> Result<(), ShuttleError> {
    within(|| "the needed flow".to_string(), terms.need.0, 0.0, GREATEST_FLOW_GPM, "gpm")?;
    check_period("the operational period", terms.period.0)?;
    within(|| "the reliability".to_string(), terms.reliability, 0.01, 1.0, "(share of runs)")?;
    if (1..=MOST_REPLICATIONS).contains(&terms.replications) {
        return Ok(());
    }
    Err(ShuttleError::new(
        format!("{} replications were asked for", terms.replications),
        format!("give 1 to {MOST_REPLICATIONS}"),
    ))
}
