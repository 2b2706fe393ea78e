//! Cuts ways into segments between junctions. Vehicle-neutral: every road is here, open or not.
//!
//! An arc is a segment in one direction: arc `2·s` runs with the way's node order, arc `2·s + 1`
//! against it.

use crate::finding::{Code, Finding, Findings, OsmRef, Outcome, Where};
use crate::place::{Bounds, Place};
use crate::roads::buildings::Wish;
use crate::roads::extract::{Extract, RawWater, RawWay};
use crate::roads::tags::{NodeTags, NotARoad, RoadTags, TurningPlace};
use crate::roads::turns::{self, TurnBans};
use crate::roads::yards;
use crate::units::Metres;
use bytemuck::{Pod, Zeroable};
use rayon::prelude::*;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;
use std::path::Path;
use std::sync::Arc as Shared;

/// One direction of one segment.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize, Pod, Zeroable)]
#[repr(transparent)]
pub struct Arc(pub u32);

impl Arc {
    pub fn new(segment: usize, forward: bool) -> Arc {
        Arc((segment as u32) << 1 | u32::from(!forward))
    }
    pub fn segment(self) -> usize {
        (self.0 >> 1) as usize
    }
    /// With the way's node order?
    pub fn forward(self) -> bool {
        self.0 & 1 == 0
    }
    pub fn reversed(self) -> Arc {
        Arc(self.0 ^ 1)
    }
    pub fn index(self) -> usize {
        self.0 as usize
    }
}

/// A stretch of road between two junctions. Plain numbers without padding: a saved network holds them
/// as they are.
#[derive(Clone, Copy, Debug, Pod, Zeroable)]
#[repr(C)]
pub struct Segment {
    pub from: u32,
    pub to: u32,
    /// Index into `Network::ways`.
    pub way: u32,
    pub(super) first_point: u32,
    pub(super) point_count: u32,
    pub length_m: f32,
}

#[derive(Clone, Debug)]
pub struct Way {
    pub id: i64,
    /// Many ways are tagged alike and may share them.
    pub tags: Shared<RoadTags>,
    /// Index into `Network::names`; 0 is the empty name.
    pub name: u32,
}

/// Where segments meet.
#[derive(Clone, Debug)]
pub struct Junction {
    pub osm_id: i64,
    pub place: Place,
    /// Index + 1 into `Network::marks`; 0 for none.
    pub(super) mark: u32,
    /// The way goes on outside the extract.
    pub cut: bool,
}

#[derive(Clone, Debug)]
pub struct Network {
    pub file: String,
    pub junctions: Vec<Junction>,
    pub segments: Vec<Segment>,
    pub ways: Vec<Way>,
    pub(super) points: Vec<Place>,
    pub(super) names: Vec<Box<str>>,
    pub(super) marks: Vec<NodeTags>,
    pub bans: TurnBans,
    pub waters: Vec<RawWater>,
    /// A place each, where they were asked for.
    pub buildings: Option<Vec<Place>>,
    pub left_out: BTreeMap<NotARoad, usize>,
    pub bounds: Bounds,
    /// Nodes in the file, road or not.
    pub node_count: usize,
    pub findings: Findings,
}

const MISSING: u32 = u32::MAX;

impl Network {
    /// Reads an extract and cuts it into segments.
    pub fn read(path: &Path, progress: &mut dyn FnMut(u64, u64)) -> Outcome<Network> {
        Ok(Network::build(Extract::read(path, Wish::default(), progress)?))
    }

