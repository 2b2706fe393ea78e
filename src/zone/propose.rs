//! Where new fill sites close most of the gap.
//!
//! A stretch's flow is what the best site worked alone gives, and what is missing is counted up to the
//! need: flow times road. The sum over all stretches is then a monotone submodular function of the set of
//! sites, so taking the best site again and again closes at least 1 - 1/e (63 %) of what the best set of as
//! many would (Nemhauser, Wolsey and Fisher, 1978, from memory). A test lays all sets beside it.

use super::Zone;
use super::block;
use crate::finding::Outcome;
use crate::units::GallonsPerMinute;

/// A new fill site, in the order of gain.
#[derive(Clone, Debug, PartialEq)]
pub struct Proposal {
    /// Index into the candidates.
    pub candidate: usize,
    /// Missing flow that it closes beyond those before it: gpm · km.
    pub gain_gpm_km: f64,
    /// Road that it brings up to the need.
    pub closed_m: f64,
}

/// What candidates give to a stretch that falls short, above what it has.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Short {
    pub road_m: f64,
    pub has_gpm: f64,
    /// By candidate, ascending.
    pub given: Vec<(u32, f64)>,
}

/// The stretches of a zone that fall short by their ceilings, with what the sites of `candidates` give there: a survey of the
/// same roads whose fill sites are the candidates.
pub fn short(zone: &Zone, ceiling_gpm: &[f64], candidates: &Zone) -> Outcome<Vec<Short>> {
    let network = &zone.ground.roads.network;
    let need = zone.problem.need.0;
    let wanted: Vec<usize> = (0..ceiling_gpm.len()).filter(|i| ceiling_gpm[*i] < need).collect();
    let stretches: Vec<_> = wanted.iter().map(|i| zone.stretches[*i]).collect();
    let free = candidates.problem.fleet.due();
    let period = candidates.problem.terms.period;
    let given = block::each(candidates, &stretches, true, |prepared, number, stretch| {
        let (posts, sites) = prepared.posts(number, stretch)?;
        let alone = posts.each_alone(period, &free);
        let mut given: Vec<(u32, f64)> =
            alone.each().map(|(fill, flow)| (sites[fill] as u32, flow.0)).collect();
        given.sort_unstable_by_key(|(site, _)| *site);
        Ok(given)
    })?;
    let short = |(index, mut given): (&usize, Vec<(u32, f64)>)| {
        let has_gpm = ceiling_gpm[*index];
        given.retain(|(_, gpm)| *gpm > has_gpm);
        Short { road_m: zone.stretches[*index].length(network).0, has_gpm, given }
    };
    Ok(wanted.iter().zip(given).map(short).collect())
}

/// Up to `count` candidates, each the one that closes most beyond those before it; fewer where no other
/// closes anything.
pub fn greedy(short: &[Short], need: GallonsPerMinute, count: usize) -> Vec<Proposal> {
    let mut has: Vec<f64> = short.iter().map(|s| s.has_gpm).collect();
    let candidates = short.iter().flat_map(|s| &s.given).map(|(c, _)| *c as usize + 1).max().unwrap_or(0);
    let mut proposals = Vec::new();
    while proposals.len() < count {
        let mut gains = vec![(0.0, 0.0); candidates];
        for (s, has) in short.iter().zip(&has) {
            for (candidate, gpm) in &s.given {
                let raised = gpm.min(need.0) - has.min(need.0);
                let gain = &mut gains[*candidate as usize];
                if raised > 0.0 {
                    gain.0 += raised * s.road_m / 1000.0;
                    gain.1 += if *gpm >= need.0 { s.road_m } else { 0.0 };
                }
            }
        }
        let best = (0..candidates).reduce(|a, b| if gains[b].0 > gains[a].0 { b } else { a });
        let Some(candidate) = best.filter(|c| gains[*c].0 > 1e-9) else { break };
        let (gain_gpm_km, closed_m) = gains[candidate];
        proposals.push(Proposal { candidate, gain_gpm_km, closed_m });
        for (s, has) in short.iter().zip(&mut has) {
            if let Some((_, gpm)) = s.given.iter().find(|(c, _)| *c as usize == candidate) {
                *has = has.max(*gpm);
            }
        }
    }
    proposals
}

/// Missing flow that a set of candidates closes: gpm · km.
pub fn closes(short: &[Short], need: GallonsPerMinute, set: &[usize]) -> f64 {
    let of = |s: &Short| {
        let best = s.given.iter().filter(|(c, _)| set.contains(&(*c as usize))).map(|(_, gpm)| *gpm);
        let then = best.fold(s.has_gpm, f64::max);
        (then.min(need.0) - s.has_gpm.min(need.0)) * s.road_m / 1000.0
    };
    short.iter().map(of).sum()
}

#[cfg(test)]
mod tests {
    use super::*;
    use rand::{RngExt, SeedableRng};
    use rand_pcg::Pcg64Mcg;

    /// All sets of up to three of eight candidates: what the greedy order closes is never below its bound,
    /// and mostly the best there is.
    #[test]
    fn beside_all_sets() {
        let seed = 1978;
        println!("seed {seed}");
        let mut rng = Pcg64Mcg::seed_from_u64(seed);
        let need = GallonsPerMinute(500.0);
        let (mut worst, mut best_of_all, cases) = (1.0_f64, 0, 400);
        for _ in 0..cases {
            let mut short = Vec::new();
            for _ in 0..30 {
                let has_gpm = rng.random_range(0.0..500.0);
                let given = (0..8).filter_map(|c| {
                    let gpm = rng.random_range(0.0..900.0);
                    (rng.random_bool(0.4) && gpm > has_gpm).then_some((c, gpm))
                });
                let given = given.collect();
                short.push(Short { road_m: rng.random_range(20.0..250.0), has_gpm, given });
            }
            let count = rng.random_range(1..4);
            let found = greedy(&short, need, count);
            let set: Vec<usize> = found.iter().map(|p| p.candidate).collect();
            let own = closes(&short, need, &set);
            let told: f64 = found.iter().map(|p| p.gain_gpm_km).sum();
            assert!((own - told).abs() < 1e-9, "gains sum to what the set closes");
            assert!(found.is_sorted_by(|a, b| a.gain_gpm_km >= b.gain_gpm_km));
            let sets = (0u32..256).filter(|bits| bits.count_ones() as usize <= count);
            let best = sets
                .map(|bits| (0..8).filter(|c| bits >> c & 1 == 1).collect::<Vec<usize>>())
                .map(|set| closes(&short, need, &set))
                .fold(0.0, f64::max);
            worst = worst.min(own / best);
            best_of_all += usize::from(own >= best * (1.0 - 1e-12));
        }
        println!("{best_of_all} of {cases} the best set, worst share {worst:.3}");
        assert!(worst >= 1.0 - (-1.0_f64).exp() && best_of_all * 2 > cases, "{worst}, {best_of_all}");
    }
}
