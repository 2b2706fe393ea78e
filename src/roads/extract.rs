//! Reads an OpenStreetMap PBF file into road ways, marked nodes, turn restrictions and water
//! features, in parallel, block by block; tags are turned into values at once and never kept.
//!
//! The order of the result is the order of the file, whatever the number of threads.

use crate::finding::{Code, Finding, Findings, OsmRef, Outcome, Refusal, Where};
use crate::place::{Bounds, Place};
use crate::roads::buildings::{RawBuildings, Wish};
use crate::roads::tags::{self, BanHours, NodeTags, NotARoad, RoadTags, TurnRule, WaterTags};
use osmpbf::{Blob, BlobDecode, BlobReader, Element, PrimitiveBlock, RelMemberType};
use rayon::prelude::*;
use std::cell::Cell;
use std::collections::BTreeMap;
use std::io::BufReader;
use std::panic::{self, AssertUnwindSafe};
use std::path::Path;
use std::sync::Once;

/// A road way as read: its nodes by id, its attributes and name.
#[derive(Clone, Debug)]
pub struct RawWay {
    pub id: i64,
    /// Range of `Extract::refs`.
    pub first_ref: usize,
    pub ref_count: usize,
    pub tags: RoadTags,
    pub name: Option<Box<str>>,
}

/// A turn restriction as read; resolved by `turns`.
#[derive(Clone, Debug)]
pub struct RawRestriction {
    pub id: i64,
    pub rule: TurnRule,
    pub hours: BanHours,
    /// `except=emergency`
    pub exempt: bool,
    pub from: Vec<i64>,
    pub via_nodes: Vec<i64>,
    pub via_ways: Vec<i64>,
    pub to: Vec<i64>,
}

/// A water feature as read.
#[derive(Clone, Debug)]
pub struct RawWater {
    pub osm: OsmRef,
    pub place: Place,
    pub tags: WaterTags,
}

#[derive(Debug, Default)]
pub struct Extract {
    /// File name, for messages.
    pub file: String,
    /// All node ids, ascending, with their positions in the same order.
    pub node_ids: Vec<i64>,
    pub node_places: Vec<Place>,
    pub ways: Vec<RawWay>,
    pub refs: Vec<i64>,
    pub marks: Vec<(i64, NodeTags)>,
    pub restrictions: Vec<RawRestriction>,
    pub waters: Vec<RawWater>,
    /// The node ids of each closed way that is open ground.
    pub yards: Vec<Vec<i64>>,
    /// A place each, where they were asked for.
    pub buildings: Option<Vec<Place>>,
    /// Ways with a `highway` tag that are no road for a truck, by reason.
    pub left_out: BTreeMap<NotARoad, usize>,
    pub bounds: Option<Bounds>,
    pub findings: Findings,
}

/// What one block of the file gives.
#[derive(Default)]
struct Part {
    node_ids: Vec<i64>,
    node_places: Vec<Place>,
    ways: Vec<RawWay>,
    refs: Vec<i64>,
    marks: Vec<(i64, NodeTags)>,
    mark_findings: Vec<(i64, Findings)>,
    restrictions: Vec<RawRestriction>,
    waters: Vec<RawWater>,
    yards: Vec<Vec<i64>>,
    buildings: Option<RawBuildings>,
    water_ways: Vec<(i64, Vec<i64>, WaterTags)>,
    left_out: BTreeMap<NotARoad, usize>,
    findings: Findings,
}

/// Blocks decoded at once: enough to feed the cores, few enough to bound memory.
const BLOCKS_AT_ONCE: usize = 16;

