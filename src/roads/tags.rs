//! The only file that knows tag words: OpenStreetMap keys and values become road attributes.
//! Meanings follow the OpenStreetMap wiki's definition of each key.

use crate::finding::{Code, Finding, Findings, OsmRef, Where};
use crate::roads::limits::Limits;
use crate::units::{Metres, MetresPerSecond};
use serde::Deserialize;

/// Road class (`highway=*`), links folded into the class they belong to.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord, Deserialize)]
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
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum OneWay {
    #[default]
    No,
    Forward,
    Backward,
    /// Changes with the time of day or by signal: neither direction can be relied on.
    Changing,
}

/// Legal access for a class of vehicles.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
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

#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash, PartialOrd, Ord, Deserialize)]
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
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Smoothness {
    #[default]
    Fair,
    Bad,
    VeryBad,
    Horrible,
    Impassable,
}

/// One way's road attributes, the same for every vehicle.
#[derive(Clone, Debug, PartialEq)]
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
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
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

/// A tag list that can be read more than once.
pub type Tags<'a> = [(&'a str, &'a str)];

fn get<'a>(tags: &Tags<'a>, key: &str) -> Option<&'a str> {
    tags.iter().find(|(k, _)| *k == key).map(|(_, v)| *v)
}

fn yes(tags: &Tags, key: &str) -> bool {
    get(tags, key).is_some_and(|v| v != "no")
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

/// What stands on a road node.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Barrier {
    /// Opens by hand: gate, lift gate, swing gate, chain, removable bollard.
    Opens,
    /// Passable without stopping: cattle grid, toll booth, border post.
    Passable,
    /// Never passable by a truck: bollard, block, stile.
    Blocks,
    /// A frame whose height is not mapped.
    HeightFrame,
    /// A word the reader does not know; taken as blocking.
    Unknown,
}

/// Room to turn at a node.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum TurningPlace {
    #[default]
    None,
    /// turning_circle, turning_loop, mini roundabout
    Circle,
    Passing,
}

/// One node's attributes where it has any that matter to a truck.
#[derive(Clone, Debug, PartialEq)]
pub struct NodeTags {
    pub barrier: Option<Barrier>,
    pub motor: Permit,
    pub emergency: Permit,
    pub turning: TurningPlace,
    pub signal: bool,
    pub limits: Option<Box<Limits>>,
}

/// Reads a node; `None` if nothing on it matters to a truck.
pub fn node(id: i64, tags: &Tags, findings: &mut Findings) -> Option<NodeTags> {
    let osm = OsmRef::Node(id);
    let mut limits = Limits::default();
    // Findings of tags on nodes off the road would be noise, so they are kept back until the
    // network knows that the node lies on a road: only barrier or highway nodes are read.
    let barrier_word = get(tags, "barrier");
    let highway = get(tags, "highway");
    let has_limit = tags.iter().any(|(k, _)| k.starts_with("max"));
    if barrier_word.is_none() && highway.is_none() && !has_limit {
        return None;
    }
    for (key, value) in tags {
        limits.take(key, value, osm, findings);
    }
    let barrier = barrier_word.and_then(|word| {
        Some(match word {
            "gate" | "lift_gate" | "swing_gate" | "chain" | "sliding_gate" | "hampshire_gate" | "rope"
            | "wicket_gate" | "bump_gate" => Barrier::Opens,
            "bollard"
                if matches!(get(tags, "bollard"), Some("removable" | "rising" | "foldable" | "flexible")) =>
            {
                Barrier::Opens
            }
            "cattle_grid" | "toll_booth" | "border_control" | "entrance" | "kerb" | "sally_port" => {
                Barrier::Passable
            }
            "height_restrictor" if limits.height.is_none() => Barrier::HeightFrame,
            "height_restrictor" => Barrier::Passable,
            "bollard"
            | "block"
            | "stile"
            | "turnstile"
            | "kissing_gate"
            | "cycle_barrier"
            | "log"
            | "debris"
            | "jersey_barrier"
            | "full-height_turnstile"
            | "motorcycle_barrier"
            | "planter"
            | "spikes"
            | "tank_trap"
            | "horse_stile"
            | "bus_trap"
            | "sump_buster" => Barrier::Blocks,
            "no" => return None,
            _ => Barrier::Unknown,
        })
    });
    let turning = match highway {
        Some("turning_circle" | "turning_loop" | "mini_roundabout") => TurningPlace::Circle,
        Some("passing_place") => TurningPlace::Passing,
        _ => TurningPlace::None,
    };
    let signal = highway == Some("traffic_signals");
    let motor = ["motor_vehicle", "vehicle", "access"]
        .iter()
        .find_map(|key| get(tags, key).map(Permit::of))
        .filter(|_| barrier.is_some())
        .unwrap_or_default();
    let emergency = get(tags, "emergency").map_or(Permit::Unset, Permit::of);
    let limits = (!limits.is_empty()).then(|| Box::new(limits));
    let matters = barrier.is_some() || limits.is_some() || signal || turning != TurningPlace::None;
    matters.then_some(NodeTags { barrier, motor, emergency, turning, signal, limits })
}

/// A water feature mapped for the fire service.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum WaterKind {
    Hydrant,
    /// A hydrant that must be drafted from: no pressure of its own.
    SuctionHydrant,
    SuctionPoint,
    WaterTank,
    Pond,
}

/// A water feature as tagged; its yield is not tagged and never assumed from a diameter.
#[derive(Clone, Debug, PartialEq)]
pub struct WaterTags {
    pub kind: WaterKind,
    pub name: Option<String>,
    /// `water_tank:volume` or `capacity`, litres unless a unit is given.
    pub volume_litres: Option<f64>,
    pub in_service: bool,
}

/// Reads a water feature from a node or a closed way.
pub fn water(tags: &Tags) -> Option<WaterTags> {
    let (word, in_service) = match (get(tags, "emergency"), get(tags, "disused:emergency")) {
        (Some(word), _) => (word, get(tags, "operational_status").is_none_or(|s| s != "out_of_order")),
        (None, Some(word)) => (word, false),
        (None, None) => return None,
    };
    let kind = match word {
        "fire_hydrant" => match (get(tags, "fire_hydrant:type"), get(tags, "fire_hydrant:pressure")) {
            (Some("pond"), _) | (_, Some("suction")) => WaterKind::SuctionHydrant,
            _ => WaterKind::Hydrant,
        },
        "suction_point" => WaterKind::SuctionPoint,
        "water_tank" => WaterKind::WaterTank,
        "fire_water_pond" => WaterKind::Pond,
        _ => return None,
    };
    let name = get(tags, "name").or_else(|| get(tags, "ref")).map(str::to_string);
    let volume_litres = get(tags, "water_tank:volume").or_else(|| get(tags, "capacity")).and_then(litres);
    Some(WaterTags { kind, name, volume_litres, in_service })
}

/// "30000", "30000 l", "30 m3", "8000 gal"; a bare number is litres (OSM wiki, Tag:emergency=water_tank).
fn litres(value: &str) -> Option<f64> {
    let end = value.find(|c: char| !(c.is_ascii_digit() || c == '.')).unwrap_or(value.len());
    let (number, unit) = value.trim().split_at(end.min(value.trim().len()));
    let number: f64 = number.parse().ok()?;
    let factor = match unit.trim() {
        "" | "l" | "L" => 1.0,
        "m3" | "m³" | "cbm" => 1000.0,
        "gal" | "gallons" => crate::units::LITRES_PER_GALLON,
        _ => return None,
    };
    Some(number * factor)
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
