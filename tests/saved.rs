//! The saved network: the same answers as from the extract, byte for byte, for every speed table.

#[path = "support/run.rs"]
mod run;
#[path = "support/saved.rs"]
mod saved_files;
mod support;

use run::{county, tankerloop};
use saved_files::{LETTERS, read, save, text, world};
use std::fmt::{self, Write};
use std::path::Path;
use support::drive::{empty, folder, full, speeds};
use support::extracts;
use tankerloop::Roads;
use tankerloop::roads::condition::Moment;
use tankerloop::routing::access::Policy;
use tankerloop::routing::speed::{BUILT_IN, SpeedTable};
use tankerloop::routing::trip::trip;

/// Sum and length of all there is of some roads, by the form that shows every field, also those not
/// yet thought of; the text itself would fill memory.
fn all_of(roads: &Roads) -> (u64, usize) {
    struct Sum(u64, usize);
    impl Write for Sum {
        fn write_str(&mut self, text: &str) -> fmt::Result {
            self.1 += text.len();
            for byte in text.bytes() {
                self.0 = (self.0 ^ u64::from(byte)).wrapping_mul(0x0100_0000_01b3);
            }
            Ok(())
        }
    }
    let mut sum = Sum(0xcbf2_9ce4_8422_2325, 0);
    // Saved or worked out, it is the same.
    roads.topology.hierarchy();
    write!(sum, "{roads:?}").unwrap();
    (sum.0, sum.1)
}

/// Tables that differ in what they make of turns, bends and grades.
fn tables() -> [SpeedTable; 4] {
    let dear = BUILT_IN.replace("sharp_turn", "sharp_turn = 99.5 #").replace("backing", "backing = 7 #");
    let curve = "[curve]\nlateral_mps2 = 0.5\nbrake_mps2 = 1.0\naccelerate_mps2 = 0.5\n[narrow]";
    [
        SpeedTable::built_in().unwrap(),
        SpeedTable::parse(&dear, "dear turns").unwrap(),
        speeds(&[]),
        speeds(&[("[narrow]", curve), ("\nturn = 0.0", "\nturn = 4.0")]),
    ]
}

#[test]
fn a_saved_network_is_the_network() {
    let own = folder();
    let mut files = vec![world().write(&own), run::repository("data/county/county.osm.pbf")];
    let names = ["niue", "liechtenstein", "isle-of-man", "malta"];
    files.extend(names.iter().filter_map(|name| extracts::path(name)));
    for file in files {
        let (folder, saved) = save(&file);
        let tables = if file.starts_with(&own) { &tables()[..] } else { &tables()[..2] };
        let mut sums = Vec::new();
        for table in tables {
            let sum = all_of(&read(&file, table.clone()));
            assert_eq!(sum, all_of(&read(&saved, table.clone())), "{} is not the same saved", file.display());
            sums.push(sum);
        }
        sums.sort_unstable();
        sums.dedup();
        assert_eq!(sums.len(), tables.len(), "{}: two tables made the same roads", file.display());
        std::fs::remove_dir_all(folder).unwrap();
    }
}

/// From every node to every other, full and empty, in winter and summer, with and without curves.
#[test]
fn every_drive_is_the_same() {
    let world = world();
    let own = folder();
    let extract = world.write(&own);
    let (folder, saved) = save(&extract);
    let (mut found, mut none) = (0, 0);
    for (table, when) in [(0, "2026-01-15T08:30"), (2, "2026-07-18T12:00"), (3, "2026-12-01T00:10")] {
        let policy = Policy {
            moment: Moment::parse(when).unwrap(),
            destination_limits: table == 0,
            ferry: table != 2,
            ford: true,
            locked_gates: true,
            ..Policy::default()
        };
        let roads = [&extract, &saved]
            .map(|path| Roads::read(path, tables()[table].clone(), policy.clone(), &mut |_, _| ()).unwrap());
        for from in LETTERS {
            for (to, body) in LETTERS.iter().flat_map(|to| [(*to, full()), (*to, empty())]) {
                let (from, to) = (world.place(from), world.place(to));
                let [plain, quick] =
                    roads.each_ref().map(|r| format!("{:?}", trip(r, body.clone(), from, to)));
                assert_eq!(plain, quick);
                *if plain.starts_with("Ok(Found") { &mut found } else { &mut none } += 1;
            }
        }
    }
    assert!(found > 50 && none > 20, "{found} found, {none} not: the test tests nothing");
    for folder in [own, folder] {
        std::fs::remove_dir_all(folder).unwrap();
    }
}

/// Runs commands with both road files and holds all that comes out together.
fn same_answers(extract: &Path, saved: &Path, commands: &[Vec<&str>]) {
    for command in commands {
        let run = |roads: &Path| tankerloop(&[&command[..], &["--roads", text(roads)]].concat());
        let (plain, quick) = (run(extract), run(saved));
        assert_eq!((plain.code, &plain.err), (quick.code, &quick.err), "{command:?}");
        assert!(plain.out == quick.out, "{command:?}");
        assert!(!plain.out.is_empty() || plain.code == 2, "{command:?}: {}", plain.err);
    }
}

