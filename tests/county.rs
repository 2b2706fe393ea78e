//! The demonstration county: the committed files are what the generator makes, the extract reads,
//! and what makes it hard is really in it.

#[allow(dead_code)]
#[path = "../examples/county/main.rs"]
mod county;

use osmpbf::{Element, ElementReader, RelMemberType};
use petgraph::graph::{NodeIndex, UnGraph};
use std::collections::{BTreeMap, BTreeSet};
use std::path::{Path, PathBuf};
use tankerloop::place::Place;
use tankerloop::units::{Kilograms, Metres};

type Tags = BTreeMap<String, String>;

struct Way {
    id: i64,
    refs: Vec<i64>,
    tags: Tags,
}

struct Relation {
    tags: Tags,
    members: Vec<(String, RelMemberType, i64)>,
}

#[derive(Default)]
struct Extract {
    nodes: BTreeMap<i64, (Place, Tags)>,
    ways: Vec<Way>,
    relations: Vec<Relation>,
    elements: usize,
}

fn owned<'a>(tags: impl Iterator<Item = (&'a str, &'a str)>) -> Tags {
    tags.map(|(key, value)| (key.to_string(), value.to_string())).collect()
}

fn directory() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("data/county")
}

fn text(name: &str) -> String {
    std::fs::read_to_string(directory().join(name)).unwrap()
}

impl Extract {
    fn read() -> Extract {
        let mut extract = Extract::default();
        let reader = ElementReader::from_path(directory().join("county.osm.pbf")).unwrap();
        reader
            .for_each(|element| {
                extract.elements += 1;
                match element {
                    Element::DenseNode(n) => {
                        let place = Place::from_e7(n.decimicro_lon(), n.decimicro_lat());
                        extract.nodes.insert(n.id(), (place, owned(n.tags())));
                    }
                    Element::Way(w) => {
                        extract.ways.push(Way { id: w.id(), refs: w.refs().collect(), tags: owned(w.tags()) })
                    }
                    Element::Relation(r) => extract.relations.push(Relation {
                        tags: owned(r.tags()),
                        members: r
                            .members()
                            .map(|m| (m.role().unwrap().to_string(), m.member_type, m.member_id))
                            .collect(),
                    }),
                    Element::Node(n) => panic!("node {} is not dense", n.id()),
                }
            })
            .unwrap();
        extract
    }

    fn roads(&self) -> impl Iterator<Item = &Way> {
        self.ways.iter().filter(|way| way.tags.contains_key("highway"))
    }

    /// How many road pieces meet at each node.
    fn degrees(&self) -> BTreeMap<i64, usize> {
        let mut degrees = BTreeMap::new();
        for way in self.roads() {
            for pair in way.refs.windows(2) {
                *degrees.entry(pair[0]).or_insert(0) += 1;
                *degrees.entry(pair[1]).or_insert(0) += 1;
            }
        }
        degrees
    }

    fn has_road(&self, wanted: &[(&str, &str)]) -> bool {
        self.roads().any(|way| carries(&way.tags, wanted))
    }

    fn has_node(&self, wanted: &[(&str, &str)]) -> bool {
        self.nodes.values().any(|(_, tags)| carries(tags, wanted))
    }
}

/// `*` stands for any value.
fn carries(tags: &Tags, wanted: &[(&str, &str)]) -> bool {
    wanted.iter().all(|(key, value)| tags.get(*key).is_some_and(|got| *value == "*" || got == value))
}

#[test]
fn committed_files_are_what_the_generator_makes() {
    for (name, content) in county::files() {
        let committed = std::fs::read(directory().join(name)).unwrap_or_default();
        assert!(committed == content, "{name} differs: run `cargo run --example county`");
    }
}

