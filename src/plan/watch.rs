//! Who looks on while a plan is worked out: hears what is known so far, and may call it off.

use crate::finding::{Code, Outcome, Refusal, Where};
use crate::plan::answer::Answer;
use crate::units::GallonsPerMinute;

/// What is known so far.
pub enum Progress<'a> {
    /// The answer without the simulation, before it begins.
    Ceilings(&'a Answer),
    /// One more case is simulated.
    Simulated {
        done: usize,
        of: usize,
        /// Number of the option in the answer without the simulation, if it is one of them.
        option: Option<usize>,
        /// None where it is less than what every option so far sustains.
        flow: Option<GallonsPerMinute>,
    },
}

/// Called from several threads.
pub trait Watch: Sync {
    /// Nobody waits for the answer any more.
    fn called_off(&self) -> bool {
        false
    }

    /// Whether `tell` is to hear anything: the answer without the simulation takes time to write.
    fn listens(&self) -> bool {
        false
    }

    fn tell(&self, _progress: Progress) {}
}

/// Nobody looks on.
pub struct Unwatched;

impl Watch for Unwatched {}

/// The error of a plan that was called off.
pub(super) fn go_on(watch: &dyn Watch) -> Outcome<()> {
    if !watch.called_off() {
        return Ok(());
    }
    Err(Refusal::new(
        Code::CalledOff,
        Where::default(),
        "the plan was called off before it was done",
        "ask again",
    ))
}
