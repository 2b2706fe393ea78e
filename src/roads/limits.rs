//! Posted limits with three states: none posted, posted, unreadable.
//!
//! Keys: OSM wiki, "Key:maxweight" and its family, each for both directions or one (`:forward`),
//! for all or for a class (`:hgv`, `:emergency`), always or under a condition (`:conditional`).

use crate::finding::{Code, Finding, Findings, OsmRef, Where};
use crate::roads::condition::{Condition, clauses};
use crate::units::{Kilograms, Metres};
use serde::{Deserialize, Serialize};

/// A sign as mapped. Unreadable is not "none": it closes the loaded leg until someone looks.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub enum Posted<T> {
    #[default]
    None,
    At(T),
    Unreadable(Box<str>),
}

impl<T> Posted<T> {
    pub fn is_none(&self) -> bool {
        matches!(self, Posted::None)
    }
    fn map<U>(self, to: impl Fn(T) -> U) -> Posted<U> {
        match self {
            Posted::None => Posted::None,
            Posted::At(value) => Posted::At(to(value)),
            Posted::Unreadable(text) => Posted::Unreadable(text),
        }
    }
}

/// What is limited.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
pub enum Kind {
    Weight,
    Axle,
    Bogie,
    Height,
    Width,
    Length,
    Rating,
}

impl Kind {
    pub const ALL: [Kind; 7] =
        [Kind::Weight, Kind::Axle, Kind::Bogie, Kind::Height, Kind::Width, Kind::Length, Kind::Rating];

    pub fn key(self) -> &'static str {
        match self {
            Kind::Weight => "maxweight",
            Kind::Rating => "maxweightrating",
            Kind::Axle => "maxaxleload",
            Kind::Bogie => "maxbogieweight",
            Kind::Height => "maxheight",
            Kind::Width => "maxwidth",
            Kind::Length => "maxlength",
        }
    }
    /// In kilograms; the others are in metres.
    pub fn is_mass(self) -> bool {
        matches!(self, Kind::Weight | Kind::Rating | Kind::Axle | Kind::Bogie)
    }
    /// A sign under a tonne or under the height of a car is a slip of the pen more often than a
    /// limit, but it stays a limit.
    fn plausible(self) -> std::ops::RangeInclusive<f64> {
        match self {
            Kind::Weight | Kind::Rating => 1_000.0..=100_000.0,
            Kind::Axle => 500.0..=40_000.0,
            Kind::Bogie => 500.0..=60_000.0,
            Kind::Height => 1.5..=12.0,
            Kind::Width => 1.2..=30.0,
            Kind::Length => 3.0..=60.0,
        }
    }
}

/// The limits of a way, of one direction of it or of a node.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Limits {
    /// `maxweight`: the actual mass of the vehicle.
    pub weight: Posted<Kilograms>,
    /// `maxweightrating`: the rated mass, whatever is in the tank.
    pub rating: Posted<Kilograms>,
    pub axle: Posted<Kilograms>,
    pub bogie: Posted<Kilograms>,
    pub height: Posted<Metres>,
    pub width: Posted<Metres>,
    pub length: Posted<Metres>,
}

impl Limits {
    pub fn is_empty(&self) -> bool {
        *self == Limits::default()
    }

    /// In kilograms or metres.
    pub fn get(&self, kind: Kind) -> Posted<f64> {
        match kind {
            Kind::Weight => self.weight.clone().map(Kilograms::get),
            Kind::Rating => self.rating.clone().map(Kilograms::get),
            Kind::Axle => self.axle.clone().map(Kilograms::get),
            Kind::Bogie => self.bogie.clone().map(Kilograms::get),
            Kind::Height => self.height.clone().map(Metres::get),
            Kind::Width => self.width.clone().map(Metres::get),
            Kind::Length => self.length.clone().map(Metres::get),
        }
    }

    pub fn set(&mut self, kind: Kind, posted: Posted<f64>) {
        match kind {
            Kind::Weight => self.weight = posted.map(Kilograms),
            Kind::Rating => self.rating = posted.map(Kilograms),
            Kind::Axle => self.axle = posted.map(Kilograms),
            Kind::Bogie => self.bogie = posted.map(Kilograms),
            Kind::Height => self.height = posted.map(Metres),
            Kind::Width => self.width = posted.map(Metres),
            Kind::Length => self.length = posted.map(Metres),
        }
    }
}

/// A limit beside or instead of the plain one.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct LimitRule {
    pub kind: Kind,
    /// With and against the node order.
    pub dirs: [bool; 2],
    pub value: Posted<f64>,
    /// In force instead of the plain limit while this holds; `None`: a second sign, always in force.
    pub when: Option<Condition>,
}

/// All limits of one element.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct ReadLimits {
    /// In force at any time in both directions.
    pub both: Limits,
    /// What differs by direction, and what conditions may replace; never a kind that `both` has.
    pub directed: [Limits; 2],
    /// In the order in which they were written: the last that holds counts.
    pub rules: Vec<LimitRule>,
}

