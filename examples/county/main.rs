//! Draws the demonstration county: an invented piece of farmland in the middle of the Atlantic,
//! with a town, five villages, a river with a reservoir, and a rural fire department's sites and
//! fleet. Everything is made up, from the names to the truck weights.
//!
//! ```text
//! cargo run --example county [DIRECTORY]      (data/county unless given)
//! ```
//!
//! The same bytes on every run. What makes the county hard for a tanker shuttle is planted in
//! `hard.rs`, and listed with coordinates and way ids in the README.md written beside the data:
//!
//! - a posted bridge that empty tankers may cross and loaded ones may not; a bridge without a
//!   posting; a bridge whose posting cannot be read; a low bridge; creek bridges with limits in
//!   short tons, tonnes and pounds
//! - a one-lane farm road at the incident, a dead-end lane without a turning place, a cul-de-sac
//!   with a turning circle, a turning loop, a car park
//! - a divided highway with few crossings, one-way streets, turn restrictions by node and by way
//! - a gated forest track, a road on an island, roads that leave the extract
//! - a weak hydrant near by and a strong dry hydrant far off, a pond for part of the year, a
//!   hydrant out of service, and hydrants, tanks and suction points tagged in the extract

mod fleet;
mod hard;
mod names;
mod net;
mod osm;
mod pbf;
mod places;
mod plane;
mod roads;
mod scenario;
mod water;

use net::Net;
use plane::{HEIGHT, WIDTH};
use roads::Dice;
use std::path::PathBuf;

/// Chosen by looking at the pictures of a few.
const SEED: u64 = 20_417;

/// Every file of the county with its content.
pub fn files() -> Vec<(&'static str, Vec<u8>)> {
    let mut net = Net::default();
    let mut names = names::Names::new(SEED);
    let mut dice = Dice::new(SEED);

    roads::section_lines(&mut net, &mut names, &mut dice);
    roads::highway(&mut net, &mut dice, "Seven Mile Highway");
    let planted = hard::plant(&mut net, &mut names);
    let settled = places::settle(&mut net, &mut names, &mut dice);
    let culdesac = places::subdivision(&mut net, &mut names);
    roads::diagonals(&mut net, &mut names, &mut dice);
    roads::half_sections(&mut net, &mut names, &mut dice, &hard::KEPT_CLEAR);
    roads::lanes(&mut net, &mut names, &mut dice);
    roads::close_median(&mut net);
    net.smooth(8);

    hard::highway_bridges(&mut net);
    let waters = water::waters();
    water::meet_roads(&mut net, &waters, planted.bridging(), &mut dice);
    net.keep_main_part();
    leave(&mut net);
    places::restrictions(&mut net);
    water::draw(&mut net, &waters, &mut names, &mut dice);
    places::water_supply(&mut net, &mut dice);
    let features = hard::post(&mut net, &planted, culdesac);
    let sites = scenario::sites(&mut net, &settled);
    let made = osm::make(&net);
    vec![
        ("county.osm.pbf", pbf::write(&made.data)),
        ("fill-sites.geojson", scenario::geojson(&sites[..9]).into_bytes()),
        ("extra-sites.csv", scenario::csv(&sites[9..]).into_bytes()),
        ("fleet.toml", fleet::fleet(&net, &settled).into_bytes()),
        ("scenario.toml", scenario::scenario().into_bytes()),
        ("README.md", scenario::readme(&features, &made, &settled, &planted.posted_road).into_bytes()),
    ]
}

/// Public roads that reach the county's edge go on beyond it.
fn leave(net: &mut Net) {
    for node in 0..net.nodes.len() {
        let (u, v, _) = net.nodes[node].key;
        let edges = net.alive(node);
        let at_edge = u <= 0 || v <= 0 || u >= WIDTH || v >= HEIGHT;
        if at_edge && edges.len() == 1 {
            net.leaving.insert(node);
        }
    }
}

fn main() -> std::io::Result<()> {
    let directory = PathBuf::from(std::env::args().nth(1).unwrap_or_else(|| "data/county".into()));
    std::fs::create_dir_all(&directory)?;
    for (name, content) in files() {
        std::fs::write(directory.join(name), &content)?;
        println!("{} ({} bytes)", directory.join(name).display(), content.len());
    }
    Ok(())
}
