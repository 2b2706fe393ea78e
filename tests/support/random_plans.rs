//! Random incidents with random fill sites and fleets on the roads of a real extract, planned by the real
//! `plan` and recomputed by `verify`. Everything but the roads is invented: no such sites exist.

#![allow(dead_code)]

use rand::seq::IndexedRandom;
use rand::{Rng, RngExt, SeedableRng};
use rand_pcg::Pcg64;
use std::fmt::Write;
use std::path::{Path, PathBuf};
use tankerloop::place::Place;
use tankerloop::plan::{Answer, Overrides, Problem, plan};
use tankerloop::roads::network::Arc;
use tankerloop::routing::Roads;
use tankerloop::routing::path::stretch_points;
use tankerloop::routing::trip::Snapper;
use tankerloop::verify::verify;

pub const EXTRACTS: [&str; 3] = ["isle-of-man", "liechtenstein", "niue"];
pub const FIRST_SEED: u64 = 20_261_125;
/// Fill sites lie no farther from the incident than this, as the crow flies.
const FARTHEST_M: f64 = 8_000.0;

/// Tankers as they are about: mass empty, mass full, heaviest axle full, height, length, tank.
const TANKERS: [(&str, f64, f64, f64, f64, f64, u32); 5] = [
    ("small", 5.4, 9.2, 6.0, 2.8, 7.0, 1_000),
    ("D", 7.4, 13.0, 8.0, 3.0, 7.9, 1_400),
    ("B", 9.5, 18.5, 9.0, 3.2, 8.9, 2_200),
    ("A", 9.0, 19.0, 9.0, 3.1, 8.8, 2_500),
    ("C", 9.8, 21.5, 9.5, 3.3, 9.4, 3_000),
];

/// The roads that lead anywhere.
struct Land<'r> {
    roads: &'r Roads,
    segments: Vec<usize>,
}

impl Land<'_> {
    fn of(roads: &Roads) -> Land<'_> {
        let snapper = Snapper::new(roads);
        let segments = (0..roads.network.segments.len()).filter(|s| snapper.is_proper(*s)).collect();
        Land { roads, segments }
    }
}

/// A place on some road, up to so many metres beside it.
fn somewhere(land: &Land, beside_m: f64, random: &mut impl Rng) -> Place {
    let network = &land.roads.network;
    let arc = Arc::new(*land.segments.choose(random).expect("the extract has roads"), true);
    let at = stretch_points(network, arc, random.random_range(0.0..=1.0), 1.0)[0];
    let (east, north) =
        (random.random_range(-beside_m..=beside_m), random.random_range(-beside_m..=beside_m));
    let degree = 111_195.08;
    let lon = at.lon() + east / degree / at.lat().to_radians().cos();
    Place::from_lon_lat(lon, at.lat() + north / degree).expect("no extract lies at the edge of the map")
}

fn site_rows(land: &Land, incident: Place, mut count: usize, random: &mut impl Rng) -> String {
    let mut rows = String::from("name,lon,lat,kind,flow_gpm,volume_gal,berths,handling_s,lift_ft\n");
    while count > 0 {
        let at = somewhere(land, 15.0, random);
        if at.distance(incident).0 > FARTHEST_M {
            continue;
        }
        let what = match random.random_range(0..4) {
            0 => format!("hydrant,{},,", random.random_range(250..=1_500)),
            1 => "dry-hydrant,1000,,".into(),
            2 => "draft,,,".into(),
            _ => format!("pond,,{},", random.random_range(60_000..=600_000)),
        };
        let lift = if what.starts_with("hydrant") { "" } else { "8" };
        let (berths, handling) = (random.random_range(1..=2), random.random_range(60..=150));
        writeln!(rows, "Site {count},{},{},{what}{berths},{handling},{lift}", at.lon(), at.lat()).unwrap();
        count -= 1;
    }
    rows
}

