//! Makes a rural road network of any size, and fill sites in proportion: what speed and memory are measured on.
//!
//!     cargo run --release --example synthetic -- --arcs 1000000 OUT.osm.pbf SITES.csv [--seed N]
//!
//! A lattice of roads about 500 m apart, the main ones farther; creeks cut some of the lesser ones, lanes
//! branch off and end. Every place and name is invented. Same arguments, same bytes. The arcs come out within
//! a few per cent of what was asked for; one fill site a thousand of them.

#[path = "county/pbf.rs"]
#[allow(dead_code)]
mod pbf;

use pbf::{Member, MemberType, Node, OsmData, Relation, Tags, Way};
use rand::seq::IndexedRandom;
use rand::{RngExt, SeedableRng};
use rand_pcg::Pcg64;
use std::fmt::Write;

/// Metres between roads; 28 arcs a square kilometre come of it.
const APART_M: f64 = 500.0;
/// Segments a crossing of the lattice has on the average, as counted.
const SEGMENTS_A_CROSSING: f64 = 3.62;
const ARCS_A_SITE: usize = 1_000;
/// South-west corner: open sea, so that nobody takes it for a place.
const CORNER: [f64; 2] = [-38.0, 38.0];
const METRES_A_DEGREE: f64 = 111_195.0;

struct Maker {
    data: OsmData,
    dice: Pcg64,
    /// Nodes of public road.
    public: Vec<usize>,
    /// Times that roads meet or end at a node come to this many segments.
    segments: usize,
}

fn tags(list: &[(&str, &str)]) -> Tags {
    list.iter().map(|(key, value)| (key.to_string(), value.to_string())).collect()
}

impl Maker {
    fn node(&mut self, x: f64, y: f64) -> i64 {
        let lat = CORNER[1] + y / METRES_A_DEGREE;
        // One scale for the whole, that of the corner: the lattice narrows northward by no more than maps do.
        let lon = CORNER[0] + x / (METRES_A_DEGREE * CORNER[1].to_radians().cos());
        let id = self.data.nodes.len() as i64 + 1;
        let e7 = |degrees: f64| (degrees * 1e7).round() as i32;
        self.data.nodes.push(Node { id, lon_e7: e7(lon), lat_e7: e7(lat), tags: Vec::new() });
        id
    }

    fn off(&mut self, most: f64) -> f64 {
        self.dice.random_range(-most..most)
    }

    fn name(&mut self) -> String {
        let pick = |dice: &mut Pcg64, list: &[&'static str]| *list.choose(dice).unwrap_or(&"");
        const FIRST: [&str; 16] = [
            "Alder", "Barrow", "Cold", "Dunmer", "Elm", "Fallow", "Gander", "Hollow", "Iron", "Juniper",
            "Kettle", "Long", "Mill", "North", "Otter", "Quarry",
        ];
        const SECOND: [&str; 12] = [
            "brook", "croft", "dale", "field", "gate", "hatch", "knoll", "mead", "ridge", "stead", "ton",
            "wick",
        ];
        let number = self.dice.random_range(1..400);
        format!("{}{} Road {number}", pick(&mut self.dice, &FIRST), pick(&mut self.dice, &SECOND))
    }

    fn way(&mut self, refs: Vec<i64>, class: &str, name: Option<String>) -> i64 {
        let id = self.data.ways.len() as i64 + 1;
        let mut tags = tags(&[("highway", class)]);
        tags.extend(name.map(|name| ("name".to_string(), name)));
        if matches!(class, "service" | "track") {
            tags.push(("surface".into(), "gravel".into()));
        }
        self.data.ways.push(Way { id, refs, tags });
        id
    }

    /// A lane off a node, with its own branches, as a tree.
    fn lane(&mut self, from: i64, at: [f64; 2], heading: f64, depth: u32) {
        let class =
            *["residential", "service", "track", "unclassified"].choose(&mut self.dice).unwrap_or(&"track");
        let mut refs = vec![from];
        let (mut at, mut heading) = (at, heading);
        let mut branch = None;
        let pieces = self.dice.random_range(2..5);
        for piece in 0..pieces {
            let step = self.dice.random_range(50.0..110.0);
            heading += self.off(0.5);
            at = [at[0] + step * heading.cos(), at[1] + step * heading.sin()];
            let node = self.node(at[0], at[1]);
            refs.push(node);
            if piece + 1 < pieces && depth < 2 && branch.is_none() && self.dice.random_bool(0.4) {
                branch = Some((node, at, heading));
            }
        }
        let name = if class == "residential" { Some(self.name()) } else { None };
        self.way(refs, class, name);
        self.segments += 1;
        if let Some((node, at, heading)) = branch {
            let turned = heading + if self.dice.random_bool(0.5) { 1.4 } else { -1.4 };
            self.segments += 1;
            self.lane(node, at, turned, depth + 1);
        }
    }

    /// A road along crossings, lanes off it.
    fn road(&mut self, crossings: &[(i64, [f64; 2])], class: &str) -> i64 {
        let mut refs = vec![crossings[0].0];
        let mut lanes = Vec::new();
        for pair in crossings.windows(2) {
            let [(_, a), (to, b)] = [pair[0], pair[1]];
            let heading = (b[1] - a[1]).atan2(b[0] - a[0]);
            let bends = self.dice.random_range(1..4);
            let lane_at = if self.dice.random_bool(0.35) { self.dice.random_range(0..bends) } else { bends };
            for bend in 0..bends {
                let along = f64::from(bend + 1) / f64::from(bends + 1);
                let (dx, dy) = (self.off(25.0), self.off(25.0));
                let at = [a[0] + (b[0] - a[0]) * along + dx, a[1] + (b[1] - a[1]) * along + dy];
                let node = self.node(at[0], at[1]);
                refs.push(node);
                if bend == lane_at {
                    let aside = if self.dice.random_bool(0.5) { 1.57 } else { -1.57 };
                    lanes.push((node, at, heading + aside));
                    self.segments += 1;
                }
            }
            refs.push(to);
            self.public.push(to as usize - 1);
            self.segments += 1;
        }
        let name = self.name();
        let way = self.way(refs, class, Some(name));
        for (node, at, heading) in lanes {
            self.lane(node, at, heading, 0);
        }
        way
    }
}

fn class(line: usize) -> &'static str {
    match line {
        _ if line.is_multiple_of(16) => "primary",
        _ if line.is_multiple_of(8) => "secondary",
        _ if line.is_multiple_of(4) => "tertiary",
        _ => "unclassified",
    }
}

