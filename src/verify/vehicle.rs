//! The roads as one vehicle at one load finds them, its quickest drives by petgraph's Dijkstra.

use crate::roads::network::Arc;
use crate::routing::access::{self, Flags};
use crate::routing::pace::Pace;
use crate::vehicle::Body;
use crate::verify::drive::{Ground, OnRoad, ms};
use crate::verify::trace::Trace;
use petgraph::graph::{DiGraph, NodeIndex};
use petgraph::visit::{Dfs, Reversed};
use std::collections::HashMap;
use std::sync::Mutex;

/// Quickest times in milliseconds from the start of an arc to the start of every arc reached.
type FromArc = std::sync::Arc<HashMap<NodeIndex, u64>>;

/// The roads as one vehicle at one load finds them.
pub struct Vehicle {
    /// Milliseconds per arc, none where it is closed.
    pub arc_ms: Vec<Option<u64>>,
    /// Milliseconds lost at a junction, none where it cannot be passed.
    pub pass_ms: Vec<Option<u64>>,
    /// Node `i` is arc `i` with nothing remembered, further nodes are arcs on which part of a ban
    /// through ways has been driven. An edge leads from the start of an arc to the start of the next.
    graph: DiGraph<(), u64>,
    further: Vec<(Arc, NodeIndex)>,
    /// Reached from the largest part in which every arc can be reached from every other.
    come: Vec<bool>,
    /// That part can be reached from it.
    go: Vec<bool>,
    known: Mutex<HashMap<Arc, FromArc>>,
}

impl Vehicle {
    pub fn new(ground: &Ground, body: &Body) -> Vehicle {
        let (arc_ms, pass_ms) = times(ground, body);
        let network = ground.network();
        let mut graph = DiGraph::with_capacity(network.arc_count(), network.arc_count() * 2);
        let mut states: Vec<(Arc, Driven)> = Vec::new();
        let mut node_of: HashMap<(Arc, Driven), NodeIndex> = HashMap::new();
        for arc in network.arcs() {
            let driven = advance(ground, &Vec::new(), arc).unwrap_or_default();
            node_of.insert((arc, driven.clone()), graph.add_node(()));
            states.push((arc, driven));
        }
        let mut further = Vec::new();
        let mut next = 0;
        while let Some((from, driven)) = states.get(next).cloned() {
            for step in steps(ground, &arc_ms, &pass_ms, from, &driven) {
                let state = (step.to, step.driven);
                let to = *node_of.entry(state.clone()).or_insert_with(|| {
                    states.push(state.clone());
                    let node = graph.add_node(());
                    further.push((state.0, node));
                    node
                });
                let own = arc_ms[from.index()].unwrap_or_default();
                graph.add_edge(NodeIndex::new(next), to, own + step.ms);
            }
            next += 1;
        }
        let parts = petgraph::algo::kosaraju_scc(&graph);
        let main = parts.iter().max_by_key(|part| part.len()).and_then(|part| part.first());
        let [mut come, mut go] = [(); 2].map(|()| vec![false; network.arc_count()]);
        if let Some(main) = main {
            let mut from_main = Dfs::new(&graph, *main);
            while let Some(node) = from_main.next(&graph) {
                come[states[node.index()].0.index()] = true;
            }
            let backwards = Reversed(&graph);
            let mut to_main = Dfs::new(backwards, *main);
            while let Some(node) = to_main.next(backwards) {
                go[states[node.index()].0.index()] = true;
            }
        }
        Vehicle { arc_ms, pass_ms, graph, further, come, go, known: Mutex::new(HashMap::new()) }
    }

    /// It can come here in one direction or the other, and get away again, turning here if it must.
    pub fn can_use(&self, segment: usize) -> bool {
        let either = |of: &[bool]| of[segment * 2] || of[segment * 2 + 1];
        either(&self.come) && either(&self.go)
    }
    /// Milliseconds from the arc's start to a fraction of its length.
    pub fn part(&self, arc: Arc, fraction: f64) -> Option<u64> {
        Some((self.arc_ms[arc.index()]? as f64 * fraction.clamp(0.0, 1.0)).round() as u64)
    }

