//! What is known of a source's yield, and how well.

use crate::finding::{Code, Finding, Where};
use crate::units::{Gallons, GallonsPerMinute};
use serde::{Deserialize, Serialize};

/// How far a yield, or one figure behind it, can be trusted.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Basis {
    Measured,
    Computed,
    Assumed,
    Unknown,
}

impl Basis {
    pub const ALL: [Basis; 4] = [Basis::Measured, Basis::Computed, Basis::Assumed, Basis::Unknown];
    pub fn as_str(self) -> &'static str {
        match self {
            Basis::Measured => "measured",
            Basis::Computed => "computed",
            Basis::Assumed => "assumed",
            Basis::Unknown => "unknown",
        }
    }
}

/// Something to tell about a yield; becomes a finding once the site's place is known.
#[derive(Clone, Debug, PartialEq)]
pub struct Note {
    pub code: Code,
    pub cause: String,
    pub action: String,
}

impl Note {
    pub(crate) fn new(code: Code, cause: impl Into<String>, action: impl Into<String>) -> Self {
        Note { code, cause: cause.into(), action: action.into() }
    }
    pub fn finding(self, place: Where) -> Finding {
        Finding::new(self.code, place, self.cause, self.action)
    }
}

/// What a site yields. `flow` none means not rated; a flow of zero means known to give nothing.
/// `volume` none means without practical end.
#[derive(Clone, Debug, PartialEq)]
pub struct Rating {
    pub flow: Option<GallonsPerMinute>,
    pub volume: Option<Gallons>,
    pub basis: Basis,
    pub notes: Vec<Note>,
    /// Every figure behind it, and how it is known.
    pub told: Vec<(Basis, String)>,
}

impl Rating {
    pub(crate) fn of(flow: GallonsPerMinute, basis: Basis) -> Self {
        Rating { flow: Some(flow), volume: None, basis, notes: Vec::new(), told: Vec::new() }
    }
    pub(crate) fn not_rated(cause: impl Into<String>, action: impl Into<String>) -> Self {
        let note = Note::new(Code::SiteNotRated, cause, action);
        Rating { flow: None, volume: None, basis: Basis::Unknown, notes: vec![note], told: Vec::new() }
    }
    pub(crate) fn with(mut self, code: Code, cause: impl Into<String>, action: impl Into<String>) -> Self {
        self.notes.push(Note::new(code, cause, action));
        self
    }
    pub(crate) fn tell(mut self, basis: Basis, what: impl Into<String>) -> Self {
        self.told.push((basis, what.into()));
        self
    }

    /// What was measured, computed, assumed, and is unknown, in one line.
    pub fn told_text(&self) -> String {
        let of = |basis: Basis| {
            let all = self.told.iter().filter(|(b, _)| *b == basis).map(|(_, what)| what.as_str());
            let list: Vec<&str> = all.collect();
            (!list.is_empty()).then(|| format!("{}: {}", basis.as_str(), list.join(", ")))
        };
        Basis::ALL.into_iter().filter_map(of).collect::<Vec<_>>().join("; ")
    }
}
