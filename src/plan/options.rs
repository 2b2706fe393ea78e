//! Who fills where, at which dump site: assignments judged by the closed form, the best made into
//! shuttles.

use crate::finding::{Finding, Findings, Outcome, Where};
use crate::overlay::Entry;
use crate::plan::fireground::Fireground;
use crate::plan::ground::{Errand, Ground};
use crate::plan::muster::{Muster, draw_limits};
use crate::plan::reach::{QuickLoop, Reach};
use crate::plan::request::Problem;
use crate::routing::topology::seconds;
use crate::shuttle::{Assignment, DrawLimit, Posts, ShuttleError, Terms};
use crate::sites::dump::{DumpCandidate, HoseBed, candidates};
use crate::sites::rig::supply_line;
use crate::units::{Feet, GallonsPerMinute, Seconds};
use crate::water::{BadInput, Checked};
use std::collections::BTreeMap;

/// When a tanker without a known station reaches the dump site, after its turnout (common
/// practice, no source: a quarter of an hour).
pub const ASSUMED_ARRIVAL: Seconds = Seconds(900.0);
/// Most road segments tried for dump sites: each costs two searches a class and direction, and in a
/// town the hose reaches dozens that differ little.
const DUMP_SEGMENTS: usize = 8;
/// What a further fill site must add to be worth its crew, as a share of the ceiling (common
/// practice, no source).
pub(super) const WORTH_A_SITE: f64 = 0.05;
/// Replications by which assignments are compared; the answer's own come after.
const LOOKED_AT: u32 = 64;

/// Driving times and handling of one class on one loop.
#[derive(Clone, Copy, Debug)]
pub struct LoopTimes {
    pub loaded: Seconds,
    pub empty: Seconds,
    pub at_dump: Seconds,
    pub at_fill: Seconds,
}

impl LoopTimes {
    /// Of the quickest loop, a turn at a site taking its time.
    pub fn of(quick: &QuickLoop, site_turn: Seconds) -> LoopTimes {
        let turn = |turns: bool| if turns { site_turn } else { Seconds::ZERO };
        LoopTimes {
            loaded: seconds(quick.loaded_ms),
            empty: seconds(quick.empty_ms),
            at_dump: turn(quick.turns_at_dump),
            at_fill: turn(quick.turns_at_fill),
        }
    }
}

/// One dump site, one fill site for each tanker.
#[derive(Clone, Debug)]
pub struct Choice {
    /// Index into the candidates.
    pub dump: usize,
    /// Fill site of each tanker of the fleet; none where it cannot take part, is left out or not called.
    pub site_of: Vec<Option<usize>>,
    /// Berths worked at each fill site.
    pub berths: Vec<u32>,
    pub ceiling: GallonsPerMinute,
}

impl Choice {
    pub(super) fn of(dump: usize, given: &Assignment) -> Choice {
        let Assignment { site_of, berths, ceiling } = given.clone();
        Choice { dump, site_of, berths, ceiling }
    }

    pub(super) fn assignment(&self) -> Assignment {
        Assignment { site_of: self.site_of.clone(), berths: self.berths.clone(), ceiling: self.ceiling }
    }

    /// The same tankers at the same sites through the same berths.
    pub fn same_way(&self, other: &Choice) -> bool {
        self.dump == other.dump && self.site_of == other.site_of && self.berths == other.berths
    }

    pub fn sites(&self) -> Vec<usize> {
        let mut sites: Vec<usize> = self.site_of.iter().flatten().copied().collect();
        sites.sort_unstable();
        sites.dedup();
        sites
    }
}

/// Dump candidates with the times to them.
pub struct Field<'a, 'r> {
    pub problem: &'a Problem,
    pub ground: &'a Ground<'r>,
    pub fire: Fireground,
    pub reach: Reach<'a, 'r>,
    pub dumps: Vec<DumpCandidate>,
    /// An overlay's entry that took candidates away.
    pub forbidden: Option<Entry>,
    /// What lets the water through at each dump candidate.
    draw: Vec<Vec<DrawLimit>>,
}

