//! The incident on the road: where trucks are put, where the supply line leaves the road, where the officer
//! wants the dump site.

use crate::finding::{Code, Finding, Findings, Outcome, Refusal, Where};
use crate::place::Place;
use crate::plan::explain::road_of;
use crate::plan::ground::Ground;
use crate::plan::request::Problem;
use crate::routing::snap::Spot;
use crate::routing::trip;

#[derive(Clone, Copy, Debug)]
pub struct Fireground {
    pub incident: Place,
    /// The road nearest to the incident that a truck is put on.
    pub frontage: Spot,
    /// Where the supply line leaves the road: there too, or farther on, along a driveway that is nearer to
    /// the incident and closed to trucks. Hose has no traffic rules.
    pub hose_end: Spot,
    /// Where the officer wants the dump site, on the road.
    pub pinned: Option<Spot>,
}

impl Fireground {
    /// Errors: no incident, or a place off the roads.
    pub fn find(problem: &Problem, ground: &Ground, findings: &mut Findings) -> Outcome<Fireground> {
        let roads = ground.roads;
        let scenario = || Where::file(&problem.scenario);
        let named = || scenario().named(problem.incident_name.clone());
        let incident = problem.incident.ok_or_else(|| {
            Refusal::new(
                Code::InputInvalid,
                scenario(),
                "no incident is given",
                "write `at = [lon, lat]` under [incident], or use --incident LON,LAT",
            )
        })?;
        let frontage = ground.dump_spot(incident, named())?;
        let nearest = ground.snapper.beside(incident, trip::FARTHEST);
        let nearer = nearest.filter(|n| n.distance.0 + trip::SNAP_TOLERANCE.0 < frontage.distance.0);
        match &nearer {
            Some(end) => {
                let network = &roads.network;
                let way = &network.ways[network.segments[end.segment].way as usize];
                findings.add(Finding::new(
                    Code::HoseOffTruckRoads,
                    named().at(incident),
                    format!(
                        "trucks come no nearer than {:.0}; the supply line goes on by {} (way {}), which is \
                         closed to them",
                        frontage.distance,
                        road_of(network, end.segment),
                        way.id
                    ),
                    "look whether hose can be laid there, by hand if need be",
                ));
            }
            None => findings.extend(trip::moved(roads, &ground.snapper, incident, &frontage, named())),
        }
        // How far a pinned place was moved shows in the answer.
        let pinned =
            problem.dump.map(|place| ground.dump_spot(place, scenario().named("the pinned dump site")));
        Ok(Fireground {
            incident,
            frontage,
            hose_end: nearer.unwrap_or(frontage),
            pinned: pinned.transpose()?,
        })
    }
}
