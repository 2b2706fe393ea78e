//! Counts the limit signs of an extract straight from the file, past the library's own reader of
//! elements: how each value reads, by key.

use osmpbf::{Element, ElementReader};
use std::collections::{BTreeMap, BTreeSet};
use std::path::Path;
use tankerloop::roads::limits::{Kind, Reading, reading};

/// Element ("way 5", "node 7"), key, value, how it reads.
pub type Sign = (String, String, String, Reading);

/// Signs with a plain key on the given ways and on the nodes of those ways.
pub fn signs(path: &Path, is_road: impl Fn(i64) -> bool) -> Vec<Sign> {
    let mut found = Vec::new();
    let mut on_road = BTreeSet::new();
    let mut node_signs: Vec<(i64, String, String, Reading)> = Vec::new();
    let mut node = |id: i64, key: &str, value: &str| {
        if let Some(how) = reading(key, value) {
            node_signs.push((id, key.into(), value.into(), how));
        }
    };
    let reader = ElementReader::from_path(path).expect("the extract opens");
    reader
        .for_each(|element| match element {
            Element::Way(way) if is_road(way.id()) => {
                on_road.extend(way.refs());
                for (key, value) in way.tags() {
                    if let Some(how) = reading(key, value) {
                        found.push((format!("way {}", way.id()), key.into(), value.into(), how));
                    }
                }
            }
            Element::DenseNode(n) => n.tags().for_each(|(key, value)| node(n.id(), key, value)),
            Element::Node(n) => n.tags().for_each(|(key, value)| node(n.id(), key, value)),
            _ => {}
        })
        .expect("the extract reads");
    let on_road = node_signs.into_iter().filter(|(id, ..)| on_road.contains(id));
    found.extend(on_road.map(|(id, key, value, how)| (format!("node {id}"), key, value, how)));
    found
}

/// One line a key: read, vague, unreadable, implausible.
pub fn table(signs: &[Sign]) -> String {
    let mut counts: BTreeMap<(&str, Reading), usize> = BTreeMap::new();
    for (_, key, _, how) in signs {
        *counts.entry((key, *how)).or_default() += 1;
    }
    let columns = [Reading::Read, Reading::Vague, Reading::Unreadable, Reading::Implausible];
    let line = |kind: Kind| {
        let counted = columns.map(|how| counts.get(&(kind.key(), how)).copied().unwrap_or(0));
        let [read, vague, unreadable, implausible] = counted;
        format!(
            "  {:<16} {read:>5} read {vague:>4} vague {unreadable:>3} unreadable {implausible:>3} implausible\n",
            kind.key()
        )
    };
    Kind::ALL.into_iter().map(line).collect()
}
