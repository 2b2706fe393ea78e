//! Choices on real loops: each becomes a shuttle for every loop kind it has.

use crate::plan::options::{Choice, Field, LoopTimes};
use crate::routing::snap::Spot;
use crate::routing::topology::seconds;
use crate::shuttle::lanes;
use crate::shuttle::loops::{Finder, Loop, LoopKind};
use crate::shuttle::pair::{Effort, PairField, Scratch};
use crate::shuttle::{self, Shuttle};
use crate::units::Seconds;
use crate::vehicle::Load;
use rayon::prelude::*;
use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

/// Far enough that what is left is small beside what nobody knows of roads and drivers; DEVELOPERS.md
/// has the gaps measured. Twice the rounds at the root and a second branch shorten the circuits of the Isle
/// of Man by 0.2 % and take more than twice as long (`cargo bench --bench loops`).
pub const LOOP_EFFORT: Effort = Effort { rounds: (2, 1), branches: 1, gap: 5_000 };

/// Less than this is no reason to send tankers another way.
const WORTH_A_CHANGE_GPM: f64 = 1.0;

/// A choice with its loops, as a shuttle.
#[derive(Clone, Debug)]
pub struct Case {
    pub choice: Choice,
    pub kind: LoopKind,
    /// Loop of each class at each site used.
    pub loops: BTreeMap<(usize, usize), Loop>,
    /// What is simulated: the lanes that matter, what the others cost put on the legs.
    pub shuttle: Shuttle,
    /// The same with every lane and bare driving times.
    pub free: Shuttle,
    /// Fleet index of each tanker of the shuttle.
    pub tankers: Vec<usize>,
    /// Site of each fill of the shuttle.
    pub fills: Vec<usize>,
}

/// Loops by dump candidate, class and site, the quickest first; empty where there is none.
pub type LoopBook = BTreeMap<(usize, usize, usize), Arc<Vec<Loop>>>;

impl Field<'_, '_> {
    /// The choices as shuttles. Choices share dump sites and fill sites, so each loop is found once.
    pub fn cases(&self, choices: &[Choice]) -> Vec<Case> {
        self.cases_from(choices, &mut LoopBook::new())
    }

    /// The same, with the loops that are known; what is not is added to them.
    pub fn cases_from(&self, choices: &[Choice], book: &mut LoopBook) -> Vec<Case> {
        let wanted: BTreeSet<(usize, usize, usize)> = choices
            .iter()
            .flat_map(|c| {
                let tankers = c.site_of.iter().enumerate();
                tankers.filter_map(|(t, site)| Some((c.dump, self.class_of(t), (*site)?)))
            })
            .collect();
        let unknown: Vec<_> = wanted.into_iter().filter(|key| !book.contains_key(key)).collect();
        let found: Vec<_> = unknown
            .into_par_iter()
            .map_init(Scratch::default, |scratch, key| (key, self.loops(key, scratch)))
            .collect();
        book.extend(found);
        choices.iter().flat_map(|choice| self.cases_of(choice, book)).collect()
    }

    /// The loops of one class between one dump candidate and one fill site.
    pub fn loops(&self, (dump, class, site): (usize, usize, usize), scratch: &mut Scratch) -> Arc<Vec<Loop>> {
        let (dump, Some(fill)) = (&self.dumps[dump].spot, self.reach.fill(site)) else {
            return Arc::default();
        };
        match &self.ground.around {
            Some(around) => {
                let key = self.reach.loops_key(class, (fill, dump), self.problem.search.loops);
                around.loops.get(key, || self.loops_between(class, (fill, dump), scratch))
            }
            None => Arc::new(self.loops_between(class, (fill, dump), scratch)),
        }
    }

    fn loops_between(&self, class: usize, (fill, dump): (&Spot, &Spot), scratch: &mut Scratch) -> Vec<Loop> {
        let Some([to_dump, from_dump]) = self.reach.trees(class, dump) else { return Vec::new() };
        let class_ = &self.ground.classes[class];
        let graphs = class_.graphs(self.ground.roads);
        let field = PairField { graphs: &graphs, cores: &class_.cores, fill, dump, to_dump, from_dump };
        let ways = self.problem.search.loops;
        Finder { field, only_links: class_.only_links(), effort: LOOP_EFFORT, ways }.loops(scratch)
    }

