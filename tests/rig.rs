//! The dump rig without a map: its drawing, and the command.

#[path = "support/run.rs"]
mod run;

use rand::{Rng, RngExt, SeedableRng};
use rand_pcg::Pcg64Mcg;
use run::{Ran, folder, repository, tankerloop};
use std::collections::BTreeSet;
use tankerloop::output::{rig, rig_site};
use tankerloop::plan::rig::{Need, RigAnswer, RigProblem, answer};
use tankerloop::units::*;
use tankerloop::water::draft::CapacityCurve;
use tankerloop::water::hose::{HoseSize, Lay};
use tankerloop::water::rig::stages::siphon_from;
use tankerloop::water::rig::{Pumper, Rig, SupplyLine};
use tankerloop::water::transfer::TransferSettings;

const SEED: u64 = 0x0D12;

fn any_problem(dice: &mut impl Rng, tanks: u32) -> RigProblem {
    let mut pumper = || Pumper {
        rated: GallonsPerMinute([500.0, 1_000.0, 1_250.0, 2_000.0][dice.random_range(0..4)]),
        pressure: Psi(150.0),
        suctions: dice.random_range(1..6),
        suction: Inches(5.0),
    };
    let (first, second) = (pumper(), pumper());
    let lay = Lay { diameter: HoseSize::Five, length: Feet(dice.random_range(50.0..3_000.0)), lines: 1 };
    let line = SupplyLine { lay, residual: Psi(20.0), gain: Feet(0.0) };
    RigProblem {
        rig: Rig {
            pumper: first,
            transfer: dice.random_bool(0.5).then_some(second),
            tanks,
            siphons: dice.random_range(0..6),
            lift: Feet(6.0),
            altitude: Feet(0.0),
            curve: CapacityCurve::Lower,
            line: dice.random_bool(0.5).then_some(line),
        },
        tanks: (0..tanks).map(|_| Gallons(f64::from(dice.random_range(1..8)) * 500.0)).collect(),
        largest_load: dice.random_bool(0.5).then_some(Gallons(2_500.0)),
        wanted: dice.random_bool(0.7).then(|| GallonsPerMinute(f64::from(dice.random_range(1..9)) * 250.0)),
        settings: TransferSettings::default(),
    }
}

/// Words of the drawing that start with a letter and end in a number, such as S1.
fn numbered(row: &str, letter: char) -> Vec<u32> {
    let words = row.split(|c: char| !c.is_ascii_alphanumeric());
    words.filter_map(|word| word.strip_prefix(letter)?.parse().ok()).collect()
}

/// Text from the left wall to the right wall of a tank's box.
fn inside(row: &str, tank: u32) -> String {
    row.chars().skip(1 + 19 * (tank as usize - 1)).take(16).collect()
}

/// Whatever the rig: all lines equally wide; each tank, siphon and strainer once, where it belongs;
/// the hose on the far side of the tanks, the dump marks and the lane on the near side; no dump mark
/// at the drafted tank where there is another.
#[test]
fn the_drawing_shows_every_part_once() {
    println!("seed {SEED}");
    let mut dice = Pcg64Mcg::seed_from_u64(SEED);
    for round in 0..400 {
        let problem = any_problem(&mut dice, 1 + round % 7);
        let found = answer(&problem).unwrap();
        let text = rig_site::draw(&found, Shown::Us);
        let rows: Vec<&str> = text.lines().collect();
        let width = rows[0].chars().count();
        assert!(rows.iter().all(|row| row.chars().count() == width), "{problem:?}\n{text}");

        let row_of = |what: &str| {
            rows.iter().position(|row| row.contains(what)).unwrap_or_else(|| panic!("{what}\n{text}"))
        };
        let names = rows[row_of("TANK 1")];
        for tank in 1..=found.rig.tanks {
            let name = format!("TANK {tank}");
            assert_eq!(
                text.matches(&format!("{name} ")).count() + text.matches(&format!("{name}*")).count(),
                1
            );
            assert!(inside(names, tank).contains(&name), "{text}");
        }
        assert!(!text.contains(&format!("TANK {}", found.rig.tanks + 1)), "{text}");

        let tubes = if found.rig.tanks > 1 { found.rig.siphons } else { 0 };
        let mut seen = Vec::new();
        for row in &rows {
            for siphon in numbered(row, 'S') {
                seen.push(siphon);
                let from = siphon_from(siphon, found.rig.tanks);
                assert!(inside(row, from).contains(&format!("S{siphon}")), "{text}");
                assert!(inside(row, 1).contains('<'), "S{siphon} does not end in tank 1\n{text}");
            }
        }
        assert_eq!(seen, (1..=tubes).collect::<Vec<_>>(), "{text}");

        let strainers = rows[row_of("(o)")];
        let at = |tank| inside(strainers, tank).matches("(o)").count() as u32;
        assert_eq!(at(1), found.rig.pumper.suctions.min(3), "{text}");
        if let (Some(second), true) = (found.rig.transfer, found.rig.tanks > 1) {
            assert_eq!(at(2), second.suctions.min(3), "{text}");
        }
        let [hose, tanks, dump, lane] = ["supply line", "TANK 1", "^ dump", "CLEAR LANE"].map(&row_of);
        assert!(hose < tanks && tanks < dump && dump < lane, "{text}");
        let marks = rows[dump].matches("dump").count() as u32;
        assert_eq!(marks, (found.rig.tanks - 1).max(1), "{text}");
        assert!(found.rig.tanks == 1 || !inside(rows[dump], 1).contains("dump"), "{text}");
        assert_eq!(text.contains('*'), matches!(found.need, Need::Call(_)), "{text}");

        told(&problem, &found);
    }
}

