//! What people know of a road beside the map. An overlay lays it on a network that was read; an
//! extract never holds it, and it is never saved.

use crate::units::{Kilograms, MetresPerSecond};
use std::fmt;

/// What somebody says, and where it is written.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Said {
    pub text: Box<str>,
    /// File and feature.
    pub origin: Box<str>,
}

impl fmt::Display for Said {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{} ({})", self.text, self.origin)
    }
}

/// What is known of one stretch of road.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Local {
    /// Closed, with and against the node order.
    pub closed: [Option<Said>; 2],
    pub weight: Option<KnownWeight>,
    /// How fast it is driven, with and against the node order.
    pub speed: [Option<LocalSpeed>; 2],
}

/// A weight that somebody vouches for.
#[derive(Clone, Debug, PartialEq)]
pub struct KnownWeight {
    pub limit: Kilograms,
    pub said: Said,
    pub was: Posting,
}

/// What the map says where a weight is known.
#[derive(Clone, Debug, PartialEq)]
pub enum Posting {
    None,
    /// Higher than what is known.
    Higher(Kilograms),
    Unreadable(Box<str>),
}

#[derive(Clone, Debug, PartialEq)]
pub struct LocalSpeed {
    pub empty: MetresPerSecond,
    /// Without it a full tank takes its share of the other.
    pub full: Option<MetresPerSecond>,
    pub said: Said,
}
