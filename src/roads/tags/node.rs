//! Tags of road nodes: barriers, turning places, signals, limits.

use super::permits::permits;
use super::{Permits, Special, Tags, get, unreadable, yes};
use crate::finding::{Findings, OsmRef};
use crate::roads::limits::{self, Limits, Posted};
use crate::roads::local::Said;
use crate::units::Metres;
use serde::{Deserialize, Serialize};

/// What stands on a road node (OSM wiki, "Key:barrier").
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub enum Barrier {
    /// Opens by hand: gate, lift gate, swing gate, chain, removable bollard.
    Opens,
    /// Passable without stopping: cattle grid, entrance.
    Passable,
    /// Traffic is made to stop: toll booth, border control.
    Stops,
    /// Posts or blocks with a measured gap between them, which `limits` holds.
    Gap,
    /// Never passable by a truck: bollard, block, stile.
    Blocks,
    /// A frame whose height is not mapped.
    HeightFrame,
    /// Not a barrier by its key, but one to a truck.
    Ford,
    /// A word the reader does not know; taken as blocking.
    Unknown,
}

/// Room to turn at a node.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub enum TurningPlace {
    #[default]
    None,
    /// turning_circle, turning_loop, mini roundabout
    Circle,
    /// A parking area or other open ground beside the road.
    Yard,
    Passing,
}

/// One node's attributes where it has any that matter to a truck.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct NodeTags {
    pub barrier: Option<Barrier>,
    /// Access past the barrier; unset where there is none.
    pub permits: Permits,
    pub locked: bool,
    pub turning: TurningPlace,
    pub signal: bool,
    pub limits: Option<Box<Limits>>,
    pub special: Option<Box<Special>>,
    /// Somebody opens the barrier. Never of the map, never saved.
    #[serde(skip)]
    pub opened: Option<Said>,
}

impl NodeTags {
    /// A node with room to turn and nothing else.
    pub fn yard() -> NodeTags {
        NodeTags {
            barrier: None,
            permits: Permits::default(),
            locked: false,
            turning: TurningPlace::Yard,
            signal: false,
            limits: None,
            special: None,
            opened: None,
        }
    }
}

/// Reads a node; `None` if nothing on it matters to a truck.
pub fn node(id: i64, tags: &Tags, findings: &mut Findings) -> Option<NodeTags> {
    let osm = OsmRef::Node(id);
    // Findings of tags on nodes off the road would be noise, so they are kept back until the
    // network knows that the node lies on a road: only barrier or highway nodes are read.
    let word = get(tags, "barrier").filter(|word| *word != "no");
    let highway = get(tags, "highway");
    let has_limit = tags.iter().any(|(k, _)| k.starts_with("max"));
    let ford = yes(tags, "ford") || highway == Some("ford");
    if word.is_none() && highway.is_none() && !has_limit && !ford {
        return None;
    }
    let mut special = Special::default();
    let read = limits::read(tags, osm, findings);
    let mut limits = read.both;
    special.limits = read.directed;
    special.limit_rules = read.rules;
    let permits = match word {
        Some(_) => permits(tags, osm, &mut special, findings)[0],
        None => Permits::default(),
    };
    let barrier = word.map(|word| {
        let barrier = barrier(word, tags, limits.width.is_none());
        if barrier == Barrier::Unknown {
            unreadable("barrier", word, "taken as blocking", osm, findings);
        }
        barrier
    });
    let framed = barrier == Some(Barrier::HeightFrame) && !limits.height.is_none();
    let barrier = if framed { Some(Barrier::Passable) } else { barrier.or(ford.then_some(Barrier::Ford)) };
    // The opening of a gate is as wide as its `width`; that of a bollard is the post's own.
    if matches!(barrier, Some(Barrier::Opens | Barrier::Passable | Barrier::Stops))
        && word != Some("bollard")
        && let Some(width) = get(tags, "width")
    {
        match width.parse::<Metres>() {
            Ok(width) if width.0 > 0.0 => {
                let narrower = !matches!(limits.width, Posted::At(posted) if posted <= width);
                if narrower {
                    limits.width = Posted::At(width);
                }
            }
            _ => unreadable("width", width, "taken as not mapped", osm, findings),
        }
    }
    let turning = match highway {
        Some("turning_circle" | "turning_loop" | "mini_roundabout") => TurningPlace::Circle,
        Some("passing_place") => TurningPlace::Passing,
        _ => TurningPlace::None,
    };
    let signal = highway == Some("traffic_signals");
    let special = special.boxed();
    // A limit that holds at times only still makes the node one to be judged.
    let limits = (!limits.is_empty() || special.is_some()).then(|| Box::new(limits));
    let matters = barrier.is_some() || limits.is_some() || signal || turning != TurningPlace::None;
    let locked = yes(tags, "locked");
    matters.then_some(NodeTags { barrier, permits, locked, turning, signal, limits, special, opened: None })
}

/// The widest way through of a list, as of a kissing gate beside a gate (OSM wiki, "Semi-colon value
/// separator"; commas are met as well). Words nobody knows count only where no other is read.
fn barrier(words: &str, tags: &Tags, no_width: bool) -> Barrier {
    let found = words.split([';', ',']).map(|word| one_barrier(word.trim(), tags, no_width));
    let wide = |barrier: &Barrier| match barrier {
        Barrier::Passable => 0,
        Barrier::Opens => 1,
        Barrier::Stops => 2,
        Barrier::Gap => 3,
        Barrier::HeightFrame => 4,
        Barrier::Ford => 5,
        Barrier::Blocks => 6,
        Barrier::Unknown => 7,
    };
    found.min_by_key(wide).unwrap_or(Barrier::Unknown)
}

fn one_barrier(word: &str, tags: &Tags, no_width: bool) -> Barrier {
    // Who put up posts says by a word for motor vehicles or the fire service that they go down.
    let for_us = |key: &str| matches!(get(tags, key), Some("yes" | "designated" | "permissive"));
    let opens_for_us = for_us("emergency") || for_us("motor_vehicle") || for_us("vehicle");
    let crossing = get(tags, "railway") == Some("level_crossing");
    match word {
        "bollard" | "bollards" => match get(tags, "bollard") {
            Some("removable" | "rising" | "foldable" | "flexible") => Barrier::Opens,
            _ if opens_for_us => Barrier::Opens,
            _ if !no_width => Barrier::Gap,
            _ => Barrier::Blocks,
        },
        "block" | "planter" if !no_width => Barrier::Gap,
        "toll_booth" | "border_control" | "checkpoint" => Barrier::Stops,
        // The barriers of a level crossing are up for the road but while a train passes.
        "lift_gate" | "swing_gate" | "gate" | "lights" | "full" | "half" if crossing => Barrier::Passable,
        "gate" | "lift_gate" | "swing_gate" | "chain" | "sliding_gate" | "sliding_beam"
        | "hampshire_gate" | "rope" | "wicket_gate" | "bump_gate" => Barrier::Opens,
        "cattle_grid" | "entrance" | "kerb" | "sally_port" | "toll_gantry" | "coupure" => Barrier::Passable,
        "height_restrictor" => Barrier::HeightFrame,
        "block"
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
        _ => Barrier::Unknown,
    }
}
