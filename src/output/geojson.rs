//! RFC 7946 GeoJSON: WGS 84, longitude first, seven decimals, `bbox`. Flat properties with the unit
//! in the name, one feature kind per `layer`; data/answer.schema.json describes them all.

use crate::finding::Finding;
use crate::output::{ATTRIBUTION, CAUTIONS, in_time, need, rig, steps};
use crate::place::{Bounds, Place};
use crate::plan::answer::{Answer, PlanOption, SiteReport};
use crate::plan::circulation::PlanLoop;
use crate::plan::staging::Staging;
use crate::roads::limits::Posted;
use crate::routing::bridge::Weight;
use crate::routing::directions::Step;
use crate::routing::path::Leg;
use crate::routing::posted::{Narrow, Sign};
use crate::units::{Kilograms, Metres, Shown};
use crate::vehicle::{Chassis, Load, Tanker};
use geojson::{Feature, FeatureCollection, GeometryValue, JsonObject};
use serde_json::{Value, json};

/// The whole answer as text, the same bytes for the same answer.
pub fn write(answer: &Answer) -> String {
    let mut text = collection(answer).to_string();
    text.push('\n');
    text
}

fn collection(answer: &Answer) -> FeatureCollection {
    let mut features = vec![incident(answer)];
    features.extend(answer.sites.iter().map(fill_site));
    for option in &answer.options {
        features.push(dump_site(option));
        features.push(supply_line(option));
        features.extend(option.facts.staging.as_ref().map(|s| staging(option, s)));
        for found in &option.loops {
            features.push(loop_(option, found));
            features.push(leg(option, found, "loaded", &found.loaded));
            features.push(leg(option, found, "empty", &found.empty));
        }
        features.extend(option.findings.iter().filter_map(|f| road_note(option, f)));
    }
    FeatureCollection {
        bbox: bounds(answer).map(|b| b.bbox().to_vec()),
        features,
        foreign_members: Some(about(answer)),
    }
}

/// All that the answer has on the map.
pub(super) fn bounds(answer: &Answer) -> Option<Bounds> {
    let mut all = vec![answer.incident];
    all.extend(answer.sites.iter().map(|s| s.place));
    for option in &answer.options {
        all.push(option.dump);
        all.extend(&option.lay.line);
        for found in &option.loops {
            all.extend(found.loaded.line.iter().chain(&found.empty.line));
        }
        all.extend(option.findings.iter().filter_map(|f| f.place.at));
    }
    Bounds::around(all)
}

/// A foreign member (RFC 7946, section 6.1): what belongs to the answer as a whole.
fn about(answer: &Answer) -> JsonObject {
    let found = &answer.need_found;
    object(json!({
        "tankerloop": {
            "version": env!("CARGO_PKG_VERSION"),
            "scenario": answer.name,
            "simulated": answer.simulated,
            "meets_need": answer.meets_need(),
            "needed_flow_gpm": answer.need.0,
            "needed_flow_by": found.by.key(),
            "needed_flow_methods": need::methods(&found.figures, Some(found.by), str::to_string),
            "reliability": answer.reliability,
            "period_s": answer.period.0,
            "cautions": CAUTIONS,
            "attribution": ATTRIBUTION,
            "tankers": answer.tankers.iter().map(tanker).collect::<Vec<_>>(),
            "rigs": answer.options.iter().filter_map(rig_of).collect::<Vec<_>>(),
            "rig_cautions": rig::CAUTIONS,
            "call": answer.call.as_ref().map(in_time::call),
            "findings": answer.findings,
        }
    }))
}

