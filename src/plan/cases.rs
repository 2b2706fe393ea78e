//! Choices on real loops: each becomes a shuttle for every loop kind it has.

use crate::plan::options::{Choice, Field, LoopTimes};
use crate::routing::topology::seconds;
use crate::shuttle::lanes;
use crate::shuttle::loops::{self, Loop, LoopKind};
use crate::shuttle::{self, Shuttle};
use crate::units::Seconds;
use rayon::prelude::*;
use std::collections::{BTreeMap, BTreeSet};

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

/// Loops by dump candidate, class and site: the quickest, and the least opposing where it differs.
type LoopBook = BTreeMap<(usize, usize, usize), (Loop, Option<Loop>)>;

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
        let book: LoopBook = wanted.into_par_iter().filter_map(|key| Some((key, self.loops(key)?))).collect();
        choices.iter().flat_map(|choice| self.cases_of(choice, &book)).collect()
    }

    fn loops(&self, (dump, class, site): (usize, usize, usize)) -> Option<(Loop, Option<Loop>)> {
        let spot = &self.dumps[dump].spot;
        let graphs = self.ground.classes[class].graphs(self.ground.roads);
        let quick = self.reach.quick_loop(class, site, spot, &self.ground.roads.table)?;
        let found = loops::quickest(&graphs, &quick.ends)?;
        let quiet = match &self.ground.sites[site].state {
            Ok(fill) if found.opposing.shared.0 > 0.0 => {
                loops::least_opposing(&graphs, &found, &fill.spot, spot)
            }
            _ => None,
        };
        Some((found, quiet))
    }

    /// One loop kind for all tankers; a kind is left out where no loop is of its own.
    fn cases_of(&self, choice: &Choice, book: &LoopBook) -> Vec<Case> {
        let (mut quick, mut quiet) = (BTreeMap::new(), BTreeMap::new());
        let mut differs = false;
        for (tanker, site) in choice.site_of.iter().enumerate() {
            let Some(site) = *site else { continue };
            let class = self.class_of(tanker);
            let Some((fast, calm)) = book.get(&(choice.dump, class, site)) else { continue };
            differs |= calm.is_some();
            quiet.insert((class, site), calm.as_ref().unwrap_or(fast).clone());
            quick.insert((class, site), fast.clone());
        }
        let mut cases = vec![self.case(choice, LoopKind::Quickest, quick)];
        if differs {
            cases.push(self.case(choice, LoopKind::LeastOpposing, quiet));
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
        let (mut free, tankers, fills) = self.shuttle(choice.dump, &choice.site_of, &plain);
        let graphs: Vec<_> =
            loops.keys().map(|(class, _)| self.ground.classes[*class].graphs(self.ground.roads)).collect();
        let driven: Vec<_> = graphs.iter().zip(loops.values()).collect();
        let found = lanes::find(&driven);
        for (tanker, member) in free.tankers.iter_mut().zip(&tankers) {
            let key = (self.class_of(*member), fills[tanker.fill]);
            if let Some(at) = loops.keys().position(|known| *known == key) {
                tanker.empty_lanes = found.loops[at].empty.clone();
                tanker.loaded_lanes = found.loops[at].loaded.clone();
            }
        }
        free.lanes = found.lanes;
        // What cannot be simulated is refused when it is.
        let shuttle = shuttle::worth_simulating(&free).unwrap_or_else(|_| free.clone());
        Case { choice: choice.clone(), kind, loops, shuttle, free, tankers, fills }
    }
}
