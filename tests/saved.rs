//! The saved network: the same answers as from the extract, the same bytes each time, and a clear
//! refusal of whatever is not a network that this very tankerloop saved.

#[path = "support/run.rs"]
mod run;
mod support;

use rand::{RngExt, SeedableRng};
use run::{county, tankerloop};
use std::path::{Path, PathBuf};
use support::drive::{empty, folder, full, speeds};
use support::extracts;
use support::world::World;
use tankerloop::roads::saved;
use tankerloop::routing::access::Policy;
use tankerloop::routing::trip::trip;
use tankerloop::{Network, Overrides, Problem, Roads, plan};

fn text(path: &Path) -> &str {
    path.to_str().unwrap()
}

fn read(path: &Path) -> Network {
    Network::read(path, &mut |_, _| ()).unwrap()
}

/// Saves beside nothing else, and returns the folder and the saved file.
fn save(extract: &Path) -> (PathBuf, PathBuf) {
    let folder = folder();
    let saved = folder.join("saved.roads");
    saved::write(&read(extract), &saved).unwrap();
    (folder, saved)
}

/// A small world with a bit of everything that is saved.
fn world() -> World {
    World::new(100.0)
        .map(
            "
            A----B--M--C----D
                 |     |
                 E-----F----X
            ",
        )
        .way("AB", &[("highway", "tertiary"), ("name", "West Road"), ("maxspeed", "30 mph")])
        .way("BMC", &[("highway", "tertiary"), ("name", "Mill Road"), ("maxweight", "40")])
        .way("CD", &[("highway", "residential"), ("surface", "gravel"), ("maxheight", "who knows")])
        .way("BEFC", &[("highway", "unclassified"), ("width", "18'6\""), ("access", "private")])
        .way("AE", &[("highway", "track"), ("tracktype", "grade2")])
        .way("FX", &[("highway", "service")])
        .cut("X")
        .node('M', &[("barrier", "gate"), ("maxweight", "30")])
        .node('C', &[("highway", "turning_circle")])
        .node('F', &[("emergency", "suction_point"), ("name", "Mill Pond")])
        .restriction("no_left_turn", "AB", 'B', "BEFC")
        .restriction_with("no_right_turn", "BMC", 'B', "BEFC", &[("except", "emergency")])
}

/// All there is of a network, by the form that shows every field, also those not yet thought of.
fn all_of(network: &Network) -> String {
    format!("{network:?}")
}

#[test]
fn a_saved_network_is_the_network() {
    let own = folder();
    let mut files = vec![world().write(&own), run::repository("data/county/county.osm.pbf")];
    files.extend(["niue", "isle-of-man"].iter().filter_map(|name| extracts::path(name)));
    for file in files {
        let (folder, saved) = save(&file);
        // Not `assert_eq`, which would print it all.
        assert!(all_of(&read(&file)) == all_of(&read(&saved)), "{} is not the same saved", file.display());
        std::fs::remove_dir_all(folder).unwrap();
    }
}

/// The program, command by command, on the extract and on the saved file; the name is of no matter.
#[test]
fn every_command_answers_the_same_byte_for_byte() {
    let folder = county("saved-county");
    let at = |name: &str| folder.join(name);
    let (extract, saved) = (at("county.osm.pbf"), at("county.any-name"));
    let prepared = tankerloop(&["prepare", text(&extract), "-o", text(&saved)]);
    assert_eq!(prepared.code, 0, "{}", prepared.err);
    assert!(prepared.out.is_empty() && prepared.err.starts_with("wrote "), "{}", prepared.err);
    let (scenario, fleet) = (at("scenario.toml"), at("fleet.toml"));
    let places = ["--from=-34.05,31.02", "--to=-34.01,31.03"];
    let drive = ["drive", "--fleet", text(&fleet), "--vehicle", "tanker-2", "--format", "json"];
    let commands: Vec<Vec<&str>> = vec![
        vec!["plan", text(&scenario)],
        vec!["audit", text(&scenario), "--format", "json"],
        vec!["audit", text(&scenario)],
        [&drive[..], &["--load", "full"], &places].concat(),
        [&drive[..], &["--load", "empty"], &places].concat(),
        // Refused, with the same words: both places lie far off.
        [&drive[..], &["--load", "empty", "--from=-30,30", "--to=-31,30"]].concat(),
    ];
    for command in commands {
        let run = |roads: &Path| tankerloop(&[&command[..], &["--roads", text(roads)]].concat());
        let (plain, quick) = (run(&extract), run(&saved));
        assert_eq!((plain.code, &plain.err), (quick.code, &quick.err), "{command:?}");
        assert!(plain.out == quick.out, "{command:?}");
        assert!(!plain.out.is_empty() || plain.code == 2, "{command:?}: {}", plain.err);
    }
}

#[test]
fn the_same_network_gives_the_same_bytes() {
    let file = run::repository("data/county/county.osm.pbf");
    let ((one, a), (two, b)) = (save(&file), save(&file));
    assert!(std::fs::read(&a).unwrap() == std::fs::read(&b).unwrap());
    // A saved network saved again too, and nothing else is left in the folder.
    saved::write(&read(&a), &b).unwrap();
    assert!(std::fs::read(&a).unwrap() == std::fs::read(&b).unwrap());
    assert_eq!(std::fs::read_dir(&two).unwrap().count(), 1);
    for folder in [one, two] {
        std::fs::remove_dir_all(folder).unwrap();
    }
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
        Roads::read(&path, speeds(&[]), Policy::default(), &mut |_, _| ()).map_err(|refusal| {
            let told = refusal.to_string();
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
        saved::seal(&mut bytes);
        bytes
    };
    spoiled.refused(&with(12, &99u32.to_le_bytes()), "saved in format 99");
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
        saved::seal(&mut bytes);
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
    saved::write(&read(&folder.join("county.osm.pbf")), &path).unwrap();
    let whole = std::fs::read(&path).unwrap();
    let overrides = Overrides { roads: Some(path.clone()), replications: Some(1), ..Overrides::default() };
    let problem = Problem::read(&folder.join("scenario.toml"), &overrides).unwrap();
    let mut planned = 0;
    for seed in 0..30u64 {
        let mut rng = rand_pcg::Pcg64Mcg::seed_from_u64(seed);
        let mut bytes = whole.clone();
        for _ in 0..20 {
            // One low bit each: most of the roads stay, but some lead elsewhere.
            let at = rng.random_range(88..bytes.len());
            bytes[at & !3] ^= 1 << rng.random_range(0..4);
        }
        saved::seal(&mut bytes);
        std::fs::write(&path, &bytes).unwrap();
        let read = Roads::read(&path, problem.table.clone(), problem.policy.clone(), &mut |_, _| ());
        if let Ok(roads) = read {
            planned += 1;
            let _ = plan(&problem, &roads);
        }
    }
    println!("of 30 seeds {planned} planned");
    assert!(planned > 0);
}