fn make(arcs: usize, seed: u64) -> Maker {
    let side = (arcs as f64 / 2.0 / SEGMENTS_A_CROSSING).sqrt().ceil().max(3.0) as usize;
    let mut maker =
        Maker { data: OsmData::default(), dice: Pcg64::seed_from_u64(seed), public: Vec::new(), segments: 0 };
    let mut crossings = Vec::with_capacity(side * side);
    for row in 0..side {
        for column in 0..side {
            let at = [column as f64 * APART_M + maker.off(110.0), row as f64 * APART_M + maker.off(110.0)];
            crossings.push((maker.node(at[0], at[1]), at));
        }
    }
    // By crossing: a way that ends there, for bans of turns.
    let mut ends_at: Vec<Option<i64>> = vec![None; side * side];
    for eastward in [true, false] {
        for line in 0..side {
            let class = class(line);
            let cut = match class {
                "unclassified" => 0.25,
                "tertiary" => 0.04,
                _ => 0.0,
            };
            let index = |i: usize| if eastward { line * side + i } else { i * side + line };
            let mut run = vec![index(0)];
            for i in 1..side {
                let creek = maker.dice.random_bool(cut);
                if !creek {
                    run.push(index(i));
                }
                if creek || run.len() > 8 || i + 1 == side {
                    if run.len() > 1 {
                        let along: Vec<(i64, [f64; 2])> = run.iter().map(|i| crossings[*i]).collect();
                        let way = maker.road(&along, class);
                        let last = run[run.len() - 1];
                        match ends_at[last] {
                            // No turn from one road's end into the other's, at one crossing in fifty.
                            Some(other) if maker.dice.random_bool(0.02) => {
                                let member = |role: &str, kind, id| Member { role: role.into(), kind, id };
                                maker.data.relations.push(Relation {
                                    id: maker.data.relations.len() as i64 + 1,
                                    members: vec![
                                        member("from", MemberType::Way, way),
                                        member("via", MemberType::Node, crossings[last].0),
                                        member("to", MemberType::Way, other),
                                    ],
                                    tags: tags(&[("type", "restriction"), ("restriction", "no_left_turn")]),
                                });
                            }
                            _ => ends_at[last] = Some(way),
                        }
                    }
                    run = vec![index(i)];
                }
            }
        }
    }
    maker
}

fn sites(maker: &mut Maker) -> String {
    let mut text = String::from("name,lon,lat,kind,flow_gpm,berths\n");
    for number in 1..=(maker.segments * 2 / ARCS_A_SITE).max(1) {
        let node = *maker.public.choose(&mut maker.dice).unwrap_or(&0);
        let Node { lon_e7, lat_e7, .. } = maker.data.nodes[node];
        let (lon, lat) = (f64::from(lon_e7) / 1e7, f64::from(lat_e7) / 1e7);
        let (gpm, berths) = (maker.dice.random_range(10..60) * 25, maker.dice.random_range(1..3));
        let _ = writeln!(text, "Hydrant {number},{lon},{lat},hydrant,{gpm},{berths}");
    }
    text
}

fn main() {
    let mut files = Vec::new();
    let (mut arcs, mut seed) = (100_000, 1);
    let mut arguments = std::env::args().skip(1);
    let usage = "synthetic --arcs N [--seed N] OUT.osm.pbf SITES.csv";
    while let Some(argument) = arguments.next() {
        let mut number = || arguments.next().and_then(|text| text.parse().ok()).expect(usage);
        match argument.as_str() {
            "--arcs" => arcs = number(),
            "--seed" => seed = number() as u64,
            _ => files.push(argument),
        }
    }
    let [roads, list] = &files[..] else { panic!("{usage}") };
    let mut maker = make(arcs, seed);
    let csv = sites(&mut maker);
    std::fs::write(list, csv).expect("the site list can be written");
    std::fs::write(roads, pbf::write(&maker.data)).expect("the extract can be written");
    let Maker { data, segments, .. } = maker;
    println!(
        "{} arcs, {} ways, {} nodes, {} bans",
        segments * 2,
        data.ways.len(),
        data.nodes.len(),
        data.relations.len()
    );
}
