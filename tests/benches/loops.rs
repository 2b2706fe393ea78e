//! `cargo bench --bench loops`: three hundred random incidents on real roads, planned and recomputed, with
//! what the choice of loops is worth; then all loops of one plan beside one-to-all searches. Fails where
//! a recomputation does. `RANDOM_SETS` sets another number of sets for each extract, 0 for none.
//!
//! Figures are compared with each other within one run on one machine; no time is asserted.

#[path = "../support/extracts.rs"]
#[allow(dead_code)]
mod extracts;
#[path = "../support/random_plans.rs"]
mod random_plans;

use random_plans::{Came, EXTRACTS, FIRST_SEED, problem, run};
use rayon::prelude::*;
use std::process::ExitCode;
use std::time::Instant;
use tankerloop::finding::Findings;
use tankerloop::plan::ground::Ground;
use tankerloop::plan::options::Field;
use tankerloop::plan::{Answer, Problem, plan};
use tankerloop::routing::Roads;
use tankerloop::routing::search::{Search, Stand, Until};
use tankerloop::shuttle::loops::{LoopKind, Ways};
use tankerloop::shuttle::pair::Scratch;

const SETS: u64 = 100;

fn main() -> ExitCode {
    let number = |name: &str| std::env::var(name).ok().and_then(|s| s.parse::<u64>().ok());
    let sets = number("RANDOM_SETS").unwrap_or(SETS);
    let mut failures = 0;
    if sets > 0 {
        println!("{sets} random sets on each extract from seed {FIRST_SEED}\n\n{HEAD}");
        for name in EXTRACTS {
            failures += worth(name, sets);
        }
    }
    all_loops();
    if failures > 0 {
        eprintln!("{failures} checks failed");
        return ExitCode::FAILURE;
    }
    ExitCode::SUCCESS
}

const HEAD: &str = "\
| | sets with an option | best is a circuit | beats out and back | by, median | most | beats quickest legs | by, median | most | narrow road driven both ways, out and back → quickest legs → best | less than out and back |
| --- | --- | --- | --- | --- | --- | --- | --- | --- | --- | --- |";

/// A flow that differs by less is the same to anybody.
const SAME_GPM: f64 = 1.0;
/// Legs that share less than this of their length are a circuit.
const LITTLE: f64 = 0.1;

/// The best options of one set: of all loops, of each leg's quickest way, out and back.
struct Set {
    free: Best,
    quickest: Best,
    back: Best,
    kind: LoopKind,
}

struct Best {
    gpm: f64,
    /// Road driven both ways as a share of the shorter leg, mean over tankers.
    shared: f64,
    narrow_m: f64,
}

fn best(answer: &Answer) -> Option<Best> {
    let option = answer.options.first()?;
    let tankers: f64 = option.loops.iter().map(|l| l.tankers.len() as f64).sum();
    let mean = |of: &dyn Fn(&tankerloop::plan::circulation::PlanLoop) -> f64| {
        option.loops.iter().map(|l| of(l) * l.tankers.len() as f64).sum::<f64>() / tankers
    };
    Some(Best {
        gpm: option.simulated.as_ref().unwrap().sustained.flow.0,
        shared: mean(&|l| l.shared.0 / l.loaded.distance.0.min(l.empty.distance.0).max(1.0)),
        narrow_m: mean(&|l| l.narrow.0),
    })
}

fn with(problem: &Problem, roads: &Roads, ways: Ways) -> Option<Best> {
    let mut problem = problem.clone();
    problem.search.loops = ways;
    best(&plan(&problem, roads).ok()?)
}

/// Share of the flow gained, of those that gain.
fn gains(pairs: impl Iterator<Item = (f64, f64)>) -> (usize, f64, f64) {
    let mut gains: Vec<f64> = pairs
        .filter(|(free, bound)| free - bound >= SAME_GPM)
        .map(|(free, bound)| free / bound - 1.0)
        .collect();
    gains.sort_by(f64::total_cmp);
    let most = gains.last().copied().unwrap_or(0.0);
    (gains.len(), gains.get(gains.len() / 2).copied().unwrap_or(0.0), most)
}

