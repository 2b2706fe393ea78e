//! A request as it comes, and what the planner is asked by it.

use crate::coordinates;
use crate::finding::{Code, Outcome, Refusal, Where};
use crate::output::sheet::{self, Wish};
use crate::place::Place;
use crate::plan::Overrides;
use crate::units::Shown;
use crate::water::source::WaterLevel;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

/// A place, longitude first in degrees, or text as people type coordinates.
#[derive(Clone, Debug, Deserialize, Serialize, ToSchema)]
#[serde(untagged)]
pub enum At {
    LonLat([f64; 2]),
    Text(String),
}

impl At {
    fn place(&self, key: &str) -> Outcome<Place> {
        let found = match self {
            At::LonLat([lon, lat]) => Place::from_lon_lat(*lon, *lat).map_err(|e| e.to_string()),
            At::Text(text) => coordinates::place(text),
        };
        found.map_err(|cause| {
            Refusal::new(Code::InputInvalid, Where::default().named(key), cause, "correct the coordinates")
        })
    }
}

/// Water level at which fill sites are rated.
#[derive(Clone, Copy, Debug, Deserialize, Serialize, ToSchema)]
#[serde(rename_all = "lowercase")]
pub enum Water {
    Drought,
    Normal,
}

/// What to plan. Whatever is left out is as the scenario has it.
#[derive(Clone, Debug, Default, Deserialize, ToSchema)]
#[serde(deny_unknown_fields, default)]
pub struct PlanAsk {
    /// Where it burns.
    pub incident: Option<At>,
    /// The only dump site to try: the spot on the road nearest to it.
    pub dump: Option<At>,
    /// Needed flow, US gallons per minute.
    pub need_gpm: Option<f64>,
    /// The only tankers there are, by id.
    pub tankers: Option<Vec<String>>,
    /// Fill sites that are out of service, by name.
    pub without: Vec<String>,
    /// Roads that are closed, by OpenStreetMap way id.
    pub closed_ways: Vec<i64>,
    /// Month of the year, 1 to 12.
    #[schema(minimum = 1, maximum = 12)]
    pub month: Option<u8>,
    /// Local time without a zone, such as 2026-01-15T14:00.
    pub when: Option<String>,
    pub water: Option<Water>,
    /// Replications of the simulation.
    #[schema(minimum = 1, maximum = 2000)]
    pub replications: Option<u32>,
    pub seed: Option<u64>,
    /// False stops at the closed form: options with their ceilings. True if left out.
    pub simulate: Option<bool>,
}

/// One request must not hold up all others: ways closed and replications asked for at most.
const MOST_CLOSED: usize = 500;
const MOST_REPLICATIONS: u32 = 2_000;

impl PlanAsk {
    /// On top of what the server was started with.
    pub fn overrides(&self, base: &Overrides) -> Outcome<Overrides> {
        let too_much = |what: &str, cause: String, action: String| {
            Refusal::new(Code::InputInvalid, Where::default().named(what), cause, action)
        };
        if self.closed_ways.len() > MOST_CLOSED {
            let cause = format!("{} roads are closed", self.closed_ways.len());
            let action = format!("close up to {MOST_CLOSED} here, and more by an overlay in the scenario");
            return Err(too_much("closed_ways", cause, action));
        }
        if let Some(replications) = self.replications.filter(|asked| *asked > MOST_REPLICATIONS) {
            let cause = format!("{replications} replications are asked for");
            let action = format!("ask for up to {MOST_REPLICATIONS} here, and for more on the command line");
            return Err(too_much("replications", cause, action));
        }
        let place = |key: &str, at: &Option<At>| at.as_ref().map(|at| at.place(key)).transpose();
        let mut asked = base.clone();
        asked.incident = place("incident", &self.incident)?.or(base.incident);
        asked.dump = place("dump", &self.dump)?.or(base.dump);
        asked.need = self.need_gpm.or(base.need);
        if self.month.is_some() || self.when.is_some() {
            (asked.month, asked.when) = (self.month, self.when.clone());
        }
        asked.water = match self.water {
            Some(Water::Drought) => Some(WaterLevel::Drought),
            Some(Water::Normal) => Some(WaterLevel::Normal),
            None => base.water,
        };
        asked.replications = self.replications.or(base.replications);
        asked.seed = self.seed.or(base.seed);
        asked.tankers = self.tankers.clone().or(base.tankers.clone());
        asked.without = self.without.clone();
        asked.closed_ways = self.closed_ways.clone();
        asked.no_simulation = self.simulate == Some(false);
        Ok(asked)
    }
}

/// A corner pair in degrees; all or none.
#[derive(Clone, Copy, Debug, Default, Deserialize, utoipa::IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
pub struct Corners {
    pub west: Option<f64>,
    pub south: Option<f64>,
    pub east: Option<f64>,
    pub north: Option<f64>,
}

#[derive(Clone, Debug, Deserialize, utoipa::IntoParams)]
#[into_params(parameter_in = Query)]
pub struct Typed {
    /// Coordinates as typed.
    pub text: String,
}

#[derive(Clone, Copy, Debug, Deserialize, utoipa::IntoParams)]
#[into_params(parameter_in = Query)]
pub struct LonLat {
    pub lon: f64,
    pub lat: f64,
}

/// Units of the page at first.
#[derive(Clone, Copy, Debug, Default, Deserialize, ToSchema)]
#[serde(rename_all = "lowercase")]
pub enum Units {
    #[default]
    Us,
    Metric,
}

#[derive(Clone, Copy, Debug, Default, Deserialize, utoipa::IntoParams)]
#[into_params(parameter_in = Query)]
pub struct InUnits {
    #[serde(default)]
    #[param(inline)]
    pub units: Option<Units>,
}

/// Paper of the sheets.
#[derive(Clone, Copy, Debug, Default, Deserialize, ToSchema)]
#[serde(rename_all = "lowercase")]
pub enum Paper {
    #[default]
    Letter,
    A4,
}

#[derive(Clone, Copy, Debug, Default, Deserialize, utoipa::IntoParams)]
#[into_params(parameter_in = Query)]
pub struct OnPaper {
    #[serde(default)]
    #[param(inline)]
    pub units: Option<Units>,
    #[serde(default)]
    #[param(inline)]
    pub paper: Option<Paper>,
    /// Number of the option; the best if left out.
    pub option: Option<u64>,
}

impl From<Units> for Shown {
    fn from(units: Units) -> Shown {
        match units {
            Units::Us => Shown::Us,
            Units::Metric => Shown::Metric,
        }
    }
}

impl From<OnPaper> for Wish {
    fn from(asked: OnPaper) -> Wish {
        let paper = match asked.paper.unwrap_or_default() {
            Paper::Letter => sheet::Paper::Letter,
            Paper::A4 => sheet::Paper::A4,
        };
        Wish { paper, units: asked.units.unwrap_or_default().into(), option: asked.option }
    }
}
