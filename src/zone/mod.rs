//! Every road of a response zone, each stretch taken as the incident: the fire on the road, the tanks set
//! beside it.
//!
//! `stretches` cuts the roads, `times` works out the drives to all of a block, `judge` puts the fleet on
//! them by the closed form, `sample` lays the simulation beside it. A stretch is judged from nothing but
//! the roads and the request, so blocks can be worked anywhere and in any order (`block`); `gaps` joins
//! what falls short, `buildings` counts who lives there, `propose` says where a new source
//! closes it, `compare` what another request makes of the same stretches.

mod area;
pub mod block;
pub mod buildings;
pub mod compare;
pub mod gaps;
pub mod judge;
mod outline;
pub mod parts;
mod pool;
pub mod propose;
pub mod sample;
pub mod spacing;
mod stations;
pub mod stretches;
pub mod summary;
pub mod times;
pub mod waterside;
mod yields;

use crate::finding::{Findings, Outcome, Refusal, Where};
use crate::plan::Problem;
use crate::plan::ground::Ground;
use crate::plan::muster::draw_limits;
use crate::routing::Roads;
use crate::shuttle::DrawLimit;
use crate::sites::dump::HoseBed;
use crate::sites::rig::supply_line;
use crate::units::{Feet, Metres};
use crate::water::BadInput;
pub use area::Area;
use pool::Pool;
use stations::StationTimes;
use stretches::Stretch;
use times::Extremes;

/// What is asked of a zone beside the problem.
#[derive(Clone, Debug)]
pub struct Ask {
    /// No stretch is longer.
    pub longest: Metres,
    /// None for all roads of the extract.
    pub area: Option<Area>,
}

/// A problem on its roads, made ready for any stretch.
pub struct Zone<'a> {
    pub problem: &'a Problem,
    pub ground: Ground<'a>,
    pub stretches: Vec<Stretch>,
    /// Rig and supply line, which is of no length: the tanks stand at the fire.
    draw: Vec<DrawLimit>,
    stations: StationTimes,
    extremes: Extremes,
    pool: Pool,
    pub findings: Findings,
}

impl<'a> Zone<'a> {
    pub fn survey(problem: &'a Problem, roads: &'a Roads, ask: &Ask) -> Outcome<Zone<'a>> {
        let mut findings = problem.findings.clone();
        findings.extend(roads.notes.clone());
        let mut ground = Ground::lay(problem, roads, &mut findings)?;
        for class in &mut ground.classes {
            class.only_around_sites();
        }
        let bad = |e: BadInput| e.finding(Where::file(&problem.fleet_file));
        let line = match HoseBed::of(&problem.fleet).map_err(bad)? {
            Some(bed) => {
                let (lines, flow) = bed.lay(Metres::ZERO, Feet::ZERO).map_err(bad)?;
                Some((supply_line(&bed, Metres::ZERO, lines, Feet::ZERO), flow))
            }
            None => None,
        };
        let draw = draw_limits(problem, &problem.fleet, line).map_err(bad)?;
        let stretches = stretches::cut(problem, &ground, ask, &mut findings);
        if stretches.is_empty() {
            return Err(Refusal::new(
                crate::finding::Code::NoRoads,
                Where::file(&problem.scenario),
                "no road that a tanker can come to and leave again lies in the zone",
                "check the area, and that the extract covers it",
            ));
        }
        let pool = Pool::default();
        let stations = StationTimes::search(&ground, &pool);
        let extremes = Extremes::of(&ground);
        Ok(Zone { problem, ground, stretches, draw, stations, extremes, pool, findings })
    }
}