#[test]
fn the_extract_is_of_the_promised_size() {
    let size = std::fs::metadata(directory().join("county.osm.pbf")).unwrap().len();
    assert!(size < 400_000, "{size} bytes");

    let extract = Extract::read();
    let distinct: BTreeSet<i64> = extract.ways.iter().map(|way| way.id).collect();
    assert_eq!(distinct.len(), extract.ways.len());
    let all = extract.nodes.len() + extract.ways.len() + extract.relations.len();
    assert_eq!(all, extract.elements, "an id occurs twice");

    // A segment ends wherever the number of pieces that meet is not two.
    let degrees = extract.degrees();
    let ends: usize = degrees.values().filter(|degree| **degree != 2).sum();
    let segments = ends / 2;
    assert!((2_000..=5_000).contains(&segments), "{segments} segments");

    let bounds = tankerloop::place::Bounds::around(extract.nodes.values().map(|node| node.0)).unwrap();
    let (east, north) = bounds.east_north.offset_from(bounds.west_south);
    assert!((22_000.0..28_000.0).contains(&east), "{east} m wide");
    assert!((18_000.0..22_000.0).contains(&north), "{north} m high");
}

#[test]
fn what_makes_it_hard_is_in_it() {
    let extract = Extract::read();
    for wanted in [
        &[("maxweight", "15 st"), ("bridge", "yes")][..],
        &[("maxweight", "survey"), ("bridge", "yes")],
        &[("maxweight", "18")],
        &[("maxweight", "46000 lbs")],
        &[("lanes", "1"), ("width", "3.5 m")],
        &[("noexit", "yes")],
        &[("highway", "track"), ("tracktype", "grade2")],
        &[("highway", "trunk"), ("oneway", "yes"), ("bridge", "yes")],
        &[("highway", "tertiary"), ("oneway", "yes"), ("maxspeed", "25 mph")],
        &[("maxheight", "10'6\"")],
        &[("service", "parking_aisle")],
        &[("access", "private")],
        &[("highway", "primary"), ("maxspeed", "55 mph")],
        &[("highway", "secondary")],
        &[("highway", "unclassified"), ("maxspeed", "35 mph")],
        &[("highway", "residential"), ("maxspeed", "25 mph")],
    ] {
        assert!(extract.has_road(wanted), "no road with {wanted:?}");
    }
    for wanted in [
        &[("barrier", "gate")][..],
        &[("highway", "turning_circle")],
        &[("highway", "turning_loop")],
        &[("ford", "yes")],
        &[("emergency", "fire_hydrant"), ("fire_hydrant:type", "pillar"), ("fire_hydrant:diameter", "*")],
        &[("emergency", "fire_hydrant"), ("fire_hydrant:pressure", "suction")],
        &[("emergency", "suction_point")],
        &[("emergency", "water_tank"), ("water_tank:volume", "*")],
        &[("emergency", "fire_water_pond")],
    ] {
        assert!(extract.has_node(wanted), "no node with {wanted:?}");
    }
    assert!(extract.ways.iter().any(|way| carries(&way.tags, &[("amenity", "parking")])));
    let free = |way: &&Way| way.tags.contains_key("bridge") && !way.tags.contains_key("maxweight");
    assert!(extract.roads().any(|way| free(&way)), "a bridge without a posting");
    let cut = |way: &&Way| way.refs.iter().any(|node| !extract.nodes.contains_key(node));
    assert!(extract.roads().any(|way| cut(&way)), "a way that leaves the extract");
}

/// A restriction is of use only where its ways meet at its via.
#[test]
fn restrictions_join_their_ways() {
    let extract = Extract::read();
    let refs = |id: i64| &extract.ways.iter().find(|way| way.id == id).unwrap().refs;
    let mut via_ways = 0;
    let mut via_nodes = 0;
    for relation in extract.relations.iter().filter(|r| carries(&r.tags, &[("type", "restriction")])) {
        let member = |role: &str| relation.members.iter().find(|m| m.0 == role).unwrap();
        let (from, via, to) = (member("from"), member("via"), member("to"));
        let ends = |way: i64| [refs(way)[0], *refs(way).last().unwrap()];
        match via.1 {
            RelMemberType::Node => {
                via_nodes += 1;
                assert!(ends(from.2).contains(&via.2) && ends(to.2).contains(&via.2), "{:?}", relation.tags);
            }
            _ => {
                via_ways += 1;
                let touches = |a: i64, b: i64| ends(a).iter().any(|end| ends(b).contains(end));
                assert!(touches(from.2, via.2) && touches(via.2, to.2), "{:?}", relation.tags);
            }
        }
    }
    assert_eq!((via_nodes, via_ways), (2, 1));
}