/// What a driver has to hold against the signs.
fn tanker(tanker: &Tanker) -> Value {
    let Chassis { id, call, .. } = &tanker.chassis;
    let (full, empty) = (tanker.chassis.body(Load::Full), tanker.chassis.body(Load::Empty));
    let bogie = |mass: Kilograms| (mass.0 > 0.0).then(|| tenth(mass.0));
    json!({
        "id": id,
        "call": call,
        "tank_gal": tenth(tanker.tank.0),
        "usable_gal": tenth(tanker.usable.0),
        "mass_full_kg": tenth(full.mass.0),
        "mass_empty_kg": tenth(empty.mass.0),
        "rated_mass_kg": tenth(full.rated_mass.0),
        "axle_load_full_kg": tenth(full.axle_load.0),
        "axle_load_empty_kg": tenth(empty.axle_load.0),
        "bogie_load_full_kg": bogie(full.bogie_load),
        "bogie_load_empty_kg": bogie(empty.bogie_load),
        "height_m": centimetre(full.height),
        "width_m": centimetre(full.width),
        "length_m": centimetre(full.length),
    })
}

/// Signs say centimetres.
fn centimetre(length: Metres) -> f64 {
    (length.0 * 100.0).round() / 100.0
}

/// The dump rig as `tankerloop rig` draws and tells it, in both systems of units.
fn rig_of(option: &PlanOption) -> Option<Value> {
    let (asked, found) = option.rig.as_ref()?;
    let told = |shown: Shown| rig::told(asked, found, shown);
    Some(json!({ "option": option.number, "us": told(Shown::Us), "metric": told(Shown::Metric) }))
}

fn object(value: Value) -> JsonObject {
    match value {
        Value::Object(map) => map,
        _ => JsonObject::new(),
    }
}

fn position(place: Place) -> [f64; 2] {
    [place.lon(), place.lat()]
}

fn line(places: &[Place]) -> Vec<[f64; 2]> {
    places.iter().map(|p| position(*p)).collect()
}

fn feature(geometry: GeometryValue, properties: Value) -> Feature {
    Feature {
        bbox: None,
        geometry: Some(geojson::Geometry::new(geometry)),
        id: None,
        properties: Some(object(properties)),
        foreign_members: None,
    }
}

/// One decimal: finer is noise.
fn tenth(value: f64) -> f64 {
    (value * 10.0).round() / 10.0
}

fn incident(answer: &Answer) -> Feature {
    feature(
        GeometryValue::new_point(position(answer.incident)),
        json!({
            "layer": "incident",
            "name": answer.incident_name,
            "needed_flow_gpm": answer.need.0,
            "meets_need": answer.meets_need(),
        }),
    )
}

fn fill_site(site: &SiteReport) -> Feature {
    feature(
        GeometryValue::new_point(position(site.place)),
        json!({
            "layer": "fill_site",
            "name": site.name,
            "kind": site.kind,
            "flow_gpm": site.flow.map(|f| tenth(f.0)),
            "volume_gal": site.volume.map(|v| tenth(v.0)),
            "berths": site.berths,
            "verified": site.verified,
            "used": site.used.is_ok(),
            "reason": site.used.as_ref().err(),
            "basis": site.basis.map(|b| b.as_str()),
            "told": site.told,
            "shares": site.shares,
            "lasts_s": site.lasts.map(|t| tenth(t.0)),
            "note": site.note,
        }),
    )
}

