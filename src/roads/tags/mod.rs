//! The only room that knows tag words: OpenStreetMap keys and values become road attributes.
//! Meanings follow the OpenStreetMap wiki's definition of each key.

mod node;
mod road;
mod water;

pub use node::{Barrier, NodeTags, TurningPlace, node};
pub use road::{Class, NotARoad, OneWay, RoadTags, Smoothness, Surface, road, road_name};
pub use water::{WaterKind, WaterTags, water};

use crate::finding::{Code, Finding, Findings, OsmRef, Where};
use serde::{Deserialize, Serialize};

/// A tag list that can be read more than once.
pub type Tags<'a> = [(&'a str, &'a str)];

fn get<'a>(tags: &Tags<'a>, key: &str) -> Option<&'a str> {
    tags.iter().find(|(k, _)| *k == key).map(|(_, v)| *v)
}

fn yes(tags: &Tags, key: &str) -> bool {
    get(tags, key).is_some_and(|v| v != "no")
}

/// Legal access for a class of vehicles.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub enum Permit {
    #[default]
    Unset,
    Yes,
    /// destination, delivery, customers
    Destination,
    /// private, permit
    Private,
    /// agricultural, forestry
    Farm,
    No,
    /// A word the reader does not know.
    Unknown,
}

impl Permit {
    fn of(value: &str) -> Permit {
        match value {
            "yes" | "designated" | "permissive" | "official" | "public" => Permit::Yes,
            "destination" | "delivery" | "customers" | "residents" => Permit::Destination,
            "private" | "permit" => Permit::Private,
            "agricultural" | "forestry" | "agricultural;forestry" => Permit::Farm,
            "no" | "military" | "restricted" | "emergency" | "psv" | "bus" => Permit::No,
            _ => Permit::Unknown,
        }
    }
}

fn unreadable(key: &str, value: &str, meaning: &str, osm: OsmRef, findings: &mut Findings) {
    findings.add_new(Finding::new(
        Code::TagUnreadable,
        Where::osm(osm),
        format!("{key}={value} is not known; {meaning}"),
        "correct the map if it is a slip",
    ));
}

fn permit(key: &str, value: &str, osm: OsmRef, findings: &mut Findings) -> Permit {
    let permit = Permit::of(value);
    if permit == Permit::Unknown {
        unreadable(key, value, "taken as private", osm, findings);
    }
    permit
}

/// What a turn restriction says.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum TurnRule {
    No,
    Only,
}

/// Reads the rule of a restriction relation. `exempt`: the sign does not bind an emergency vehicle.
pub fn turn_rule(tags: &Tags) -> Option<(TurnRule, bool)> {
    if get(tags, "type") != Some("restriction") {
        return None;
    }
    let word = get(tags, "restriction").or_else(|| get(tags, "restriction:hgv"))?;
    let rule = if word.starts_with("no_") {
        TurnRule::No
    } else if word.starts_with("only_") {
        TurnRule::Only
    } else {
        return None;
    };
    let exempt = get(tags, "except").is_some_and(|e| e.split(';').any(|who| who.trim() == "emergency"));
    Some((rule, exempt))
}
