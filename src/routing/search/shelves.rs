//! The guided search's queue over the nodes of a core: shelves of a few seconds (Dial 1969), last in, first out
//! within one. Steps towards the goal stay on the shelf, so that a search goes straight for it; what is taken too
//! early on a shelf is set right, as labels may be bettered at any time. An item whose key is not its label's any more
//! is stale.

/// Milliseconds of a shelf, as a power of two.
const SHELF_LOG2: u32 = 11;
const NONE: u32 = u32::MAX;

#[derive(Clone, Copy, Debug)]
struct Item {
    key: u32,
    node: u32,
    /// The item beneath it on the shelf.
    below: u32,
}

#[derive(Debug, Default)]
pub(super) struct Shelves {
    items: Vec<Item>,
    /// The top item of each shelf that the bits below tell to be filled.
    tops: Vec<u32>,
    filled: Vec<u64>,
    /// The shelf the search is at: what has a lesser key is put there.
    at: u32,
}

impl Shelves {
    pub fn clear(&mut self) {
        self.items.clear();
        self.filled.fill(0);
        self.at = 0;
    }

    #[inline]
    pub fn put(&mut self, key: u32, node: u32) {
        let shelf = (key >> SHELF_LOG2).max(self.at);
        let (word, bit) = ((shelf >> 6) as usize, 1u64 << (shelf & 63));
        if word >= self.filled.len() {
            self.filled.resize(word + 1, 0);
            self.tops.resize((word + 1) * 64, NONE);
        }
        let top = &mut self.tops[shelf as usize];
        let below = if self.filled[word] & bit == 0 { NONE } else { *top };
        *top = self.items.len() as u32;
        self.filled[word] |= bit;
        self.items.push(Item { key, node, below });
    }

    /// The next key and node, none where all that is left lies on shelves beyond the bound.
    #[inline]
    pub fn take(&mut self, bound: u32) -> Option<(u32, u32)> {
        let mut word = (self.at >> 6) as usize;
        let mut ahead = self.filled.get(word)? & (!0 << (self.at & 63));
        while ahead == 0 {
            word += 1;
            ahead = *self.filled.get(word)?;
        }
        self.at = (word as u32) << 6 | ahead.trailing_zeros();
        if self.at > bound >> SHELF_LOG2 {
            return None;
        }
        let top = &mut self.tops[self.at as usize];
        let Item { key, node, below } = self.items[*top as usize];
        *top = below;
        if below == NONE {
            self.filled[word] &= !(1 << (self.at & 63));
        }
        Some((key, node))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use rand::{RngExt, SeedableRng};

    /// A plain list is the oracle: what is taken was put in and lies on the least shelf that holds something, but for
    /// what came too late for its own; at the bound nothing is left that lies on a shelf below it. Run twice, so that
    /// what the first leaves does not come up in the second.
    #[test]
    fn takes_each_item_once_and_in_the_order_of_shelves() {
        for seed in 0..50 {
            println!("seed {seed}");
            let mut rng = rand_pcg::Pcg32::seed_from_u64(seed);
            let mut shelves = Shelves::default();
            for bound in [300_000_u32, 150_000] {
                shelves.clear();
                let mut held: Vec<(u32, u32)> = Vec::new();
                let (mut number, mut at) = (0, 0);
                for _ in 0..400 {
                    for _ in 0..rng.random_range(0..4) {
                        let key = rng.random_range(0..400_000);
                        shelves.put(key, number);
                        held.push((key, number));
                        number += 1;
                    }
                    let Some(taken) = shelves.take(bound) else {
                        assert!(held.iter().all(|(key, _)| key >> SHELF_LOG2 > bound >> SHELF_LOG2));
                        break;
                    };
                    let place = held.iter().position(|item| *item == taken).expect("it had been put in");
                    held.swap_remove(place);
                    let shelf = |key: u32| (key >> SHELF_LOG2).max(at);
                    assert!(held.iter().all(|(key, _)| shelf(*key) >= shelf(taken.0)));
                    at = shelf(taken.0);
                }
            }
        }
    }
}
