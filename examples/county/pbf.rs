//! Writes OpenStreetMap data as PBF (<https://wiki.openstreetmap.org/wiki/PBF_Format>).
//!
//! Only what an extract needs: dense nodes, ways and relations with their tags, without
//! metadata. The protobuf encoding is by hand, since the format uses three wire types only.
//! Same input, same bytes. The tests of the crate use this file too, so it stands alone.

use flate2::Compression;
use flate2::write::ZlibEncoder;
use std::collections::BTreeMap;
use std::io::Write as _;

pub type Tags = Vec<(String, String)>;

#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Node {
    pub id: i64,
    /// 10⁻⁷ degrees.
    pub lon_e7: i32,
    pub lat_e7: i32,
    pub tags: Tags,
}

#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Way {
    pub id: i64,
    /// Node ids. A node that is not in the data is allowed: extracts cut ways that way.
    pub refs: Vec<i64>,
    pub tags: Tags,
}

/// The format's numbering.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[allow(dead_code)] // the county has no relation of relations
pub enum MemberType {
    Node = 0,
    Way = 1,
    Relation = 2,
}

#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Member {
    pub role: String,
    pub kind: MemberType,
    pub id: i64,
}

#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Relation {
    pub id: i64,
    pub members: Vec<Member>,
    pub tags: Tags,
}

#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct OsmData {
    pub nodes: Vec<Node>,
    pub ways: Vec<Way>,
    pub relations: Vec<Relation>,
}

/// Elements in one block: the format's customary ceiling.
const BLOCK: usize = 8_000;
const PROGRAM: &str = "tankerloop";

/// The whole file. Elements may come in any order; they are written sorted by id.
pub fn write(data: &OsmData) -> Vec<u8> {
    let mut nodes: Vec<&Node> = data.nodes.iter().collect();
    let mut ways: Vec<&Way> = data.ways.iter().collect();
    let mut relations: Vec<&Relation> = data.relations.iter().collect();
    nodes.sort_by_key(|n| n.id);
    ways.sort_by_key(|w| w.id);
    relations.sort_by_key(|r| r.id);

    let mut file = Vec::new();
    blob(&mut file, "OSMHeader", &header(&nodes));
    for chunk in nodes.chunks(BLOCK) {
        blob(&mut file, "OSMData", &block(|strings| dense_nodes(chunk, strings)));
    }
    for chunk in ways.chunks(BLOCK) {
        blob(&mut file, "OSMData", &block(|strings| group(3, chunk, |w| way(w, strings))));
    }
    for chunk in relations.chunks(BLOCK) {
        blob(&mut file, "OSMData", &block(|strings| group(4, chunk, |r| relation(r, strings))));
    }
    file
}

/// A protobuf message under construction.
#[derive(Default)]
struct Message(Vec<u8>);

impl Message {
    fn key(&mut self, field: u32, wire_type: u32) {
        varint(&mut self.0, u64::from(field << 3 | wire_type));
    }
    fn number(&mut self, field: u32, value: u64) {
        self.key(field, 0);
        varint(&mut self.0, value);
    }
    fn signed(&mut self, field: u32, value: i64) {
        self.number(field, zigzag(value));
    }
    fn bytes(&mut self, field: u32, value: &[u8]) {
        self.key(field, 2);
        varint(&mut self.0, value.len() as u64);
        self.0.extend_from_slice(value);
    }
    /// A packed repeated field; an empty one is left out, as protobuf asks.
    fn packed(&mut self, field: u32, values: impl IntoIterator<Item = u64>) {
        let mut body = Vec::new();
        for value in values {
            varint(&mut body, value);
        }
        if !body.is_empty() {
            self.bytes(field, &body);
        }
    }
}

fn varint(out: &mut Vec<u8>, mut value: u64) {
    while value >= 0x80 {
        out.push(value as u8 | 0x80);
        value >>= 7;
    }
    out.push(value as u8);
}

fn zigzag(value: i64) -> u64 {
    ((value << 1) ^ (value >> 63)) as u64
}

/// Differences to the value before, zigzag coded, the first against zero.
fn deltas(values: impl IntoIterator<Item = i64>) -> Vec<u64> {
    let mut last = 0;
    values
        .into_iter()
        .map(|value| {
            let delta = value - last;
            last = value;
            zigzag(delta)
        })
        .collect()
}

/// The texts of one block. Index 0 is reserved by the format as the delimiter of dense tags.
struct Strings {
    index: BTreeMap<String, u64>,
    list: Vec<String>,
}

