//! Tags of road ways.

use super::permits::permits;
use super::rules::one_way;
use super::{OneWay, Permit, Permits, Season, Special, Tags, get, speed, unreadable, yes};
use crate::finding::{Findings, OsmRef};
use crate::roads::limits::{self, Limits};
use crate::roads::local::Local;
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
    /// `route=ferry`. Not among `ALL`: a speed table need not have it.
    Ferry,
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
            Class::Ferry => "ferry",
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
            "service" | "services" | "rest_area" | "busway" | "emergency_bay" => Class::Service,
            "track" => Class::Track,
            "path" | "footway" | "cycleway" | "bridleway" | "pedestrian" => Class::Path,
            _ => return None,
        })
    }
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

/// `smoothness`, as far as it decides whether and how fast a truck can pass.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
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
    /// Access with and against the node order.
    pub permits: [Permits; 2],
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
    /// Zone codes such as `GB:nsl_single`, by direction, where no number is posted; what they stand
    /// for is in the speed table.
    pub speed_zone: Option<Box<[Option<Box<str>>; 2]>>,
    /// Grade in percent with the node order, uphill positive.
    pub incline: Option<f32>,
    /// In force at any time in both directions.
    pub limits: Option<Box<Limits>>,
    pub special: Option<Box<Special>>,
    pub bridge: bool,
    pub ford: bool,
    /// winter_road, ice_road
    pub frozen: bool,
    pub season: Season,
    /// Lanes or the whole road set apart for buses.
    pub bus: bool,
    pub passing_places: bool,
    /// Never of the map, never saved.
    #[serde(skip)]
    pub local: Option<Box<Local>>,
}

/// Why a way with a `highway` tag is not a road for us; counted, not dropped in silence.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
pub enum NotARoad {
    FootOrCycle,
    Unfinished,
    Area,
    OtherKind,
    /// Not said to carry motor vehicles.
    Ferry,
}

impl NotARoad {
    pub fn as_str(self) -> &'static str {
        match self {
            NotARoad::FootOrCycle => "foot or cycle ways, steps and paths",
            NotARoad::Unfinished => "proposed, under construction, disused or razed",
            NotARoad::Area => "areas",
            NotARoad::OtherKind => "of another kind",
            NotARoad::Ferry => "ferries not said to carry motor vehicles",
        }
    }
}

/// Kinds of life before and after that of a road (OSM wiki, "Lifecycle prefix").
const NOT_NOW: [&str; 8] =
    ["construction:", "proposed:", "planned:", "razed:", "demolished:", "removed:", "abandoned:", "disused:"];

/// Reads a way. `None`: no highway at all.
pub fn road(id: i64, tags: &Tags, findings: &mut Findings) -> Option<Result<RoadTags, NotARoad>> {
    let osm = OsmRef::Way(id);
    let ferry = get(tags, "route") == Some("ferry");
    let class = match get(tags, "highway") {
        Some(highway) => Class::of(highway).ok_or(match highway {
            "construction" | "proposed" | "razed" | "abandoned" | "disused" | "planned" => {
                NotARoad::Unfinished
            }
            "steps" | "corridor" | "elevator" | "platform" | "via_ferrata" => NotARoad::FootOrCycle,
            _ => NotARoad::OtherKind,
        }),
        None if ferry => Ok(Class::Ferry),
        None => {
            let later = |key: &str| NOT_NOW.iter().any(|word| key.strip_prefix(word) == Some("highway"));
            return tags.iter().any(|(key, _)| later(key)).then_some(Err(NotARoad::Unfinished));
        }
    };
    let class = match class {
        Ok(class) => class,
        Err(reason) => return Some(Err(reason)),
    };
    if get(tags, "area") == Some("yes") {
        return Some(Err(NotARoad::Area));
    }
    let mut special = Special::default();
    let permits = permits(tags, osm, &mut special, findings);
    let named = |keys: &[&str]| {
        keys.iter()
            .find_map(|key| get(tags, key))
            .is_some_and(|word| matches!(Permit::of(word), Permit::Yes | Permit::Destination))
    };
    let emergency = permits.iter().any(|p| p.emergency == Permit::Yes);
    match class {
        Class::Path if !emergency && !named(&["motor_vehicle", "vehicle"]) => {
            return Some(Err(NotARoad::FootOrCycle));
        }
        Class::Ferry if !emergency && !named(&["hgv", "motor_vehicle", "motorcar", "vehicle", "access"]) => {
            return Some(Err(NotARoad::Ferry));
        }
        _ => {}
    }
    let roundabout = matches!(get(tags, "junction"), Some("roundabout" | "circular"));
    let implied = roundabout || get(tags, "highway") == Some("motorway");
    let one_way = one_way(tags, implied, osm, &mut special, findings);
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
        None | Some("excellent" | "very_good" | "good" | "intermediate") => Smoothness::Fair,
        Some(other) => {
            unreadable("smoothness", other, "taken as not mapped", osm, findings);
            Smoothness::Fair
        }
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
    let read = limits::read(tags, osm, findings);
    special.limits = read.directed;
    special.limit_rules = read.rules;
    let limits = (!read.both.is_empty()).then(|| Box::new(read.both));
    // Lanes for buses, whichever of the two schemes they are mapped in (OSM wiki, "Bus lanes").
    let bus = get(tags, "highway") == Some("busway")
        || tags.iter().any(|(key, value)| {
            let lanes = key.starts_with("lanes:psv") || key.starts_with("lanes:bus");
            let scheme = key.starts_with("psv:lanes") || key.starts_with("bus:lanes");
            let side = *key == "busway" || key.starts_with("busway:");
            (lanes || scheme || side) && !matches!(*value, "no" | "none" | "0")
        });
    let (max_speed, speed_zone) = speed::posted(tags, osm, findings);
    Some(Ok(RoadTags {
        class,
        one_way,
        roundabout,
        permits,
        surface,
        grade,
        smoothness,
        lanes,
        width,
        width_estimated,
        max_speed,
        speed_zone,
        incline: speed::incline(tags, osm, findings),
        limits,
        special: special.boxed(),
        bridge: yes(tags, "bridge"),
        ford: yes(tags, "ford"),
        frozen: yes(tags, "winter_road") || yes(tags, "ice_road"),
        season: get(tags, "seasonal").map_or(Season::AllYear, |value| Season::of(value, osm, findings)),
        bus,
        passing_places: yes(tags, "passing_places"),
        local: None,
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
