//! Prices of uses, as a search for one leg sees them.

use crate::roads::network::Arc;
use crate::shuttle::pieces::{Pieces, Use};

/// Extra milliseconds per use; nearly all are nothing.
#[derive(Debug, Default)]
pub(super) struct Prices {
    pub of: Vec<u32>,
    touched: Vec<Use>,
}

impl Prices {
    pub fn clear(&mut self, count: usize) {
        for use_ in self.touched.drain(..) {
            self.of[use_ as usize] = 0;
        }
        self.of.resize(count, 0);
    }
    pub fn set(&mut self, of: Use, ms: u32) {
        self.of[of as usize] = ms;
        self.touched.push(of);
    }
    /// Of a leg that drives an arc, loaded.
    pub fn along(&self, pieces: &Pieces, arc: Arc) -> u32 {
        match pieces.whole(arc) {
            Some(of) => self.of[of as usize],
            None => self.sum(pieces.on(arc, 0.0, 1.0)),
        }
    }
    /// Of a leg that drives an arc, empty.
    pub fn against(&self, pieces: &Pieces, arc: Arc) -> u32 {
        match pieces.whole(arc) {
            Some(of) => self.of[(of ^ 1) as usize],
            None => self.sum(pieces.on(arc, 0.0, 1.0).map(|of| of ^ 1)),
        }
    }
    pub fn sum(&self, uses: impl Iterator<Item = Use>) -> u32 {
        uses.fold(0, |sum, of| sum.saturating_add(self.of[of as usize]))
    }
}