/// Prints a row; returns how many checks failed.
fn worth(name: &str, sets: u64) -> usize {
    let (Some(path), Some(roads)) = (extracts::path(name), extracts::roads(name)) else { return 0 };
    let (mut failed, mut found) = (0, Vec::new());
    for seed in FIRST_SEED..FIRST_SEED + sets {
        let problem = problem(name, &path, roads, seed);
        let Came::Answered { answer, failures, .. } = run(&problem, roads) else { continue };
        for failure in &failures {
            eprintln!("{name} {seed}: {failure}");
        }
        failed += failures.len();
        let Some(free) = best(&answer) else { continue };
        let quickest = with(&problem, roads, Ways::Quickest);
        let back = with(&problem, roads, Ways::OutAndBack);
        if let (Some(quickest), Some(back)) = (quickest, back) {
            let kind = answer.options[0].loops.iter().map(|l| l.kind).max().unwrap_or(LoopKind::Quickest);
            found.push(Set { free, quickest, back, kind });
        }
    }
    let circuits = found.iter().filter(|s| s.free.shared < LITTLE || s.kind == LoopKind::Circuit);
    let (backs, back_median, back_most) = gains(found.iter().map(|s| (s.free.gpm, s.back.gpm)));
    let (quicks, quick_median, quick_most) = gains(found.iter().map(|s| (s.free.gpm, s.quickest.gpm)));
    let narrow =
        |of: fn(&Set) -> &Best| found.iter().map(|s| of(s).narrow_m).sum::<f64>() / found.len().max(1) as f64;
    let falls = found.iter().filter(|s| s.free.narrow_m < s.back.narrow_m - 1.0).count();
    println!(
        "| {name} | {} | {} | {backs} | {:.1} % | {:.0} % | {quicks} | {:.1} % | {:.0} % | {:.0} → {:.0} → {:.0} m | {falls} |",
        found.len(),
        circuits.count(),
        back_median * 100.0,
        back_most * 100.0,
        quick_median * 100.0,
        quick_most * 100.0,
        narrow(|s| &s.back),
        narrow(|s| &s.quickest),
        narrow(|s| &s.free),
    );
    failed
}

/// Milliseconds this thread has worked: others on the machine do not count. By the kernel's account of
/// it where there is one (Linux, Documentation/scheduler/sched-stats.rst), else by the clock.
fn worked_ms() -> f64 {
    static BEGIN: std::sync::OnceLock<Instant> = std::sync::OnceLock::new();
    let account = std::fs::read_to_string("/proc/thread-self/schedstat").ok();
    let worked_ns = account.and_then(|line| line.split_whitespace().next()?.parse::<f64>().ok());
    worked_ns.map_or_else(|| BEGIN.get_or_init(Instant::now).elapsed().as_secs_f64() * 1e3, |ns| ns / 1e6)
}

const DUMPS: usize = 8;
const FILLS: usize = 20;
/// Incidents timed, from the first seed on; one without so many dump candidates is passed over.
const INCIDENTS: usize = 12;
const MOST_SEEDS: u64 = 60;
/// Searches to all from each dump site, and how often all loops are found, for the kernel counts by its
/// clock's ticks.
const TIMES: usize = 24;
const AGAIN: u32 = 8;
const ONE_TO_ALL: f64 = 30.0;

/// Milliseconds of one incident.
struct Timed {
    /// Worked by one thread.
    all_loops: f64,
    /// By the clock, on all threads, as a plan finds them.
    by_clock: f64,
    one_to_all: f64,
}

/// A measure of incidents beside one-to-all searches.
type Measure = fn(&Timed) -> f64;

