//! Damaged and wrong road files through the compiled program: an answer or an error, never a panic,
//! never a hang. Every error is one line that names the file and what to do.

mod support;

use rand::{RngExt, SeedableRng};
use std::io::Read;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use std::time::{Duration, Instant};
use support::world::World;
use support::{drive::folder, extracts, pbf};

const FLEET: &str = r#"
[[tanker]]
id = "tanker-1"
mass_empty = "10 t"
mass_full = "19 t"
axle_load_full = "11 t"
height = "3.2 m"
width = "2.5 m"
length = "9 m"
tank_gal = 2000
"#;

/// A reader that needs longer than this for a small file hangs.
const PATIENCE: Duration = Duration::from_secs(30);

/// What an error may tell a person to do; the beginning of its last sentence.
const REMEDIES: &[&str] = &[
    "Name an OpenStreetMap extract",
    "Download the .osm.pbf extract again",
    "Use an extract that was not filtered",
    "Check the coordinates",
    "Write the longitude first",
];

/// A small world with a bit of everything that the reader reads.
fn world() -> World {
    World::new(100.0)
        .map(
            "
            A----B--M--C----D
                 |     |
                 E-----F
            ",
        )
        .way("AB", &[("highway", "tertiary"), ("name", "West Road"), ("maxspeed", "30 mph")])
        .way("BMC", &[("highway", "tertiary"), ("name", "Mill Road"), ("maxweight", "40")])
        .way("CD", &[("highway", "residential"), ("oneway", "no"), ("surface", "gravel")])
        .way("BEFC", &[("highway", "unclassified"), ("width", "18'6\""), ("access", "private")])
        .way("AE", &[("highway", "track"), ("tracktype", "grade2")])
        .node('M', &[("barrier", "gate")])
        .node('F', &[("emergency", "suction_point")])
        .restriction("no_left_turn", "AB", 'B', "BEFC")
}

struct Bench {
    folder: PathBuf,
    fleet: PathBuf,
    from: String,
    to: String,
}

#[derive(Debug)]
struct Outcome {
    code: Option<i32>,
    stderr: String,
}

impl Bench {
    fn new(from: String, to: String) -> Bench {
        let folder = folder();
        let fleet = folder.join("fleet.toml");
        std::fs::write(&fleet, FLEET).unwrap();
        Bench { folder, fleet, from, to }
    }

    fn for_world() -> Bench {
        Bench::new(world().place('A').to_string(), world().place('D').to_string())
    }

    fn drive(&self, roads: &Path) -> Outcome {
        let mut child = Command::new(env!("CARGO_BIN_EXE_tankerloop"))
            .args(["drive", "--vehicle", "tanker-1", "--load", "full", "--roads"])
            .arg(roads)
            .arg("--fleet")
            .arg(&self.fleet)
            .args([format!("--from={}", self.from), format!("--to={}", self.to)])
            .stdin(Stdio::null())
            .stdout(Stdio::null())
            .stderr(Stdio::piped())
            .spawn()
            .unwrap();
        let mut pipe = child.stderr.take().unwrap();
        let reader = std::thread::spawn(move || {
            let mut text = Vec::new();
            pipe.read_to_end(&mut text).unwrap();
            String::from_utf8_lossy(&text).into_owned()
        });
        let begin = Instant::now();
        let status = loop {
            if let Some(status) = child.try_wait().unwrap() {
                break status;
            }
            if begin.elapsed() > PATIENCE {
                child.kill().unwrap();
                panic!("{} is still being read after {PATIENCE:?}", roads.display());
            }
            std::thread::sleep(Duration::from_millis(2));
        };
        Outcome { code: status.code(), stderr: reader.join().unwrap() }
    }

    /// Runs over these bytes and holds the program to its promises.
    #[track_caller]
    fn judge(&self, name: &str, bytes: &[u8]) -> Outcome {
        let path = self.folder.join(name);
        std::fs::write(&path, bytes).unwrap();
        let outcome = self.drive(&path);
        std::fs::remove_file(&path).unwrap();
        self.keeps_its_promises(&path, &outcome);
        outcome
    }