/// What a key says beside its kind.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
struct Key {
    kind: Kind,
    who: Who,
    forward: Option<bool>,
    conditional: bool,
    per_lane: bool,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Who {
    Everyone,
    Hgv,
    Emergency,
}

enum Meaning {
    /// Not one of the seven keys.
    NoLimit,
    Limit(Key),
    /// For other vehicles, or a remark about the sign.
    NotForUs,
    Unknown,
}

fn meaning(key: &str) -> Meaning {
    let mut parts = key.split(':');
    let first = parts.next().unwrap_or_default();
    let Some(kind) = Kind::ALL.into_iter().find(|kind| kind.key() == first) else { return Meaning::NoLimit };
    let mut read = Key { kind, who: Who::Everyone, forward: None, conditional: false, per_lane: false };
    for part in parts {
        match part {
            "hgv" | "goods" => read.who = Who::Hgv,
            "emergency" | "fire" => read.who = Who::Emergency,
            "forward" => read.forward = Some(true),
            "backward" => read.forward = Some(false),
            "conditional" => read.conditional = true,
            "lanes" => read.per_lane = true,
            "physical" | "legal" | "both_ways" | "motor_vehicle" | "vehicle" => {}
            // A limit of the mass without load: whoever keeps it at any load keeps it.
            "unladen" if !key.ends_with(":conditional") => {}
            "signed" | "source" | "note" | "type" | "description" | "ref" | "url" | "check_date"
            | "survey" | "date" => return Meaning::NotForUs,
            "bus" | "psv" | "coach" | "tourist_bus" | "minibus" | "school_bus" | "trailer" | "caravan"
            | "motorhome" | "motorcar" | "motorcycle" | "hgv_articulated" | "articulated" | "semi"
            | "agricultural" | "bicycle" | "taxi" | "boat" | "moped" | "hazmat" => {
                return Meaning::NotForUs;
            }
            _ => return Meaning::Unknown,
        }
    }
    Meaning::Limit(read)
}

/// How one value reads; what a survey of an extract counts.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Reading {
    Read,
    /// A word that says that there is no sign, or that a clearance is low without saying how low.
    Vague,
    Unreadable,
    /// A quantity that is hardly possible; it is applied.
    Implausible,
}

/// How the value of a limit's key reads; `None` if the key is none of the seven, written plainly.
pub fn reading(key: &str, value: &str) -> Option<Reading> {
    let kind = Kind::ALL.into_iter().find(|kind| kind.key() == key)?;
    Some(posted(kind, value.trim()).1)
}

fn posted(kind: Kind, text: &str) -> (Posted<f64>, Reading) {
    // OSM wiki, Key:maxheight and Key:maxweight: words for "nothing posted here".
    if matches!(text, "none" | "unsigned" | "no_sign" | "no_indications" | "default" | "no") {
        return (Posted::None, Reading::Vague);
    }
    // OSM wiki, Key:maxheight: lower than the law allows to be left unsigned, by nobody knows how much.
    if text == "below_default" {
        return (Posted::Unreadable(text.into()), Reading::Vague);
    }
    let amount = if kind.is_mass() {
        text.parse::<Kilograms>().map(Kilograms::get)
    } else {
        text.parse::<Metres>().map(Metres::get)
    };
    match amount {
        Ok(limit) if limit > 0.0 => {
            let plausible = kind.plausible().contains(&limit);
            (Posted::At(limit), if plausible { Reading::Read } else { Reading::Implausible })
        }
        _ => (Posted::Unreadable(text.into()), Reading::Unreadable),
    }
}

/// Reads all limits among an element's tags.
pub fn read(tags: &[(&str, &str)], osm: OsmRef, findings: &mut Findings) -> ReadLimits {
    let mut found = ReadLimits::default();
    if !tags.iter().any(|(key, _)| key.starts_with("max")) {
        return found;
    }
    let mut signs: Vec<(Key, Posted<f64>)> = Vec::new();
    for &(key, value) in tags {
        let read = match meaning(key) {
            Meaning::NoLimit | Meaning::NotForUs => continue,
            Meaning::Limit(read) => read,
            Meaning::Unknown => {
                let cause = format!("{key}={value}: the reader does not know whom this key binds");
                let action = "it is not applied; look at the sign and correct the map if it is a slip";
                findings.add_new(Finding::new(Code::TagUnreadable, Where::osm(osm), cause, action));
                continue;
            }
        };
        if read.conditional {
            conditional(read, key, value, &mut found.rules, osm, findings);
        } else if read.per_lane {
            for lane in value.split('|') {
                signs.push((read, tell(read.kind, key, lane, osm, findings)));
            }
        } else {
            signs.push((read, tell(read.kind, key, value, osm, findings)));
        }
    }
    for kind in Kind::ALL {
        settle(kind, &signs, &mut found, osm, findings);
    }
    found
}

