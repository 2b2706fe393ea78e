//! A fill and a dump site laid on the core of the roads: the drives between each and the core, and legs
//! told by the uses they have.
//!
//! Far from the sites a use is a stretch of the core in a direction. Where a leg may drive a part of a stretch
//! only, beside the sites, and off the core it is a piece (see `pieces`), numbered after the stretches.

use crate::roads::network::Arc;
use crate::routing::core::{Core, Nodes};
use crate::routing::graph::RoadGraph;
use crate::routing::path::stretches;
use crate::routing::search::{Between, Drive, Gate, Guided, Run, Stand};
use crate::shuttle::ground::PairField;
use crate::shuttle::pair::Scratch;
use crate::shuttle::pieces::{Pieces, Site, Use, sorted};
use std::sync::Arc as Shared;

/// A way between a site and the core.
#[derive(Debug)]
pub struct SiteGate {
    pub gate: Shared<Gate>,
    /// Of `Spot::stands`.
    pub side: usize,
    /// With the turn at the site.
    pub uses: Vec<Use>,
}

/// Which end of which leg.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum LegEnd {
    FromFill,
    ToDump,
    FromDump,
    ToFill,
}

/// A leg as found: by the gates and nodes it passes, or as a drive.
#[derive(Clone, Debug)]
pub enum Course {
    Nodes(Run),
    Driven(Box<Between>),
}

/// A leg with the uses it has, seen from the loaded leg's side.
#[derive(Clone, Debug)]
pub struct Leg {
    /// Preferences included.
    pub cost: u32,
    /// Driving alone.
    pub ms: u32,
    pub course: Course,
    pub uses: Vec<Use>,
}

pub struct Lay<'a, 'n> {
    pub field: &'a PairField<'a, 'n>,
    pub core: &'a Core,
    pub pieces: Pieces,
    /// Numbers of the stretches that are in pieces here.
    opened: Vec<u32>,
    gates: [Vec<SiteGate>; 4],
    /// Drives on one road, loaded and empty.
    direct: [Vec<Leg>; 2],
}

/// Gates with the side of the site that they are on.
type Gates = Vec<(usize, Shared<Gate>)>;

/// The gates of a dump site, kept for all fill sites that are asked for in a row.
#[derive(Debug, Default)]
pub(super) struct DumpGates {
    of: Option<[u64; 5]>,
    to: Gates,
    from: Gates,
}

/// The gates of both sides of the sites, by the ends of the legs.
fn all_gates(
    field: &PairField,
    core: &Core,
    slack: u32,
    search: &mut Guided,
    kept: &mut DumpGates,
) -> [Gates; 4] {
    let mut found = |end| gates_at(field, core, end, slack, search);
    let of = Some(field.number(core));
    if kept.of != of {
        *kept = DumpGates { of, to: found(LegEnd::ToDump), from: found(LegEnd::FromDump) };
    }
    [found(LegEnd::FromFill), kept.to.clone(), kept.from.clone(), found(LegEnd::ToFill)]
}

fn gates_at(field: &PairField, core: &Core, end: LegEnd, slack: u32, search: &mut Guided) -> Gates {
    let (graph, nodes) = side_of(field, core, end);
    let stands = stands(field, end);
    let mut found = Vec::new();
    for (side, stand) in stands.into_iter().enumerate() {
        let gates = match end {
            LegEnd::FromFill | LegEnd::FromDump => {
                search.leave(graph, (&core.stretches, nodes), stand, slack)
            }
            LegEnd::ToDump | LegEnd::ToFill => search.reach(graph, (&core.stretches, nodes), stand, slack),
        };
        found.extend(gates.into_iter().map(|gate| (side, Shared::new(gate))));
    }
    found
}

fn stands(field: &PairField, end: LegEnd) -> [Stand; 2] {
    match end {
        LegEnd::FromFill | LegEnd::ToFill => field.fill.stands(),
        LegEnd::ToDump | LegEnd::FromDump => field.dump.stands(),
    }
}

