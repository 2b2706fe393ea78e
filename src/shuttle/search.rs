//! The greatest level that holds in all but a few replications, with as few runs as possible.
//!
//! Each replication is taken to hold up to some level of its own and to fail above; what is known of
//! it is kept, so a level lower than the last one asks only those that failed, and most of the work
//! is done coming down from above, where runs fail early. A handful of replications find the
//! neighbourhood, a few dozen narrow it, all of them settle it. The order of work depends on nothing
//! but the answers, so threads do not change the result.

use rayon::prelude::*;
use std::collections::BTreeMap;

/// Replications asked together; between batches a level may already be lost.
const BATCH: usize = 64;
/// The same where what is asked is used for one level alone, so that stopping early changes nothing else.
const SMALL_BATCH: usize = 16;

/// What the search knows of each replication.
pub(super) struct Search<F> {
    holds: F,
    /// Level known to hold, level known to fail.
    known: Vec<(u32, u32)>,
    share: f64,
}

impl<F: Fn(u32, u32) -> bool + Sync> Search<F> {
    /// `holds(replication, level)`; level 0 holds by definition. `share` of the replications may fail.
    pub fn new(replications: u32, share: f64, top: u32, holds: F) -> Self {
        Search { holds, known: vec![(0, top + 1); replications as usize], share }
    }

    /// How many of `number` replications may fail.
    fn allowed(&self, number: usize, share: f64) -> usize {
        // 0.1 of 400 must be 40 whatever 1 - 0.9 is in binary.
        (number as f64 * share + 1e-9) as usize
    }

    /// Does the level hold in the first `number` replications, but for `allowed` of them?
    fn good(&mut self, level: u32, number: usize, allowed: usize) -> bool {
        let mut failed = 0;
        for batch in self.known[..number].chunks(BATCH) {
            failed += batch.iter().filter(|k| k.1 <= level).count();
        }
        let holds = &self.holds;
        let mut start = 0;
        for batch in self.known[..number].chunks_mut(BATCH) {
            if failed > allowed {
                return false;
            }
            let lost: usize = batch
                .par_iter_mut()
                .with_min_len(8)
                .enumerate()
                .map(|(i, known)| {
                    if known.0 >= level || known.1 <= level {
                        return 0;
                    }
                    if holds((start + i) as u32, level) {
                        known.0 = level;
                        0
                    } else {
                        known.1 = level;
                        1
                    }
                })
                .sum();
            failed += lost;
            start += batch.len();
        }
        failed <= allowed
    }

    /// Greatest good level for the first `number` replications, starting from a guess.
    fn settle(&mut self, number: usize, share: f64, guess: u32, step: u32, top: u32) -> u32 {
        let allowed = self.allowed(number, share);
        let (mut good, mut bad, mut step) = (0, top + 1, step.max(1));
        let mut level = guess.clamp(1, top);
        loop {
            if self.good(level, number, allowed) {
                good = level;
                if level == top {
                    return top;
                }
                level = level.saturating_add(step).min(top);
            } else {
                bad = level;
                if level == 1 {
                    return 0;
                }
                level = level.saturating_sub(step).max(1);
            }
            step = step.saturating_mul(2);
            if good > 0 && bad <= top || bad <= good + 1 {
                break;
            }
        }
        while bad - good > 1 {
            let middle = good + (bad - good) / 2;
            if self.good(middle, number, allowed) {
                good = middle;
            } else {
                bad = middle;
            }
        }
        good
    }

    /// The answer over all replications, at most `top`.
    pub fn greatest(&mut self, top: u32) -> u32 {
        let all = self.known.len();
        if top == 0 || all == 0 {
            return 0;
        }
        let mut guess = top;
        let mut step = top / 8;
        for few in [4, 32] {
            if few * 2 < all {
                guess = self.settle(few, self.share, guess, step, top);
                step = top / 64;
            }
        }
        if all > 64 {
            // Begin where twice as many fail as may: coming down asks only those.
            let above = self.settle(32, (2.0 * self.share).min(0.5), guess, step, top);
            step = (above - guess.min(above)) / 2;
            guess = above;
        }
        self.settle(all, self.share, guess, step, top)
    }

