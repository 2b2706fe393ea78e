//! Figures of a shuttle, kept for whoever asks for the same again: a plan asks for some twice, and the next plan
//! for the same incident, with another need, a road closed that no loop uses or one site less, for most of them.
//!
//! A figure is a function of the numbers in its key and of nothing else, so that whoever asks gets what would be
//! found anew. Names are no part of it.

use super::layout::Layout;
use super::sustained::Terms;
use super::{Spread, Vary};
use std::collections::HashMap;
use std::sync::{LazyLock, Mutex, PoisonError};

/// Which figure of a shuttle.
#[derive(Clone, Copy)]
pub(super) enum Figure {
    /// The sustained flow.
    Flow,
    /// One if this draw is sustained, zero if not.
    Holds(f64),
    /// From when this draw is held.
    HeldFrom(f64),
    /// In which share of the replications this draw holds.
    Share(f64),
}

/// All that a figure depends on, to the bit.
#[derive(PartialEq, Eq, Hash)]
pub(super) struct Key(Vec<u64>);

impl Key {
    pub fn new(layout: &Layout, own: [f64; 3], spread: &Spread, terms: &Terms, figure: Figure) -> Key {
        let mut bits = Vec::with_capacity(160);
        layout.bits(&mut bits);
        bits.extend(own.map(f64::to_bits));
        bits.extend([spread.travel, spread.handling, spread.service].into_iter().flat_map(vary_bits));
        // The need is no part of it: a figure that asks for a draw names it.
        let Terms { need: _, period, reliability, replications, seed } = *terms;
        bits.extend([period.0.to_bits(), reliability.to_bits(), u64::from(replications), seed]);
        bits.extend(match figure {
            Figure::Flow => [0, 0],
            Figure::Holds(flow) => [1, flow.to_bits()],
            Figure::HeldFrom(flow) => [2, flow.to_bits()],
            Figure::Share(flow) => [3, flow.to_bits()],
        });
        Key(bits)
    }
}

fn vary_bits(vary: Vary) -> [u64; 2] {
    match vary {
        Vary::Fixed => [0, 0],
        Vary::LogNormal { cv } => [1, cv.to_bits()],
        Vary::Exponential => [2, 0],
    }
}

/// Figures of one generation, about 5 MB; two are kept.
const MOST: usize = 4_096;

/// Those asked for lately, and those asked for before them.
#[derive(Default)]
struct Kept {
    young: HashMap<Key, f64>,
    old: HashMap<Key, f64>,
}

impl Kept {
    fn get(&mut self, key: &Key) -> Option<f64> {
        if let Some(figure) = self.young.get(key) {
            return Some(*figure);
        }
        let (key, figure) = self.old.remove_entry(key)?;
        self.put(key, figure);
        Some(figure)
    }

    fn put(&mut self, key: Key, figure: f64) {
        if self.young.len() >= MOST {
            self.old = std::mem::take(&mut self.young);
        }
        self.young.insert(key, figure);
    }
}

static KEPT: LazyLock<Mutex<Kept>> = LazyLock::new(Mutex::default);

/// The figure as it is known, or as `find` finds it. Two who ask at once may both look.
pub(super) fn figure(key: Key, find: impl FnOnce() -> f64) -> f64 {
    // Whoever panicked while holding the lock had changed whole entries.
    let kept = || KEPT.lock().unwrap_or_else(PoisonError::into_inner);
    let known = kept().get(&key);
    known.unwrap_or_else(|| {
        let found = find();
        kept().put(key, found);
        found
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_asked_for_stays() {
        let key = |i: usize| Key(vec![i as u64]);
        let mut kept = Kept::default();
        (0..MOST).for_each(|i| kept.put(key(i), i as f64));
        // A new generation begins; what is asked for goes into it.
        kept.put(key(MOST), 0.5);
        assert_eq!(kept.get(&key(7)), Some(7.0));
        (MOST + 1..2 * MOST).for_each(|i| kept.put(key(i), 0.0));
        assert_eq!((kept.get(&key(7)), kept.get(&key(8))), (Some(7.0), None));
    }
}
