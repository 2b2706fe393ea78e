//! On real extracts every posted limit is read or reported: the file is read a second time by plain
//! means, and every sign found there must be in the network as a limit or among its findings.

mod support;

#[path = "support/signs.rs"]
mod signs;

use std::collections::HashMap;
use support::extracts;
use tankerloop::finding::Code;
use tankerloop::roads::limits::{Kind, Limits, Posted, Reading};
use tankerloop::roads::tags::Special;

/// Whether a quantity stands somewhere among the limits of an element.
fn holds(kind: Kind, limits: Option<&Limits>, special: Option<&Special>) -> bool {
    let own = limits.is_some_and(|l| matches!(l.get(kind), Posted::At(_)));
    own || special.is_some_and(|s| {
        s.limits.iter().any(|l| matches!(l.get(kind), Posted::At(_)))
            || s.limit_rules.iter().any(|r| r.kind == kind && matches!(r.value, Posted::At(_)))
    })
}

fn check(name: &str) {
    let Some(path) = extracts::path(name) else { return };
    let Some(roads) = extracts::roads(name) else { return };
    let network = &roads.network;
    let ways: HashMap<i64, _> = network.ways.iter().map(|way| (way.id, &way.tags)).collect();
    let marks: HashMap<i64, _> = (0..network.junctions.len())
        .filter_map(|j| network.mark(j).map(|mark| (network.junctions[j].osm_id, mark)))
        .collect();
    let found = signs::signs(&path, |id| ways.contains_key(&id));
    println!("{name}:\n{}", signs::table(&found));
    let told: Vec<(Code, String)> = network.findings.iter().map(|f| (f.code, f.to_string())).collect();
    let mut missing = Vec::new();
    for (element, key, value, how) in &found {
        let kind = Kind::ALL.into_iter().find(|kind| kind.key() == key).unwrap();
        let id: i64 = element.split(' ').nth(1).unwrap().parse().unwrap();
        let (limits, special) = if element.starts_with("way") {
            let tags = ways[&id];
            (tags.limits.as_deref(), tags.special.as_deref())
        } else {
            let mark = marks.get(&id);
            (mark.and_then(|m| m.limits.as_deref()), mark.and_then(|m| m.special.as_deref()))
        };
        let tells = |code: Code| {
            let text = format!("{element}: {key}={}", value.trim());
            told.iter().any(|(told, line)| *told == code && line.contains(&text))
        };
        let fine = match how {
            Reading::Read => holds(kind, limits, special),
            Reading::Implausible => holds(kind, limits, special) && tells(Code::LimitImplausible),
            Reading::Unreadable => tells(Code::LimitUnreadable),
            Reading::Vague => value != "below_default" || tells(Code::LimitUnreadable),
        };
        if !fine {
            missing.push(format!("{element} {key}={value} ({how:?})"));
        }
    }
    assert!(missing.is_empty(), "{name}: neither read nor told:\n{}", missing.join("\n"));
}

#[test]
fn niue() {
    check("niue");
}
#[test]
fn isle_of_man() {
    check("isle-of-man");
}
#[test]
fn liechtenstein() {
    check("liechtenstein");
}
#[test]
fn malta() {
    check("malta");
}
