//! Loops: a loaded leg and an empty leg that meet at both ends, with the turnarounds they need, and
//! what two-way traffic they cause.

use crate::roads::network::{Arc, Network};
use crate::routing::graph::RoadGraph;
use crate::routing::path::{part_length, stretches};
use crate::routing::search::Drive;
use crate::routing::speed::{Room, SpeedTable};
use crate::routing::topology::{CLOSED, millis};
use crate::shuttle::lay::Lay;
use crate::shuttle::out_and_back;
use crate::shuttle::pair::{self, Effort, Pair, PairField, Scratch};
use crate::shuttle::pieces::{Pieces, Use};
use crate::shuttle::prices::{Kept, Meeting};
use crate::shuttle::quick;
use crate::units::Metres;
use serde::{Deserialize, Serialize};
use std::rc::Rc;

#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum LoopKind {
    /// Each leg the quickest.
    Quickest,
    /// As little road as its time is worth on which tankers meet and cannot pass, or may not.
    LeastOpposing,
    /// No road is driven both ways, but for road that is the only link.
    Circuit,
    /// Back on the road it came by; tried only where it is asked for.
    OutAndBack,
}

impl LoopKind {
    pub fn as_str(self) -> &'static str {
        match self {
            LoopKind::Quickest => "quickest",
            LoopKind::LeastOpposing => "least_opposing",
            LoopKind::Circuit => "circuit",
            LoopKind::OutAndBack => "out_and_back",
        }
    }
}

/// Which loops are tried.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Ways {
    /// All kinds but out and back.
    #[default]
    Any,
    /// Each leg by its quickest way, as crews drive whom nobody tells a way round.
    Quickest,
    /// The empty tanker goes back by the road the loaded one takes.
    OutAndBack,
}

/// A closed walk: fill site, loaded leg, dump site, empty leg, fill site.
#[derive(Clone, Debug, PartialEq)]
pub struct Loop {
    pub kind: LoopKind,
    pub loaded: Drive,
    pub empty: Drive,
    /// The truck leaves the site the way it came: it turns there.
    pub turns_at_dump: bool,
    pub turns_at_fill: bool,
    pub opposing: Opposing,
}

/// Road on which loaded and empty tankers meet.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Opposing {
    /// Driven in both directions.
    pub shared: Metres,
    /// Of that, too narrow to pass.
    pub narrow: Metres,
    /// Of that, with neither width nor lanes mapped.
    pub unknown: Metres,
    /// Unbroken narrow stretches driven both ways: milliseconds loaded and empty.
    pub stretches: Vec<(u32, u32)>,
}

/// The two graphs of one vehicle class and the speed table they were made with.
pub struct ClassGraphs<'g, 'n> {
    pub full: &'g RoadGraph<'n>,
    pub empty: &'g RoadGraph<'n>,
    pub table: &'g SpeedTable,
}

/// A circuit longer than this times the quickest loop is no alternative.
const LONGEST_CIRCUIT: f64 = 1.6;
/// What driving against oncoming tankers is held to cost, as a share of the mean driving time of both:
/// nothing where they pass each other, most where one must wait or back (common practice, no source).
const AVERSION_UNKNOWN: f64 = 0.5;
const AVERSION_NARROW: f64 = 2.0;
/// Shorter than this no two tankers stand in each other's way (common practice, no source: about the
/// length of a tanker).
const SHORTEST: Metres = Metres(10.0);

impl Loop {
    /// Total driving, turning at the sites included.
    pub fn drive_ms(&self, table: &SpeedTable) -> u32 {
        let turn = millis(table.delay.site_turnaround);
        self.loaded.ms
            + self.empty.ms
            + turn * (u32::from(self.turns_at_dump) + u32::from(self.turns_at_fill))
    }
}

/// Everything a search for loops around one dump site needs.
pub struct Finder<'a, 'n> {
    pub field: PairField<'a, 'n>,
    /// By segment: the only link between two parts of the network (`routing::cuts`).
    pub only_links: &'a [bool],
    pub effort: Effort,
    pub ways: Ways,
}

impl Finder<'_, '_> {
    /// Up to three loops, all different: the quickest, the least opposing, the circuit; only the first
    /// or the one out and back where no more is asked for. None where no loop is open.
    pub fn loops(&self, scratch: &mut Scratch) -> Vec<Loop> {
        let Some(quickest) = self.quickest(scratch) else { return Vec::new() };
        match self.ways {
            Ways::Any => {}
            Ways::Quickest => return vec![self.build(LoopKind::Quickest, &quickest)],
            Ways::OutAndBack => {
                let pair = out_and_back::pair(&self.field, &quickest, self.turn_ms());
                return vec![self.build(LoopKind::OutAndBack, &pair)];
            }
        }
        let lay = Lay::new(&self.field, self.turn_ms(), scratch);
        let mut found = vec![self.build(LoopKind::Quickest, &quickest)];
        let known = (Rc::new(lay.driven(quickest.loaded, true)), Rc::new(lay.driven(quickest.empty, false)));
        let add = |found: &mut Vec<Loop>, kind: LoopKind, pair: Option<Pair>| {
            let Some(pair) = pair else { return };
            let new = self.build(kind, &pair);
            if !found.iter().any(|l: &Loop| l.loaded == new.loaded && l.empty == new.empty) {
                found.push(new);
            }
        };
        if found[0].opposing.narrow.0 + found[0].opposing.unknown.0 > 0.0 {
            let of_piece = |of| self.opposing_ms(&lay.pieces, of);
            let meeting = Meeting { of_piece: &of_piece, kept: Kept::LeastOpposing };
            let pair = pair::cheaper(&lay, meeting, &known, pair::NEVER, self.effort, scratch);
            add(&mut found, LoopKind::LeastOpposing, pair);
        }
        // Whose legs meet nowhere, at the least cost of meeting, is the circuit.
        if found.iter().all(|l| l.opposing.shared.0 > 0.0) {
            let longest = (f64::from(quickest.cost) * LONGEST_CIRCUIT) as u32;
            let of_piece = |of| self.circuit_ms(&lay.pieces, of);
            let meeting = Meeting { of_piece: &of_piece, kept: Kept::Circuit };
            let pair = pair::cheaper(&lay, meeting, &known, longest, self.effort, scratch);
            add(&mut found, LoopKind::Circuit, pair);
        }
        found
    }

