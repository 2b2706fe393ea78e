//! The speed table: class, surface, smoothness and limits give a way's speed, curves and grades what
//! is left of it; turns and stops cost seconds.

use crate::finding::{Code, Finding, OsmRef, Outcome, Refusal, Where, read_text, toml_refusal};
use crate::roads::network::Network;
use crate::roads::tags::{Class, RoadTags, Smoothness, Surface};
use crate::routing::dynamics::{Curve, CurveFile, Grade, GradeFile};
use crate::units::{Metres, MetresPerSecond};
use crate::vehicle::Load;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;
use std::path::Path;

/// The table as it stands in data/speeds.toml, which explains each value.
pub const BUILT_IN: &str = include_str!("../../data/speeds.toml");

#[derive(Clone, Debug, PartialEq)]
pub struct SpeedTable {
    class: BTreeMap<Class, MetresPerSecond>,
    surface: BTreeMap<Surface, MetresPerSecond>,
    smoothness: BTreeMap<Smoothness, MetresPerSecond>,
    /// By zone code; `None` for a zone without a limit.
    implicit: BTreeMap<String, Option<MetresPerSecond>>,
    pub full_factor: f64,
    pub delay: Delays,
    pub curve: Option<Curve>,
    pub grade: Option<Grade>,
    narrow_below: Metres,
    narrow_classes: Vec<Class>,
}

/// Seconds on top of the driving time.
#[derive(Clone, Copy, Debug, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Delays {
    pub turn: f64,
    pub sharp_turn: f64,
    pub signal: f64,
    pub gate: f64,
    pub turning_circle: f64,
    pub yard_turnaround: f64,
    pub junction_turnaround: f64,
    pub backing: f64,
    pub site_turnaround: f64,
}

/// What sets a speed.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum SetBy {
    Posted,
    /// A limit that holds without a sign.
    Zone,
    Class,
    Surface,
    Smoothness,
    /// An overlay's figure in place of the table's.
    Local,
    Curve,
    Grade,
}

impl SetBy {
    pub fn as_str(self) -> &'static str {
        match self {
            SetBy::Posted => "posted",
            SetBy::Zone => "zone",
            SetBy::Class => "class",
            SetBy::Surface => "surface",
            SetBy::Smoothness => "smoothness",
            SetBy::Local => "local",
            SetBy::Curve => "curve",
            SetBy::Grade => "grade",
        }
    }
    /// The full tank's factor works on what the road itself allows, not on signs and physics.
    pub fn takes_full_factor(self) -> bool {
        matches!(self, SetBy::Class | SetBy::Surface | SetBy::Smoothness)
    }
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct SpeedFile {
    full_factor: f64,
    class: BTreeMap<Class, String>,
    surface: BTreeMap<Surface, String>,
    #[serde(default)]
    smoothness: BTreeMap<Smoothness, String>,
    delay_s: Delays,
    narrow: NarrowFile,
    curve: Option<CurveFile>,
    grade: Option<GradeFile>,
    #[serde(default)]
    implicit: BTreeMap<String, String>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct NarrowFile {
    below: String,
    classes: Vec<Class>,
}

/// What is known of two trucks passing each other.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Room {
    Passes,
    Narrow,
    /// Neither width nor lanes mapped, and the class does not say.
    Unknown,
}

impl SpeedTable {
    pub fn read(path: &Path) -> Outcome<SpeedTable> {
        SpeedTable::parse(&read_text(path)?, &path.display().to_string())
    }

    pub fn built_in() -> Outcome<SpeedTable> {
        SpeedTable::parse(BUILT_IN, "data/speeds.toml")
    }

