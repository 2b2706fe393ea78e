//! Reads an overlay file into entries. What cannot be used is refused by file and feature.

use super::properties::{KINDS, Properties, Unit, Wrong, nearest};
use super::{Direction, Entry, Shape, Validity, What};
use crate::finding::{Code, Finding, Findings, Outcome, Refusal, Where, read_text};
use crate::units::{Kilograms, MetresPerSecond, POUNDS_PER_SHORT_TON};
use serde_json::Value;
use std::path::Path;

pub fn read(path: &Path, findings: &mut Findings) -> Outcome<Vec<Entry>> {
    let file = path.display().to_string();
    let text = read_text(path)?;
    let refuse =
        |cause: String, action: &str| Refusal::new(Code::FileUnreadable, Where::file(&file), cause, action);
    let whole: Value = serde_json::from_str(&text)
        .map_err(|e| refuse(format!("this is not GeoJSON ({e})"), "export the overlay as GeoJSON"))?;
    let features = match (whole.get("type").and_then(Value::as_str), whole.get("features")) {
        (Some("FeatureCollection"), Some(Value::Array(features))) => features,
        _ => return Err(refuse("an overlay is a FeatureCollection".into(), "export it as one")),
    };
    let mut errors = Vec::new();
    let mut entries = Vec::new();
    for (i, feature) in features.iter().enumerate() {
        let origin = || Where::file(&file).row(i + 1);
        let bad = |w: Wrong| Finding::new(Code::InputInvalid, origin(), w.cause, w.action);
        match entry(feature) {
            Ok((entry, rest)) => {
                for told in rest {
                    match told {
                        Err(wrong) => errors.push(bad(wrong)),
                        Ok(key) => findings.add(Finding::new(
                            Code::ColumnIgnored,
                            Where::file(&file),
                            format!("\"{key}\" is not a property this reader knows"),
                            "nothing to do if it is a column of your own",
                        )),
                    }
                }
                entries.push(Entry { file: file.clone(), number: i + 1, ..entry });
            }
            Err(wrong) => errors.push(bad(wrong)),
        }
    }
    if errors.is_empty() { Ok(entries) } else { Err(Refusal(errors)) }
}

fn wrong(cause: impl Into<String>, action: impl Into<String>) -> Wrong {
    Wrong { cause: cause.into(), action: action.into() }
}

const KILOGRAMS: [Unit; 3] = [
    ("max_weight_t", 1.0, 200.0, |t| t * 1_000.0),
    ("max_weight_st", 1.0, 200.0, |st| Kilograms::from_pounds(st * POUNDS_PER_SHORT_TON).0),
    ("max_weight_lb", 2_000.0, 400_000.0, |lb| Kilograms::from_pounds(lb).0),
];