    /// The quickest loop over all sides of approach.
    pub fn quickest(&self, scratch: &mut Scratch) -> Option<Pair> {
        quick::quickest(&self.field, self.turn_ms(), &mut scratch.search)
    }

    fn network(&self) -> &Network {
        self.field.graphs.full.network
    }
    fn turn_ms(&self) -> u32 {
        millis(self.field.graphs.table.delay.site_turnaround)
    }

    /// What meeting on a use is held to cost a least opposing loop.
    pub fn opposing_ms(&self, pieces: &Pieces, of: Use) -> u32 {
        let Some((arc, share)) = pieces.road(of) else { return self.turn_ms() };
        let graphs = self.field.graphs;
        let aversion = match graphs.table.room(&self.network().way(arc).tags) {
            Room::Passes => return 0,
            Room::Unknown => AVERSION_UNKNOWN,
            Room::Narrow => AVERSION_NARROW,
        };
        let (loaded, empty) = (graphs.full.ms(arc), graphs.empty.ms(arc.reversed()));
        if loaded == CLOSED || empty == CLOSED {
            return 0;
        }
        ((f64::from(loaded) + f64::from(empty)) / 2.0 * share * aversion) as u32
    }

    /// What meeting on a use is held to cost a circuit: everything, but on the only link.
    pub fn circuit_ms(&self, pieces: &Pieces, of: Use) -> u32 {
        match pieces.road(of) {
            None => self.turn_ms(),
            Some((arc, _)) if self.only_links[arc.segment()] => 0,
            Some((arc, share)) if self.network().length(arc).0 * share < SHORTEST.0 => 0,
            Some(_) => pair::NEVER,
        }
    }

    fn build(&self, kind: LoopKind, pair: &Pair) -> Loop {
        let (loaded, empty) = (&pair.loaded, &pair.empty);
        Loop {
            kind,
            turns_at_dump: loaded.to != empty.from,
            turns_at_fill: empty.to != loaded.from,
            loaded: loaded.drive.clone(),
            empty: empty.drive.clone(),
            opposing: opposing(self.field.graphs, &loaded.drive, &empty.drive),
        }
    }
}

/// Where the two legs drive the same road in opposite directions.
fn opposing(graphs: &ClassGraphs, loaded: &Drive, empty: &Drive) -> Opposing {
    let network: &Network = graphs.full.network;
    // A stable sort: parts of one arc stay in driving order.
    let mut back: Vec<(Arc, f64, f64)> = stretches(empty).collect();
    back.sort_by_key(|(arc, ..)| arc.0);
    let mut found = Opposing::default();
    let mut run: Option<(u32, u32)> = None;
    for (arc, from, to) in stretches(loaded) {
        let against = arc.reversed();
        // The same stretch, counted from the other end.
        let first = back.partition_point(|(arc, ..)| arc.0 < against.0);
        let same = back[first..].iter().take_while(|(arc, ..)| *arc == against);
        let overlaps = same.map(|(_, f, t)| {
            let (low, high) = ((1.0 - t).max(from), (1.0 - f).min(to));
            (low, high.max(low))
        });
        let mut narrow_here = false;
        for (low, high) in overlaps {
            let metres = part_length(network, arc, low, high);
            found.shared = found.shared + metres;
            match graphs.table.room(&network.way(arc).tags) {
                Room::Passes => {}
                Room::Unknown => found.unknown = found.unknown + metres,
                Room::Narrow if metres.0 > 0.0 => {
                    narrow_here = true;
                    found.narrow = found.narrow + metres;
                    let ms = |graph: &RoadGraph, arc: Arc, low: f64, high: f64| {
                        graph.part_ms(arc, high) - graph.part_ms(arc, low)
                    };
                    let (l, e) = run.unwrap_or_default();
                    run = Some((
                        l + ms(graphs.full, arc, low, high),
                        e + ms(graphs.empty, against, 1.0 - high, 1.0 - low),
                    ));
                }
                Room::Narrow => {}
            }
        }
        if !narrow_here && let Some(stretch) = run.take() {
            found.stretches.push(stretch);
        }
    }
    found.stretches.extend(run);
    found
}
