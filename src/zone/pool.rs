//! Memory of searches, kept from one block to the next.

use super::nearest::Nearest;
use super::reached::Grid;
use crate::routing::hierarchy::sweep::{Lanes, Sweeper};
use crate::routing::search::Search;
use std::ops::{Deref, DerefMut};
use std::sync::{Mutex, MutexGuard, PoisonError};

/// What one thread searches with.
pub struct Tools {
    pub search: Search,
    pub nearest: Nearest,
    pub grid: Grid,
    pub sweeper: Sweeper,
    /// Of what was swept, see `whole`.
    pub times: Vec<Lanes>,
    /// Seats and milliseconds.
    pub beyond: Vec<(u32, u32)>,
}

impl Default for Tools {
    fn default() -> Tools {
        Tools {
            search: Search::of_times(),
            nearest: Nearest::default(),
            grid: Grid::default(),
            sweeper: Sweeper::default(),
            times: Vec::new(),
            beyond: Vec::new(),
        }
    }
}

/// Tools that wait for work, so that their memory, which is that of the whole network, is laid out once for
/// each thread.
#[derive(Default)]
pub struct Pool(Mutex<Vec<Tools>>);

/// Tools out of the pool; they go back there.
pub struct Lent<'p> {
    pool: &'p Pool,
    tools: Tools,
}

impl Pool {
    pub fn take(&self) -> Lent<'_> {
        let tools = self.list().pop().unwrap_or_default();
        Lent { pool: self, tools }
    }

    /// Gives the memory of the tools back that nobody has.
    pub fn empty(&self) {
        self.list().clear();
    }

    fn list(&self) -> MutexGuard<'_, Vec<Tools>> {
        self.0.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

impl Deref for Lent<'_> {
    type Target = Tools;
    fn deref(&self) -> &Tools {
        &self.tools
    }
}

impl DerefMut for Lent<'_> {
    fn deref_mut(&mut self) -> &mut Tools {
        &mut self.tools
    }
}

impl Drop for Lent<'_> {
    fn drop(&mut self) {
        self.pool.list().push(std::mem::take(&mut self.tools));
    }
}
