//! The text maps and the PBF writer, read back by the crate's own reader library.

mod support;

use osmpbf::{Element, ElementReader, RelMemberType};
use std::collections::BTreeMap;
use std::io::Cursor;
use support::pbf::{self, Node, OsmData};
use support::world::World;

fn small() -> World {
    World::new(100.0)
        .map(
            "
            A----B----C
                 |
                 |
                 D---Z
            ",
        )
        .way("ABC", &[("highway", "residential"), ("name", "North Street")])
        .one("BD")
        .way("DZ", &[("highway", "track")])
}

/// Each cell is 100 m both ways; D lies three rows below B and four columns left of Z.
#[test]
fn distances_are_as_drawn() {
    let world = small();
    for (a, b, metres) in [('A', 'B', 500.0), ('A', 'C', 1_000.0), ('B', 'D', 300.0), ('D', 'Z', 400.0)] {
        let got = world.place(a).distance(world.place(b)).0;
        assert!((got - metres).abs() < 0.02, "{a}{b}: {got}");
    }
    assert!((world.place('A').bearing_deg(world.place('C')) - 90.0).abs() < 0.01);
    assert!((world.place('B').bearing_deg(world.place('D')) - 180.0).abs() < 0.01);
}

/// North-south lines lean a little away from the middle; even 10 km out and 4 km long the
/// distance keeps to the drawing.
#[test]
fn distances_hold_far_from_the_middle() {
    let wide = " ".repeat(199);
    let rows = "\n".repeat(40);
    let world = World::new(100.0).map(&format!("\nA{wide}B{rows}C{wide}D"));
    for (a, b, metres) in
        [('A', 'C', 4_000.0), ('B', 'D', 4_000.0), ('A', 'B', 20_000.0), ('C', 'D', 20_000.0)]
    {
        let got = world.place(a).distance(world.place(b)).0;
        assert!((got - metres).abs() < 0.02, "{a}{b}: {got}");
    }
    let beside = world.beside('A', 30.0, -40.0);
    assert!((beside.distance(world.place('A')).0 - 50.0).abs() < 0.02);
    assert_eq!(world.metres("ABDC"), 44_000.0);
}

#[test]
fn a_world_reads_back() {
    let world = small()
        .node('B', &[("barrier", "gate")])
        .cut("Z")
        .restriction("no_right_turn", "ABC", 'B', "BD")
        .restriction_via_ways("no_u_turn", "ABC", &["BD"], "DZ");
    let mut nodes = BTreeMap::new();
    let mut ways = Vec::new();
    let mut relations = Vec::new();
    ElementReader::new(Cursor::new(world.pbf()))
        .for_each(|element| match element {
            Element::DenseNode(n) => {
                let tags: Vec<_> = n.tags().map(|(k, v)| format!("{k}={v}")).collect();
                nodes.insert(n.id(), (n.decimicro_lon(), n.decimicro_lat(), tags));
            }
            Element::Way(w) => {
                let tags: Vec<_> = w.tags().map(|(k, v)| format!("{k}={v}")).collect();
                ways.push((w.id(), w.refs().collect::<Vec<_>>(), tags));
            }
            Element::Relation(r) => {
                let members: Vec<_> = r
                    .members()
                    .map(|m| (m.role().unwrap().to_string(), m.member_type, m.member_id))
                    .collect();
                let tags: Vec<_> = r.tags().map(|(k, v)| format!("{k}={v}")).collect();
                relations.push((r.id(), members, tags));
            }
            Element::Node(n) => panic!("node {} is not dense", n.id()),
        })
        .unwrap();

    let id = |letter| world.node_id(letter);
    assert_eq!(nodes.keys().copied().collect::<Vec<_>>(), [id('A'), id('B'), id('C'), id('D')]);
    let b = world.place('B');
    assert_eq!(nodes[&id('B')], (b.lon_e7(), b.lat_e7(), vec!["barrier=gate".to_string()]));
    assert!(nodes[&id('A')].2.is_empty());
    assert_eq!(
        ways[0],
        (
            100,
            vec![id('A'), id('B'), id('C')],
            vec!["highway=residential".into(), "name=North Street".into()]
        )
    );
    assert_eq!(ways[1].2, ["highway=residential", "oneway=yes"]);
    assert_eq!(ways[2].1, [id('D'), id('Z')]);
    let way = |role: &str, letters| (role.to_string(), RelMemberType::Way, world.way_id(letters));
    assert_eq!(
        relations[0],
        (
            1000,
            vec![way("from", "ABC"), ("via".into(), RelMemberType::Node, id('B')), way("to", "BD")],
            vec!["type=restriction".into(), "restriction=no_right_turn".into()]
        )
    );
    assert_eq!(relations[1].1, [way("from", "ABC"), way("via", "BD"), way("to", "DZ")]);
}