fn side_of<'a, 'n>(
    field: &'a PairField<'_, 'n>,
    core: &'a Core,
    end: LegEnd,
) -> (&'a RoadGraph<'n>, &'a Nodes) {
    match end {
        LegEnd::FromFill | LegEnd::ToDump => (field.graphs.full, &core.full),
        LegEnd::FromDump | LegEnd::ToFill => (field.graphs.empty, &core.empty),
    }
}

const ENDS: [LegEnd; 4] = [LegEnd::FromFill, LegEnd::ToDump, LegEnd::FromDump, LegEnd::ToFill];

impl<'a, 'n> Lay<'a, 'n> {
    /// On the core, or on every road there is where the sites are too near each other for it or off it.
    pub fn new(field: &'a PairField<'a, 'n>, turn_ms: u32, scratch: &mut Scratch) -> Lay<'a, 'n> {
        let Scratch { search, gates: [kept, kept_plain], .. } = scratch;
        let slack = turn_ms.saturating_mul(1000);
        let core = field.cores.contracted(field.graphs);
        let found = all_gates(field, core, slack, search, kept);
        if found.iter().all(|gates| !gates.is_empty()) && apart(core, &found) {
            return Lay::with(field, core, found);
        }
        let plain = field.cores.plain(field.graphs);
        let found = all_gates(field, plain, slack, search, kept_plain);
        Lay::with(field, plain, found)
    }

    fn with(field: &'a PairField<'a, 'n>, core: &'a Core, found: [Gates; 4]) -> Lay<'a, 'n> {
        let pieces = Pieces::new(field.graphs.full.network, field.fill, field.dump);
        let all = found.iter().flatten().flat_map(|(_, gate)| &gate.arcs);
        let mut opened: Vec<u32> =
            all.filter_map(|arc| core.stretches.along(*arc)).map(|along| along >> 1).collect();
        opened.sort_unstable();
        opened.dedup();
        let mut lay =
            Lay { field, core, pieces, opened, gates: Default::default(), direct: Default::default() };
        let mut of_ends = found.into_iter();
        lay.gates = ENDS.map(|end| {
            let gates = of_ends.next().into_iter().flatten();
            gates.map(|(side, gate)| lay.gate(end, side, gate)).collect()
        });
        if field.fill.segment == field.dump.segment {
            lay.direct = [lay.direct_loaded(), lay.direct_empty()];
        }
        lay
    }

    fn gate(&self, end: LegEnd, side: usize, gate: Shared<Gate>) -> SiteGate {
        let stand = stands(self.field, end)[side];
        let (first, last) = (0, gate.arcs.len() - 1);
        let starts = matches!(end, LegEnd::FromFill | LegEnd::FromDump);
        let part = |i: usize, arc: Arc| {
            let from = if starts && i == first { stand.fraction } else { 0.0 };
            let to = if !starts && i == last { stand.fraction } else { 1.0 };
            self.fine(arc, from, to)
        };
        let driven = gate.arcs.iter().enumerate().flat_map(|(i, arc)| part(i, *arc));
        let (site, turned) = match end {
            LegEnd::FromFill => (Site::Fill, side),
            LegEnd::ToDump => (Site::Dump, side),
            LegEnd::FromDump => (Site::Dump, 1 - side),
            LegEnd::ToFill => (Site::Fill, 1 - side),
        };
        let back = u32::from(matches!(end, LegEnd::FromDump | LegEnd::ToFill));
        let turn = self.first_piece() + self.pieces.turn(site, turned);
        let uses = sorted(driven.map(|of| of ^ back).chain([turn]));
        SiteGate { gate, side, uses }
    }

    fn first_piece(&self) -> u32 {
        self.core.stretches.count() as u32
    }

    /// Number of uses.
    pub fn count(&self) -> usize {
        self.core.stretches.count() + self.pieces.count()
    }

    /// A use as pieces tell it; none of a whole stretch.
    pub fn piece(&self, of: Use) -> Option<Use> {
        of.checked_sub(self.first_piece())
    }