impl Extract {
    /// Reads the file. `progress` is called with (bytes read, bytes in all).
    pub fn read(path: &Path, wish: Wish, progress: &mut dyn FnMut(u64, u64)) -> Outcome<Extract> {
        let file = path.display().to_string();
        let open = std::fs::File::open(path).map_err(|e| refuse_open(&file, &e))?;
        let size = open.metadata().map_err(|e| refuse_open(&file, &e))?.len();
        if size == 0 {
            return Err(damaged(&file, "the file is empty"));
        }
        let mut reader = BlobReader::new_seekable(BufReader::new(open))
            .map_err(|e| damaged(&file, format!("the file cannot be read ({e})")))?;
        let mut extract = Extract { file: file.clone(), ..Extract::default() };
        let mut water_ways = Vec::new();
        let mut buildings = RawBuildings::default();
        let mut mark_findings = Vec::new();
        let mut first = true;
        let mut done = false;
        while !done {
            let mut blobs: Vec<Blob> = Vec::with_capacity(BLOCKS_AT_ONCE);
            while blobs.len() < BLOCKS_AT_ONCE {
                match reader.next() {
                    Some(Ok(blob)) => blobs.push(blob),
                    Some(Err(e)) if first && blobs.is_empty() => {
                        return Err(damaged(&file, format!("this is not an OpenStreetMap PBF file ({e})")));
                    }
                    Some(Err(e)) => {
                        return Err(damaged(&file, format!("the file is truncated or damaged ({e})")));
                    }
                    None => {
                        done = true;
                        break;
                    }
                }
            }
            first = false;
            let read_to = blobs.last().and_then(|b| b.offset()).map_or(size, |o| o.0);
            let parts: Vec<Outcome<Part>> = blobs.par_iter().map(|blob| decode(blob, &file, wish)).collect();
            for part in parts {
                let mut part = part?;
                buildings.take(part.buildings.take().unwrap_or_default());
                extract.take(part, &mut water_ways, &mut mark_findings);
            }
            progress(if done { size } else { read_to }, size);
        }
        let mut extract = extract.finish(water_ways, mark_findings)?;
        extract.buildings = wish.buildings.then(|| buildings.places(|node| extract.place_of(node)));
        Ok(extract)
    }

    fn take(
        &mut self,
        part: Part,
        water_ways: &mut Vec<(i64, Vec<i64>, WaterTags)>,
        mark_findings: &mut Vec<(i64, Findings)>,
    ) {
        let shift = self.refs.len();
        self.node_ids.extend(part.node_ids);
        self.node_places.extend(part.node_places);
        self.refs.extend(part.refs);
        self.ways.extend(part.ways.into_iter().map(|way| RawWay { first_ref: way.first_ref + shift, ..way }));
        self.marks.extend(part.marks);
        self.restrictions.extend(part.restrictions);
        self.waters.extend(part.waters);
        self.yards.extend(part.yards);
        for (reason, count) in part.left_out {
            *self.left_out.entry(reason).or_default() += count;
        }
        self.findings.absorb_new(part.findings);
        water_ways.extend(part.water_ways);
        mark_findings.extend(part.mark_findings);
    }

    fn finish(
        mut self,
        water_ways: Vec<(i64, Vec<i64>, WaterTags)>,
        mark_findings: Vec<(i64, Findings)>,
    ) -> Outcome<Extract> {
        if !self.node_ids.is_sorted() {
            let mut order: Vec<(i64, Place)> =
                self.node_ids.drain(..).zip(self.node_places.drain(..)).collect();
            order.par_sort_by_key(|(id, _)| *id);
            (self.node_ids, self.node_places) = order.into_iter().unzip();
            self.findings.add(Finding::new(
                Code::ElementsOutOfOrder,
                Where::file(&self.file),
                "the nodes are not sorted by id",
                "nothing to do; a sorted file reads faster",
            ));
        }
        self.bounds = Bounds::around(self.node_places.iter().copied());
        self.marks.sort_by_key(|(id, _)| *id);
        for (id, nodes, tags) in water_ways {
            let places: Vec<Place> = nodes.iter().filter_map(|n| self.place_of(*n)).collect();
            if let Some(bounds) = Bounds::around(places) {
                let place = bounds.west_south.between(bounds.east_north, 0.5);
                self.waters.push(RawWater { osm: OsmRef::Way(id), place, tags });
            }
        }
        if self.ways.is_empty() {
            return Err(Refusal::new(
                Code::NoRoads,
                Where::file(&self.file),
                format!("the file holds {} nodes but no road a truck could use", self.node_ids.len()),
                "use an extract that was not filtered, or one of another area",
            ));
        }
        // A limit on a node counts only where the node lies on a road; elsewhere it is noise.
        if !mark_findings.is_empty() {
            let mut on_road = self.refs.clone();
            on_road.par_sort_unstable();
            for (id, findings) in mark_findings {
                if on_road.binary_search(&id).is_ok() {
                    self.findings.absorb_new(findings);
                }
            }
        }
        Ok(self)
    }