/// One connected network, apart from the island's road; and the posted bridge is the short way
/// between the dry hydrant and the fire, so that closing it costs a kilometre and more.
#[test]
fn loaded_and_empty_ways_differ() {
    let extract = Extract::read();
    let mut graph = UnGraph::<i64, f64>::new_undirected();
    let mut index: BTreeMap<i64, NodeIndex> = BTreeMap::new();
    let mut posted = Vec::new();
    for way in extract.roads().filter(|way| way.tags["highway"] != "track") {
        for pair in way.refs.windows(2) {
            let (Some(a), Some(b)) = (extract.nodes.get(&pair[0]), extract.nodes.get(&pair[1])) else {
                continue;
            };
            let [from, to] =
                [pair[0], pair[1]].map(|id| *index.entry(id).or_insert_with(|| graph.add_node(id)));
            let edge = graph.add_edge(from, to, a.0.distance(b.0).0);
            if carries(&way.tags, &[("maxweight", "15 st")]) {
                posted.push(edge);
            }
        }
    }
    let parts = petgraph::algo::tarjan_scc(&graph);
    let mut sizes: Vec<usize> = parts.iter().map(Vec::len).collect();
    sizes.sort_unstable();
    assert!(sizes.len() >= 2 && sizes[sizes.len() - 2] < 40, "{sizes:?}");

    let turning_loop = extract.nodes.iter().find(|(_, n)| carries(&n.1, &[("highway", "turning_loop")]));
    let from = index[turning_loop.unwrap().0];
    let scenario: toml::Table = text("scenario.toml").parse().unwrap();
    let at: Place = scenario["incident"]["at"].clone().try_into().unwrap();
    let far = |id: &i64| extract.nodes[id].0.distance(at).0;
    let to = *index.iter().min_by(|a, b| far(a.0).total_cmp(&far(b.0))).unwrap().1;
    let drive = |graph: &UnGraph<i64, f64>| {
        petgraph::algo::dijkstra(graph, from, Some(to), |edge| *edge.weight())[&to]
    };
    let short = drive(&graph);
    assert!(!posted.is_empty());
    for edge in posted {
        graph[edge] = f64::INFINITY;
    }
    let long = drive(&graph);
    assert!((3_000.0..5_000.0).contains(&short), "{short} m by the posted bridge");
    assert!((1_000.0..4_000.0).contains(&(long - short)), "{long} m round it");
}

#[test]
fn the_fleet_is_consistent() {
    let fleet: toml::Table = text("fleet.toml").parse().unwrap();
    let list = |key: &str| fleet[key].as_array().unwrap().clone();
    let tankers = list("tanker");
    let ids: BTreeSet<&str> = tankers.iter().map(|t| t["id"].as_str().unwrap()).collect();
    assert_eq!(ids.len(), 6);
    let posted: Kilograms = "15 st".parse().unwrap();
    for tanker in &tankers {
        let mass = |key: &str| tanker[key].as_str().unwrap().parse::<Kilograms>().unwrap();
        let (empty, full) = (mass("mass_empty"), mass("mass_full"));
        // 8.34 lb to the US gallon.
        let water = Kilograms::from_pounds(tanker["tank_gal"].as_integer().unwrap() as f64 * 8.34);
        assert!(((full - empty) / water - 1.0).abs() < 0.03, "{tanker}");
        assert!(empty <= posted && full > posted, "{tanker}");
        assert!(mass("axle_load_full") < full);
        for key in ["height", "width", "length"] {
            tanker[key].as_str().unwrap().parse::<Metres>().unwrap();
        }
        let _: Place = tanker["station"].clone().try_into().unwrap();
    }
    let low: Metres = "10'6\"".parse().unwrap();
    let fits = |t: &&toml::Value| t["height"].as_str().unwrap().parse::<Metres>().unwrap() <= low;
    let under = tankers.iter().filter(fits).count();
    assert!((1..tankers.len()).contains(&under), "the low bridge parts the fleet");
    assert_eq!((list("pumper").len(), list("portable_tank").len()), (3, 4));
    for tank in list("portable_tank") {
        assert!(ids.contains(tank["carried_by"].as_str().unwrap()));
    }
}

