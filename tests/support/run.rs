//! Runs the built binary in folders of its own and takes its answer apart.

#![allow(dead_code)]

use serde_json::Value;
use std::path::{Path, PathBuf};
use std::process::Command;

pub struct Ran {
    pub code: i32,
    pub out: Vec<u8>,
    pub err: String,
}

impl Ran {
    pub fn text(&self) -> &str {
        std::str::from_utf8(&self.out).expect("stdout is UTF-8")
    }
    pub fn json(&self) -> Value {
        serde_json::from_slice(&self.out).unwrap_or_else(|e| panic!("stdout is not JSON ({e})\n{}", self.err))
    }
}

pub fn tankerloop(args: &[&str]) -> Ran {
    with_env(args, &[])
}

pub fn with_env(args: &[&str], env: &[(&str, &str)]) -> Ran {
    let ran = Command::new(env!("CARGO_BIN_EXE_tankerloop"))
        .args(args)
        .envs(env.iter().copied())
        .output()
        .expect("the binary runs");
    let err = String::from_utf8(ran.stderr).expect("stderr is UTF-8");
    Ran { code: ran.status.code().unwrap_or(-1), out: ran.stdout, err }
}

/// A new, empty folder. The name must be the test's own: tests run at the same time.
pub fn folder(name: &str) -> PathBuf {
    let folder = Path::new(env!("CARGO_TARGET_TMPDIR")).join(name);
    let _ = std::fs::remove_dir_all(&folder);
    std::fs::create_dir_all(&folder).expect("the test folder can be made");
    folder
}

pub fn repository(path: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join(path)
}

/// A copy of the demonstration county to spoil.
pub fn county(name: &str) -> PathBuf {
    let folder = folder(name);
    for file in ["county.osm.pbf", "fill-sites.geojson", "extra-sites.csv", "fleet.toml", "scenario.toml"] {
        std::fs::copy(repository("data/county").join(file), folder.join(file)).expect("the county is there");
    }
    folder
}

/// Properties of all features of a layer, in order.
pub fn layer<'a>(answer: &'a Value, layer: &str) -> Vec<&'a Value> {
    let features = answer["features"].as_array().expect("a FeatureCollection");
    features.iter().map(|f| &f["properties"]).filter(|p| p["layer"] == layer).collect()
}

/// Properties of the layer's features of one option.
pub fn of_option<'a>(answer: &'a Value, name: &str, option: u64) -> Vec<&'a Value> {
    layer(answer, name).into_iter().filter(|p| p["option"] == option).collect()
}

pub fn number(properties: &Value, key: &str) -> f64 {
    properties[key].as_f64().unwrap_or_else(|| panic!("{key} is no number in {properties}"))
}