    /// Index into the node table.
    pub fn node_index(&self, id: i64) -> Option<usize> {
        self.node_ids.binary_search(&id).ok()
    }

    fn place_of(&self, id: i64) -> Option<Place> {
        self.node_index(id).map(|i| self.node_places[i])
    }

    pub fn way_refs(&self, way: &RawWay) -> &[i64] {
        &self.refs[way.first_ref..way.first_ref + way.ref_count]
    }
}

fn refuse_open(file: &str, error: &std::io::Error) -> Refusal {
    let code =
        if error.kind() == std::io::ErrorKind::NotFound { Code::FileMissing } else { Code::FileUnreadable };
    Refusal::new(
        code,
        Where::file(file),
        format!("the road file cannot be opened ({error})"),
        "name an OpenStreetMap extract (.osm.pbf) with --roads or `roads` in the scenario",
    )
}

fn damaged(file: &str, cause: impl Into<String>) -> Refusal {
    Refusal::new(
        Code::FileUnreadable,
        Where::file(file),
        cause,
        "download the .osm.pbf extract again and compare its checksum",
    )
}

/// Decodes one block. A decoder that trips over damaged bytes must not take the program with it,
/// so its panic is caught and becomes a finding like any other damage.
fn decode(blob: &Blob, file: &str, wish: Wish) -> Outcome<Part> {
    let at = blob.offset().map_or(0, |o| o.0);
    let result = quietly(|| match blob.decode() {
        Ok(BlobDecode::OsmData(block)) => read_block(&block, wish),
        Ok(BlobDecode::OsmHeader(header)) => {
            let known = ["OsmSchema-V0.6", "DenseNodes"];
            match header.required_features().iter().find(|f| !known.contains(&f.as_str())) {
                Some(feature) => {
                    Err(format!("the file needs \"{feature}\", which this reader does not know"))
                }
                None => Ok(Part::default()),
            }
        }
        Ok(BlobDecode::Unknown(_)) => Ok(Part::default()),
        Err(e) => Err(format!("the block at byte {at} is damaged ({e})")),
    });
    match result {
        Some(Ok(part)) => Ok(part),
        Some(Err(cause)) => Err(damaged(file, cause)),
        None => Err(damaged(file, format!("the block at byte {at} is damaged"))),
    }
}

/// Runs a decoder; `None` if it panicked. The panic message, which would say nothing to the person
/// who reads it, is kept back on this thread and while this runs, and nowhere else.
fn quietly<T>(decoder: impl FnOnce() -> T) -> Option<T> {
    thread_local!(static QUIET: Cell<bool> = const { Cell::new(false) });
    static HOOK: Once = Once::new();
    HOOK.call_once(|| {
        let usual = panic::take_hook();
        panic::set_hook(Box::new(move |info| {
            if !QUIET.get() {
                usual(info);
            }
        }));
    });
    QUIET.set(true);
    let result = panic::catch_unwind(AssertUnwindSafe(decoder));
    QUIET.set(false);
    result.ok()
}

