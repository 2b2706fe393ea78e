//! Why something cannot be done, told by the map element that prevents it and its margin.

use crate::finding::{Code, Finding, OsmRef, Where};
use crate::overlay::Entry;
use crate::plan::cases::Case;
use crate::plan::ground::{Class, Errand, Ground};
use crate::plan::options::Field;
use crate::routing::access::Closure;
use crate::routing::graph::RoadGraph;
use crate::routing::search::{Search, Stand, Until};
use crate::routing::snap::Spot;
use crate::routing::why::{self, Obstacle};
use crate::sites::dump::HoseBed;
use crate::units::Metres;
use std::collections::BTreeMap;

/// Why nothing within the hose's reach can be a dump site: an answer, not an error of input.
pub fn no_dump_site(field: &Field) -> Finding {
    let (problem, ground) = (field.problem, field.ground);
    let distance = field.fire.hose_end.distance;
    if let Some(pinned) = &field.fire.pinned {
        return no_pinned_dump(field, pinned);
    }
    let hose = HoseBed::of(&problem.fleet).ok().flatten().map_or(Metres::ZERO, |bed| bed.total.metres());
    let why = match ground.classes.iter().max_by_key(|c| c.tankers.len()) {
        _ if hose.0 < distance.0 => Some(format!(
            "the incident lies {distance:.0} from the road and the supply hose is {hose:.0} long"
        )),
        // With a candidate there is a way.
        _ if field.forbidden.is_some() => {
            Some("an overlay forbids a dump site at every place within the supply hose's reach".into())
        }
        Some(class) => no_way_to(ground, class, &field.fire.frontage),
        None => None,
    };
    let why = why.unwrap_or_else(|| {
        format!(
            "the incident lies {distance:.0} from the road, and no road a tanker can come to and leave again \
             is within the supply hose's reach"
        )
    });
    Finding::new(
        Code::NoDumpSite,
        Where::file(&problem.scenario).named(problem.incident_name.clone()).at(field.fire.incident),
        why,
        "Carry more hose, relay from a road that is open, or use lighter tankers",
    )
}

/// Where an overlay allows no dump site.
pub fn dump_forbidden(entry: &Entry) -> Finding {
    let cause = format!("no dump site is tried inside this area: {}", entry.reason());
    Finding::new(Code::OverlayApplied, entry.place(), cause, "nothing to do while it is so")
}

/// Which sites of an option share a main or pond, and what each is given of it.
pub fn shared_sources(field: &Field, number: usize, case: &Case) -> Vec<Finding> {
    let mut groups: BTreeMap<&str, Vec<String>> = BTreeMap::new();
    for (site, fill) in case.fills.iter().zip(&case.shuttle.fills) {
        if let Some(shares) = &field.ground.sites[*site].site.details.shares {
            groups.entry(shares).or_default().push(format!("{} {:.0}", fill.name, fill.flow));
        }
    }
    let several = groups.into_iter().filter(|(_, sites)| sites.len() > 1);
    let tell = |(shares, sites): (&str, Vec<String>)| {
        Finding::new(
            Code::SiteShared,
            Where::default().named(format!("option {number}")),
            format!("sites on \"{shares}\" share what it gives; counted for each: {}", sites.join(", ")),
            "Have someone watch the pressure or the level; the utility knows what the main gives",
        )
    };
    several.map(tell).collect()
}

/// Why the dump site that the officer wants cannot be one. No other is tried: it was asked for.
fn no_pinned_dump(field: &Field, pinned: &Spot) -> Finding {
    let (problem, ground) = (field.problem, field.ground);
    let closed = || no_way_to(ground, ground.classes.iter().max_by_key(|c| c.tankers.len())?, pinned);
    let usable = ground.classes.iter().any(|class| class.can_use(pinned.segment, Errand::Dump));
    let why = match &field.forbidden {
        Some(entry) => format!("an overlay forbids a dump site there: {}", entry.reason()),
        None if !usable => closed().unwrap_or_else(|| "no tanker can come to it and leave again".into()),
        None => {
            let hose = HoseBed::of(&problem.fleet).ok().flatten().map_or(Metres::ZERO, |b| b.total.metres());
            format!(
                "it lies farther along the road from the incident than the supply hose is long, {hose:.0}"
            )
        }
    };
    Finding::new(
        Code::NoDumpSite,
        Where::file(&problem.scenario).named("the pinned dump site").at(pinned.place),
        why,
        "Choose another place, or leave it out and let the plan look for one",
    )
}