    /// All nodes of an arc.
    fn nodes(&self, arc: Arc) -> impl Iterator<Item = NodeIndex> + '_ {
        let further = self.further.iter().filter(move |(of, _)| *of == arc).map(|(_, node)| *node);
        std::iter::once(NodeIndex::new(arc.index())).chain(further)
    }

    fn times_after(&self, arc: Arc) -> FromArc {
        let mut known = match self.known.lock() {
            Ok(known) => known,
            Err(poisoned) => poisoned.into_inner(),
        };
        known
            .entry(arc)
            .or_insert_with(|| {
                let start = NodeIndex::new(arc.index());
                let times = petgraph::algo::dijkstra(&self.graph, start, None, |e| *e.weight());
                FromArc::new(times.into_iter().collect())
            })
            .clone()
    }

    /// Quickest milliseconds from a place, leaving along one arc, to a place, arriving along another.
    pub fn quickest(&self, from: OnRoad, leaving: Arc, to: OnRoad, arriving: Arc) -> Option<u64> {
        let (start, end) =
            (self.part(leaving, from.along(leaving))?, self.part(arriving, to.along(arriving))?);
        if leaving == arriving && to.along(arriving) >= from.along(leaving) {
            return Some(end.saturating_sub(start));
        }
        let times = self.times_after(leaving);
        // Leaving and arriving on one arc means round the block and into it again.
        let again = |goal: NodeIndex| {
            let into = self.graph.edges_directed(goal, petgraph::Direction::Incoming);
            into.filter_map(|edge| {
                Some(times.get(&petgraph::visit::EdgeRef::source(&edge))? + *edge.weight())
            })
            .min()
        };
        let to_goal = self
            .nodes(arriving)
            .filter_map(|goal| if leaving == arriving { again(goal) } else { times.get(&goal).copied() })
            .min()?;
        Some((to_goal + end).saturating_sub(start))
    }

    /// Milliseconds of a row of arcs, from a fraction of the first to a fraction of the last, or
    /// what is in the way.
    pub fn drive(
        &self,
        ground: &Ground,
        arcs: &[Arc],
        from: f64,
        to: f64,
    ) -> Result<u64, (&'static str, String)> {
        let network = ground.network();
        let closed = |arc: Arc| ("leg.open", format!("way {} is closed to it", network.way(arc).id));
        let mut sum = 0;
        let mut driven = Driven::new();
        for (i, &arc) in arcs.iter().enumerate() {
            let whole = self.arc_ms[arc.index()].ok_or_else(|| closed(arc))?;
            let start = if i == 0 { self.part(arc, from).unwrap_or(0) } else { 0 };
            let end = if i + 1 == arcs.len() { self.part(arc, to).unwrap_or(whole) } else { whole };
            sum += end.saturating_sub(start);
            if i == 0 {
                driven = advance(ground, &driven, arc).unwrap_or_default();
            }
            let Some(&next) = arcs.get(i + 1) else { continue };
            let possible = steps(ground, &self.arc_ms, &self.pass_ms, arc, &driven);
            let Some(step) = possible.into_iter().find(|step| step.to == next) else {
                let junction = &network.junctions[network.head(arc)];
                if self.arc_ms[next.index()].is_none() {
                    return Err(closed(next));
                }
                if self.pass_ms[network.head(arc)].is_none() {
                    return Err(("leg.open", format!("node {} cannot be passed", junction.osm_id)));
                }
                let why = ground.turn(arc, next).err().unwrap_or("a restriction through ways forbids it");
                let (from, to) = (network.way(arc).id, network.way(next).id);
                return Err((
                    "leg.turns",
                    format!("way {from} to way {to} at node {}: {why}", junction.osm_id),
                ));
            };
            sum += step.ms;
            driven = step.driven;
        }
        Ok(sum)
    }
}

