//! Turn restrictions, resolved to pairs of arcs that must not follow each other.

use crate::finding::{Code, Finding, Findings, OsmRef, Where};
use crate::roads::extract::RawRestriction;
use crate::roads::network::{Arc, Network};
use crate::roads::tags::TurnRule;
use serde::{Deserialize, Serialize};
use std::collections::HashMap;

/// Forbidden successions of arcs, sorted. `exempt` bans do not bind an emergency vehicle.
#[derive(Debug, Default, Clone, Serialize, Deserialize)]
pub struct TurnBans {
    banned: Vec<(Arc, Arc)>,
    /// Bans that carry `except=emergency`; left open.
    pub exempted: usize,
    /// Restrictions applied.
    pub applied: usize,
}

impl TurnBans {
    pub fn forbids(&self, from: Arc, to: Arc) -> bool {
        self.banned.binary_search(&(from, to)).is_ok()
    }
    /// Whether a network with so many arcs can be driven by these rules: for rules read from a file
    /// that anyone may have written. A new field must be judged here too.
    pub(super) fn fits(&self, arcs: usize) -> bool {
        let TurnBans { banned, exempted: _, applied: _ } = self;
        let known = |arc: Arc| arc.index() < arcs;
        banned.is_sorted() && banned.iter().all(|(from, to)| known(*from) && known(*to))
    }
    /// All bans, sorted by the arc they start from.
    pub fn pairs(&self) -> &[(Arc, Arc)] {
        &self.banned
    }
    pub fn len(&self) -> usize {
        self.banned.len()
    }
    pub fn is_empty(&self) -> bool {
        self.banned.is_empty()
    }
}

pub fn resolve(network: &Network, restrictions: &[RawRestriction], findings: &mut Findings) -> TurnBans {
    if restrictions.is_empty() {
        return TurnBans::default();
    }
    let mut arcs_at: HashMap<usize, Vec<Arc>> = HashMap::new();
    let wanted: HashMap<i64, ()> =
        restrictions.iter().flat_map(|r| r.via_nodes.iter().map(|n| (*n, ()))).collect();
    for arc in network.arcs() {
        let tail = network.tail(arc);
        if wanted.contains_key(&network.junctions[tail].osm_id) {
            arcs_at.entry(tail).or_default().push(arc);
        }
    }
    let junction_of: HashMap<i64, usize> =
        arcs_at.keys().map(|j| (network.junctions[*j].osm_id, *j)).collect();
    let mut bans = TurnBans::default();
    for restriction in restrictions {
        if restriction.exempt {
            bans.exempted += 1;
            continue;
        }
        if restriction.via_nodes.is_empty() && !restriction.via_ways.is_empty() {
            findings.add_new(Finding::new(
                Code::RestrictionViaWay,
                Where::osm(OsmRef::Relation(restriction.id)),
                "the restriction runs through a way and is not applied yet",
                "check the turn by hand where a loop passes it",
            ));
            continue;
        }
        match pairs(network, restriction, &arcs_at, &junction_of) {
            Ok(found) => {
                bans.applied += 1;
                bans.banned.extend(found);
            }
            Err(cause) => findings.add_new(Finding::new(
                Code::RestrictionBroken,
                Where::osm(OsmRef::Relation(restriction.id)),
                format!("{cause}; the restriction is not applied"),
                "correct the restriction in the map",
            )),
        }
    }
    bans.banned.sort_unstable();
    bans.banned.dedup();
    bans
}

fn pairs(
    network: &Network,
    restriction: &RawRestriction,
    arcs_at: &HashMap<usize, Vec<Arc>>,
    junction_of: &HashMap<i64, usize>,
) -> Result<Vec<(Arc, Arc)>, &'static str> {
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
    let leaving =
        junction_of.get(&via).and_then(|j| arcs_at.get(j)).ok_or("its via node is not on a road")?;
    let on = |arc: Arc, ways: &[i64]| ways.contains(&network.way(arc).id);
    let from: Vec<Arc> = leaving.iter().map(|a| a.reversed()).filter(|a| on(*a, &restriction.from)).collect();
    let to: Vec<Arc> = leaving.iter().copied().filter(|a| on(*a, &restriction.to)).collect();
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
