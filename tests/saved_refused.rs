//! A saved network that is stale, foreign, damaged or forged: a refusal in one line that names the file
//! and the remedy, or roads that can be driven; never a panic.

#[path = "support/run.rs"]
mod run;
#[path = "support/saved.rs"]
mod saved_files;
mod support;

use rand::{RngExt, SeedableRng};
use run::{county, tankerloop};
use saved_files::{save, text, world};
use std::path::{Path, PathBuf};
use std::time::{Duration, SystemTime};
use support::drive::{empty, folder, full};
use tankerloop::roads::saved::seal;
use tankerloop::routing::access::Policy;
use tankerloop::routing::saved;
use tankerloop::routing::speed::SpeedTable;
use tankerloop::routing::trip::trip;
use tankerloop::{Overrides, Problem, Roads, plan};

fn table() -> SpeedTable {
    SpeedTable::built_in().unwrap()
}

fn open(path: &Path) -> Result<Roads, String> {
    Roads::read(path, table(), Policy::default(), &mut |_, _| ()).map_err(|refusal| refusal.to_string())
}

#[test]
fn prepare_never_writes_over_its_extract() {
    let folder = folder();
    let extract = world().write(&folder);
    let bytes = std::fs::read(&extract).unwrap();
    let ran = tankerloop(&["prepare", text(&extract), "-o", text(&folder.join("./world.osm.pbf"))]);
    assert_eq!((ran.code, ran.err.lines().count()), (2, 1), "{}", ran.err);
    assert!(std::fs::read(&extract).unwrap() == bytes);
    // And a folder that is not there is told.
    let ran = tankerloop(&["prepare", text(&extract), "-o", text(&folder.join("none/x.roads"))]);
    assert_eq!((ran.code, ran.err.lines().count()), (2, 1), "{}", ran.err);
    assert!(ran.err.contains("none/x.roads") && ran.err.contains("can be written"), "{}", ran.err);
    std::fs::remove_dir_all(folder).unwrap();
}

struct Spoiled {
    folder: PathBuf,
    whole: Vec<u8>,
}

impl Spoiled {
    fn new() -> Spoiled {
        let own = folder();
        let (folder, saved) = save(&world().write(&own));
        std::fs::remove_dir_all(own).unwrap();
        Spoiled { folder, whole: std::fs::read(saved).unwrap() }
    }

    /// What reading these bytes says: `Err` with the refusal, which must be one line that names the
    /// file and the remedy.
    fn judge(&self, bytes: &[u8]) -> Result<Roads, String> {
        let path = self.folder.join("spoiled.roads");
        std::fs::write(&path, bytes).unwrap();
        open(&path).map_err(|told| {
            assert_eq!(told.lines().count(), 1, "{told}");
            assert!(told.contains("spoiled.roads: "), "{told}");
            assert!(told.contains("Run `tankerloop prepare` again"), "{told}");
            told
        })
    }

    fn refused(&self, bytes: &[u8], word: &str) {
        let told = self.judge(bytes).expect_err(word);
        assert!(told.contains(word), "expected \"{word}\": {told}");
    }
}

fn stale(saved: &Path, extract: &Path) {
    let told = open(saved).expect_err("the extract has changed");
    assert_eq!(told.lines().count(), 1, "{told}");
    assert!(told.contains(&format!("{}: the extract {} has changed", text(saved), text(extract))), "{told}");
    assert!(told.contains("Run `tankerloop prepare` again"), "{told}");
}

/// An extract of another size, of another content, or only of another date; in its place, moved
/// together with the saved network, and gone.
#[test]
fn an_extract_that_changed_is_told() {
    let folder = folder().canonicalize().unwrap();
    let extract = world().write(&folder);
    let saved = folder.join("world.roads");
    saved::prepare(&extract, &saved, &mut |_, _| ()).unwrap();
    let bytes = std::fs::read(&extract).unwrap();
    let date = |seconds: u64| {
        let file = std::fs::File::options().write(true).open(&extract).unwrap();
        file.set_modified(SystemTime::UNIX_EPOCH + Duration::from_secs(seconds)).unwrap();
    };
    assert!(open(&saved).is_ok());
    // Copied or touched, it is the same extract, whether older or newer now.
    for seconds in [1_000, 4_000_000_000] {
        date(seconds);
        assert!(open(&saved).is_ok());
    }
    let mut other = bytes.clone();
    *other.last_mut().unwrap() ^= 1;
    std::fs::write(&extract, &other).unwrap();
    date(1_000);
    stale(&saved, &extract);
    std::fs::write(&extract, [&bytes[..], &bytes[..]].concat()).unwrap();
    stale(&saved, &extract);
    // By the program: an error, with nothing answered.
    let fleet = run::repository("data/county/fleet.toml");
    let drive = ["drive", "--vehicle", "tanker-2", "--load", "full", "--from=-34,31", "--to=-34,31.001"];
    let ran = tankerloop(&[&drive[..], &["--fleet", text(&fleet), "--roads", text(&saved)]].concat());
    assert_eq!((ran.code, ran.err.lines().count(), ran.out.len()), (2, 1, 0), "{}", ran.err);

    let moved = folder.join("moved");
    std::fs::create_dir(&moved).unwrap();
    let (extract_there, saved_there) = (moved.join(extract.file_name().unwrap()), moved.join("w.roads"));
    std::fs::rename(&extract, &extract_there).unwrap();
    std::fs::rename(&saved, &saved_there).unwrap();
    stale(&saved_there, &extract_there);
    std::fs::write(&extract_there, &bytes).unwrap();
    assert!(open(&saved_there).is_ok());
    // Alone, there is nothing to compare with.
    std::fs::remove_file(&extract_there).unwrap();
    assert!(open(&saved_there).is_ok());
    std::fs::remove_dir_all(folder).unwrap();
}

