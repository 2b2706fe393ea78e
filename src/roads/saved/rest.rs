//! What of a network is not plain numbers: tags, names, rules, water and findings, through serde, so
//! that a new field of the tags is saved without anything to do here.

use super::check::damaged;
use super::{Origin, WayRow};
use crate::finding::{Code, Finding, Findings, OsmRef, Severity, Where};
use crate::place::{Bounds, Place};
use crate::roads::extract::RawWater;
use crate::roads::network::{Network, Way};
use crate::roads::tags::{NodeTags, NotARoad, RoadTags, WaterTags};
use crate::roads::turns::TurnBans;
use serde::{Deserialize, Serialize};
use std::borrow::Cow;
use std::collections::{BTreeMap, HashMap};
use std::sync::Arc as Shared;

/// A place in 10⁻⁷ degrees: longitude, latitude.
type Point = (i32, i32);

#[derive(Serialize, Deserialize)]
struct Rest<'a> {
    origin: Cow<'a, Origin>,
    #[serde(borrow)]
    file: Cow<'a, str>,
    names: Cow<'a, [Box<str>]>,
    tags: Cow<'a, [RoadTags]>,
    marks: Cow<'a, [NodeTags]>,
    bans: Cow<'a, TurnBans>,
    waters: Vec<SavedWater>,
    /// Whether buildings were read; they have a section of their own.
    buildings: bool,
    left_out: Vec<(NotARoad, u64)>,
    bounds: (Point, Point),
    node_count: u64,
    #[serde(borrow)]
    findings: Vec<SavedFinding<'a>>,
}

#[derive(Serialize, Deserialize)]
struct SavedWater {
    osm: OsmRef,
    place: Point,
    tags: WaterTags,
}

#[derive(Serialize, Deserialize)]
struct SavedFinding<'a> {
    code: &'a str,
    severity: Severity,
    file: Option<&'a str>,
    row: Option<u64>,
    osm: Option<OsmRef>,
    at: Option<Point>,
    name: Option<&'a str>,
    cause: &'a str,
    action: &'a str,
}

fn point(place: Place) -> Point {
    (place.lon_e7(), place.lat_e7())
}

fn place((lon_e7, lat_e7): Point) -> Result<Place, String> {
    let place = Place::from_e7(lon_e7, lat_e7);
    if place.on_earth() { Ok(place) } else { Err(damaged("a place is not on the earth")) }
}

impl<'a> SavedFinding<'a> {
    fn of(finding: &'a Finding) -> SavedFinding<'a> {
        let Finding { code, severity, place, cause, action } = finding;
        let Where { file, row, osm, at, name } = place;
        SavedFinding {
            code: code.as_str(),
            severity: *severity,
            file: file.as_deref(),
            row: row.map(|row| row as u64),
            osm: *osm,
            at: at.map(point),
            name: name.as_deref(),
            cause,
            action,
        }
    }

    fn back(self) -> Result<Finding, String> {
        let code = Code::ALL.iter().find(|code| code.as_str() == self.code);
        Ok(Finding {
            code: *code.ok_or_else(|| damaged("a finding has an unknown code"))?,
            severity: self.severity,
            place: Where {
                file: self.file.map(str::to_string),
                row: self.row.map(|row| row as usize),
                osm: self.osm,
                at: self.at.map(place).transpose()?,
                name: self.name.map(str::to_string),
            },
            cause: self.cause.to_string(),
            action: self.action.to_string(),
        })
    }
}

/// The rest as bytes, and for each way where its tags stand among those kept.
pub fn write(network: &Network, origin: &Origin) -> Result<(Vec<u8>, Vec<u32>), postcard::Error> {
    // A new field is to be saved too: naming them all makes the compiler ask for it.
    let Network {
        file,
        junctions: _,
        segments: _,
        ways,
        points: _,
        names,
        marks,
        bans,
        waters,
        buildings,
        left_out,
        bounds,
        node_count,
        findings,
    } = network;
    let (tags, tags_of) = distinct(ways)?;
    let rest = Rest {
        origin: Cow::Borrowed(origin),
        file: Cow::Borrowed(file),
        names: Cow::Borrowed(names),
        tags: Cow::Owned(tags),
        marks: Cow::Borrowed(marks),
        bans: Cow::Borrowed(bans),
        waters: waters
            .iter()
            .map(|water| {
                let RawWater { osm, place, tags } = water;
                SavedWater { osm: *osm, place: point(*place), tags: tags.clone() }
            })
            .collect(),
        buildings: buildings.is_some(),
        left_out: left_out.iter().map(|(reason, count)| (*reason, *count as u64)).collect(),
        bounds: (point(bounds.west_south), point(bounds.east_north)),
        node_count: *node_count as u64,
        findings: findings.iter().map(SavedFinding::of).collect(),
    };
    Ok((postcard::to_stdvec(&rest)?, tags_of))
}

/// Each set of tags once, in the order met, and for each way which is its own. Alike is what is saved
/// alike, since numbers with a fraction have no other equality that a map could use.
fn distinct(ways: &[Way]) -> Result<(Vec<RoadTags>, Vec<u32>), postcard::Error> {
    let mut known: HashMap<Vec<u8>, u32> = HashMap::new();
    let mut tags = Vec::new();
    let mut tags_of = Vec::with_capacity(ways.len());
    for way in ways {
        let next = tags.len() as u32;
        let index = *known.entry(postcard::to_stdvec(&*way.tags)?).or_insert(next);
        if index == next {
            tags.push(RoadTags::clone(&way.tags));
        }
        tags_of.push(index);
    }
    Ok((tags, tags_of))
}

/// The network without its points, segments and junctions.
pub fn read(bytes: &[u8], ways: &[WayRow]) -> Result<(Network, Origin), String> {
    let unreadable = || damaged("its last section cannot be read");
    let (rest, after) = postcard::take_from_bytes::<Rest>(bytes).map_err(|_| unreadable())?;
    if !after.is_empty() {
        return Err(unreadable());
    }
    let tags: Vec<Shared<RoadTags>> = rest.tags.iter().cloned().map(Shared::new).collect();
    let mut of_rows = Vec::with_capacity(ways.len());
    for row in ways {
        let tags = tags.get(row.tags as usize).ok_or_else(|| damaged("a way has no tags"))?;
        of_rows.push(Way { id: row.id, tags: tags.clone(), name: row.name });
    }
    let waters = rest
        .waters
        .into_iter()
        .map(|water| Ok(RawWater { osm: water.osm, place: place(water.place)?, tags: water.tags }));
    let mut findings = Findings::new();
    for finding in rest.findings {
        findings.add_new(finding.back()?);
    }
    let left_out: BTreeMap<NotARoad, usize> =
        rest.left_out.into_iter().map(|(reason, count)| (reason, count as usize)).collect();
    let network = Network {
        file: rest.file.into_owned(),
        junctions: Vec::new(),
        segments: Vec::new(),
        ways: of_rows,
        points: Vec::new(),
        names: rest.names.into_owned(),
        marks: rest.marks.into_owned(),
        bans: rest.bans.into_owned(),
        waters: waters.collect::<Result<_, String>>()?,
        buildings: rest.buildings.then(Vec::new),
        left_out,
        bounds: Bounds { west_south: place(rest.bounds.0)?, east_north: place(rest.bounds.1)? },
        node_count: rest.node_count as usize,
        findings,
    };
    Ok((network, rest.origin.into_owned()))
}