    /// The stretch that a piece is a part of, in its direction.
    pub fn stretch_of(&self, piece: Use) -> Option<Use> {
        self.core.stretches.along(self.pieces.road(piece)?.0)
    }

    pub fn is_turn(&self, of: Use) -> bool {
        self.piece(of).is_some_and(|piece| self.pieces.road(piece).is_none())
    }

    fn fine(&self, arc: Arc, from: f64, to: f64) -> impl Iterator<Item = Use> + '_ {
        self.pieces.on(arc, from, to).map(|of| of + self.first_piece())
    }

    fn is_opened(&self, along: u32) -> bool {
        self.opened.contains(&(along >> 1))
    }

    pub fn gates(&self, end: LegEnd) -> &[SiteGate] {
        &self.gates[end as usize]
    }
    pub fn direct(&self, loaded: bool) -> &[Leg] {
        &self.direct[usize::from(!loaded)]
    }
    fn nodes(&self, loaded: bool) -> &Nodes {
        if loaded { &self.core.full } else { &self.core.empty }
    }

    /// A leg over the core.
    pub fn leg(&self, run: Run, loaded: bool) -> Option<Leg> {
        let [from, to] = LegEnd::both(loaded);
        let (from, to) = (&self.gates(from)[run.from], &self.gates(to)[run.to]);
        let nodes = self.nodes(loaded);
        let mut ms = from.gate.ms.saturating_add(to.gate.ms);
        for pair in run.nodes.windows(2) {
            ms = ms.saturating_add(nodes.step_ms(pair[0], pair[1])?);
        }
        let back = u32::from(!loaded);
        let mut uses = Vec::with_capacity(run.nodes.len() + from.uses.len() + to.uses.len());
        uses.extend(from.uses.iter().chain(&to.uses));
        for node in &run.nodes[1..] {
            let along = nodes.along(*node);
            if self.is_opened(along) {
                for arc in self.core.stretches.arcs(along) {
                    uses.extend(self.fine(arc, 0.0, 1.0).map(|of| of ^ back));
                }
            } else {
                uses.push(along ^ back);
            }
        }
        uses.sort_unstable();
        uses.dedup();
        Some(Leg { cost: run.cost, ms, course: Course::Nodes(run), uses })
    }

    /// A drive as a leg.
    pub fn driven(&self, between: Between, loaded: bool) -> Leg {
        let back = u32::from(!loaded);
        let mut uses = Vec::with_capacity(between.drive.arcs.len() + 4);
        for (arc, from, to) in stretches(&between.drive) {
            match self.core.stretches.along(arc).filter(|along| !self.is_opened(*along)) {
                Some(along) if uses.last() == Some(&(along ^ back)) => {}
                Some(along) => uses.push(along ^ back),
                None => uses.extend(self.fine(arc, from, to).map(|of| of ^ back)),
            }
        }
        let turned = |side: usize| if loaded { side } else { 1 - side };
        let (fill, dump) = if loaded { (between.from, between.to) } else { (between.to, between.from) };
        for turn in [self.pieces.turn(Site::Fill, turned(fill)), self.pieces.turn(Site::Dump, turned(dump))] {
            uses.push(self.first_piece() + turn);
        }
        uses.sort_unstable();
        uses.dedup();
        let (cost, ms) = (between.cost, between.drive.ms);
        Leg { cost, ms, course: Course::Driven(Box::new(between)), uses }
    }

    fn direct_loaded(&self) -> Vec<Leg> {
        self.on_one_arc(self.field.graphs.full, [self.field.fill.stands(), self.field.dump.stands()], true)
    }
    fn direct_empty(&self) -> Vec<Leg> {
        self.on_one_arc(self.field.graphs.empty, [self.field.dump.stands(), self.field.fill.stands()], false)
    }
    fn on_one_arc(&self, graph: &RoadGraph, [from, to]: [[Stand; 2]; 2], loaded: bool) -> Vec<Leg> {
        let pairs = (0..4).map(|n| (n >> 1, n & 1));
        let legs = pairs.filter_map(|(i, j)| {
            let ms = Drive::along_ms(graph, from[i], to[j])?;
            let drive = Drive {
                arcs: vec![from[i].arc],
                from_fraction: from[i].fraction,
                to_fraction: to[j].fraction,
                ms,
            };
            Some(self.driven(Between { cost: ms, from: i, to: j, drive }, loaded))
        });
        legs.collect()
    }

    /// Arcs of a course over the core.
    pub fn arcs(&self, run: &Run, loaded: bool) -> Vec<Arc> {
        let [from, to] = LegEnd::both(loaded);
        let nodes = self.nodes(loaded);
        let mut arcs = Vec::with_capacity(run.nodes.len() * 4 + 64);
        arcs.extend(&self.gates(from)[run.from].gate.arcs);
        for node in &run.nodes[1..] {
            arcs.extend(self.core.stretches.arcs(nodes.along(*node)));
        }
        arcs.extend(&self.gates(to)[run.to].gate.arcs);
        arcs
    }

    /// The stands of a leg, by side.
    pub fn sides(&self, leg: &Leg, loaded: bool) -> (usize, usize) {
        match &leg.course {
            Course::Driven(between) => (between.from, between.to),
            Course::Nodes(run) => {
                let [from, to] = LegEnd::both(loaded);
                (self.gates(from)[run.from].side, self.gates(to)[run.to].side)
            }
        }
    }

    /// The leg on arcs.
    pub fn between(&self, leg: &Leg, loaded: bool) -> Option<Between> {
        let run = match &leg.course {
            Course::Driven(between) => return Some(between.as_ref().clone()),
            Course::Nodes(run) => run,
        };
        let (from, to) = self.sides(leg, loaded);
        let [start, end] = LegEnd::both(loaded);
        let fractions = (stands(self.field, start)[from].fraction, stands(self.field, end)[to].fraction);
        let graph = side_of(self.field, self.core, start).0;
        let drive = Drive::over(graph, self.arcs(run, loaded), fractions.0, fractions.1)?;
        Some(Between { cost: drive.ms, from, to, drive })
    }

    /// The loaded leg over an empty one's road the other way, if it can be driven.
    pub fn turned(&self, run: &Run) -> Option<Leg> {
        let sides = [LegEnd::FromDump, LegEnd::ToFill];
        let (dump, fill) = (self.gates(sides[0])[run.from].side, self.gates(sides[1])[run.to].side);
        let (from, to) = (1 - fill, 1 - dump);
        let ends = (self.field.fill.stands()[from].fraction, self.field.dump.stands()[to].fraction);
        let arcs = self.arcs(run, false).into_iter().rev().map(Arc::reversed).collect();
        let drive = Drive::over(self.field.graphs.full, arcs, ends.0, ends.1)?;
        Some(self.driven(Between { cost: drive.ms, from, to, drive }, true))
    }
}

impl LegEnd {
    pub fn both(loaded: bool) -> [LegEnd; 2] {
        if loaded { [LegEnd::FromFill, LegEnd::ToDump] } else { [LegEnd::FromDump, LegEnd::ToFill] }
    }
}

/// Whether every drive from the one site to the other passes a node's end.
fn apart(core: &Core, [from_fill, to_dump, from_dump, to_fill]: &[Gates; 4]) -> bool {
    let touched = |gates: &Gates, nodes: Option<&Nodes>| {
        let mut found: Vec<u32> = Vec::new();
        for (_, gate) in gates {
            let before = found.len();
            found.extend(
                gate.arcs.iter().filter_map(|arc| core.stretches.along(*arc)).map(|along| along >> 1),
            );
            if let Some(nodes) = nodes
                && found.len() == before
            {
                found.push(nodes.along(gate.node) >> 1);
            }
        }
        found
    };
    let part = |from: &Gates, to: &Gates, nodes: &Nodes| {
        let from = touched(from, None);
        touched(to, Some(nodes)).iter().all(|stretch| !from.contains(stretch))
    };
    part(from_fill, to_dump, &core.full) && part(from_dump, to_fill, &core.empty)
}
