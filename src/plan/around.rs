//! Searches kept from one request to the next: around fill sites and stations, around the dump candidates
//! that loops were asked for, and the loops themselves.
//!
//! A single plan searches from its dump candidates, however many fill sites there are. Whoever plans again and
//! again has the same fill sites each time, so what was found around them is kept; and whoever tries tankers,
//! sites or months asks about the same incident again. What is kept is what would be found anew.

use crate::plan::known::{Known, LoopsKey, PairKey};
use crate::plan::terrain::ClassRoads;
use crate::roads::network::Arc as Road;
use crate::routing::search::{Search, Stand, Tree, Until};
use crate::shuttle::loops::Loop;
use std::collections::HashMap;
use std::sync::{Arc, Mutex, PoisonError};

/// Memory of all that is kept; beyond it, what was not asked for longest goes.
const MOST_BYTES: usize = 128 << 20;

/// Which way a place is driven, and with what.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Way {
    FullFrom,
    FullTo,
    EmptyFrom,
    EmptyTo,
}

/// A search: one tree comes of it, whoever asks.
#[derive(Clone, Copy)]
pub struct Asked<'a> {
    pub way: Way,
    pub at: Stand,
    /// Milliseconds.
    pub bound: u32,
    /// It ends when all these are settled; none if it goes to the bound.
    pub wanted: Option<&'a [Road]>,
}

impl Asked<'_> {
    pub fn search(&self, class: &ClassRoads, search: &mut Search) -> Tree {
        let until = || self.wanted.map_or(Until::Bound, Until::Settled);
        match self.way {
            Way::FullFrom => search.forward(&class.full, self.at, self.bound, |_| 0, until()),
            Way::FullTo => search.backward(&class.full, self.at, self.bound, |_| 0, until()),
            Way::EmptyFrom => search.forward(&class.empty, self.at, self.bound, |_| 0, until()),
            Way::EmptyTo => search.backward(&class.empty, self.at, self.bound, |_| 0, until()),
        }
        search.tree()
    }
}

#[derive(Clone, PartialEq, Eq, Hash)]
struct Key {
    /// Its number.
    class: u64,
    way: Way,
    arc: usize,
    fraction: u64,
    bound: u32,
    wanted: Option<Vec<usize>>,
}

struct KnownTree {
    tree: Arc<Tree>,
    /// By the count of questions.
    asked: u64,
}

#[derive(Default)]
struct Kept {
    known: HashMap<Key, KnownTree>,
    bytes: usize,
    asked: u64,
}

impl Kept {
    /// Down to three quarters, so that it is not done at every question.
    fn make_room(&mut self) {
        let mut order: Vec<(u64, Key)> = self.known.iter().map(|(key, k)| (k.asked, key.clone())).collect();
        order.sort_unstable_by_key(|(asked, _)| *asked);
        for (_, key) in order {
            if self.bytes <= MOST_BYTES / 4 * 3 {
                return;
            }
            self.bytes -= self.known.remove(&key).map_or(0, |gone| gone.tree.bytes());
        }
    }
}

#[derive(Default)]
pub struct Around {
    trees: Mutex<Kept>,
    pub loops: Known<LoopsKey, Vec<Loop>>,
    /// What closes the way between a site and a dump site of one class, if something does.
    pub closed: Known<PairKey, Option<String>>,
}

impl Around {
    pub fn tree(&self, search: &mut Search, class: &ClassRoads, asked: &Asked) -> Arc<Tree> {
        let Asked { way, at, bound, wanted } = *asked;
        let key = Key {
            class: class.number,
            way,
            arc: at.arc.index(),
            fraction: at.fraction.to_bits(),
            bound,
            wanted: wanted.map(|arcs| arcs.iter().map(|arc| arc.index()).collect()),
        };
        // Whoever panicked while holding the lock had changed whole entries.
        let lock = || self.trees.lock().unwrap_or_else(PoisonError::into_inner);
        {
            let mut kept = lock();
            kept.asked += 1;
            let now = kept.asked;
            if let Some(known) = kept.known.get_mut(&key) {
                known.asked = now;
                return known.tree.clone();
            }
        }
        let tree = Arc::new(asked.search(class, search));
        let mut kept = lock();
        let known = KnownTree { tree: tree.clone(), asked: kept.asked };
        kept.bytes += tree.bytes();
        // Two may have searched at once.
        kept.bytes -= kept.known.insert(key, known).map_or(0, |gone| gone.tree.bytes());
        if kept.bytes > MOST_BYTES {
            kept.make_room();
        }
        tree
    }

    /// Whether so many searches over so many states fit in with others beside them.
    pub fn has_room(&self, searches: usize, states: usize) -> bool {
        searches * states * size_of::<u32>() <= MOST_BYTES / 2
    }
}