#[test]
fn mistakes_in_a_drawing_are_told() {
    let fails = |make: fn() -> World| assert!(std::panic::catch_unwind(make).is_err());
    fails(|| World::new(1.0).map("A-A"));
    fails(|| World::new(1.0).map("A=B"));
    fails(|| World::new(1.0).map("A-B\n  C"));
    fails(|| World::new(1.0).map("A-B").road("AC"));
    fails(|| World::new(1.0).map("A-B").restriction("no_u_turn", "AB", 'B', "AB"));
    assert!(
        std::panic::catch_unwind(|| World::new(1.0).map("A-B").road("AB").road("AB").way_id("AB")).is_err()
    );
}

/// More elements than a block holds, in disorder, with ids beyond 32 bits and negative positions:
/// all come back, in order, split into blocks, and the bytes do not depend on the order given.
#[test]
fn many_elements_in_blocks() {
    let node = |i: i64| Node {
        id: 5_000_000_000 + i * 3,
        lon_e7: -340_000_000 + i as i32 * 7,
        lat_e7: 310_000_000 - i as i32 * 11,
        tags: if i % 1000 == 0 { vec![("ref".into(), i.to_string())] } else { Vec::new() },
    };
    let nodes: Vec<Node> = (0..20_001).map(node).collect();
    let backwards = OsmData { nodes: nodes.iter().rev().cloned().collect(), ..OsmData::default() };
    let bytes = pbf::write(&OsmData { nodes: nodes.clone(), ..OsmData::default() });
    assert!(bytes == pbf::write(&backwards));

    let mut got = Vec::new();
    let reader = ElementReader::new(Cursor::new(bytes.as_slice()));
    reader
        .for_each(|element| {
            let Element::DenseNode(n) = element else { panic!("only nodes were written") };
            got.push(Node {
                id: n.id(),
                lon_e7: n.decimicro_lon(),
                lat_e7: n.decimicro_lat(),
                tags: n.tags().map(|(k, v)| (k.to_string(), v.to_string())).collect(),
            });
        })
        .unwrap();
    assert_eq!(got, nodes);
    let blobs = osmpbf::BlobReader::new(Cursor::new(bytes)).count();
    assert_eq!(blobs, 1 + 3, "a header and three blocks of at most 8,000");
}

#[test]
fn the_header_says_what_the_file_needs() {
    let bytes = small().pbf();
    let blob = osmpbf::BlobReader::new(Cursor::new(bytes)).next().unwrap().unwrap();
    let header = blob.to_headerblock().unwrap();
    assert_eq!(header.required_features(), ["OsmSchema-V0.6", "DenseNodes"]);
    assert_eq!(header.writing_program(), Some("tankerloop"));
    let bbox = header.bbox().unwrap();
    let world = small();
    assert!((bbox.left - world.place('A').lon()).abs() < 1e-9);
    assert!((bbox.right - world.place('C').lon()).abs() < 1e-9);
    assert!((bbox.top - world.place('A').lat()).abs() < 1e-9);
    assert!((bbox.bottom - world.place('D').lat()).abs() < 1e-9);
}