fn dump_site(option: &PlanOption) -> Feature {
    // Unlike tankers have loops of their own over one site.
    let mut sites: Vec<&str> = Vec::new();
    for site in option.loops.iter().map(|l| l.site.as_str()) {
        if !sites.contains(&site) {
            sites.push(site);
        }
    }
    let found = option.simulated.as_ref();
    let sustained = found.map(|found| &found.sustained);
    let mut site = feature(
        GeometryValue::new_point(position(option.dump)),
        json!({
            "layer": "dump_site",
            "option": option.number,
            "road": option.dump_road,
            "dump_kind": option.dump_kind.as_str(),
            "fill_sites": sites.join(", "),
            "tankers": option.shuttle.tankers.len(),
            "sustained_flow_gpm": sustained.map(|s| tenth(s.flow.0)),
            "ceiling_flow_gpm": tenth(option.ceiling.0),
            "needed_flow_gpm": option.need.0,
            "meets_need": option.meets_need,
            "limiter": found.map(|found| &found.limitation.text),
            "limiter_gain_gpm": found.map(|found| tenth(found.limitation.gain.0)),
            "first_water_s": sustained.map(|s| tenth(s.first_water.0)),
            "sustained_from_s": sustained.map(|s| tenth(s.held_from.0)),
            "one_tanker_lost_flow_gpm": found.map(|found| tenth(found.one_lost.0)),
            "dump_berths": option.shuttle.dump.berths,
            "tank_room_gal": tenth(option.shuttle.dump.tank_room.0),
            "supply_line_m": tenth(option.lay.length.0),
            "supply_line_flow_gpm": tenth(option.lay.flow.0),
            "relay_pumpers": option.facts.relay.map_or(0, |relay| relay.pumpers),
            "flow_with_relay_gpm": option.facts.relay.map(|relay| tenth(relay.flow.0)),
            "tank_row_length_m": tenth(option.facts.space.tank_row.0),
            "straight_road_m": tenth(option.facts.space.straight.0),
            "road_width_m": option.facts.space.road_width.map(|width| tenth(width.0)),
            "space": option.facts.space.verdict().as_str(),
            "drive_through": option.facts.drive_through,
            "trade_off": option.trade_off.as_ref().map(|t| t.text(Shown::Us)),
            "trade_off_metric": option.trade_off.as_ref().map(|t| t.text(Shown::Metric)),
            "unknown_weight_bridges": option.bridges.iter().filter(|b| b.weight == Weight::Unknown).count(),
            "wait_dump_s": sustained.map(|s| tenth(s.waiting.dump.0)),
            "wait_full_tanks_s": sustained.map(|s| tenth(s.waiting.full_tanks.0)),
            "replications": sustained.map(|s| s.replications),
            "seed": sustained.map(|s| s.seed),
        }),
    );
    if let Some(properties) = &mut site.properties {
        properties.extend(in_time::properties(option));
    }
    site
}

fn staging(option: &PlanOption, staging: &Staging) -> Feature {
    feature(
        GeometryValue::new_point(position(staging.place)),
        json!({
            "layer": "staging",
            "option": option.number,
            "road": staging.road,
            "tankers": staging.tankers,
            "room_m": tenth(staging.room.0),
            "before_dump_m": tenth(staging.before_dump.0),
        }),
    )
}

fn supply_line(option: &PlanOption) -> Feature {
    feature(
        GeometryValue::new_line_string(line(&option.lay.line)),
        json!({
            "layer": "supply_line",
            "option": option.number,
            "length_m": tenth(option.lay.length.0),
            "hose_in": option.lay.diameter.0,
            "lines": option.lay.lines,
            "rise_ft": option.lay.rise.map(|rise| tenth(rise.0)),
            "flow_gpm": tenth(option.lay.flow.0),
        }),
    )
}

fn loop_(option: &PlanOption, found: &PlanLoop) -> Feature {
    let fill = option.shuttle.fills.iter().position(|fill| fill.name == found.site);
    let waits = option.simulated.as_ref().map(|found| &found.sustained.waiting.fills);
    let wait_fill = fill.zip(waits).and_then(|(fill, waits)| waits.get(fill));
    feature(
        GeometryValue::new_multi_line_string([line(&found.loaded.line), line(&found.empty.line)]),
        json!({
            "layer": "loop",
            "option": option.number,
            "fill_site": found.site,
            "loop_kind": found.kind.as_str(),
            "tankers": found.tankers.len(),
            "tanker_ids": found.tankers.join(", "),
            "crew": crew(option, found),
            "cycle_s": tenth(found.cycle.0),
            "loaded_travel_s": tenth(found.loaded.travel.0),
            "empty_travel_s": tenth(found.empty.travel.0),
            "loaded_distance_m": tenth(found.loaded.distance.0),
            "empty_distance_m": tenth(found.empty.distance.0),
            "shared_two_way_m": tenth(found.shared.0),
            "narrow_two_way_m": tenth(found.narrow.0),
            "unknown_width_two_way_m": tenth(found.unknown_width.0),
            "meeting_wait_s": tenth(found.meeting_wait.0),
            "fill_berths": fill.map(|fill| option.shuttle.fills[fill].berths),
            "wait_fill_s": wait_fill.map(|wait| tenth(wait.0)),
            "turns_at_dump": found.at_dump.turns(),
            "turns_at_fill": found.at_fill.turns(),
            "at_dump": found.at_dump.turning.as_str(),
            "at_fill": found.at_fill.turning.as_str(),
            "dump_approach": found.at_dump.told,
            "fill_approach": found.at_fill.told,
        }),
    )
}

