//! An option over time and in trouble, and what to call for: as flat properties and as lines of text.

use crate::plan::answer::{Answer, PlanOption};
use crate::plan::call::Call;
use crate::plan::in_time::{InTrouble, SourceFailed};
use crate::shuttle::{DrawKind, MILESTONES};
use crate::units::Shown;
use serde_json::{Map, Value, json};

/// One decimal: finer is noise.
fn tenth(value: f64) -> f64 {
    (value * 10.0).round() / 10.0
}

/// Further properties of a dump site.
pub fn properties(option: &PlanOption) -> Map<String, Value> {
    let told = option.simulated.as_ref().map(|found| &found.in_time);
    let mut map = Map::new();
    for flow in MILESTONES {
        let mut milestones = told.iter().flat_map(|told| &told.milestones);
        let milestone = milestones.find(|milestone| milestone.flow == flow);
        let held_from = milestone.and_then(|milestone| milestone.held_from).map(|s| tenth(s.0));
        map.insert(format!("held_{:.0}_gpm_from_s", flow.0), json!(held_from));
    }
    let full = told.and_then(|told| told.full.as_ref());
    let lost = full.map(|full| {
        let each = full.withdrawn.iter().map(|(id, flow)| format!("{id} {flow:.0}"));
        each.collect::<Vec<_>>().join("; ")
    });
    let failed = full.map(|full| {
        let each = full.sources.iter().map(|source| source_failed(source, Shown::Us));
        each.collect::<Vec<_>>().join("; ")
    });
    let fewest = full.and_then(|full| Some(full.fewest.as_ref()?.join(", ")));
    map.insert("tanker_lost_flows".into(), json!(lost));
    map.insert("source_failed_flows".into(), json!(failed));
    map.insert("tanker_lost".into(), json!(full.map(tanker_lost)));
    map.insert("source_failed".into(), json!(full.map(sources_failed)));
    map.insert("berths_enough".into(), json!(full.map(berths)));
    map.insert("fewest_tankers".into(), json!(fewest));
    map.insert("wait_lanes".into(), json!(lanes(option)));
    map
}

/// The same one by one, for those who show other units.
fn tanker_lost(full: &InTrouble) -> Vec<Value> {
    full.withdrawn.iter().map(|(id, flow)| json!({ "id": id, "flow_gpm": tenth(flow.0) })).collect()
}

fn sources_failed(full: &InTrouble) -> Vec<Value> {
    let each = full.sources.iter().map(|failed| {
        json!({
            "fill_site": failed.site,
            "rest_flow_gpm": tenth(failed.rest.0),
            "moved_flow_gpm": failed.moved.as_ref().map(|(flow, _)| tenth(flow.0)),
            "moved_to": failed.moved.as_ref().map_or(&[][..], |(_, sites)| sites),
        })
    });
    each.collect()
}

fn source_failed(failed: &SourceFailed, shown: Shown) -> String {
    let moved = match &failed.moved {
        Some((flow, sites)) => {
            format!("{} with the tankers sent to {}", shown.flow(*flow), sites.join(" + "))
        }
        None => "no other site is within reach".to_string(),
    };
    format!("{}: {} from the rest, {moved}", failed.site, shown.flow(failed.rest))
}

fn berths(full: &InTrouble) -> String {
    let fills = full.berths.iter().map(|(site, number)| format!("{site} {number}"));
    let mut told: Vec<String> = fills.collect();
    told.push(format!("dump site {}", full.dump_berths));
    told.join(", ")
}

/// Waiting at narrow road on which tankers meet; none where they do not.
fn lanes(option: &PlanOption) -> Option<String> {
    let waiting = option.shuttle.lanes.iter().zip(&option.simulated.as_ref()?.sustained.waiting.lanes);
    let told: Vec<String> = waiting
        .filter(|(_, wait)| wait.share > 0.0)
        .map(|(lane, wait)| {
            format!("{} {:.0} s a passage ({:.0} % wait)", lane.name, wait.mean.0, 100.0 * wait.share)
        })
        .collect();
    (!told.is_empty()).then(|| told.join("; "))
}

