//! `--compare NAME: CHANGE, CHANGE`: another request beside the zone's own.

use crate::finding::Outcome;
use crate::plan::{Overrides, Problem};
use crate::water::source::WaterLevel;
use std::path::{Path, PathBuf};
use std::str::FromStr;

/// As written on the command line.
#[derive(Clone, Debug)]
pub struct WhatIf {
    pub name: String,
    changes: Vec<Change>,
}

#[derive(Clone, Debug)]
enum Change {
    Month(u8),
    When(String),
    Overlay(PathBuf),
    Without(String),
    Tankers(Vec<String>),
    Water(WaterLevel),
    Scenario(PathBuf),
}

/// The changes that there are, as errors tell them.
const CHANGES: &str = "month=1, when=2026-01-15T14:00, overlay=FILE.geojson, without=SITE, tankers=T1+T2, \
                       water=drought, water=normal, scenario=FILE.toml";

impl FromStr for Change {
    type Err = String;
    fn from_str(text: &str) -> Result<Change, String> {
        let bad = || format!("\"{}\" is no change; write such as {CHANGES}", text.trim());
        let (key, value) = text.split_once('=').ok_or_else(bad)?;
        let value = value.trim();
        Ok(match (key.trim(), value) {
            ("month", _) => Change::Month(value.parse().map_err(|_| bad())?),
            ("when", _) => Change::When(value.to_string()),
            ("overlay", _) => Change::Overlay(value.into()),
            ("without", _) => Change::Without(value.to_string()),
            ("tankers", _) => Change::Tankers(value.split('+').map(|id| id.trim().to_string()).collect()),
            ("water", _) => Change::Water(value.parse().map_err(|_: String| bad())?),
            ("scenario", _) => Change::Scenario(value.into()),
            _ => return Err(bad()),
        })
    }
}

impl FromStr for WhatIf {
    type Err = String;
    fn from_str(text: &str) -> Result<WhatIf, String> {
        match text.split_once(':') {
            Some((name, changes)) if !name.trim().is_empty() => {
                let changes = changes.split(',').map(str::parse).collect::<Result<_, _>>()?;
                Ok(WhatIf { name: name.trim().to_string(), changes })
            }
            _ => Err(format!("write NAME: CHANGE, CHANGE with changes such as {CHANGES}")),
        }
    }
}

impl WhatIf {
    /// The request with its changes. Each change of a kind is made, in the order written.
    pub fn problem(&self, scenario: &Path, overrides: &Overrides) -> Outcome<Problem> {
        let mut scenario = scenario;
        let mut overrides = overrides.clone();
        for change in &self.changes {
            match change {
                // A time of the scenario's own would say another month.
                Change::Month(month) => (overrides.when, overrides.month) = (None, Some(*month)),
                Change::When(when) => (overrides.when, overrides.month) = (Some(when.clone()), None),
                Change::Overlay(path) => overrides.overlay.push(path.clone()),
                Change::Without(site) => overrides.without.push(site.clone()),
                Change::Tankers(ids) => overrides.tankers = Some(ids.clone()),
                Change::Water(at) => overrides.water = Some(*at),
                Change::Scenario(path) => scenario = path,
            }
        }
        Problem::read_zone(scenario, &overrides)
    }
}