/// An entry without its origin, and what is to be said of properties left over.
fn entry(feature: &Value) -> Result<(Entry, Vec<Result<String, Wrong>>), Wrong> {
    if feature.get("type").and_then(Value::as_str) != Some("Feature") {
        return Err(wrong("it is no Feature", "write \"type\": \"Feature\""));
    }
    let map = match feature.get("properties") {
        Some(Value::Object(map)) => map.clone(),
        _ => return Err(wrong("it has no properties", "give it a kind")),
    };
    let shape = Shape::read(feature.get("geometry").unwrap_or(&Value::Null))
        .map_err(|cause| wrong(cause, "correct the geometry; longitude first, WGS 84"))?;
    let mut all = Properties::new(map);
    let Some(kind) = all.text("kind")? else {
        return Err(wrong("it has no kind", format!("give one of {}", KINDS.join(", "))));
    };
    let name = all.text("name")?;
    all.text("note")?;
    let what = match kind.as_str() {
        "closure" => What::Closure {
            bridges: all.flag("bridges")?,
            direction: direction(&mut all)?,
            reason: all.text("reason")?.or(name.clone()).unwrap_or_else(|| "no reason given".into()),
        },
        "known_weight" => What::KnownWeight {
            limit: Kilograms(all.quantity(&KILOGRAMS, true)?.unwrap_or_default()),
            source: all.text("source")?.ok_or_else(|| {
                wrong("a known weight has no source", "write in source who says so, and when")
            })?,
        },
        "local_speed" => {
            let kmh = |kmh: f64| MetresPerSecond::from_kmh(kmh).0;
            let mph = |mph: f64| MetresPerSecond::from_mph(mph).0;
            let empty =
                all.quantity(&[("speed_kmh", 1.0, 130.0, kmh), ("speed_mph", 1.0, 80.0, mph)], true)?;
            let loaded: [Unit; 2] =
                [("loaded_speed_kmh", 1.0, 130.0, kmh), ("loaded_speed_mph", 1.0, 80.0, mph)];
            What::LocalSpeed {
                empty: MetresPerSecond(empty.unwrap_or_default()),
                full: all.quantity(&loaded, false)?.map(MetresPerSecond),
                direction: direction(&mut all)?,
                source: all.text("source")?.or(name.clone()).unwrap_or_else(|| "local speed".into()),
            }
        }
        "opened_gate" => What::OpenedGate {
            source: all
                .text("source")?
                .ok_or_else(|| wrong("an opened gate has no source", "write in source who opens it"))?,
        },
        "no_dump" => What::NoDump {
            reason: all.text("reason")?.or(name.clone()).unwrap_or_else(|| "no dump site here".into()),
        },
        other => {
            let meant = nearest(other, KINDS.into_iter());
            let action = match meant {
                Some(kind) => format!("write {kind}"),
                None => format!("give one of {}", KINDS.join(", ")),
            };
            return Err(wrong(format!("\"{other}\" is no kind of overlay entry"), action));
        }
    };
    // Of the others these are properties left over.
    let (mut way, mut node) = (None, None);
    if !matches!(what, What::OpenedGate { .. } | What::NoDump { .. }) {
        way = all.id("way")?;
    }
    if matches!(what, What::OpenedGate { .. }) {
        node = all.id("node")?;
    }
    let validity = if matches!(what, What::KnownWeight { .. }) {
        Validity::default()
    } else {
        let (season, from, until) = (all.text("season")?, all.text("from")?, all.text("until")?);
        Validity::read(season.as_deref(), from.as_deref(), until.as_deref())
            .map_err(|cause| wrong(cause, "write season = nov-mar, from = 2026-01-15"))?
    };
    fits(&what, &shape, way.is_some() || node.is_some())?;
    let rest = all.rest(&kind);
    Ok((Entry { file: String::new(), number: 0, name, what, way, node, shape, validity }, rest))
}

fn direction(all: &mut Properties) -> Result<Direction, Wrong> {
    match all.text("direction")?.as_deref() {
        None | Some("both") => Ok(Direction::Both),
        Some("forward") => Ok(Direction::Forward),
        Some("backward") => Ok(Direction::Backward),
        Some(other) => Err(wrong(
            format!("direction \"{other}\" is none of both, forward, backward"),
            "forward is with the way's node order, or with the line as drawn",
        )),
    }
}

/// Whether the geometry is one that the kind can have.
fn fits(what: &What, shape: &Shape, named: bool) -> Result<(), Wrong> {
    let (fits, wanted) = match (what, shape) {
        (What::Closure { direction, .. }, Shape::Area(_)) if !named => {
            (*direction == Direction::Both, "a line or a way for one direction: an area has none")
        }
        (What::Closure { .. }, shape) => (
            matches!(shape, Shape::Lines(_) | Shape::Area(_)) || named && *shape == Shape::None,
            "a way id, a LineString or a Polygon",
        ),
        (What::KnownWeight { .. }, shape) => (
            matches!(shape, Shape::Lines(_) | Shape::Point(_)) || named && *shape == Shape::None,
            "a way id, or a Point or a LineString on the bridge",
        ),
        (What::LocalSpeed { .. }, shape) => {
            (matches!(shape, Shape::Lines(_)) || named && *shape == Shape::None, "a way id or a LineString")
        }
        (What::OpenedGate { .. }, shape) => (
            matches!(shape, Shape::Point(_)) || named && *shape == Shape::None,
            "a node id or a Point at the gate",
        ),
        (What::NoDump { .. }, shape) => (matches!(shape, Shape::Area(_)), "a Polygon"),
    };
    if fits {
        return Ok(());
    }
    Err(wrong(
        format!("a {} with {} says not where", what.kind(), shape.as_str()),
        format!("give it {wanted}"),
    ))
}
