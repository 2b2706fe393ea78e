//! Hashes the sources that decide what a road file becomes, so that a network saved by another
//! state of the reader is told apart (`roads::saved`); and bundles the map page from src/web/page where
//! Node.js is present. Without it, or without a network for npm, everything else builds.

use std::fs;
use std::path::{Path, PathBuf};
use std::process::Command;

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
    let hash = hash_of(&files);
    println!("cargo:rustc-env=TANKERLOOP_READER={hash}");
    page();
}

fn hash_of(files: &[PathBuf]) -> u64 {
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
    for file in files {
        match fs::read(file) {
            Ok(text) => take(&text),
            Err(e) => println!("cargo:error={}: {e}", file.display()),
        }
    }
    hash
}

/// Sources of the map page; node_modules may lie beside them and is none.
const PAGE: &str = "src/web/page";

/// Leaves page.html in OUT_DIR, empty where it cannot be bundled. npm and the bundler run only when the
/// page's sources have changed since they last did.
fn page() {
    let Some(out) = std::env::var_os("OUT_DIR").map(PathBuf::from) else { return };
    let mut sources: Vec<PathBuf> = fs::read_dir(PAGE)
        .map(|entries| entries.flatten().map(|entry| entry.path()).filter(|path| path.is_file()).collect())
        .unwrap_or_default();
    sources.sort();
    println!("cargo:rerun-if-changed={PAGE}");
    let (html, stamp) = (out.join("page.html"), out.join("page.stamp"));
    let state = hash_of(&sources).to_string();
    if html.is_file() && fs::read_to_string(&stamp).is_ok_and(|last| last == state) {
        return;
    }
    let made =
        bundle(&sources, &out, &html).and_then(|()| fs::write(&stamp, state).map_err(|e| e.to_string()));
    if let Err(cause) = made {
        println!(
            "cargo:warning=the map page was not bundled ({cause}); `plan --page` will say what to install"
        );
        println!("cargo:rerun-if-env-changed=PATH");
        if let Err(e) = fs::write(&html, "") {
            println!("cargo:error={}: {e}", html.display());
        }
    }
}

fn bundle(sources: &[PathBuf], out: &Path, html: &Path) -> Result<(), String> {
    let folder = out.join("page");
    fs::create_dir_all(&folder).map_err(|e| e.to_string())?;
    let lock = |at: &Path| fs::read(at.join("package-lock.json")).unwrap_or_default();
    let installed = folder.join("node_modules").is_dir() && lock(&folder) == lock(Path::new(PAGE));
    for source in sources {
        let name = source.file_name().unwrap_or_default();
        fs::copy(source, folder.join(name)).map_err(|e| format!("{}: {e}", source.display()))?;
    }
    if !installed {
        let npm = if cfg!(windows) { "npm.cmd" } else { "npm" };
        let flags = "ci --omit=dev --ignore-scripts --no-audit --no-fund --prefer-offline --fetch-retries=1";
        let ran = run(Command::new(npm).args(flags.split(' ')).current_dir(&folder));
        if ran.is_err() {
            // Half of the packages would be taken for all of them the next time.
            let _ = fs::remove_dir_all(folder.join("node_modules"));
        }
        ran?;
    }
    run(Command::new("node").arg("bundle.mjs").arg(html).current_dir(&folder))
}

/// Runs to the end; the error is the first line that says so, or the last of all.
fn run(command: &mut Command) -> Result<(), String> {
    let program = command.get_program().to_string_lossy().into_owned();
    let ran = command.output().map_err(|e| format!("{program}: {e}"))?;
    if ran.status.success() {
        return Ok(());
    }
    let said = String::from_utf8_lossy(&ran.stderr).into_owned();
    let mut lines = said.lines().map(str::trim).filter(|line| !line.is_empty());
    let line = lines.clone().find(|line| line.contains("rror")).or(lines.next_back()).unwrap_or("no message");
    Err(format!("{program}: {line}"))
}

fn walk(path: &Path, files: &mut Vec<PathBuf>) {
    match fs::read_dir(path) {
        Ok(entries) => entries.flatten().for_each(|entry| walk(&entry.path(), files)),
        Err(_) => files.push(path.to_path_buf()),
    }
}
