//! Who fills where, at which dump site: assignments judged by the closed form, the best made into
//! shuttles.

use crate::finding::{Finding, Outcome, Where};
use crate::overlay::Entry;
use crate::plan::ground::{Errand, Ground};
use crate::plan::reach::Reach;
use crate::plan::request::Problem;
use crate::routing::topology::seconds;
use crate::shuttle::{self, DrawKind, DrawLimit, Dump, Fill, Shuttle, ShuttleError, Tanker};
use crate::sites::dump::{DumpCandidate, HoseBed, candidates};
use crate::sites::rig::{rig_of, supply_line};
use crate::sites::share::{Part, share_out};
use crate::units::{Feet, GallonsPerMinute, Seconds};
use crate::water::rig::{RigLimit, SupplyLine};
use crate::water::transfer::TransferSettings;
use crate::water::{BadInput, Checked};
use std::collections::BTreeMap;

/// When a tanker without a known station reaches the dump site, after its turnout (common
/// practice, no source: a quarter of an hour).
pub const ASSUMED_ARRIVAL: Seconds = Seconds(900.0);
/// Dump berths without a wish: one crew can set two tankers at a time (common practice, no source).
const MOST_DUMP_BERTHS: usize = 2;
/// Most road segments tried for dump sites: each costs two searches a class and direction, and in a
/// town the hose reaches dozens that differ little.
const DUMP_SEGMENTS: usize = 8;
/// What a further fill site must add to be worth its crew, as a share of the ceiling (common
/// practice, no source).
const WORTH_A_SITE: f64 = 0.05;

/// Driving times and handling of one class on one loop.
#[derive(Clone, Copy, Debug)]
pub struct LoopTimes {
    pub loaded: Seconds,
    pub empty: Seconds,
    pub at_dump: Seconds,
    pub at_fill: Seconds,
}

/// One dump site, one fill site for each tanker.
#[derive(Clone, Debug)]
pub struct Choice {
    /// Index into the candidates.
    pub dump: usize,
    /// Fill site of each tanker of the fleet; none where it cannot take part.
    pub site_of: Vec<Option<usize>>,
    pub ceiling: GallonsPerMinute,
}

impl Choice {
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
    pub reach: Reach<'a, 'r>,
    pub dumps: Vec<DumpCandidate>,
    /// An overlay's entry that took candidates away.
    pub forbidden: Option<Entry>,
    /// What lets the water through at each dump candidate.
    draw: Vec<Vec<DrawLimit>>,
}

/// What pumper, suctions, tanks and siphons let through, and what the supply line carries.
fn draw_limits(problem: &Problem, line: Option<SupplyLine>) -> Checked<Vec<DrawLimit>> {
    let rig = rig_of(&problem.fleet, &problem.rig, line)?;
    let found = rig.at_the_tanks(&TransferSettings::default())?;
    let kind = match found.limit {
        RigLimit::PumpAtLift | RigLimit::PumpAtPressure => DrawKind::Pumper,
        RigLimit::Suction => DrawKind::Suction,
        RigLimit::Siphons | RigLimit::SingleTank => DrawKind::Siphons,
        RigLimit::SupplyLine => DrawKind::SupplyLine,
    };
    Ok(vec![DrawLimit { kind, flow: found.flow }])
}

impl<'a, 'r> Field<'a, 'r> {
    /// Finds dump candidates and the travel times to them.
    pub fn survey(problem: &'a Problem, ground: &'a Ground<'r>) -> Outcome<Field<'a, 'r>> {
        let fleet_file = || Where::file(&problem.fleet_file);
        let bad = |e: BadInput| -> Finding { e.finding(fleet_file()) };
        // So that an unusable rig is refused even where no dump site is found.
        draw_limits(problem, None).map_err(bad)?;
        let bed = HoseBed::of(&problem.fleet).map_err(bad)?;
        let usable = |segment: usize| {
            ground.snapper.is_proper(segment)
                && ground.classes.iter().any(|c| c.can_use(segment, Errand::Dump))
        };
        let mut dumps = match &bed {
            Some(bed) => {
                let network = &ground.roads.network;
                let (frontage, pinned) = (&ground.hose_end, ground.pinned.as_ref());
                let elevation = &problem.roads.elevation;
                candidates(network, problem.incident, frontage, pinned, bed, elevation, &usable)?
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
            let mut limits = draw_limits(problem, line)?;
            limits.push(DrawLimit { kind: DrawKind::SupplyLine, flow: lay.flow });
            Ok(limits)
        });
        let draw = draw.collect::<Checked<_>>().map_err(bad)?;
        let reach = Reach::search(ground, &segments, problem.search.longest_leg_minutes * 60.0);
        Ok(Field { problem, ground, reach, dumps, forbidden, draw })
    }