/// The loop's tankers in the order of its `tanker_ids`, and when each reaches the dump site with its first load.
fn crew(option: &PlanOption, found: &PlanLoop) -> Value {
    let member = |id: &String| {
        let tanker = option.shuttle.tankers.iter().find(|tanker| tanker.name == *id);
        json!({ "id": id, "first_load_s": tanker.map(|tanker| tenth(tanker.arrives.0)) })
    };
    found.tankers.iter().map(member).collect()
}

/// Limits on the way in the order driven, those that bind nobody with them.
fn posted(sign: &Sign) -> Value {
    let (value, unreadable) = match &sign.posted {
        Posted::At(value) => (Some(*value), None),
        Posted::Unreadable(text) => (None, Some(text)),
        Posted::None => (None, None),
    };
    json!({
        "limit": sign.kind.key(),
        "mass_kg": value.filter(|_| sign.kind.is_mass()).map(tenth),
        "size_m": value.filter(|_| !sign.kind.is_mass()).map(|size| centimetre(Metres(size))),
        "unreadable": unreadable,
        "at_times": sign.at_times,
        "known": sign.known,
        "osm": sign.osm.to_string(),
        "road": sign.road,
        "along_m": tenth(sign.along.0),
        "lon": sign.place.lon(),
        "lat": sign.place.lat(),
    })
}

fn narrow(stretch: &Narrow) -> Value {
    json!({
        "road": stretch.road,
        "along_m": tenth(stretch.along.0),
        "length_m": tenth(stretch.length.0),
        "width_m": stretch.width.map(centimetre),
        "both_ways": stretch.both_ways,
    })
}

fn leg(option: &PlanOption, found: &PlanLoop, which: &str, leg: &Leg) -> Feature {
    let (turns, meets) = match which {
        "loaded" => (&found.loaded_steps, &found.loaded_meets),
        _ => (&found.empty_steps, &found.empty_meets),
    };
    let goal = if which == "loaded" { steps::DUMP } else { &found.site };
    let bearing = |step: Option<&Step>| step.map_or(0, |s| s.bearing_deg);
    let ways: Vec<String> = leg.ways.iter().map(i64::to_string).collect();
    feature(
        GeometryValue::new_line_string(line(&leg.line)),
        json!({
            "layer": "leg",
            "option": option.number,
            "fill_site": found.site,
            "leg": which,
            "leg_order": if which == "loaded" { 1 } else { 2 },
            "loop_kind": found.kind.as_str(),
            "tanker_ids": found.tankers.join(", "),
            "travel_s": leg.travel.0,
            "distance_m": tenth(leg.distance.0),
            "streets": leg.streets.join(" → "),
            "ways": ways.join(" "),
            "start_bearing_deg": bearing(turns.first()),
            "end_bearing_deg": bearing(turns.last()),
            "directions": steps::line(turns, goal),
            "steps": steps::list(turns, goal),
            "posted": meets.signs.iter().map(posted).collect::<Vec<_>>(),
            "narrow": meets.narrow.iter().map(narrow).collect::<Vec<_>>(),
        }),
    )
}

fn road_note(option: &PlanOption, finding: &Finding) -> Option<Feature> {
    let at = finding.place.at?;
    Some(feature(
        GeometryValue::new_point(position(at)),
        json!({
            "layer": "road_note",
            "option": option.number,
            "code": finding.code.as_str(),
            "severity": finding.severity,
            "osm": finding.place.osm.map(|o| o.to_string()),
            "road": finding.place.name,
            "cause": finding.cause,
            "action": finding.action,
        }),
    ))
}