    /// One loop kind for all tankers; a kind is left out where no loop is of its own.
    fn cases_of(&self, choice: &Choice, book: &LoopBook) -> Vec<Case> {
        let mut cases: Vec<Case> = Vec::new();
        for kind in [LoopKind::Quickest, LoopKind::LeastOpposing, LoopKind::Circuit] {
            let mut loops = BTreeMap::new();
            let mut differs = kind == LoopKind::Quickest;
            for (tanker, site) in choice.site_of.iter().enumerate() {
                let Some(site) = *site else { continue };
                let class = self.class_of(tanker);
                let Some(found) = book.get(&(choice.dump, class, site)).filter(|l| !l.is_empty()) else {
                    continue;
                };
                let own = found.iter().find(|l| l.kind == kind);
                differs |= own.is_some();
                loops.insert((class, site), own.unwrap_or(&found[0]).clone());
            }
            if differs {
                cases.push(self.case(choice, kind, loops));
            }
        }
        cases.extend(self.together(choice, book, &cases));
        cases.into_iter().filter(|c| !c.shuttle.tankers.is_empty()).collect()
    }

    /// Loops chosen together, so that tankers of different sites keep out of each other's way on narrow
    /// road: from the best of the cases known, one loop at a time is changed for another of the same
    /// site as long as the flow expected with all meetings rises. None where that changes nothing.
    fn together(&self, choice: &Choice, book: &LoopBook, cases: &[Case]) -> Option<Case> {
        let expected = |case: &Case| {
            let flow = shuttle::expected_flow(&case.free, self.problem.terms.period);
            flow.map_or(0.0, |ceiling| ceiling.flow.0)
        };
        let lanes_met = |case: &Case| !case.free.lanes.is_empty();
        let (mut best, mut best_gpm) = cases
            .iter()
            .map(|case| (case.clone(), expected(case)))
            .reduce(|a, b| if b.1 > a.1 { b } else { a })?;
        if best.loops.len() < 2 || !lanes_met(&best) {
            return None;
        }
        let mut changed = false;
        let mut again = true;
        while std::mem::take(&mut again) {
            for (class, site) in best.loops.keys().copied().collect::<Vec<_>>() {
                for other in book.get(&(choice.dump, class, site)).into_iter().flat_map(|found| found.iter())
                {
                    let mut loops = best.loops.clone();
                    if loops.insert((class, site), other.clone()).as_ref() == Some(other) {
                        continue;
                    }
                    let case = self.case(choice, LoopKind::LeastOpposing, loops);
                    let gpm = expected(&case);
                    if gpm > best_gpm + WORTH_A_CHANGE_GPM {
                        (best, best_gpm) = (case, gpm);
                        (changed, again) = (true, true);
                    }
                }
            }
        }
        let new = changed && cases.iter().all(|case| case.loops != best.loops);
        new.then_some(best)
    }

    fn case(&self, choice: &Choice, kind: LoopKind, loops: BTreeMap<(usize, usize), Loop>) -> Case {
        let turn = |turns: bool| if turns { self.site_turn() } else { Seconds::ZERO };
        let plain: BTreeMap<(usize, usize), LoopTimes> = loops
            .iter()
            .map(|(key, l)| {
                let times = LoopTimes {
                    loaded: seconds(l.loaded.ms),
                    empty: seconds(l.empty.ms),
                    at_dump: turn(l.turns_at_dump),
                    at_fill: turn(l.turns_at_fill),
                };
                (*key, times)
            })
            .collect();
        let (mut free, tankers, fills) = self.posts(choice.dump, &plain).shuttle(&choice.assignment());
        let graphs: Vec<_> =
            loops.keys().map(|(class, _)| self.ground.classes[*class].graphs(self.ground.roads)).collect();
        let driven: Vec<_> = graphs.iter().zip(loops.values()).collect();
        let found = lanes::find(&driven);
        let pace = &self.problem.pace;
        for (tanker, member) in free.tankers.iter_mut().zip(&tankers) {
            let key = (self.class_of(*member), fills[tanker.fill]);
            if let Some(at) = loops.keys().position(|known| *known == key) {
                tanker.empty_lanes = pace.passages(Load::Empty, &found.loops[at].empty);
                tanker.loaded_lanes = pace.passages(Load::Full, &found.loops[at].loaded);
            }
        }
        free.lanes = found.lanes;
        // What cannot be simulated is refused when it is.
        let shuttle = shuttle::worth_simulating(&free).unwrap_or_else(|_| free.clone());
        Case { choice: choice.clone(), kind, loops, shuttle, free, tankers, fills }
    }
}
