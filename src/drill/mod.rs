//! A drill's log of timed legs, fills and dumps, and what it says about the department's own times.
//!
//! `log` reads the rows and refuses what is malformed, row by row; `fit` estimates driving time against the
//! model, handling times and spreads, each with its count and its interval, and says what it cannot fit;
//! `file` is the file that `plan` takes.

pub mod file;
pub mod fit;
pub mod log;

use serde::{Deserialize, Serialize};

/// An estimate from a drill.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Estimate {
    pub value: f64,
    /// 95 % interval: of a hundred such drills about five would state one that misses the truth.
    pub low: f64,
    pub high: f64,
    /// Rows it rests on.
    pub rows: usize,
}

/// What the driving times were compared with.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Basis {
    /// Times by tankerloop for the same legs: the factor is what `plan` needs.
    Modelled,
    /// The standard's travel-time equation for the distance: near it at best.
    Standard,
}

/// What a drill says. What it could not say is none.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Fitted {
    /// Mean driving time over the modelled one, tank full.
    pub loaded_factor: Option<Estimate>,
    /// The same, tank empty.
    pub empty_factor: Option<Estimate>,
    pub basis: Option<Basis>,
    /// Mean time of approach, connecting and leaving at a fill site, seconds.
    pub fill_handling: Option<Estimate>,
    /// The same at the dump site.
    pub dump_handling: Option<Estimate>,
    /// Standard deviation over mean, of driving, handling and the water's own time.
    pub travel_cv: Option<Estimate>,
    pub handling_cv: Option<Estimate>,
    pub service_cv: Option<Estimate>,
}

impl Fitted {
    /// Every estimate under the name people know it by, with its unit.
    pub fn named(&self) -> [(&'static str, Option<Estimate>, &'static str); 7] {
        [
            ("driving time, tank full, over the model", self.loaded_factor, "times"),
            ("driving time, tank empty, over the model", self.empty_factor, "times"),
            ("handling at a fill site", self.fill_handling, "s"),
            ("handling at the dump site", self.dump_handling, "s"),
            ("spread of driving (cv)", self.travel_cv, ""),
            ("spread of handling (cv)", self.handling_cv, ""),
            ("spread of filling and unloading (cv)", self.service_cv, ""),
        ]
    }

    pub fn is_empty(&self) -> bool {
        self.named().iter().all(|(_, estimate, _)| estimate.is_none())
    }
}
