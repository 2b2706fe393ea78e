//! Blocks of stretches: what is worked at once, and what is handed out to be worked elsewhere.

use super::Zone;
use super::judge::{self, Judged};
use super::seen::Seen;
use super::stretches::Stretch;
use super::sweeps;
use super::times::{Rows, Wanted};
use super::view::{Middle, Near};
use super::whole;
use super::yields::{Columns, Envelope, Yields, sites_wanted};
use crate::finding::{Finding, Outcome, Refusal};
use crate::plan::Problem;
use crate::plan::muster::Muster;
use crate::plan::options::LoopTimes;
use crate::roads::network::Arc;
use crate::shuttle::{Best, Posts, Shuttle};
use crate::units::Seconds;
use rayon::prelude::*;
use std::cmp::Reverse;
use std::ops::Range;

/// Most stretches worked at once: their times are what takes the memory, and what sites beyond their rim are
/// searched for takes time again for the next. It changes no result.
const AT_ONCE: usize = 65_536;

/// The part of all stretches that is block `number` of `of`, counted from 1. All parts together are all
/// stretches, in their order.
pub fn part(stretches: usize, number: usize, of: usize) -> Range<usize> {
    let cut = |at: usize| (stretches as u128 * at as u128 / of as u128) as usize;
    cut(number - 1)..cut(number)
}

/// Times of a block and what its posts are made of.
pub struct Prepared<'z, 'a> {
    pub(super) zone: &'z Zone<'a>,
    pub(super) rows: Rows<'z>,
    /// By stretch.
    row_of: Vec<usize>,
    pub(super) yields: Yields,
    /// Of the sites of the rows, where their times were swept.
    columns: Option<Columns>,
    /// What no site of a group of the rows passes.
    of_groups: Vec<Envelope>,
    /// By `TOGETHER` rows: the sites seen from there by their place among them, with what they yield at most
    /// anywhere on these rows, most first.
    pub(super) tiles: Vec<Vec<(f64, u32)>>,
}

/// Why a stretch got no answer.
pub enum Lack {
    /// Legs of so many milliseconds have to be known of these sites, by index into those of the rows.
    Sites(Vec<(usize, u32)>),
    Refused(Refusal),
}

impl From<Refusal> for Lack {
    fn from(refusal: Refusal) -> Lack {
        Lack::Refused(refusal)
    }
}

impl From<Finding> for Lack {
    fn from(finding: Finding) -> Lack {
        Lack::Refused(finding.into())
    }
}

/// Sites searched for around a stretch beyond those that are told: some of the nearest have a weak source.
const SPARE: usize = 3;

/// Sites that may yield this share of the last of the few wanted are judged with these at once. Any other share
/// gives the same answers, later.
const NEARLY: f64 = 0.87;

/// A thread without a piece of its own takes such a part of another's.
const PARTS_OF_A_PIECE: usize = 8;

/// Sites searched for around a stretch, unless all are asked for.
pub(super) fn wanted(problem: &Problem) -> Wanted {
    Wanted::Nearest(sites_wanted(problem) + SPARE)
}

impl<'z, 'a> Prepared<'z, 'a> {
    /// With all sites around each stretch, or those only that can be among the best few.
    fn of(zone: &'z Zone<'a>, stretches: &[Stretch], all: bool) -> Self {
        // Neighbours in this order are neighbours on the road; the stretches may come in any.
        let network = &zone.ground.roads.network;
        let seats = zone.ground.roads.topology.seats(network);
        let seat = |stretch: &Stretch| seats.seat_of(Arc::new(stretch.segment(), true));
        let mut rows: Vec<(u32, usize)> = stretches.iter().map(|s| (seat(s), s.segment())).collect();
        rows.sort_unstable();
        rows.dedup();
        let row_of = stretches.iter().map(|s| rows.partition_point(|row| row.0 < seat(s))).collect();
        let segments: Vec<usize> = rows.into_iter().map(|(_, segment)| segment).collect();
        let yields = Yields::of(zone);
        let wanted = if all { Wanted::All } else { wanted(zone.problem) };
        let rows = Rows::search(zone, &segments, wanted, |site: usize| yields.cap_gpm(site));
        let columns = rows.whole.as_ref().map(|_| yields.columns(&rows.sites, whole::TOGETHER));
        let of_group = |group: &Vec<usize>| yields.envelope(group.iter().map(|site| rows.sites[*site]));
        let ranked = !all && rows.whole.is_none();
        let of_groups = if ranked { rows.groups.iter().map(of_group).collect() } else { Vec::new() };
        let mut prepared = Prepared { zone, rows, row_of, yields, columns, of_groups, tiles: Vec::new() };
        if ranked {
            prepared.rank_tiles();
        }
        prepared
    }