impl Strings {
    fn new() -> Strings {
        Strings { index: BTreeMap::new(), list: vec![String::new()] }
    }
    fn of(&mut self, text: &str) -> u64 {
        if let Some(&index) = self.index.get(text) {
            return index;
        }
        let index = self.list.len() as u64;
        self.list.push(text.to_string());
        self.index.insert(text.to_string(), index);
        index
    }
}

fn blob(file: &mut Vec<u8>, kind: &str, raw: &[u8]) {
    let mut encoder = ZlibEncoder::new(Vec::new(), Compression::best());
    encoder.write_all(raw).expect("writing to memory cannot fail");
    let mut body = Message::default();
    body.number(2, raw.len() as u64);
    body.bytes(3, &encoder.finish().expect("writing to memory cannot fail"));

    let mut head = Message::default();
    head.bytes(1, kind.as_bytes());
    head.number(3, body.0.len() as u64);
    file.extend_from_slice(&(head.0.len() as u32).to_be_bytes());
    file.extend_from_slice(&head.0);
    file.extend_from_slice(&body.0);
}

fn header(nodes: &[&Node]) -> Vec<u8> {
    let mut message = Message::default();
    let span = |of: fn(&Node) -> i32| {
        let values = || nodes.iter().map(|n| i64::from(of(n)));
        Some((values().min()?, values().max()?))
    };
    if let (Some((west, east)), Some((south, north))) = (span(|n| n.lon_e7), span(|n| n.lat_e7)) {
        // The bounding box is in nanodegrees whatever the granularity of the blocks.
        let mut bbox = Message::default();
        for (field, value) in [(1, west), (2, east), (3, north), (4, south)] {
            bbox.signed(field, value * 100);
        }
        message.bytes(1, &bbox.0);
    }
    message.bytes(4, b"OsmSchema-V0.6");
    message.bytes(4, b"DenseNodes");
    message.bytes(5, b"Sort.Type_then_ID");
    message.bytes(16, PROGRAM.as_bytes());
    message.0
}

/// One PrimitiveBlock with one group. The granularity stays at its default of 100 nanodegrees,
/// which is the unit of our nodes, so the numbers go in as they are.
fn block(fill: impl FnOnce(&mut Strings) -> Message) -> Vec<u8> {
    let mut strings = Strings::new();
    let group = fill(&mut strings);
    let mut table = Message::default();
    for text in &strings.list {
        table.bytes(1, text.as_bytes());
    }
    let mut message = Message::default();
    message.bytes(1, &table.0);
    message.bytes(2, &group.0);
    message.0
}

fn group<T>(field: u32, elements: &[&T], mut encode: impl FnMut(&T) -> Message) -> Message {
    let mut message = Message::default();
    for element in elements {
        message.bytes(field, &encode(element).0);
    }
    message
}

fn dense_nodes(nodes: &[&Node], strings: &mut Strings) -> Message {
    let mut dense = Message::default();
    dense.packed(1, deltas(nodes.iter().map(|n| n.id)));
    dense.packed(8, deltas(nodes.iter().map(|n| i64::from(n.lat_e7))));
    dense.packed(9, deltas(nodes.iter().map(|n| i64::from(n.lon_e7))));
    // Without any tag in the block the field is left out; otherwise every node ends in a 0.
    if nodes.iter().any(|n| !n.tags.is_empty()) {
        let mut keys_vals = Vec::new();
        for node in nodes {
            for (key, value) in &node.tags {
                keys_vals.push(strings.of(key));
                keys_vals.push(strings.of(value));
            }
            keys_vals.push(0);
        }
        dense.packed(10, keys_vals);
    }
    let mut message = Message::default();
    message.bytes(2, &dense.0);
    message
}

fn tags(message: &mut Message, tags: &Tags, strings: &mut Strings) {
    let keys: Vec<u64> = tags.iter().map(|(key, _)| strings.of(key)).collect();
    let values: Vec<u64> = tags.iter().map(|(_, value)| strings.of(value)).collect();
    message.packed(2, keys);
    message.packed(3, values);
}

fn way(way: &Way, strings: &mut Strings) -> Message {
    let mut message = Message::default();
    message.number(1, way.id as u64);
    tags(&mut message, &way.tags, strings);
    message.packed(8, deltas(way.refs.iter().copied()));
    message
}

fn relation(relation: &Relation, strings: &mut Strings) -> Message {
    let mut message = Message::default();
    message.number(1, relation.id as u64);
    tags(&mut message, &relation.tags, strings);
    message.packed(8, relation.members.iter().map(|m| strings.of(&m.role)).collect::<Vec<_>>());
    message.packed(9, deltas(relation.members.iter().map(|m| m.id)));
    message.packed(10, relation.members.iter().map(|m| m.kind as u64));
    message
}
