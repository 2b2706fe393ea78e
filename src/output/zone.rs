//! A zone as RFC 7946 GeoJSON, written line by line: one feature a stretch. data/zone.schema.json
//! describes it.

use crate::output::{ATTRIBUTION, CAUTIONS, digits};
use crate::place::{Bounds, Place};
use crate::plan::Problem;
use crate::plan::ground::PlacedSite;
use crate::zone::Zone;
use crate::zone::compare::Variant;
use crate::zone::gaps::Gap;
use crate::zone::judge::{Judged, MILESTONES};
use crate::zone::propose::Proposal;
use crate::zone::record::{Piece, Record};
use crate::zone::sample::Sampled;
use crate::zone::stretches::{Lines, Stretch};
use crate::zone::summary::Summary;
use rayon::prelude::*;
use serde_json::{Value, json};
use std::collections::HashMap;
use std::fmt::Write as _;
use std::io;

/// A zone worked out.
pub struct Found<'f, 'a> {
    pub zone: &'f Zone<'a>,
    pub judged: &'f Record,
    /// Buildings by stretch, where the road file tells of any.
    pub buildings: Option<&'f [u32]>,
    pub sampled: &'f [Sampled],
    pub summary: &'f Summary,
    pub gaps: &'f [Gap],
    pub variants: &'f [Variant],
    pub proposals: &'f [Proposed],
}

impl Found<'_, '_> {
    pub fn buildings_in_gaps(&self) -> Option<u64> {
        let by_stretch = self.buildings?;
        Some(self.gaps.iter().map(|gap| gap.buildings(by_stretch)).sum())
    }
}

/// A proposal with its place.
pub struct Proposed {
    pub placed: PlacedSite,
    pub proposal: Proposal,
}

/// Stretches of a piece of text, and those made at once: the text of a large zone is never whole in memory.
const OF_A_PIECE: usize = 512;
const OF_A_TURN: usize = OF_A_PIECE * 24;
/// Gaps whose text is made at once.
const GAPS_AT_ONCE: usize = 24;
/// Places of a line whose text is made at once.
const PLACES_AT_ONCE: usize = 16_384;

/// Writes the whole, the same bytes for the same zone.
pub fn write(found: &Found, out: &mut dyn io::Write) -> io::Result<()> {
    let zone = found.zone;
    let network = &zone.ground.roads.network;
    let words = Words::of(found);
    let texts = |from: usize, pieces: &[Judged]| -> Vec<String> {
        let text = |(nth, judged): (usize, &[Judged])| {
            let mut text = String::with_capacity(judged.len() * 900);
            let (first, mut lines) = (from + nth * OF_A_PIECE, Lines::on(network));
            for (i, judged) in judged.iter().enumerate() {
                text.push_str(if first + i > 0 { ",\n" } else { "" });
                feature(&mut text, found, (first + i, judged), &mut lines, &words);
            }
            text
        };
        pieces.par_chunks(OF_A_PIECE).enumerate().map(text).collect()
    };
    let first_texts =
        |(from, judged): &Piece| texts(*from, judged.chunks(OF_A_TURN).next().unwrap_or_default());
    let mut parts = found.judged.pieces().map(|part| part.map_err(io::Error::other));
    let mut part = parts.next().transpose()?.unwrap_or_default();
    let (areas, mut ready) = rayon::join(
        // Most of the outlines' work is often one gap's.
        || found.gaps.par_iter().map(|gap| gap.area(zone)).collect::<Vec<Vec<Vec<Vec<Place>>>>>(),
        || first_texts(&part),
    );
    let of_piece = |piece: &[Stretch]| {
        let mut lines = Lines::on(network);
        Bounds::around(piece.iter().flat_map(|stretch| lines.of(stretch)))
    };
    let of_stretches: Vec<Option<Bounds>> = zone.stretches.par_chunks(OF_A_PIECE).map(of_piece).collect();
    let corners = of_stretches.iter().flatten().flat_map(|b| [b.west_south, b.east_north]);
    let in_areas = areas.iter().flatten().flatten().flatten().copied();
    let sites = found.proposals.iter().map(|proposed| proposed.placed.site.place);
    out.write_all(b"{\"type\":\"FeatureCollection\"")?;
    if let Some(bounds) = Bounds::around(corners.chain(in_areas).chain(sites)) {
        write!(out, ",\"bbox\":{}", json!(bounds.bbox()))?;
    }
    writeln!(out, ",\"tankerloop\":{},\"features\":[", about(found))?;
    let mut serves = vec![false; zone.ground.sites.len()];
    loop {
        let (from, judged) = &part;
        judged.iter().flat_map(|judged| &judged.sites).for_each(|site| serves[*site as usize] = true);
        let mut turns = judged.chunks(OF_A_TURN).zip((*from..).step_by(OF_A_TURN)).skip(1);
        while !ready.is_empty() {
            // The next is made while these are written.
            let (next, mut made) = (turns.next(), Vec::new());
            rayon::in_place_scope(|scope| {
                if let Some((judged, from)) = next {
                    let (made, texts) = (&mut made, &texts);
                    scope.spawn(move |_| *made = texts(from, judged));
                }
                ready.iter().try_for_each(|text| out.write_all(text.as_bytes()))
            })?;
            ready = made;
        }
        let Some(next) = parts.next() else { break };
        part = next?;
        ready = first_texts(&part);
    }
    for (placed, serves) in zone.ground.sites.iter().zip(serves) {
        write!(out, ",\n{}", site_feature(placed, serves))?;
    }
    for first in (0..found.gaps.len()).step_by(GAPS_AT_ONCE) {
        let last = (first + GAPS_AT_ONCE).min(found.gaps.len());
        // A great one's text is never whole in memory.
        let is_great = |i: usize| areas[i].iter().flatten().map(Vec::len).sum::<usize>() > PLACES_AT_ONCE;
        let text = |i: usize| {
            let mut text = Vec::new();
            if is_great(i) { Ok(text) } else { write_gap(&mut text, found, i, &areas[i]).map(|()| text) }
        };
        let texts: Vec<io::Result<Vec<u8>>> = (first..last).into_par_iter().map(text).collect();
        for (i, text) in (first..last).zip(texts) {
            out.write_all(&text?)?;
            if is_great(i) {
                write_gap(out, found, i, &areas[i])?;
            }
        }
    }
    for (i, proposed) in found.proposals.iter().enumerate() {
        write!(out, ",\n{}", proposal_feature(i, proposed))?;
    }
    out.write_all(b"\n]}\n")
}

