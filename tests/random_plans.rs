//! Random incidents, fill sites and fleets on real roads: whatever `plan` answers passes `verify`. This is
//! a sample; `cargo bench --bench loops` runs three hundred and prints the tables of DEVELOPERS.md.

#[path = "support/extracts.rs"]
#[allow(dead_code)]
mod extracts;
#[path = "support/random_plans.rs"]
mod random_plans;

use random_plans::{Came, EXTRACTS, FIRST_SEED, problem, run};

/// Sets on each extract.
const SETS: u64 = 6;

fn given(name: &str) -> Option<u64> {
    std::env::var(name).ok()?.parse().ok()
}

fn sets() -> u64 {
    given("RANDOM_SETS").unwrap_or(SETS)
}

/// To see a set again that failed elsewhere.
fn first() -> u64 {
    given("RANDOM_FIRST").unwrap_or(FIRST_SEED)
}

#[test]
fn random_plans_pass_the_recomputation() {
    let mut bad = Vec::new();
    for name in EXTRACTS {
        let (Some(path), Some(roads)) = (extracts::path(name), extracts::roads(name)) else { continue };
        let (mut answered, mut with_option, mut all_checks) = (0, 0, 0);
        for seed in first()..first() + sets() {
            match run(&problem(name, &path, roads, seed), roads) {
                Came::Refused(why) => println!("{name} {seed}: refused, {why}"),
                Came::Answered { answer, checks, failures } => {
                    answered += 1;
                    with_option += u64::from(!answer.options.is_empty());
                    all_checks += checks;
                    bad.extend(failures.into_iter().map(|f| format!("{name} {seed}: {f}")));
                }
            }
        }
        println!(
            "{name}, {} sets from seed {}: {answered} answers, {with_option} with an option, \
             {all_checks} checks",
            sets(),
            first()
        );
        // Most places are answered; else the sets test nothing.
        assert!(answered * 2 > sets() && with_option * 3 > sets(), "{name}: {answered} and {with_option}");
    }
    assert!(bad.is_empty(), "{} failures:\n{}", bad.len(), bad.join("\n"));
}
