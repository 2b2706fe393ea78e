//! Who is in a narrow lane and who waits at its mouths, kept as lists.

/// One lane. Trucks are numbers.
#[derive(Clone, Debug, Default)]
pub struct Mouths {
    /// In it now, and which way.
    inside: Vec<(usize, bool)>,
    /// Waiting at either end, in the order in which they came.
    line: Vec<(usize, bool)>,
}

impl Mouths {
    /// A truck comes to a mouth. True if it may drive on; else it stands in the line. It holds back for
    /// an oncoming truck in the lane, and for whoever came before it and still waits.
    pub fn arrive(&mut self, truck: usize, forward: bool) -> bool {
        let clear = self.inside.iter().all(|(_, way)| *way == forward);
        if clear && self.line.is_empty() {
            self.inside.push((truck, forward));
            return true;
        }
        self.line.push((truck, forward));
        false
    }

    /// A truck leaves. When it was the last, the first of the line may go, and with it those behind it
    /// that go the same way, up to the first that does not.
    pub fn leave(&mut self, truck: usize) -> Vec<usize> {
        self.inside.retain(|(inside, _)| *inside != truck);
        if !self.inside.is_empty() {
            return Vec::new();
        }
        let Some(&(_, way)) = self.line.first() else { return Vec::new() };
        let group = self.line.iter().take_while(|(_, forward)| *forward == way).count();
        self.inside = self.line.drain(..group).collect();
        self.inside.iter().map(|(truck, _)| *truck).collect()
    }
}