    fn rank_tiles(&mut self) {
        let ground = &self.zone.ground;
        let of_tile = |tile: usize| {
            let mut least = vec![None; ground.classes.len()];
            let of_site = |(place, near): (u32, Near)| {
                self.rows.least_in_tile_ms(ground, tile, &near, &mut least);
                (self.yields.at_most_gpm(self.rows.sites[near.site], &least), place)
            };
            let mut ranked: Vec<(f64, u32)> = (0..).zip(self.rows.in_tile(tile)).map(of_site).collect();
            ranked.sort_by(|a, b| b.0.total_cmp(&a.0).then(a.1.cmp(&b.1)));
            ranked
        };
        self.tiles = (0..self.rows.tiles()).into_par_iter().map(of_tile).collect();
    }

    /// By site of the rows what it yields at most, where their times were swept.
    pub(super) fn swept_gpm(&self, row: usize, middle: &Middle) -> impl Iterator<Item = f64> {
        let driving_s = self.rows.least_driving_s(&self.zone.ground, &self.yields, row, middle);
        let gpm = self.columns.as_ref().map_or(Vec::new(), |columns| columns.at_most_gpm(&driving_s));
        gpm.into_iter()
    }

    fn complete(&mut self, sites: &mut [(usize, u32)]) {
        // Nobody asks twice for less.
        for (site, ms) in &mut *sites {
            if self.rows.knows(*site, *ms) {
                *ms = self.rows.longest_ms();
            }
        }
        self.rows.complete(self.zone, sites);
        self.rank_tiles();
    }

    /// The posts around a stretch with all sites that have a loop, and these sites as the ground has them.
    pub fn posts(&self, number: usize, stretch: &Stretch) -> Result<(Posts, Vec<usize>), Lack> {
        let middle = Middle::of(&self.zone.ground, stretch);
        let row = self.row_of[number];
        let all: Vec<Near> = self.rows.near(row).collect();
        self.posts_of(row, &middle, all.iter())
    }

