//! What the tests of the saved network share: a world with a bit of everything that is saved.
#![allow(dead_code)]

use crate::support::drive::folder;
use crate::support::world::World;
use std::path::{Path, PathBuf};
use tankerloop::Roads;
use tankerloop::routing::access::Policy;
use tankerloop::routing::saved;
use tankerloop::routing::speed::SpeedTable;

pub fn text(path: &Path) -> &str {
    path.to_str().expect("test paths are text")
}

/// Saves beside nothing else, and returns the folder and the saved file.
pub fn save(extract: &Path) -> (PathBuf, PathBuf) {
    let folder = folder();
    let saved = folder.join("saved.roads");
    saved::prepare(extract, &saved, &mut |_, _| ()).expect("the extract can be saved");
    (folder, saved)
}

pub fn read(path: &Path, table: SpeedTable) -> Roads {
    Roads::read(path, table, Policy::default(), &mut |_, _| ()).expect("the roads read")
}

/// Bans at a node and through ways, limits and access by direction, class and condition, a ferry, a
/// slope, a zone, a bend, water, findings.
pub fn world() -> World {
    World::new(100.0)
        .map(
            "
            A----B--M--C----D
            |    |     |     G
            |    E-----F----X
            |               |
            H---------------I
            ",
        )
        .way("AB", &[("highway", "tertiary"), ("name", "West Road"), ("maxspeed", "30 mph")])
        .way(
            "BMC",
            &[
                ("highway", "tertiary"),
                ("name", "Mill Road"),
                ("maxweight", "40"),
                ("maxweight:forward", "30"),
                ("maxweight:conditional", "12 @ (Nov 15-Apr 15); none @ destination"),
                ("maxheight:hgv:backward:conditional", "3.0 @ (Mo-Fr 07:00-09:00,16:00-18:00)"),
            ],
        )
        .way("CDG", &[("highway", "residential"), ("surface", "gravel"), ("maxheight", "who knows")])
        .way(
            "BEFC",
            &[
                ("highway", "unclassified"),
                ("width", "18'6\""),
                ("access", "private"),
                ("oneway:conditional", "yes @ (Sa,Su)"),
                ("motor_vehicle:forward:conditional", "no @ (2026 Jan 5-2026 Feb 20)"),
                ("oneway:emergency", "no"),
            ],
        )
        .way("AE", &[("highway", "track"), ("tracktype", "grade2"), ("seasonal", "summer"), ("ford", "yes")])
        .way("FX", &[("highway", "service"), ("maxspeed", "ZZ:rural"), ("lanes", "1")])
        .way("GX", &[("highway", "secondary"), ("incline", "8%"), ("bridge", "yes"), ("smoothness", "bad")])
        .way("AH", &[("highway", "primary"), ("maxspeed:forward", "GB:nsl_single"), ("hgv", "destination")])
        .way("HI", &[("route", "ferry"), ("motor_vehicle", "yes"), ("maxweight", "nobody knows")])
        .way("IX", &[("highway", "living_street"), ("maxaxleload", "8"), ("bus", "designated")])
        .cut("X")
        .node('M', &[("barrier", "gate"), ("maxweight", "30"), ("locked", "yes"), ("width", "3.1")])
        .node('C', &[("highway", "turning_circle")])
        .node('I', &[("highway", "traffic_signals")])
        .node('F', &[("emergency", "suction_point"), ("name", "Mill Pond")])
        .restriction("no_left_turn", "AB", 'B', "BEFC")
        .restriction_with("no_right_turn", "BMC", 'B', "BEFC", &[("except", "emergency")])
        .restriction_with(
            "",
            "FX",
            'X',
            "IX",
            &[("restriction:conditional", "no_right_turn @ (Mo-Fr 08:00-09:00)")],
        )
        .restriction_with("", "BMC", 'C', "CDG", &[("restriction:conditional", "no_straight_on @ (Dec-Feb)")])
        .way("DGFCD", &[("amenity", "parking")])
        .restriction_via_ways("no_right_turn", "AB", &["BMC"], "CDG")
        .restriction_via_ways("only_straight_on", "GX", &["FX"], "BEFC")
}

/// Letters of the world's nodes.
pub const LETTERS: [char; 10] = ['A', 'B', 'M', 'C', 'D', 'E', 'F', 'X', 'H', 'I'];
