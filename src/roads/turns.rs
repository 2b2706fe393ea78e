//! Turn restrictions, resolved to successions of arcs that must not be driven: pairs where the rule
//! runs through a node, longer ones where it runs through ways.

use crate::finding::{Code, Finding, Findings, OsmRef, Where};
use crate::roads::condition::Moment;
use crate::roads::extract::RawRestriction;
use crate::roads::network::{Arc, Network};
use crate::roads::tags::{BanHours, TurnRule};
use serde::{Deserialize, Serialize};
use std::collections::{HashMap, HashSet};

/// Forbidden successions of arcs, sorted.
#[derive(Debug, Default, Clone, Serialize, Deserialize)]
pub struct TurnBans {
    pairs: Vec<(Arc, Arc)>,
    /// Three arcs or more: from, through, to.
    sequences: Vec<Vec<Arc>>,
    /// Those in force at times, until they are settled.
    timed: Vec<TimedBan>,
    /// Restrictions with `except=emergency`; left open.
    pub exempted: usize,
    /// Restrictions applied.
    pub applied: usize,
}

/// What one restriction bars while it is in force.
#[derive(Debug, Clone, Serialize, Deserialize)]
struct TimedBan {
    relation: i64,
    hours: BanHours,
    pairs: Vec<(Arc, Arc)>,
    sequences: Vec<Vec<Arc>>,
}

impl TurnBans {
    /// Settles which of the bans at times are in force then; where that is not known they are, and it is
    /// told. `true` if one is not: turns are then more than those of the network as read.
    pub fn settle(&mut self, moment: &Moment, findings: &mut Findings) -> bool {
        let mut lifted = false;
        for ban in std::mem::take(&mut self.timed) {
            let (in_force, known) = ban.hours.in_force(moment);
            if !known {
                findings.add_new(Finding::new(
                    Code::ConditionUndecided,
                    Where::osm(OsmRef::Relation(ban.relation)),
                    format!("whether {} holds is not known; the turn is taken as barred", ban.hours.text),
                    "give the date and time (`when`), or check the turn by hand where a loop passes it",
                ));
            }
            if in_force {
                self.pairs.extend(ban.pairs);
                self.sequences.extend(ban.sequences);
            }
            lifted |= !in_force;
        }
        self.sort();
        lifted
    }

    /// As if all bans at times were in force.
    pub fn all_in_force(&self) -> TurnBans {
        let mut all = self.clone();
        for ban in std::mem::take(&mut all.timed) {
            all.pairs.extend(ban.pairs);
            all.sequences.extend(ban.sequences);
        }
        all.sort();
        all
    }

    fn sort(&mut self) {
        self.pairs.sort_unstable();
        self.pairs.dedup();
        self.sequences.sort_unstable();
        self.sequences.dedup();
    }

    /// Whether one arc must not follow another.
    pub fn forbids(&self, from: Arc, to: Arc) -> bool {
        self.pairs.binary_search(&(from, to)).is_ok()
    }
    /// Whether a network with so many arcs can be driven by these rules: for rules read from a file
    /// that anyone may have written. A new field must be judged here too.
    pub(super) fn fits(&self, arcs: usize) -> bool {
        let TurnBans { pairs, sequences, timed, exempted: _, applied: _ } = self;
        let known = |arc: Arc| arc.index() < arcs;
        let fit = |pairs: &[(Arc, Arc)], sequences: &[Vec<Arc>]| {
            pairs.iter().all(|(from, to)| known(*from) && known(*to))
                && sequences.iter().all(|arcs| arcs.len() > 2 && arcs.iter().all(|arc| known(*arc)))
        };
        pairs.is_sorted() && fit(pairs, sequences) && timed.iter().all(|ban| fit(&ban.pairs, &ban.sequences))
    }
    /// Bans of one arc after another, sorted by the arc they start from.
    pub fn pairs(&self) -> &[(Arc, Arc)] {
        &self.pairs
    }
    /// Bans of longer successions, sorted; none is driven as a whole.
    pub fn sequences(&self) -> &[Vec<Arc>] {
        &self.sequences
    }
    pub fn len(&self) -> usize {
        self.pairs.len() + self.sequences.len()
    }
    pub fn is_empty(&self) -> bool {
        self.len() == 0
    }
}

/// Arcs near restrictions, looked up by the members' ids.
struct Near<'n> {
    network: &'n Network,
    /// Arcs that leave a junction which a restriction's via touches.
    leaving: HashMap<usize, Vec<Arc>>,
    junction_of: HashMap<i64, usize>,
    /// Arcs of each via way, in both directions.
    arcs_of: HashMap<i64, Vec<Arc>>,
}

