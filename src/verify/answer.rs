//! The answer as a reader of the file finds it.

use crate::place::Place;
use serde::Deserialize;
use serde_json::Value;

/// Which leg of a loop.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Which {
    Loaded,
    Empty,
}

impl Which {
    pub fn as_str(self) -> &'static str {
        match self {
            Which::Loaded => "loaded",
            Which::Empty => "empty",
        }
    }
}

#[derive(Deserialize)]
struct Feature {
    geometry: Geometry,
    properties: Properties,
}

#[derive(Deserialize)]
struct Geometry {
    coordinates: Value,
}

#[derive(Deserialize)]
#[serde(tag = "layer", rename_all = "snake_case")]
enum Properties {
    Incident(Incident),
    FillSite(FillSite),
    DumpSite(Box<DumpSite>),
    SupplyLine(SupplyLine),
    Staging(Staging),
    Loop(Loop),
    Leg(Leg),
    RoadNote(RoadNote),
}

#[derive(Clone, Debug, Deserialize)]
pub struct RoadNote {
    pub option: u64,
    pub code: String,
    pub osm: Option<String>,
}

#[derive(Clone, Debug, Deserialize)]
pub struct Incident {
    pub needed_flow_gpm: f64,
    pub meets_need: bool,
}

#[derive(Clone, Debug, Deserialize)]
pub struct FillSite {
    pub name: String,
    pub flow_gpm: Option<f64>,
    pub volume_gal: Option<f64>,
    pub berths: u32,
    pub used: bool,
    pub reason: Option<String>,
}

#[derive(Clone, Debug, Deserialize)]
pub struct DumpSite {
    pub option: u64,
    pub fill_sites: String,
    pub tankers: usize,
    pub sustained_flow_gpm: f64,
    pub ceiling_flow_gpm: f64,
    pub needed_flow_gpm: f64,
    pub meets_need: bool,
    pub limiter_gain_gpm: f64,
    pub first_water_s: f64,
    pub sustained_from_s: f64,
    pub one_tanker_lost_flow_gpm: f64,
    pub dump_berths: u32,
    pub tank_room_gal: f64,
    pub supply_line_m: f64,
    pub supply_line_flow_gpm: f64,
    pub relay_pumpers: u32,
    pub flow_with_relay_gpm: Option<f64>,
}

#[derive(Clone, Debug, Deserialize)]
pub struct SupplyLine {
    pub option: u64,
    pub length_m: f64,
    pub hose_in: f64,
    pub lines: u32,
    pub rise_ft: Option<f64>,
    pub flow_gpm: f64,
}

#[derive(Clone, Debug, Deserialize)]
pub struct Staging {
    pub option: u64,
    pub tankers: usize,
    pub room_m: f64,
    pub before_dump_m: f64,
}

#[derive(Clone, Debug, Deserialize)]
pub struct Loop {
    pub option: u64,
    pub fill_site: String,
    pub loop_kind: String,
    pub tankers: usize,
    pub tanker_ids: String,
    pub cycle_s: f64,
    pub loaded_travel_s: f64,
    pub empty_travel_s: f64,
    pub loaded_distance_m: f64,
    pub empty_distance_m: f64,
    pub shared_two_way_m: f64,
    pub narrow_two_way_m: f64,
    pub unknown_width_two_way_m: f64,
    pub meeting_wait_s: f64,
    pub fill_berths: u32,
    pub turns_at_dump: bool,
    pub turns_at_fill: bool,
}

#[derive(Clone, Debug, Deserialize)]
pub struct Leg {
    pub option: u64,
    pub fill_site: String,
    pub leg: Which,
    pub loop_kind: String,
    pub tanker_ids: String,
    pub travel_s: f64,
    pub distance_m: f64,
    pub streets: String,
    pub ways: String,
}

/// A loop with its legs. A leg the answer lacks is none.
#[derive(Clone, Debug)]
pub struct SaidLoop {
    pub said: Loop,
    pub lines: Vec<Vec<Place>>,
    pub loaded: Option<(Leg, Vec<Place>)>,
    pub empty: Option<(Leg, Vec<Place>)>,
}

impl SaidLoop {
    pub fn leg(&self, which: Which) -> Option<&(Leg, Vec<Place>)> {
        match which {
            Which::Loaded => self.loaded.as_ref(),
            Which::Empty => self.empty.as_ref(),
        }
    }
    pub fn tankers(&self) -> Vec<&str> {
        ids(&self.said.tanker_ids)
    }
    /// How a detail names it.
    pub fn title(&self) -> String {
        format!("{} ({})", self.said.fill_site, self.said.tanker_ids)
    }
}

/// The ids of a list such as `"T1, T2"`.
fn ids(text: &str) -> Vec<&str> {
    text.split(", ").filter(|id| !id.is_empty()).collect()
}

