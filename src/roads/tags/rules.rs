//! One-ways, seasons and turn restrictions, and what a road has beside the plain words.

use super::permits::PermitRule;
use super::{Tags, get, not_evaluated, unreadable};
use crate::finding::{Code, Finding, Findings, OsmRef, Where};
use crate::roads::condition::{Condition, Moment, Truth, clauses};
use crate::roads::limits::{LimitRule, Limits};
use serde::{Deserialize, Serialize};

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

impl OneWay {
    fn of(value: &str) -> Option<OneWay> {
        Some(match value {
            "yes" | "true" | "1" => OneWay::Forward,
            "-1" | "reverse" => OneWay::Backward,
            "reversible" | "alternating" => OneWay::Changing,
            "no" | "false" | "0" => OneWay::No,
            _ => return None,
        })
    }

    /// Is travel in this direction against it?
    pub fn is_against(self, forward: bool) -> bool {
        match self {
            OneWay::No => false,
            OneWay::Forward => !forward,
            OneWay::Backward => forward,
            OneWay::Changing => true,
        }
    }
}

/// What differs by direction or holds only at times. Most roads have none of it.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Special {
    /// Limits with and against the node order that the plain `limits` do not hold.
    pub limits: [Limits; 2],
    pub limit_rules: Vec<LimitRule>,
    pub permits: Vec<PermitRule>,
    pub one_way: Vec<(OneWay, Condition)>,
    /// `oneway:emergency`
    pub emergency_one_way: Option<OneWay>,
}

impl Special {
    pub(super) fn boxed(self) -> Option<Box<Special>> {
        (self != Special::default()).then(|| Box::new(self))
    }
}

/// Reads `oneway` and its narrower keys (OSM wiki, "Key:oneway").
pub(super) fn one_way(
    tags: &Tags,
    implied: bool,
    osm: OsmRef,
    special: &mut Special,
    findings: &mut Findings,
) -> OneWay {
    let mut found: Option<(u8, OneWay)> = None;
    for &(key, value) in tags {
        let Some(rest) = key.strip_prefix("oneway") else { continue };
        // The wider a class, the greater the number; keys for other vehicles are not ours.
        let width = match rest {
            "" => 3,
            ":vehicle" => 2,
            ":motor_vehicle" => 1,
            ":hgv" => 0,
            ":emergency" => {
                special.emergency_one_way = OneWay::of(value);
                if special.emergency_one_way.is_none() {
                    unreadable(key, value, "not applied", osm, findings);
                }
                continue;
            }
            ":conditional" | ":motor_vehicle:conditional" | ":vehicle:conditional" => {
                for (word, when) in clauses(value) {
                    match OneWay::of(word) {
                        Some(rule) if when.was_read() => special.one_way.push((rule, when)),
                        _ => not_evaluated(key, value, osm, findings),
                    }
                }
                continue;
            }
            _ => continue,
        };
        match OneWay::of(value) {
            // That trucks may go against a one-way is not taken from a word for goods traffic.
            Some(OneWay::No) if width == 0 => {}
            Some(rule) if found.is_none_or(|(before, _)| width < before) => found = Some((width, rule)),
            Some(_) => {}
            None => unreadable(key, value, "taken as two-way", osm, findings),
        }
    }
    match found {
        Some((_, rule)) => rule,
        None if implied && get(tags, "oneway").is_none() => OneWay::Forward,
        None => OneWay::No,
    }
}

/// When a seasonal road can be used (OSM wiki, "Key:seasonal").
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub enum Season {
    #[default]
    AllYear,
    /// One bit a month, January first, north of the equator.
    Months(u16),
    /// Seasonal, nobody says when; or by rain.
    Unclear,
}

impl Season {
    pub const WINTER: Season = Season::Months(0b1000_0000_0111);

    pub(super) fn of(value: &str, osm: OsmRef, findings: &mut Findings) -> Season {
        let mut months = 0;
        for word in value.split(';') {
            months |= match word.trim() {
                "no" => return Season::AllYear,
                "spring" => 0b0000_0001_1100,
                "summer" => 0b0000_1110_0000,
                "autumn" | "fall" => 0b0111_0000_0000,
                "winter" => 0b1000_0000_0011,
                "yes" | "wet_season" | "dry_season" => return Season::Unclear,
                _ => {
                    unreadable("seasonal", value, "nobody knows when it can be used", osm, findings);
                    return Season::Unclear;
                }
            };
        }
        Season::Months(months)
    }