impl<'n> Near<'n> {
    fn find(network: &'n Network, restrictions: &[RawRestriction]) -> Near<'n> {
        let nodes: HashSet<i64> = restrictions.iter().flat_map(|r| r.via_nodes.iter().copied()).collect();
        let ways: HashSet<i64> = restrictions.iter().flat_map(|r| r.via_ways.iter().copied()).collect();
        let mut near =
            Near { network, leaving: HashMap::new(), junction_of: HashMap::new(), arcs_of: HashMap::new() };
        let mut wanted: HashSet<usize> = HashSet::new();
        for (j, junction) in network.junctions.iter().enumerate() {
            if nodes.contains(&junction.osm_id) {
                near.junction_of.insert(junction.osm_id, j);
                wanted.insert(j);
            }
        }
        if !ways.is_empty() {
            for arc in network.arcs().filter(|arc| ways.contains(&network.way(*arc).id)) {
                near.arcs_of.entry(network.way(arc).id).or_default().push(arc);
                wanted.insert(network.tail(arc));
            }
        }
        for arc in network.arcs().filter(|arc| wanted.contains(&network.tail(*arc))) {
            near.leaving.entry(network.tail(arc)).or_default().push(arc);
        }
        near
    }

    fn leaving(&self, junction: usize) -> &[Arc] {
        self.leaving.get(&junction).map_or(&[], Vec::as_slice)
    }
    fn on(&self, arc: Arc, ways: &[i64]) -> bool {
        ways.contains(&self.network.way(arc).id)
    }
}

pub fn resolve(network: &Network, restrictions: &[RawRestriction], findings: &mut Findings) -> TurnBans {
    let mut bans = TurnBans::default();
    if restrictions.is_empty() {
        return bans;
    }
    let near = Near::find(network, restrictions);
    for restriction in restrictions {
        if restriction.exempt {
            bans.exempted += 1;
            continue;
        }
        let through_ways = restriction.via_nodes.is_empty() && !restriction.via_ways.is_empty();
        let found = if through_ways {
            sequences(&near, restriction).map(|found| (Vec::new(), found))
        } else {
            pairs(&near, restriction).map(|found| (found, Vec::new()))
        };
        match found {
            Ok((pairs, sequences)) => {
                bans.applied += 1;
                if restriction.hours.are_all() {
                    bans.pairs.extend(pairs);
                    bans.sequences.extend(sequences);
                } else {
                    let (relation, hours) = (restriction.id, restriction.hours.clone());
                    bans.timed.push(TimedBan { relation, hours, pairs, sequences });
                }
            }
            Err(cause) => findings.add_new(Finding::new(
                Code::RestrictionBroken,
                Where::osm(OsmRef::Relation(restriction.id)),
                format!("{cause}; the restriction is not applied"),
                "correct the restriction in the map",
            )),
        }
    }
    bans.sort();
    bans
}

/// Successions through the via ways: into the first from a from-way, along them without leaving,
/// and into the to-way.
fn sequences(near: &Near, restriction: &RawRestriction) -> Result<Vec<Vec<Arc>>, &'static str> {
    if restriction.from.is_empty() || restriction.to.is_empty() {
        return Err("its from or to member is missing");
    }
    let via = &restriction.via_ways;
    let network = near.network;
    let ends: HashSet<usize> = via
        .iter()
        .flat_map(|way| near.arcs_of.get(way).into_iter().flatten())
        .map(|arc| network.tail(*arc))
        .collect();
    let mut starts: Vec<Arc> = ends
        .iter()
        .flat_map(|j| near.leaving(*j))
        .map(|arc| arc.reversed())
        .filter(|arc| near.on(*arc, &restriction.from))
        .collect();
    starts.sort_unstable();
    let mut found = Vec::new();
    let mut path = Vec::new();
    for from in starts {
        path.push(from);
        along(near, restriction, &mut path, &mut found);
        path.pop();
    }
    if found.is_empty() {
        return Err("its members do not form a way through");
    }
    Ok(found)
}

/// Follows the via ways from the last arc of `path` and notes each forbidden succession.
fn along(near: &Near, restriction: &RawRestriction, path: &mut Vec<Arc>, found: &mut Vec<Vec<Arc>>) {
    let network = near.network;
    let Some(&last) = path.last() else { return };
    let next = near.leaving(network.head(last));
    if path.len() > 1 {
        let to_way = |arc: &Arc| near.on(*arc, &restriction.to) && !near.on(*arc, &restriction.via_ways);
        if next.iter().any(to_way) {
            let forbidden = next.iter().filter(|arc| match restriction.rule {
                TurnRule::No => to_way(arc),
                // Turning back on the via way is no way round an "only" rule.
                TurnRule::Only => !to_way(arc),
            });
            found.extend(forbidden.map(|arc| path.iter().copied().chain([*arc]).collect()));
            return;
        }
    }
    for &arc in next {
        let fresh = !path.iter().any(|p| p.segment() == arc.segment());
        if fresh && near.on(arc, &restriction.via_ways) {
            path.push(arc);
            along(near, restriction, path, found);
            path.pop();
        }
    }
}

/// Pairs at the via node.
fn pairs(near: &Near, restriction: &RawRestriction) -> Result<Vec<(Arc, Arc)>, &'static str> {
    let network = near.network;
    let [via] = restriction.via_nodes[..] else {
        return Err(if restriction.via_nodes.is_empty() {
            "it has no via"
        } else {
            "it has several via nodes"
        });
    };
    if restriction.from.is_empty() || restriction.to.is_empty() {
        return Err("its from or to member is missing");
    }
    let junction = near.junction_of.get(&via).ok_or("its via node is not on a road")?;
    let leaving = near.leaving(*junction);
    let from: Vec<Arc> =
        leaving.iter().map(|a| a.reversed()).filter(|a| near.on(*a, &restriction.from)).collect();
    let to: Vec<Arc> = leaving.iter().copied().filter(|a| near.on(*a, &restriction.to)).collect();
    if from.is_empty() || to.is_empty() {
        return Err("its from or to way does not touch the via node, or is no road for trucks");
    }
    // Where a rule names the same way twice, "no" can only mean turning back and "only" going on.
    let same_way = |a: Arc, b: Arc| network.segment(a).way == network.segment(b).way;
    let named = |a: Arc, b: Arc| to.contains(&b) && (b == a.reversed() || !same_way(a, b));
    let going_on = |a: Arc, b: Arc| to.contains(&b) && b != a.reversed();
    let mut found = Vec::new();
    for &a in &from {
        let forbidden = leaving.iter().copied().filter(|&b| match restriction.rule {
            TurnRule::No => named(a, b),
            TurnRule::Only => !going_on(a, b),
        });
        found.extend(forbidden.map(|b| (a, b)));
    }
    Ok(found)
}
