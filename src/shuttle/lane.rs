//! Road on which two tankers cannot pass each other.
//!
//! The rules, so that a wait means one thing:
//! - A lane holds any number of tankers that go the same way. Who finds an oncoming one in it waits
//!   at its mouth until the lane is clear.
//! - Who waits is served in order of arrival. A follower who comes while an oncoming tanker waits
//!   lines up behind it, though the lane is still his way: over the radio it is "one more is waiting
//!   at the other end, hold", and without that a file of empty tankers could keep a loaded one out for
//!   as long as it likes. Those next to each other in the line who go the same way enter together.
//! - So nobody starves: whoever waits enters when those before him in the line have passed. And
//!   nobody waits for ever: a tanker holds a lane only while it drives through it, never while it
//!   waits for another, because between two lanes there is always a passing place (a junction, a wide
//!   stretch, a fill or dump site), taken to have room for all who wait there.
//! - The first drive from the station does not use lanes: tankers come one by one from different
//!   sides, and what it would add is less than what is unknown about turnout.
//! - A tanker that is faster this time may catch up and pass another in the lane that goes its way;
//!   on a real lane it would trail it. With a tenth of spread that is seconds.

use super::layout::Layout;
use crate::units::Seconds;
use serde::{Deserialize, Serialize};

/// A narrow stretch of road between two passing places. Its two directions are called forward and
/// backward; which is which means nothing.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Lane {
    /// For people: a street's name.
    pub name: String,
}

/// A lane on a leg, in driving order.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Passage {
    /// Index into [`super::Shuttle::lanes`].
    pub lane: usize,
    pub forward: bool,
    /// Driving time from the start of the leg to the lane's mouth.
    pub after: Seconds,
    /// Driving time through the lane.
    pub take: Seconds,
}

/// One tanker passed one lane.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct LanePass {
    pub lane: usize,
    pub tanker: usize,
    pub forward: bool,
    /// At the mouth.
    pub reaches: Seconds,
    /// Later than `reaches` where it waited for an oncoming tanker.
    pub enters: Seconds,
    pub leaves: Seconds,
}

/// Time lost at the mouths of one lane in one run.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub(super) struct LaneWait {
    pub waited_s: f64,
    pub passages: u32,
    /// Passages that waited at all.
    pub waits: u32,
}

/// The last group of tankers that got or will get the lane together, all in one direction. With
/// service in order of arrival nobody can come between it and the next, so the moment at which a
/// tanker will enter is known when it arrives: no line is kept, and waiting is no event.
#[derive(Clone, Copy)]
struct Group {
    forward: bool,
    /// When it enters.
    enters_s: f64,
    /// When the last of it leaves.
    leaves_s: f64,
}

const NOBODY: Group = Group { forward: true, enters_s: 0.0, leaves_s: 0.0 };

/// All lanes of a shuttle during a run.
#[derive(Default)]
pub(super) struct Lanes {
    last: Vec<Group>,
    waits: Vec<LaneWait>,
    /// The passage each tanker comes to next, and how much longer this leg takes it than its mean.
    next: Vec<(u32, f64)>,
    trace: Option<Vec<LanePass>>,
}

impl Lanes {
    pub fn new(layout: &Layout) -> Self {
        Lanes {
            last: vec![NOBODY; layout.lanes],
            waits: vec![LaneWait::default(); layout.lanes],
            next: vec![(0, 1.0); layout.rows.len()],
            trace: None,
        }
    }

    pub fn keep_trace(&mut self) {
        self.trace = Some(Vec::new());
    }

    pub fn take_trace(&mut self) -> Vec<LanePass> {
        self.trace.take().unwrap_or_default()
    }

    pub fn reset(&mut self) {
        self.last.fill(NOBODY);
        self.waits.fill(LaneWait::default());
        if let Some(trace) = &mut self.trace {
            trace.clear();
        }
    }

    /// The tanker sets out on a leg whose first passage is this; `factor` times the mean of every piece
    /// of it.
    pub fn head_for(&mut self, tanker: usize, passage: u32, factor: f64) {
        self.next[tanker] = (passage, factor);
    }

    /// The tanker is at the mouth: when does it reach the next one, or the end of its leg, and is that
    /// the end? Calls must come in order of time.
    pub fn pass(&mut self, layout: &Layout, tanker: usize, now_s: f64) -> (f64, bool) {
        let (next, factor) = self.next[tanker];
        let passage = &layout.passages[next as usize];
        let lane = passage.lane as usize;
        let last = &mut self.last[lane];
        let take_s = passage.take_s * factor;
        let enters_s = now_s.max(if last.forward == passage.forward { last.enters_s } else { last.leaves_s });
        if last.forward != passage.forward {
            *last = Group { forward: passage.forward, enters_s, leaves_s: enters_s };
        }
        last.leaves_s = last.leaves_s.max(enters_s + take_s);
        let wait = &mut self.waits[lane];
        wait.waited_s += enters_s - now_s;
        wait.passages += 1;
        wait.waits += u32::from(enters_s > now_s);
        if let Some(trace) = &mut self.trace {
            trace.push(LanePass {
                lane,
                tanker,
                forward: passage.forward,
                reaches: Seconds(now_s),
                enters: Seconds(enters_s),
                leaves: Seconds(enters_s + take_s),
            });
        }
        self.next[tanker].0 += 1;
        (enters_s + passage.on_s * factor, passage.last)
    }

    pub fn waits(&self) -> &[LaneWait] {
        &self.waits
    }
}