    pub fn build(mut extract: Extract) -> Network {
        let node_of: Vec<u32> = extract
            .refs
            .par_iter()
            .with_min_len(4096)
            .map(|id| extract.node_index(*id).map_or(MISSING, |i| i as u32))
            .collect();
        let mut findings = std::mem::take(&mut extract.findings);
        let uses = uses(&extract, &node_of);
        yards::mark(&mut extract, &uses);
        let mark_of = marks_by_node(&extract);
        let junction_node = junction_nodes(&extract, &uses, &mark_of);
        let mut build = Build {
            junction_of: vec![MISSING; extract.node_ids.len()],
            network: Network {
                file: extract.file.clone(),
                junctions: Vec::new(),
                segments: Vec::new(),
                ways: Vec::with_capacity(extract.ways.len()),
                points: Vec::new(),
                names: vec!["".into()],
                marks: Vec::new(),
                bans: TurnBans::default(),
                waters: std::mem::take(&mut extract.waters),
                buildings: extract.buildings.take(),
                left_out: std::mem::take(&mut extract.left_out),
                bounds: extract
                    .bounds
                    .unwrap_or(Bounds { west_south: Place::from_e7(0, 0), east_north: Place::from_e7(0, 0) }),
                node_count: extract.node_ids.len(),
                findings: Findings::new(),
            },
        };
        let mut name_of: std::collections::HashMap<Box<str>, u32> = std::collections::HashMap::new();
        let ways = std::mem::take(&mut extract.ways);
        for raw in ways {
            let nodes = &node_of[raw.first_ref..raw.first_ref + raw.ref_count];
            build.cut_way(&extract, &raw, nodes, &junction_node, &mark_of, &mut findings);
            let network = &mut build.network;
            let name = raw.name.map_or(0, |name| {
                *name_of.entry(name).or_insert_with_key(|name| {
                    network.names.push(name.clone());
                    network.names.len() as u32 - 1
                })
            });
            network.ways.push(Way { id: raw.id, tags: Shared::new(raw.tags), name });
        }
        let mut network = build.network;
        network.points.shrink_to_fit();
        network.segments.shrink_to_fit();
        let restrictions = std::mem::take(&mut extract.restrictions);
        drop(extract);
        network.bans = turns::resolve(&network, &restrictions, &mut findings);
        network.findings = findings;
        network
    }

    pub fn arc_count(&self) -> usize {
        self.segments.len() * 2
    }
    pub fn arcs(&self) -> impl Iterator<Item = Arc> + use<> {
        (0..self.arc_count() as u32).map(Arc)
    }
    pub fn segment(&self, arc: Arc) -> &Segment {
        &self.segments[arc.segment()]
    }
    pub fn way(&self, arc: Arc) -> &Way {
        &self.ways[self.segment(arc).way as usize]
    }
    pub fn name(&self, way: &Way) -> &str {
        &self.names[way.name as usize]
    }
    pub fn length(&self, arc: Arc) -> Metres {
        Metres(f64::from(self.segment(arc).length_m))
    }
    /// Junction the arc starts from.
    pub fn tail(&self, arc: Arc) -> usize {
        let s = self.segment(arc);
        (if arc.forward() { s.from } else { s.to }) as usize
    }
    /// Junction the arc leads to.
    pub fn head(&self, arc: Arc) -> usize {
        self.tail(arc.reversed())
    }
    pub fn mark(&self, junction: usize) -> Option<&NodeTags> {
        let mark = self.junctions[junction].mark;
        (mark > 0).then(|| &self.marks[mark as usize - 1])
    }
    pub fn mark_mut(&mut self, junction: usize) -> Option<&mut NodeTags> {
        let mark = self.junctions[junction].mark;
        (mark > 0).then(|| &mut self.marks[mark as usize - 1])
    }
    /// Gives segments of one way tags of their own. The way itself stays as it is, for its other
    /// segments.
    pub fn retag(&mut self, segments: &[usize], tags: RoadTags) {
        let Some(first) = segments.first() else { return };
        let Way { id, name, .. } = self.ways[self.segments[*first].way as usize];
        let own = self.ways.len() as u32;
        self.ways.push(Way { id, tags: Shared::new(tags), name });
        for segment in segments {
            self.segments[*segment].way = own;
        }
    }
    /// Points of a segment in the way's node order, both ends included.
    pub fn points(&self, segment: usize) -> &[Place] {
        let s = &self.segments[segment];
        &self.points[s.first_point as usize..(s.first_point + s.point_count) as usize]
    }
    /// Points of an arc in the direction of travel.
    pub fn arc_points(&self, arc: Arc) -> impl DoubleEndedIterator<Item = Place> + '_ {
        let points = self.points(arc.segment());
        let count = points.len();
        (0..count).map(move |i| if arc.forward() { points[i] } else { points[count - 1 - i] })
    }
}

/// Mark index + 1 per node index.
fn marks_by_node(extract: &Extract) -> BTreeMap<u32, u32> {
    extract
        .marks
        .iter()
        .enumerate()
        .filter_map(|(i, (id, _))| extract.node_index(*id).map(|n| (n as u32, i as u32 + 1)))
        .collect()
}

