//! Fleet, fill sites and incident put on the road.

use crate::finding::{Code, Finding, Findings, Outcome, Refusal, Where};
use crate::place::Place;
use crate::plan::around::Around;
use crate::plan::known::PairKey;
use crate::plan::request::Problem;
use crate::plan::terrain::{ClassRoads, Terrain};
use crate::plan::what_if;
use crate::routing::Roads;
use crate::routing::snap::Spot;
use crate::routing::trip::{self, Snapper};
use crate::shuttle::loops::ClassGraphs;
use crate::sites::fill::{FillSite, Readiness, ready};
use crate::units::{Gallons, GallonsPerMinute, Metres};
use crate::water::source::Basis;
use std::ops::Deref;
use std::sync::Arc;

/// Beyond this a site's stretch to its road is worth a look.
const SITE_NEAR_ROAD: Metres = Metres(60.0);

/// Tankers that find the same roads open and drive them in the same time.
#[derive(Debug)]
pub struct Class<'r> {
    ways: Arc<ClassRoads<'r>>,
    /// Indices into the fleet's tankers.
    pub tankers: Vec<usize>,
}

impl<'r> Deref for Class<'r> {
    type Target = ClassRoads<'r>;
    fn deref(&self) -> &ClassRoads<'r> {
        &self.ways
    }
}

/// What a tanker comes for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Errand {
    /// It comes full and leaves empty.
    Dump,
    /// It comes empty and leaves full.
    Fill,
    /// It stands there, full.
    Start,
}

impl<'r> Class<'r> {
    /// The class can come here and go again, with the load it has for the errand.
    pub fn can_use(&self, segment: usize, errand: Errand) -> bool {
        let (full, empty) = (&self.full_ways, &self.empty_ways);
        match errand {
            Errand::Dump => full.comes(segment) && empty.goes(segment),
            Errand::Fill => empty.comes(segment) && full.goes(segment),
            Errand::Start => full.goes(segment),
        }
    }
    /// Gives the memory back of all that searches need, unless others share it; whoever searches makes it anew.
    pub fn search_no_more(&mut self) {
        if let Some(ways) = Arc::get_mut(&mut self.ways) {
            for graph in [&mut ways.full, &mut ways.empty] {
                [true, false].into_iter().for_each(|onward| graph.forget(onward));
            }
        }
    }
    pub fn ways(&self) -> &Arc<ClassRoads<'r>> {
        &self.ways
    }
    /// Gives the memory back of searches full to the sites and empty from them, unless others share it.
    pub fn only_around_sites(&mut self) {
        if let Some(ways) = Arc::get_mut(&mut self.ways) {
            ways.full.forget(false);
            ways.empty.forget(true);
        }
    }
    /// The same tankers on the same roads, worked out once.
    pub fn is(&self, other: &Class) -> bool {
        Arc::ptr_eq(&self.ways, &other.ways) && self.tankers == other.tankers
    }
    pub fn graphs<'g>(&'g self, roads: &'g Roads) -> ClassGraphs<'g, 'r> {
        ClassGraphs { full: &self.full, empty: &self.empty, table: &roads.table }
    }
}

/// A fill site on its road, rated; or the reason why it is out.
#[derive(Clone, Debug)]
pub struct PlacedSite {
    pub site: FillSite,
    pub state: Result<PlacedFill, String>,
}

#[derive(Clone, Debug)]
pub struct PlacedFill {
    pub spot: Spot,
    pub flow: GallonsPerMinute,
    pub volume: Option<Gallons>,
    pub basis: Basis,
    /// What of it was measured, computed, assumed, and is unknown.
    pub told: String,
}

/// Everything that stands on the road before a dump site is chosen.
pub struct Ground<'r> {
    pub roads: &'r Roads,
    pub classes: Vec<Class<'r>>,
    pub sites: Vec<PlacedSite>,
    /// The station of each tanker on the road.
    pub stations: Vec<Option<Spot>>,
    pub snapper: Arc<Snapper<'r>>,
    /// Where searches are kept for the next request.
    pub around: Option<Arc<Around>>,
}