/// What closes the road nearest to a place, or the way to it, or the way back from it.
fn no_way_to(ground: &Ground, class: &Class, frontage: &Spot) -> Option<String> {
    let network = &ground.roads.network;
    // One direction open is a road open: a one-way street alone is no reason.
    let closures: Option<Vec<Closure>> =
        frontage.stands().iter().map(|s| class.full.closure(s.arc)).collect();
    if let Some(closure) = closures.and_then(|c| c.into_iter().find(|c| *c != Closure::OneWay)) {
        let way = &network.ways[network.segments[frontage.segment].way as usize];
        let obstacle = Obstacle { osm: OsmRef::Way(way.id), name: network.name(way).into(), closure };
        return Some(format!("the nearest road is closed to a full tanker: {obstacle}"));
    }
    // The road itself is open, but lies in a pocket: a tanker comes from its station full, and
    // goes to a fill site empty.
    let stands =
        |spots: &mut dyn Iterator<Item = Spot>| -> Vec<Stand> { spots.flat_map(|s| s.stands()).collect() };
    let stations = stands(&mut class.tankers.iter().filter_map(|t| ground.stations[*t]));
    let fills = stands(&mut ground.sites.iter().filter_map(|s| Some(s.state.as_ref().ok()?.spot)));
    let from = if stations.is_empty() { &fills } else { &stations };
    let here = frontage.stands();
    let table = &ground.roads.table;
    let coming = why::obstacles(&class.full, table, from, &here);
    if let Some(obstacle) = coming.first() {
        return Some(format!("no way for a full tanker leads to the nearest road: {obstacle}"));
    }
    let leaving = why::obstacles(&class.empty, table, &here, &fills);
    let obstacle = leaving.first()?;
    Some(format!("no way for an empty tanker leads away from the nearest road: {obstacle}"))
}

/// Why no tanker has a loop over the site, told for the class with most tankers.
pub fn no_loop(field: &Field, site: usize) -> String {
    let ground = field.ground;
    let (Ok(fill), Some(dump)) = (&ground.sites[site].state, field.dumps.first()) else {
        return "no loop".into();
    };
    let Some(class) = (0..ground.classes.len()).max_by_key(|c| ground.classes[*c].tankers.len()) else {
        return "no tanker".into();
    };
    let closed = || closed_way(ground, class, (&fill.spot, &dump.spot));
    let told = match &ground.around {
        Some(around) => {
            around.closed.get(ground.pair_key(class, (&fill.spot, &dump.spot)), closed).as_ref().clone()
        }
        None => closed(),
    };
    told.unwrap_or_else(|| format!("no loop within {} min a leg", field.problem.search.longest_leg_minutes))
}

/// What closes the way between a fill site and a dump site, if something does.
fn closed_way(ground: &Ground, class: usize, (fill, dump): (&Spot, &Spot)) -> Option<String> {
    let class = &ground.classes[class];
    let table = &ground.roads.table;
    let (at_fill, at_dump) = (fill.stands(), dump.stands());
    for (graph, from, to, leg) in
        [(&class.full, at_fill, at_dump, "loaded"), (&class.empty, at_dump, at_fill, "empty")]
    {
        // Most sites out of reach are only far; what closes a road is looked for where one does.
        if connected(graph, &from, &to) {
            continue;
        }
        if let Some(obstacle) = why::obstacles(graph, table, &from, &to).first() {
            return Some(format!("no {leg} way: {obstacle}"));
        }
    }
    None
}

fn connected(graph: &RoadGraph, from: &[Stand], to: &[Stand]) -> bool {
    let mut search = Search::new();
    from.iter().any(|origin| {
        to.iter().any(|goal| {
            search.forward(graph, *origin, u32::MAX - 1, |_| 0, Until::Settled(&[goal.arc]));
            search.ms_to(graph, *origin, *goal).is_some()
        })
    })
}
