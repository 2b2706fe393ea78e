//! Every road of a response zone, each stretch taken as the incident: the fire on the road, the tanks set
//! beside it.
//!
//! `stretches` cuts the roads, `times` works out the drives to all of a block that matter (`nearest`; or `whole`, by
//! `sweeps`), `judge` puts the fleet on
//! them by the closed form, `sample` lays the simulation beside it. A stretch is judged from nothing but
//! the roads and the request, so blocks can be worked anywhere and in any order (`block`); `gaps` joins
//! what falls short, `buildings` counts who lives there, `propose` says where a new source
//! closes it, `compare` what another request makes of the same stretches. `record` is what was judged of all, `parts` where it
//! lies on disk.

mod area;
pub mod block;
pub mod buildings;
pub mod compare;
mod extremes;
pub mod gaps;
pub mod judge;
mod legs;
mod nearest;
mod outline;
pub mod parts;
mod pool;
pub mod propose;
mod reached;
pub mod record;
pub mod sample;
mod seen;
mod slots;
pub mod spacing;
mod stations;
pub mod stretches;
pub mod summary;
mod sweeps;
mod times;
mod view;
pub mod waterside;
mod whole;
mod yields;

use crate::finding::{Findings, Outcome, Refusal, Where};
use crate::memory;
use crate::plan::Problem;
use crate::plan::ground::{Class, Ground};
use crate::plan::muster::draw_limits;
use crate::plan::terrain::Terrain;
use crate::routing::Roads;
use crate::shuttle::DrawLimit;
use crate::sites::dump::HoseBed;
use crate::sites::rig::supply_line;
use crate::units::{Feet, Metres};
use crate::water::BadInput;
pub use area::Area;
use extremes::Extremes;
use pool::Pool;
use stations::StationTimes;
use std::sync::{Arc, OnceLock};
use stretches::Stretch;
use sweeps::{Climbs, Sweeps};

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
    /// None of a request beside another zone: it is asked of that one's.
    pub stretches: Vec<Stretch>,
    /// Rig and supply line, which is of no length: the tanks stand at the fire.
    draw: Vec<DrawLimit>,
    worked: Arc<Worked>,
    /// See [`Zone::sweeps`].
    climbs: OnceLock<Option<Climbs>>,
    pub findings: Findings,
}

/// What rests on roads, tankers and stations only, and is shared by requests that have them in common.
struct Worked {
    stations: StationTimes,
    extremes: Extremes,
    pool: Pool,
    sweeps: OnceLock<Option<Sweeps>>,
}

/// What is not needed for a while is worth giving back.
fn is_large(roads: &Roads) -> bool {
    roads.network.segments.len() > parts::USUAL
}

/// Gives back what some work needed, where that was much, but for searches: the next would only lay them out again.
fn rest(roads: &Roads) {
    if is_large(roads) {
        memory::give_back_freed();
    }
}

