//! The speed table: class, surface and posted limit give the speed; turns and stops cost seconds.

use crate::finding::{Code, Refusal, Where};
use crate::finding::{Outcome, read_text, toml_refusal};
use crate::roads::tags::{Class, RoadTags, Smoothness, Surface};
use crate::units::{Metres, MetresPerSecond};
use crate::vehicle::Load;
use serde::Deserialize;
use std::collections::BTreeMap;
use std::path::Path;

/// The table as it stands in data/speeds.toml, which explains each value.
pub const BUILT_IN: &str = include_str!("../../data/speeds.toml");

#[derive(Clone, Debug)]
pub struct SpeedTable {
    class: BTreeMap<Class, MetresPerSecond>,
    surface: BTreeMap<Surface, MetresPerSecond>,
    pub full_factor: f64,
    pub delay: Delays,
    narrow_below: Metres,
    narrow_classes: Vec<Class>,
}

/// Seconds on top of the driving time.
#[derive(Clone, Copy, Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Delays {
    pub turn: f64,
    pub sharp_turn: f64,
    pub signal: f64,
    pub gate: f64,
    pub turning_circle: f64,
    pub junction_turnaround: f64,
    pub backing: f64,
    pub site_turnaround: f64,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct SpeedFile {
    full_factor: f64,
    class: BTreeMap<Class, String>,
    surface: BTreeMap<Surface, String>,
    delay_s: Delays,
    narrow: NarrowFile,
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
            full_factor: raw.full_factor,
            delay: d,
            narrow_below,
            narrow_classes: raw.narrow.classes,
        })
    }

    /// Speed on a way with (`forward`) or against its node order.
    pub fn speed(&self, tags: &RoadTags, forward: bool, load: Load) -> MetresPerSecond {
        let class = self.class.get(&tags.class).copied().unwrap_or(MetresPerSecond::from_mph(10.0));
        let mut speed = class;
        if let Some(surface) = self.surface.get(&tags.surface) {
            speed = speed.min(*surface);
        }
        // `smoothness=bad` is made for robust wheels only (OSM wiki): the gravel speed is the most.
        let rough = match tags.smoothness {
            Smoothness::Bad => self.surface.get(&Surface::Gravel),
            Smoothness::VeryBad => self.surface.get(&Surface::Ground),
            _ => None,
        };
        if let Some(rough) = rough {
            speed = speed.min(*rough);
        }
        let own = match load {
            Load::Full => speed * self.full_factor,
            Load::Empty => speed,
        };
        // The posted limit binds the truck as driven, so it comes after the load factor.
        match tags.max_speed[usize::from(!forward)] {
            Some(posted) => own.min(posted),
            None => own,
        }
    }

    /// Whether two trucks can pass each other on this way.
    pub fn room(&self, tags: &RoadTags) -> Room {
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

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_built_in_table_is_complete_and_errors_name_the_line() {
        assert!(SpeedTable::built_in().is_ok());
        let slow = BUILT_IN.replace("full_factor = 0.9", "full_factor = 9");
        assert!(SpeedTable::parse(&slow, "x").unwrap_err().to_string().contains("full_factor = 9"));
        let torn = BUILT_IN.replace("turn = 4.0", "turn = four");
        assert!(SpeedTable::parse(&torn, "x.toml").unwrap_err().to_string().contains("x.toml, row"));
    }
}
