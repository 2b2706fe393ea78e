//! What makes the work hard, put where the incident meets it. Every piece is written down with its
//! place and way for the README.

use super::names::Names;
use super::net::{Net, rank, tags};
use super::plane::{Point, SECTION, bend};
use super::roads::{NORTHBOUND, SOUTHBOUND, UNDER};
use super::water::river_column;

/// Sections in which only the roads of this file are laid.
pub const KEPT_CLEAR: [(i32, i32); 11] =
    [(5, 6), (6, 6), (5, 7), (6, 7), (5, 8), (6, 8), (7, 7), (7, 6), (14, 2), (13, 2), (15, 3)];

pub const INCIDENT: (f64, f64) = (464.8, 472.5);
pub const FARM_ROAD: i32 = 464;
const LOW_ROAD: i32 = 416;
pub const DRY_HYDRANT_LOOP: (i32, i32) = (384, 503);
pub const DRAFT_END: (i32, i32) = (412, 398);
const GATE: (i32, i32) = (369, 490);
const ISLAND: [(i32, i32); 3] = [(402, 543), (405, 549), (404, 554)];

/// A feature for the list: what it is, where, and on which edge (its way) if it is on one.
pub struct Feature {
    pub what: String,
    pub at: Point,
    pub edge: Option<usize>,
}

pub struct Planted {
    pub posted_road: String,
    bridging: Vec<usize>,
    farm_road: usize,
}

impl Planted {
    pub fn bridging(&self) -> &[usize] {
        &self.bridging
    }
}

/// Lays the roads of the plan. The section lines are there already, nothing else is.
pub fn plant(net: &mut Net, names: &mut Names) -> Planted {
    let posted = net.nodes[net.must(400, 7 * SECTION)].edges[0];
    let posted = net.edges[posted].road;

    // The long way round the posted bridge: down, over the next bridge, and up again.
    let asphalt = [("maxspeed", "45 mph"), ("surface", "asphalt")];
    let low = net.road("unclassified", Some(names.road(&["Ferry Road"])), &asphalt);
    net.lay(low, &[(320, LOW_ROAD), (360, LOW_ROAD - 2), (404, LOW_ROAD), (448, LOW_ROAD)]);
    let link = net.road("unclassified", Some(names.road(&["Road"])), &asphalt);
    net.lay(link, &[(356, LOW_ROAD - 2), (359, 432), (356, 448)]);

    let narrow = [("lanes", "1"), ("width", "3.5 m"), ("surface", "gravel"), ("maxspeed", "35 mph")];
    let farm_road = net.road("unclassified", Some(names.road(&["Farm Road"])), &narrow);
    net.lay(farm_road, &[(FARM_ROAD, 448), (FARM_ROAD - 2, 462), (FARM_ROAD, 480), (FARM_ROAD + 3, 512)]);
    let yard = net.road("service", None, &[("service", "driveway"), ("surface", "gravel")]);
    net.lay(yard, &[(FARM_ROAD - 1, 474), (FARM_ROAD + 2, 475)]);

    let access = [("surface", "gravel"), ("width", "4 m"), ("lanes", "1")];
    let shore = net.road("service", Some(names.road(&["Landing"])), &access);
    net.lay(shore, &[(368, 448), (372, 474), DRY_HYDRANT_LOOP]);
    let list = [("tracktype", "grade2"), ("surface", "gravel"), ("access", "forestry")];
    let track = net.road("track", Some(names.road(&["Forest Track"])), &list);
    net.lay(track, &[(372, 474), GATE, (362, 515), (366, 548), (357, 576)]);
    let gate = net.must(GATE.0, GATE.1);
    net.nodes[gate].tags = tags(&[("barrier", "gate"), ("access", "forestry"), ("locked", "yes")]);
    let turning = net.must(DRY_HYDRANT_LOOP.0, DRY_HYDRANT_LOOP.1);
    net.nodes[turning].tags = tags(&[("highway", "turning_loop")]);

    let list = [("width", "4 m"), ("surface", "gravel"), ("noexit", "yes")];
    let dead_end = net.road("unclassified", Some(names.road(&["Bottom Lane"])), &list);
    net.lay(dead_end, &[(448, 400), (430, 404), DRAFT_END]);

    let island = net.road("service", None, &[("surface", "gravel")]);
    net.roads[island].island = true;
    net.lay(island, &ISLAND);

    // The grange beside the village road: a car park with an aisle that goes through.
    let aisle = net.road("service", None, &[("service", "parking_aisle"), ("surface", "asphalt")]);
    net.lay(aisle, &[(476, 448), (476, 450), (481, 450), (481, 448)]);
    let corners = [(475.4, 448.8), (481.6, 448.8), (481.6, 451.2), (475.4, 451.2)];
    let name = format!("{} Grange", names.word());
    let park: Vec<Point> = corners.iter().map(|(u, v)| bend(*u, *v)).collect();
    net.ring(park, &[("amenity", "parking"), ("surface", "asphalt"), ("name", &name)]);
    let barn = [(464.7, 472.3), (466.3, 472.3), (466.3, 473.3), (464.7, 473.3)];
    net.ring(barn.iter().map(|(u, v)| bend(*u, *v)).collect(), &[("building", "barn")]);

    Planted {
        posted_road: net.roads[posted].name.clone().unwrap_or_default(),
        bridging: vec![posted, low],
        farm_road,
    }
}