    pub fn holds(self, moment: &Moment) -> Truth {
        match (self, moment.month) {
            (Season::AllYear, _) => Truth::Yes,
            (Season::Unclear, _) | (_, None) => Truth::Maybe,
            (Season::Months(months), Some(month)) => {
                let north = (month + if moment.south { 5 } else { 11 }) % 12;
                Truth::from(months & (1 << north) != 0)
            }
        }
    }
}

/// What a turn restriction says.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub enum TurnRule {
    No,
    Only,
}

/// When a turn restriction is in force.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct BanHours {
    /// But for the clauses.
    pub always: bool,
    /// Bars or lifts the bar; the last that holds counts (OSM wiki, "Conditional restrictions").
    clauses: Vec<(bool, Condition)>,
    /// Key and value as mapped.
    pub text: Box<str>,
}

impl BanHours {
    pub fn are_all(&self) -> bool {
        self.always && self.clauses.is_empty()
    }

    /// Whether it is in force then, for whatever truck: where that is not known it is. And whether it
    /// is known.
    pub fn in_force(&self, moment: &Moment) -> (bool, bool) {
        let mut known = true;
        for (bars, condition) in self.clauses.iter().rev() {
            match (bars, condition.holds_for_all(moment)) {
                (_, Truth::No) => {}
                (bars, Truth::Yes) => return (*bars, known),
                (true, Truth::Maybe) => return (true, false),
                (false, Truth::Maybe) => known = false,
            }
        }
        (self.always, known)
    }
}

/// Reads the rule of a restriction relation (OSM wiki, "Relation:restriction"). `exempt`: the sign
/// does not bind an emergency vehicle or, by its own words, no heavy goods vehicle. What is not
/// applied is told.
pub fn turn_rule(id: i64, tags: &Tags, findings: &mut Findings) -> Option<(TurnRule, BanHours, bool)> {
    if get(tags, "type") != Some("restriction") {
        return None;
    }
    let mut told = |key: &str, value: &str, what: &str| {
        findings.add_new(Finding::new(
            Code::RestrictionNotRead,
            Where::osm(OsmRef::Relation(id)),
            format!("{key}={value} {what}"),
            "check the turn by hand where a loop passes it",
        ));
    };
    let plain = ["restriction", "restriction:hgv"].into_iter().find_map(|key| Some((key, get(tags, key)?)));
    let mut rule = plain.and_then(|(_, word)| turn_word(word));
    if let Some((key, word)) = plain.filter(|_| rule.is_none()) {
        told(key, word, "is not applied");
    }
    let mut hours = BanHours { always: rule.is_some(), ..BanHours::default() };
    for key in ["restriction:conditional", "restriction:hgv:conditional"] {
        let Some(value) = get(tags, key) else { continue };
        for (word, condition) in clauses(value) {
            let bars = turn_word(word);
            let lifts = matches!(word, "none" | "no");
            // One relation, one turn.
            let other = rule.is_some_and(|rule| Some(rule) != bars)
                || plain.is_some_and(|(_, plain)| turn_word(plain).is_some() && plain != word);
            if !lifts && (bars.is_none() || other) {
                told(key, value, "is not applied");
                continue;
            }
            rule = rule.or(bars);
            if !condition.was_read() {
                let taken = if lifts { "is left out" } else { "is taken as in force at all times" };
                told(key, value, taken);
            }
            hours.clauses.push((!lifts, condition));
            hours.text = format!("{key}={value}").into();
        }
    }
    let rule = rule?;
    let exempt = get(tags, "except")
        .is_some_and(|who| who.split(';').any(|who| matches!(who.trim(), "emergency" | "hgv")));
    Some((rule, hours, exempt))
}

/// None for a duty to turn round, a ban at red lights and words nobody defined.
fn turn_word(word: &str) -> Option<TurnRule> {
    match word {
        "no_left_turn" | "no_right_turn" | "no_straight_on" | "no_u_turn" | "no_entry" | "no_exit" => {
            Some(TurnRule::No)
        }
        "only_left_turn" | "only_right_turn" | "only_straight_on" => Some(TurnRule::Only),
        _ => None,
    }
}
