//! Posted limits with three states: none posted, posted, unreadable.

use crate::finding::{Code, Finding, Findings, OsmRef, Where};
use crate::units::{Kilograms, Metres, NotAQuantity};
use serde::{Deserialize, Serialize};
use std::str::FromStr;

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
}

/// The physical limits of a way or a node.
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

    /// Takes a tag if it is a limit; false if the key is none of ours.
    pub fn take(&mut self, key: &str, value: &str, osm: OsmRef, findings: &mut Findings) -> bool {
        // Plausible ranges: a sign under a tonne or under the height of a car is a slip of the pen
        // more often than a limit, but it stays a limit.
        match key {
            "maxweight" => self.weight = read(key, value, (1_000.0, 100_000.0), osm, findings),
            "maxweightrating" => self.rating = read(key, value, (1_000.0, 100_000.0), osm, findings),
            "maxaxleload" => self.axle = read(key, value, (500.0, 40_000.0), osm, findings),
            "maxbogieweight" => self.bogie = read(key, value, (500.0, 60_000.0), osm, findings),
            "maxheight" | "maxheight:physical" => {
                let limit = read(key, value, (1.5, 12.0), osm, findings);
                self.height = tighter(std::mem::take(&mut self.height), limit);
            }
            "maxwidth" | "maxwidth:physical" => {
                let limit = read(key, value, (1.2, 30.0), osm, findings);
                self.width = tighter(std::mem::take(&mut self.width), limit);
            }
            "maxlength" => self.length = read(key, value, (3.0, 60.0), osm, findings),
            _ => return false,
        }
        true
    }
}

/// The stricter of two signs for the same thing.
fn tighter<T: PartialOrd>(a: Posted<T>, b: Posted<T>) -> Posted<T> {
    match (a, b) {
        (Posted::None, other) | (other, Posted::None) => other,
        (Posted::At(x), Posted::At(y)) => Posted::At(if x <= y { x } else { y }),
        (unreadable @ Posted::Unreadable(_), _) | (_, unreadable) => unreadable,
    }
}

trait Amount {
    fn amount(&self) -> f64;
}
impl Amount for Kilograms {
    fn amount(&self) -> f64 {
        self.0
    }
}
impl Amount for Metres {
    fn amount(&self) -> f64 {
        self.0
    }
}

/// Reads one limit. Words that say "no sign" mean none posted; anything else that is not a
/// quantity is unreadable and said so.
fn read<T>(key: &str, value: &str, plausible: (f64, f64), osm: OsmRef, findings: &mut Findings) -> Posted<T>
where
    T: FromStr<Err = NotAQuantity> + Amount + std::fmt::Display,
{
    let text = value.trim();
    // OSM wiki, Key:maxheight and Key:maxweight: words for "nothing posted here".
    if matches!(text, "none" | "unsigned" | "no_sign" | "no_indications" | "default" | "no") {
        return Posted::None;
    }
    match text.parse::<T>() {
        Ok(limit) if limit.amount() > 0.0 => {
            if limit.amount() < plausible.0 || limit.amount() > plausible.1 {
                findings.add_new(Finding::new(
                    Code::LimitImplausible,
                    Where::osm(osm),
                    format!("{key}={text} reads as {limit:.0}, which is hardly possible"),
                    "it is applied as posted; look at the sign and correct the map",
                ));
            }
            Posted::At(limit)
        }
        _ => {
            findings.add_new(Finding::new(
                Code::LimitUnreadable,
                Where::osm(osm),
                format!("{key}={text} cannot be read; closed to the loaded leg"),
                "look at the sign and correct the map",
            ));
            Posted::Unreadable(text.into())
        }
    }
}
