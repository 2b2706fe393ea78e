//! Table-driven refusals: spoil a copy of the county, run, and read what is said.

#![allow(dead_code)]

use super::run::{county, tankerloop};

pub struct Case {
    what: &'static str,
    file: &'static str,
    /// Text in the file and what is put in its place; an empty one stands for the whole file.
    change: (&'static str, &'static str),
    /// All of these must be said.
    said: &'static [&'static str],
}

pub const fn case(
    what: &'static str,
    file: &'static str,
    change: (&'static str, &'static str),
    said: &'static [&'static str],
) -> Case {
    Case { what, file, change, said }
}

/// What is amiss with a refusal. Each of its lines must be an error with a place and a remedy,
/// "error: [code] place: cause. Remedy.", and the exit code 2.
fn amiss(code: i32, err: &str, said: &[&str]) -> Vec<String> {
    if code != 2 || err.is_empty() {
        return vec![format!("exit code {code}")];
    }
    let mut amiss = Vec::new();
    for line in err.lines() {
        let parts = line.strip_prefix("error: [").and_then(|rest| rest.split_once("] "));
        let Some((place, told)) = parts.and_then(|(_, rest)| rest.split_once(": ")) else {
            amiss.push(format!("not \"error: [code] place: cause\": {line}"));
            continue;
        };
        if place.trim().is_empty() {
            amiss.push(format!("an empty place: {line}"));
        }
        // A sentence for the cause, another for the remedy.
        let letters = |s: &&str| s.chars().filter(|c| c.is_alphabetic()).count() > 5;
        if told.split(". ").filter(letters).count() < 2 || !told.ends_with('.') {
            amiss.push(format!("cause or remedy missing: {line}"));
        }
    }
    amiss
        .extend(said.iter().filter(|words| !err.contains(**words)).map(|words| format!("not said: {words}")));
    if err.contains("panicked") {
        amiss.push("a panic".into());
    }
    amiss
}

pub fn check(what: &str, code: i32, err: &str, said: &[&str]) {
    let amiss = amiss(code, err, said);
    assert!(amiss.is_empty(), "{what}: {}\n{err}", amiss.join("; "));
}

/// Runs every case on a copy of the county of its own and tells all that went wrong.
pub fn run_all(name: &str, cases: &[Case]) {
    let mut failed = Vec::new();
    for (i, case) in cases.iter().enumerate() {
        let folder = county(&format!("bad-{name}-{i}"));
        let path = folder.join(case.file);
        let (old, new) = case.change;
        if old.is_empty() {
            std::fs::write(&path, new).unwrap();
        } else {
            let text = std::fs::read_to_string(&path).unwrap();
            assert!(text.contains(old), "{}: \"{old}\" is not in {}", case.what, case.file);
            std::fs::write(&path, text.replacen(old, new, 1)).unwrap();
        }
        let scenario = folder.join("scenario.toml");
        let ran = tankerloop(&["plan", scenario.to_str().unwrap(), "--quiet"]);
        let mut amiss = amiss(ran.code, &ran.err, case.said);
        if !ran.out.is_empty() {
            amiss.push("an answer was written".into());
        }
        if !amiss.is_empty() {
            failed.push(format!("{}: {}\n{}", case.what, amiss.join("; "), ran.err));
        }
    }
    assert!(failed.is_empty(), "{} of {}:\n{}", failed.len(), cases.len(), failed.join("\n"));
}