/// Brings the plain signs of one kind together.
fn settle(
    kind: Kind,
    signs: &[(Key, Posted<f64>)],
    found: &mut ReadLimits,
    osm: OsmRef,
    findings: &mut Findings,
) {
    let of_kind = || signs.iter().filter(|(key, _)| key.kind == kind);
    if of_kind().next().is_none() {
        return;
    }
    // A sign for the direction counts before one for both.
    let of = |who: Who, forward: bool| -> Vec<&Posted<f64>> {
        let named = |wanted: Option<bool>| {
            let this = move |(key, _): &&(Key, Posted<f64>)| key.who == who && key.forward == wanted;
            of_kind().filter(this).map(|(_, sign)| sign).collect::<Vec<_>>()
        };
        let own = named(Some(forward));
        if own.is_empty() { named(None) } else { own }
    };
    let mut sides: [Vec<Posted<f64>>; 2] = [true, false].map(|forward| {
        let emergency = of(Who::Emergency, forward);
        let mut signs: Vec<&Posted<f64>> = of(Who::Everyone, forward);
        // Whether a fire truck counts as a goods vehicle is for the law to say: both bind.
        signs.extend(of(Who::Hgv, forward));
        // A weight posted for emergency vehicles is the one meant for us (OSM wiki, "Key:access":
        // the narrower class counts). A clearance does not grow for anyone.
        if kind.is_mass() && !emergency.is_empty() { emergency } else { [signs, emergency].concat() }
            .into_iter()
            .filter(|sign| !sign.is_none())
            .cloned()
            .collect()
    });
    if kind.is_mass() && of_kind().any(|(key, _)| key.who == Who::Emergency) {
        findings.add_new(Finding::new(
            Code::LimitForEmergency,
            Where::osm(osm),
            format!("{}:emergency counts in place of {}", kind.key(), kind.key()),
            "make sure that the sign means your vehicles",
        ));
    }
    for side in &mut sides {
        // The strictest quantity counts; an unreadable sign beside it still counts too.
        side.sort_by(|a, b| match (a, b) {
            (Posted::At(a), Posted::At(b)) => a.total_cmp(b),
            (a, b) => matches!(b, Posted::At(_)).cmp(&matches!(a, Posted::At(_))),
        });
        let readable = side.iter().filter(|sign| matches!(sign, Posted::At(_))).count();
        side.drain(1.min(readable)..readable);
        side.truncate(2);
    }
    let replaceable = found.rules.iter().any(|rule| rule.kind == kind);
    if sides[0] == sides[1] && !replaceable {
        found.both.set(kind, sides[0].first().cloned().unwrap_or_default());
    } else {
        for (side, limits) in sides.iter().zip(&mut found.directed) {
            limits.set(kind, side.first().cloned().unwrap_or_default());
        }
    }
    for (i, side) in sides.into_iter().enumerate() {
        found.rules.extend(side.into_iter().skip(1).map(|value| {
            let dirs = [i == 0, i == 1];
            LimitRule { kind, dirs, value, when: None }
        }));
    }
}

/// Reads one value and says what is odd about it.
fn tell(kind: Kind, key: &str, value: &str, osm: OsmRef, findings: &mut Findings) -> Posted<f64> {
    let text = value.trim();
    let (posted, reading) = posted(kind, text);
    let unit = if kind.is_mass() { "kg" } else { "m" };
    match (&posted, reading) {
        (Posted::At(limit), Reading::Implausible) => findings.add_new(Finding::new(
            Code::LimitImplausible,
            Where::osm(osm),
            format!("{key}={text} reads as {limit:.1} {unit}, which is hardly possible"),
            "it is applied as posted; look at the sign and correct the map",
        )),
        (Posted::Unreadable(_), _) => findings.add_new(Finding::new(
            Code::LimitUnreadable,
            Where::osm(osm),
            format!("{key}={text} cannot be read; closed to the loaded leg"),
            "look at the sign and correct the map",
        )),
        _ => {}
    }
    posted
}

fn conditional(
    read: Key,
    key: &str,
    value: &str,
    rules: &mut Vec<LimitRule>,
    osm: OsmRef,
    findings: &mut Findings,
) {
    for (value_part, condition) in clauses(value) {
        if !condition.was_read() {
            findings.add_new(Finding::new(
                Code::ConditionalIgnored,
                Where::osm(osm),
                format!("{key}={value} was not evaluated; a limit in it is applied at all times"),
                "check by hand whether it holds at the time of the incident",
            ));
        }
        let posted = tell(read.kind, key, value_part, osm, findings);
        let dirs = [read.forward != Some(false), read.forward != Some(true)];
        rules.push(LimitRule { kind: read.kind, dirs, value: posted, when: Some(condition) });
    }
}
