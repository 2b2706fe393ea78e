//! A scenario around a text map: files of round numbers, read and planned as a user's would be.
//!
//! Every road is driven at 10 m/s, full or empty, and no turn costs anything, so a leg of 100 m
//! takes 10 s. A tanker delivers 1,800 gal, unloads and fills at 1,800 gpm (60 s each, if the
//! source gives that much), and takes 60 s of handling at either end: its cycle is its driving
//! time and 240 s. All times are fixed. Nothing else is in the way: the hose reaches no farther
//! than the roadside, the tanks never fill, the pump and its siphons carry 2,500 gpm.

#![allow(dead_code)]

use super::support::world::World;
use std::collections::{BTreeMap, BTreeSet};
use std::path::{Path, PathBuf};
use tankerloop::finding::{Code, Outcome};
use tankerloop::place::Place;
use tankerloop::plan::{Answer, Overrides, Problem, plan};
use tankerloop::units::Metres;
use tankerloop::zone::{Ask, Zone};

pub const LOAD_GAL: f64 = 1_800.0;
/// Handling 60, unloading 60, handling 60, filling 60.
pub const STANDING_S: f64 = 240.0;

const SPEEDS: &str = r#"
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
[delay_s]
turn = 0.0
sharp_turn = 0.0
signal = 0.0
gate = 0.0
turning_circle = 0.0
yard_turnaround = 0.0
junction_turnaround = 0.0
backing = 0.0
site_turnaround = 0.0
[narrow]
below = "5.5 m"
classes = []
"#;

pub struct Scene {
    name: &'static str,
    world: World,
    incident: Place,
    sites: Vec<BTreeMap<String, String>>,
    tankers: Vec<String>,
    hose: (f64, f64),
    rated_gpm: u32,
    /// Further tables of the fleet file.
    aid: String,
    top: String,
    search: String,
    replications: u32,
    spread: bool,
    overlay: Option<String>,
    /// Name and heights.
    tiles: Vec<(String, Vec<u8>)>,
    site_turn_s: f64,
    tanks_gal: Vec<f64>,
    dump: String,
    need_gpm: f64,
}

impl Scene {
    /// The incident lies 10 m north of a node. The name is the test's own.
    pub fn new(name: &'static str, world: World, incident: char) -> Scene {
        let at = world.beside(incident, 0.0, 10.0);
        Scene {
            name,
            world,
            incident: at,
            sites: Vec::new(),
            tankers: Vec::new(),
            // 30 m: nothing but the frontage is within reach.
            hose: (5.0, 100.0),
            rated_gpm: 5_000,
            aid: String::new(),
            top: String::new(),
            search: "fill_sites_at_once = 1".into(),
            replications: 40,
            spread: false,
            overlay: None,
            tiles: Vec::new(),
            site_turn_s: 0.0,
            tanks_gal: vec![50_000.0; 2],
            dump: String::new(),
            need_gpm: 100.0,
        }
    }

    pub fn incident(mut self, place: Place) -> Scene {
        self.incident = place;
        self
    }

    /// A fill site at a node: kind, flow (0 for none), and whatever further columns.
    pub fn site(mut self, name: &str, node: char, kind: &str, gpm: f64, more: &[(&str, &str)]) -> Scene {
        let place = self.world.place(node);
        let flow = if gpm > 0.0 { gpm.to_string() } else { String::new() };
        let own = [("name", name), ("kind", kind), ("flow_gpm", &flow)];
        let (lon, lat) = (place.lon().to_string(), place.lat().to_string());
        let all =
            own.into_iter().chain([("lon", lon.as_str()), ("lat", lat.as_str())]).chain(more.iter().copied());
        self.sites.push(all.map(|(key, value)| (key.to_string(), value.to_string())).collect());
        self
    }

    /// A tanker of 10 t empty and 20 t full.
    pub fn tanker(self, id: &str) -> Scene {
        self.tanker_of(id, 20, "")
    }

    pub fn tankers(self, number: usize) -> Scene {
        (1..=number).fold(self, |scene, i| scene.tanker(&format!("T{i}")))
    }

    /// A tanker of another mass when full, half of it empty, and further keys.
    pub fn tanker_of(mut self, id: &str, tonnes_full: u32, more: &str) -> Scene {
        self.tankers.push(format!(
            "[[tanker]]\nid = \"{id}\"\nmass_empty = \"{} t\"\nmass_full = \"{tonnes_full} t\"\n\
             axle_load_full = \"8 t\"\nheight = \"3 m\"\nwidth = \"2.5 m\"\nlength = \"8 m\"\n\
             tank_gal = 2000\nintake_gpm = 1800\ndump_gpm = 1800\nfill_handling_s = 60\n\
             dump_handling_s = 60\n{more}\n",
            f64::from(tonnes_full) / 2.0,
        ));
        self
    }

