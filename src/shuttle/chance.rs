//! The random part: factors of mean one on every time, each a function of (seed, replication, tanker,
//! trip) alone. Two shuttles compared with one seed therefore meet the same luck, whatever order
//! their events come in and however many threads run them.

use super::{Spread, Vary};
use rand_distr::{Distribution, Exp1, StandardNormal};
use rand_pcg::Pcg64Mcg;
use rayon::prelude::*;
use std::sync::{Arc, Mutex, PoisonError};

/// Factors of one trip. A trip is loaded leg, dump, empty leg, fill; the first loaded leg is the
/// way from the station.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Trip {
    pub loaded: f64,
    pub dump_handling: f64,
    pub dump_service: f64,
    pub empty: f64,
    pub fill_handling: f64,
    pub fill_service: f64,
}

const EVEN: Trip = Trip {
    loaded: 1.0,
    dump_handling: 1.0,
    dump_service: 1.0,
    empty: 1.0,
    fill_handling: 1.0,
    fill_service: 1.0,
};

/// A time factor of zero would be an infinite rate. The mean shifts by less than one part in 10^12.
const LEAST_FACTOR: f64 = 1e-6;

/// 64 MB: enough for 400 replications of 40 tankers over 80 trips; beyond it factors are made anew.
const MOST_STORED: usize = 64 * 1024 * 1024 / size_of::<Trip>();
/// A plan asks for the same factors some forty times, with a tanker more for another dozen, and the next plan
/// mostly for the same again. All that are shared together take 64 MB at most.
const MOST_SHARED: usize = MOST_STORED / 4;
const SHARED: usize = 16;
/// A round number of trips, so that shuttles of about one cycle time share theirs.
const TRIPS_STEP: usize = 8;

/// Those used last come last. Factors are a function of what they are asked by, so whoever asks gets the same.
static KNOWN: Mutex<Vec<Arc<Chances>>> = Mutex::new(Vec::new());

/// Factors for every trip, the first ones kept so that a search over draws pays for them once.
pub(super) struct Chances {
    of: Spread,
    replications: u32,
    seed: u64,
    spread: [Shape; 3],
    fixed: bool,
    tankers: usize,
    trips: usize,
    stored: Vec<Trip>,
}

#[derive(Clone, Copy)]
enum Shape {
    One,
    /// exp(mu + sigma z), with mu such that the mean is one.
    LogNormal {
        mu: f64,
        sigma: f64,
    },
    Exponential,
}

impl Shape {
    fn of(vary: Vary) -> Self {
        match vary {
            Vary::Fixed => Shape::One,
            Vary::LogNormal { cv } => {
                let variance = (1.0 + cv * cv).ln();
                Shape::LogNormal { mu: -variance / 2.0, sigma: variance.sqrt() }
            }
            Vary::Exponential => Shape::Exponential,
        }
    }

    fn draw(self, rng: &mut Pcg64Mcg) -> f64 {
        match self {
            Shape::One => 1.0,
            Shape::LogNormal { mu, sigma } => {
                let z: f64 = StandardNormal.sample(rng);
                (mu + sigma * z).exp().max(LEAST_FACTOR)
            }
            Shape::Exponential => {
                let e: f64 = Exp1.sample(rng);
                e.max(LEAST_FACTOR)
            }
        }
    }
}

