//! Who is near enough to matter: at each seat the least few times of all sites searched so far.
//!
//! A search that comes to a seat later than all of these, and by more than a slack, is not followed there. Whoever
//! lies beyond it is nearer to each of those sites as well, so nothing is lost but sites that rank behind so many
//! others, and of those it is known how far they are at least. The slack is the time of a turn at a site: by it the
//! sides of one site differ, and both are wanted where one is. (The pruning of Akiba, Iwata and Yoshida's labels, 2013, by
//! rank instead of by distance; from memory.)

const NONE: u32 = u32::MAX;
/// Seats whose lists are laid out together: where no search comes nothing is.
const TOGETHER: usize = 256;

/// Lists of one class and leg.
#[derive(Default)]
pub struct Nearest {
    /// Times kept a seat; without any nothing is cut off.
    keep: usize,
    /// How much later than all of them a search is still followed.
    slack: u32,
    /// By seat, the last of its list and the slack; none while the list is not full.
    limit: Vec<u32>,
    /// By `TOGETHER` seats, each seat's times in ascending order.
    lists: Vec<Option<Box<[u32]>>>,
}

impl Nearest {
    /// Begins anew.
    pub fn begin(&mut self, seats: usize, keep: usize, slack: u32) {
        (self.keep, self.slack) = (keep, slack);
        if self.limit.len() != seats {
            self.limit = vec![NONE; seats];
            self.lists.resize_with(seats.div_ceil(TOGETHER), || None);
        }
        self.clear();
    }

    /// Forgets all times, and gives the memory of the lists back: the next may be of another part of the roads.
    pub fn clear(&mut self) {
        for (limits, list) in self.limit.chunks_mut(TOGETHER).zip(&mut self.lists) {
            if list.take().is_some() {
                limits.fill(NONE);
            }
        }
    }

    /// Milliseconds beyond which nothing at the seat matters.
    #[inline]
    pub fn limit(&self, seat: u32) -> u32 {
        self.limit[seat as usize]
    }

    /// Takes note of a time, one for each side of each site.
    #[inline]
    pub fn add(&mut self, seat: u32, ms: u32) {
        let at = seat as usize;
        let keep = self.keep;
        if keep == 0 || ms >= self.limit[at] {
            return;
        }
        let lists = self.lists[at / TOGETHER].get_or_insert_with(|| vec![NONE; TOGETHER * keep].into());
        let list = &mut lists[at % TOGETHER * keep..][..keep];
        let mut place = keep - 1;
        if ms >= list[place] {
            return;
        }
        while place > 0 && list[place - 1] > ms {
            list[place] = list[place - 1];
            place -= 1;
        }
        list[place] = ms;
        self.limit[at] = list[keep - 1].saturating_add(self.slack);
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use rand::{RngExt, SeedableRng};

    #[test]
    fn the_limit_is_the_last_of_the_least_few() {
        let mut rng = rand_pcg::Pcg32::seed_from_u64(3);
        let mut nearest = Nearest::default();
        for round in 0..3 {
            let keep = 3 + round as usize / 2;
            nearest.begin(600, keep, round);
            let mut all: Vec<Vec<u32>> = vec![Vec::new(); 600];
            for _ in 0..4_000 {
                let (seat, ms) = (rng.random_range(0..600u32), rng.random_range(0..50u32));
                nearest.add(seat, ms);
                all[seat as usize].push(ms);
                all[seat as usize].sort_unstable();
                let last = all[seat as usize].get(keep - 1).copied();
                assert_eq!(nearest.limit(seat), last.map_or(NONE, |ms| ms + round));
            }
        }
        nearest.begin(600, 0, 5);
        nearest.add(7, 1);
        assert_eq!(nearest.limit(7), NONE);
    }
}