impl Vehicle {
    /// Milliseconds from the start of a drive to the start of each of its arcs; that of the first lies
    /// before the drive. None where it cannot be driven.
    pub fn starts(&self, ground: &Ground, trace: &Trace) -> Option<Vec<i64>> {
        let first = *trace.arcs.first()?;
        let mut at = -(self.part(first, trace.from)? as i64);
        let mut driven = advance(ground, &Driven::new(), first)?;
        let mut starts = vec![at];
        for pair in trace.arcs.windows(2) {
            let possible = steps(ground, &self.arc_ms, &self.pass_ms, pair[0], &driven);
            let step = possible.into_iter().find(|step| step.to == pair[1])?;
            at += (self.arc_ms[pair[0].index()]? + step.ms) as i64;
            starts.push(at);
            driven = step.driven;
        }
        Some(starts)
    }
}

/// Bans through ways of which a part has been driven: which, and how many of its arcs.
type Driven = Vec<(usize, usize)>;

/// What has been driven of each ban after one more arc; none where that completes a ban.
fn advance(ground: &Ground, driven: &Driven, arc: Arc) -> Option<Driven> {
    let bans = ground.network().bans.sequences();
    let mut after: Driven = Vec::new();
    for (b, ban) in bans.iter().enumerate() {
        let begun = driven.iter().filter(|(of, _)| *of == b).map(|(_, arcs)| *arcs);
        for arcs in begun.chain([0]) {
            if ban[arcs] == arc {
                after.push((b, arcs + 1));
            }
        }
    }
    (!after.iter().any(|(b, arcs)| bans[*b].len() == *arcs)).then_some(after)
}

/// One arc further.
struct Step {
    to: Arc,
    /// Milliseconds of the junction and the turn.
    ms: u64,
    driven: Driven,
}

/// Where a vehicle can go from the end of an arc.
fn steps(
    ground: &Ground,
    arc_ms: &[Option<u64>],
    pass_ms: &[Option<u64>],
    from: Arc,
    driven: &Driven,
) -> Vec<Step> {
    let network = ground.network();
    if arc_ms[from.index()].is_none() {
        return Vec::new();
    }
    let mut found: Vec<Step> = Vec::new();
    if let Some(pass) = pass_ms[network.head(from)] {
        for &to in ground.onward(from) {
            let after = advance(ground, driven, to);
            if let (Some(_), Some(driven), Ok(turn)) = (arc_ms[to.index()], after, ground.turn(from, to)) {
                found.push(Step { to, ms: pass + turn, driven });
            }
        }
    }
    found
}

/// Arc and junction times of one body.
pub fn times(ground: &Ground, body: &Body) -> (Vec<Option<u64>>, Vec<Option<u64>>) {
    let (network, roads) = (ground.network(), ground.roads);
    let shape = roads.topology.shape(network);
    let pace = Pace::new(network, &shape, &roads.table, body);
    let arc_ms = network
        .arcs()
        .map(|arc| {
            let way = network.way(arc);
            access::way(way.id, &way.tags, body, &roads.policy).ok()?;
            access::direction(way.id, &way.tags, body, arc.forward(), &roads.policy).ok()?;
            let speed = roads.table.speed(&way.tags, arc.forward(), body.load);
            // Bends and grades are taken from the router: braking and speeding up to the millisecond
            // cannot be had by plain means. tests/worlds_curves.rs holds them to small steps.
            if !pace.is_plain(arc) {
                return Some(ms(pace.seconds(arc, speed)).max(1));
            }
            Some(ms(network.length(arc).0 / speed.0).max(1))
        })
        .collect();
    let delay = &roads.table.delay;
    let pass_ms = (0..network.junctions.len())
        .map(|j| match network.mark(j) {
            None => Some(0),
            // A driver who has stopped at a gate has not stopped at the signal beside it as well.
            Some(mark) => access::node(mark, body, &roads.policy).ok().map(|flags| match mark.signal {
                _ if flags.has(Flags::GATE) => ms(delay.gate),
                true => ms(delay.signal),
                false => 0,
            }),
        })
        .collect();
    (arc_ms, pass_ms)
}
