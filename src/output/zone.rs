//! A zone as RFC 7946 GeoJSON, written line by line: one feature a stretch. data/zone.schema.json
//! describes it.

use crate::output::{ATTRIBUTION, CAUTIONS};
use crate::place::{Bounds, Place};
use crate::plan::Problem;
use crate::plan::ground::PlacedSite;
use crate::zone::Zone;
use crate::zone::compare::Variant;
use crate::zone::gaps::Gap;
use crate::zone::judge::{Judged, MILESTONES};
use crate::zone::propose::Proposal;
use crate::zone::sample::Sampled;
use crate::zone::summary::Summary;
use serde_json::{Value, json};
use std::fmt::Write;

/// A zone worked out.
pub struct Found<'f, 'a> {
    pub zone: &'f Zone<'a>,
    /// By stretch.
    pub judged: &'f [Judged],
    pub sampled: &'f [Sampled],
    pub summary: &'f Summary,
    pub gaps: &'f [Gap],
    pub variants: &'f [Variant],
    pub proposals: &'f [Proposed],
}

/// A proposal with its place.
pub struct Proposed {
    pub name: String,
    pub place: Place,
    pub proposal: Proposal,
}

/// The whole as text, the same bytes for the same zone.
pub fn write(found: &Found) -> String {
    let zone = found.zone;
    let network = &zone.ground.roads.network;
    let mut text = String::with_capacity(found.judged.len() * 700 + 4096);
    text.push_str("{\"type\":\"FeatureCollection\"");
    let sampled: std::collections::HashMap<usize, f64> =
        found.sampled.iter().map(|s| (s.stretch, s.sustained_gpm)).collect();
    let lines: Vec<Vec<Place>> = zone.stretches.iter().map(|stretch| stretch.line(network)).collect();
    let areas: Vec<Vec<Vec<Vec<Place>>>> = found.gaps.iter().map(|gap| gap.area(zone)).collect();
    let in_areas = areas.iter().flatten().flatten().flatten();
    let sites = found.proposals.iter().map(|proposed| &proposed.place);
    if let Some(bounds) = Bounds::around(lines.iter().flatten().chain(in_areas).chain(sites).copied()) {
        let _ = write!(text, ",\"bbox\":{}", json!(bounds.bbox()));
    }
    let _ = write!(text, ",\"tankerloop\":{}", about(found));
    text.push_str(",\"features\":[\n");
    let names: Vec<String> =
        zone.ground.sites.iter().map(|placed| Value::from(placed.site.name.as_str()).to_string()).collect();
    for (i, judged) in found.judged.iter().enumerate() {
        if i > 0 {
            text.push_str(",\n");
        }
        feature(&mut text, found, i, judged, &lines[i], &names, sampled.get(&i).copied());
    }
    for (i, placed) in zone.ground.sites.iter().enumerate() {
        let serves = found.judged.iter().any(|judged| judged.sites.contains(&(i as u32)));
        let _ = write!(text, ",\n{}", site_feature(placed, serves));
    }
    for (i, gap) in found.gaps.iter().enumerate() {
        text.push_str(",\n");
        gap_feature(&mut text, i, gap, &areas[i]);
    }
    for (i, proposed) in found.proposals.iter().enumerate() {
        let _ = write!(text, ",\n{}", proposal_feature(i, proposed));
    }
    text.push_str("\n]}\n");
    text
}

fn about(found: &Found) -> Value {
    let problem: &Problem = found.zone.problem;
    json!({
        "version": env!("CARGO_PKG_VERSION"),
        "scenario": problem.name,
        "needed_flow_gpm": problem.need.0,
        "period_s": problem.terms.period.0,
        "reliability": problem.terms.reliability,
        "stretches": found.judged.len(),
        "summary": found.summary.json(),
        "compared": found.variants.iter().map(|v| json!({ "name": v.name, "key": slug(&v.name) })).collect::<Vec<_>>(),
        "cautions": CAUTIONS,
        "attribution": ATTRIBUTION,
        "findings": found.zone.findings,
    })
}

/// A fill site as `plan` tells it; it is used where it has part in the ceiling of a stretch.
fn site_feature(placed: &PlacedSite, serves: bool) -> Value {
    let (site, fill) = (&placed.site, placed.state.as_ref());
    let reason = match fill {
        Err(reason) => Some(reason.as_str()),
        Ok(_) if !serves => Some("has no part in the ceiling of any stretch"),
        Ok(_) => None,
    };
    let fill = fill.ok();
    json!({
        "type": "Feature",
        "geometry": { "type": "Point", "coordinates": [site.place.lon(), site.place.lat()] },
        "properties": {
            "layer": "fill_site",
            "name": site.name,
            "kind": site.kind.as_str(),
            "flow_gpm": fill.map(|f| f.flow).or(site.flow).map(|flow| round1(flow.0)),
            "volume_gal": fill.and_then(|f| f.volume).or(site.volume).map(|volume| round1(volume.0)),
            "berths": site.berths,
            "verified": site.verified,
            "used": serves,
            "reason": reason,
            "basis": fill.map(|f| f.basis.as_str()),
            "told": fill.map(|f| f.told.as_str()),
            "note": site.note,
        },
    })
}