    pub fn parse(text: &str, file: &str) -> Outcome<SpeedTable> {
        let raw: SpeedFile = toml::from_str(text).map_err(|e| toml_refusal(file, text, &e))?;
        let bad = |cause: String| {
            Refusal::new(
                Code::InputInvalid,
                Where::file(file),
                cause,
                "data/speeds.toml holds a complete example",
            )
        };
        let speed = |key: String, text: &String| -> Outcome<MetresPerSecond> {
            match text.parse::<MetresPerSecond>() {
                Ok(v) if v.0 >= 0.1 => Ok(v),
                Ok(_) => Err(bad(format!("{key} = \"{text}\" is too slow to be a speed"))),
                Err(e) => Err(bad(format!("{key}: {e}"))),
            }
        };
        let mut class = BTreeMap::new();
        for wanted in Class::ALL {
            let text =
                raw.class.get(&wanted).ok_or_else(|| bad(format!("class.{} is missing", wanted.as_str())))?;
            class.insert(wanted, speed(format!("class.{}", wanted.as_str()), text)?);
        }
        let mut surface = BTreeMap::new();
        for (name, text) in &raw.surface {
            surface.insert(*name, speed(format!("surface.{name:?}").to_lowercase(), text)?);
        }
        let mut smoothness = BTreeMap::new();
        for (name, text) in &raw.smoothness {
            smoothness.insert(*name, speed(format!("smoothness.{name:?}").to_lowercase(), text)?);
        }
        let mut implicit = BTreeMap::new();
        for (zone, text) in raw.implicit {
            let limit = if text == "none" { None } else { Some(speed(format!("implicit.{zone}"), &text)?) };
            implicit.insert(zone, limit);
        }
        let curve = match raw.curve {
            Some(file) => file.check().map_err(bad)?,
            None => None,
        };
        let grade = match raw.grade {
            Some(file) => Some(file.check().map_err(bad)?),
            None => None,
        };
        if !(raw.full_factor > 0.0 && raw.full_factor <= 1.0) {
            return Err(bad(format!("full_factor = {} is not between 0 and 1", raw.full_factor)));
        }
        let d = raw.delay_s;
        for (key, value) in [
            ("turn", d.turn),
            ("sharp_turn", d.sharp_turn),
            ("signal", d.signal),
            ("gate", d.gate),
            ("turning_circle", d.turning_circle),
            ("yard_turnaround", d.yard_turnaround),
            ("junction_turnaround", d.junction_turnaround),
            ("backing", d.backing),
            ("site_turnaround", d.site_turnaround),
        ] {
            if !(value.is_finite() && (0.0..=3600.0).contains(&value)) {
                return Err(bad(format!("delay_s.{key} = {value} is not between 0 and 3600 seconds")));
            }
        }
        let narrow_below = raw.narrow.below.parse().map_err(|e| bad(format!("narrow.below: {e}")))?;
        Ok(SpeedTable {
            class,
            surface,
            smoothness,
            implicit,
            full_factor: raw.full_factor,
            delay: d,
            curve,
            grade,
            narrow_below,
            narrow_classes: raw.narrow.classes,
        })
    }

    /// Speed on a way with (`forward`) or against its node order, apart from curves and grades.
    pub fn speed(&self, tags: &RoadTags, forward: bool, load: Load) -> MetresPerSecond {
        self.told_speed(tags, forward, load).0
    }

    /// The same with what sets it.
    pub fn told_speed(&self, tags: &RoadTags, forward: bool, load: Load) -> (MetresPerSecond, SetBy) {
        let class = self.class.get(&tags.class).copied().unwrap_or(MetresPerSecond::from_mph(10.0));
        let mut least = (class, SetBy::Class);
        bind(&mut least, self.surface.get(&tags.surface).copied(), SetBy::Surface);
        bind(&mut least, self.smoothness.get(&tags.smoothness).copied(), SetBy::Smoothness);
        if load == Load::Full {
            least.0 = least.0 * self.full_factor;
        }
        let direction = usize::from(!forward);
        if let Some(local) = tags.local.as_ref().and_then(|local| local.speed[direction].as_ref()) {
            let full = || local.full.unwrap_or(local.empty * self.full_factor);
            least = (if load == Load::Full { full() } else { local.empty }, SetBy::Local);
        }
        // A limit binds the truck as driven, so it comes after the load factor.
        for (limit, by) in self.limits(tags, forward) {
            bind(&mut least, limit, by);
        }
        least
    }

    /// What the law allows on a way, by sign and without one.
    fn limits(&self, tags: &RoadTags, forward: bool) -> [(Option<MetresPerSecond>, SetBy); 2] {
        let direction = usize::from(!forward);
        let zone = tags.speed_zone.as_ref().and_then(|zones| zones[direction].as_deref());
        let implied = zone.and_then(|zone| self.implicit(zone).flatten());
        [(tags.max_speed[direction], SetBy::Posted), (implied, SetBy::Zone)]
    }

