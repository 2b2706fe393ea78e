//! Reads an answer, or says why the file is none.

use crate::finding::{Code, Outcome, Refusal, Where};
use crate::output::export::text::short;
use crate::output::sheet::said::*;
use crate::place::Place;
use serde::Deserialize;
use serde_json::Value;

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
    FillSite(Box<FillSite>),
    DumpSite(Box<DumpSite>),
    SupplyLine(SupplyLine),
    Staging(Staging),
    Loop(Box<Loop>),
    Leg(Box<Leg>),
    RoadNote(RoadNote),
}

/// Layers of a zone, of which no sheet is made.
const OF_A_ZONE: [&str; 3] = ["stretch", "gap", "proposal"];

fn place(value: &Value) -> Result<Place, String> {
    let [lon, lat] = <[f64; 2]>::deserialize(value).map_err(|e| format!("a position: {e}"))?;
    Place::from_lon_lat(lon, lat).map_err(|e| e.to_string())
}

fn line(value: &Value) -> Result<Vec<Place>, String> {
    value.as_array().ok_or("a line's coordinates are no list")?.iter().map(place).collect()
}

/// Takes an answer apart; `file` is its name for refusals.
pub fn read(text: &str, file: &str) -> Outcome<Said> {
    let refuse = |place: Where, cause: String| {
        let action = "give the GeoJSON that `tankerloop plan -o` of this version wrote";
        Refusal::new(Code::FileUnreadable, place, cause, action)
    };
    let whole = |cause: String| refuse(Where::file(file), cause);
    let parsed: Value = serde_json::from_str(text).map_err(|e| whole(format!("it is no JSON ({e})")))?;
    let (Some(features), Some(about)) =
        (parsed.get("features").and_then(Value::as_array), parsed.get("tankerloop"))
    else {
        return Err(whole("it is no answer: it has no features or no member \"tankerloop\"".into()));
    };
    let layer_of = |feature: &Value| feature.pointer("/properties/layer").and_then(Value::as_str).map(short);
    if let Some(layer) = features.iter().filter_map(layer_of).find(|l| OF_A_ZONE.contains(&l.as_str())) {
        return Err(whole(format!(
            "it is a zone (it has a {layer}): sheets are printed of the plan of one incident"
        )));
    }
    let about = About::deserialize(about).map_err(|e| {
        let version = about.get("version").and_then(Value::as_str).map_or("another version".into(), short);
        whole(format!(
            "what belongs to the whole cannot be used ({e}); it was written by tankerloop {version}"
        ))
    })?;
    let mut parts = Parts::default();
    for (number, feature) in (1..).zip(features) {
        let layer = layer_of(feature).unwrap_or_else(|| "no layer".into());
        parts.add(feature).map_err(|cause| refuse(Where::file(file).row(number).named(layer), cause))?;
    }
    parts.whole(about).map_err(whole)
}

#[derive(Default)]
struct Parts {
    incident: Option<(Incident, Place)>,
    sites: Vec<(FillSite, Place)>,
    dumps: Vec<(DumpSite, Place)>,
    supply: Vec<(SupplyLine, Vec<Place>)>,
    staging: Vec<(Staging, Place)>,
    loops: Vec<(String, Loop)>,
    legs: Vec<Driven>,
    notes: Vec<(RoadNote, Place)>,
}

impl Parts {
    fn add(&mut self, feature: &Value) -> Result<(), String> {
        let feature = Feature::deserialize(feature).map_err(|e| e.to_string())?;
        let shape = &feature.geometry.coordinates;
        match feature.properties {
            Properties::Incident(read) => self.incident = Some((read, place(shape)?)),
            Properties::FillSite(read) => self.sites.push((*read, place(shape)?)),
            Properties::DumpSite(read) => self.dumps.push((*read, place(shape)?)),
            Properties::SupplyLine(read) => self.supply.push((read, line(shape)?)),
            Properties::Staging(read) => self.staging.push((read, place(shape)?)),
            Properties::Loop(read) => {
                let ids: Vec<&str> = read.crew.iter().map(|member| member.id.as_str()).collect();
                self.loops.push((ids.join(", "), *read));
            }
            Properties::Leg(read) => {
                if read.steps.is_empty() {
                    return Err("the leg has no steps".into());
                }
                self.legs.push(Driven { said: *read, line: line(shape)? });
            }
            Properties::RoadNote(read) => self.notes.push((read, place(shape)?)),
        }
        Ok(())
    }

    fn whole(mut self, mut about: About) -> Result<Said, String> {
        let (incident, incident_at) = self.incident.take().ok_or("it has no incident")?;
        let mut options = Vec::new();
        for (dump, at) in std::mem::take(&mut self.dumps) {
            let number = dump.option;
            let mut rounds = Vec::new();
            for (ids, said) in taken(&mut self.loops, |(_, l)| l.option == number) {
                let mut leg = |which: Which| {
                    let of_loop = |d: &Driven| {
                        let leg = &d.said;
                        leg.option == number
                            && leg.leg == which
                            && leg.fill_site == said.fill_site
                            && leg.tanker_ids == ids
                    };
                    let found = self.legs.iter().position(of_loop).map(|at| self.legs.remove(at));
                    found.ok_or(format!("a loop of option {number} lacks a leg"))
                };
                let (loaded, empty) = (leg(Which::Loaded)?, leg(Which::Empty)?);
                rounds.push(Round { said, loaded, empty });
            }
            options.push(PlanOption {
                at,
                supply: taken(&mut self.supply, |(s, _)| s.option == number).pop(),
                staging: taken(&mut self.staging, |(s, _)| s.option == number).pop(),
                rounds,
                notes: taken(&mut self.notes, |(n, _)| n.option == number),
                rig: taken(&mut about.rigs, |rig| rig.option == number).pop(),
                dump,
            });
        }
        Ok(Said { about, incident, incident_at, sites: self.sites, options })
    }
}

/// Those that fit, in their order; the others stay.
fn taken<T>(from: &mut Vec<T>, fits: impl Fn(&T) -> bool) -> Vec<T> {
    let (these, rest) = std::mem::take(from).into_iter().partition(fits);
    *from = rest;
    these
}
