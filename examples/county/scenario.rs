//! The files beside the roads: fill sites, fleet, scenario, and the README that lists what is where.

use super::hard::{DRAFT_END, DRY_HYDRANT_LOOP, Feature, INCIDENT};
use super::net::Net;
use super::osm::Made;
use super::places::VILLAGES;
use super::plane::{Point, bend};
use super::water::{PONDS, SEASONAL_POND, river_column};
use std::fmt::Write as _;

pub struct Site {
    name: String,
    kind: &'static str,
    at: Point,
    flow_gpm: Option<u32>,
    volume_gal: Option<u32>,
    berths: u32,
    season: &'static str,
    handling_s: u32,
    lift_ft: Option<f64>,
    in_service: bool,
    note: &'static str,
}

pub type Settled = [(String, (i32, i32))];

/// The living road node nearest to a grid position, moved by metres east and north.
pub fn near_road(net: &Net, (u, v): (f64, f64), east: f64, north: f64) -> Point {
    let target = bend(u, v);
    let nodes = (0..net.nodes.len()).filter(|n| !net.alive(*n).is_empty());
    let node =
        nodes.min_by(|a, b| net.nodes[*a].at.distance(target).total_cmp(&net.nodes[*b].at.distance(target)));
    let at = node.map_or(target, |n| net.nodes[n].at);
    Point::new(at.x + east, at.y + north)
}

pub fn step(p: (i32, i32)) -> (f64, f64) {
    (f64::from(p.0), f64::from(p.1))
}

