//! Legal access: OSM wiki, "Key:access". The narrower class of vehicles decides over the wider
//! (motor_vehicle over vehicle over access), and a direction over both.

use super::{Special, Tags, get, not_evaluated, unreadable};
use crate::finding::{Findings, OsmRef};
use crate::roads::condition::{Condition, clauses};
use serde::{Deserialize, Serialize};

/// Legal access for a class of vehicles, from open to closed.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
pub enum Permit {
    #[default]
    Unset,
    Yes,
    /// destination, delivery, customers
    Destination,
    /// agricultural, forestry
    Farm,
    /// private, permit
    Private,
    /// A word the reader does not know.
    Unknown,
    No,
}

impl Permit {
    /// Of several words the most open: each names somebody who may.
    pub(super) fn of(value: &str) -> Permit {
        value.split(';').map(|word| Permit::of_word(word.trim())).min().unwrap_or_default()
    }

    fn of_word(word: &str) -> Permit {
        match word {
            "yes" | "designated" | "permissive" | "official" | "public" => Permit::Yes,
            "destination" | "delivery" | "customers" | "residents" => Permit::Destination,
            "private" | "permit" => Permit::Private,
            "agricultural" | "forestry" => Permit::Farm,
            // Advice to stay away is told like a restriction to those whom the road serves.
            "discouraged" | "unsuitable" => Permit::Destination,
            "no" | "military" | "restricted" | "emergency" | "psv" | "bus" | "use_sidepath" => Permit::No,
            _ => Permit::Unknown,
        }
    }
}

/// What the map says about our kind of vehicle in one direction.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct Permits {
    /// The narrowest of motor_vehicle, vehicle, access that is set.
    pub motor: Permit,
    pub hgv: Permit,
    pub emergency: Permit,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub enum Mode {
    Motor,
    Hgv,
    Emergency,
}

impl Permits {
    pub fn of(&mut self, mode: Mode) -> &mut Permit {
        match mode {
            Mode::Motor => &mut self.motor,
            Mode::Hgv => &mut self.hgv,
            Mode::Emergency => &mut self.emergency,
        }
    }
}

/// Access under a condition, in place of the plain one while it holds.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct PermitRule {
    pub mode: Mode,
    pub dirs: [bool; 2],
    pub permit: Permit,
    pub when: Condition,
}

/// Mode of a key and how wide it is: a narrower one has a smaller number.
fn mode(key: &str) -> Option<(Mode, u8)> {
    Some(match key {
        "emergency" => (Mode::Emergency, 0),
        "hgv" => (Mode::Hgv, 0),
        "motor_vehicle" => (Mode::Motor, 0),
        "vehicle" => (Mode::Motor, 1),
        "access" => (Mode::Motor, 2),
        _ => return None,
    })
}

/// Reads access in both directions; rules go to `special`.
pub(super) fn permits(
    tags: &Tags,
    osm: OsmRef,
    special: &mut Special,
    findings: &mut Findings,
) -> [Permits; 2] {
    let mut permits = [Permits::default(); 2];
    // How narrow the plain word was that set each mode and direction; a direction is half a step.
    let mut narrow = [[u8::MAX; 2]; 3];
    let mut rules: Vec<(u8, PermitRule)> = Vec::new();
    for &(key, value) in tags {
        let mut parts = key.split(':');
        let Some((mode, width)) = parts.next().and_then(mode) else { continue };
        let (mut dirs, mut conditional, mut known) = ([true; 2], false, true);
        for part in parts {
            match part {
                "forward" => dirs[1] = false,
                "backward" => dirs[0] = false,
                "conditional" => conditional = true,
                "both_ways" => {}
                _ => known = false,
            }
        }
        // `access:lanes`, `hgv:note` and the like are not about the whole road.
        if !known {
            continue;
        }
        let width = width * 2 + u8::from(dirs == [true; 2]);
        if conditional {
            for (word, when) in clauses(value) {
                if !when.was_read() {
                    not_evaluated(key, value, osm, findings);
                }
                let permit = word_of(mode, key, word, osm, findings);
                rules.push((width, PermitRule { mode, dirs, permit, when }));
            }
            continue;
        }
        let permit = word_of(mode, key, value, osm, findings);
        for side in 0..2 {
            let before = &mut narrow[mode as usize][side];
            if dirs[side] && width < *before {
                *before = width;
                *permits[side].of(mode) = permit;
            }
        }
    }
    if get(tags, "access") == Some("emergency") {
        for side in permits.iter_mut().filter(|side| side.emergency == Permit::Unset) {
            side.emergency = Permit::Yes;
        }
    }
    // A rule of a wider class than the plain word does not count; of the rest the narrowest is last.
    rules.sort_by_key(|(width, _)| std::cmp::Reverse(*width));
    special.permits = rules
        .into_iter()
        .filter_map(|(width, mut rule)| {
            for (side, plain) in rule.dirs.iter_mut().zip(narrow[rule.mode as usize]) {
                *side &= width / 2 <= plain / 2;
            }
            (rule.dirs != [false; 2]).then_some(rule)
        })
        .collect();
    permits
}

fn word_of(mode: Mode, key: &str, value: &str, osm: OsmRef, findings: &mut Findings) -> Permit {
    let permit = Permit::of(value);
    match mode {
        _ if permit != Permit::Unknown => permit,
        // The key also says what stands there (OSM wiki, "Key:emergency").
        Mode::Emergency => Permit::Unset,
        Mode::Motor => {
            unreadable(key, value, "taken as private", osm, findings);
            permit
        }
        Mode::Hgv => {
            unreadable(key, value, "taken as restricted", osm, findings);
            permit
        }
    }
}
