//! The properties of one feature: each taken once by name; what is left over is told.

use serde_json::{Map, Value};

/// Every property of every kind, and which kinds have it.
pub const KNOWN: &[(&str, &[&str])] = &[
    ("kind", &[]),
    ("name", &[]),
    ("note", &[]),
    ("season", &["closure", "local_speed", "opened_gate", "no_dump"]),
    ("from", &["closure", "local_speed", "opened_gate", "no_dump"]),
    ("until", &["closure", "local_speed", "opened_gate", "no_dump"]),
    ("way", &["closure", "known_weight", "local_speed"]),
    ("node", &["opened_gate"]),
    ("bridges", &["closure"]),
    ("direction", &["closure", "local_speed"]),
    ("reason", &["closure", "no_dump"]),
    ("source", &["known_weight", "local_speed", "opened_gate"]),
    ("max_weight_t", &["known_weight"]),
    ("max_weight_st", &["known_weight"]),
    ("max_weight_lb", &["known_weight"]),
    ("speed_kmh", &["local_speed"]),
    ("speed_mph", &["local_speed"]),
    ("loaded_speed_kmh", &["local_speed"]),
    ("loaded_speed_mph", &["local_speed"]),
];

pub const KINDS: [&str; 5] = ["closure", "known_weight", "local_speed", "opened_gate", "no_dump"];

/// The name among some that a misspelt one was meant to be: capitals, or one slip in three letters.
pub fn nearest<'n>(word: &str, names: impl Iterator<Item = &'n str>) -> Option<&'n str> {
    let plain = |word: &str| word.to_ascii_lowercase().replace(['-', ' '], "_");
    let word = plain(word);
    let slips = |name: &str| strsim::damerau_levenshtein(&word, name);
    names
        .map(|name| (slips(name), name))
        .filter(|(slips, name)| *slips <= (name.len() / 3).max(1).min(word.len() / 2))
        .min()
        .map(|(_, name)| name)
}

/// A property that holds a quantity: its name with the unit, the least and the most, and what turns it
/// into the unit that is stored.
pub type Unit = (&'static str, f64, f64, fn(f64) -> f64);

/// What is wrong with a property.
pub struct Wrong {
    pub cause: String,
    pub action: String,
}

fn wrong(cause: String, action: impl Into<String>) -> Wrong {
    Wrong { cause, action: action.into() }
}

pub struct Properties {
    left: Map<String, Value>,
}

impl Properties {
    /// A table that a GIS writes has every column in every row, so null is the same as nothing.
    pub fn new(mut map: Map<String, Value>) -> Properties {
        map.retain(|_, value| !value.is_null());
        Properties { left: map }
    }

    fn take<T>(
        &mut self,
        key: &str,
        read: impl Fn(&Value) -> Option<T>,
        wanted: &str,
    ) -> Result<Option<T>, Wrong> {
        let Some(value) = self.left.remove(key) else { return Ok(None) };
        read(&value)
            .map(Some)
            .ok_or_else(|| wrong(format!("{key} = {value} is not {wanted}"), format!("give {wanted}")))
    }

    /// Text, never empty.
    pub fn text(&mut self, key: &str) -> Result<Option<String>, Wrong> {
        let read = |v: &Value| v.as_str().map(str::trim).filter(|t| !t.is_empty()).map(str::to_string);
        self.take(key, read, "a text")
    }

    pub fn flag(&mut self, key: &str) -> Result<bool, Wrong> {
        Ok(self.take(key, Value::as_bool, "true or false")?.unwrap_or(false))
    }

    /// An OpenStreetMap id. Some tables know whole numbers only as 123.0.
    pub fn id(&mut self, key: &str) -> Result<Option<i64>, Wrong> {
        let whole = |v: f64| (v.fract() == 0.0 && v.abs() < 9e15).then_some(v as i64);
        self.take(
            key,
            |v| v.as_i64().or_else(|| v.as_f64().and_then(whole)),
            "an OpenStreetMap id, a whole number",
        )
    }

    pub fn number(&mut self, key: &str, least: f64, most: f64) -> Result<Option<f64>, Wrong> {
        let read = |v: &Value| v.as_f64().filter(|v| (least..=most).contains(v));
        self.take(key, read, &format!("a number from {least} to {most}"))
    }

    /// One quantity in one of several units.
    pub fn quantity(&mut self, units: &[Unit], needed: bool) -> Result<Option<f64>, Wrong> {
        let names = || units.iter().map(|(key, ..)| *key).collect::<Vec<_>>().join(" or ");
        let mut found = None;
        for (key, least, most, to) in units {
            let Some(number) = self.number(key, *least, *most)? else { continue };
            if found.is_some() {
                return Err(wrong("it is given in two units".into(), format!("give {}", names())));
            }
            found = Some(to(number));
        }
        match found {
            None if needed => Err(wrong(format!("{} is missing", names()), format!("give {}", names()))),
            found => Ok(found),
        }
    }

    /// What was not taken: an error where it is a slip or belongs to another kind, else a remark.
    pub fn rest(self, kind: &str) -> Vec<Result<String, Wrong>> {
        let mut told = Vec::new();
        for (key, value) in self.left {
            let known = KNOWN.iter().find(|(name, _)| *name == key);
            match known {
                // A column of a table that has a default in every row.
                Some(_) if value == Value::Bool(false) || value == "" => {}
                Some((_, kinds)) => told.push(Err(wrong(
                    format!("{key} is no property of {kind} but of {}", kinds.join(", ")),
                    "take it out, or correct the kind",
                ))),
                None => match nearest(&key, KNOWN.iter().map(|(name, _)| *name)) {
                    Some(name) => told.push(Err(wrong(
                        format!("there is no property \"{key}\"; the nearest is {name}"),
                        format!("write {name}, or give it quite another name"),
                    ))),
                    None => told.push(Ok(key)),
                },
            }
        }
        told
    }
}
