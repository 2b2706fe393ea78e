//! The scenario file as it is written.

use crate::finding::{Outcome, read_text, toml_refusal};
use crate::routing::access::Policy;
use crate::shuttle::loops::Ways;
use crate::shuttle::{Spread, Terms, Vary};
use crate::sites::fill::MappedSites;
use crate::sites::rig::RigSettings;
use crate::units::Metres;
use crate::water::demand::{FireBuilding, NeedBy};
use crate::water::source::WaterLevel;
use serde::Deserialize;
use std::path::{Path, PathBuf};

/// The scenario file as written. Every key is explained in data/scenario.schema.json.
#[derive(Clone, Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct ScenarioFile {
    pub name: Option<String>,
    pub roads: Option<PathBuf>,
    #[serde(default)]
    pub sites: Vec<PathBuf>,
    pub fleet: PathBuf,
    pub speeds: Option<PathBuf>,
    #[serde(default)]
    pub elevation: Vec<PathBuf>,
    #[serde(default)]
    pub overlay: Vec<PathBuf>,
    pub drill: Option<PathBuf>,
    pub month: Option<u8>,
    pub when: Option<String>,
    pub incident: Option<IncidentFile>,
    #[serde(default)]
    pub policy: Policy,
    #[serde(default)]
    pub mapped_sites: MappedSites,
    #[serde(default)]
    pub water_level: WaterLevel,
    #[serde(default)]
    pub shuttle: ShuttleFile,
    #[serde(default)]
    pub rig: RigSettings,
    #[serde(default)]
    pub search: SearchSettings,
}

#[derive(Clone, Debug, Default, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct IncidentFile {
    pub name: Option<String>,
    pub at: Option<[f64; 2]>,
    pub need_gpm: Option<f64>,
    pub need_by: Option<NeedBy>,
    pub building: Option<FireBuilding>,
    pub dump: Option<[f64; 2]>,
}

#[derive(Clone, Debug, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub(super) struct ShuttleFile {
    pub period_min: f64,
    pub reliability: f64,
    pub replications: u32,
    pub seed: u64,
    pub spread: SpreadFile,
}

/// `Spread` as written: a part left out keeps its default, and a key that is no part is refused.
#[derive(Clone, Debug, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub(super) struct SpreadFile {
    pub travel: Vary,
    pub handling: Vary,
    pub service: Vary,
}

impl Default for SpreadFile {
    fn default() -> Self {
        let Spread { travel, handling, service } = Spread::default();
        SpreadFile { travel, handling, service }
    }
}

impl Default for ShuttleFile {
    fn default() -> Self {
        let terms = Terms::default();
        ShuttleFile {
            period_min: terms.period.minutes(),
            reliability: terms.reliability,
            replications: terms.replications,
            seed: terms.seed,
            spread: SpreadFile::default(),
        }
    }
}

/// How far the search looks.
#[derive(Clone, Debug, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct SearchSettings {
    /// Longest single leg worth driving.
    #[serde(rename = "longest_leg_min")]
    pub longest_leg_minutes: f64,
    /// Farthest a listed site may lie from its road.
    #[serde(rename = "site_to_road_m")]
    pub site_to_road: Metres,
    /// Most places tried as dump site.
    pub dump_candidates: usize,
    /// Options shown.
    pub options: usize,
    /// Most fill sites one option works at once: each needs a crew.
    pub fill_sites_at_once: usize,
    pub loops: Ways,
    /// Fill berths worked in all, each by a crew; every berth of the sites used if not given.
    pub fill_crews: Option<u32>,
}

impl Default for SearchSettings {
    fn default() -> Self {
        SearchSettings {
            longest_leg_minutes: 20.0,
            site_to_road: Metres(300.0),
            dump_candidates: 24,
            options: 5,
            fill_sites_at_once: 2,
            loops: Ways::default(),
            fill_crews: None,
        }
    }
}

impl ScenarioFile {
    pub fn read(path: &Path) -> Outcome<ScenarioFile> {
        let text = read_text(path)?;
        toml::from_str(&text).map_err(|e| toml_refusal(&path.display().to_string(), &text, &e))
    }
}
