//! `--compare NAME: CHANGE, CHANGE`: another request beside the zone's own.

use crate::finding::{Code, Outcome, Refusal, Where};
use crate::plan::{Overrides, Problem};
use crate::water::source::WaterLevel;
use crate::zone::compare;
use std::path::PathBuf;

/// As written on the command line.
#[derive(Clone, Debug)]
pub struct WhatIf {
    pub name: String,
    changes: Vec<(String, String)>,
}

/// The changes that there are, as help tells them.
pub const CHANGES: &str = "month=1, when=2026-01-15T14:00, overlay=FILE.geojson, without=SITE, tankers=T1+T2, \
                           water=drought, water=normal, scenario=FILE.toml";

impl std::str::FromStr for WhatIf {
    type Err = String;
    fn from_str(text: &str) -> Result<WhatIf, String> {
        let usage = || format!("write NAME: CHANGE, CHANGE with changes such as {CHANGES}");
        let (name, changes) = text.split_once(':').ok_or_else(usage)?;
        let changes: Option<Vec<(String, String)>> = changes
            .split(',')
            .map(|change| {
                let (key, value) = change.trim().split_once('=')?;
                Some((key.trim().to_string(), value.trim().to_string()))
            })
            .collect();
        let known = ["month", "when", "overlay", "without", "tankers", "water", "scenario"];
        let changes = changes.filter(|c| c.iter().all(|(key, _)| known.contains(&key.as_str())));
        match (name.trim(), changes) {
            ("", _) | (_, None) => Err(usage()),
            (name, Some(changes)) => Ok(WhatIf { name: name.to_string(), changes }),
        }
    }
}

impl WhatIf {
    /// The request with its changes. Each change of a kind is made, in the order written.
    pub fn problem(&self, scenario: &std::path::Path, overrides: &Overrides) -> Outcome<Problem> {
        let mut scenario = scenario.to_path_buf();
        let mut overrides = overrides.clone();
        let (mut without, mut tankers, mut level) = (Vec::new(), None, None);
        let bad = |cause: String| {
            let at = Where::default().named(format!("--compare {}", self.name));
            Refusal::new(Code::InputInvalid, at, cause, format!("write changes such as {CHANGES}"))
        };
        for (key, value) in &self.changes {
            match key.as_str() {
                "month" => {
                    // A time of the scenario's own would say another month.
                    overrides.when = None;
                    let month = value.parse().map_err(|_| bad(format!("month = {value} is no month")))?;
                    overrides.month = Some(month);
                }
                "when" => (overrides.when, overrides.month) = (Some(value.clone()), None),
                "overlay" => overrides.overlay.push(PathBuf::from(value)),
                "without" => without.push(value.clone()),
                "tankers" => {
                    tankers = Some(value.split('+').map(|id| id.trim().to_string()).collect::<Vec<_>>())
                }
                "scenario" => scenario = PathBuf::from(value),
                _ => {
                    level = Some(match value.as_str() {
                        "drought" => WaterLevel::Drought,
                        "normal" => WaterLevel::Normal,
                        other => return Err(bad(format!("water = {other} is neither drought nor normal"))),
                    });
                }
            }
        }
        let mut problem = Problem::read_zone(&scenario, &overrides)?;
        compare::without_sites(&mut problem, &without)?;
        if let Some(ids) = tankers {
            compare::only_tankers(&mut problem, &ids)?;
        }
        problem.level = level.unwrap_or(problem.level);
        Ok(problem)
    }
}
