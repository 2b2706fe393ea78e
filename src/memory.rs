//! What can be let go while others look at its owner; and what the system's allocator keeps and gives back, nothing where
//! it is not glibc's.

use std::fmt;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

/// Something that can be made anew and may be let go until then.
pub struct Spare<T>(Mutex<Option<Arc<T>>>);

impl<T> Default for Spare<T> {
    /// Not made yet.
    fn default() -> Spare<T> {
        Spare(Mutex::new(None))
    }
}

impl<T> Spare<T> {
    pub fn new(it: T) -> Spare<T> {
        Spare(Mutex::new(Some(Arc::new(it))))
    }

    fn lock(&self) -> MutexGuard<'_, Option<Arc<T>>> {
        self.0.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// What `make` gives where it was let go. Threads that ask at once may each make it: nobody waits for another, who
    /// may wait for him.
    pub fn get(&self, make: impl FnOnce() -> T) -> Arc<T> {
        if let Some(known) = &*self.lock() {
            return known.clone();
        }
        let made = Arc::new(make());
        self.lock().get_or_insert(made).clone()
    }

    /// Whoever has it keeps it.
    pub fn let_go(&self) {
        self.lock().take();
    }
}

impl<T> Clone for Spare<T> {
    fn clone(&self) -> Spare<T> {
        Spare(Mutex::new(self.lock().clone()))
    }
}

impl<T> fmt::Debug for Spare<T> {
    fn fmt(&self, f: &mut fmt::Formatter) -> fmt::Result {
        f.write_str("Spare")
    }
}

/// Freed memory is kept for what asks next instead of being given back at once: a zone, which asks for much and often,
/// is 2 to 4 % quicker, and the most that a run holds is the same within a few MB. To be called once, before other threads
/// run.
pub fn keep_freed() {
    #[cfg(all(target_os = "linux", target_env = "gnu"))]
    {
        const KEPT_BYTES: libc::c_int = 64 << 20;
        const MAPPED_FROM_BYTES: libc::c_int = 32 << 20;
        // SAFETY: mallopt(3) sets numbers of the allocator and may be called at any time; what it does not take it
        // leaves as it is.
        unsafe {
            libc::mallopt(libc::M_TRIM_THRESHOLD, KEPT_BYTES);
            libc::mallopt(libc::M_MMAP_THRESHOLD, MAPPED_FROM_BYTES);
        }
    }
}

/// Gives back what is free, at the end of a piece of work that needed much more than the next will. Takes milliseconds.
pub fn give_back_freed() {
    #[cfg(all(target_os = "linux", target_env = "gnu"))]
    // SAFETY: malloc_trim(3) may be called at any time from any thread and touches nothing that is in use.
    unsafe {
        libc::malloc_trim(0);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_was_let_go_is_made_anew() {
        let spare = Spare::new(1);
        let kept = spare.get(|| 2);
        assert_eq!(*kept, 1);
        let other = spare.clone();
        spare.let_go();
        assert_eq!([*kept, *spare.get(|| 3), *spare.get(|| 4), *other.get(|| 5)], [1, 3, 3, 1]);
    }
}
