//! What the sheets are made of: the answer as `plan -o` wrote it, each part with its place. Shapes and units are
//! those of data/answer.schema.json; `read` takes them out of the file.

use crate::place::Place;
use serde::Deserialize;

#[derive(Deserialize)]
pub struct Incident {
    pub name: String,
}

#[derive(Deserialize)]
pub struct FillSite {
    pub name: String,
    pub kind: String,
    pub flow_gpm: Option<f64>,
    pub volume_gal: Option<f64>,
    pub verified: bool,
    pub told: Option<String>,
    pub shares: Option<String>,
    pub lasts_s: Option<f64>,
    pub note: String,
}

#[derive(Deserialize)]
pub struct DumpSite {
    pub option: u64,
    pub road: String,
    pub sustained_flow_gpm: Option<f64>,
    pub ceiling_flow_gpm: f64,
    pub meets_need: bool,
    pub limiter: Option<String>,
    pub limiter_gain_gpm: Option<f64>,
    pub first_water_s: Option<f64>,
    pub sustained_from_s: Option<f64>,
    pub one_tanker_lost_flow_gpm: Option<f64>,
    pub dump_berths: u32,
    pub tank_room_gal: f64,
    pub supply_line_m: f64,
    pub supply_line_flow_gpm: f64,
    pub relay_pumpers: u32,
    pub flow_with_relay_gpm: Option<f64>,
    pub tank_row_length_m: f64,
    pub straight_road_m: f64,
    pub road_width_m: Option<f64>,
    pub space: String,
    pub trade_off: Option<String>,
    pub trade_off_metric: Option<String>,
    pub wait_dump_s: Option<f64>,
    pub wait_full_tanks_s: Option<f64>,
    pub replications: Option<u64>,
    pub seed: Option<u64>,
    pub held_250_gpm_from_s: Option<f64>,
    pub held_500_gpm_from_s: Option<f64>,
    pub held_750_gpm_from_s: Option<f64>,
    pub held_1000_gpm_from_s: Option<f64>,
    pub tanker_lost: Option<Vec<TankerLost>>,
    pub source_failed: Option<Vec<SourceFailed>>,
    pub fewest_tankers: Option<String>,
    pub wait_lanes: Option<String>,
}

#[derive(Deserialize)]
pub struct TankerLost {
    pub id: String,
    pub flow_gpm: f64,
}

#[derive(Deserialize)]
pub struct SourceFailed {
    pub fill_site: String,
    pub rest_flow_gpm: f64,
    pub moved_flow_gpm: Option<f64>,
    pub moved_to: Vec<String>,
}

impl DumpSite {
    /// What is known of its flow: sustained, or the ceiling where nothing was simulated.
    pub fn flow_gpm(&self) -> f64 {
        self.sustained_flow_gpm.unwrap_or(self.ceiling_flow_gpm)
    }
}

#[derive(Deserialize)]
pub struct SupplyLine {
    pub(super) option: u64,
    pub hose_in: f64,
    pub lines: u32,
    pub rise_ft: Option<f64>,
}

#[derive(Deserialize)]
pub struct Staging {
    pub(super) option: u64,
    pub road: String,
    pub tankers: u64,
    pub before_dump_m: f64,
}

#[derive(Deserialize)]
pub struct Loop {
    pub(super) option: u64,
    pub fill_site: String,
    pub crew: Vec<Member>,
    pub cycle_s: f64,
    pub unknown_width_two_way_m: f64,
    pub fill_berths: Option<u32>,
    pub wait_fill_s: Option<f64>,
    pub dump_approach: String,
    pub fill_approach: String,
}

