//! A drill's log: known times are found again, bad rows refused, and what cannot be fitted is said.

#[path = "support/run.rs"]
mod run;

use rand::{RngExt, SeedableRng};
use rand_distr::{Distribution, LogNormal};
use rand_pcg::Pcg64Mcg;
use run::{county, repository, tankerloop};
use std::fmt::Write as _;
use tankerloop::drill::{Basis, Fitted, file, fit, log};
use tankerloop::finding::{Code, Findings};

/// The truth of the synthetic drills: factors, seconds, spreads.
const LOADED: f64 = 1.18;
const EMPTY: f64 = 0.94;
const FILL_S: f64 = 105.0;
const DUMP_S: f64 = 48.0;
const TRAVEL_CV: f64 = 0.12;
const HANDLING_CV: f64 = 0.30;
const SERVICE_CV: f64 = 0.10;

/// A log of `laps` laps by three tankers; the water's time is timed, or loads vary instead.
fn synthetic(seed: u64, laps: usize, water_timed: bool) -> String {
    let mut rng = Pcg64Mcg::seed_from_u64(seed);
    let mut text = String::from("tanker,what,seconds,gallons,water_s,modelled_s\n");
    let law = |cv: f64| LogNormal::from_mean_cv(1.0, cv).unwrap();
    for lap in 0..laps {
        for tanker in 1..=3 {
            for (what, truth) in [("loaded", LOADED), ("empty", EMPTY)] {
                let modelled_s: f64 = rng.random_range(120.0..600.0);
                let s = modelled_s * truth * law(TRAVEL_CV).sample(&mut rng);
                let _ = writeln!(text, "T{tanker},{what},{s:.2},,,{modelled_s:.2}");
            }
            for (what, truth, gpm) in [("fill", FILL_S, 900.0), ("dump", DUMP_S, 1400.0)] {
                let gallons = if water_timed { 1800.0 } else { 600.0 * ((lap + tanker) % 4 + 1) as f64 };
                let handling_s = truth * law(HANDLING_CV).sample(&mut rng);
                let water_s = gallons / gpm * 60.0 * law(SERVICE_CV).sample(&mut rng);
                let timed = if water_timed { format!("{water_s:.2}") } else { String::new() };
                let _ = writeln!(text, "T{tanker},{what},{:.2},{gallons},{timed},", handling_s + water_s);
            }
        }
    }
    text
}

fn fitted(text: &str) -> (Fitted, Findings) {
    let mut findings = Findings::new();
    let rows = log::parse(text, "log.csv", &mut findings).unwrap();
    (fit::fit(&rows, "log.csv", &mut findings), findings)
}

/// Ninety-five in a hundred intervals should hold the truth. Of 300 drills each, 3 standard errors below
/// 0.95 is 0.912; the interval of handling from a line rests on more assumptions and is held to 0.88.
#[test]
fn known_times_lie_within_their_intervals() {
    println!("seeds 0 to 299");
    for (water_timed, least) in [(true, 0.912), (false, 0.88)] {
        let truth = [LOADED, EMPTY, FILL_S, DUMP_S, TRAVEL_CV, HANDLING_CV, SERVICE_CV];
        let (mut held, mut drills, mut off) = ([0; 7], [0; 7], [0.0; 7]);
        for seed in 0..300 {
            let (fitted, _) = fitted(&synthetic(seed, 8, water_timed));
            assert_eq!(fitted.basis, Some(Basis::Modelled));
            for (i, (name, estimate, _)) in fitted.named().into_iter().enumerate() {
                let Some(e) = estimate else { continue };
                assert!(e.low <= e.value && e.value <= e.high && e.rows >= 6, "seed {seed}, {name}: {e:?}");
                drills[i] += 1;
                held[i] += i32::from((e.low..=e.high).contains(&truth[i]));
                off[i] += e.value / truth[i] - 1.0;
            }
        }
        for i in 0..7 {
            // Without water_s the water's own spread cannot be known.
            if i == 6 && !water_timed {
                assert_eq!(drills[i], 0);
                continue;
            }
            let share = f64::from(held[i]) / f64::from(drills[i]);
            let bias = off[i] / f64::from(drills[i]);
            println!("water timed {water_timed}, {i}: {share:.3} of {} held, mean off {bias:+.3}", drills[i]);
            assert!(drills[i] >= 290, "{i}: fitted in {} of 300", drills[i]);
            // The spread of handling from a line takes the water's for granted: an estimate, no more.
            let at_least = if i == 5 && !water_timed { 0.80 } else { least };
            assert!(share >= at_least, "{i}: {share}");
            assert!(bias.abs() < 0.05, "{i}: {bias}");
        }
    }
}

