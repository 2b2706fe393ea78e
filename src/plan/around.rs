//! Searches around places that stay the same from one request to the next: fill sites and stations.
//!
//! A single plan searches from its dump candidates, however many fill sites there are. Whoever plans again and
//! again has the same fill sites each time, so what was found around them is kept. Both find the same times.

use crate::plan::terrain::ClassRoads;
use crate::routing::search::{Search, Stand, Tree, Until};
use std::collections::HashMap;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::sync::{Arc, Mutex, PoisonError};

/// Memory of all that is kept; what goes beyond it is searched for anew each time.
const MOST_BYTES: usize = 128 << 20;

/// Which way a place is driven, and with what.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Way {
    /// Full, from the place on.
    FullFrom,
    /// Empty, to the place.
    EmptyTo,
}

#[derive(PartialEq, Eq, Hash)]
struct Key {
    /// Where the class lies in memory: it is kept beside.
    class: usize,
    way: Way,
    arc: usize,
    fraction: u64,
    bound: u32,
}

#[derive(Default)]
pub struct Around<'r> {
    kept: Mutex<HashMap<Key, (Arc<ClassRoads<'r>>, Arc<Tree>)>>,
    bytes: AtomicUsize,
}

impl<'r> Around<'r> {
    /// What lies within `bound` milliseconds of a place.
    pub fn tree(
        &self,
        search: &mut Search,
        class: &Arc<ClassRoads<'r>>,
        way: Way,
        at: Stand,
        bound: u32,
    ) -> Arc<Tree> {
        let (arc, fraction) = (at.arc.index(), at.fraction.to_bits());
        let key = Key { class: Arc::as_ptr(class) as usize, way, arc, fraction, bound };
        // Whoever panicked while holding the lock was reading or adding one whole entry.
        let lock = || self.kept.lock().unwrap_or_else(PoisonError::into_inner);
        if let Some((_, tree)) = lock().get(&key) {
            return tree.clone();
        }
        match way {
            Way::FullFrom => search.forward(&class.full, at, bound, |_| 0, Until::Bound),
            Way::EmptyTo => search.backward(&class.empty, at, bound, |_| 0, Until::Bound),
        }
        let tree = Arc::new(search.tree());
        if self.bytes.fetch_add(tree.bytes(), Ordering::Relaxed) < MOST_BYTES {
            lock().insert(key, (class.clone(), tree.clone()));
        }
        tree
    }

    /// Whether so many more searches over so many states could be kept.
    pub fn has_room(&self, searches: usize, states: usize) -> bool {
        searches * states * size_of::<u32>() <= MOST_BYTES
    }
}
