//! Times between a few places and all states, sixteen places at once.

use super::Hierarchy;
use super::costs::{Costs, Way};
use crate::roads::network::Arc;
use crate::routing::graph::RoadGraph;
use crate::routing::search::Stand;
use multiversion::multiversion;

/// Places swept together.
pub const LANES: usize = 16;
/// Milliseconds by place; infinite where there is no way. One line of the processor's memory.
#[derive(Clone, Copy, Debug)]
#[repr(align(64))]
pub struct Lanes(pub [f32; LANES]);

impl Lanes {
    pub const NOWHERE: Lanes = Lanes([f32::INFINITY; LANES]);
}

/// The states above a place, with the milliseconds of a drive that only climbs.
pub type Climb = Vec<(u32, f32)>;

/// The first steps of drives from stands, or the last of drives to them: states with milliseconds, as `Search` counts
/// them. None of a stand on a closed arc.
pub fn steps(graph: &RoadGraph, way: Way, stands: &[Stand]) -> Vec<Vec<(Arc, u32)>> {
    let mut steps = vec![Vec::new(); stands.len()];
    let rest_ms = |stand: &Stand| graph.rest_ms(stand.arc, stand.fraction);
    match way {
        Way::From => {
            for (stand, steps) in stands.iter().zip(&mut steps).filter(|(s, _)| graph.is_open(s.arc)) {
                let edges = graph.open_turns(stand.arc);
                steps.extend(edges.map(|edge| (edge.to, rest_ms(stand).saturating_add(edge.ms))));
            }
        }
        Way::To => {
            // Turns are kept by the state they leave: one look at all of them serves all stands.
            let mut goals: Vec<(Arc, usize)> = stands.iter().map(|stand| stand.arc).zip(0..).collect();
            goals.sort_unstable_by_key(|(arc, _)| arc.0);
            let mut is_goal = vec![false; graph.topology.state_count()];
            goals.iter().for_each(|(arc, _)| is_goal[arc.index()] = true);
            graph.topology.further().for_each(|(state, arc)| is_goal[state.index()] = is_goal[arc.index()]);
            for state in (0..graph.topology.state_count() as u32).map(Arc) {
                if !graph.topology.after(state).any(|turn| is_goal[turn.to.index()]) {
                    continue;
                }
                for edge in graph.open_turns(state).filter(|edge| is_goal[edge.to.index()]) {
                    let arc = graph.topology.arc(edge.to);
                    let from = goals.partition_point(|(goal, _)| goal.0 < arc.0);
                    for (_, number) in goals[from..].iter().take_while(|(goal, _)| *goal == arc) {
                        // An edge holds the whole of the arc it leads into; the stand lies part of the way along.
                        steps[*number].push((state, edge.ms - rest_ms(&stands[*number])));
                    }
                }
            }
        }
    }
    steps
}

/// Memory of climbs.
#[derive(Debug, Default)]
pub struct Climber {
    ms: Vec<f32>,
}

impl Climber {
    /// From the first steps of a place to all above them.
    pub fn climb(&mut self, hierarchy: &Hierarchy, costs: &Costs, steps: &[(Arc, u32)]) -> Climb {
        self.ms.resize(hierarchy.len(), f32::INFINITY);
        let mut open: Vec<u32> = Vec::with_capacity(steps.len());
        for (state, ms) in steps {
            let rank = hierarchy.rank(*state);
            let known = &mut self.ms[rank as usize];
            *known = known.min(*ms as f32);
            open.push(rank);
        }
        let mut climb = Climb::new();
        // The lowest first, so that all below a state are done when it is come to; ways that meet go on as one.
        while let Some(rank) = open.iter().copied().min() {
            open.retain(|other| *other != rank);
            open.extend(hierarchy.parent(rank));
            let ms = self.ms[rank as usize];
            for join in hierarchy.range(rank) {
                let known = &mut self.ms[hierarchy.upper[join] as usize];
                let by = ms + costs.climb[join];
                *known = if by < *known { by } else { *known };
            }
            climb.push((rank, ms));
        }
        climb.iter().for_each(|(rank, _)| self.ms[*rank as usize] = f32::INFINITY);
        climb
    }
}

/// What is known of a rank before a sweep comes to it.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
enum Before {
    #[default]
    Unwanted,
    Nothing,
    /// What climbs found.
    Climbed,
}

/// Memory of sweeps.
#[derive(Debug, Default)]
pub struct Sweeper {
    ms: Vec<Lanes>,
    before: Vec<Before>,
}

impl Sweeper {
    /// Times to or from all of `ranks`, which [`Hierarchy::above`] gave, for the places of these climbs.
    pub fn sweep(&mut self, hierarchy: &Hierarchy, costs: &Costs, ranks: &[u32], climbs: &[&Climb]) {
        self.ms.resize(hierarchy.len(), Lanes::NOWHERE);
        self.before.resize(hierarchy.len(), Before::Unwanted);
        ranks.iter().for_each(|rank| self.before[*rank as usize] = Before::Nothing);
        for (lane, climb) in climbs.iter().enumerate() {
            for (rank, ms) in climb.iter() {
                let (known, before) = (&mut self.ms[*rank as usize], &mut self.before[*rank as usize]);
                match before {
                    Before::Unwanted => continue,
                    Before::Nothing => (*known, *before) = (Lanes::NOWHERE, Before::Climbed),
                    Before::Climbed => {}
                }
                known.0[lane] = *ms;
            }
        }
        descend(costs, ranks, &mut self.before, &mut self.ms);
    }

    /// By rank, of those swept.
    pub fn ms(&self) -> &[Lanes] {
        &self.ms
    }
}

/// From the highest rank down, each by all above it.
#[multiversion(targets("x86_64+avx512f", "x86_64+avx2"))]
fn descend(costs: &Costs, ranks: &[u32], before: &mut [Before], ms: &mut [Lanes]) {
    for rank in ranks {
        let at = *rank as usize;
        let climbed = std::mem::take(&mut before[at]) == Before::Climbed;
        let mut own = if climbed { ms[at].0 } else { Lanes::NOWHERE.0 };
        for (upper, cost) in &costs.descend[costs.start[at] as usize..costs.start[at + 1] as usize] {
            let above = &ms[*upper as usize].0;
            for lane in 0..LANES {
                let by = above[lane] + cost;
                own[lane] = if by < own[lane] { by } else { own[lane] };
            }
        }
        ms[at].0 = own;
    }
}