/// A watch that ran on, ten times as long, is told by its row and changes nothing: the estimate is that
/// of the log without the row.
#[test]
fn a_reading_far_out_is_left_out_by_row() {
    let text = synthetic(5, 8, true);
    let (without, _) = fitted(&text);
    let (with, findings) = fitted(&format!("{text}T1,loaded,4000,,,300\n"));
    // 8 laps of 3 tankers make 96 rows under the head: the last is line 98.
    let told = findings.iter().find(|f| f.code == Code::DrillRowLeftOut && f.place.row == Some(98));
    assert!(told.is_some(), "{findings:?}");
    assert_eq!(with.loaded_factor, without.loaded_factor);
}

#[test]
fn malformed_rows_are_refused_by_number() {
    let head = "tanker,what,seconds,gallons,water_s,modelled_s,distance_mi\n";
    let rows = [
        ("T1,loaded,200,,,180,", None),
        ("T1,parked,200,,,180,", Some("what is \"parked\"")),
        ("T1,loaded,-5,,,180,", Some("seconds is \"-5\"")),
        ("T1,loaded,NaN,,,180,", Some("seconds is \"NaN\"")),
        ("T1,loaded,,,,180,", Some("seconds is not given")),
        ("T1,empty,200,,,,", Some("without modelled_s or distance_mi")),
        ("T1,fill,200,,,,", Some("gallons is not given")),
        (",fill,200,900,,,", Some("tanker is not given")),
        ("T1,dump,90,900,95,,", Some("water_s is more than seconds")),
        ("T1,fill,9000,900,,,", Some("at most 7200")),
        ("T1,dump,100,900,60,,", None),
        ("T1,dump,100,900", Some("cannot be read")),
    ];
    let text = format!("{head}{}\n", rows.map(|(row, _)| row).join("\n"));
    let refusal = log::parse(&text, "log.csv", &mut Findings::new()).unwrap_err();
    let bad: Vec<_> = rows.iter().enumerate().filter_map(|(i, (_, why))| Some((i + 2, (*why)?))).collect();
    assert_eq!(refusal.0.len(), bad.len(), "{refusal}");
    for (row, why) in bad {
        let told = refusal.0.iter().find(|f| f.place.row == Some(row));
        let told = told.unwrap_or_else(|| panic!("row {row} is not told: {refusal}"));
        assert!(told.to_string().contains(why), "row {row}: {told}");
    }
    let refusal = log::parse("what,seconds\n", "log.csv", &mut Findings::new()).unwrap_err();
    assert!(refusal.to_string().contains("\"tanker\" is missing"));
}

#[test]
fn what_cannot_be_fitted_is_said() {
    let head = "tanker,what,seconds,gallons,water_s,modelled_s,distance_mi\n";
    let say = |rows: String| {
        let (fitted, findings) = fitted(&format!("{head}{rows}"));
        let told: Vec<String> =
            findings.iter().filter(|f| f.code == Code::DrillNotFitted).map(|f| f.cause.clone()).collect();
        (fitted, told.join("\n"))
    };
    let few = (0..5).map(|i| format!("T1,loaded,{},,,180,\n", 200 + i)).collect();
    let (none, told) = say(few);
    assert!(none.is_empty() && told.contains("5 rows, and 6 are needed"), "{told}");
    let copied = (0..9).map(|_| "T1,loaded,200,,,180,\n").collect();
    let (none, told) = say(copied);
    assert!(none.is_empty() && told.contains("are the same"), "{told}");
    let alike = (0..12).map(|i| format!("T1,fill,{},1800,,,\n", 200 + 7 * i)).collect();
    let (none, told) = say(alike);
    assert!(none.is_empty() && told.contains("differ too little, and water_s is not given"), "{told}");
    // Miles only: against the standard's equation, and said so. 2 mi: 0.65 + 3.4 = 4.05 min = 243 s.
    let miles = (0..8).map(|i| format!("T1,empty,{},,,,2\n", 243 + i - 4)).collect();
    let (by_miles, _) = say(miles);
    assert_eq!(by_miles.basis, Some(Basis::Standard));
    let factor = by_miles.empty_factor.unwrap();
    assert!((factor.value - 1.0).abs() < 0.01 && factor.low < factor.high, "{factor:?}");
}

