//! Prices of uses, as a search for one leg sees them, and what both legs' having a use costs.

use crate::shuttle::lay::Lay;
use crate::shuttle::pieces::Use;

/// Extra milliseconds per use; nearly all are nothing.
#[derive(Debug, Default)]
pub(super) struct Prices {
    /// A stretch in pieces has the sum of theirs.
    pub of: Vec<u32>,
    touched: Vec<Use>,
}

impl Prices {
    pub fn clear(&mut self, count: usize) {
        for of in self.touched.drain(..) {
            self.of[of as usize] = 0;
        }
        self.of.resize(count, 0);
    }
    /// Once for each use after it was cleared.
    pub fn set(&mut self, lay: &Lay, of: Use, ms: u32) {
        if ms == 0 {
            return;
        }
        self.of[of as usize] = ms;
        self.touched.push(of);
        if let Some(along) = lay.piece(of).and_then(|piece| lay.stretch_of(piece)) {
            let sum = &mut self.of[along as usize];
            *sum = sum.saturating_add(ms);
            self.touched.push(along);
        }
    }
    pub fn sum(&self, uses: &[Use]) -> u32 {
        uses.iter().fold(0, |sum, of| sum.saturating_add(self.of[*of as usize]))
    }
}

/// What both legs' having a use costs, in milliseconds.
#[derive(Clone, Copy)]
pub struct Meeting<'m> {
    pub of_piece: &'m dyn Fn(Use) -> u32,
    /// Where its weights are kept.
    pub kept: Kept,
}

/// Weights of stretches are kept from one pair of sites to the next, of each kind of loop apart.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Kept {
    LeastOpposing,
    Circuit,
}

/// What is known of the weights of uses.
#[derive(Debug, Default)]
pub(super) struct Weights {
    /// Number of the core they are of.
    core: Option<u64>,
    /// One more than the weight, nothing where it was not asked for.
    of: Vec<u64>,
    /// Pieces that were asked for: they are numbered anew for each pair of sites.
    pieces: Vec<Use>,
}

impl Weights {
    pub fn begin(&mut self, lay: &Lay) {
        if self.core != Some(lay.core.number) {
            self.of.clear();
            self.pieces.clear();
            self.core = Some(lay.core.number);
        }
        for of in self.pieces.drain(..) {
            self.of[of as usize] = 0;
        }
        self.of.resize(lay.count(), 0);
    }

    pub fn of(&mut self, lay: &Lay, of: Use, of_piece: &dyn Fn(Use) -> u32) -> u32 {
        let known = &mut self.of[of as usize];
        if *known == 0 {
            let ms = match lay.piece(of) {
                Some(piece) => {
                    self.pieces.push(of);
                    of_piece(piece)
                }
                None => {
                    lay.core.stretches.arcs(of).fold(0u32, |sum, arc| sum.saturating_add(of_piece(arc.0)))
                }
            };
            *known = u64::from(ms) + 1;
        }
        (*known - 1) as u32
    }
}