/// How often roads use each node; where a way ends or is cut counts twice.
fn uses(extract: &Extract, node_of: &[u32]) -> Vec<u8> {
    let mut uses = vec![0u8; extract.node_ids.len()];
    let mut touch = |node: u32, times: u8| {
        if node != MISSING {
            let n = &mut uses[node as usize];
            *n = n.saturating_add(times);
        }
    };
    for way in &extract.ways {
        let nodes = &node_of[way.first_ref..way.first_ref + way.ref_count];
        for (i, node) in nodes.iter().enumerate() {
            let ends = i == 0
                || i + 1 == nodes.len()
                || nodes[i - 1] == MISSING
                || nodes.get(i + 1) == Some(&MISSING);
            touch(*node, if ends { 2 } else { 1 });
        }
    }
    uses
}

/// A node is a junction when two ways meet there, a way ends or is cut there, a way passes it
/// twice, or something stands on it that a truck must be judged by.
fn junction_nodes(extract: &Extract, uses: &[u8], marks: &BTreeMap<u32, u32>) -> Vec<bool> {
    let mut junction: Vec<bool> = uses.iter().map(|n| *n >= 2).collect();
    for (&node, &mark) in marks {
        let tags = &extract.marks[mark as usize - 1].1;
        let matters = tags.barrier.is_some()
            || tags.limits.is_some()
            || tags.signal
            || tags.turning != TurningPlace::None;
        if uses[node as usize] > 0 && matters {
            junction[node as usize] = true;
        }
    }
    junction
}

struct Build {
    /// Junction index per node index.
    junction_of: Vec<u32>,
    network: Network,
}

impl Build {
    fn junction(&mut self, extract: &Extract, node: u32, marks: &BTreeMap<u32, u32>) -> u32 {
        let known = self.junction_of[node as usize];
        if known != MISSING {
            return known;
        }
        let network = &mut self.network;
        let mark = marks.get(&node).map_or(0, |mark| {
            network.marks.push(extract.marks[*mark as usize - 1].1.clone());
            network.marks.len() as u32
        });
        let index = network.junctions.len() as u32;
        network.junctions.push(Junction {
            osm_id: extract.node_ids[node as usize],
            place: extract.node_places[node as usize],
            mark,
            cut: false,
        });
        self.junction_of[node as usize] = index;
        index
    }

    fn cut_way(
        &mut self,
        extract: &Extract,
        raw: &RawWay,
        nodes: &[u32],
        junction_node: &[bool],
        marks: &BTreeMap<u32, u32>,
        findings: &mut Findings,
    ) {
        let way = self.network.ways.len() as u32;
        let missing = nodes.iter().filter(|n| **n == MISSING).count();
        if missing > 0 || nodes.len() < 2 {
            findings.add_new(Finding::new(
                Code::WayCut,
                Where::osm(OsmRef::Way(raw.id)),
                if missing > 0 {
                    format!("{missing} of its {} nodes lie outside the extract", nodes.len())
                } else {
                    "it has fewer than two nodes".to_string()
                },
                "the part inside is used; take a larger extract if loops should run there",
            ));
        }
        let mut start: Option<usize> = None;
        for (i, &node) in nodes.iter().enumerate() {
            if node == MISSING {
                start = None;
                continue;
            }
            let after_gap = i > 0 && nodes[i - 1] == MISSING;
            let before_gap = nodes.get(i + 1) == Some(&MISSING);
            if after_gap || before_gap {
                let j = self.junction(extract, node, marks);
                self.network.junctions[j as usize].cut = true;
            }
            match start {
                None => start = Some(i),
                Some(first) if junction_node[node as usize] => {
                    self.segment(extract, way, &nodes[first..=i], marks);
                    start = Some(i);
                }
                Some(_) => {}
            }
        }
    }

    fn segment(&mut self, extract: &Extract, way: u32, nodes: &[u32], marks: &BTreeMap<u32, u32>) {
        let (Some(&first), Some(&last)) = (nodes.first(), nodes.last()) else { return };
        let from = self.junction(extract, first, marks);
        let to = self.junction(extract, last, marks);
        let network = &mut self.network;
        let first_point = network.points.len() as u32;
        network.points.extend(nodes.iter().map(|n| extract.node_places[*n as usize]));
        let points = &network.points[first_point as usize..];
        let length: f64 = points.windows(2).map(|pair| pair[0].distance(pair[1]).0).sum();
        network.segments.push(Segment {
            from,
            to,
            way,
            first_point,
            point_count: nodes.len() as u32,
            length_m: length as f32,
        });
    }
}
