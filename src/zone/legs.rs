//! Legs between one fill site and the middle of one stretch, and what is known of the loops they make.

use crate::plan::reach::QuickLoop;

pub const NONE: u32 = u32::MAX;

/// Where a time lies among eight: leg (loaded, empty), side of the fill site, direction of the stretch.
pub fn at(leg: usize, side: usize, direction: usize) -> usize {
    leg * 4 + side * 2 + direction
}

/// Milliseconds of one class, in the order of [`at`].
#[derive(Clone, Copy, Debug)]
pub struct Legs {
    /// `NONE` where there is no way.
    pub ms: [u32; 8],
    /// A bit for each that is a bound only: it takes that long or longer.
    pub bounds: u8,
}

/// What is known of the quickest loop.
#[derive(Clone, Copy, Debug)]
pub enum Known {
    /// It is this one, or there is none within reach.
    Loop(Option<QuickLoop>),
    /// It may need a leg that nobody looked for, of so many milliseconds at most.
    Unsure(u32),
}

impl Legs {
    fn is_bound(&self, i: usize) -> bool {
        self.bounds >> i & 1 == 1
    }

    pub fn is_exact(&self, i: usize) -> bool {
        self.ms[i] != NONE && !self.is_bound(i)
    }

    /// The least that a leg takes, whatever turns it needs.
    pub fn least_ms(&self, leg: usize) -> u32 {
        self.ms[leg * 4..leg * 4 + 4].iter().copied().min().unwrap_or(NONE)
    }

    /// The quickest loop whose legs are no longer than `longest_ms`, under the rule of [`QuickLoop::of`].
    pub fn quickest(&self, turn_ms: u32, longest_ms: u32) -> Known {
        if self.least_ms(0).max(self.least_ms(1)) > longest_ms {
            return Known::Loop(None);
        }
        let exact = |i: usize| self.is_exact(i).then_some(self.ms[i]);
        let found = QuickLoop::least(
            |side, direction| exact(at(0, side, direction)),
            |direction, side| exact(at(1, side, direction)),
            turn_ms,
        );
        if self.bounds != 0 {
            let most = found.map_or(NONE, |quick| quick.drive_ms(turn_ms));
            if self.least_unsure(turn_ms) <= most {
                return Known::Unsure(
                    most.saturating_sub(self.least_ms(0).min(self.least_ms(1))).saturating_add(1),
                );
            }
        }
        Known::Loop(found.filter(|quick| quick.is_within(longest_ms)))
    }

    /// The least of all loops of which a leg is a bound only.
    fn least_unsure(&self, turn_ms: u32) -> u32 {
        let mut least = NONE;
        for out in 0..4 {
            for home in 4..8 {
                if self.is_bound(out) || self.is_bound(home) {
                    let turns = (out ^ home) & 3;
                    let turning = turn_ms * turns.count_ones();
                    least = least.min(self.ms[out].saturating_add(self.ms[home]).saturating_add(turning));
                }
            }
        }
        least
    }
}