    #[track_caller]
    fn keeps_its_promises(&self, path: &Path, outcome: &Outcome) {
        let Outcome { code, stderr } = outcome;
        assert!(!stderr.contains("panicked"), "{}: {stderr}", path.display());
        match code {
            Some(0 | 1) => assert_eq!(stderr, "", "{}", path.display()),
            Some(2) => {
                assert!(!stderr.is_empty());
                for line in stderr.lines() {
                    // A place off the roads is an error in the place: it is named instead.
                    let file = path.display().to_string();
                    let named = [file.as_str(), "\"--from\"", "\"--to\""].iter().any(|n| line.contains(n));
                    let remedy = REMEDIES.iter().any(|remedy| line.contains(&format!(". {remedy}")));
                    assert!(line.starts_with("error: [") && named && remedy, "{line}");
                }
            }
            other => panic!("{}: exit code {other:?}, {stderr}", path.display()),
        }
    }

    /// Files with a few bytes changed, by seed; how many ended with 0, 1 and 2.
    fn flip(&self, whole: &[u8], seeds: std::ops::Range<u64>) -> [usize; 3] {
        let mut ends = [0; 3];
        for seed in seeds {
            let mut random = rand_pcg::Pcg64Mcg::seed_from_u64(seed);
            let mut bytes = whole.to_vec();
            for _ in 0..random.random_range(1..=4) {
                let at = random.random_range(0..bytes.len());
                bytes[at] ^= random.random_range(1..=255u8);
            }
            let outcome = self.judge(&format!("seed-{seed}.osm.pbf"), &bytes);
            ends[outcome.code.unwrap() as usize] += 1;
        }
        ends
    }
}

impl Drop for Bench {
    fn drop(&mut self) {
        let _ = std::fs::remove_dir_all(&self.folder);
    }
}

/// A number of seven bits a byte, and the place behind it.
fn varint(bytes: &[u8], at: &mut usize) -> usize {
    let (mut value, mut shift) = (0, 0);
    loop {
        let byte = bytes[*at];
        *at += 1;
        value |= usize::from(byte & 127) << shift;
        shift += 7;
        if byte < 128 {
            return value;
        }
    }
}

/// Fields of a message as (number, integer, bytes); only the two kinds that blobs use.
fn fields(bytes: &[u8]) -> Vec<(usize, usize, &[u8])> {
    let (mut at, mut found) = (0, Vec::new());
    while at < bytes.len() {
        let key = varint(bytes, &mut at);
        let value = varint(bytes, &mut at);
        let size = if key & 7 == 2 { value } else { 0 };
        found.push((key >> 3, value, &bytes[at..at + size]));
        at += size;
    }
    found
}

/// The file's blocks: kind, blob, and where each ends.
fn blocks(file: &[u8]) -> Vec<(&[u8], &[u8], usize)> {
    let (mut at, mut found) = (0, Vec::new());
    while at < file.len() {
        let size = u32::from_be_bytes(file[at..at + 4].try_into().unwrap()) as usize;
        let header = fields(&file[at + 4..at + 4 + size]);
        let field = |number: usize| *header.iter().find(|f| f.0 == number).unwrap();
        at += 4 + size;
        let blob = &file[at..at + field(3).1];
        at += blob.len();
        found.push((field(1).2, blob, at));
    }
    found
}

fn block_ends(file: &[u8]) -> Vec<usize> {
    blocks(file).iter().map(|block| block.2).collect()
}

/// The same file with its blobs stored plain, so that a changed byte reaches the decoder behind the
/// checksum of the compression.
fn stored_plain(file: &[u8]) -> Vec<u8> {
    fn put(out: &mut Vec<u8>, field: u8, content: &[u8]) {
        out.push(field << 3 | 2);
        put_number(out, content.len());
        out.extend(content);
    }
    fn put_number(out: &mut Vec<u8>, mut value: usize) {
        while value > 127 {
            out.push(value as u8 | 128);
            value >>= 7;
        }
        out.push(value as u8);
    }
    let mut out = Vec::new();
    for (kind, packed, _) in blocks(file) {
        let packed = fields(packed).iter().find(|f| f.0 == 3).expect("the blob is packed").2;
        let mut content = Vec::new();
        flate2::read::ZlibDecoder::new(packed).read_to_end(&mut content).unwrap();
        let (mut blob, mut header) = (Vec::new(), Vec::new());
        put(&mut blob, 1, &content);
        put(&mut header, 1, kind);
        header.push(3 << 3);
        put_number(&mut header, blob.len());
        out.extend((header.len() as u32).to_be_bytes());
        out.extend(header);
        out.extend(blob);
    }
    out
}

