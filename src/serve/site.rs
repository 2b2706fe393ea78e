//! One scenario being served: what every route asks of the planner.

use crate::finding::{Code, Outcome, Refusal, Where};
use crate::output::sheet::{self, Wish, ground};
use crate::output::{ATTRIBUTION, CAUTIONS, backdrop, geojson, page};
use crate::place::{Bounds, Place};
use crate::plan::{self, Overrides, Problem, in_time};
use crate::serve::ask::{Corners, PlanAsk};
use crate::serve::lands::{Land, Lands};
use crate::serve::stream::Teller;
use crate::serve::tell::{IncidentAt, SiteTold, State, TankerTold, WayTold};
use crate::serve::work::Queue;
use crate::units::{Metres, Shown};
use axum::http::HeaderValue;
use std::path::PathBuf;
use std::sync::Arc;

/// A tap farther than this from every road means none.
const FARTHEST_TAP: Metres = Metres(100.0);
/// A map wider or higher than this is no map of an incident, degrees.
const WIDEST_DEG: f64 = 5.0;

pub struct Site {
    scenario: PathBuf,
    base: Overrides,
    lands: Lands,
    /// The scenario's own roads.
    home: Arc<Land>,
    roads_file: PathBuf,
    state: State,
    area: Bounds,
    bounds: Bounds,
    pub queue: Queue,
}

impl Site {
    /// Reads the scenario and opens its roads; what is wrong is told now rather than to the first who asks.
    pub fn open(
        scenario: PathBuf,
        base: Overrides,
        units: Shown,
        queue: Queue,
        progress: &mut dyn FnMut(u64, u64),
    ) -> Outcome<Site> {
        let problem = Problem::read_zone(&scenario, &base)?;
        let lands = Lands::new(&problem.roads);
        let home = lands.get(&problem.roads, &base.closed_ways, progress)?;
        let (state, area, bounds) = home.with_dependent(|roads, _| {
            let network = &roads.network;
            let shown = problem.incident.into_iter().chain(problem.listed_sites.iter().map(|s| s.place));
            let around = Bounds::around(shown).unwrap_or(network.bounds);
            (state(&problem, &base, network, units), backdrop::area(&around), network.bounds)
        });
        let roads_file = problem.roads.file.clone();
        Ok(Site { scenario, base, lands, home, roads_file, state, area, bounds, queue })
    }

    pub fn state(&self) -> &State {
        &self.state
    }

    /// The page without an answer, and the policy it runs under.
    pub fn page(&self) -> Option<(String, HeaderValue)> {
        let (html, policy) = page::live(&serde_json::json!({ "live": true }))?;
        Some((html, HeaderValue::from_str(&policy).ok()?))
    }

    fn solve<T>(
        &self,
        asked: &PlanAsk,
        teller: &Teller,
        write: impl FnOnce(&Problem, &plan::Answer, &Land) -> Outcome<T>,
    ) -> Outcome<T> {
        let overrides = asked.overrides(&self.base)?;
        let problem = Problem::read(&self.scenario, &overrides)?;
        let land = self.lands.get(&problem.roads, &overrides.closed_ways, &mut |_, _| {})?;
        let answer = land.with_dependent(|_, terrain| plan::plan_on(&problem, terrain, teller))?;
        write(&problem, &answer, &land)
    }

    /// The answer as `plan` writes it.
    pub fn plan(&self, asked: &PlanAsk, teller: &Teller) -> Outcome<String> {
        self.solve(asked, teller, |_, answer, _| Ok(geojson::write(answer)))
    }

    /// The page as `plan --page` writes it.
    pub fn page_of(&self, asked: &PlanAsk, teller: &Teller, shown: Shown) -> Outcome<String> {
        if !page::built() {
            let (cause, action) = page::MISSING;
            return Err(Refusal::new(Code::InputInvalid, Where::default().named("the page"), cause, action));
        }
        self.solve(asked, teller, |problem, answer, land| {
            let text = geojson::write(answer);
            let series = in_time::series(problem, answer)?;
            let found = page::Found { problem, answer, text: &text, series: &series };
            Ok(page::write(&found, &land.borrow_owner().network, shown))
        })
    }

    /// The sheets as `sheet --roads` writes them of that plan.
    pub fn sheet_of(&self, asked: &PlanAsk, teller: &Teller, wish: &Wish) -> Outcome<String> {
        const NAME: &str = "the answer";
        self.solve(asked, teller, |problem, answer, land| {
            let said = sheet::read(&geojson::write(answer), NAME)?;
            let around = sheet::bounds(&said, wish, NAME)?;
            let network = &land.borrow_owner().network;
            let ground = around.map(|bounds| ground::read(network, &problem.roads.file, &bounds));
            sheet::write(&said, wish, ground.as_ref(), NAME)
        })
    }

