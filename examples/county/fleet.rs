//! The fleet file: six tankers, three pumpers, portable tanks and siphons.

use super::net::Net;
use super::places::{TOWN, VILLAGES};
use super::scenario::{Settled, lon_lat, near_road, step};
use std::fmt::Write as _;

struct Tanker {
    id: &'static str,
    name: &'static str,
    station: usize,
    turnout_s: u32,
    tank_gal: u32,
    empty_lb: u32,
    axles: u32,
    axle_load_lb: u32,
    size: [&'static str; 3],
    intake_gpm: u32,
    dump_gpm: u32,
    dump_handling_s: u32,
}

/// Empty masses stay under the posted 30,000 lb and full ones above it; 8.34 lb to the gallon.
const TANKERS: [Tanker; 6] = [
    Tanker {
        id: "T1",
        name: "Pumper-tanker 1",
        station: 0,
        turnout_s: 90,
        tank_gal: 1_000,
        empty_lb: 22_200,
        axles: 2,
        axle_load_lb: 19_800,
        size: ["9'8\"", "8'2\"", "28'"],
        intake_gpm: 750,
        dump_gpm: 800,
        dump_handling_s: 45,
    },
    Tanker {
        id: "T2",
        name: "Tanker 2",
        station: 0,
        turnout_s: 90,
        tank_gal: 1_500,
        empty_lb: 22_800,
        axles: 2,
        axle_load_lb: 23_900,
        size: ["10'0\"", "8'2\"", "27'"],
        intake_gpm: 1_000,
        dump_gpm: 1_000,
        dump_handling_s: 45,
    },
    Tanker {
        id: "T3",
        name: "Tanker 3",
        station: 1,
        turnout_s: 120,
        tank_gal: 2_000,
        empty_lb: 23_900,
        axles: 3,
        axle_load_lb: 14_600,
        size: ["10'2\"", "8'4\"", "29'"],
        intake_gpm: 1_000,
        dump_gpm: 1_500,
        dump_handling_s: 40,
    },
    Tanker {
        id: "T4",
        name: "Tanker 4",
        station: 1,
        turnout_s: 120,
        tank_gal: 2_200,
        empty_lb: 24_600,
        axles: 3,
        axle_load_lb: 15_400,
        size: ["10'4\"", "8'4\"", "30'"],
        intake_gpm: 1_000,
        dump_gpm: 1_500,
        dump_handling_s: 40,
    },
    Tanker {
        id: "T5",
        name: "Tanker 5",
        station: 2,
        turnout_s: 180,
        tank_gal: 3_000,
        empty_lb: 27_400,
        axles: 3,
        axle_load_lb: 18_700,
        size: ["10'9\"", "8'4\"", "33'"],
        intake_gpm: 1_200,
        dump_gpm: 1_800,
        dump_handling_s: 40,
    },
    Tanker {
        id: "T6",
        name: "Tanker 6",
        station: 2,
        turnout_s: 180,
        tank_gal: 3_500,
        empty_lb: 29_300,
        axles: 3,
        axle_load_lb: 21_100,
        size: ["11'1\"", "8'6\"", "35'"],
        intake_gpm: 1_200,
        dump_gpm: 1_800,
        dump_handling_s: 40,
    },
];

pub fn fleet(net: &Net, settled: &Settled) -> String {
    let stations = [
        near_road(net, (516.0, 452.0), 12.0, 12.0),
        near_road(net, step(VILLAGES[1]), -60.0, 14.0),
        near_road(net, step(TOWN), 40.0, 16.0),
    ];
    let place = |i: usize| settled[[1, 2, 0][i]].0.as_str();
    let mut text = String::from(
        "# The fleet of the invented county. Every vehicle is made up.\n\
         # Units: gal and gpm are US gallons; _s seconds; masses and sizes carry their unit.\n\
         # station = [longitude, latitude]. mass_full is mass_empty plus the tank at 8.34 lb/gal.\n\
         # axle_load_full is the heaviest axle. intake_gpm: what the tank accepts while filling;\n\
         # dump_gpm: average over the unloading; dump_handling_s: positioning and leaving.\n\n\
         # Jet siphons that move water between portable tanks.\nsiphons = 2\n",
    );
    for t in &TANKERS {
        let full = f64::from(t.empty_lb) + f64::from(t.tank_gal) * 8.34;
        let [height, width, length] = t.size;
        let _ = write!(
            text,
            "\n[[tanker]] # {}\nid = \"{}\"\nname = \"{}\"\nstation = [{}]\nturnout_s = {}\n\
             mass_empty = \"{}\"\nmass_full = \"{}\"\naxles = {}\naxle_load_full = \"{}\"\n\
             height = {height:?}\nwidth = {width:?}\nlength = {length:?}\n\
             tank_gal = {}\nintake_gpm = {}\ndump_gpm = {}\ndump_handling_s = {}\n",
            place(t.station),
            t.id,
            t.name,
            lon_lat(stations[t.station]),
            t.turnout_s,
            pounds(f64::from(t.empty_lb)),
            pounds((full / 10.0).round() * 10.0),
            t.axles,
            pounds(f64::from(t.axle_load_lb)),
            t.tank_gal,
            t.intake_gpm,
            t.dump_gpm,
            t.dump_handling_s,
        );
    }
    let pumpers = [
        ("P1", "Engine 1", 0, 60, 1_250, 2, 1_000, "attack"),
        ("P2", "Engine 2", 1, 90, 1_500, 2, 1_200, "draft"),
        ("P3", "Engine 3", 0, 90, 1_000, 1, 800, "fill"),
    ];
    for (id, name, station, turnout, rated, suctions, hose, role) in pumpers {
        let _ = write!(
            text,
            "\n[[pumper]] # {}\nid = \"{id}\"\nname = \"{name}\"\nstation = [{}]\nturnout_s = {turnout}\n\
             rated_gpm = {rated} # at draft, 10 ft lift\npump_psi = 150\nsuctions = {suctions}\n\
             hose = [{{ diameter_in = 5, length_ft = {hose} }}]\nrole = \"{role}\"\n",
            place(station),
            lon_lat(stations[station]),
        );
    }
    for (volume, carrier) in [(2_000, "T2"), (2_500, "T3"), (2_500, "T4"), (3_500, "T6")] {
        let _ = write!(text, "\n[[portable_tank]]\nvolume_gal = {volume}\ncarried_by = \"{carrier}\"\n");
    }
    text
}

/// "38,900 lb"
fn pounds(mass: f64) -> String {
    let whole = mass as u32;
    format!("{},{:03} lb", whole / 1000, whole % 1000)
}