/// Finalizer of SplitMix64 (Steele, Lea and Flood 2014): spreads neighbouring keys over all bits.
fn mix(x: u64) -> u64 {
    let x = (x ^ (x >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
    let x = (x ^ (x >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
    x ^ (x >> 31)
}

impl Chances {
    /// `trips` is how many trips to keep for each tanker; more are made when asked for.
    pub fn new(spread: &Spread, seed: u64, replications: u32, tankers: usize, trips: usize) -> Self {
        let fixed = spread.is_fixed();
        let shapes = [spread.travel, spread.handling, spread.service].map(Shape::of);
        let mut chances = Chances {
            of: *spread,
            replications,
            seed,
            spread: shapes,
            fixed,
            tankers,
            trips: 0,
            stored: Vec::new(),
        };
        let rows = replications as usize * tankers;
        let trips = trips.min(MOST_STORED / rows.max(1));
        if fixed || trips == 0 {
            return chances;
        }
        let mut stored = vec![EVEN; rows * trips];
        stored.par_chunks_mut(trips).with_min_len(16).enumerate().for_each(|(row, kept)| {
            for (trip, slot) in kept.iter_mut().enumerate() {
                *slot = chances.make((row / tankers) as u32, (row % tankers) as u32, trip as u32);
            }
        });
        chances.stored = stored;
        chances.trips = trips;
        chances
    }

    /// The same, made once for all who ask for them or for fewer; there may be more trips and tankers.
    pub fn shared(
        spread: &Spread,
        seed: u64,
        replications: u32,
        tankers: usize,
        trips: usize,
    ) -> Arc<Chances> {
        let enough = |known: &Arc<Chances>| {
            (known.of, known.seed, known.replications) == (*spread, seed, replications)
                && known.tankers >= tankers
                && known.trips >= trips
        };
        // Whoever panicked while holding the lock was moving whole entries.
        let lock = || KNOWN.lock().unwrap_or_else(PoisonError::into_inner);
        let used = |known: &mut Vec<Arc<Chances>>| {
            let found = known.iter().position(enough)?;
            let found = known.remove(found);
            known.push(found.clone());
            Some(found)
        };
        if let Some(found) = used(&mut lock()) {
            return found;
        }
        let trips = trips.next_multiple_of(TRIPS_STEP);
        let made = Arc::new(Chances::new(spread, seed, replications, tankers, trips));
        if made.trips == trips && made.stored.len() <= MOST_SHARED {
            let mut known = lock();
            known.push(made.clone());
            let mut stored: usize = known.iter().map(|kept| kept.stored.len()).sum();
            while stored > MOST_STORED || known.len() > SHARED {
                stored -= known.remove(0).stored.len();
            }
        }
        made
    }

    /// Every factor one.
    pub fn fixed() -> Self {
        Chances::new(&Spread::FIXED, 0, 0, 0, 0)
    }

    /// The factors of one replication.
    pub fn of(&self, replication: u32) -> Luck<'_> {
        let size = self.tankers * self.trips;
        let kept = self.stored.get(replication as usize * size..).and_then(|from| from.get(..size));
        Luck { chances: self, replication, kept: kept.unwrap_or_default() }
    }

    fn make(&self, replication: u32, tanker: u32, trip: u32) -> Trip {
        let who = mix(self.seed ^ mix((u64::from(replication) << 32) | u64::from(tanker)));
        let when = mix(who.wrapping_add(0x9e37_79b9_7f4a_7c15_u64.wrapping_mul(u64::from(trip) + 1)));
        let mut rng = Pcg64Mcg::new((u128::from(when) << 64) | u128::from(mix(when ^ who)));
        let [travel, handling, service] = self.spread;
        Trip {
            loaded: travel.draw(&mut rng),
            dump_handling: handling.draw(&mut rng),
            dump_service: service.draw(&mut rng),
            empty: travel.draw(&mut rng),
            fill_handling: handling.draw(&mut rng),
            fill_service: service.draw(&mut rng),
        }
    }
}

/// One replication's factors: those kept at hand, the others made when asked for.
pub(super) struct Luck<'a> {
    chances: &'a Chances,
    replication: u32,
    kept: &'a [Trip],
}

impl Luck<'_> {
    /// One of the factors of a trip.
    #[inline]
    pub fn of(&self, tanker: u32, trip: u32, factor: impl Fn(&Trip) -> f64) -> f64 {
        let trips = self.chances.trips;
        match self.kept.get(tanker as usize * trips + trip as usize) {
            Some(kept) if (trip as usize) < trips => factor(kept),
            _ => factor(&self.made(tanker, trip)),
        }
    }

    #[cold]
    fn made(&self, tanker: u32, trip: u32) -> Trip {
        if self.chances.fixed { EVEN } else { self.chances.make(self.replication, tanker, trip) }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Whoever asks for no more than is known gets the same factors in the same memory; another seed is none of it.
    #[test]
    fn shared_factors_are_those_made_alone() {
        let spread = Spread { travel: Vary::LogNormal { cv: 0.21 }, ..Spread::FIXED };
        let many = Chances::shared(&spread, 11, 20, 4, 13);
        let fewer = Chances::shared(&spread, 11, 20, 3, 9);
        assert!(Arc::ptr_eq(&many, &fewer));
        assert!(!Arc::ptr_eq(&many, &Chances::shared(&spread, 12, 20, 3, 9)));
        let alone = Chances::new(&spread, 11, 20, 3, 9);
        for (replication, tanker, trip) in [(0, 0, 0), (19, 2, 8), (7, 1, 40)] {
            let of = |chances: &Chances| chances.of(replication).of(tanker, trip, |t| t.loaded);
            assert_eq!(of(&fewer), of(&alone));
        }
    }

    /// Mean one for each kind, and the stored factors equal to those made anew. Seed 7.
    #[test]
    fn factors_keep_the_mean_and_do_not_depend_on_storage() {
        let spread = Spread {
            travel: Vary::LogNormal { cv: 0.3 },
            handling: Vary::Exponential,
            service: Vary::LogNormal { cv: 0.1 },
        };
        let kept = Chances::new(&spread, 7, 100, 5, 200);
        let bare = Chances::new(&spread, 7, 100, 5, 0);
        let (mut sum, mut square) = ([0.0; 3], [0.0; 3]);
        for replication in 0..100 {
            for tanker in 0..5 {
                for trip in 0..200 {
                    let of = [|t: &Trip| t.loaded, |t: &Trip| t.dump_handling, |t: &Trip| t.fill_service];
                    for (i, factor) in of.into_iter().enumerate() {
                        let x = kept.of(replication).of(tanker, trip, factor);
                        assert_eq!(x, bare.of(replication).of(tanker, trip, factor));
                        sum[i] += x;
                        square[i] += x * x;
                    }
                }
            }
        }
        let n = 100_000.0_f64;
        for (i, cv) in [0.3, 1.0, 0.1].into_iter().enumerate() {
            let mean = sum[i] / n;
            let sd = (square[i] / n - mean * mean).sqrt();
            assert!((mean - 1.0).abs() < 4.0 * cv / n.sqrt(), "mean {mean}");
            assert!((sd / cv - 1.0).abs() < 0.05, "sd {sd} for cv {cv}");
        }
    }
}