/// What features have in common, written once.
struct Words {
    /// By fill site of the ground, quoted.
    sites: Vec<String>,
    /// By stretch.
    sampled: HashMap<usize, f64>,
    /// By variant: the keys of its ceiling and of its change.
    variants: Vec<[String; 2]>,
}

impl Words {
    fn of(found: &Found) -> Words {
        let quoted = |name: &str| Value::from(name).to_string();
        let key =
            |v: &Variant| ["ceiling", "change"].map(|what| format!(",\"{}_{what}_gpm\":", slug(&v.name)));
        Words {
            sites: found.zone.ground.sites.iter().map(|placed| quoted(&placed.site.name)).collect(),
            sampled: found.sampled.iter().map(|s| (s.stretch, s.sustained_gpm)).collect(),
            variants: found.variants.iter().map(key).collect(),
        }
    }

    fn site(&self, index: usize) -> &str {
        self.sites.get(index).map_or("null", String::as_str)
    }
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
        "summary": summary(found),
        "compared": found.variants.iter().map(|v| json!({ "name": v.name, "key": slug(&v.name) })).collect::<Vec<_>>(),
        "cautions": CAUTIONS,
        "attribution": ATTRIBUTION,
        "findings": found.zone.findings,
    })
}

/// With buildings, all and those in gaps.
fn summary(found: &Found) -> Value {
    let mut summary = found.summary.json();
    let all = |counts: &[u32]| counts.iter().map(|count| u64::from(*count)).sum::<u64>();
    summary["buildings"] = json!(found.buildings.map(all));
    summary["buildings_in_gaps"] = json!(found.buildings_in_gaps());
    summary
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
fn write_gap(
    out: &mut (impl io::Write + ?Sized),
    found: &Found,
    number: usize,
    area: &[Vec<Vec<Place>>],
) -> io::Result<()> {
    let gap: &Gap = &found.gaps[number];
    out.write_all(b",\n{\"type\":\"Feature\",\"geometry\":{\"type\":\"MultiPolygon\",\"coordinates\":[")?;
    let mut text = String::new();
    for (i, polygon) in area.iter().enumerate() {
        text.push_str(if i > 0 { ",[" } else { "[" });
        for (i, ring) in polygon.iter().enumerate() {
            text.push_str(if i > 0 { ",[" } else { "[" });
            for (i, part) in ring.chunks(PLACES_AT_ONCE).enumerate() {
                text.push_str(if i > 0 { "," } else { "" });
                line_text(&mut text, part);
                out.write_all(text.as_bytes())?;
                text.clear();
            }
            text.push(']');
        }
        text.push(']');
    }
    out.write_all(text.as_bytes())?;
    let properties = json!({
        "layer": "gap",
        "gap": number + 1,
        "stretches": gap.stretches.len(),
        "road_m": round1(gap.road_m),
        "buildings": found.buildings.map(|by_stretch| gap.buildings(by_stretch)),
        "least_ceiling_gpm": round1(gap.least_gpm),
        "most_ceiling_gpm": round1(gap.most_gpm),
        "missing_gpm_km": round1(gap.missing_gpm_km),
    });
    write!(out, "]}},\"properties\":{properties}}}")
}

fn line_text(text: &mut String, line: &[Place]) {
    for (i, place) in line.iter().enumerate() {
        if i > 0 {
            text.push(',');
        }
        digits::position(text, *place);
    }
}

fn proposal_feature(number: usize, proposed: &Proposed) -> Value {
    let Proposed { placed: PlacedSite { site, state }, proposal } = proposed;
    let (place, fill) = (site.place, state.as_ref().ok());
    json!({
        "type": "Feature",
        "geometry": { "type": "Point", "coordinates": [place.lon(), place.lat()] },
        "properties": {
            "layer": "proposal",
            "rank": number + 1,
            "name": site.name,
            "kind": site.kind.as_str(),
            "flow_gpm": fill.map(|f| round1(f.flow.0)),
            "volume_gal": fill.and_then(|f| f.volume).map(|volume| round1(volume.0)),
            "verified": site.verified,
            "basis": fill.map(|f| f.basis.as_str()),
            "told": fill.map(|f| f.told.as_str()),
            "note": site.note,
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
    (number, judged): (usize, &Judged),
    lines: &mut Lines,
    words: &Words,
) {
    let zone = found.zone;
    let network = &zone.ground.roads.network;
    let stretch = &zone.stretches[number];
    let way = &network.ways[network.segments[stretch.segment()].way as usize];
    let line = lines.of(stretch);
    let gpm = |text: &mut String, key: &str, value: f64| {
        text.push_str(key);
        digits::tenths(text, value);
    };
    text.push_str("{\"type\":\"Feature\",\"geometry\":{\"type\":\"LineString\",\"coordinates\":[");
    line_text(text, &line);
    if let [only] = line[..] {
        // A line has two ends.
        text.push(',');
        digits::position(text, only);
    }
    text.push_str("]},\"properties\":{\"layer\":\"stretch\",\"stretch\":");
    digits::digits(text, number as u64 + 1, 1);
    // Writing to a string does not fail.
    let _ = write!(text, ",\"way\":{},\"road\":{}", way.id, Value::from(network.name(way)));
    gpm(text, ",\"length_m\":", stretch.length(network).0);
    text.push_str(",\"buildings\":");
    match found.buildings {
        Some(by_stretch) => digits::digits(text, u64::from(by_stretch[number]), 1),
        None => text.push_str("null"),
    }
    gpm(text, ",\"ceiling_gpm\":", judged.ceiling_gpm);
    gpm(text, ",\"at_least_gpm\":", judged.at_least_gpm);
    gpm(text, ",\"one_lost_gpm\":", judged.one_lost_gpm);
    let meets = judged.ceiling_gpm >= zone.problem.need.0;
    text.push_str(if meets { ",\"ceiling_meets_need\":true" } else { ",\"ceiling_meets_need\":false" });
    let (bound_by, site) = match judged.bound_by {
        None => ("no-loop", "null"),
        Some(bound) => (bound.as_str(), bound.site().map_or("null", |site| words.site(site))),
    };
    for part in [",\"bound_by\":\"", bound_by, "\",\"bound_site\":", site, ",\"fill_sites\":["] {
        text.push_str(part);
    }
    for (i, site) in judged.sites.iter().enumerate() {
        text.push_str(if i > 0 { "," } else { "" });
        text.push_str(words.site(*site as usize));
    }
    text.push(']');
    for (key, i) in [("best", 0), ("second", 1)] {
        let site = judged.alone.get(i);
        for part in [",\"", key, "_site\":", site.map_or("null", |(site, _)| words.site(site as usize))] {
            text.push_str(part);
        }
        for part in [",\"", key, "_site_gpm\":"] {
            text.push_str(part);
        }
        match site {
            Some((_, flow)) => digits::tenths(text, flow),
            None => text.push_str("null"),
        }
    }
    if judged.bound_by.is_some() {
        gpm(text, ",\"cycle_s\":", judged.cycle_s);
        gpm(text, ",\"start_s\":", judged.start_s);
    } else {
        text.push_str(",\"cycle_s\":null,\"start_s\":null");
    }
    for (flow, count) in MILESTONES.iter().zip(judged.tankers_for) {
        text.push_str(",\"tankers_");
        digits::digits(text, flow.0 as u64, 1);
        text.push_str("_gpm\":");
        match count {
            Some(count) => digits::digits(text, u64::from(count.get()), 1),
            None => text.push_str("null"),
        }
    }
    for (variant, [ceiling, change]) in found.variants.iter().zip(&words.variants) {
        gpm(text, ceiling, variant.ceiling_gpm[number]);
        gpm(text, change, variant.ceiling_gpm[number] - judged.ceiling_gpm);
    }
    match words.sampled.get(&number) {
        Some(sustained) => gpm(text, ",\"sustained_gpm\":", *sustained),
        None => text.push_str(",\"sustained_gpm\":null"),
    }
    text.push_str("}}");
}