/// All loops between eight dump candidates on different roads and twenty fill sites, in one thread and as a plan
/// shares them out, and the one-to-all searches of the same run, loaded and empty by turns. What leads the loops' searches
/// (the trees around the dump sites, which a plan has anyway for its travel times) is told apart.
fn all_loops() {
    let (Some(path), Some(roads)) = (extracts::path("isle-of-man"), extracts::roads("isle-of-man")) else {
        return;
    };
    let one = rayon::ThreadPoolBuilder::new().num_threads(1).build().expect("a pool of one");
    let mut timed: Vec<Timed> = Vec::new();
    for seed in FIRST_SEED..FIRST_SEED + MOST_SEEDS {
        if timed.len() == INCIDENTS {
            break;
        }
        let problem = random_plans::wide(&path, roads, seed, FILLS);
        let mut notes = tankerloop::Findings::new();
        let Ok(ground) = Ground::lay(&problem, roads, &mut notes) else { continue };
        let surveyed = one.install(|| {
            let begin = worked_ms();
            (Field::survey(&problem, &ground, &mut Findings::new()), worked_ms() - begin)
        });
        let (Ok(field), survey_ms) = surveyed else { continue };
        let mut dumps: Vec<usize> = Vec::new();
        for (i, dump) in field.dumps.iter().enumerate() {
            if dumps.len() < DUMPS && dumps.iter().all(|d| field.dumps[*d].spot.segment != dump.spot.segment)
            {
                dumps.push(i);
            }
        }
        if dumps.len() < DUMPS {
            continue;
        }
        let class = &ground.classes[0];
        class.only_links();
        class.cores.contracted(&class.graphs(roads));
        let mut search = Search::new();
        let mut one_to_all = || {
            let begin = worked_ms();
            for _ in 0..TIMES {
                for (i, dump) in dumps.iter().enumerate() {
                    let stand: Stand = field.dumps[*dump].spot.stand(i % 2 == 0);
                    let graph = if i % 2 == 0 { &class.empty } else { &class.full };
                    search.forward(graph, stand, u32::MAX / 4, |_| 0, Until::Bound);
                }
            }
            (worked_ms() - begin) / (dumps.len() * TIMES) as f64
        };
        one_to_all();
        let pairs: Vec<(usize, usize, usize)> =
            dumps.iter().flat_map(|dump| (0..ground.sites.len()).map(|site| (*dump, 0, site))).collect();
        let mut least =
            Timed { all_loops: f64::INFINITY, by_clock: f64::INFINITY, one_to_all: f64::INFINITY };
        let mut found = Vec::new();
        for _ in 0..3 {
            least.one_to_all = least.one_to_all.min(one_to_all());
            let begin = worked_ms();
            for _ in 0..AGAIN {
                found.clear();
                let mut scratch = Scratch::default();
                found.extend(pairs.iter().map(|pair| field.loops(*pair, &mut scratch)));
            }
            least.all_loops = least.all_loops.min((worked_ms() - begin) / f64::from(AGAIN));
            for _ in 0..AGAIN {
                let begin = Instant::now();
                let shared =
                    pairs.par_iter().map_init(Scratch::default, |scratch, pair| field.loops(*pair, scratch));
                let same = shared.collect::<Vec<_>>() == found;
                least.by_clock = least.by_clock.min(begin.elapsed().as_secs_f64() * 1e3);
                assert!(same, "seed {seed}: other loops where threads share them");
            }
        }
        let table = class.graphs(roads).table;
        let kinds = [LoopKind::Quickest, LoopKind::LeastOpposing, LoopKind::Circuit].map(|kind| {
            let of_kind = found.iter().flat_map(|loops| loops.iter()).filter(|l| l.kind == kind);
            let minutes: f64 = of_kind.clone().map(|l| f64::from(l.drive_ms(table)) / 60_000.0).sum();
            format!("{} {} ({minutes:.1} min)", of_kind.count(), kind.as_str())
        });
        println!(
            "seed {seed}: all loops {:.1} ms, by the clock {:.1} ms, one to all {:.2} ms: {:.1} and {:.1} times; survey {:.1} times; {}",
            least.all_loops,
            least.by_clock,
            least.one_to_all,
            least.all_loops / least.one_to_all,
            least.by_clock / least.one_to_all,
            survey_ms / least.one_to_all,
            kinds.join(", ")
        );
        timed.push(least);
    }
    println!(
        "all loops of {DUMPS} dump sites and {FILLS} fill sites in one-to-all searches' time; wanted are less than {ONE_TO_ALL:.0}"
    );
    tell(&format!("by the clock, {} threads as in a plan", rayon::current_num_threads()), &timed, |t| {
        t.by_clock
    });
    tell("processor time of one thread", &timed, |t| t.all_loops);
}

fn tell(what: &str, timed: &[Timed], of: Measure) {
    let mut ratios: Vec<f64> = timed.iter().map(|t| of(t) / t.one_to_all).collect();
    ratios.sort_by(f64::total_cmp);
    let (Some(least), Some(most)) = (ratios.first(), ratios.last()) else { return };
    let middle = (ratios[(ratios.len() - 1) / 2] + ratios[ratios.len() / 2]) / 2.0;
    let total = |of: Measure| timed.iter().map(of).sum::<f64>();
    println!(
        "{what}: median of {} incidents {middle:.1}, {least:.1} to {most:.1}; total over total {:.1}; {} take as \
         long or longer",
        ratios.len(),
        total(of) / total(|t| t.one_to_all),
        ratios.iter().filter(|ratio| **ratio >= ONE_TO_ALL).count()
    );
}
