//! The search's queue: 64 buckets of eight seconds in a ring, as on a calendar (Dial 1969).
//!
//! Only the buckets are in order, not what lies in one: the search sets right what it took too early,
//! about one state in a hundred, and compares nothing. An item that comes in again is not looked for where it lies: it lies
//! in both places, and counts in the first. So there is no more to an item than a bit.

/// Milliseconds in a bucket, as a power of two. From 4 to 32 s the search takes about the same time;
/// with 1 s it looks at too many buckets.
const BUCKET_LOG2: u32 = 13;
const BUCKETS: u32 = 64;

const NONE: u32 = u32::MAX;
/// Room is made at once for one in so many items to be in: on real roads far fewer are.
const IN_AT_ONCE: usize = 4;

/// A place in a bucket's line.
#[derive(Clone, Copy, Debug)]
struct Place {
    item: u32,
    /// The next in line; of a free place the next that is free.
    next: u32,
}

/// First and last place of a bucket's line.
#[derive(Clone, Copy, Debug)]
struct Line {
    first: u32,
    last: u32,
}

const NOBODY: Line = Line { first: NONE, last: NONE };

/// Items 0, 1, 2, … by bucket of time; first in, first out within a bucket.
#[derive(Debug)]
pub struct Calendar {
    lines: [Line; BUCKETS as usize],
    places: Vec<Place>,
    /// The first free place.
    free: u32,
    /// A bit for each item that is in.
    within: Vec<u64>,
    /// The bucket being emptied, counted from time zero.
    today: u32,
    /// A bit for each bucket that may hold something.
    filled: u64,
}

impl Default for Calendar {
    fn default() -> Calendar {
        let lines = [NOBODY; BUCKETS as usize];
        Calendar { lines, places: Vec::new(), free: NONE, within: Vec::new(), today: 0, filled: 0 }
    }
}

fn bit(item: u32) -> (usize, u64) {
    ((item / u64::BITS) as usize, 1 << (item % u64::BITS))
}

impl Calendar {
    /// Empties the queue, for this many items; keeps its memory if that number stays.
    pub fn reset(&mut self, items: usize) {
        // Most runs empty it themselves.
        if self.filled != 0 {
            self.places.iter().for_each(|place| self.within[bit(place.item).0] = 0);
        }
        self.places.clear();
        self.places.reserve(items / IN_AT_ONCE);
        self.within.resize(items.div_ceil(u64::BITS as usize), 0);
        self.lines = [NOBODY; BUCKETS as usize];
        (self.free, self.today, self.filled) = (NONE, 0, 0);
    }

    /// Puts an item in for a time not before `floor_ms`, or moves it to an earlier time. What lies beyond the ring
    /// goes into its last bucket; see `is_due`.
    #[inline]
    pub fn put(&mut self, item: u32, ms: u32) {
        debug_assert!(ms >= self.floor_ms());
        let bucket = (ms >> BUCKET_LOG2).min(self.today + BUCKETS - 1) % BUCKETS;
        let own = Place { item, next: NONE };
        let at = self.free;
        let at = match self.places.get_mut(at as usize) {
            Some(free) => {
                self.free = free.next;
                *free = own;
                at
            }
            None => {
                self.places.push(own);
                self.places.len() as u32 - 1
            }
        };
        let line = &mut self.lines[bucket as usize];
        match self.places.get_mut(line.last as usize) {
            Some(last) => last.next = at,
            None => line.first = at,
        }
        line.last = at;
        self.filled |= 1 << bucket;
        let (word, bit) = bit(item);
        self.within[word] |= bit;
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
        let today = self.today % BUCKETS;
        let line = &mut self.lines[today as usize];
        while let Some(place) = self.places.get_mut(line.first as usize) {
            let Place { item, next } = *place;
            place.next = self.free;
            self.free = line.first;
            line.first = next;
            if next == NONE {
                line.last = NONE;
            }
            let (word, bit) = bit(item);
            if self.within[word] & bit != 0 {
                self.within[word] &= !bit;
                return Some(item);
            }
        }
        self.filled &= !(1 << today);
        None
    }

    /// Nothing that is in the queue lies before this, nor may anything be put there.
    pub fn floor_ms(&self) -> u32 {
        self.today << BUCKET_LOG2
    }

    /// False for what lies beyond today: it was taken from the ring's end, or was put in for a later time where it had lain
    /// before. It has to be put in again.
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
