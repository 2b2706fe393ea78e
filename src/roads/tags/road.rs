//! Tags of road ways.

use super::{Permit, Tags, get, permit, unreadable, yes};
use crate::finding::{Code, Finding, Findings, OsmRef, Where};
use crate::roads::limits::Limits;
use crate::units::{Metres, MetresPerSecond};
use serde::{Deserialize, Serialize};

/// Road class (`highway=*`), links folded into the class they belong to.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Class {
    Motorway,
    Trunk,
    Primary,
    Secondary,
    Tertiary,
    Unclassified,
    Residential,
    LivingStreet,
    Service,
    Track,
    /// A foot or cycle way that the map opens to emergency or motor vehicles by name.
    Path,
}

impl Class {
    pub const ALL: [Class; 11] = [
        Class::Motorway,
        Class::Trunk,
        Class::Primary,
        Class::Secondary,
        Class::Tertiary,
        Class::Unclassified,
        Class::Residential,
        Class::LivingStreet,
        Class::Service,
        Class::Track,
        Class::Path,
    ];
    pub fn as_str(self) -> &'static str {
        match self {
            Class::Motorway => "motorway",
            Class::Trunk => "trunk",
            Class::Primary => "primary",
            Class::Secondary => "secondary",
            Class::Tertiary => "tertiary",
            Class::Unclassified => "unclassified",
            Class::Residential => "residential",
            Class::LivingStreet => "living_street",
            Class::Service => "service",
            Class::Track => "track",
            Class::Path => "path",
        }
    }
    fn of(highway: &str) -> Option<Class> {
        Some(match highway {
            "motorway" | "motorway_link" => Class::Motorway,
            "trunk" | "trunk_link" => Class::Trunk,
            "primary" | "primary_link" => Class::Primary,
            "secondary" | "secondary_link" => Class::Secondary,
            "tertiary" | "tertiary_link" => Class::Tertiary,
            "unclassified" | "road" => Class::Unclassified,
            "residential" => Class::Residential,
            "living_street" => Class::LivingStreet,
            "service" | "services" | "rest_area" | "busway" | "bus_guideway" | "emergency_bay" => {
                Class::Service
            }
            "track" => Class::Track,
            "path" | "footway" | "cycleway" | "bridleway" | "pedestrian" => Class::Path,
            _ => return None,
        })
    }
}

/// Which way traffic may flow, relative to the way's node order.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub enum OneWay {
    #[default]
    No,
    Forward,
    Backward,
    /// Changes with the time of day or by signal: neither direction can be relied on.
    Changing,
}

#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Surface {
    #[default]
    Unknown,
    Paved,
    Rough,
    Compacted,
    Gravel,
    Ground,
    Soft,
}

impl Surface {
    fn of(value: &str) -> Option<Surface> {
        Some(match value {
            "paved"
            | "asphalt"
            | "concrete"
            | "concrete:plates"
            | "concrete:lanes"
            | "paving_stones"
            | "chipseal"
            | "metal"
            | "wood"
            | "paving_stones:lanes"
            | "bricks"
            | "brick" => Surface::Paved,
            "sett"
            | "cobblestone"
            | "unhewn_cobblestone"
            | "cobblestone:flattened"
            | "grass_paver"
            | "metal_grid" => Surface::Rough,
            "compacted" | "fine_gravel" => Surface::Compacted,
            "unpaved" | "gravel" | "pebblestone" | "rock" | "shells" => Surface::Gravel,
            "ground" | "dirt" | "earth" | "clay" | "dirt/sand" => Surface::Ground,
            "grass" | "sand" | "mud" | "woodchips" | "snow" | "ice" | "salt" => Surface::Soft,
            _ => return None,
        })
    }
}

/// `smoothness`, as far as it decides whether a truck can pass.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub enum Smoothness {
    #[default]
    Fair,
    Bad,
    VeryBad,
    Horrible,
    Impassable,
}

