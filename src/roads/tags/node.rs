//! Tags of road nodes: barriers, turning places, signals, limits.

use super::{Permit, Tags, get};
use crate::finding::{Findings, OsmRef};
use crate::roads::limits::Limits;
use serde::{Deserialize, Serialize};

/// What stands on a road node.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
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
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub enum TurningPlace {
    #[default]
    None,
    /// turning_circle, turning_loop, mini roundabout
    Circle,
    Passing,
}

/// One node's attributes where it has any that matter to a truck.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
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
