//! Hashes the sources that decide what a road file becomes, so that a network saved by another
//! state of the reader is told apart (`roads::saved`). Nothing else happens here.

use std::fs;
use std::path::{Path, PathBuf};

/// All that a saved network rests on: floors 2 and 3 and what they take from floor 0.
const SOURCES: [&str; 5] = ["src/roads", "src/routing", "src/finding.rs", "src/place.rs", "src/units.rs"];

fn main() {
    let mut files = Vec::new();
    for source in SOURCES {
        println!("cargo:rerun-if-changed={source}");
        walk(Path::new(source), &mut files);
    }
    println!("cargo:rerun-if-changed=build.rs");
    files.sort();
    // FNV-1a, 64 bits (offset basis and prime as published by its authors). Line ends are left out,
    // so that a checkout with others gives the same.
    let mut hash: u64 = 0xcbf2_9ce4_8422_2325;
    let mut take = |bytes: &[u8]| {
        for byte in bytes.iter().filter(|byte| !matches!(**byte, b'\r' | b'\n')) {
            hash = (hash ^ u64::from(*byte)).wrapping_mul(0x0100_0000_01b3);
        }
    };
    // Sine and cosine differ in the last digit from one system's library to another's.
    take(std::env::var("TARGET").unwrap_or_default().as_bytes());
    for file in &files {
        match fs::read(file) {
            Ok(text) => take(&text),
            Err(e) => println!("cargo:error={}: {e}", file.display()),
        }
    }
    println!("cargo:rustc-env=TANKERLOOP_READER={hash}");
}

fn walk(path: &Path, files: &mut Vec<PathBuf>) {
    match fs::read_dir(path) {
        Ok(entries) => entries.flatten().for_each(|entry| walk(&entry.path(), files)),
        Err(_) => files.push(path.to_path_buf()),
    }
}
