//! The guided search's queue over the nodes of a core: shelves of a few seconds (Dial 1969), last in, first out
//! within one. Steps towards the goal stay on the shelf, so that a search goes straight for it; what is taken too
//! early on a shelf is set right, as labels may be bettered at any time. An item whose key is not its label's any more
//! is stale.

/// Milliseconds of a shelf, as a power of two.
const SHELF_LOG2: u32 = 11;
const NONE: u32 = u32::MAX;

#[derive(Clone, Copy, Debug)]
struct Item {
    key: u32,
    node: u32,
    /// The item beneath it on the shelf.
    below: u32,
}

#[derive(Debug, Default)]
pub(super) struct Shelves {
    items: Vec<Item>,
    /// The top item of each shelf that the bits below tell to be filled.
    tops: Vec<u32>,
    filled: Vec<u64>,
    /// The shelf the search is at: what has a lesser key is put there.
    at: u32,
}

impl Shelves {
    pub fn clear(&mut self) {
        self.items.clear();
        self.filled.fill(0);
        self.at = 0;
    }

    #[inline]
    pub fn put(&mut self, key: u32, node: u32) {
        let shelf = (key >> SHELF_LOG2).max(self.at);
        let (word, bit) = ((shelf >> 6) as usize, 1u64 << (shelf & 63));
        if word >= self.filled.len() {
            self.filled.resize(word + 1, 0);
            self.tops.resize((word + 1) * 64, NONE);
        }
        let top = &mut self.tops[shelf as usize];
        let below = if self.filled[word] & bit == 0 { NONE } else { *top };
        *top = self.items.len() as u32;
        self.filled[word] |= bit;
        self.items.push(Item { key, node, below });
    }

    /// The next key and node, none where all that is left lies on shelves beyond the bound.
    #[inline]
    pub fn take(&mut self, bound: u32) -> Option<(u32, u32)> {
        let mut word = (self.at >> 6) as usize;
        let mut ahead = self.filled.get(word)? & (!0 << (self.at & 63));
        while ahead == 0 {
            word += 1;
            ahead = *self.filled.get(word)?;
        }
        self.at = (word as u32) << 6 | ahead.trailing_zeros();
        if self.at > bound >> SHELF_LOG2 {
            return None;
        }
        let top = &mut self.tops[self.at as usize];
        let Item { key, node, below } = self.items[*top as usize];
        *top = below;
        if below == NONE {
            self.filled[word] &= !(1 << (self.at & 63));
        }
        Some((key, node))
    }
}