/// Hills of up to 120 m, some hundred metres long, so that every road climbs.
fn hills(file: &Path) {
    let side = 1_201usize;
    let height = |at: usize| {
        let (row, column) = ((at / side) as f64, (at % side) as f64);
        (200.0 + 60.0 * (row / 5.0).sin() + 60.0 * (column / 7.0).cos()).round() as i16
    };
    let bytes: Vec<u8> = (0..side * side).flat_map(|at| height(at).to_be_bytes()).collect();
    std::fs::write(file, bytes).unwrap();
}

/// A closure of the bridge posted 15 short tons, and a weight for the unposted one on the way round.
const OVERLAY: &str = r#"{"type": "FeatureCollection", "features": [
    {"type": "Feature", "geometry": null, "properties":
        {"kind": "closure", "way": 500059, "reason": "flood"}},
    {"type": "Feature", "geometry": null, "properties":
        {"kind": "known_weight", "way": 500193, "max_weight_t": 40, "source": "county engineer"}}
]}"#;

/// The program, command by command, on the extract and on the saved file; the name is of no matter.
#[test]
fn every_command_answers_the_same_byte_for_byte() {
    let folder = county("saved-county");
    let at = |name: &str| folder.join(name);
    let (extract, saved) = (at("county.osm.pbf"), at("county.any-name"));
    let prepared = tankerloop(&["prepare", text(&extract), "-o", text(&saved)]);
    assert_eq!(prepared.code, 0, "{}", prepared.err);
    assert!(prepared.out.is_empty() && prepared.err.starts_with("wrote "), "{}", prepared.err);
    let (scenario, fleet, tile) = (at("scenario.toml"), at("fleet.toml"), at("N31W035.hgt"));
    hills(&tile);
    let overlay = at("overlay.geojson");
    std::fs::write(&overlay, OVERLAY).unwrap();
    let hilly = at("hilly.toml");
    let words = std::fs::read_to_string(&scenario).unwrap();
    std::fs::write(&hilly, format!("elevation = [\"N31W035.hgt\"]\n{words}")).unwrap();
    let places = ["--from=-34.05,31.02", "--to=-34.01,31.03"];
    let drive = ["drive", "--fleet", text(&fleet), "--vehicle", "tanker-2", "--format", "json"];
    let commands: Vec<Vec<&str>> = vec![
        vec!["plan", text(&scenario)],
        vec!["plan", text(&scenario), "--verify"],
        vec!["plan", text(&hilly)],
        vec!["plan", text(&scenario), "--overlay", text(&overlay)],
        vec!["audit", text(&scenario), "--format", "json"],
        vec!["zone", text(&scenario), "--longest", "400", "--sample", "5"],
        vec!["audit", text(&scenario)],
        [&drive[..], &["--load", "full"], &places].concat(),
        [&drive[..], &["--load", "empty", "--explain"], &places].concat(),
        [&drive[..], &["--load", "full", "--elevation", text(&tile)], &places].concat(),
        // Refused, with the same words: both places lie far off.
        [&drive[..], &["--load", "empty", "--from=-30,30", "--to=-31,30"]].concat(),
    ];
    same_answers(&extract, &saved, &commands);
    let [flat, steep, flooded] = [0, 2, 3].map(|command: usize| tankerloop(&commands[command]).out);
    assert!(flat != steep && flat != flooded, "hills and overlay count");
}

#[test]
fn the_island_trial_answers_the_same_byte_for_byte() {
    let Some(extract) = extracts::path("isle-of-man") else { return };
    let (folder, saved) = save(&extract);
    let scenario = run::repository("tests/isle-of-man/scenario.toml");
    let commands = ["plan", "audit", "zone"].map(|command| vec![command, text(&scenario)]);
    same_answers(&extract, &saved, &commands);
    std::fs::remove_dir_all(folder).unwrap();
}

#[test]
fn the_same_extract_gives_the_same_bytes() {
    let file = run::repository("data/county/county.osm.pbf");
    let ((one, a), (two, b)) = (save(&file), save(&file));
    assert!(std::fs::read(&a).unwrap() == std::fs::read(&b).unwrap());
    // Replaced by another and by the same again, and nothing else is left in the folder.
    let other = world().write(&one);
    for extract in [&other, &file] {
        tankerloop::routing::saved::prepare(extract, &b, &mut |_, _| ()).unwrap();
        assert_eq!(std::fs::read(&a).unwrap() == std::fs::read(&b).unwrap(), extract == &file);
    }
    assert_eq!(std::fs::read_dir(&two).unwrap().count(), 1);
    for folder in [one, two] {
        std::fs::remove_dir_all(folder).unwrap();
    }
}
