//! Drives over text worlds: the world's PBF goes through the real reader, the speeds are round.

use super::world::World;
use serde_json::{Value, json};
use std::path::PathBuf;
use std::sync::atomic::{AtomicUsize, Ordering};
use tankerloop::finding::{Outcome, Refusal};
use tankerloop::overlay::{Overlay, Rules};
use tankerloop::place::Place;
use tankerloop::routing::Roads;
use tankerloop::routing::access::Policy;
use tankerloop::routing::speed::SpeedTable;
use tankerloop::routing::trip::{Trip, trip};
use tankerloop::units::{Kilograms, Metres};
use tankerloop::vehicle::{Body, Load};

/// 36 km/h is 10 m/s: a cell of 100 m takes 10 s. Turns and signals cost nothing, a gate 30 s,
/// turning round 40 s in a circle, 60 s in a yard, 90 s at a junction, 180 s by backing. Curves and grades slow nothing.
pub const ROUND_SPEEDS: &str = r#"
full_factor = 1.0
[class]
motorway = "36 km/h"
trunk = "36 km/h"
primary = "36 km/h"
secondary = "36 km/h"
tertiary = "36 km/h"
unclassified = "36 km/h"
residential = "36 km/h"
living_street = "36 km/h"
service = "36 km/h"
track = "36 km/h"
path = "36 km/h"
[surface]
unknown = "36 km/h"
paved = "36 km/h"
rough = "36 km/h"
compacted = "36 km/h"
gravel = "18 km/h"
ground = "9 km/h"
soft = "3.6 km/h"
[smoothness]
bad = "18 km/h"
very_bad = "9 km/h"
[delay_s]
turn = 0.0
sharp_turn = 0.0
signal = 0.0
gate = 30.0
turning_circle = 40.0
yard_turnaround = 60.0
junction_turnaround = 90.0
backing = 180.0
site_turnaround = 120.0
[narrow]
below = "5.5 m"
classes = ["service", "track", "path"]
"#;

/// The round table with some `key = value` lines replaced.
pub fn speeds(changes: &[(&str, &str)]) -> SpeedTable {
    let mut text = ROUND_SPEEDS.to_string();
    for (old, new) in changes {
        assert!(text.contains(old), "the table has no {old}");
        text = text.replace(old, new);
    }
    SpeedTable::parse(&text, "round speeds").unwrap()
}

/// A tanker with round numbers: 10 t empty and 19 t full, axle 6 t and 11 t, no tandem, rated 19 t,
/// 3.2 m high, 2.5 m wide, 9 m long.
pub fn tanker(load: Load) -> Body {
    let (mass, axle) = match load {
        Load::Full => (19_000.0, 11_000.0),
        Load::Empty => (10_000.0, 6_000.0),
    };
    Body {
        mass: Kilograms(mass),
        rated_mass: Kilograms(19_000.0),
        axle_load: Kilograms(axle),
        bogie_load: Kilograms(0.0),
        height: Metres(3.2),
        width: Metres(2.5),
        length: Metres(9.0),
        power_hp: None,
        load,
    }
}

pub fn full() -> Body {
    tanker(Load::Full)
}

pub fn empty() -> Body {
    tanker(Load::Empty)
}

/// A folder of this test alone, under the build's folder for tests.
pub fn folder() -> PathBuf {
    static COUNT: AtomicUsize = AtomicUsize::new(0);
    let name = format!("{}-{}", std::process::id(), COUNT.fetch_add(1, Ordering::Relaxed));
    let folder = PathBuf::from(env!("CARGO_TARGET_TMPDIR")).join(name);
    std::fs::create_dir_all(&folder).expect("the test folder can be made");
    folder
}

/// A world with its roads as the real reader gives them.
pub struct Course {
    pub world: World,
    pub roads: Roads,
}

impl Course {
    pub fn new(world: World) -> Course {
        Course::with(world, &[], Policy::default())
    }

    pub fn with(world: World, changes: &[(&str, &str)], policy: Policy) -> Course {
        let folder = folder();
        let path = world.write(&folder);
        let roads = Roads::read(&path, speeds(changes), policy, &mut |_, _| {}).unwrap();
        std::fs::remove_dir_all(folder).unwrap();
        Course { world, roads }
    }

    /// Lays overlay features on the roads, through a file as a user's would be.
    pub fn lay(mut self, features: &[Value]) -> Course {
        let folder = folder();
        let path = folder.join("local.geojson");
        std::fs::write(&path, collection(features).to_string()).unwrap();
        let Roads { network, table, policy, notes, .. } = &mut self.roads;
        let overlay = Overlay::read(&[path], notes).unwrap_or_else(|refusal| panic!("{refusal}"));
        std::fs::remove_dir_all(folder).unwrap();
        let limit = |tags: &_, forward: bool| table.limit(tags, forward);
        let rules = Rules { moment: &policy.moment, open_ways: &policy.open_ways, limit: &limit };
        overlay.lay(network, &rules, notes);
        self
    }

