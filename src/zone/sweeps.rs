//! What times of all sites at once are worked out on, where the roads have a hierarchy and the sites are so many
//! that it pays.

use super::block::wanted;
use super::times::Wanted;
use crate::plan::Problem;
use crate::plan::ground::{Class, Ground};
use crate::routing::Roads;
use crate::routing::graph::RoadGraph;
use crate::routing::hierarchy::costs::{Costs, Way, costs};
use crate::routing::hierarchy::sweep::{Climb, Climber, steps};
use crate::routing::search::Stand;
use rayon::prelude::*;

/// Searches that a hierarchy and its costs take as long as (about 60 on the Isle of Man).
const WORTH: usize = 100;

/// How the drives of a leg lead, seen from the fill site: loaded from it, empty to it.
pub const WAYS: [Way; 2] = [Way::From, Way::To];

pub fn graph<'g, 'r>(class: &'g Class<'r>, leg: usize) -> &'g RoadGraph<'r> {
    if leg == 0 { &class.full } else { &class.empty }
}

/// Fill sites that are not out.
pub fn ready(ground: &Ground) -> usize {
    ground.sites.iter().filter(|site| site.state.is_ok()).count()
}

/// Costs by class and leg.
pub struct Sweeps {
    costs: Vec<Costs>,
}

impl Sweeps {
    /// Makes the hierarchy while the ground is laid, if so many sites are listed that it will be asked for.
    pub fn foresee(problem: &Problem, roads: &Roads) {
        let sites = problem.listed_sites.len();
        // Of more sites only the nearest are searched for.
        if sites * 4 >= WORTH && wanted(problem).of(sites) == Wanted::All {
            roads.topology.hierarchy();
            roads.topology.seats(&roads.network);
        }
    }

    /// Whether the sites of a ground are enough.
    pub fn pay(ground: &Ground) -> bool {
        ready(ground) * ground.classes.len() * 4 >= WORTH
    }

    pub fn of(ground: &Ground) -> Option<Sweeps> {
        let hierarchy = ground.roads.topology.hierarchy()?;
        let graphs: Vec<(&RoadGraph, Way)> = ground
            .classes
            .iter()
            .flat_map(|class| [0, 1].map(|leg| (graph(class, leg), WAYS[leg])))
            .collect();
        Some(Sweeps { costs: costs(hierarchy, &graphs) })
    }

    pub fn costs(&self, class: usize, leg: usize) -> &Costs {
        &self.costs[class * 2 + leg]
    }
}

/// Climbs from both sides of every fill site of a ground.
pub struct Climbs {
    /// By class and leg, then site, then side; none of a site that is out.
    of: Vec<Vec<Option<[Climb; 2]>>>,
}

impl Climbs {
    pub fn of(ground: &Ground, sweeps: &Sweeps) -> Option<Climbs> {
        let hierarchy = ground.roads.topology.hierarchy()?;
        let stands: Vec<Option<[Stand; 2]>> =
            ground.sites.iter().map(|site| Some(site.state.as_ref().ok()?.spot.stands())).collect();
        let flat: Vec<Stand> = stands.iter().flatten().flatten().copied().collect();
        let of = (0..ground.classes.len() * 2).into_par_iter().map(|at| {
            let (class, leg) = (at / 2, at % 2);
            let costs = sweeps.costs(class, leg);
            let mut climber = Climber::default();
            let steps = steps(graph(&ground.classes[class], leg), WAYS[leg], &flat);
            let mut climbs = steps.iter().map(|steps| climber.climb(hierarchy, costs, steps));
            let mut next = || climbs.next().unwrap_or_default();
            stands.iter().map(|stands| stands.map(|_| [next(), next()])).collect()
        });
        Some(Climbs { of: of.collect() })
    }

    pub fn around(&self, class: usize, leg: usize, site: usize) -> Option<&[Climb; 2]> {
        self.of[class * 2 + leg][site].as_ref()
    }
}