/// All fill sites: nine for the GeoJSON, then three for the CSV. Those that a mapper would have
/// seen are put into the extract as well, with tags only.
pub fn sites(net: &mut Net, settled: &Settled) -> Vec<Site> {
    let (town, near, west) = (&settled[0].0, &settled[1].0, &settled[2].0);
    let site = |name: String, kind, at| Site {
        name,
        kind,
        at,
        flow_gpm: None,
        volume_gal: None,
        berths: 1,
        season: "all",
        handling_s: 90,
        lift_ft: None,
        in_service: true,
        note: "",
    };
    let v6 = 384.0;
    let list = vec![
        Site {
            flow_gpm: Some(1_000),
            berths: 2,
            handling_s: 90,
            lift_ft: Some(8.0),
            note: "8-inch dry hydrant at the turning loop; two tankers side by side",
            ..site(
                "Reservoir landing".into(),
                "dry-hydrant",
                near_road(net, step(DRY_HYDRANT_LOOP), 9.0, 3.0),
            )
        },
        Site {
            flow_gpm: Some(250),
            handling_s: 75,
            note: "end of a 4-inch main",
            ..site(format!("{near} hydrant"), "hydrant", near_road(net, (507.0, 448.0), 4.0, 6.0))
        },
        Site {
            handling_s: 240,
            lift_ft: Some(19.0),
            note: "needs a drafting pumper; steep bank, no turning place, back in with a spotter",
            ..site("Bottom Lane river draft".into(), "draft", near_road(net, step(DRAFT_END), -12.0, 0.0))
        },
        Site {
            volume_gal: Some(600_000),
            season: "apr-nov",
            handling_s: 150,
            lift_ft: Some(6.0),
            note: "frozen in winter",
            ..site("Schoolhouse pond".into(), "pond", bend(SEASONAL_POND.0 + 2.1, SEASONAL_POND.1))
        },
        Site {
            flow_gpm: Some(1_250),
            berths: 2,
            handling_s: 60,
            note: "12-inch main, both outlets",
            ..site(format!("{town} west hydrant"), "hydrant", near_road(net, (864.0, 192.0), 5.0, 6.0))
        },
        Site {
            flow_gpm: Some(900),
            handling_s: 60,
            in_service: false,
            note: "out of service: main under repair",
            ..site(format!("{town} mill hydrant"), "hydrant", near_road(net, (880.0, 204.0), 5.0, 6.0))
        },
        Site {
            flow_gpm: Some(500),
            volume_gal: Some(12_000),
            handling_s: 90,
            lift_ft: Some(10.0),
            note: "underground; empties in half an hour at full flow",
            ..site("Creamery cistern".into(), "cistern", near_road(net, (448.0, 352.0), 10.0, 8.0))
        },
        Site {
            flow_gpm: Some(570),
            season: "nov-jul",
            handling_s: 150,
            lift_ft: Some(14.0),
            note: "measured by float in spring; too low in late summer",
            ..site(
                "Primary bridge stream".into(),
                "stream",
                near_road(net, (river_column(v6) + 3.0, v6), 6.0, -12.0),
            )
        },
        Site {
            flow_gpm: Some(750),
            handling_s: 120,
            lift_ft: Some(9.0),
            note: "6-inch dry hydrant",
            ..site("North pond dry hydrant".into(), "dry-hydrant", bend(PONDS[0].0 + 2.2, PONDS[0].1))
        },
        Site {
            flow_gpm: Some(500),
            handling_s: 75,
            ..site(format!("{west} hydrant"), "hydrant", near_road(net, step(VILLAGES[1]), 6.0, 6.0))
        },
        Site {
            volume_gal: Some(900_000),
            handling_s: 150,
            lift_ft: Some(18.0),
            note: "steep bank: the pump stands high above the water",
            ..site("Two Barns pond".into(), "pond", bend(PONDS[1].0 + 2.2, PONDS[1].1))
        },
        Site {
            flow_gpm: Some(400),
            volume_gal: Some(12_000),
            handling_s: 90,
            note: "above ground, gravity outlet",
            ..site("Grange tank".into(), "cistern", near_road(net, (576.0, 320.0), 10.0, 10.0))
        },
    ];
    let hydrant = |list: &mut Net, at: Point, diameter| {
        list.point(
            at,
            &[
                ("emergency", "fire_hydrant"),
                ("fire_hydrant:type", "pillar"),
                ("fire_hydrant:diameter", diameter),
            ],
        );
    };
    net.point(
        list[0].at,
        &[("emergency", "suction_point"), ("fire_hydrant:type", "pillar"), ("water_source", "pond")],
    );
    hydrant(net, list[1].at, "100");
    net.point(list[2].at, &[("emergency", "suction_point"), ("water_source", "stream")]);
    net.point(list[3].at, &[("emergency", "fire_water_pond"), ("seasonal", "yes")]);
    hydrant(net, list[4].at, "300");
    net.point(
        list[6].at,
        &[("emergency", "water_tank"), ("water_tank:volume", "113"), ("location", "underground")],
    );
    hydrant(net, list[9].at, "150");
    net.point(list[10].at, &[("emergency", "fire_water_pond")]);
    net.point(
        list[11].at,
        &[("emergency", "water_tank"), ("water_tank:volume", "45 m3"), ("location", "overground")],
    );
    list
}

/// "-34.0123456, 31.0456789"
pub fn lon_lat(at: Point) -> String {
    let (lon, lat) = at.e7();
    format!("{:.7}, {:.7}", f64::from(lon) / 1e7, f64::from(lat) / 1e7)
}

pub fn geojson(sites: &[Site]) -> String {
    let mut text = String::from("{\n  \"type\": \"FeatureCollection\",\n  \"features\": [\n");
    for (i, site) in sites.iter().enumerate() {
        let mut properties = vec![
            format!("\"name\": \"{}\"", site.name),
            format!("\"kind\": \"{}\"", site.kind),
            format!("\"berths\": {}", site.berths),
            format!("\"season\": \"{}\"", site.season),
            format!("\"handling_s\": {}", site.handling_s),
            format!("\"in_service\": {}", site.in_service),
        ];
        properties.extend(site.flow_gpm.map(|flow| format!("\"flow_gpm\": {flow}")));
        properties.extend(site.volume_gal.map(|volume| format!("\"volume_gal\": {volume}")));
        properties.extend(site.lift_ft.map(|lift| format!("\"lift_ft\": {lift:.1}")));
        if !site.note.is_empty() {
            properties.push(format!("\"note\": \"{}\"", site.note));
        }
        let comma = if i + 1 < sites.len() { "," } else { "" };
        let _ = write!(
            text,
            "    {{\n      \"type\": \"Feature\",\n      \"geometry\": {{ \"type\": \"Point\", \"coordinates\": [{}] }},\n      \
             \"properties\": {{\n        {}\n      }}\n    }}{comma}\n",
            lon_lat(site.at),
            properties.join(",\n        "),
        );
    }
    text + "  ]\n}\n"
}