    pub fn hose(mut self, inches: f64, feet: f64) -> Scene {
        self.hose = (inches, feet);
        self
    }

    /// The rated capacity of the pumper that drafts.
    pub fn rated(mut self, gpm: u32) -> Scene {
        self.rated_gpm = gpm;
        self
    }

    /// A pumper of mutual aid that drafts, by its alarm.
    pub fn pumper_of(mut self, id: &str, rated_gpm: u32, call: &str, turnout_s: u32) -> Scene {
        self.aid += &format!(
            "[[pumper]]\nid = \"{id}\"\nrated_gpm = {rated_gpm}\nsuctions = 4\nrole = \"draft\"\n\
             call = \"{call}\"\nturnout_s = {turnout_s}\n"
        );
        self
    }

    /// Portable tanks in place of two so large that they never fill.
    pub fn tanks(mut self, gallons: &[f64]) -> Scene {
        self.tanks_gal = gallons.to_vec();
        self
    }

    /// Where the officer wants the dump site.
    pub fn dump(mut self, place: Place) -> Scene {
        self.dump = format!("dump = [{}, {}]\n", place.lon(), place.lat());
        self
    }

    /// Ground that rises to the north by so many metres a cell of 1/1200 degree. The picture's middle is a
    /// corner of four tiles.
    pub fn rising_north(mut self, metres: i16) -> Scene {
        let mut names = Vec::new();
        for (south, name) in [(0, "N30W035"), (0, "N30W034"), (1, "N31W035"), (1, "N31W034")] {
            let row = |row: i16| ((south * 1_200 + 1_200 - row) * metres).to_be_bytes().repeat(1_201);
            names.push(format!("\"{name}.hgt\""));
            self.tiles.push((format!("{name}.hgt"), (0..=1_200).flat_map(row).collect()));
        }
        self.top.push_str(&format!("elevation = [{}]\n", names.join(", ")));
        self
    }

    /// What turning round at a site takes; at a junction it stays nothing.
    pub fn site_turn(mut self, seconds: f64) -> Scene {
        self.site_turn_s = seconds;
        self
    }

    pub fn need(mut self, gpm: f64) -> Scene {
        self.need_gpm = gpm;
        self
    }

    pub fn month(mut self, month: u8) -> Scene {
        self.top.push_str(&format!("month = {month}\n"));
        self
    }

    /// A line at the head of the scenario.
    pub fn top(mut self, line: &str) -> Scene {
        self.top.push_str(&format!("{line}\n"));
        self
    }

    pub fn search(mut self, keys: &str) -> Scene {
        self.search = keys.into();
        self
    }

    /// An overlay file of these features.
    pub fn overlay(mut self, features: &[serde_json::Value]) -> Scene {
        let collection = serde_json::json!({ "type": "FeatureCollection", "features": features });
        self.overlay = Some(collection.to_string());
        self.top.push_str("overlay = [\"local.geojson\"]\n");
        self
    }

    /// Times vary as they do by default, in so many replications.
    pub fn varied(mut self, replications: u32) -> Scene {
        (self.spread, self.replications) = (true, replications);
        self
    }

    /// Every road of the scene as the incident, in stretches of so many metres at most.
    pub fn zone<T>(&self, longest_m: f64, look: impl FnOnce(&Zone) -> T) -> T {
        let problem = Problem::read_zone(&self.write(), &Overrides::default()).unwrap();
        let roads = problem.roads.read(&mut |_, _| {}).unwrap();
        let ask = Ask { longest: Metres(longest_m), area: None };
        look(&Zone::survey(&problem, &roads, &ask).unwrap_or_else(|e| panic!("{}: {e}", self.name)))
    }