/// Where flow is missing, as an area along the road.
fn gap_feature(text: &mut String, number: usize, gap: &Gap, area: &[Vec<Vec<Place>>]) {
    let ring = |ring: &Vec<Place>| ring.iter().map(|p| json!([p.lon(), p.lat()])).collect::<Vec<Value>>();
    let rings = |polygon: &Vec<Vec<Place>>| polygon.iter().map(ring).collect::<Vec<_>>();
    let polygons: Vec<Vec<Vec<Value>>> = area.iter().map(rings).collect();
    let feature = json!({
        "type": "Feature",
        "geometry": { "type": "MultiPolygon", "coordinates": polygons },
        "properties": {
            "layer": "gap",
            "gap": number + 1,
            "stretches": gap.stretches.len(),
            "road_m": round1(gap.road_m),
            "least_ceiling_gpm": round1(gap.least_gpm),
            "most_ceiling_gpm": round1(gap.most_gpm),
            "missing_gpm_km": round1(gap.missing_gpm_km),
        },
    });
    let _ = write!(text, "{feature}");
}

fn proposal_feature(number: usize, proposed: &Proposed) -> Value {
    let Proposed { name, place, proposal } = proposed;
    json!({
        "type": "Feature",
        "geometry": { "type": "Point", "coordinates": [place.lon(), place.lat()] },
        "properties": {
            "layer": "proposal",
            "rank": number + 1,
            "name": name,
            "gain_gpm_km": round1(proposal.gain_gpm_km),
            "road_brought_to_need_m": round1(proposal.closed_m),
        },
    })
}

/// The key of a variant's properties: its name in small letters, digits and underscores.
pub fn slug(name: &str) -> String {
    let plain = |c: char| if c.is_ascii_alphanumeric() { c.to_ascii_lowercase() } else { '_' };
    name.chars().map(plain).collect()
}

fn round1(value: f64) -> f64 {
    (value * 10.0).round() / 10.0
}

fn feature(
    text: &mut String,
    found: &Found,
    number: usize,
    judged: &Judged,
    line: &[Place],
    names: &[String],
    sustained_gpm: Option<f64>,
) {
    let zone = found.zone;
    let network = &zone.ground.roads.network;
    let stretch = &zone.stretches[number];
    let way = &network.ways[network.segments[stretch.segment].way as usize];
    // Writing to a string does not fail.
    text.push_str("{\"type\":\"Feature\",\"geometry\":{\"type\":\"LineString\",\"coordinates\":[");
    for (i, place) in line.iter().enumerate() {
        let comma = if i > 0 { "," } else { "" };
        let _ = write!(text, "{comma}[{},{}]", place.lon(), place.lat());
    }
    if let [only] = line {
        // A line has two ends.
        let _ = write!(text, ",[{},{}]", only.lon(), only.lat());
    }
    let _ = write!(
        text,
        "]}},\"properties\":{{\"layer\":\"stretch\",\"stretch\":{},\"way\":{},\"road\":{},\"length_m\":{:.1}",
        number + 1,
        way.id,
        Value::from(network.name(way)),
        stretch.length(network).0
    );
    let meets = judged.ceiling_gpm >= zone.problem.need.0;
    let _ = write!(
        text,
        ",\"ceiling_gpm\":{:.1},\"at_least_gpm\":{:.1},\"one_lost_gpm\":{:.1},\"ceiling_meets_need\":{meets}",
        judged.ceiling_gpm, judged.at_least_gpm, judged.one_lost_gpm
    );
    let name = |site: usize| names.get(site).map_or("null", String::as_str);
    match judged.bound_by {
        None => text.push_str(",\"bound_by\":\"no-loop\",\"bound_site\":null"),
        Some(bound) => {
            let site = bound.site().map_or("null", name);
            let _ = write!(text, ",\"bound_by\":\"{}\",\"bound_site\":{site}", bound.as_str());
        }
    }
    text.push_str(",\"fill_sites\":[");
    for (i, site) in judged.sites.iter().enumerate() {
        let comma = if i > 0 { "," } else { "" };
        let _ = write!(text, "{comma}{}", name(*site as usize));
    }
    text.push(']');
    for (key, i) in [("best", 0), ("second", 1)] {
        match judged.alone.get(i) {
            Some((site, gpm)) => {
                let _ = write!(text, ",\"{key}_site\":{},\"{key}_site_gpm\":{gpm:.1}", name(*site as usize));
            }
            None => {
                let _ = write!(text, ",\"{key}_site\":null,\"{key}_site_gpm\":null");
            }
        }
    }
    if judged.bound_by.is_some() {
        let _ = write!(text, ",\"cycle_s\":{:.1},\"start_s\":{:.1}", judged.cycle_s, judged.start_s);
    } else {
        text.push_str(",\"cycle_s\":null,\"start_s\":null");
    }
    for (flow, count) in MILESTONES.iter().zip(judged.tankers_for) {
        let count = count.map_or("null".to_string(), |count| count.to_string());
        let _ = write!(text, ",\"tankers_{:.0}_gpm\":{count}", flow.0);
    }
    for variant in found.variants {
        let (key, gpm) = (slug(&variant.name), variant.ceiling_gpm[number]);
        let change = gpm - judged.ceiling_gpm;
        let _ = write!(text, ",\"{key}_ceiling_gpm\":{gpm:.1},\"{key}_change_gpm\":{change:.1}");
    }
    let sustained = sustained_gpm.map_or("null".to_string(), |gpm| format!("{gpm:.1}"));
    let _ = write!(text, ",\"sustained_gpm\":{sustained}}}}}");
}