    /// The least of them.
    pub fn limit(&self, tags: &RoadTags, forward: bool) -> Option<MetresPerSecond> {
        let limits = self.limits(tags, forward).into_iter().filter_map(|(limit, _)| limit);
        limits.min_by(|a, b| a.0.total_cmp(&b.0))
    }

    /// The limit that holds in a zone, `Some(None)` for no limit, `None` where the zone is not known.
    pub fn implicit(&self, zone: &str) -> Option<Option<MetresPerSecond>> {
        if let Some(limit) = self.implicit.get(zone) {
            return Some(*limit);
        }
        let (country, context) = zone.split_once(':')?;
        let digits = context.trim_start_matches(|c: char| !c.is_ascii_digit());
        let number: f64 = digits.parse().ok().filter(|n| (3.0..=150.0).contains(n))?;
        Some(Some(match country {
            "GB" | "US" => MetresPerSecond::from_mph(number),
            _ => MetresPerSecond::from_kmh(number),
        }))
    }

    /// Whether two trucks can pass each other on this way.
    ///
    /// A narrow road mapped with passing places counts as wide enough: two tankers get past each other
    /// at the next of them, wherever that is. `path::findings` tells.
    pub fn room(&self, tags: &RoadTags) -> Room {
        match self.carriageway(tags) {
            Room::Narrow if tags.passing_places => Room::Passes,
            room => room,
        }
    }

    fn carriageway(&self, tags: &RoadTags) -> Room {
        if let Some(width) = tags.width {
            return if width.0 < self.narrow_below.0 { Room::Narrow } else { Room::Passes };
        }
        match tags.lanes {
            1 => Room::Narrow,
            0 if self.narrow_classes.contains(&tags.class) => Room::Narrow,
            0 if tags.class >= Class::Unclassified => Room::Unknown,
            _ => Room::Passes,
        }
    }
}

/// Zone codes that the table does not know: one finding each, at the first way that has it.
pub fn tell_unknown_zones(network: &mut Network, table: &SpeedTable) {
    let mut unknown: BTreeMap<&str, (i64, usize)> = BTreeMap::new();
    for way in &network.ways {
        let mut codes: Vec<&str> =
            way.tags.speed_zone.iter().flat_map(|zones| zones.iter().flatten()).map(|z| &**z).collect();
        codes.dedup();
        for code in codes.into_iter().filter(|code| table.implicit(code).is_none()) {
            unknown.entry(code).or_insert((way.id, 0)).1 += 1;
        }
    }
    let told: Vec<Finding> = unknown
        .into_iter()
        .map(|(code, (way, count))| {
            Finding::new(
                Code::TagUnreadable,
                Where::osm(OsmRef::Way(way)),
                format!(
                    "the speed table has no limit for the zone {code} ({count} ways); the class table decides"
                ),
                "add it under [implicit] in the speed table",
            )
        })
        .collect();
    for finding in told {
        network.findings.add_new(finding);
    }
}

fn bind(least: &mut (MetresPerSecond, SetBy), speed: Option<MetresPerSecond>, by: SetBy) {
    if let Some(speed) = speed
        && speed.0 < least.0.0
    {
        *least = (speed, by);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn zones_of_implicit_limits() {
        let table = SpeedTable::built_in().unwrap();
        let kmh = |zone: &str| table.implicit(zone).map(|limit| limit.map(|v| v.kmh().round()));
        assert_eq!(kmh("GB:nsl_single"), Some(Some(97.0))); // 60 mph
        assert_eq!(kmh("DE:motorway"), Some(None));
        assert_eq!(kmh("DE:zone30"), Some(Some(30.0)));
        assert_eq!(kmh("DE:zone:30"), Some(Some(30.0)));
        assert_eq!(kmh("GB:20"), Some(Some(32.0))); // 20 mph
        assert_eq!(kmh("XX:rural"), None);
    }

    #[test]
    fn the_built_in_table_is_complete_and_errors_name_the_line() {
        assert!(SpeedTable::built_in().is_ok());
        let slow = BUILT_IN.replace("full_factor = 0.9", "full_factor = 9");
        assert!(SpeedTable::parse(&slow, "x").unwrap_err().to_string().contains("full_factor = 9"));
        let torn = BUILT_IN.replace("turn = 4.0", "turn = four");
        assert!(SpeedTable::parse(&torn, "x.toml").unwrap_err().to_string().contains("x.toml, row"));
    }
}
