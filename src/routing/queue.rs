//! The search's queue: 64 buckets of eight seconds in a ring, as on a calendar (Dial 1969).
//!
//! Only the buckets are in order, not what lies in one: the search sets right what it took too early,
//! about one state in a hundred, and compares nothing. An item lies in the queue once, in lists
//! through memory that holds one link for each item, so no run needs more than the first.

/// Milliseconds in a bucket, as a power of two. From 4 to 32 s the search takes about the same time;
/// with 1 s it looks at too many buckets.
const BUCKET_LOG2: u32 = 13;
const BUCKETS: u32 = 64;
const ABSENT: u32 = u32::MAX;

#[derive(Clone, Copy, Debug)]
struct Link {
    before: u32,
    after: u32,
}

/// Items 0, 1, 2, … by bucket of time; first in, first out within a bucket.
#[derive(Debug, Default)]
pub struct Calendar {
    /// One for each item, then one for each bucket: the ring its items are linked into.
    links: Vec<Link>,
    items: u32,
    /// The bucket being emptied, counted from time zero.
    today: u32,
    /// A bit for each bucket that may hold something.
    filled: u64,
}

impl Calendar {
    /// Empties the queue, for this many items; keeps its memory if that number stays.
    pub fn reset(&mut self, items: usize) {
        if self.links.len() != items + BUCKETS as usize {
            self.items = items as u32;
            self.links = vec![Link { before: ABSENT, after: ABSENT }; items + BUCKETS as usize];
            for (link, ring) in self.links[items..].iter_mut().zip(self.items..) {
                *link = Link { before: ring, after: ring };
            }
        } else {
            while self.next_bucket() {
                while self.take().is_some() {}
            }
        }
        self.today = 0;
        self.filled = 0;
    }

    fn ring(&self, bucket: u32) -> u32 {
        self.items + bucket % BUCKETS
    }

    /// Puts an item in for a time not before `floor_ms`, or moves it there. What lies beyond the ring
    /// goes into its last bucket; see `is_due`.
    #[inline]
    pub fn put(&mut self, item: u32, ms: u32) {
        debug_assert!(ms >= self.floor_ms());
        if self.links[item as usize].after != ABSENT {
            self.unlink(item);
        }
        let bucket = (ms >> BUCKET_LOG2).min(self.today + BUCKETS - 1);
        let ring = self.ring(bucket);
        let last = self.links[ring as usize].before;
        self.links[item as usize] = Link { before: last, after: ring };
        self.links[last as usize].after = item;
        self.links[ring as usize].before = item;
        self.filled |= 1 << (bucket % BUCKETS);
    }

    #[inline]
    fn unlink(&mut self, item: u32) {
        let Link { before, after } = self.links[item as usize];
        self.links[before as usize].after = after;
        self.links[after as usize].before = before;
        self.links[item as usize].after = ABSENT;
    }

    /// Goes on to the next bucket that holds something; false when none does.
    pub fn next_bucket(&mut self) -> bool {
        let ahead = self.filled.rotate_right(self.today % BUCKETS).trailing_zeros();
        if ahead < BUCKETS {
            self.today += ahead;
        }
        ahead < BUCKETS
    }

    /// Takes an item from the bucket, which may be filled meanwhile; `None` once it is empty.
    #[inline]
    pub fn take(&mut self) -> Option<u32> {
        let ring = self.ring(self.today);
        let item = self.links[ring as usize].after;
        if item == ring {
            self.filled &= !(1 << (self.today % BUCKETS));
            return None;
        }
        self.unlink(item);
        Some(item)
    }

    /// Nothing that is in the queue lies before this, nor may anything be put there.
    pub fn floor_ms(&self) -> u32 {
        self.today << BUCKET_LOG2
    }

    /// False for what was taken from the ring's end and lies beyond it: it has to be put in again.
    #[inline]
    pub fn is_due(&self, ms: u32) -> bool {
        ms >> BUCKET_LOG2 <= self.today
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use rand::{RngExt, SeedableRng};

    const ITEMS: u32 = 300;

    /// A plain table of times is the oracle: what is taken is in it, lies in the bucket, and none is
    /// forgotten. Times reach ten times around the ring.
    #[test]
    fn takes_each_item_once_and_in_the_order_of_buckets() {
        for seed in 0..50 {
            let mut rng = rand_pcg::Pcg32::seed_from_u64(seed);
            let mut queue = Calendar::default();
            queue.reset(ITEMS as usize);
            let mut due: Vec<Option<u32>> = vec![None; ITEMS as usize];
            let mut give = |queue: &mut Calendar, due: &mut Vec<Option<u32>>| {
                let reach = if rng.random_range(0..9) == 0 { 640 } else { 3 } << BUCKET_LOG2;
                let (item, ms) = (rng.random_range(0..ITEMS), queue.floor_ms() + rng.random_range(0..reach));
                due[item as usize] = Some(ms);
                queue.put(item, ms);
            };
            for _ in 0..200 {
                give(&mut queue, &mut due);
            }
            let mut taken = 0;
            while queue.next_bucket() {
                let floor = queue.floor_ms();
                while let Some(item) = queue.take() {
                    let ms = due[item as usize].expect("it had been put in");
                    assert!(ms >= floor, "seed {seed}");
                    if !queue.is_due(ms) {
                        queue.put(item, ms);
                        continue;
                    }
                    due[item as usize] = None;
                    taken += 1;
                    if taken < 2_000 {
                        give(&mut queue, &mut due);
                    }
                }
                let forgotten = due.iter().flatten().any(|ms| queue.is_due(*ms));
                assert!(!forgotten, "seed {seed}");
            }
            assert!(due.iter().all(Option::is_none), "seed {seed}");
        }
    }

    #[test]
    fn a_reset_leaves_nothing() {
        let mut queue = Calendar::default();
        queue.reset(10);
        for item in 0..10 {
            queue.put(item, 1_000_000 * item);
        }
        assert!(queue.next_bucket());
        assert_eq!(queue.take(), Some(0));
        queue.reset(10);
        assert!(!queue.next_bucket());
        queue.put(3, 5);
        assert!(queue.next_bucket());
        assert_eq!((queue.take(), queue.take()), (Some(3), None));
    }
}
