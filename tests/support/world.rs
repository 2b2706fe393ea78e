//! Road worlds drawn as text, so that a test shows its map and derives its numbers from it.
//!
//! ```text
//! World::new(100.0)
//!     .map("
//!         A----B----C
//!              |
//!              D
//!     ")
//!     .way("ABC", &[("highway", "residential"), ("name", "North Street")])
//!     .way("BD", &[("highway", "track")])
//!     .node('B', &[("highway", "stop")])
//!     .restriction("no_left_turn", "AB", 'B', "BD")
//!     .pbf()
//! ```
//!
//! Letters and digits are nodes; each character cell is the given metres to the east and to the
//! south; `-`, `|`, `+`, `/`, `\` and spaces are decoration, roads exist only as ways. So A to B
//! above is 500 m and B to D 200 m. The picture's middle lies in the open ocean.

use super::pbf::{self, Member, MemberType, OsmData, Relation, Tags};
use std::collections::{BTreeMap, BTreeSet};
use std::path::{Path, PathBuf};
use tankerloop::place::Place;

const MIDDLE_LON: f64 = -34.0;
const MIDDLE_LAT: f64 = 31.0;
/// Mean radius of GRS 80 in metres, as in `place`: the distance there then returns our metres.
const EARTH_RADIUS_M: f64 = 6_371_008.8;
const FIRST_WAY: i64 = 100;
const FIRST_RELATION: i64 = 1_000;

pub struct World {
    metres_per_cell: f64,
    /// Node letter to (column, row), in reading order for the ids.
    cells: Vec<(char, usize, usize)>,
    node_tags: BTreeMap<char, Tags>,
    cut: BTreeSet<char>,
    ways: Vec<(String, Tags)>,
    relations: Vec<(Vec<Member>, Tags)>,
}

fn owned(tags: &[(&str, &str)]) -> Tags {
    tags.iter().map(|(key, value)| (key.to_string(), value.to_string())).collect()
}

impl World {
    pub fn new(metres_per_cell: f64) -> World {
        World {
            metres_per_cell,
            cells: Vec::new(),
            node_tags: BTreeMap::new(),
            cut: BTreeSet::new(),
            ways: Vec::new(),
            relations: Vec::new(),
        }
    }

    /// The picture. Only differences of columns count, so it may be indented. A picture of several
    /// rows starts on a new line: beside the opening quote its first row would lose its indent.
    pub fn map(mut self, picture: &str) -> World {
        assert!(self.cells.is_empty(), "one picture per world");
        let first = picture.lines().next().unwrap_or_default();
        assert!(
            picture.lines().count() == 1 || first.trim().is_empty(),
            "start a picture of several rows on a new line"
        );
        for (row, line) in picture.lines().enumerate() {
            for (column, letter) in line.chars().enumerate() {
                match letter {
                    ' ' | '-' | '|' | '+' | '/' | '\\' => {}
                    c if c.is_ascii_alphanumeric() => {
                        assert!(self.cells.iter().all(|cell| cell.0 != c), "node {c} is drawn twice");
                        self.cells.push((c, column, row));
                    }
                    c => panic!("{c:?} in row {row} is neither a node nor decoration"),
                }
            }
        }
        self
    }

    /// A way through nodes in order; its id is 100 plus the number of ways before it.
    pub fn way(mut self, nodes: &str, tags: &[(&str, &str)]) -> World {
        for letter in nodes.chars() {
            self.cell(letter);
        }
        assert!(nodes.len() >= 2, "way {nodes} needs two nodes");
        self.ways.push((nodes.to_string(), owned(tags)));
        self
    }

    /// A residential way without further tags, two-way.
    pub fn road(self, nodes: &str) -> World {
        self.way(nodes, &[("highway", "residential")])
    }

    /// A residential one-way in the order of the nodes.
    pub fn one(self, nodes: &str) -> World {
        self.way(nodes, &[("highway", "residential"), ("oneway", "yes")])
    }

    /// Tags on a node; a second call adds to the first.
    pub fn node(mut self, letter: char, tags: &[(&str, &str)]) -> World {
        self.cell(letter);
        self.node_tags.entry(letter).or_default().extend(owned(tags));
        self
    }

    /// Nodes that ways refer to but that are not written, as at the edge of an extract.
    pub fn cut(mut self, letters: &str) -> World {
        for letter in letters.chars() {
            self.cell(letter);
            self.cut.insert(letter);
        }
        self
    }

    /// A turn restriction from a way by a node to a way. The ways must be declared already.
    pub fn restriction(self, kind: &str, from: &str, via: char, to: &str) -> World {
        self.restriction_with(kind, from, via, to, &[])
    }

    /// The same with further tags, such as `except`.
    pub fn restriction_with(
        self,
        kind: &str,
        from: &str,
        via: char,
        to: &str,
        tags: &[(&str, &str)],
    ) -> World {
        let via = vec![Member { role: "via".into(), kind: MemberType::Node, id: self.node_id(via) }];
        self.restrict(kind, from, via, to, tags)
    }

    /// A turn restriction by one or more via ways.
    pub fn restriction_via_ways(self, kind: &str, from: &str, via: &[&str], to: &str) -> World {
        let member = |way: &&str| Member { role: "via".into(), kind: MemberType::Way, id: self.way_id(way) };
        let via = via.iter().map(member).collect();
        self.restrict(kind, from, via, to, &[])
    }

