//! The best assignment by the closed form and nothing else, for whoever asks it of very many places.
//!
//! The same sets of sites and the same climbs as `Posts::by_ceiling`, but a set that cannot pass the best
//! found is not climbed: a test below holds the two to the same flow.

use super::crew::{Assignment, Posts};
use super::crew_bounds::Bounds;
use crate::units::{GallonsPerMinute, Seconds};

/// The best assignment, and what the sites are by themselves.
#[derive(Clone, Debug)]
pub struct Best {
    pub given: Assignment,
    /// Sites worked alone by everybody who can, the best first.
    pub alone: Vec<(usize, GallonsPerMinute)>,
}

/// Every site worked alone, and what is needed to go on from there.
pub struct Alone<'p> {
    posts: &'p Posts,
    free: &'p [bool],
    bounds: Bounds<'p>,
    /// The best first.
    ranked: Vec<(f64, usize)>,
}

impl Alone<'_> {
    /// Gallons per minute of the site in that place, if there are so many.
    pub fn gpm(&self, place: usize) -> Option<f64> {
        self.ranked.get(place).map(|(gpm, _)| *gpm)
    }

    pub fn each(&self) -> impl Iterator<Item = (usize, GallonsPerMinute)> + '_ {
        self.ranked.iter().map(|(gpm, site)| (*site, GallonsPerMinute(*gpm)))
    }

    /// None where nobody can fill anywhere.
    pub fn best(self) -> Option<Best> {
        let Alone { posts, free, bounds, ranked } = &self;
        let mut best: Option<(Assignment, f64)> = None;
        for set in posts.sets(ranked) {
            let bar = best.as_ref().map_or(0.0, |(_, worth)| *worth);
            let at_most = match set[..] {
                [site] => ranked.iter().find(|(_, of)| *of == site).map_or(0.0, |(gpm, _)| *gpm),
                _ => posts.at_most(bounds, &set, free) / posts.set_price(set.len()),
            };
            if at_most <= bar {
                continue;
            }
            for given in posts.best_of_set(bounds, &set, free) {
                let worth = posts.worth(&given, given.ceiling.0);
                if worth > best.as_ref().map_or(0.0, |(_, known)| *known) {
                    best = Some((given, worth));
                }
            }
        }
        best.map(|(given, _)| Best { given, alone: self.each().collect() })
    }
}

impl Posts {
    /// What each site gives worked alone by everybody who can. Tankers for which `free` is false stay out.
    pub fn each_alone<'p>(&'p self, period: Seconds, free: &'p [bool]) -> Alone<'p> {
        let bounds = Bounds::new(self, period.minutes());
        let ranked = self.alone(&bounds, free);
        Alone { posts: self, free, bounds, ranked }
    }

    /// The best assignment; none where nobody can fill anywhere.
    pub fn best(&self, period: Seconds, free: &[bool]) -> Option<Best> {
        self.each_alone(period, free).best()
    }

    /// What a set of sites cannot pass, whoever goes where.
    fn at_most(&self, bounds: &Bounds, set: &[usize], free: &[bool]) -> f64 {
        let tankers: f64 = (0..self.tankers.len())
            .filter(|t| free[*t])
            .map(|t| set.iter().map(|s| bounds.own_gpm(t, *s)).fold(0.0, f64::max))
            .sum();
        let sites: f64 = set.iter().map(|site| bounds.site_at_most_gpm(*site, free)).sum();
        // Sums in another order may differ in the last digits.
        tankers.min(sites).min(bounds.draw_gpm()) * (1.0 + 1e-9)
    }
}

#[cfg(test)]
mod tests {
    use super::super::crew::{Recruit, RoundTrip};
    use super::super::{Dump, Fill, Main, Spread};
    use super::*;
    use crate::units::Gallons;
    use rand::{RngExt, SeedableRng};
    use rand_pcg::Pcg64Mcg;

    #[test]
    fn is_the_first_of_all_by_ceiling() {
        let seed = 20_261_125;
        println!("seed {seed}");
        let mut rng = Pcg64Mcg::seed_from_u64(seed);
        let (mut several, mut none) = (0, 0);
        for _ in 0..600 {
            let sites = rng.random_range(1..7);
            let tankers = rng.random_range(1..7);
            let mut time = |low: f64, high: f64| Seconds(rng.random_range(low..high));
            let recruits: Vec<Recruit> = (0..tankers)
                .map(|t| Recruit {
                    name: format!("T{t}"),
                    load: Gallons(900.0 + 600.0 * f64::from(t % 4)),
                    arrives: Seconds(600.0),
                    intake: GallonsPerMinute(500.0 + 250.0 * f64::from(t % 3)),
                    dump_rate: GallonsPerMinute(1000.0),
                    at: (0..sites)
                        .map(|_| {
                            let trip = RoundTrip {
                                empty: time(60.0, 900.0),
                                loaded: time(60.0, 900.0),
                                fill_handling: time(30.0, 200.0),
                                dump_handling: time(30.0, 200.0),
                            };
                            (trip.empty.0 < 820.0).then_some(trip)
                        })
                        .collect(),
                })
                .collect();
            let fills = (0..sites)
                .map(|s| Fill {
                    name: format!("S{s}"),
                    berths: rng.random_range(1..4),
                    flow: GallonsPerMinute(rng.random_range(150.0..1500.0)),
                    volume: rng.random_bool(0.3).then(|| Gallons(rng.random_range(2_000.0..90_000.0))),
                })
                .collect();
            let shared = rng.random_bool(0.3);
            let main = Main { name: "west main".into(), flow: Some(GallonsPerMinute(900.0)) };
            let posts = Posts {
                tankers: recruits,
                mains: (0..sites)
                    .map(|_| shared.then(|| main.clone()).filter(|_| rng.random_bool(0.5)))
                    .collect(),
                fills,
                dump: Dump { berths: 2, tank_room: Gallons(6_000.0), draw_limits: Vec::new() },
                spread: Spread::FIXED,
                most_sites: rng.random_range(1..4),
                crews: None,
                worth_a_site: 0.05,
            };
            let free: Vec<bool> = (0..tankers).map(|_| rng.random_bool(0.9)).collect();
            let period = Seconds(7_200.0);
            let all = posts.by_ceiling(period, &free);
            match (all.first(), posts.best(period, &free)) {
                (None, None) => none += 1,
                (Some(first), Some(best)) => {
                    let (a, b) =
                        (posts.worth(first, first.ceiling.0), posts.worth(&best.given, best.given.ceiling.0));
                    assert!((a - b).abs() < 1e-6, "{a} by all, {b} by the best alone");
                    several += usize::from(best.given.sites().len() > 1);
                    assert!(best.alone.is_sorted_by(|a, b| a.1.0 >= b.1.0));
                }
                (all, best) => panic!("{all:?} and {best:?}"),
            }
        }
        assert!(
            several > 100 && none > 0,
            "{several} of several sites, {none} of none: the test tests little"
        );
    }
}