    fn posts_of<'n>(
        &self,
        row: usize,
        middle: &Middle,
        near: impl ExactSizeIterator<Item = &'n Near<'n>>,
    ) -> Result<(Posts, Vec<usize>), Lack> {
        let (zone, rows) = (self.zone, &self.rows);
        let ground = &zone.ground;
        let turn = Seconds(ground.roads.table.delay.site_turnaround);
        let mut sites: Vec<usize> = Vec::with_capacity(near.len());
        // By site, then class.
        let mut trips: Vec<Option<LoopTimes>> = Vec::with_capacity(near.len() * ground.classes.len());
        let mut unsure = Vec::new();
        for near in near {
            let loops = match rows.quick_loops(ground, near, row, middle) {
                Ok(loops) => loops,
                Err(ms) => {
                    unsure.push((near.site, ms));
                    continue;
                }
            };
            if loops.iter().any(Option::is_some) {
                sites.push(rows.sites[near.site]);
                trips.extend(loops.iter().map(|quick| quick.as_ref().map(|q| LoopTimes::of(q, turn))));
            }
        }
        if !unsure.is_empty() {
            return Err(Lack::Sites(unsure));
        }
        let muster = Muster { problem: zone.problem, ground, draw: &zone.draw, names: false };
        let trip = |class: usize, site: usize| {
            let at = sites.iter().position(|known| *known == site)?;
            trips[at * ground.classes.len() + class]
        };
        let station =
            |class: usize, tanker: usize| zone.worked.stations.ms(ground, class, tanker, middle.stands);
        Ok((muster.posts(&sites, &station, &trip), sites))
    }

    /// The same with those sites only that can be among the best few, worked alone or together: by what
    /// each yields at most, until no other can pass the last of these few.
    fn best_posts(
        &self,
        number: usize,
        stretch: &Stretch,
    ) -> Result<(Posts, Option<Best>, Vec<usize>), Lack> {
        let problem = self.zone.problem;
        let ground = &self.zone.ground;
        let middle = Middle::of(ground, stretch);
        let row = self.row_of[number];
        if !self.anybody_comes(&middle) {
            let (posts, sites) = self.posts_of(row, &middle, [].iter())?;
            return Ok((posts, None, sites));
        }
        let wanted = sites_wanted(problem);
        let mut seen = Seen::of(self, row, &middle);
        let last = |seen: &Seen| seen.by_yield.get(wanted - 1).map_or(0.0, |(gpm, _)| *gpm);
        seen.look(last);
        // What is nearly as good at best may well be better in truth: it is judged with the first.
        let nearly = last(&seen) * NEARLY;
        seen.look(|_| nearly);
        let mut taken = seen.by_yield.partition_point(|(gpm, _)| *gpm >= nearly).max(wanted);
        loop {
            let mut chosen: Vec<&Near> = seen.by_yield.iter().take(taken).map(|(_, near)| near).collect();
            chosen.sort_unstable_by_key(|near| near.site);
            let (posts, sites) = self.posts_of(row, &middle, chosen.into_iter())?;
            let alone = posts.each_alone(problem.terms.period, &self.yields.due);
            let bar = alone.gpm(wanted - 1).unwrap_or(0.0);
            seen.look(|_| bar);
            let can_pass = seen.by_yield.partition_point(|(gpm, _)| *gpm > 0.0 && *gpm >= bar);
            if can_pass > taken {
                taken = can_pass;
                continue;
            }
            let mut lacking = seen.blank(bar);
            lacking.extend(self.absent(row, &middle, bar, &mut seen.least));
            if lacking.is_empty() {
                let best = alone.best();
                return Ok((posts, best, sites));
            }
            return Err(Lack::Sites(lacking));
        }
    }

    /// Whether a tanker that is due has a way from its station.
    fn anybody_comes(&self, middle: &Middle) -> bool {
        let Zone { ground, worked, .. } = self.zone;
        let comes = |tanker: usize| {
            let way = || worked.stations.ms(ground, ground.class_of(tanker), tanker, middle.stands);
            ground.stations[tanker].is_none() || way().is_some()
        };
        (0..self.yields.due.len()).any(|tanker| self.yields.due[tanker] && comes(tanker))
    }

    /// How far to search around a site to know of all legs by which it yields a flow, if that is not known.
    pub(super) fn to_search(
        &self,
        site: usize,
        gpm: f64,
        least: &[Option<[u32; 2]>],
        middle: &Middle,
    ) -> Option<(usize, u32)> {
        let other_leg_ms = least.iter().flatten().flatten().copied().min().unwrap_or(0);
        let both_ms = self.yields.farthest_ms(self.rows.sites[site], gpm);
        let leg_ms = both_ms.saturating_sub(other_leg_ms).saturating_add(middle.longest_rest_ms());
        let leg_ms = leg_ms.min(self.rows.longest_ms());
        (!self.rows.knows(site, leg_ms)).then_some((site, leg_ms))
    }

    /// Sites that nobody looked for here and that might all the same pass the bar.
    fn absent(
        &self,
        row: usize,
        middle: &Middle,
        bar: f64,
        least: &mut [Option<[u32; 2]>],
    ) -> Vec<(usize, u32)> {
        let mut absent = Vec::new();
        // Of swept sites nothing is unknown.
        for (number, group) in self.rows.groups.iter().enumerate().take(self.of_groups.len()) {
            self.rows.absent_ms(number, row, middle, least);
            if least.iter().all(Option::is_none) || self.of_groups[number].at_most_gpm(least) < bar {
                continue;
            }
            for &site in group {
                let gpm = self.yields.at_most_gpm(self.rows.sites[site], least);
                if gpm > 0.0 && gpm >= bar && !self.rows.near(row).any(|near| near.site == site) {
                    absent.extend(self.to_search(site, bar, least, middle));
                }
            }
        }
        absent
    }

    /// A stretch judged, with the shuttle if there is one.
    pub fn judge(&self, number: usize, stretch: &Stretch) -> Result<(Judged, Option<Shuttle>), Lack> {
        let problem = self.zone.problem;
        let (posts, best, sites) = self.best_posts(number, stretch)?;
        let judged = judge::judge(&posts, best, &sites, problem.terms.period);
        judged.map_err(|e| Finding::from(e).into())
    }
}