impl<'a> Zone<'a> {
    /// On roads that nobody else asks for, which spares memory.
    pub fn survey(problem: &'a Problem, roads: &'a Roads, ask: &Ask) -> Outcome<Zone<'a>> {
        let mut findings = Findings::new();
        let (ground, ()) =
            rayon::join(|| Ground::lay(problem, roads, &mut findings), || Sweeps::foresee(problem, roads));
        let ground = ground?;
        if is_large(roads) {
            roads.topology.graphs_are_built(&roads.network, problem.roads.overlay.is_empty());
        }
        rest(roads);
        Zone::new(problem, ground, findings)?.cut(ask)
    }

    /// On roads that requests beside it share, see [`Zone::beside`].
    pub fn survey_on<'r: 'a>(problem: &'a Problem, terrain: &Terrain<'r>, ask: &Ask) -> Outcome<Zone<'a>> {
        Zone::on(problem, terrain, None)?.cut(ask)
    }

    /// Another request, to be asked of this zone's stretches. What both have in common is not worked out again; it
    /// comes to the same as a survey of its own.
    pub fn beside<'b, 'r: 'b>(&self, problem: &'b Problem, terrain: &Terrain<'r>) -> Outcome<Zone<'b>> {
        Zone::on(problem, terrain, Some(self))
    }

    fn on<'r: 'a>(problem: &'a Problem, terrain: &Terrain<'r>, other: Option<&Zone>) -> Outcome<Zone<'a>> {
        let mut findings = Findings::new();
        let ground = Ground::on(problem, terrain, &mut findings)?;
        match other.filter(|other| other.moves_alike(&ground)) {
            Some(other) => Zone::with(problem, ground, findings, other.worked.clone()),
            None => Zone::new(problem, ground, findings),
        }
    }

    /// The same tankers start from the same places on the same roads.
    fn moves_alike(&self, ground: &Ground) -> bool {
        let (own, theirs) = (&self.ground.classes, &ground.classes);
        own.len() == theirs.len()
            && own.iter().zip(theirs).all(|(a, b)| a.is(b))
            && self.ground.stations == ground.stations
    }

    fn new(problem: &'a Problem, mut ground: Ground<'a>, findings: Findings) -> Outcome<Zone<'a>> {
        for class in &mut ground.classes {
            class.only_around_sites();
        }
        let pool = Pool::default();
        let stations = StationTimes::search(&ground, &pool);
        let extremes = Extremes::of(&ground);
        rest(ground.roads);
        Zone::with(
            problem,
            ground,
            findings,
            Arc::new(Worked { stations, extremes, pool, sweeps: OnceLock::new() }),
        )
    }

    fn with(
        problem: &'a Problem,
        ground: Ground<'a>,
        of_ground: Findings,
        worked: Arc<Worked>,
    ) -> Outcome<Zone<'a>> {
        let mut findings = problem.findings.clone();
        findings.extend(ground.roads.notes.clone());
        findings.extend(of_ground);
        let bad = |e: BadInput| e.finding(Where::file(&problem.fleet_file));
        let line = match HoseBed::of(&problem.fleet).map_err(bad)? {
            Some(bed) => {
                let (lines, flow) = bed.lay(Metres::ZERO, Feet::ZERO).map_err(bad)?;
                Some((supply_line(&bed, Metres::ZERO, lines, Feet::ZERO), flow))
            }
            None => None,
        };
        let draw = draw_limits(problem, &problem.fleet, line).map_err(bad)?;
        let climbs = OnceLock::new();
        Ok(Zone { problem, ground, stretches: Vec::new(), draw, worked, climbs, findings })
    }

    /// Where all is judged and nothing else is asked, gives back what that needed.
    pub fn search_no_more(&mut self) {
        if is_large(self.ground.roads) {
            self.ground.classes.iter_mut().for_each(Class::search_no_more);
            self.worked.pool.empty();
            rest(self.ground.roads);
        }
    }

    /// What the times of all sites are swept on, if there are enough of them and the roads have a hierarchy.
    fn sweeps(&self) -> Option<(&Sweeps, &Climbs)> {
        if !Sweeps::pay(&self.ground) {
            return None;
        }
        let sweeps = self.worked.sweeps.get_or_init(|| Sweeps::of(&self.ground)).as_ref()?;
        Some((sweeps, self.climbs.get_or_init(|| Climbs::of(&self.ground, sweeps)).as_ref()?))
    }

    fn cut(mut self, ask: &Ask) -> Outcome<Zone<'a>> {
        self.stretches = stretches::cut(self.problem, &self.ground, ask, &mut self.findings);
        if is_large(self.ground.roads)
            && let Some(snapper) = Arc::get_mut(&mut self.ground.snapper)
        {
            snapper.index.forget();
        }
        rest(self.ground.roads);
        if self.stretches.is_empty() {
            return Err(Refusal::new(
                crate::finding::Code::NoRoads,
                Where::file(&self.problem.scenario),
                "no road that a tanker can come to and leave again lies in the zone",
                "check the area, and that the extract covers it",
            ));
        }
        Ok(self)
    }
}
