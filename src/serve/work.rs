//! The queue to the processors. Plans take all of a processor for a while, so that no more run at a time
//! than there are, a bounded number wait, and what nobody waits for any more stops.

use crate::serve::tell::Failed;
use axum::http::StatusCode;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicUsize, Ordering};
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
    /// Called off when the server stops.
    all: Token,
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
        tokio::task::spawn_blocking(move || {
            let _place = place;
            // Nobody may be there to hear it.
            let _ = send.send(work(stop));
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