    /// Is the level held? Asks no more replications than it takes to know, and keeps nothing of it.
    pub fn holds_at(&self, level: u32) -> bool {
        let all = self.known.len();
        let allowed = self.allowed(all, self.share);
        let holds = &self.holds;
        let (mut asked, mut failed) = (0, 0);
        while failed <= allowed && failed + all - asked > allowed {
            let batch = asked..(asked + SMALL_BATCH).min(all);
            asked = batch.end;
            failed += batch.into_par_iter().with_min_len(8).filter(|r| !holds(*r as u32, level)).count();
        }
        failed <= allowed
    }

    /// A level that holds while the next one does not, nothing taken for granted: every replication
    /// that counts for either was asked at that very level. Starts from the answer of `greatest`.
    ///
    /// Needed because a replication may hold at one draw and fail at a slightly lower one: fuller
    /// tanks hold a tanker up, and it comes back that much later.
    pub fn confirmed(&mut self, level: u32, top: u32) -> u32 {
        let mut asked: BTreeMap<u32, Asked> = BTreeMap::new();
        let (mut level, mut step) = (level, 1);
        loop {
            if level == 0 || self.truly(level, &mut asked) {
                break;
            }
            level = level.saturating_sub(step);
            step = step.saturating_mul(2);
        }
        while level < top && self.truly(level + 1, &mut asked) {
            level += 1;
        }
        level
    }

    /// Does the level hold, asking every replication whose answer was only inferred? Inferred failures
    /// come first: they are few and fail early.
    fn truly(&mut self, level: u32, asked: &mut BTreeMap<u32, Asked>) -> bool {
        let all = self.known.len();
        let allowed = self.allowed(all, self.share);
        let from_search = || self.known.iter().map(|known| answer_at(*known, level)).collect();
        let answers = asked.entry(level).or_insert_with(from_search);
        let mut order: Vec<usize> = (0..all).filter(|r| answers[*r].is_none()).collect();
        order.sort_by_key(|r| match self.known[*r] {
            (_, fails) if fails < level => 0,
            (holds, _) if holds < level => 1,
            _ => 2,
        });
        let holds = &self.holds;
        for batch in order.chunks(SMALL_BATCH) {
            let number = |held| answers.iter().filter(|answer| **answer == Some(held)).count();
            if number(false) > allowed {
                return false;
            }
            if number(true) + allowed >= all {
                return true;
            }
            let found: Vec<bool> =
                batch.par_iter().with_min_len(8).map(|r| holds(*r as u32, level)).collect();
            for (r, held) in batch.iter().zip(found) {
                answers[*r] = Some(held);
            }
        }
        answers.iter().filter(|answer| **answer == Some(false)).count() <= allowed
    }
}

/// Answers of all replications at one level, those that were asked.
type Asked = Vec<Option<bool>>;

/// The answer of a replication if it was asked for at this very level.
fn answer_at(known: (u32, u32), level: u32) -> Option<bool> {
    match known {
        (holds, _) if holds == level => Some(true),
        (_, fails) if fails == level => Some(false),
        _ => None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::sync::atomic::{AtomicUsize, Ordering};

    /// Against the answer by counting, for replications with limits of their own (a fixed scramble).
    #[test]
    fn finds_the_quantile() {
        for (all, spread, share) in
            [(1, 1, 0.1), (5, 40, 0.1), (70, 90, 0.1), (400, 60, 0.1), (400, 1, 0.0), (1000, 900, 0.3)]
        {
            for top in [0_u32, 1, 7, 300, 1000] {
                let limit = |r: u32| 40 + (r.wrapping_mul(2_654_435_761) >> 7) % spread;
                let asked = AtomicUsize::new(0);
                let mut search = Search::new(all, share, top, |r, level| {
                    asked.fetch_add(1, Ordering::Relaxed);
                    level <= limit(r)
                });
                let got = search.greatest(top);
                let allowed = (f64::from(all) * share + 1e-9) as usize;
                let want =
                    (0..=top).rev().find(|&l| (0..all).filter(|&r| limit(r) < l).count() <= allowed).unwrap();
                assert_eq!(got, want, "{all} replications, spread {spread}, top {top}");
                assert!(
                    asked.load(Ordering::Relaxed) <= 8 * all as usize + 60,
                    "{} asked",
                    asked.load(Ordering::Relaxed)
                );
            }
        }
    }
}
