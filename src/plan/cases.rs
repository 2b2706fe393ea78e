//! Choices on real loops: each becomes a shuttle for every loop kind it has.

use crate::plan::options::{Choice, Field, LoopTimes};
use crate::routing::topology::{millis, seconds};
use crate::shuttle::loops::{Finder, Loop, LoopKind};
use crate::shuttle::pair::{Effort, PairField, Scratch};
use crate::shuttle::{self, Shuttle, Tanker};
use crate::units::Seconds;
use rayon::prelude::*;
use std::collections::{BTreeMap, BTreeSet};

/// Far enough that what is left is small beside what nobody knows of roads and drivers; DEVELOPERS.md
/// has the gaps measured.
pub const LOOP_EFFORT: Effort = Effort { rounds: (12, 4), branches: 12, gap: 1_000 };

/// A choice with its loops, as a shuttle.
#[derive(Clone, Debug)]
pub struct Case {
    pub choice: Choice,
    pub kind: LoopKind,
    /// Loop of each class at each site used.
    pub loops: BTreeMap<(usize, usize), Loop>,
    pub shuttle: Shuttle,
    /// Fleet index of each tanker of the shuttle.
    pub tankers: Vec<usize>,
    /// Site of each fill of the shuttle.
    pub fills: Vec<usize>,
}

/// Loops by dump candidate, class and site, the quickest first.
type LoopBook = BTreeMap<(usize, usize, usize), Vec<Loop>>;

impl Field<'_, '_> {
    /// The choices as shuttles. Choices share dump sites and fill sites, so each loop is found once.
    pub fn cases(&self, choices: &[Choice]) -> Vec<Case> {
        let wanted: BTreeSet<(usize, usize, usize)> = choices
            .iter()
            .flat_map(|c| {
                let tankers = c.site_of.iter().enumerate();
                tankers.filter_map(|(t, site)| Some((c.dump, self.class_of(t), (*site)?)))
            })
            .collect();
        let wanted: Vec<_> = wanted.into_iter().collect();
        let book: LoopBook = wanted
            .into_par_iter()
            .map_init(Scratch::default, |scratch, key| (key, self.loops(key, scratch)))
            .filter(|(_, loops)| !loops.is_empty())
            .collect();
        choices.iter().flat_map(|choice| self.cases_of(choice, &book)).collect()
    }

    fn loops(&self, (dump, class, site): (usize, usize, usize), scratch: &mut Scratch) -> Vec<Loop> {
        let dump = &self.dumps[dump].spot;
        let class_ = &self.ground.classes[class];
        let (Some(fill), Some([to_dump, from_dump])) = (self.reach.fill(site), self.reach.trees(class, dump))
        else {
            return Vec::new();
        };
        let graphs = class_.graphs(self.ground.roads);
        let field = PairField { graphs: &graphs, fill, dump, to_dump, from_dump };
        Finder { field, only_links: class_.only_links(), effort: LOOP_EFFORT }.loops(scratch)
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
                let Some(found) = book.get(&(choice.dump, class, site)) else { continue };
                let own = found.iter().find(|l| l.kind == kind);
                differs |= own.is_some();
                loops.insert((class, site), own.unwrap_or(&found[0]).clone());
            }
            if differs {
                cases.push(self.case(choice, kind, loops));
            }
        }
        cases.into_iter().filter(|c| !c.shuttle.tankers.is_empty()).collect()
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
        let (free, ..) = self.shuttle(choice.dump, &choice.site_of, &plain);
        // Waiting for oncoming tankers lengthens both legs alike.
        let mut times = plain;
        for ((_, site), time) in &mut times {
            let on_site: Vec<&Tanker> = free
                .tankers
                .iter()
                .filter(|t| free.fills[t.fill].name == self.ground.sites[*site].site.name)
                .collect();
            let cycles: f64 = on_site.iter().map(|t| shuttle::cycle(t, &free.fills[t.fill]).total().0).sum();
            let mean = Seconds(cycles / on_site.len().max(1) as f64);
            let wait = loops
                .iter()
                .filter(|((_, s), _)| s == site)
                .map(|(_, l)| l.meeting_wait(on_site.len(), mean).0)
                .fold(0.0, f64::max);
            // Whole milliseconds, as all travel times are.
            let half = seconds(millis(wait / 2.0));
            time.loaded = time.loaded + half;
            time.empty = time.empty + half;
        }
        let (shuttle, tankers, fills) = self.shuttle(choice.dump, &choice.site_of, &times);
        Case { choice: choice.clone(), kind, loops, shuttle, tankers, fills }
    }
}