/// The text and the JSON hold together: stages end with what the rig gives, and never fall.
fn told(problem: &RigProblem, found: &RigAnswer) {
    let flows: Vec<f64> = found.stages.iter().map(|s| s.then.flow.get()).collect();
    assert!(flows.windows(2).all(|pair| pair[1] >= pair[0] - 1e-6), "{flows:?}");
    assert_eq!(flows.last(), Some(&found.gives.flow.get()));
    if let (Some(wanted), Need::Met | Need::Call(_)) = (problem.wanted, &found.need) {
        assert!(found.gives.flow.get() >= wanted.get() - 1e-6);
    }
    let json = rig::json(problem, found);
    assert_eq!(json["shown"]["tanks_gal"].as_array().unwrap().len() as u32, found.rig.tanks);
    assert_eq!(json["stages"].as_array().unwrap().len(), found.stages.len());
    for shown in [Shown::Us, Shown::Metric] {
        let text = rig::write(problem, found, shown);
        assert!(text.contains("authority having jurisdiction") && !text.contains("NaN"), "{text}");
    }
}

fn run(flags: &str) -> Ran {
    let args: Vec<&str> = ["rig"].into_iter().chain(flags.split_whitespace()).collect();
    tankerloop(&args)
}

/// 1,250 gpm at 104 psi and 6 ft of lift; 500 gpm moved by one siphon (common practice, no source).
#[test]
fn exit_codes_follow_the_need() {
    let rig = "--pump 1250 --tank 3000 --tank 3000 --siphons 1 --length 600";
    assert_eq!(run(rig).code, 0);
    let met = run(&format!("{rig} --flow 500"));
    assert_eq!(met.code, 0, "{}", met.err);
    assert!(met.text().starts_with("500 gpm is met: the rig gives 500 gpm at most"), "{}", met.text());
    let short = run(&format!("{rig} --flow 750"));
    assert_eq!(short.code, 1);
    assert!(short.text().contains("1 more siphon with a motive line"), "{}", short.text());
    let beyond = run(&format!("{rig} --flow 9000"));
    assert_eq!(beyond.code, 1);
    assert!(beyond.text().contains("second dump site"), "{}", beyond.text());
}