/// One way's road attributes, the same for every vehicle.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct RoadTags {
    pub class: Class,
    pub one_way: OneWay,
    pub roundabout: bool,
    /// First of motor_vehicle, vehicle, access that is set.
    pub motor: Permit,
    pub hgv: Permit,
    pub emergency: Permit,
    pub surface: Surface,
    /// `tracktype` grade 1 to 5; 0 when not mapped.
    pub grade: u8,
    pub smoothness: Smoothness,
    /// Lanes of both directions together; 0 when not mapped.
    pub lanes: u8,
    /// Carriageway width in metres, mapped or estimated; None when not mapped.
    pub width: Option<Metres>,
    pub width_estimated: bool,
    /// Posted speed by direction: with and against the node order.
    pub max_speed: [Option<MetresPerSecond>; 2],
    pub limits: Option<Box<Limits>>,
    pub bridge: bool,
    pub ford: bool,
    /// winter_road, ice_road
    pub frozen: bool,
    pub passing_places: bool,
}

/// Why a way with a `highway` tag is not a road for us; counted, not dropped in silence.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
pub enum NotARoad {
    FootOrCycle,
    Unfinished,
    Area,
    OtherKind,
}

impl NotARoad {
    pub fn as_str(self) -> &'static str {
        match self {
            NotARoad::FootOrCycle => "foot or cycle ways, steps and paths",
            NotARoad::Unfinished => "proposed, under construction, disused or razed",
            NotARoad::Area => "areas",
            NotARoad::OtherKind => "of another kind",
        }
    }
}

