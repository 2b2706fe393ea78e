//! The floors of the crate: a file imports only from floors below its own, from its own module, or
//! along one of the few named steps within a floor. And files stay short.

use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};

/// Top-level modules by floor, lowest first. A module not listed here fails the test.
const FLOORS: &[&[&str]] = &[
    &["units", "finding", "place", "coordinates", "replace", "memory"],
    &["drill", "vehicle", "water"],
    &["roads"],
    &["routing", "overlay"],
    &["sites", "shuttle"],
    &["plan"],
    &["zone"],
    &["verify", "output"],
    &["serve"],
    &["cli", "web"],
];

/// Steps within one floor, importer first; free of cycles, which a test checks.
const WITHIN_A_FLOOR: &[(&str, &str)] =
    &[("finding", "place"), ("finding", "units"), ("place", "units"), ("coordinates", "place")];

/// Files of more than 400 lines, each with the reason.
const LONG_FILES: &[(&str, &str)] = &[];
const LONGEST: usize = 400;

fn floor(module: &str) -> Option<usize> {
    FLOORS.iter().position(|modules| modules.contains(&module))
}

fn sources() -> Vec<(PathBuf, String)> {
    fn walk(folder: &Path, found: &mut Vec<PathBuf>) {
        for entry in fs::read_dir(folder).unwrap() {
            let path = entry.unwrap().path();
            if path.is_dir() {
                walk(&path, found);
            } else if path.extension().is_some_and(|e| e == "rs") {
                found.push(path);
            }
        }
    }
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let mut found = Vec::new();
    walk(&root.join("src"), &mut found);
    found.sort();
    let read = |path: PathBuf| {
        let text = fs::read_to_string(&path).unwrap();
        (path.strip_prefix(root).unwrap().to_path_buf(), text)
    };
    found.into_iter().map(read).collect()
}

/// The module of a file under src: `routing` for src/routing/snap.rs and for src/routing.rs.
fn module_of(file: &Path) -> String {
    let first = file.components().nth(1).unwrap().as_os_str().to_string_lossy().into_owned();
    first.trim_end_matches(".rs").to_string()
}

/// How deep below the crate a file's module lies: 0 for lib.rs, 1 for src/units.rs and
/// src/routing/mod.rs, 2 for src/routing/snap.rs.
fn depth_of(file: &Path) -> usize {
    let inside = file.components().count() - 1;
    let root = file.file_stem().is_some_and(|stem| ["mod", "lib", "main"].iter().any(|name| stem == *name));
    inside - usize::from(root)
}

/// The code of a line: no comment, and string literals emptied, so that prose is no import.
fn code(line: &str) -> String {
    let (mut code, mut quoted, mut last) = (String::new(), false, ' ');
    for c in line.chars() {
        if c == '"' && last != '\\' && last != '\'' {
            quoted = !quoted;
        } else if !quoted {
            if c == '/' && last == '/' {
                code.pop();
                break;
            }
            code.push(c);
        }
        last = if last == '\\' && c == '\\' { ' ' } else { c };
    }
    code
}

/// First names of the paths that start with `prefix` (`crate::a::b`, `crate::{a::b, c}`), with the
/// line of each.
fn named_after(text: &str, prefix: &str) -> Vec<(usize, String)> {
    let text: Vec<String> = text.lines().map(code).collect();
    let text = text.join("\n");
    let mut found = Vec::new();
    for (at, _) in text.match_indices(prefix) {
        let whole = |c: char| !(c.is_alphanumeric() || c == '_' || c == ':' || c == '$');
        if !text[..at].chars().next_back().is_none_or(whole) {
            continue;
        }
        let line = 1 + text[..at].matches('\n').count();
        let rest = &text[at + prefix.len()..];
        let name = |text: &str| -> String {
            text.trim_start().chars().take_while(|c| c.is_alphanumeric() || *c == '_').collect()
        };
        if !rest.starts_with('{') {
            found.push((line, name(rest)));
            continue;
        }
        let mut depth = 0;
        for (i, c) in rest.char_indices() {
            match c {
                '{' => depth += 1,
                '}' => depth -= 1,
                _ => {}
            }
            if depth == 1 && (c == '{' || c == ',') {
                let inner = &rest[i + 1..];
                let start = i + 1 + inner.len() - inner.trim_start().len();
                found.push((line + rest[..start].matches('\n').count(), name(inner)));
            }
            if depth == 0 {
                break;
            }
        }
    }
    found.retain(|(_, name)| !name.is_empty());
    found
}

/// What is wrong with one import, if anything.
fn objection(from: &str, to: &str) -> Option<String> {
    if from == to || from == "lib" || from == "main" {
        return None;
    }
    let Some(own) = floor(from) else { return Some(format!("module {from} stands on no floor")) };
    let Some(other) = floor(to) else { return Some(format!("{to} is no module on any floor")) };
    if other < own || WITHIN_A_FLOOR.contains(&(from, to)) {
        return None;
    }
    Some(format!("{from} (floor {own}) must not import {to} (floor {other})"))
}