    /// Writes all files, and returns the scenario's path.
    pub fn write(&self) -> PathBuf {
        let folder = Path::new(env!("CARGO_TARGET_TMPDIR")).join("scenes").join(self.name);
        let _ = std::fs::remove_dir_all(&folder);
        std::fs::create_dir_all(&folder).unwrap();
        let put = |file: &str, text: String| std::fs::write(folder.join(file), text).unwrap();
        self.world.write(&folder);
        let turn = format!("site_turnaround = {:?}", self.site_turn_s);
        put("speeds.toml", SPEEDS.replace("site_turnaround = 0.0", &turn));
        if let Some(overlay) = &self.overlay {
            put("local.geojson", overlay.clone());
        }
        for (name, heights) in &self.tiles {
            std::fs::write(folder.join(name), heights).unwrap();
        }
        let columns: BTreeSet<&String> = self.sites.iter().flat_map(BTreeMap::keys).collect();
        let head: Vec<&str> = columns.iter().map(|c| c.as_str()).collect();
        let row = |site: &BTreeMap<String, String>| {
            let cells = columns.iter().map(|column| site.get(*column).map_or("", String::as_str));
            cells.collect::<Vec<_>>().join(",")
        };
        let rows: Vec<String> = self.sites.iter().map(row).collect();
        put("sites.csv", format!("{}\n{}\n", head.join(","), rows.join("\n")));
        let tank = |gal: &f64| format!("[[portable_tank]]\nvolume_gal = {gal:?}\n");
        let tanks: Vec<String> = self.tanks_gal.iter().map(tank).collect();
        put(
            "fleet.toml",
            format!(
                "siphons = 5\n{}\n\
                 [[pumper]]\nid = \"P1\"\nrated_gpm = {}\nsuctions = 4\nrole = \"draft\"\n\
                 hose = [{{ diameter_in = {:?}, length_ft = {:?} }}]\n\
                 [[pumper]]\nid = \"P2\"\nrated_gpm = 5000\nrole = \"fill\"\n\
                 {}\n{}",
                self.tankers.join("\n"),
                self.rated_gpm,
                self.hose.0,
                self.hose.1,
                self.aid,
                tanks.join("\n"),
            ),
        );
        let spread = match self.spread {
            true => "",
            false => "spread = { travel = \"fixed\", handling = \"fixed\", service = \"fixed\" }",
        };
        put(
            "scenario.toml",
            format!(
                "roads = \"world.osm.pbf\"\nsites = [\"sites.csv\"]\nfleet = \"fleet.toml\"\n\
                 speeds = \"speeds.toml\"\n{}\
                 [incident]\nat = [{}, {}]\nneed_gpm = {:?}\n{}\
                 [shuttle]\nreplications = {}\n{spread}\n\
                 [rig]\nsuction_in = 12\n[search]\n{}\n",
                self.top,
                self.incident.lon(),
                self.incident.lat(),
                self.need_gpm,
                self.dump,
                self.replications,
                self.search,
            ),
        );
        folder.join("scenario.toml")
    }

    /// Plans it, and checks what holds for every answer.
    pub fn plan(&self) -> Answer {
        let answer = read_and_plan(&self.write()).unwrap_or_else(|e| panic!("{}: {e}", self.name));
        for (i, option) in answer.options.iter().enumerate() {
            assert_eq!(option.number, i + 1);
            let (sustained, ceiling) =
                (option.simulated.as_ref().unwrap().sustained.flow.0, option.ceiling.0);
            assert!(sustained <= ceiling, "{}: {sustained} gpm above the ceiling {ceiling}", self.name);
            // On narrow road a tanker less can mean more water, and then the option says so.
            let crowded = option.simulated.as_ref().unwrap().one_lost.0 > sustained;
            assert!(!crowded || !option.shuttle.lanes.is_empty(), "{}: a tanker less, more water", self.name);
            assert_eq!(option.findings.has(Code::LaneCrowded), crowded, "{}", self.name);
            assert!(option.simulated.as_ref().unwrap().limitation.gain.0 >= 0.0);
            assert_eq!(option.meets_need, sustained >= self.need_gpm);
        }
        let flows: Vec<f64> =
            answer.options.iter().map(|o| o.simulated.as_ref().unwrap().sustained.flow.0).collect();
        assert!(flows.is_sorted_by(|a, b| a >= b), "{}: ranked {flows:?}", self.name);
        answer
    }
}

fn read_and_plan(scenario: &Path) -> Outcome<Answer> {
    let problem = Problem::read(scenario, &Overrides::default())?;
    let roads = problem.roads.read(&mut |_, _| {})?;
    let answer = plan(&problem, &roads)?;
    let text = tankerloop::output::geojson::write(&answer);
    let read = serde_json::from_str(&text).expect("the answer is JSON");
    let verification = tankerloop::verify::verify(&problem, &roads, &read);
    let failures: Vec<_> = verification.failures().collect();
    assert!(failures.is_empty(), "{}: {failures:#?}", scenario.display());
    Ok(answer)
}

/// What one tanker of the scene delivers on a loop of so many seconds of driving.
pub fn flow_of_one(drive_s: f64) -> f64 {
    LOAD_GAL / ((drive_s + STANDING_S) / 60.0)
}

pub fn near(got: f64, wanted: f64, within: f64, what: &str) {
    assert!((got - wanted).abs() <= within, "{what}: {got}, expected {wanted}");
}

/// Why a site is not used.
pub fn reason<'a>(answer: &'a Answer, site: &str) -> &'a str {
    let report = answer.sites.iter().find(|s| s.name == site).expect("the site is told of");
    report.used.as_ref().expect_err("the site is used")
}