    pub fn class_of(&self, tanker: usize) -> usize {
        self.ground.classes.iter().position(|c| c.tankers.contains(&tanker)).unwrap_or(0)
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
                let turn = |turns: bool| if turns { self.site_turn() } else { Seconds::ZERO };
                times.insert(
                    (class, site),
                    LoopTimes {
                        loaded: seconds(quick.loaded_ms),
                        empty: seconds(quick.empty_ms),
                        at_dump: turn(quick.turns_at_dump),
                        at_fill: turn(quick.turns_at_fill),
                    },
                );
            }
        }
        times
    }

    /// The shuttle of an assignment under given loop times; with the fleet index of each tanker and
    /// the site of each fill.
    pub(super) fn shuttle(
        &self,
        dump: usize,
        site_of: &[Option<usize>],
        times: &BTreeMap<(usize, usize), LoopTimes>,
    ) -> (Shuttle, Vec<usize>, Vec<usize>) {
        let problem = self.problem;
        let mut fills: Vec<usize> = site_of.iter().flatten().copied().collect();
        fills.sort_unstable();
        fills.dedup();
        let mut members = Vec::new();
        let mut tankers = Vec::new();
        for (i, tanker) in problem.fleet.tankers.iter().enumerate() {
            let Some(site) = site_of[i] else { continue };
            let class = self.class_of(i);
            let Some(time) = times.get(&(class, site)) else { continue };
            let travel = match self.ground.stations[i] {
                None => Some(ASSUMED_ARRIVAL),
                Some(_) => self.reach.station_ms(class, i, &self.dumps[dump].spot).map(seconds),
            };
            let Some(travel) = travel else { continue };
            let handling = self.ground.sites[site].site.handling.unwrap_or(tanker.fill_handling);
            members.push(i);
            tankers.push(Tanker {
                name: tanker.chassis.id.clone(),
                load: tanker.usable,
                fill: fills.iter().position(|f| *f == site).unwrap_or(0),
                arrives: tanker.chassis.turnout + travel,
                empty_travel: time.empty,
                loaded_travel: time.loaded,
                empty_lanes: Vec::new(),
                loaded_lanes: Vec::new(),
                intake: tanker.intake,
                dump_rate: tanker.dump_rate,
                fill_handling: handling + time.at_fill,
                dump_handling: tanker.dump_handling + time.at_dump,
            });
        }
        let berths = problem
            .rig
            .dump_berths
            .unwrap_or(problem.fleet.portable_tanks.len().clamp(1, MOST_DUMP_BERTHS) as u32);
        let draw_limits = self.draw[dump].clone();
        let fill = |&site: &usize| {
            let placed = &self.ground.sites[site];
            let state = placed.state.as_ref().ok();
            Fill {
                name: placed.site.name.clone(),
                berths: placed.site.berths,
                flow: state.map_or(GallonsPerMinute::ZERO, |s| s.flow),
                volume: state.and_then(|s| s.volume),
            }
        };
        let mut fill: Vec<Fill> = fills.iter().map(fill).collect();
        self.share(&fills, &tankers, &mut fill);
        let shuttle = Shuttle {
            tankers,
            fills: fill,
            dump: Dump { berths, tank_room: problem.fleet.portable_tanks.iter().copied().sum(), draw_limits },
            lanes: Vec::new(),
            spread: problem.spread,
        };
        (shuttle, members, fills)
    }

    /// Cuts what sites on one main or pond give to their parts; `fills` are the sites of `given`.
    fn share(&self, fills: &[usize], tankers: &[Tanker], given: &mut [Fill]) {
        let part = |(nth, site): (usize, &usize)| {
            let details = &self.ground.sites[*site].site.details;
            Part {
                shares: details.shares.clone(),
                shared_flow: details.shared_flow,
                flow: given[nth].flow,
                volume: given[nth].volume,
                loads: tankers.iter().filter(|t| t.fill == nth).map(|t| t.load).sum(),
            }
        };
        let mut parts: Vec<Part> = fills.iter().enumerate().map(part).collect();
        share_out(&mut parts);
        for (fill, part) in given.iter_mut().zip(parts) {
            (fill.flow, fill.volume) = (part.flow, part.volume);
        }
    }

    fn ceiling(
        &self,
        dump: usize,
        site_of: &[Option<usize>],
        times: &BTreeMap<(usize, usize), LoopTimes>,
    ) -> Result<GallonsPerMinute, ShuttleError> {
        let (shuttle, ..) = self.shuttle(dump, site_of, times);
        if shuttle.tankers.is_empty() {
            return Ok(GallonsPerMinute::ZERO);
        }
        Ok(shuttle::ceiling(&shuttle, self.problem.terms.period)?.flow)
    }

    /// Everyone who can to one site.
    fn all_to(&self, site: usize, times: &BTreeMap<(usize, usize), LoopTimes>) -> Vec<Option<usize>> {
        (0..self.problem.fleet.tankers.len())
            .map(|t| times.contains_key(&(self.class_of(t), site)).then_some(site))
            .collect()
    }

    /// Choices at one dump candidate: each site alone, best first, and, where it beats them, the
    /// fleet spread over several sites.
    ///
    /// Errors: what cannot be simulated, such as a load of a hundredth of a gallon.
    pub fn choices(&self, dump: usize) -> Result<Vec<Choice>, ShuttleError> {
        let times = self.quick_times(dump);
        let mut sites: Vec<usize> = times.keys().map(|(_, site)| *site).collect();
        sites.sort_unstable();
        sites.dedup();
        let mut choices: Vec<Choice> = sites
            .iter()
            .map(|&site| {
                let site_of = self.all_to(site, &times);
                Ok(Choice { dump, ceiling: self.ceiling(dump, &site_of, &times)?, site_of })
            })
            .collect::<Result<_, ShuttleError>>()?;
        choices.retain(|c| c.ceiling.0 > 0.0);
        choices.sort_by(|a, b| b.ceiling.0.total_cmp(&a.ceiling.0).then(a.site_of.cmp(&b.site_of)));
        if let Some(best) = choices.first().cloned()
            && let Some(spread) = self.spread_out(&best, &sites, &times)?
        {
            choices.insert(0, spread);
        }
        Ok(choices)
    }

    /// Moves one tanker at a time to the site where it raises the ceiling most, until none does.
    fn spread_out(
        &self,
        best: &Choice,
        sites: &[usize],
        times: &BTreeMap<(usize, usize), LoopTimes>,
    ) -> Result<Option<Choice>, ShuttleError> {
        let mut current = best.clone();
        loop {
            let mut better: Option<Choice> = None;
            for tanker in 0..current.site_of.len() {
                for &site in sites {
                    if current.site_of[tanker] == Some(site)
                        || !times.contains_key(&(self.class_of(tanker), site))
                    {
                        continue;
                    }
                    let mut moved = current.clone();
                    moved.site_of[tanker] = Some(site);
                    let sites_now = moved.sites().len();
                    if sites_now > self.problem.search.fill_sites_at_once {
                        continue;
                    }
                    moved.ceiling = self.ceiling(moved.dump, &moved.site_of, times)?;
                    let opens_a_site = sites_now > current.sites().len();
                    let worth = current.ceiling.0 * if opens_a_site { 1.0 + WORTH_A_SITE } else { 1.0 } + 1.0;
                    if moved.ceiling.0 > better.as_ref().map_or(worth, |b| b.ceiling.0.max(worth)) {
                        better = Some(moved);
                    }
                }
            }
            match better {
                Some(next) => current = next,
                None => return Ok((current.site_of != best.site_of).then_some(current)),
            }
        }
    }
}
