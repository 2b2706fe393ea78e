//! Memory of searches, kept from one block to the next.

use crate::routing::search::Search;
use std::sync::{Mutex, MutexGuard, PoisonError};

/// Searches that wait for work, so that their memory, which is that of the whole network, is laid out once for
/// each thread.
#[derive(Default)]
pub struct Pool(Mutex<Vec<Search>>);

/// A search out of the pool; it goes back there.
pub struct Lent<'p> {
    pool: &'p Pool,
    pub search: Search,
}

impl Pool {
    pub fn take(&self) -> Lent<'_> {
        let search = self.list().pop().unwrap_or_default();
        Lent { pool: self, search }
    }

    fn list(&self) -> MutexGuard<'_, Vec<Search>> {
        self.0.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

impl Drop for Lent<'_> {
    fn drop(&mut self) {
        self.pool.list().push(std::mem::take(&mut self.search));
    }
}