#[test]
fn the_file_is_read_as_it_was_written() {
    let (fitted, _) = fitted(&synthetic(1, 8, true));
    let text = file::write(&fitted, "log.csv", 96);
    let read = file::parse(&text, "ours.toml").unwrap();
    for ((name, wrote, _), (_, got, _)) in fitted.named().iter().zip(read.named()) {
        let (wrote, got) = (wrote.unwrap(), got.unwrap());
        assert!((wrote.value - got.value).abs() <= 5e-5 && wrote.rows == got.rows, "{name}");
    }
    let schema: serde_json::Value =
        serde_json::from_str(&std::fs::read_to_string(repository("data/drill.schema.json")).unwrap())
            .unwrap();
    let instance = serde_json::to_value(toml::from_str::<toml::Table>(&text).unwrap()).unwrap();
    assert!(jsonschema::validator_for(&schema).unwrap().is_valid(&instance), "{instance}");
    for (bad, why) in [
        ("[travel]\nloaded_factor = { value = 9.0, low = 1, high = 9, rows = 8 }\n", "loaded_factor is 9"),
        ("[handling]\nfill_s = { value = nan, low = 1, high = 9, rows = 8 }\n", "fill_s is NaN"),
        ("[travel]\nspeed = 3\n", "speed"),
    ] {
        let refusal = file::parse(bad, "ours.toml").unwrap_err().to_string();
        assert!(refusal.contains(why) && refusal.contains("ours.toml"), "{refusal}");
    }
}

/// Log to file to plan, through the binary; the plan passes its own verification, says what it used, and brings
/// less where every leg takes a fifth longer.
#[test]
fn a_plan_takes_the_file() {
    let folder = county("drill");
    let path = |name: &str| folder.join(name).to_str().unwrap().to_string();
    std::fs::write(path("log.csv"), synthetic(3, 8, true)).unwrap();
    let ran = tankerloop(&["drill", &path("log.csv"), "-o", &path("ours.toml")]);
    assert_eq!(ran.code, 0, "{}", ran.err);
    assert!(ran.err.contains("driving time, tank full"), "{}", ran.err);
    let scenario = path("scenario.toml");
    let base = tankerloop(&["plan", &scenario, "--quiet"]).json();
    let ran = tankerloop(&["plan", &scenario, "--quiet", "--verify", "--drill", &path("ours.toml")]);
    assert!(ran.code < 2, "{}", ran.err);
    let told = ran.json();
    let code =
        |answer: &serde_json::Value| answer["tankerloop"]["findings"].to_string().contains("drill-applied");
    assert!(code(&told) && !code(&base));
    let flow =
        |answer: &serde_json::Value| run::number(run::layer(answer, "dump_site")[0], "sustained_flow_gpm");
    assert!(flow(&told) < flow(&base), "{} and {}", flow(&told), flow(&base));
    // Named in the scenario it is the same answer.
    let text =
        std::fs::read_to_string(&scenario).unwrap().replace("fleet = ", "drill = \"ours.toml\"\nfleet = ");
    std::fs::write(&scenario, text).unwrap();
    let named = tankerloop(&["plan", &scenario, "--quiet"]);
    assert_eq!(flow(&named.json()), flow(&told));
    std::fs::write(path("few.csv"), "tanker,what,seconds,modelled_s\nT1,loaded,200,180\n").unwrap();
    let ran = tankerloop(&["drill", &path("few.csv")]);
    assert_eq!((ran.code, ran.out.len()), (2, 0), "{}", ran.err);
    assert!(ran.err.contains("nothing can be fitted from its 1 rows"), "{}", ran.err);
}