fn middle(net: &Net, edge: usize) -> Point {
    net.nodes[net.edges[edge].a].at.mix(net.nodes[net.edges[edge].b].at, 0.5)
}

/// Posts the bridges once the river has met the roads, and lists all that is hard.
pub fn post(net: &mut Net, planted: &Planted, culdesac: usize) -> Vec<Feature> {
    let mut list = Vec::new();
    let mut add = |net: &Net, what: &str, edge: usize| {
        list.push(Feature { what: what.into(), at: middle(net, edge), edge: Some(edge) });
    };
    let bridge_near = |net: &Net, u: f64, v: f64, road: Option<usize>| {
        let fits = |e: &super::net::Edge| {
            let bridge = e.tags.iter().any(|(key, _)| key == "bridge");
            bridge
                && road.is_none_or(|r| r == e.road)
                && (road.is_some() || rank(net.roads[e.road].class) >= rank("tertiary"))
                && !e.tags.iter().any(|(key, _)| key == "maxweight")
        };
        net.nearest_edge(bend(u, v), fits).expect("the river is bridged")
    };
    let v = f64::from(7 * SECTION);
    let posted = bridge_near(net, river_column(v), v, Some(planted.bridging[0]));
    net.edges[posted].tags.push(("maxweight".into(), "15 st".into()));
    add(
        net,
        "Bridge posted `maxweight=15 st` (30,000 lb) on the short way from the dry hydrant to the \
         incident: every tanker of the fleet is under it empty and over it loaded, so the loaded leg \
         goes round by the next bridge and the shuttle becomes a one-way circuit",
        posted,
    );
    let free = bridge_near(net, river_column(416.0), 416.0, Some(planted.bridging[1]));
    add(net, "River bridge without any posting, on the way round", free);
    let survey = bridge_near(net, 590.0, 480.0, None);
    net.edges[survey].tags.push(("maxweight".into(), "survey".into()));
    add(net, "Bridge with an unreadable limit, `maxweight=survey`", survey);

    let farm = net
        .nearest_edge(bend(INCIDENT.0, INCIDENT.1), |e| e.road == planted.farm_road)
        .expect("the farm road has been laid");
    add(net, "One-lane farm road (`lanes=1`, `width=3.5 m`) past the incident, open at both ends", farm);

    let end = net.must(DRAFT_END.0, DRAFT_END.1);
    let last = net.alive(end)[0];
    add(net, "Dead-end lane to the river without a turning place (a drafting site is at its end)", last);
    let turning = net.must(DRY_HYDRANT_LOOP.0, DRY_HYDRANT_LOOP.1);
    let last = net.alive(turning)[0];
    add(net, "Turning loop at the dry hydrant, at the end of a narrow access road", last);
    let gate = net.must(GATE.0, GATE.1);
    let track = net.alive(gate)[0];
    add(
        net,
        "Gated forest track (`tracktype=grade2`, `barrier=gate`): the way on from the dry hydrant",
        track,
    );

    let v = 3 * SECTION;
    for column in [SOUTHBOUND, NORTHBOUND] {
        let edge = net.must_edge((column, v + 1), (column, v));
        add(net, "Divided highway: two one-way carriageways, few crossings", edge);
    }
    let link = net.must_edge((SOUTHBOUND, v), (NORTHBOUND, v));
    add(net, "Median link of the highway; a `no_u_turn` restriction runs by it (via way)", link);
    let v = UNDER * SECTION;
    let link = net.must_edge((SOUTHBOUND, v), (NORTHBOUND, v));
    for column in SOUTHBOUND - 1..=NORTHBOUND {
        let edge = net.must_edge((column, v), (column + 1, v));
        net.edges[edge].tags.push(("maxheight".into(), "10'6\"".into()));
    }
    add(net, "Low bridge: `maxheight=10'6\"` on the road under the highway", link);
    for restriction in &net.restrictions[..2] {
        let what = format!("Turn restriction `{}` in the town (via node)", restriction.kind);
        let at = net.nodes[restriction.via_node].at;
        list.push(Feature { what, at, edge: Some(restriction.from) });
    }
    let mut add = |net: &Net, what: &str, edge: usize| {
        list.push(Feature { what: what.into(), at: middle(net, edge), edge: Some(edge) });
    };
    let one_way = net.must_edge((884, 180), (884, 181));
    add(net, "One-way street of the town (a pair with the next street)", one_way);
    let last = net.alive(culdesac)[0];
    add(net, "Cul-de-sac with a turning circle, in the subdivision", last);
    let aisle = net.must_edge((476, 449), (476, 450));
    add(net, "Car park with an aisle that goes through, near the incident (a dump site)", aisle);
    let island = net.must(ISLAND[0].0, ISLAND[0].1);
    let edge = net.alive(island)[0];
    add(net, "Road on the reservoir's island, connected to nothing", edge);
    let leaving = *net.leaving.first().expect("roads leave the county");
    let edge = net.alive(leaving)[0];
    add(net, "A way that leaves the extract: its last node is missing (so do all through roads)", edge);
    list
}

/// Marks the levels of the highway's bridges.
pub fn highway_bridges(net: &mut Net) {
    for edge in 0..net.edges.len() {
        let (a, b) = (net.nodes[net.edges[edge].a].key, net.nodes[net.edges[edge].b].key);
        if a.2 == 1 && b.2 == 1 {
            net.edges[edge].tags = tags(&[("bridge", "yes"), ("layer", "1")]);
        }
    }
}