    /// The area of a map; errors: corners that are none.
    pub fn area(&self, corners: &Corners) -> Outcome<Bounds> {
        let bad = |cause: String| {
            let action = "give west, south, east and north in degrees, or none of them";
            Refusal::new(Code::InputInvalid, Where::default().named("the area"), cause, action)
        };
        let Corners { west, south, east, north } = *corners;
        let (west, south, east, north) = match (west, south, east, north) {
            (None, None, None, None) => return Ok(self.area),
            (Some(west), Some(south), Some(east), Some(north)) => (west, south, east, north),
            _ => return Err(bad("some of its sides are missing".into())),
        };
        let corner = |lon, lat| Place::from_lon_lat(lon, lat).map_err(|e| bad(e.to_string()));
        let (west_south, east_north) = (corner(west, south)?, corner(east, north)?);
        if west >= east || south >= north {
            return Err(bad("it has no width or no height".into()));
        }
        if east - west > WIDEST_DEG || north - south > WIDEST_DEG {
            return Err(bad(format!("it is wider or higher than {WIDEST_DEG} degrees")));
        }
        Ok(Bounds { west_south, east_north })
    }

    pub fn backdrop(&self, area: &Bounds) -> Outcome<String> {
        Ok(backdrop::read(&self.home.borrow_owner().network, &self.roads_file, area).to_string())
    }

    /// The place with its coordinates exchanged, if that lies within the roads and the place does not.
    pub fn exchanged(&self, place: Place) -> Option<Place> {
        let exchanged = place.exchanged()?;
        (!self.bounds.contains(place) && self.bounds.contains(exchanged)).then_some(exchanged)
    }

    /// The road nearest to a place.
    pub fn way(&self, place: Place) -> Outcome<WayTold> {
        self.home.with_dependent(|roads, terrain| {
            let near = terrain.snapper().index.within(place, FARTHEST_TAP);
            let nearest = near
                .into_iter()
                .min_by(|a, b| a.distance.0.total_cmp(&b.distance.0).then(a.segment.cmp(&b.segment)));
            let Some(spot) = nearest else {
                return Err(Refusal::new(
                    Code::OffTheRoads,
                    Where::default().at(place),
                    format!("no road lies within {FARTHEST_TAP:.0}"),
                    "tap nearer to the road",
                ));
            };
            let network = &roads.network;
            let index = network.segments[spot.segment].way as usize;
            let way = &network.ways[index];
            let same = |s: &usize| network.ways[network.segments[*s].way as usize].id == way.id;
            let stretches: Vec<usize> = (0..network.segments.len()).filter(same).collect();
            let shut = |s: &usize| {
                let tags = &network.ways[network.segments[*s].way as usize].tags;
                tags.local.as_ref().is_some_and(|local| local.closed.iter().all(Option::is_some))
            };
            let line = |s: &usize| network.points(*s).iter().map(|p| [p.lon(), p.lat()]).collect();
            Ok(WayTold {
                way: way.id,
                name: network.name(way).to_string(),
                class: way.tags.class.as_str(),
                lines: stretches.iter().map(line).collect(),
                distance_m: (spot.distance.0 * 10.0).round() / 10.0,
                closed: stretches.iter().all(shut),
            })
        })
    }
}

fn state(
    problem: &Problem,
    base: &Overrides,
    network: &crate::roads::network::Network,
    units: Shown,
) -> State {
    let at = |place: Place| [place.lon(), place.lat()];
    let mapped = problem.mapped(network);
    let site = |site: &crate::sites::fill::FillSite| SiteTold {
        name: site.name.clone(),
        kind: site.kind.as_str(),
        at: at(site.place),
        in_service: site.in_service,
        listed: site.verified,
    };
    State {
        version: env!("CARGO_PKG_VERSION"),
        scenario: problem.name.clone(),
        units: match units {
            Shown::Us => "us",
            Shown::Metric => "metric",
        },
        bbox: network.bounds.bbox(),
        incident: IncidentAt { name: problem.incident_name.clone(), at: problem.incident.map(at) },
        dump: problem.dump.map(at),
        need_gpm: problem.need.0,
        need_by: problem.need_found.by.key(),
        reliability: problem.terms.reliability,
        period_s: problem.terms.period.0,
        replications: problem.terms.replications,
        seed: problem.terms.seed,
        month: problem.month,
        when: base.when.clone().or(problem.when.clone()),
        water: problem.level.as_str(),
        tankers: problem
            .fleet
            .tankers
            .iter()
            .map(|tanker| TankerTold {
                id: tanker.chassis.id.clone(),
                tank_gal: tanker.tank.0,
                call: tanker.chassis.call.clone(),
            })
            .collect(),
        sites: problem.listed_sites.iter().chain(&mapped).map(site).collect(),
        cautions: CAUTIONS.to_vec(),
        attribution: ATTRIBUTION,
        sheet: true,
    }
}