impl<'a, 'r> Field<'a, 'r> {
    /// Finds dump candidates and the travel times to them.
    pub fn survey(
        problem: &'a Problem,
        ground: &'a Ground<'r>,
        findings: &mut Findings,
    ) -> Outcome<Field<'a, 'r>> {
        let fire = Fireground::find(problem, ground, findings)?;
        let fleet_file = || Where::file(&problem.fleet_file);
        let bad = |e: BadInput| -> Finding { e.finding(fleet_file()) };
        // So that an unusable rig is refused even where no dump site is found.
        draw_limits(problem, &problem.fleet, None).map_err(bad)?;
        let bed = HoseBed::of(&problem.fleet).map_err(bad)?;
        let usable = |segment: usize| {
            ground.snapper.is_proper(segment)
                && ground.classes.iter().any(|c| c.can_use(segment, Errand::Dump))
        };
        let mut dumps = match &bed {
            Some(bed) => {
                let network = &ground.roads.network;
                let elevation = &problem.roads.elevation;
                candidates(
                    network,
                    fire.incident,
                    &fire.hose_end,
                    fire.pinned.as_ref(),
                    bed,
                    elevation,
                    &usable,
                )?
            }
            None => Vec::new(),
        };
        let moment = &problem.roads.policy.moment;
        let overlay = &problem.roads.overlay;
        let forbidden = dumps.iter().find_map(|dump| overlay.forbids_dump(dump.spot.place, moment)).cloned();
        dumps.retain(|dump| overlay.forbids_dump(dump.spot.place, moment).is_none());
        // Nearest first, so what is cut is the longest lay.
        dumps.truncate(problem.search.dump_candidates);
        let mut segments: Vec<usize> = Vec::new();
        dumps.retain(|dump| {
            let known = segments.contains(&dump.spot.segment);
            if !known && segments.len() < DUMP_SEGMENTS {
                segments.push(dump.spot.segment);
            }
            known || segments.contains(&dump.spot.segment)
        });
        let draw = dumps.iter().map(|dump| {
            let lay = &dump.lay;
            let line = bed
                .as_ref()
                .map(|bed| supply_line(bed, lay.length, lay.lines, lay.rise.unwrap_or(Feet::ZERO)));
            draw_limits(problem, &problem.fleet, line.map(|line| (line, lay.flow)))
        });
        let draw = draw.collect::<Checked<_>>().map_err(bad)?;
        let reach = Reach::search(ground, &segments, problem.search.longest_leg_minutes * 60.0);
        Ok(Field { problem, ground, fire, reach, dumps, forbidden, draw })
    }

    pub fn class_of(&self, tanker: usize) -> usize {
        self.ground.class_of(tanker)
    }

    pub(super) fn site_turn(&self) -> Seconds {
        Seconds(self.ground.roads.table.delay.site_turnaround)
    }

    /// Times of the quickest loops of every class and site at one dump candidate.
    fn quick_times(&self, dump: usize) -> BTreeMap<(usize, usize), LoopTimes> {
        let mut times = BTreeMap::new();
        for class in 0..self.ground.classes.len() {
            for site in 0..self.ground.sites.len() {
                let spot = &self.dumps[dump].spot;
                let Some(quick) = self.reach.quick_loop(class, site, spot, &self.ground.roads.table) else {
                    continue;
                };
                times.insert((class, site), LoopTimes::of(&quick, self.site_turn()));
            }
        }
        times
    }

    /// Every tanker of the fleet, mutual aid with it, and every fill site, under given loop times.
    pub(super) fn posts(&self, dump: usize, times: &BTreeMap<(usize, usize), LoopTimes>) -> Posts {
        let spot = &self.dumps[dump].spot;
        let sites: Vec<usize> = (0..self.ground.sites.len()).collect();
        let muster =
            Muster { problem: self.problem, ground: self.ground, draw: &self.draw[dump], names: true };
        muster.posts(&sites, &|class, tanker| self.reach.station_ms(class, tanker, spot), &|class, site| {
            times.get(&(class, site)).copied()
        })
    }

    /// The same under the quickest loops.
    pub(super) fn quick_posts(&self, dump: usize) -> Posts {
        self.posts(dump, &self.quick_times(dump))
    }

    /// Choices at one dump candidate: each site alone, best first, and, where it beats them, the
    /// fleet spread over several sites.
    ///
    /// Errors: what cannot be simulated, such as a load of a hundredth of a gallon.
    pub fn choices(&self, dump: usize) -> Result<Vec<Choice>, ShuttleError> {
        let posts = self.quick_posts(dump);
        posts.check()?;
        let found = posts.by_ceiling(self.problem.terms.period, &self.problem.fleet.due());
        let best_is_spread = found.first().is_some_and(|best| best.sites().len() > 1);
        let alone = found.iter().skip(usize::from(best_is_spread)).filter(|a| a.sites().len() == 1);
        let carried = found.first().into_iter().filter(|_| best_is_spread).chain(alone);
        Ok(carried.map(|given| Choice::of(dump, given)).collect())
    }

    /// The choice climbed from by simulation on the quickest loops: it knows waiting, which the closed form
    /// does not.
    pub fn refined(&self, choices: &[Choice]) -> Result<Option<Choice>, ShuttleError> {
        let Some(first) = choices.first() else { return Ok(None) };
        let known: Vec<Assignment> = choices.iter().map(Choice::assignment).collect();
        let terms =
            Terms { replications: self.problem.terms.replications.min(LOOKED_AT), ..self.problem.terms };
        let found = self.quick_posts(first.dump).refined(&terms, &known, &self.problem.fleet.due())?;
        Ok(found.map(|(given, _)| Choice::of(first.dump, &given)))
    }
}