#[test]
fn a_file_cut_short_anywhere_is_refused() {
    let spoiled = Spoiled::new();
    for length in 1..spoiled.whole.len() {
        spoiled.refused(&spoiled.whole[..length], "truncated");
    }
    spoiled.refused(&[&spoiled.whole[..], &[0; 8]].concat(), "bytes instead of");
    assert!(spoiled.judge(&spoiled.whole).is_ok());
}

/// Offsets in the header: byte order 8, format 12, state of the reader 16.
#[test]
fn what_is_stale_foreign_or_damaged_is_told_apart() {
    let spoiled = Spoiled::new();
    let with = |at: usize, value: &[u8]| {
        let mut bytes = spoiled.whole.clone();
        bytes[at..at + value.len()].copy_from_slice(value);
        seal(&mut bytes);
        bytes
    };
    spoiled.refused(&with(12, &99u32.to_le_bytes()), "saved in format 99");
    spoiled.refused(&with(12, &0u32.to_le_bytes()), "saved in format 0");
    spoiled.refused(&with(16, &[0; 8]), "another version of tankerloop");
    spoiled.refused(&with(8, &0x0102_0304u32.to_be_bytes()), "other byte order");
    for at in 24..spoiled.whole.len() {
        let mut bytes = spoiled.whole.clone();
        bytes[at] ^= 0x10;
        spoiled.judge(&bytes).err().unwrap_or_else(|| panic!("byte {at} changed and nobody noticed"));
    }
}

/// Whoever writes a file on purpose can write the checksum too. Then everything rests on the checks
/// behind it: a refusal, or roads that can be driven without a panic.
#[test]
fn a_forged_file_is_refused_or_drives() {
    let spoiled = Spoiled::new();
    let (mut refused, mut driven) = (0, 0);
    let world = world();
    for seed in 0..1000u64 {
        let mut rng = rand_pcg::Pcg64Mcg::seed_from_u64(seed);
        let mut bytes = spoiled.whole.clone();
        for _ in 0..rng.random_range(1..=4) {
            let at = rng.random_range(24..bytes.len());
            // A flipped bit, or a number as large or as small as can be.
            match rng.random_range(0..3) {
                0 => bytes[at] ^= 1 << rng.random_range(0..8),
                1 => bytes[at] = rng.random(),
                _ => {
                    let (from, value) = (at & !3, [[0xff; 4], [0; 4], [0, 0, 0, 0x80]]);
                    let value = value[rng.random_range(0..3)];
                    bytes[from..from + 4].copy_from_slice(&value);
                }
            }
        }
        seal(&mut bytes);
        let Ok(roads) = spoiled.judge(&bytes) else {
            refused += 1;
            continue;
        };
        driven += 1;
        for (body, from, to) in [(full(), 'A', 'D'), (empty(), 'D', 'A'), (full(), 'E', 'M')] {
            // Found, none, or refused because the nearest road is now far away: all are answers.
            let _ = trip(&roads, body, world.place(from), world.place(to));
        }
    }
    println!("of 1000 seeds {refused} refused, {driven} driven");
    assert!(refused > 100 && driven > 100, "{refused} refused, {driven} driven: the test tests nothing");
    std::fs::remove_dir_all(&spoiled.folder).unwrap();
}

/// The same for whole plans, which use more of the network; fewer seeds, since each takes longer.
#[test]
fn a_forged_county_is_refused_or_planned() {
    let folder = county("saved-forged");
    let path = folder.join("county.roads");
    saved::prepare(&folder.join("county.osm.pbf"), &path, &mut |_, _| ()).unwrap();
    let whole = std::fs::read(&path).unwrap();
    let overrides = Overrides { roads: Some(path.clone()), replications: Some(1), ..Overrides::default() };
    let problem = Problem::read(&folder.join("scenario.toml"), &overrides).unwrap();
    let mut planned = 0;
    for seed in 0..60u64 {
        let mut rng = rand_pcg::Pcg64Mcg::seed_from_u64(seed);
        let mut bytes = whole.clone();
        for _ in 0..rng.random_range(1..=4) {
            // One low bit each: most of the roads stay, but something about them is off.
            let at = rng.random_range(152..bytes.len());
            bytes[at & !3] ^= 1 << rng.random_range(0..4);
        }
        seal(&mut bytes);
        std::fs::write(&path, &bytes).unwrap();
        let read =
            Roads::read(&path, problem.roads.table.clone(), problem.roads.policy.clone(), &mut |_, _| ());
        if let Ok(roads) = read {
            planned += 1;
            let _ = plan(&problem, &roads);
        }
    }
    println!("of 60 seeds {planned} planned");
    assert!((5..55).contains(&planned), "{planned} planned: the test tests nothing");
    std::fs::remove_dir_all(folder).unwrap();
}
