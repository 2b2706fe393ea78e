//! What a search for both legs stands on, and legs laid on arcs.

use crate::routing::search::{Between, Course, Drive, Tree};
use crate::routing::snap::Spot;
use crate::shuttle::loops::ClassGraphs;

/// The ground of one search: a class of tankers, a fill and a dump site, the trees around the latter.
pub struct PairField<'a, 'n> {
    pub graphs: &'a ClassGraphs<'a, 'n>,
    pub fill: &'a Spot,
    pub dump: &'a Spot,
    /// Loaded, from each state to the tail of the arc on each side of the dump site.
    pub to_dump: [&'a Tree; 2],
    /// Empty, from the head of the arc on each side of the dump site to each state.
    pub from_dump: [&'a Tree; 2],
}

/// How hard to look.
#[derive(Clone, Copy, Debug)]
pub struct Effort {
    /// Price steps at the root and at each branch.
    pub rounds: (usize, usize),
    /// Branches looked at.
    pub branches: usize,
    /// Milliseconds by which the answer may miss the best.
    pub gap: u32,
}

/// The empty leg over these arcs, if it can be driven.
pub(super) fn homeward(field: &PairField, course: &Course) -> Option<Between> {
    let (from, to) = (course.from, course.to);
    let ends = (field.dump.stands()[from].fraction, field.fill.stands()[to].fraction);
    let drive = Drive::over(field.graphs.empty, course.arcs.clone(), ends.0, ends.1)?;
    Some(Between { cost: drive.ms, from, to, drive })
}

/// The loaded leg over these arcs the other way, if it can be driven.
pub(super) fn outward(field: &PairField, course: &Course) -> Option<Between> {
    let (from, to) = (1 - course.to, 1 - course.from);
    let ends = (field.fill.stands()[from].fraction, field.dump.stands()[to].fraction);
    let arcs = course.arcs.iter().rev().map(|arc| arc.reversed()).collect();
    let drive = Drive::over(field.graphs.full, arcs, ends.0, ends.1)?;
    Some(Between { cost: drive.ms, from, to, drive })
}
