//! A zone looks only at the sites that can matter to a stretch. Beside it every site within reach is searched
//! for and judged, the slow way, on random sites, fleets and stretches of real roads: nothing may differ.
//! `ZONE_SETS` asks for so many sets of each extract.

#[path = "support/extracts.rs"]
#[allow(dead_code)]
mod extracts;
#[path = "support/random_plans.rs"]
mod random_plans;

use rand::seq::IteratorRandom;
use rand::{RngExt, SeedableRng};
use rand_pcg::Pcg64;
use tankerloop::finding::Finding;
use tankerloop::units::Metres;
use tankerloop::zone::{Ask, Zone, block, judge};

const FIRST_SEED: u64 = 2013;
const STRETCHES: usize = 400;

#[test]
fn sites_that_are_not_looked_for_change_nothing() {
    for (name, sets) in [("niue", 6), ("liechtenstein", 6), ("isle-of-man", 4)] {
        let (Some(path), Some(roads)) = (extracts::path(name), extracts::roads(name)) else { continue };
        let sets = std::env::var("ZONE_SETS").ok().and_then(|s| s.parse().ok()).unwrap_or(sets);
        let (mut compared, mut with_loop, mut with_two) = (0, 0, 0);
        for seed in FIRST_SEED..FIRST_SEED + sets {
            let mut random = Pcg64::seed_from_u64(seed);
            // Some with fewer sites than searches are cut off for.
            let sites = random.random_range(50..260);
            let mut problem = random_plans::many(name, &path, roads, seed, sites);
            problem.incident = None;
            problem.search.fill_sites_at_once = if seed % 2 == 0 { 1 } else { 2 };
            // Shorter legs than usual put the end of what is searched for among the stretches.
            problem.search.longest_leg_minutes = *[20.0, 8.0, 4.0].iter().choose(&mut random).unwrap();
            let ask = Ask { longest: Metres(250.0), area: None };
            let Ok(zone) = Zone::survey(&problem, roads, &ask) else { continue };
            // Here and there, or neighbours that most sites lie apart from.
            let all = zone.stretches.len();
            let begin = random.random_range(0..all.saturating_sub(STRETCHES).max(1));
            let chosen: Vec<usize> = match random.random_bool(0.5) {
                true => (0..all).sample(&mut random, STRETCHES),
                false => (begin..(begin + STRETCHES).min(all)).collect(),
            };
            let stretches: Vec<_> = chosen.iter().map(|i| zone.stretches[*i]).collect();
            let fast = block::work(&zone, &stretches).unwrap();
            let (free, period) = (problem.fleet.due(), problem.terms.period);
            let slow = block::each(&zone, &stretches, true, |prepared, number, stretch| {
                let (posts, sites) = prepared.posts(number, stretch)?;
                let best = posts.best(period, &free);
                Ok(judge::judge(&posts, best, &sites, period).map_err(Finding::from)?.0)
            });
            for (number, (fast, slow)) in fast.iter().zip(slow.unwrap()).enumerate() {
                assert_eq!(*fast, slow, "{name}, seed {seed}, stretch {}", chosen[number]);
                compared += 1;
                with_loop += usize::from(slow.ceiling_gpm > 0.0);
                with_two += usize::from(slow.alone.get(1).is_some());
            }
        }
        println!("{name}: {compared} compared, {with_loop} with a loop, {with_two} with two sites in reach");
        assert!(with_two * 3 > compared, "{name}: the test tests little");
    }
}