/// Stretches worked at once where the times of all sites are swept; none where they are searched.
fn swept_at_once(zone: &Zone, all: bool) -> Option<usize> {
    let sites = sweeps::ready(&zone.ground);
    if !all && wanted(zone.problem).of(sites) != Wanted::All {
        return None;
    }
    let rows = whole::rows_at_once(sites, zone.ground.classes.len())?;
    zone.sweeps().map(|_| rows)
}

/// Asks something of each stretch, in parallel and in pieces that are worked at once; the result is that of
/// one thread. The stretches need not be the zone's own list, but lie on its roads. `all` sites around a stretch
/// are at hand, or those only that can be among the best few.
pub fn each<T: Send>(
    zone: &Zone,
    stretches: &[Stretch],
    all: bool,
    ask: impl Fn(&Prepared, usize, &Stretch) -> Result<T, Lack> + Sync,
) -> Outcome<Vec<T>> {
    match swept_at_once(zone, all) {
        // Each thread has a piece of its own, so that what it sweeps is still at hand when it is judged.
        Some(few) => {
            let of_piece =
                |piece: &[Stretch]| each_of(zone, piece, all, piece.len().div_ceil(PARTS_OF_A_PIECE), &ask);
            // As many pieces for each thread, and alike, and parts of the last for who has nothing left.
            let turns = stretches.len().div_ceil(few).next_multiple_of(rayon::current_num_threads());
            let alike = stretches.len().div_ceil(turns.max(1)).max(1);
            let answers: Vec<Outcome<Vec<T>>> = stretches.par_chunks(alike).map(of_piece).collect();
            let mut all = Vec::with_capacity(stretches.len());
            answers.into_iter().try_for_each(|answers| answers.map(|answers| all.extend(answers)))?;
            Ok(all)
        }
        None => {
            let mut answers = Vec::with_capacity(stretches.len());
            for piece in stretches.chunks(AT_ONCE) {
                answers.extend(each_of(zone, piece, all, 1, &ask)?);
            }
            Ok(answers)
        }
    }
}

/// The same of one piece; `together` stretches are asked by one thread.
fn each_of<T: Send>(
    zone: &Zone,
    piece: &[Stretch],
    all: bool,
    together: usize,
    ask: &(impl Fn(&Prepared, usize, &Stretch) -> Result<T, Lack> + Sync),
) -> Outcome<Vec<T>> {
    let mut prepared = Prepared::of(zone, piece, all);
    let mut found: Vec<Option<T>> = Vec::new();
    found.resize_with(piece.len(), || None);
    let mut left: Vec<usize> = (0..piece.len()).collect();
    while !left.is_empty() {
        let of = |number: &usize| (*number, ask(&prepared, *number, &piece[*number]));
        let answered: Vec<(usize, Result<T, Lack>)> =
            left.par_iter().with_min_len(together).map(of).collect();
        let mut lacking = Vec::new();
        left.clear();
        for (number, answer) in answered {
            match answer {
                Ok(answer) => found[number] = Some(answer),
                Err(Lack::Refused(refusal)) => return Err(refusal),
                Err(Lack::Sites(sites)) => {
                    lacking.extend(sites);
                    left.push(number);
                }
            }
        }
        // The farthest of each.
        lacking.sort_unstable_by_key(|(site, ms)| (*site, Reverse(*ms)));
        lacking.dedup_by_key(|(site, _)| *site);
        if !left.is_empty() {
            prepared.complete(&mut lacking);
        }
    }
    Ok(found.into_iter().flatten().collect())
}

/// Judges stretches.
pub fn work(zone: &Zone, stretches: &[Stretch]) -> Outcome<Vec<Judged>> {
    let judged =
        each(zone, stretches, false, |prepared, number, stretch| Ok(prepared.judge(number, stretch)?.0));
    super::rest(zone.ground.roads);
    judged
}