    /// What was said when overlays were laid, as code and cause.
    pub fn laid(&self) -> Vec<String> {
        self.roads.notes.iter().map(|f| format!("{}: {}", f.code.as_str(), f.cause)).collect()
    }

    /// From node to node.
    pub fn drive(&self, body: Body, from: char, to: char) -> Driven {
        self.between(body, self.world.place(from), self.world.place(to)).unwrap()
    }

    pub fn between(&self, body: Body, from: Place, to: Place) -> Outcome<Driven> {
        trip(&self.roads, body, from, to).map(|trip| Driven::tell(&self.world, trip))
    }

    pub fn refused(&self, body: Body, from: Place, to: Place) -> Refusal {
        self.between(body, from, to).expect_err("the drive is refused")
    }

    /// Findings of reading the roads, as shown.
    pub fn noticed(&self) -> Vec<String> {
        self.roads.network.findings.iter().map(|f| f.to_string()).collect()
    }
}

pub fn collection(features: &[Value]) -> Value {
    json!({ "type": "FeatureCollection", "features": features })
}

/// A feature of an overlay; without a geometry where it is null.
pub fn feature(geometry: Value, properties: Value) -> Value {
    json!({ "type": "Feature", "geometry": geometry, "properties": properties })
}

/// Places so many metres east and north of nodes, as GeoJSON positions.
pub fn positions(world: &World, at: &[(char, f64, f64)]) -> Value {
    json!(at.iter().map(|(node, east, north)| world.beside(*node, *east, *north)).collect::<Vec<_>>())
}

pub fn line(world: &World, at: &[(char, f64, f64)]) -> Value {
    json!({ "type": "LineString", "coordinates": positions(world, at) })
}

/// An upright box about a node, so many metres to the west, south, east and north.
pub fn area(world: &World, node: char, [west, south, east, north]: [f64; 4]) -> Value {
    let ring = [(-west, -south), (east, -south), (east, north), (-west, north), (-west, -south)];
    let ring: Vec<_> = ring.map(|(e, n)| world.beside(node, e, n)).to_vec();
    json!({ "type": "Polygon", "coordinates": [ring] })
}

/// What came of a drive, as plain data.
#[derive(Clone, Debug, PartialEq)]
pub struct Driven {
    /// `None`: no way.
    pub seconds: Option<f64>,
    /// Nodes passed, by their letters; also those that are no junction.
    pub letters: String,
    pub streets: Vec<String>,
    pub ways: Vec<i64>,
    /// Codes of the drive's findings.
    pub codes: Vec<&'static str>,
    pub findings: Vec<String>,
    /// What is in the way, when there is no way.
    pub reasons: Vec<String>,
}

impl Driven {
    fn tell(world: &World, trip: Trip) -> Driven {
        match trip {
            Trip::Found { leg, findings, .. } => Driven {
                seconds: Some(leg.travel.0),
                letters: leg.line.iter().filter_map(|p| world.letter_at(*p)).collect(),
                streets: leg.streets,
                ways: leg.ways,
                codes: findings.iter().map(|f| f.code.as_str()).collect(),
                findings: findings.iter().map(|f| f.to_string()).collect(),
                reasons: Vec::new(),
            },
            Trip::None { obstacles } => Driven {
                seconds: None,
                letters: String::new(),
                streets: Vec::new(),
                ways: Vec::new(),
                codes: Vec::new(),
                findings: Vec::new(),
                reasons: obstacles.iter().map(|o| o.to_string()).collect(),
            },
        }
    }

    /// The nodes passed and the time, to a tenth of a second: the rounding of places to a centimetre.
    #[track_caller]
    pub fn is(&self, letters: &str, seconds: f64) -> &Driven {
        let close = self.seconds.is_some_and(|s| (s - seconds).abs() < 0.1);
        assert!(self.letters == letters && close, "expected {letters} in {seconds} s, got {self:?}");
        self
    }

    #[track_caller]
    pub fn tells(&self, code: &str) -> &Driven {
        assert!(self.codes.contains(&code), "expected a finding {code}, got {:?}", self.codes);
        self
    }

    #[track_caller]
    pub fn is_silent(&self) -> &Driven {
        assert!(self.findings.is_empty(), "expected no finding, got {:?}", self.findings);
        self
    }

    #[track_caller]
    pub fn is_stopped_by(&self, reason: &str) -> &Driven {
        assert!(self.seconds.is_none(), "expected no way, got {self:?}");
        assert_eq!(self.reasons, [reason]);
        self
    }
}
