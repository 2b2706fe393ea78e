//! The only room that knows tag words: OpenStreetMap keys and values become road attributes.
//! Meanings follow the OpenStreetMap wiki's definition of each key.

mod building;
mod node;
mod open_water;
mod permits;
mod road;
mod rules;
mod scenery;
mod speed;
mod water;
mod yard;

pub use building::building;
pub use node::{Barrier, NodeTags, TurningPlace, node};
pub use open_water::{NoWater, OpenWater, OpenWaterKind, open_water_area, open_water_line};
pub use permits::{Mode, Permit, PermitRule, Permits};
pub use road::{Class, NotARoad, RoadTags, Smoothness, Surface, road, road_name};
pub use rules::{BanHours, OneWay, Season, Special, TurnRule, turn_rule};
pub use scenery::{SceneryKind, scenery_area, scenery_line, scenery_place};
pub use water::{WaterKind, WaterTags, water};
pub use yard::yard;

use crate::finding::{Code, Finding, Findings, OsmRef, Where};

/// A tag list that can be read more than once.
pub type Tags<'a> = [(&'a str, &'a str)];

fn get<'a>(tags: &Tags<'a>, key: &str) -> Option<&'a str> {
    tags.iter().find(|(k, _)| *k == key).map(|(_, v)| *v)
}

fn yes(tags: &Tags, key: &str) -> bool {
    get(tags, key).is_some_and(|v| v != "no")
}

fn unreadable(key: &str, value: &str, meaning: &str, osm: OsmRef, findings: &mut Findings) {
    findings.add_new(Finding::new(
        Code::TagUnreadable,
        Where::osm(osm),
        format!("{key}={value} is not known; {meaning}"),
        "correct the map if it is a slip",
    ));
}

fn not_evaluated(key: &str, value: &str, osm: OsmRef, findings: &mut Findings) {
    findings.add_new(Finding::new(
        Code::ConditionalIgnored,
        Where::osm(osm),
        format!("{key}={value} was not evaluated"),
        "check by hand whether it holds at the time of the incident",
    ));
}
