//! The queue to the processors. Plans take all of a processor for a while, so that no more run at a time
//! than there are, a bounded number wait, and what nobody waits for any more stops.
//!
//! A plan that begins alone has all threads; beside others it gets one. Plans that share threads take turns
//! with each other's parts, and a short one would wait within for the long one it helped.

use crate::serve::tell::Failed;
use axum::http::StatusCode;
use rayon::{ThreadPool, ThreadPoolBuilder};
use std::sync::atomic::{AtomicBool, AtomicUsize, Ordering};
use std::sync::{Arc, Mutex, PoisonError};
use std::time::Instant;
use tokio::sync::{Semaphore, oneshot};

/// Told to work that nobody waits for it.
#[derive(Clone, Debug, Default)]
pub struct Token(Arc<AtomicBool>);

impl Token {
    pub fn call_off(&self) {
        self.0.store(true, Ordering::Relaxed);
    }
    pub fn is_called_off(&self) -> bool {
        self.0.load(Ordering::Relaxed)
    }
}

/// Calls its work off when it goes: it lives as long as whoever waits for the answer.
pub struct Waiting(Token);

impl Drop for Waiting {
    fn drop(&mut self) {
        self.0.call_off();
    }
}

/// By what a piece of work knows that it should stop.
#[derive(Clone, Debug)]
pub struct Stop {
    token: Token,
    all: Token,
    until: Instant,
}

impl Stop {
    pub fn now(&self) -> bool {
        self.token.is_called_off() || self.all.is_called_off() || Instant::now() > self.until
    }
}

#[derive(Clone, Debug)]
pub struct Limits {
    /// Pieces of work at a time.
    pub workers: usize,
    /// Pieces of work that may wait.
    pub waiting: usize,
    /// Longest that a request may take, waiting and all.
    pub time: std::time::Duration,
    /// Largest request body, bytes.
    pub body: usize,
}

pub struct Queue {
    limits: Limits,
    places: Arc<Semaphore>,
    waiting: Arc<AtomicUsize>,
    single: Arc<Singles>,
    /// Called off when the server stops.
    all: Token,
}

/// Pools of one thread, lent to work that is not alone.
#[derive(Default)]
struct Singles(Mutex<Vec<ThreadPool>>);

impl Singles {
    fn run<T: Send>(&self, work: impl FnOnce() -> T + Send) -> T {
        let idle = || self.0.lock().unwrap_or_else(PoisonError::into_inner);
        let lent = idle().pop();
        let Some(pool) = lent.or_else(|| ThreadPoolBuilder::new().num_threads(1).build().ok()) else {
            // No thread is to be had: then with all others.
            return work();
        };
        let done = pool.install(work);
        idle().push(pool);
        done
    }
}

/// Counts down when it goes.
struct Counted(Arc<AtomicUsize>);

impl Drop for Counted {
    fn drop(&mut self) {
        self.0.fetch_sub(1, Ordering::AcqRel);
    }
}

impl Queue {
    pub fn new(limits: Limits) -> Queue {
        Queue {
            places: Arc::new(Semaphore::new(limits.workers.max(1))),
            waiting: Arc::default(),
            single: Arc::default(),
            all: Token::default(),
            limits,
        }
    }

    /// Stops all that is under way.
    pub fn close(&self) {
        self.all.call_off();
        self.places.close();
    }

    /// Waits for a place and starts the work on a thread of its own. The work is called off when `Waiting` goes.
    pub async fn start<T: Send + 'static>(
        &self,
        work: impl FnOnce(Stop) -> T + Send + 'static,
    ) -> Result<(oneshot::Receiver<T>, Waiting), Failed> {
        let stopping = || Failed::new(StatusCode::SERVICE_UNAVAILABLE, "the server is stopping");
        let until = Instant::now() + self.limits.time;
        let place = match self.places.clone().try_acquire_owned() {
            Ok(place) => place,
            Err(_) => {
                let before = self.waiting.fetch_add(1, Ordering::AcqRel);
                let _counted = Counted(self.waiting.clone());
                if before >= self.limits.waiting {
                    return Err(Failed::busy());
                }
                let place = tokio::time::timeout(self.limits.time, self.places.clone().acquire_owned());
                place.await.map_err(|_| Failed::too_long())?.map_err(|_| stopping())?
            }
        };
        let token = Token::default();
        let stop = Stop { token: token.clone(), all: self.all.clone(), until };
        let (send, receive) = oneshot::channel();
        let alone = self.places.available_permits() + 1 >= self.limits.workers;
        let single = self.single.clone();
        tokio::task::spawn_blocking(move || {
            let _place = place;
            let done = if alone { work(stop) } else { single.run(|| work(stop)) };
            // Nobody may be there to hear it.
            let _ = send.send(done);
        });
        Ok((receive, Waiting(token)))
    }

    /// The same, and waits for the end.
    pub async fn run<T: Send + 'static>(
        &self,
        work: impl FnOnce(Stop) -> T + Send + 'static,
    ) -> Result<T, Failed> {
        let (result, _waiting) = self.start(work).await?;
        // The sender goes unused only where the work panicked.
        result.await.map_err(|_| {
            Failed::new(
                StatusCode::INTERNAL_SERVER_ERROR,
                "this request cannot be worked out; report it with its scenario",
            )
        })
    }
}
