//! A second pair of eyes: recomputes an answer from the road network and the inputs, slowly and
//! plainly, from the very GeoJSON that is handed out.
//!
//! It shares facts with the planner (segments, tags, bans, access rules, the speed table, the
//! fleet) and no method: `drive` writes the rules of the road anew and searches with petgraph,
//! `trace` finds the road under a line, `legs` and `loops` judge drives, `hose` the supply line,
//! `ceiling` solves the bound as a linear programme, `narrow` finds the lanes where trucks meet,
//! `simulate` runs the shuttle in time steps with `mouths` for those lanes, `crew` puts the vehicles
//! into it, `shuttle` compares the flows, `books` looks over the whole, `overlay` holds legs and dump
//! sites to what the department closed.

mod answer;
mod books;
mod ceiling;
mod crew;
mod drive;
mod dump;
mod hose;
mod legs;
mod loops;
mod mouths;
mod narrow;
mod overlay;
mod shuttle;
mod simulate;
mod trace;
mod vehicle;

use crate::finding::{Code, Finding, Where};
use crate::plan::Problem;
use crate::routing::Roads;
use rayon::prelude::*;
use serde::Serialize;
use serde_json::Value;

/// One thing recomputed and compared.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Check {
    /// What was compared, such as `leg.time`.
    pub what: &'static str,
    /// The option it belongs to; none for the answer as a whole.
    pub option: Option<u64>,
    pub passed: bool,
    /// Which thing, what the answer says and what was found.
    pub detail: String,
}

/// What a verification came to.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct Verification {
    pub checks: Vec<Check>,
}

impl Verification {
    pub fn failures(&self) -> impl Iterator<Item = &Check> {
        self.checks.iter().filter(|c| !c.passed)
    }
    pub fn passed(&self) -> bool {
        self.failures().next().is_none()
    }
    /// Each failure as a finding.
    pub fn findings(&self) -> Vec<Finding> {
        self.failures().map(Check::finding).collect()
    }

    fn add(&mut self, what: &'static str, option: Option<u64>, passed: bool, detail: impl Into<String>) {
        self.checks.push(Check { what, option, passed, detail: detail.into() });
    }
    /// Compares a stated number with the one found.
    fn near(&mut self, what: &'static str, option: u64, of: &str, stated: f64, found: f64, within: f64) {
        // A number that is not finite agrees with nothing.
        let passed = (stated - found).abs() <= within;
        self.add(
            what,
            Some(option),
            passed,
            format!("{of}: stated {stated}, found {found:.3} (± {within:.3})"),
        );
    }
}

impl Check {
    fn finding(&self) -> Finding {
        let option = self.option.map_or("the answer".to_string(), |n| format!("option {n}"));
        Finding::new(
            Code::VerifyFailed,
            Where::default().named(option),
            format!("{}: {}", self.what, self.detail),
            "do not use this answer; report it with its scenario",
        )
    }
}

/// Half a unit of the first decimal, the answer's rounding, and a little for binary fractions.
const ROUNDED: f64 = 0.0501;

/// Recomputes an answer. `answer` is the parsed GeoJSON text of a plan.
pub fn verify(problem: &Problem, roads: &Roads, answer: &Value) -> Verification {
    let mut found = Verification::default();
    let said = match answer::read(answer) {
        Ok(said) => said,
        Err(cause) => {
            found.add("answer.readable", None, false, cause);
            return found;
        }
    };
    found.add("answer.readable", None, true, format!("{} options", said.options.len()));
    books::check(problem, &said, answer, &mut found);
    let garage = drive::Garage::new(problem, roads);
    let sites = crew::sites(problem, roads, &said, &mut found);
    let parts: Vec<Verification> =
        said.options.par_iter().map(|option| check_option(problem, &garage, &sites, option)).collect();
    found.checks.extend(parts.into_iter().flat_map(|part| part.checks));
    found
}

fn check_option(
    problem: &Problem,
    garage: &drive::Garage,
    sites: &[crew::Site],
    option: &answer::PlanOption,
) -> Verification {
    let mut found = Verification::default();
    let mut drives = Vec::new();
    for said in &option.loops {
        let loaded = legs::check(garage, option, said, answer::Which::Loaded, &mut found);
        let empty = legs::check(garage, option, said, answer::Which::Empty, &mut found);
        for (which, driven) in [(answer::Which::Loaded, &loaded), (answer::Which::Empty, &empty)] {
            let title = format!("{} leg of {}", which.as_str(), said.title());
            overlay::legs(problem, garage.ground.network(), option, &title, driven, &mut found);
        }
        drives.extend(loops::check(garage, option, said, &loaded, &empty, &mut found));
    }
    hose::check(problem, option, &mut found);
    dump::check(problem, option, &mut found);
    overlay::dump(problem, option, &mut found);
    let whole = drives.len() == option.loops.len() && !drives.is_empty();
    match whole.then(|| crew::muster(problem, garage, sites, option, &drives)) {
        Some(Ok(crew)) => shuttle::check(problem, option, &crew, &mut found),
        Some(Err(cause)) => found.add("shuttle.crew", Some(option.number), false, cause),
        None => found.add(
            "shuttle.crew",
            Some(option.number),
            false,
            "a loop does not stand on the road, so its shuttle cannot be recomputed",
        ),
    }
    found
}
