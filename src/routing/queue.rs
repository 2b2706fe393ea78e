//! A radix heap: the queue of a search whose keys never fall below the last one taken.
//!
//! A key moves to a finer bucket at most once per bit, so that a push and a pop together cost less
//! than a comparison heap's (Ahuja, Mehlhorn, Orlin and Tarjan 1990). The benchmark shows by how much.

/// (key, item) pairs, least key first; equal keys in a fixed order.
#[derive(Debug)]
pub struct RadixQueue {
    last: u32,
    /// Bucket 0 holds keys equal to `last`; bucket b those that differ from it first in bit b − 1.
    buckets: [Vec<(u32, u32)>; 33],
}

impl Default for RadixQueue {
    fn default() -> Self {
        RadixQueue { last: 0, buckets: std::array::from_fn(|_| Vec::new()) }
    }
}

impl RadixQueue {
    /// Empties the queue and keeps its memory.
    pub fn clear(&mut self) {
        self.last = 0;
        for bucket in &mut self.buckets {
            bucket.clear();
        }
    }

    /// `key` must not be below the key last popped.
    pub fn push(&mut self, key: u32, item: u32) {
        debug_assert!(key >= self.last);
        let bucket = (32 - (key ^ self.last).leading_zeros()) as usize;
        self.buckets[bucket].push((key, item));
    }

    pub fn pop(&mut self) -> Option<(u32, u32)> {
        if self.buckets[0].is_empty() {
            let from = self.buckets.iter().position(|b| !b.is_empty())?;
            let mut moving = std::mem::take(&mut self.buckets[from]);
            self.last = moving.iter().map(|(key, _)| *key).min()?;
            for &(key, item) in &moving {
                self.push(key, item);
            }
            moving.clear();
            self.buckets[from] = moving;
        }
        self.buckets[0].pop()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use rand::{RngExt, SeedableRng};
    use std::cmp::Reverse;
    use std::collections::BinaryHeap;

    /// The standard library's heap is the oracle.
    #[test]
    fn pops_in_the_order_of_a_binary_heap() {
        for seed in 0..50 {
            let mut rng = rand_pcg::Pcg32::seed_from_u64(seed);
            let (mut queue, mut heap) = (RadixQueue::default(), BinaryHeap::new());
            let mut floor = 0u32;
            for item in 0..2_000 {
                if rng.random_range(0..3) > 0 {
                    let key = floor + rng.random_range(0..5_000);
                    queue.push(key, item);
                    heap.push(Reverse(key));
                } else {
                    let got = queue.pop().map(|(key, _)| key);
                    assert_eq!(got, heap.pop().map(|Reverse(key)| key), "seed {seed}");
                    floor = got.unwrap_or(floor);
                }
            }
        }
    }
}