pub fn csv(sites: &[Site]) -> String {
    let mut text = String::from(
        "name,lon,lat,kind,flow_gpm,volume_gal,berths,season,handling_s,lift_ft,in_service,note\n",
    );
    let shown = |value: Option<u32>| value.map_or(String::new(), |v| v.to_string());
    for site in sites {
        let note = if site.note.contains(',') { format!("\"{}\"", site.note) } else { site.note.into() };
        let _ = writeln!(
            text,
            "{},{},{},{},{},{},{},{},{},{},{}",
            site.name,
            lon_lat(site.at).replace(' ', ""),
            site.kind,
            shown(site.flow_gpm),
            shown(site.volume_gal),
            site.berths,
            site.season,
            site.handling_s,
            site.lift_ft.map_or(String::new(), |lift| format!("{lift:.1}")),
            site.in_service,
            note,
        );
    }
    text
}

pub fn scenario() -> String {
    format!(
        "# A barn fire on a one-lane farm road. Units: gpm are US gallons per minute, _min minutes.\n\
         # Paths count from this file.\n\
         name = \"Barn fire, farm road\"\nroads = \"county.osm.pbf\"\n\
         sites = [\"fill-sites.geojson\", \"extra-sites.csv\"]\nfleet = \"fleet.toml\"\n\n\
         [incident]\nname = \"barn fire, hay and machinery\"\nat = [{}] # longitude, latitude\n\
         need_gpm = 500\n\n\
         [shuttle]\nperiod_min = 120 # operational period\n\
         reliability = 0.9 # share of replications in which the flow holds\n\
         replications = 200\nseed = 1\n",
        lon_lat(bend(INCIDENT.0, INCIDENT.1))
    )
}

pub fn readme(features: &[Feature], made: &Made, settled: &Settled, posted_road: &str) -> String {
    let mut text = String::from(
        "# The demonstration county\n\n\
         An invented county of about 25 by 20 km in the open Atlantic at 34° W, 31° N. Nothing in it is\n\
         real: roads, names, fleet and fill sites are drawn by `examples/county`.\n\n\
         ```sh\ncargo run --example county\n```\n\n\
         writes every file here, this one included, always with the same bytes.\n\n\
         | file | content |\n| --- | --- |\n\
         | `county.osm.pbf` | roads, water and hydrants as OpenStreetMap data |\n\
         | `fill-sites.geojson`, `extra-sites.csv` | fill sites as a fire department would keep them |\n\
         | `fleet.toml` | six tankers, three pumpers, portable tanks |\n\
         | `scenario.toml` | a barn fire |\n\n",
    );
    let _ = writeln!(
        text,
        "The barn burns on a farm road north of {posted_road}, whose bridge over the river is the short\n\
         way to the reservoir. The town is {}, the village near the incident {}.\n\n\
         ## What makes it hard\n\n| what | longitude, latitude | way |\n| --- | --- | --- |",
        settled[0].0, settled[1].0
    );
    for feature in features {
        let way = feature.edge.and_then(|edge| made.way_of.get(&edge));
        let shown = way.map_or(String::from("-"), |id| id.to_string());
        let _ = writeln!(text, "| {} | {} | {shown} |", feature.what, lon_lat(feature.at));
    }
    text
}