#[derive(Deserialize)]
pub struct Member {
    pub id: String,
    pub first_load_s: f64,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Which {
    Loaded,
    Empty,
}

#[derive(Deserialize)]
pub struct Leg {
    pub(super) option: u64,
    pub(super) fill_site: String,
    pub(super) tanker_ids: String,
    pub leg: Which,
    pub travel_s: f64,
    pub distance_m: f64,
    pub steps: Vec<Step>,
    pub posted: Vec<Posted>,
    pub narrow: Vec<Narrow>,
}

#[derive(Deserialize)]
pub struct Step {
    pub action: String,
    pub instruction: String,
    pub street: String,
    pub heading: String,
    pub bearing_deg: u16,
    pub distance_m: f64,
}

#[derive(Deserialize)]
pub struct Posted {
    pub limit: String,
    pub mass_kg: Option<f64>,
    pub size_m: Option<f64>,
    pub unreadable: Option<String>,
    pub at_times: bool,
    pub known: bool,
    pub road: String,
    pub along_m: f64,
}

#[derive(Deserialize)]
pub struct Narrow {
    pub road: String,
    pub along_m: f64,
    pub length_m: f64,
    pub width_m: Option<f64>,
    pub both_ways: bool,
}

#[derive(Deserialize)]
pub struct RoadNote {
    pub(super) option: u64,
    pub code: String,
    pub severity: String,
    pub road: Option<String>,
    pub cause: String,
    pub action: String,
}

#[derive(Deserialize)]
pub struct Tanker {
    pub id: String,
    pub tank_gal: f64,
    pub usable_gal: f64,
    pub mass_full_kg: f64,
    pub mass_empty_kg: f64,
    pub rated_mass_kg: f64,
    pub axle_load_full_kg: f64,
    pub axle_load_empty_kg: f64,
    pub bogie_load_full_kg: Option<f64>,
    pub bogie_load_empty_kg: Option<f64>,
    pub height_m: f64,
    pub width_m: f64,
    pub length_m: f64,
}

#[derive(Deserialize)]
pub struct Rig {
    pub(super) option: u64,
    pub us: RigTold,
    pub metric: RigTold,
}

#[derive(Deserialize)]
pub struct RigTold {
    pub head: String,
    pub drawing: String,
    pub legend: String,
    pub tanks: String,
    pub stages: Vec<RigStage>,
    pub valves: Vec<Vec<String>>,
    pub valve_notes: Vec<String>,
    pub notes: Vec<String>,
}

#[derive(Deserialize)]
pub struct RigStage {
    pub action: String,
    pub gives: String,
}

#[derive(Deserialize)]
pub struct Call {
    pub vehicles: Vec<Called>,
    pub sustained_flow_gpm: Option<f64>,
    pub meets_need: bool,
    pub more_tankers: Option<u64>,
    pub more_tankers_like: Option<String>,
    pub new_source: Option<NewSource>,
    pub held_by: Option<String>,
}

#[derive(Deserialize)]
pub struct Called {
    pub id: String,
    pub kind: String,
    pub call: String,
    pub arrives_s: f64,
}

#[derive(Deserialize)]
pub struct NewSource {
    pub flow_gpm: f64,
    pub berths: u64,
    pub longest_leg_s: f64,
}

#[derive(Deserialize)]
pub struct Finding {
    pub code: String,
    pub severity: String,
    #[serde(rename = "where")]
    pub place: Found,
    pub cause: String,
    pub action: String,
}

#[derive(Deserialize)]
pub struct Found {
    pub file: Option<String>,
    pub row: Option<u64>,
    /// Longitude first, in degrees.
    pub at: Option<[f64; 2]>,
    pub name: Option<String>,
}

#[derive(Deserialize)]
pub struct Method {
    pub name: String,
    pub used: bool,
    pub assumed: Vec<String>,
}

/// What belongs to the whole.
#[derive(Deserialize)]
pub struct About {
    pub version: String,
    pub scenario: String,
    pub needed_flow_gpm: f64,
    pub needed_flow_by: String,
    pub needed_flow_methods: Vec<Method>,
    pub reliability: f64,
    pub period_s: f64,
    pub cautions: Vec<String>,
    pub attribution: String,
    pub tankers: Vec<Tanker>,
    pub(super) rigs: Vec<Rig>,
    pub rig_cautions: Vec<String>,
    pub call: Option<Call>,
    pub findings: Vec<Finding>,
}

/// A leg with the line it drives.
pub struct Driven {
    pub said: Leg,
    pub line: Vec<Place>,
}

/// A loop with its legs.
pub struct Round {
    pub said: Loop,
    pub loaded: Driven,
    pub empty: Driven,
}

/// One option, whole.
pub struct PlanOption {
    pub dump: DumpSite,
    pub at: Place,
    pub supply: Option<(SupplyLine, Vec<Place>)>,
    pub staging: Option<(Staging, Place)>,
    pub rounds: Vec<Round>,
    pub notes: Vec<(RoadNote, Place)>,
    pub rig: Option<Rig>,
}

pub struct Said {
    pub about: About,
    pub incident: Incident,
    pub incident_at: Place,
    pub sites: Vec<(FillSite, Place)>,
    pub options: Vec<PlanOption>,
}
