//! What a department knows of its roads beside the map: closures, weights of unposted bridges, local
//! speeds, gates that somebody opens, places where no dump site may be. GeoJSON, described in
//! data/overlay.schema.json.
//!
//! `file` reads entries (`properties`, `geometry`, `validity` are its parts), `find` and `along` find
//! the road that an entry means, `lay` resolves them all against a network and changes it, `weight`
//! and `gate` say what may be changed. The rest of the program sees a network with other tags and
//! never an overlay.

mod along;
mod file;
mod find;
mod gate;
mod geometry;
mod lay;
mod properties;
mod validity;
mod weight;

pub use geometry::Shape;
pub use lay::Rules;
pub use validity::Validity;

use crate::finding::{Outcome, Refusal, Where};
use crate::place::Place;
use crate::roads::condition::{Moment, Truth};
use crate::roads::local::Said;
use crate::units::{Kilograms, MetresPerSecond};
use std::path::PathBuf;

/// One feature of an overlay file.
#[derive(Clone, Debug, PartialEq)]
pub struct Entry {
    pub file: String,
    /// Number of the feature in its file, from 1.
    pub number: usize,
    pub name: Option<String>,
    pub what: What,
    /// Only this way is meant.
    pub way: Option<i64>,
    /// The gate meant.
    pub node: Option<i64>,
    pub shape: Shape,
    pub validity: Validity,
}

#[derive(Clone, Debug, PartialEq)]
pub enum What {
    Closure { bridges: bool, direction: Direction, reason: String },
    KnownWeight { limit: Kilograms, source: String },
    LocalSpeed { empty: MetresPerSecond, full: Option<MetresPerSecond>, direction: Direction, source: String },
    OpenedGate { source: String },
    NoDump { reason: String },
}

/// With the node order of a way, or with a line as drawn; or against it.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Direction {
    #[default]
    Both,
    Forward,
    Backward,
}

impl Direction {
    pub fn takes(self, forward: bool) -> bool {
        match self {
            Direction::Both => true,
            Direction::Forward => forward,
            Direction::Backward => !forward,
        }
    }
}

impl What {
    pub fn kind(&self) -> &'static str {
        match self {
            What::Closure { .. } => "closure",
            What::KnownWeight { .. } => "known_weight",
            What::LocalSpeed { .. } => "local_speed",
            What::OpenedGate { .. } => "opened_gate",
            What::NoDump { .. } => "no_dump",
        }
    }
    fn text(&self) -> &str {
        match self {
            What::Closure { reason: text, .. }
            | What::NoDump { reason: text }
            | What::KnownWeight { source: text, .. }
            | What::LocalSpeed { source: text, .. }
            | What::OpenedGate { source: text } => text,
        }
    }
}

impl Entry {
    pub fn place(&self) -> Where {
        let place = Where::file(&self.file).row(self.number);
        match &self.name {
            Some(name) => place.named(name.clone()),
            None => place,
        }
    }
    /// File and number, as findings about two entries name the other.
    pub fn origin(&self) -> String {
        format!("{}, feature {}", self.file, self.number)
    }
    /// What it says for itself.
    pub fn reason(&self) -> &str {
        self.what.text()
    }
    fn said(&self) -> Said {
        Said { text: self.what.text().into(), origin: self.origin().into() }
    }
    /// Whether it holds then. What forbids holds where nobody knows; what opens does not.
    pub fn holds(&self, moment: &Moment) -> bool {
        match self.validity.holds(moment) {
            Truth::Yes => true,
            Truth::No => false,
            Truth::Maybe => !matches!(self.what, What::OpenedGate { .. }),
        }
    }
}

/// The entries of one or more files.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Overlay {
    pub entries: Vec<Entry>,
}

impl Overlay {
    /// Reads files; what is wrong with any of them is told together.
    pub fn read(paths: &[PathBuf], findings: &mut crate::finding::Findings) -> Outcome<Overlay> {
        let (mut entries, mut refused) = (Vec::new(), Vec::new());
        for path in paths {
            match file::read(path, findings) {
                Ok(read) => entries.extend(read),
                Err(Refusal(errors)) => refused.extend(errors),
            }
        }
        if refused.is_empty() { Ok(Overlay { entries }) } else { Err(Refusal(refused)) }
    }

    pub fn is_empty(&self) -> bool {
        self.entries.is_empty()
    }

    /// The entry that forbids a dump site at a place.
    pub fn forbids_dump(&self, place: Place, moment: &Moment) -> Option<&Entry> {
        let forbids =
            |e: &&Entry| matches!(e.what, What::NoDump { .. }) && e.holds(moment) && e.shape.contains(place);
        self.entries.iter().find(forbids)
    }
}