#[derive(Clone, Debug)]
pub struct PlanOption {
    pub number: u64,
    pub said: DumpSite,
    pub dump: Place,
    pub supply: Option<(SupplyLine, Vec<Place>)>,
    pub staging: Option<(Staging, Place)>,
    pub loops: Vec<SaidLoop>,
    pub notes: Vec<RoadNote>,
}

impl PlanOption {
    /// It has a note of this code about this element.
    pub fn tells(&self, code: &str, osm: &str) -> bool {
        self.notes.iter().any(|note| note.code == code && note.osm.as_deref() == Some(osm))
    }
}

#[derive(Clone, Debug)]
pub struct Said {
    pub incident: Incident,
    pub sites: Vec<(FillSite, Place)>,
    pub options: Vec<PlanOption>,
    /// Legs and lines that belong to no option or loop.
    pub strays: Vec<String>,
}

fn place(pair: &[f64]) -> Result<Place, String> {
    match pair {
        [lon, lat] => Place::from_lon_lat(*lon, *lat).map_err(|e| e.to_string()),
        _ => Err("a position does not have two numbers".into()),
    }
}

fn point(value: &Value) -> Result<Place, String> {
    place(&Vec::<f64>::deserialize(value).map_err(|e| format!("a point: {e}"))?)
}

fn line(value: &Value) -> Result<Vec<Place>, String> {
    let pairs = Vec::<Vec<f64>>::deserialize(value).map_err(|e| format!("a line: {e}"))?;
    pairs.iter().map(|pair| place(pair)).collect()
}

fn lines(value: &Value) -> Result<Vec<Vec<Place>>, String> {
    value.as_array().ok_or("a loop's coordinates are no list")?.iter().map(line).collect()
}

/// Reads the GeoJSON and puts what belongs together together.
pub fn read(answer: &Value) -> Result<Said, String> {
    let features = answer.get("features").and_then(Value::as_array).ok_or("it has no features")?;
    let mut incident = None;
    let mut said = Said {
        incident: Incident { needed_flow_gpm: 0.0, meets_need: false },
        sites: Vec::new(),
        options: Vec::new(),
        strays: Vec::new(),
    };
    let mut rest = Vec::new();
    for (i, value) in features.iter().enumerate() {
        let at = |e: String| format!("feature {}: {e}", i + 1);
        let feature = Feature::deserialize(value).map_err(|e| at(e.to_string()))?;
        let shape = &feature.geometry.coordinates;
        match feature.properties {
            Properties::Incident(read) => {
                point(shape).map_err(at)?;
                incident = Some(read);
            }
            Properties::FillSite(site) => said.sites.push((site, point(shape).map_err(at)?)),
            Properties::DumpSite(dump) => said.options.push(PlanOption {
                number: dump.option,
                dump: point(shape).map_err(at)?,
                said: *dump,
                supply: None,
                staging: None,
                loops: Vec::new(),
                notes: Vec::new(),
            }),
            other => rest.push((i, other, shape.clone())),
        }
    }
    said.incident = incident.ok_or("it has no incident")?;
    for (i, properties, shape) in rest {
        let at = |e: String| format!("feature {}: {e}", i + 1);
        let of = |said: &mut Said, number: u64| said.options.iter().position(|o| o.number == number);
        match properties {
            Properties::SupplyLine(supply) => match of(&mut said, supply.option) {
                Some(o) => said.options[o].supply = Some((supply, line(&shape).map_err(at)?)),
                None => said.strays.push(format!("a supply line of option {}", supply.option)),
            },
            Properties::Staging(staging) => match of(&mut said, staging.option) {
                Some(o) => said.options[o].staging = Some((staging, point(&shape).map_err(at)?)),
                None => said.strays.push(format!("a staging of option {}", staging.option)),
            },
            Properties::RoadNote(note) => match of(&mut said, note.option) {
                Some(o) => said.options[o].notes.push(note),
                None => said.strays.push(format!("a note of option {}", note.option)),
            },
            Properties::Loop(found) => match of(&mut said, found.option) {
                Some(o) => said.options[o].loops.push(SaidLoop {
                    said: found,
                    lines: lines(&shape).map_err(at)?,
                    loaded: None,
                    empty: None,
                }),
                None => said.strays.push(format!("a loop of option {}", found.option)),
            },
            Properties::Leg(leg) => {
                let shape = line(&shape).map_err(at)?;
                let slot = of(&mut said, leg.option).and_then(|o| {
                    said.options[o].loops.iter_mut().find(|l| {
                        l.said.tanker_ids == leg.tanker_ids
                            && l.said.fill_site == leg.fill_site
                            && l.said.loop_kind == leg.loop_kind
                            && l.leg(leg.leg).is_none()
                    })
                });
                match slot {
                    Some(found) if leg.leg == Which::Loaded => found.loaded = Some((leg, shape)),
                    Some(found) => found.empty = Some((leg, shape)),
                    None => said.strays.push(format!(
                        "a {} leg of {} in option {}",
                        leg.leg.as_str(),
                        leg.tanker_ids,
                        leg.option
                    )),
                }
            }
            _ => {}
        }
    }
    Ok(said)
}