fn fleet(land: &Land, incident: Place, random: &mut impl Rng) -> String {
    let mut text = String::from("siphons = 3\n");
    // One kind, or any: classes find different roads.
    let kinds: Vec<_> = match random.random_range(0..3) {
        0 => vec![*TANKERS.choose(random).unwrap()],
        _ => TANKERS.to_vec(),
    };
    let station = loop {
        let at = somewhere(land, 15.0, random);
        if at.distance(incident).0 < 2.0 * FARTHEST_M {
            break at;
        }
    };
    for i in 1..=random.random_range(1..=6) {
        let (name, empty, full, axle, height, length, gallons) = *kinds.choose(random).unwrap();
        let known = random.random_range(0..2) == 0;
        let station =
            if known { format!("station = [{}, {}]\n", station.lon(), station.lat()) } else { String::new() };
        writeln!(
            text,
            "[[tanker]]\nid = \"{name}{i}\"\n{station}mass_empty = \"{empty} t\"\nmass_full = \"{full} t\"\n\
             axle_load_full = \"{axle} t\"\nheight = \"{height} m\"\nwidth = \"2.5 m\"\n\
             length = \"{length} m\"\ntank_gal = {gallons}"
        )
        .unwrap();
    }
    let (inches, feet) = *[(5, 1_000), (4, 2_000), (5, 400), (5, 2_500)].choose(random).unwrap();
    write!(
        text,
        "[[pumper]]\nid = \"P1\"\nrated_gpm = 1500\nsuctions = 2\nrole = \"draft\"\n\
         hose = [{{ diameter_in = {inches}, length_ft = {feet} }}]\n\
         [[pumper]]\nid = \"P2\"\nrated_gpm = 1000\nsuctions = 2\nrole = \"fill\"\n\
         [[portable_tank]]\nvolume_gal = 3000\n[[portable_tank]]\nvolume_gal = 3000\n"
    )
    .unwrap();
    text
}

/// A random problem on an extract, through files as a user's would be. The same seed, the same problem.
pub fn problem(name: &str, path: &Path, roads: &Roads, seed: u64) -> Problem {
    let land = Land::of(roads);
    let mut random = Pcg64::seed_from_u64(seed);
    let sites = random.random_range(2..=6);
    let incident = somewhere(&land, 60.0, &mut random);
    problem_at(name, path, &land, (seed, random), incident, sites)
}

/// A random fleet and so many fill sites around a place.
pub fn many(name: &str, path: &Path, roads: &Roads, seed: u64, sites: usize) -> Problem {
    let land = Land::of(roads);
    let mut random = Pcg64::seed_from_u64(seed);
    let incident = somewhere(&land, 20.0, &mut random);
    problem_at(name, path, &land, (seed, random), incident, sites)
}

/// One tanker and so many fill sites on the Isle of Man.
pub fn wide(path: &Path, roads: &Roads, seed: u64, sites: usize) -> Problem {
    let mut problem = many("wide", path, roads, seed, sites);
    problem.fleet.tankers.truncate(1);
    problem
}

fn problem_at(
    name: &str,
    path: &Path,
    land: &Land,
    (seed, mut random): (u64, Pcg64),
    incident: Place,
    sites: usize,
) -> Problem {
    let folder: PathBuf = Path::new(env!("CARGO_TARGET_TMPDIR")).join(format!("random-{name}-{seed}"));
    std::fs::create_dir_all(&folder).expect("the test folder can be made");
    let put = |file: &str, text: &str| std::fs::write(folder.join(file), text).expect("it is written");
    put("sites.csv", &site_rows(land, incident, sites, &mut random));
    put("fleet.toml", &fleet(land, incident, &mut random));
    let need = *[250, 500, 750].choose(&mut random).unwrap();
    put(
        "scenario.toml",
        &format!(
            "name = \"{name} {seed}\"\nsites = [\"sites.csv\"]\nfleet = \"fleet.toml\"\n\
             [incident]\nat = [{}, {}]\nneed_gpm = {need}\n[shuttle]\nseed = {seed}\n",
            incident.lon(),
            incident.lat()
        ),
    );
    let overrides = Overrides { roads: Some(path.to_path_buf()), ..Overrides::default() };
    let read = Problem::read(&folder.join("scenario.toml"), &overrides);
    std::fs::remove_dir_all(&folder).expect("the test folder is ours");
    read.unwrap_or_else(|refusal| panic!("{name} {seed}: {refusal}"))
}

/// What came of one set.
pub enum Came {
    /// The incident or a listed site is off the roads, as some places are.
    Refused(String),
    Answered {
        answer: Box<Answer>,
        checks: usize,
        /// What the recomputation does not agree with.
        failures: Vec<String>,
    },
}

pub fn run(problem: &Problem, roads: &Roads) -> Came {
    match plan(problem, roads) {
        Err(refusal) => Came::Refused(refusal.to_string()),
        Ok(answer) => {
            let text = tankerloop::output::geojson::write(&answer);
            let read = serde_json::from_str(&text).expect("the answer is JSON");
            let verification = verify(problem, roads, &read);
            let told = |c: &tankerloop::verify::Check| format!("{} {:?}: {}", c.what, c.option, c.detail);
            let failures = verification.failures().map(told).collect();
            Came::Answered { answer: Box::new(answer), checks: verification.checks.len(), failures }
        }
    }
}
