//! What was judged of all stretches: what is asked for in any order at hand, the rest at hand too where it is one part's,
//! and else left in the parts on disk until it is written out.

use super::judge::Judged;
use super::parts::Parts;
use crate::finding::Outcome;
use std::borrow::Cow;

#[derive(Default)]
pub struct Record {
    /// By stretch, gallons a minute; zero where no loop is open.
    pub ceiling_gpm: Vec<f64>,
    /// By stretch, whether a loop is open.
    pub has_loop: Vec<bool>,
    /// By stretch, unless `parts` hold it.
    at_hand: Vec<Judged>,
    parts: Option<Parts>,
}

/// Judged stretches with the number of the first.
pub type Piece<'r> = (usize, Cow<'r, [Judged]>);

impl Record {
    /// Of what is judged by whom nothing was written.
    pub fn at_hand(judged: Vec<Judged>) -> Record {
        let mut record = Record::default();
        record.add(&judged);
        record.at_hand = judged;
        record
    }

    /// Of parts that hold everything: `judged` gives each by its number, and `done` is told stretches.
    pub fn of_parts(
        parts: Parts,
        mut judged: impl FnMut(&Parts, usize) -> Outcome<Vec<Judged>>,
        done: &mut dyn FnMut(usize),
    ) -> Outcome<Record> {
        let all = parts.range(parts.of).end;
        let mut record = Record {
            ceiling_gpm: Vec::with_capacity(all),
            has_loop: Vec::with_capacity(all),
            ..Record::default()
        };
        for number in 1..=parts.of {
            let part = judged(&parts, number)?;
            record.add(&part);
            done(record.len());
            if parts.of == 1 {
                record.at_hand = part;
            }
        }
        record.parts = Some(parts);
        Ok(record)
    }

    fn add(&mut self, judged: &[Judged]) {
        self.ceiling_gpm.extend(judged.iter().map(|judged| judged.ceiling_gpm));
        self.has_loop.extend(judged.iter().map(|judged| judged.bound_by.is_some()));
    }

    pub fn len(&self) -> usize {
        self.ceiling_gpm.len()
    }
    pub fn is_empty(&self) -> bool {
        self.ceiling_gpm.is_empty()
    }

    /// All of it in the order of the stretches, a part at a time. An error where a part is no longer as it was read.
    pub fn pieces(&self) -> impl Iterator<Item = Outcome<Piece<'_>>> {
        let far = self.parts.as_ref().filter(|_| self.at_hand.is_empty());
        let near = far.is_none().then(|| Ok((0, Cow::Borrowed(self.at_hand.as_slice()))));
        let read =
            |parts: &Parts, number: usize| Ok((parts.range(number).start, Cow::Owned(parts.read(number)?)));
        near.into_iter()
            .chain(far.into_iter().flat_map(move |parts| (1..=parts.of).map(move |n| read(parts, n))))
    }

    /// Takes the parts away, where there are any: what is not at hand is then gone.
    pub fn remove_parts(&self) {
        if let Some(parts) = &self.parts {
            parts.remove();
        }
    }
}