    fn restrict(self, kind: &str, from: &str, via: Vec<Member>, to: &str, extra: &[(&str, &str)]) -> World {
        let end =
            |role: &str, way: &str| Member { role: role.into(), kind: MemberType::Way, id: self.way_id(way) };
        let mut members = vec![end("from", from)];
        members.extend(via);
        members.push(end("to", to));
        let mut tags = owned(&[("type", "restriction")]);
        if !kind.is_empty() {
            tags.extend(owned(&[("restriction", kind)]));
        }
        tags.extend(owned(extra));
        self.relation(members, tags)
    }

    /// Any relation; its id is 1,000 plus the number of relations before it.
    pub fn relation(mut self, members: Vec<Member>, tags: Tags) -> World {
        self.relations.push((members, tags));
        self
    }

    fn cell(&self, letter: char) -> (usize, usize, usize) {
        let found = self.cells.iter().position(|cell| cell.0 == letter);
        let index = found.unwrap_or_else(|| panic!("node {letter} is not in the picture"));
        (index, self.cells[index].1, self.cells[index].2)
    }

    /// Ids count from 1 in reading order of the picture.
    pub fn node_id(&self, letter: char) -> i64 {
        self.cell(letter).0 as i64 + 1
    }

    /// The id of the way declared with exactly these letters.
    pub fn way_id(&self, nodes: &str) -> i64 {
        let mut found = self.ways.iter().enumerate().filter(|(_, way)| way.0 == nodes);
        let (index, _) = found.next().unwrap_or_else(|| panic!("no way {nodes} has been declared"));
        assert!(found.next().is_none(), "way {nodes} is declared twice, its id is ambiguous");
        FIRST_WAY + index as i64
    }

    pub fn place(&self, letter: char) -> Place {
        self.beside(letter, 0.0, 0.0)
    }

    /// The place so many metres east and north of a node; negative is west and south.
    pub fn beside(&self, letter: char, east_m: f64, north_m: f64) -> Place {
        let (_, column, row) = self.cell(letter);
        let middle = |of: fn(&(char, usize, usize)) -> usize| {
            let values = || self.cells.iter().map(of);
            (values().min().unwrap_or(0) + values().max().unwrap_or(0)) as f64 / 2.0
        };
        let east = (column as f64 - middle(|c| c.1)) * self.metres_per_cell + east_m;
        let north = (middle(|c| c.2) - row as f64) * self.metres_per_cell + north_m;
        // Each row takes the length of a degree at its own latitude: east-west distances are then
        // exact in every row, and columns, 10 km off the middle, lean by a few metres only,
        // which lengthens a north-south kilometre by far less than a centimetre.
        let metres_per_degree = EARTH_RADIUS_M.to_radians();
        let lat = MIDDLE_LAT + north / metres_per_degree;
        let lon = MIDDLE_LON + east / (metres_per_degree * lat.to_radians().cos());
        Place::from_lon_lat(lon, lat).expect("the picture fits on the earth")
    }

    /// The node that lies within a metre of a place, if any.
    pub fn letter_at(&self, place: Place) -> Option<char> {
        let mut letters = self.cells.iter().map(|cell| cell.0);
        letters.find(|letter| self.place(*letter).distance(place).0 < 1.0)
    }

    /// Metres along a line of nodes as drawn, for deriving an expected time.
    pub fn metres(&self, nodes: &str) -> f64 {
        let cells: Vec<_> = nodes.chars().map(|letter| self.cell(letter)).collect();
        let leg = |a: (usize, usize, usize), b: (usize, usize, usize)| {
            (a.1 as f64 - b.1 as f64).hypot(a.2 as f64 - b.2 as f64) * self.metres_per_cell
        };
        cells.windows(2).map(|pair| leg(pair[0], pair[1])).sum()
    }

    pub fn osm(&self) -> OsmData {
        let written = self.cells.iter().filter(|cell| !self.cut.contains(&cell.0));
        let nodes = written.map(|&(letter, ..)| pbf::Node {
            id: self.node_id(letter),
            lon_e7: self.place(letter).lon_e7(),
            lat_e7: self.place(letter).lat_e7(),
            tags: self.node_tags.get(&letter).cloned().unwrap_or_default(),
        });
        let ways = self.ways.iter().zip(FIRST_WAY..).map(|((letters, tags), id)| pbf::Way {
            id,
            refs: letters.chars().map(|letter| self.node_id(letter)).collect(),
            tags: tags.clone(),
        });
        let relations = self.relations.iter().zip(FIRST_RELATION..).map(|((members, tags), id)| Relation {
            id,
            members: members.clone(),
            tags: tags.clone(),
        });
        OsmData { nodes: nodes.collect(), ways: ways.collect(), relations: relations.collect() }
    }

    /// The extract as a file's bytes.
    pub fn pbf(&self) -> Vec<u8> {
        pbf::write(&self.osm())
    }

    /// Writes `world.osm.pbf` into a directory and returns its path.
    pub fn write(&self, directory: &Path) -> PathBuf {
        let path = directory.join("world.osm.pbf");
        std::fs::write(&path, self.pbf()).expect("the test directory can be written");
        path
    }
}