impl<'r> Ground<'r> {
    pub fn lay(problem: &Problem, roads: &'r Roads, findings: &mut Findings) -> Outcome<Ground<'r>> {
        Ground::on(problem, &Terrain::new(roads), findings)
    }

    /// On roads made ready before.
    pub fn on(problem: &Problem, terrain: &Terrain<'r>, findings: &mut Findings) -> Outcome<Ground<'r>> {
        let roads = terrain.roads;
        let (classes, snapper) = rayon::join(|| classes(problem, terrain), || terrain.snapper().clone());
        let snap = |place: Place, errand: Errand, farthest: Metres| {
            snap(&snapper, &classes, place, errand, farthest)
        };
        let sites = place_sites(problem, roads, &snap, findings)?;
        let mut refused = Vec::new();
        let mut stations = Vec::new();
        for tanker in &problem.fleet.tankers {
            let chassis = &tanker.chassis;
            let Some(place) = chassis.station else {
                stations.push(None);
                findings.add(Finding::new(
                    Code::ValueAssumed,
                    Where::file(&problem.fleet_file).named(chassis.id.clone()),
                    format!(
                        "no station is given; arrival {:.0} after turnout is assumed",
                        super::options::ASSUMED_ARRIVAL
                    ),
                    "give `station = [lon, lat]`",
                ));
                continue;
            };
            let spot = snap(place, Errand::Start, trip::FARTHEST);
            if spot.is_none() {
                let at = Where::file(&problem.fleet_file).named(format!("station of {}", chassis.id));
                refused.extend(trip::off_the_roads(roads, place, at, trip::FARTHEST).0);
            }
            if let Some(spot) = &spot {
                let at = Where::file(&problem.fleet_file).named(format!("station of {}", chassis.id));
                findings.extend(trip::moved(roads, &snapper, place, spot, at));
            }
            stations.push(spot);
        }
        if !refused.is_empty() {
            return Err(Refusal(refused));
        }
        Ok(Ground { roads, classes, sites, stations, snapper, around: terrain.around.clone() })
    }

    pub fn class_of(&self, tanker: usize) -> usize {
        self.classes.iter().position(|c| c.tankers.contains(&tanker)).unwrap_or(0)
    }

    pub(super) fn pair_key(&self, class: usize, (fill, dump): (&Spot, &Spot)) -> PairKey {
        PairKey { class: self.classes[class].ways.number, fill: fill.into(), dump: dump.into() }
    }

    /// A place of the request on a road where tankers can dump.
    pub fn dump_spot(&self, place: Place, what: Where) -> Outcome<Spot> {
        snap(&self.snapper, &self.classes, place, Errand::Dump, trip::FARTHEST)
            .ok_or_else(|| trip::off_the_roads(self.roads, place, what, trip::FARTHEST))
    }
}

/// Every tanker's road before some tanker's road before any road.
fn snap(
    snapper: &Snapper,
    classes: &[Class],
    place: Place,
    errand: Errand,
    farthest: Metres,
) -> Option<Spot> {
    let by_all = |segment: usize| classes.iter().all(|c| c.can_use(segment, errand));
    let by_any = |segment: usize| classes.iter().any(|c| c.can_use(segment, errand));
    let spot = snapper.snap(place, &by_all, farthest)?;
    if by_all(spot.segment) { Some(spot) } else { snapper.snap(place, &by_any, farthest) }
}

/// Groups the tankers by what the roads are to them.
fn classes<'r>(problem: &Problem, terrain: &Terrain<'r>) -> Vec<Class<'r>> {
    let mut classes: Vec<Class<'r>> = Vec::new();
    terrain.foresee(problem.fleet.tankers.iter().map(|tanker| &tanker.chassis));
    for (i, tanker) in problem.fleet.tankers.iter().enumerate() {
        let ways = terrain.class(&tanker.chassis);
        let same = |class: &&mut Class| {
            Arc::ptr_eq(&class.ways, &ways)
                || class.full.same_costs(&ways.full) && class.empty.same_costs(&ways.empty)
        };
        match classes.iter_mut().find(same) {
            Some(class) => class.tankers.push(i),
            None => classes.push(Class { ways, tankers: vec![i] }),
        }
    }
    classes
}

fn place_sites(
    problem: &Problem,
    roads: &Roads,
    snap: &dyn Fn(Place, Errand, Metres) -> Option<Spot>,
    findings: &mut Findings,
) -> Outcome<Vec<PlacedSite>> {
    let conditions = problem.conditions();
    let mapped = problem.mapped(&roads.network);
    let names: Vec<&str> =
        problem.listed_sites.iter().chain(&mapped).map(|site| site.name.as_str()).collect();
    what_if::refuse_unknown("fill site", &problem.without_mapped, &names)?;
    let mut refused = Vec::new();
    let mut placed = Vec::new();
    for site in problem.listed_sites.iter().cloned().chain(mapped) {
        let at = || site.origin.clone().named(site.name.clone());
        let readiness = ready(&site, problem.month, &conditions, findings).map_err(|e| e.finding(at()))?;
        let farthest = problem.search.site_to_road;
        let state = match (readiness, snap(site.place, Errand::Fill, farthest)) {
            (_, None) if site.verified => {
                refused.extend(trip::off_the_roads(roads, site.place, at(), farthest).0);
                continue;
            }
            (_, None) => Err(format!("no road that leads anywhere within {farthest:.0}")),
            (Readiness::Not { reason }, Some(_)) => Err(reason),
            (Readiness::Ready { flow, volume, basis, told }, Some(spot)) => {
                if spot.distance.0 > SITE_NEAR_ROAD.0 {
                    findings.add(Finding::new(
                        Code::SiteFarFromRoad,
                        at(),
                        format!("it lies {:.0} from the road it is served from", spot.distance),
                        "Check that a tanker or a hose reaches it, or correct its place",
                    ));
                }
                Ok(PlacedFill { spot, flow, volume, basis, told })
            }
        };
        placed.push(PlacedSite { site, state });
    }
    if refused.is_empty() { Ok(placed) } else { Err(Refusal(refused)) }
}