/// What to call for, as a part of the answer as a whole.
pub fn call(call: &Call) -> Value {
    let vehicle = |v: &crate::plan::call::Called| {
        let kind = if v.pumper { "pumper" } else { "tanker" };
        json!({ "id": v.id, "kind": kind, "call": v.call, "arrives_s": tenth(v.arrives.0) })
    };
    json!({
        "vehicles": call.vehicles.iter().map(vehicle).collect::<Vec<_>>(),
        "sustained_flow_gpm": call.flow.map(|f| tenth(f.0)),
        "meets_need": call.meets_need,
        "more_tankers": call.more_like.as_ref().map(|(_, number)| *number),
        "more_tankers_like": call.more_like.as_ref().map(|(id, _)| id),
        "new_source": call.nearer_source.map(|s| json!({
            "flow_gpm": s.flow.0,
            "berths": s.berths,
            "longest_leg_s": tenth(s.leg.0),
            "longest_leg_mi": tenth(s.miles),
        })),
        "held_by": call.held_by,
    })
}

/// Lines under the table.
pub fn text(answer: &Answer, shown: Shown) -> String {
    let mut text = String::new();
    for option in &answer.options {
        let Some(found) = &option.simulated else { continue };
        let held = found.in_time.milestones.iter().filter_map(|m| {
            let from = m.held_from?;
            Some(format!("{} from {}", shown.flow(m.flow), shown.duration(from)))
        });
        let held: Vec<String> = held.collect();
        let held = if held.is_empty() { "none of the steps".into() } else { held.join(", ") };
        text.push_str(&format!("option {}: holds {held}\n", option.number));
    }
    let Some(best) = answer.options.first() else { return text };
    let Some(found) = &best.simulated else { return text };
    let Some(told) = &found.in_time.full else { return text };
    text.push_str("\nif something fails in option 1:\n");
    let lost = told.withdrawn.iter().map(|(id, flow)| format!("{id} {}", shown.flow(*flow)));
    text.push_str(&format!("  one tanker withdrawn: {}\n", lost.collect::<Vec<_>>().join(", ")));
    for source in &told.sources {
        text.push_str(&format!("  source failed, {}\n", source_failed(source, shown)));
    }
    let waits = best.shuttle.fills.iter().zip(&found.sustained.waiting.fills);
    let mut waits: Vec<String> = waits.map(|(fill, wait)| format!("{} {:.0} s", fill.name, wait.0)).collect();
    waits.push(format!("dump berth {:.0} s", found.sustained.waiting.dump.0));
    waits.push(format!("full tanks {:.0} s", found.sustained.waiting.full_tanks.0));
    waits.extend(lanes(best));
    text.push_str(&format!("mean waits in option 1: {}\n", waits.join(", ")));
    text.push_str(&format!("berths enough for it in option 1: {}\n", berths(told)));
    if let Some(ids) = told.fewest.as_ref().filter(|ids| ids.len() < told.withdrawn.len()) {
        text.push_str(&format!("fewest tankers that hold the need in option 1: {}\n", ids.join(", ")));
    }
    text.push_str(&answer.call.as_ref().map_or(String::new(), |call| call_text(call, shown)));
    text
}

fn call_text(call: &Call, shown: Shown) -> String {
    let mut text = String::from("\nwhat to call for:\n");
    if let Some(flow) = call.flow {
        let who =
            call.vehicles.iter().map(|v| format!("{} ({}, {})", v.id, v.call, shown.duration(v.arrives)));
        let enough = if call.meets_need { "" } else { ", still less than the need" };
        let who = who.collect::<Vec<_>>().join(", ");
        text.push_str(&format!("  mutual aid: {who}: {}{enough}\n", shown.flow(flow)));
    } else {
        text.push_str("  mutual aid: none is listed, or all of it does not meet the need\n");
    }
    if let Some((like, number)) = &call.more_like {
        text.push_str(&format!("  or {number} more like \"{like}\"\n"));
    }
    if let Some(source) = &call.nearer_source {
        text.push_str(&format!(
            "  or a new source of {} with {} berths, no more than {} from the dump site ({:.1} mi by the \
             standard's equation)\n",
            shown.flow(source.flow),
            source.berths,
            shown.duration(source.leg),
            source.miles
        ));
    }
    if let Some(kind) = call.held_by {
        let part = match kind {
            DrawKind::SupplyLine => "the supply line",
            DrawKind::Pumper => "the pumper at the dump site",
            DrawKind::Siphons => "the siphons",
            DrawKind::Suction => "the suction",
        };
        text.push_str(&format!("  no tanker and no source helps while {part} carries less than the need\n"));
    }
    text
}
