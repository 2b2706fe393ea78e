//! What was worked out for one pair of fill and dump site, kept for whoever asks again.
//!
//! A key holds all that the answer depends on beside the roads, for each set of roads has its own.

use crate::routing::snap::Spot;
use crate::shuttle::loops::Ways;
use std::collections::HashMap;
use std::hash::Hash;
use std::mem::Discriminant;
use std::sync::{Arc, Mutex, PoisonError};

/// Answers kept of one kind: a hundred incidents with a dozen sites and a few classes of tankers. Loops are
/// the largest, with a few kilobytes each.
const MOST: usize = 4_096;

/// Where a spot is on the road, to the bit.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct At(usize, u64);

impl From<&Spot> for At {
    fn from(spot: &Spot) -> At {
        At(spot.segment, spot.fraction.to_bits())
    }
}

/// A fill site and a dump site, and who drives between them.
#[derive(Clone, Debug, PartialEq, Eq, Hash)]
pub struct PairKey {
    /// The number of `ClassRoads`.
    pub class: u64,
    pub fill: At,
    pub dump: At,
}

#[derive(Clone, Debug, PartialEq, Eq, Hash)]
pub struct LoopsKey {
    pub pair: PairKey,
    pub ways: Discriminant<Ways>,
    /// What the searches around the dump site, by which loops are found, ended by: milliseconds, and all
    /// fill sites.
    pub longest_ms: u32,
    pub fills: Vec<Option<At>>,
}

/// An answer and the count of questions when it was asked for last.
type Entry<V> = (Arc<V>, u64);

pub struct Known<K, V>(Mutex<(HashMap<K, Entry<V>>, u64)>);

impl<K, V> Default for Known<K, V> {
    fn default() -> Self {
        Known(Mutex::default())
    }
}

impl<K: Eq + Hash, V> Known<K, V> {
    /// What is known, or what `find` finds. Two who ask at once may both look.
    pub fn get(&self, key: K, find: impl FnOnce() -> V) -> Arc<V> {
        // Whoever panicked while holding the lock had changed whole entries.
        let lock = || self.0.lock().unwrap_or_else(PoisonError::into_inner);
        {
            let (known, asked) = &mut *lock();
            *asked += 1;
            if let Some((value, at)) = known.get_mut(&key) {
                *at = *asked;
                return value.clone();
            }
        }
        let value = Arc::new(find());
        let (known, asked) = &mut *lock();
        if known.len() >= MOST {
            // The half that was not asked for longest goes, so that it is not done at every question.
            let mut order: Vec<u64> = known.values().map(|(_, at)| *at).collect();
            order.sort_unstable();
            let from = order[order.len() / 2];
            known.retain(|_, (_, at)| *at >= from);
        }
        known.insert(key, (value.clone(), *asked));
        value
    }
}

#[cfg(test)]
mod tests {
    use super::{Known, MOST};

    #[test]
    fn what_was_asked_for_last_is_kept() {
        let known = Known::default();
        for i in 0..MOST {
            assert_eq!(*known.get(i, || i * 2), i * 2);
        }
        assert_eq!(*known.get(1, || 0), 2, "known");
        // One more: the older half goes, but for what was asked for since.
        assert_eq!(*known.get(MOST, || 7), 7);
        assert_eq!(*known.get(1, || 0), 2, "asked for lately");
        assert_eq!(*known.get(MOST - 1, || 0), MOST * 2 - 2, "the newer half");
        assert_eq!(*known.get(2, || 5), 5, "found anew");
    }
}