/// Objections to all imports of one file.
fn objections(file: &Path, text: &str) -> Vec<String> {
    let from = module_of(file);
    let mut paths: Vec<(usize, String, String)> = Vec::new();
    for (line, name) in named_after(text, "crate::") {
        paths.push((line, format!("crate::{name}"), name));
    }
    // As many steps up as the file is deep reach the crate's root. A `mod tests { }` inside the
    // file is one deeper and its steps stay within the folder; names of no floor are therefore let by.
    let up = "super::".repeat(depth_of(file).max(1));
    if depth_of(file) > 0 {
        for (line, name) in named_after(text, &up) {
            if floor(&name).is_some() {
                paths.push((line, format!("{up}{name}"), name));
            }
        }
    }
    let told = paths.into_iter().filter_map(|(line, path, name)| {
        let why = objection(&from, &name)?;
        Some(format!("{}:{line}: {path}: {why}", file.display()))
    });
    told.collect()
}

#[test]
fn every_file_imports_only_from_floors_below() {
    let sources = sources();
    assert!(sources.len() > 30, "the sources were not found");
    let told: Vec<String> = sources.iter().flat_map(|(file, text)| objections(file, text)).collect();
    assert!(told.is_empty(), "{} forbidden imports:\n{}", told.len(), told.join("\n"));
}

/// Every module declared at the crate's root stands on a floor.
#[test]
fn every_module_stands_on_a_floor() {
    let (_, text) = sources().into_iter().find(|(file, _)| file.ends_with("src/lib.rs")).unwrap();
    let declared = text.lines().map(code).filter_map(|line| {
        let rest = line.trim().trim_start_matches("pub ").trim_start_matches("pub(crate) ");
        Some(rest.strip_prefix("mod ")?.trim_end_matches([';', '{', ' ']).to_string())
    });
    let homeless: Vec<String> = declared.filter(|name| floor(name).is_none()).collect();
    assert!(homeless.is_empty(), "modules without a floor: {homeless:?}");
}

/// The steps allowed within a floor stay within it and never lead back.
#[test]
fn no_cycle_within_a_floor() {
    let mut steps: BTreeMap<&str, Vec<&str>> = BTreeMap::new();
    for (from, to) in WITHIN_A_FLOOR {
        assert_eq!(floor(from), floor(to), "{from} and {to} stand on different floors");
        steps.entry(from).or_default().push(to);
    }
    for start in steps.keys() {
        let (mut open, mut seen) = (steps[start].clone(), Vec::new());
        while let Some(next) = open.pop() {
            assert_ne!(next, *start, "a cycle leads back to {start}");
            if !seen.contains(&next) {
                seen.push(next);
                open.extend(steps.get(next).into_iter().flatten());
            }
        }
    }
}

#[test]
fn a_long_file_has_a_reason() {
    let long: Vec<(String, usize)> = sources()
        .iter()
        .map(|(file, text)| (file.display().to_string(), text.lines().count()))
        .filter(|(_, lines)| *lines > LONGEST)
        .collect();
    let reason = |file: &str| LONG_FILES.iter().find(|(name, _)| *name == file);
    let unexplained: Vec<_> = long.iter().filter(|(file, _)| reason(file).is_none()).collect();
    assert!(unexplained.is_empty(), "over {LONGEST} lines without a reason: {unexplained:?}");
    let stale: Vec<_> = LONG_FILES.iter().filter(|(name, _)| long.iter().all(|(f, _)| f != name)).collect();
    assert!(stale.is_empty(), "listed as long, but short or gone: {stale:?}");
}

/// The scanner itself sees what it must see.
#[test]
fn the_scanner_sees_imports_in_every_form() {
    let told = |file: &str, text: &str| objections(Path::new(file), text).len();
    assert_eq!(told("src/roads/tags.rs", "use crate::routing::graph::RoadGraph;"), 1);
    assert_eq!(
        told("src/roads/tags.rs", "use crate::{\n  units::{Metres, Feet},\n  routing::{a, b},\n};"),
        1
    );
    assert_eq!(told("src/roads/tags.rs", "fn f() { crate::cli::run(); }"), 1);
    assert_eq!(told("src/roads/tags.rs", "use super::super::routing::Roads;"), 1);
    assert_eq!(told("src/roads/mod.rs", "use super::routing::Roads;"), 1);
    assert_eq!(told("src/units.rs", "use super::place::Place;"), 1);
    assert_eq!(told("src/units.rs", "use crate::place::Place;"), 1);
    assert_eq!(told("src/place.rs", "use crate::units::Metres;"), 0);
    assert_eq!(told("src/roads/tags.rs", "use super::super::units::Metres;"), 0);
    assert_eq!(told("src/roads/tags.rs", "use super::turns::TurnBans; use crate::roads::turns;"), 0);
    assert_eq!(told("src/roads/tags.rs", "// crate::cli\nlet s = \"crate::cli\"; /// crate::web"), 0);
    assert_eq!(told("src/roads/tags.rs", "use crate::nowhere::X;"), 1);
    assert_eq!(told("src/lib.rs", "pub use crate::cli::run;"), 0);
    let lines = objections(Path::new("src/roads/a.rs"), "\n\nuse crate::{\n    units,\n    cli,\n};");
    assert!(lines[0].starts_with("src/roads/a.rs:5: crate::cli: roads (floor 2) must not import cli"));
}