fn read_block(block: &PrimitiveBlock, wish: Wish) -> Result<Part, String> {
    let buildings = wish.buildings.then(RawBuildings::default);
    let mut part = Part { buildings, ..Part::default() };
    let mut trouble = None;
    block.for_each_element(|element| {
        if trouble.is_some() {
            return;
        }
        let read = match element {
            Element::DenseNode(n) => {
                part.node(n.id(), n.decimicro_lon(), n.decimicro_lat(), n.tags().collect())
            }
            Element::Node(n) => part.node(n.id(), n.decimicro_lon(), n.decimicro_lat(), n.tags().collect()),
            Element::Way(w) => part.way(&w),
            Element::Relation(r) => part.relation(&r),
        };
        trouble = read.err();
    });
    trouble.map_or(Ok(part), Err)
}

impl Part {
    fn node(&mut self, id: i64, lon_e7: i32, lat_e7: i32, tags: Vec<(&str, &str)>) -> Result<(), String> {
        let place = Place::from_e7(lon_e7, lat_e7);
        if !place.on_earth() {
            return Err(format!("node {id} lies outside the earth"));
        }
        self.node_ids.push(id);
        self.node_places.push(place);
        if tags.is_empty() {
            return Ok(());
        }
        let mut findings = Findings::new();
        if let Some(mark) = tags::node(id, &tags, &mut findings) {
            self.marks.push((id, mark));
            if !findings.is_empty() {
                self.mark_findings.push((id, findings));
            }
        }
        if let Some(tags) = tags::water(&tags) {
            self.waters.push(RawWater { osm: OsmRef::Node(id), place, tags });
        }
        Ok(())
    }

    fn way(&mut self, way: &osmpbf::Way) -> Result<(), String> {
        let tags: Vec<(&str, &str)> = way.tags().collect();
        if let Some(water) = tags::water(&tags) {
            self.water_ways.push((way.id(), way.refs().collect(), water));
        }
        self.buildings.iter_mut().for_each(|buildings| buildings.way(way, &tags));
        if tags::yard(&tags) {
            self.yards.push(way.refs().collect());
        }
        match tags::road(way.id(), &tags, &mut self.findings) {
            None => {}
            Some(Err(reason)) => *self.left_out.entry(reason).or_default() += 1,
            Some(Ok(road)) => {
                let first_ref = self.refs.len();
                self.refs.extend(way.refs());
                // A node written twice in a row is a slip; as a junction it would be a place to turn.
                let mut refs = self.refs.split_off(first_ref);
                refs.dedup();
                self.refs.append(&mut refs);
                self.ways.push(RawWay {
                    id: way.id(),
                    first_ref,
                    ref_count: self.refs.len() - first_ref,
                    tags: road,
                    name: tags::road_name(&tags).map(Into::into),
                });
            }
        }
        Ok(())
    }

    fn relation(&mut self, relation: &osmpbf::Relation) -> Result<(), String> {
        let tags: Vec<(&str, &str)> = relation.tags().collect();
        self.buildings.iter_mut().for_each(|buildings| buildings.relation(relation, &tags));
        let Some((rule, hours, exempt)) = tags::turn_rule(relation.id(), &tags, &mut self.findings) else {
            return Ok(());
        };
        let mut raw = RawRestriction {
            id: relation.id(),
            rule,
            hours,
            exempt,
            from: Vec::new(),
            via_nodes: Vec::new(),
            via_ways: Vec::new(),
            to: Vec::new(),
        };
        for member in relation.members() {
            let role = member.role().map_err(|e| format!("relation {} is damaged ({e})", relation.id()))?;
            match (role, member.member_type) {
                ("from", RelMemberType::Way) => raw.from.push(member.member_id),
                ("to", RelMemberType::Way) => raw.to.push(member.member_id),
                ("via", RelMemberType::Node) => raw.via_nodes.push(member.member_id),
                ("via", RelMemberType::Way) => raw.via_ways.push(member.member_id),
                _ => {}
            }
        }
        self.restrictions.push(raw);
        Ok(())
    }
}