#[test]
fn a_fleet_brings_its_rig_and_flags_go_before_it() {
    let fleet = repository("data/county/fleet.toml");
    let fleet = fleet.to_str().unwrap();
    let json = run(&format!("--fleet {fleet} --length 600 --format json")).json();
    // Two siphons move 1,000; the pumper of role "draft" gives 1,500, less 400 of motive flow.
    assert_eq!((&json["most"]["flow_gpm"], &json["most"]["limit"]), (&1_000.0.into(), &"siphons".into()));
    assert_eq!(json["shown"]["tanks_gal"].as_array().unwrap().len(), 4);
    let fewer = run(&format!("--fleet {fleet} --siphons 1 --tank 2000 --tank 2500 --format json")).json();
    assert_eq!(fewer["most"]["flow_gpm"], 500.0);
    let larger = run(&format!("--fleet {fleet} --pump 600 --format json")).json();
    // 600 gpm at 150 psi and 6 ft (2.604 psi): 600·(1 − 0.3·2.604/50) = 590.6; one siphon's 200 off.
    let flow = larger["most"]["flow_gpm"].as_f64().unwrap();
    assert!((flow - 390.6).abs() < 0.1, "{flow}");

    // A second pumper meant for drafting takes the transfer: it feeds both siphons, and the first has
    // all of its 1,500 for the fire, so that the siphons' 1,000 bind, with no motive flow of its own.
    let text = std::fs::read_to_string(fleet).unwrap().replace("role = \"attack\"", "role = \"draft\"");
    let two = folder("rig-two-drafting").join("fleet.toml");
    std::fs::write(&two, text).unwrap();
    let json = run(&format!("--fleet {} --length 600 --format json", two.to_str().unwrap())).json();
    assert_eq!(json["most"]["motive_gpm"], 0.0);
    assert_eq!(json["shown"]["second_pumper_gpm"], 1_250.0);
}

#[test]
fn bad_input_says_what_and_how_to_mend_it() {
    let good = "--pump 1000 --tank 3000";
    for (flags, about) in [
        ("--pump -3 --tank 3000", "pump rating (gpm) is -3"),
        ("--pump 1000 --tank 0", "portable tank (gal) is 0"),
        ("--pump 1000 --tank nan", "portable tank (gal) is NaN"),
        (&format!("{good} --flow -1"), "flow wanted (gpm) is -1"),
        (&format!("{good} --flow 1e9"), "flow (gpm) is 1000000000"),
        (&format!("{good} --length 0"), "hose length (ft) is 0"),
        (&format!("{good} --hose 7 --length 100"), "hose diameter (in) is 7"),
        (&format!("{good} --suctions 0"), "suction lines is 0"),
        (&format!("{good} --suction 99"), "suction diameter (in) is 99"),
        (&format!("{good} --lift -2"), "lift (ft) is -2"),
        (&format!("{good} --altitude 99999"), "altitude (ft) is 99999"),
        (&format!("{good} --siphons 101"), "siphons is 101"),
        (&format!("{good} --siphon-moves 0"), "flow moved by a siphon (gpm) is 0"),
        (&format!("{good} --load -1"), "largest load (gal) is -1"),
        (&format!("{good} {}", "--tank 1000 ".repeat(12)), "13 portable tanks"),
        ("--fleet no-such.toml", "no-such.toml"),
        ("--pump 1000", "--tank GAL"),
        ("", "--fleet FILE"),
    ] {
        let ran = run(flags);
        assert_eq!(ran.code, 2, "{flags}: {}", ran.text());
        assert!(ran.err.contains(about), "{flags}: {}", ran.err);
        assert!(ran.out.is_empty(), "{flags}");
    }
}

/// What the help shows works as it stands there.
#[test]
fn the_examples_of_the_help_run() {
    let help = tankerloop(&["rig", "--help"]);
    let text = help.text().to_string();
    let example = text.lines().find_map(|line| line.trim().strip_prefix("tankerloop rig ")).unwrap();
    assert_eq!(run(example).code, 1, "{example}");
    // Each flag says its unit where it takes a number with one.
    let units: BTreeSet<&str> = ["<GPM>", "<PSI>", "<IN>", "<GAL>", "<FT>"].into();
    assert!(units.iter().all(|unit| text.contains(unit)), "{text}");
}

/// `plan` counts with the same rig, and says what to call for where it holds the need back: the
/// county's two siphons move 1,000 gpm of the 1,500 wanted.
#[test]
fn a_plan_says_what_its_rig_lacks() {
    let scenario = repository("data/county/scenario.toml");
    let scenario = scenario.to_str().unwrap();
    let plan = |need: &str| {
        let ran =
            tankerloop(&["plan", scenario, "--need", need, "--quiet", "--verify", "--replications", "50"]);
        assert!(ran.code < 2, "{}", ran.err);
        ran.json().to_string()
    };
    let text = plan("1500");
    let told = "the rig gives 1000 gpm at most, held back by the siphons";
    assert!(text.contains("rig-limits") && text.contains(told) && text.contains("1 more siphon"), "{text}");
    assert!(!plan("750").contains("rig-limits"));
}