/// Reads a way. `None`: no highway at all.
pub fn road(id: i64, tags: &Tags, findings: &mut Findings) -> Option<Result<RoadTags, NotARoad>> {
    let highway = get(tags, "highway")?;
    let osm = OsmRef::Way(id);
    let emergency = get(tags, "emergency").map_or(Permit::Unset, Permit::of);
    let Some(class) = Class::of(highway) else {
        return Some(Err(match highway {
            "construction" | "proposed" | "razed" | "abandoned" | "disused" | "planned" => {
                NotARoad::Unfinished
            }
            "steps" | "corridor" | "elevator" | "platform" | "via_ferrata" => NotARoad::FootOrCycle,
            _ => NotARoad::OtherKind,
        }));
    };
    if get(tags, "area") == Some("yes") {
        return Some(Err(NotARoad::Area));
    }
    let motor = ["motor_vehicle", "vehicle", "access"]
        .iter()
        .find_map(|key| get(tags, key).map(|value| permit(key, value, osm, findings)))
        .unwrap_or_default();
    let named_open = |p: Permit| matches!(p, Permit::Yes | Permit::Destination);
    let motor_named =
        ["motor_vehicle", "vehicle"].iter().any(|k| get(tags, k).is_some()) && named_open(motor);
    if class == Class::Path && !motor_named && !named_open(emergency) {
        return Some(Err(NotARoad::FootOrCycle));
    }
    let roundabout = matches!(get(tags, "junction"), Some("roundabout" | "circular"));
    let one_way = match get(tags, "oneway") {
        Some("yes" | "true" | "1") => OneWay::Forward,
        Some("-1" | "reverse") => OneWay::Backward,
        Some("reversible" | "alternating") => OneWay::Changing,
        Some("no" | "false" | "0") => OneWay::No,
        None if roundabout || highway == "motorway" => OneWay::Forward,
        None => OneWay::No,
        Some(other) => {
            unreadable("oneway", other, "taken as two-way", osm, findings);
            OneWay::No
        }
    };
    let surface = get(tags, "surface").map_or(Surface::Unknown, |value| {
        let first = value.split(';').next().unwrap_or(value).trim();
        Surface::of(first).unwrap_or_else(|| {
            unreadable("surface", value, "taken as not mapped", osm, findings);
            Surface::Unknown
        })
    });
    let grade = match get(tags, "tracktype") {
        None => 0,
        Some(value) => value
            .strip_prefix("grade")
            .and_then(|g| g.parse::<u8>().ok())
            .filter(|g| (1..=5).contains(g))
            .unwrap_or_else(|| {
                unreadable("tracktype", value, "taken as not mapped", osm, findings);
                0
            }),
    };
    let smoothness = match get(tags, "smoothness") {
        Some("bad") => Smoothness::Bad,
        Some("very_bad") => Smoothness::VeryBad,
        Some("horrible" | "very_horrible") => Smoothness::Horrible,
        Some("impassable") => Smoothness::Impassable,
        _ => Smoothness::Fair,
    };
    let lanes = match get(tags, "lanes") {
        None => 0,
        Some(value) => value.trim().parse::<f64>().ok().filter(|n| (0.5..=20.0).contains(n)).map_or_else(
            || {
                unreadable("lanes", value, "taken as not mapped", osm, findings);
                0
            },
            |n| n.ceil() as u8,
        ),
    };
    let (width, width_estimated) = match (get(tags, "width"), get(tags, "est_width")) {
        (Some(value), _) => (metres("width", value, osm, findings), false),
        (None, Some(value)) => (metres("est_width", value, osm, findings), true),
        (None, None) => (None, false),
    };
    let mut limits = Limits::default();
    for (key, value) in tags {
        if limits.take(key, value, osm, findings) {
            continue;
        }
        if let Some(base) = key.strip_suffix(":conditional")
            && (base.starts_with("max") && base != "maxspeed" || base == "access" || base == "motor_vehicle")
        {
            findings.add_new(Finding::new(
                Code::ConditionalIgnored,
                Where::osm(osm),
                format!("{key}={value} was not evaluated"),
                "check by hand whether it holds at the time of the incident",
            ));
        }
    }
    let both = speed(tags, "maxspeed", osm, findings);
    let max_speed = [
        speed(tags, "maxspeed:forward", osm, findings).or(both),
        speed(tags, "maxspeed:backward", osm, findings).or(both),
    ];
    Some(Ok(RoadTags {
        class,
        one_way,
        roundabout,
        motor,
        hgv: get(tags, "hgv").map_or(Permit::Unset, |value| permit("hgv", value, osm, findings)),
        emergency: if matches!(get(tags, "access"), Some("emergency")) && emergency == Permit::Unset {
            Permit::Yes
        } else {
            emergency
        },
        surface,
        grade,
        smoothness,
        lanes,
        width,
        width_estimated,
        max_speed,
        limits: (!limits.is_empty()).then(|| Box::new(limits)),
        bridge: yes(tags, "bridge"),
        ford: yes(tags, "ford"),
        frozen: yes(tags, "winter_road") || yes(tags, "ice_road"),
        passing_places: yes(tags, "passing_places"),
    }))
}

/// The name people use for the road: its name, else its number.
pub fn road_name<'a>(tags: &Tags<'a>) -> Option<&'a str> {
    get(tags, "name").or_else(|| get(tags, "ref")).filter(|name| !name.trim().is_empty())
}

fn metres(key: &str, value: &str, osm: OsmRef, findings: &mut Findings) -> Option<Metres> {
    match value.parse::<Metres>() {
        Ok(width) if width.0 > 0.0 => Some(width),
        _ => {
            unreadable(key, value, "taken as not mapped", osm, findings);
            None
        }
    }
}

fn speed(tags: &Tags, key: &str, osm: OsmRef, findings: &mut Findings) -> Option<MetresPerSecond> {
    let value = get(tags, key)?;
    match value.parse::<MetresPerSecond>() {
        Ok(speed) if speed.0 > 0.5 => Some(speed),
        _ => {
            // "none", "signals" and zone codes say no number; the class table decides then.
            if !matches!(value, "none" | "signals" | "variable" | "walk" | "unposted") && !value.contains(':')
            {
                unreadable(key, value, "the class table decides", osm, findings);
            }
            None
        }
    }
}