#[test]
fn the_sites_read() {
    const KINDS: [&str; 6] = ["hydrant", "dry-hydrant", "draft", "pond", "stream", "cistern"];
    let sites: serde_json::Value = serde_json::from_str(&text("fill-sites.geojson")).unwrap();
    let features = sites["features"].as_array().unwrap();
    assert_eq!(features.len(), 9);
    for feature in features {
        assert!(KINDS.contains(&feature["properties"]["kind"].as_str().unwrap()));
        let _: Place = serde_json::from_value(feature["geometry"]["coordinates"].clone()).unwrap();
    }
    let count = |key: &str, value: serde_json::Value| {
        features.iter().filter(|feature| feature["properties"][key] == value).count()
    };
    assert_eq!(count("season", "apr-nov".into()), 1);
    assert_eq!(count("in_service", false.into()), 1);
    assert_eq!(count("flow_gpm", 250.into()), 1);

    let extra = text("extra-sites.csv");
    let mut reader = csv::Reader::from_reader(extra.as_bytes());
    let header = reader.headers().unwrap().clone();
    let rows: Vec<csv::StringRecord> = reader.records().map(Result::unwrap).collect();
    assert_eq!(rows.len(), 3);
    let column = |name: &str| header.iter().position(|h| h == name).unwrap();
    for row in rows {
        assert!(KINDS.contains(&&row[column("kind")]));
        let _: Place = format!("{},{}", &row[column("lon")], &row[column("lat")]).parse().unwrap();
    }
}

/// No name may point at a real place. The generator's roots are invented; this guards the lists
/// against a later edit that slips in a familiar one.
#[test]
fn names_are_invented() {
    const REAL: [&str; 40] = [
        "springfield",
        "franklin",
        "clinton",
        "madison",
        "washington",
        "georgetown",
        "arlington",
        "salem",
        "fairview",
        "greenville",
        "bristol",
        "dover",
        "manchester",
        "oxford",
        "cambridge",
        "london",
        "paris",
        "berlin",
        "boston",
        "chicago",
        "houston",
        "dallas",
        "austin",
        "denver",
        "portland",
        "seattle",
        "atlanta",
        "richmond",
        "lexington",
        "concord",
        "princeton",
        "burlington",
        "milton",
        "newport",
        "ashland",
        "hudson",
        "kingston",
        "lancaster",
        "york",
        "durham",
    ];
    let extract = Extract::read();
    let of = |tags: &Tags| tags.get("name").cloned();
    let mut names: BTreeSet<String> = extract.ways.iter().filter_map(|way| of(&way.tags)).collect();
    names.extend(extract.nodes.values().filter_map(|node| of(&node.1)));
    names.extend(extract.relations.iter().filter_map(|relation| of(&relation.tags)));
    assert!(names.len() > 300, "{} names", names.len());
    for file in ["fill-sites.geojson", "extra-sites.csv", "fleet.toml", "scenario.toml", "README.md"] {
        names.extend(text(file).lines().map(str::to_string));
    }
    for name in names {
        let lower = name.to_lowercase();
        let mut words = lower.split(|c: char| !c.is_alphabetic());
        assert!(!words.any(|word| REAL.contains(&word)), "{name}");
    }
}