#[test]
fn the_undamaged_world_is_driven() {
    let bench = Bench::for_world();
    assert_eq!(bench.judge("world.osm.pbf", &world().pbf()).code, Some(0));
    assert_eq!(bench.judge("plain.osm.pbf", &stored_plain(&world().pbf())).code, Some(0));
}

#[test]
fn a_file_cut_short_is_an_error() {
    let bench = Bench::for_world();
    let whole = world().pbf();
    for bytes in [stored_plain(&whole), whole] {
        // Cut between two blocks it is a whole file with less in it, which nobody can tell; the
        // reader library takes the first three bytes of the next block's length for the end as
        // well. With no ways left that is an error too.
        let between = block_ends(&bytes);
        assert_eq!(between.len(), 4, "header, nodes, ways, relations");
        for at in 0..bytes.len() {
            let outcome = bench.judge("cut.osm.pbf", &bytes[..at]);
            let code = if (between[2]..between[2] + 4).contains(&at) { 0 } else { 2 };
            assert_eq!(outcome.code, Some(code), "cut at byte {at} of {}: {}", bytes.len(), outcome.stderr);
        }
    }
}

#[test]
fn files_of_another_kind_are_errors() {
    let bench = Bench::for_world();
    let text = "Name,Lon,Lat\nPond,-34.0,31.0\n".repeat(50);
    for (name, bytes, told) in [
        ("empty.osm.pbf", Vec::new(), "[file-unreadable]"),
        ("text.osm.pbf", text.into_bytes(), "[file-unreadable]"),
        ("xml.osm.pbf", b"<?xml version='1.0'?><osm version='0.6'></osm>".to_vec(), "[file-unreadable]"),
        ("zeros.osm.pbf", vec![0; 4096], "[file-unreadable]"),
        ("ones.osm.pbf", vec![255; 4096], "[file-unreadable]"),
    ] {
        let outcome = bench.judge(name, &bytes);
        assert_eq!(outcome.code, Some(2), "{name}");
        assert!(outcome.stderr.contains(told), "{name}: {}", outcome.stderr);
    }
}

#[test]
fn a_missing_file_and_a_folder_are_errors() {
    let bench = Bench::for_world();
    let missing = bench.folder.join("nowhere.osm.pbf");
    for (path, told) in [(&missing, "[file-missing]"), (&bench.folder, "[file-unreadable]")] {
        let outcome = bench.drive(path);
        bench.keeps_its_promises(path, &outcome);
        assert_eq!(outcome.code, Some(2));
        assert!(outcome.stderr.contains(told), "{}", outcome.stderr);
    }
}

#[test]
fn a_file_of_only_nodes_has_no_roads() {
    let bench = Bench::for_world();
    let mut osm = world().osm();
    osm.ways.clear();
    osm.relations.clear();
    let outcome = bench.judge("nodes.osm.pbf", &pbf::write(&osm));
    assert_eq!(outcome.code, Some(2));
    assert!(
        outcome.stderr.contains("[no-roads]") && outcome.stderr.contains("7 nodes"),
        "{}",
        outcome.stderr
    );
    // Ways whose nodes all lie elsewhere.
    let mut osm = world().osm();
    osm.nodes.clear();
    assert_eq!(bench.judge("ways.osm.pbf", &pbf::write(&osm)).code, Some(2));
}

#[test]
fn changed_bytes_in_a_small_world() {
    let bench = Bench::for_world();
    let packed = bench.flip(&world().pbf(), 0..200);
    let plain = bench.flip(&stored_plain(&world().pbf()), 200..1_000);
    println!("exit codes 0, 1, 2: packed {packed:?}, plain {plain:?}");
    assert!(plain[0] > 0 && plain[2] > 0, "the damage is either never or always noticed");
}

#[test]
fn changed_bytes_in_niue() {
    let Some(path) = extracts::path("niue") else { return };
    let roads = extracts::roads("niue").unwrap();
    let junction = |i: usize| roads.network.junctions[i].place.to_string();
    let bench = Bench::new(junction(0), junction(roads.network.junctions.len() / 2));
    let whole = std::fs::read(path).unwrap();
    let begin = Instant::now();
    let packed = bench.flip(&whole, 0..200);
    let plain = bench.flip(&stored_plain(&whole), 200..500);
    println!("exit codes 0, 1, 2: packed {packed:?}, plain {plain:?}, {:?}", begin.elapsed());
}
