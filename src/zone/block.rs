//! Blocks of stretches: what is worked at once, and what is handed out to be worked elsewhere.

use super::Zone;
use super::judge::{self, Judged, TOLD_ALONE};
use super::stretches::Stretch;
use super::times::{Middle, Near, Rows};
use super::yields::Yields;
use crate::finding::{Finding, Outcome};
use crate::plan::muster::Muster;
use crate::plan::options::LoopTimes;
use crate::shuttle::{Posts, SITES_COMBINED, Shuttle};
use crate::units::Seconds;
use rayon::prelude::*;
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
    zone: &'z Zone<'a>,
    rows: Rows,
    /// By stretch.
    row_of: Vec<usize>,
    yields: Yields,
}

impl<'z, 'a> Prepared<'z, 'a> {
    pub fn of(zone: &'z Zone<'a>, stretches: &[Stretch]) -> Self {
        // Neighbours in this order are neighbours on the road; the stretches may come in any.
        let mut segments: Vec<usize> = stretches.iter().map(|stretch| stretch.segment).collect();
        segments.sort_unstable();
        segments.dedup();
        let row_of = stretches.iter().map(|s| segments.partition_point(|segment| *segment < s.segment));
        let row_of = row_of.collect();
        let longest_s = zone.problem.search.longest_leg_minutes * 60.0;
        let rows = Rows::search(&zone.ground, &zone.worked.extremes, &zone.worked.pool, &segments, longest_s);
        let yields = Yields::of(zone, &rows.sites);
        Prepared { zone, rows, row_of, yields }
    }

    /// The posts around a stretch with all sites that have a loop, and these sites as the ground has them.
    pub fn posts(&self, number: usize, stretch: &Stretch) -> (Posts, Vec<usize>) {
        let middle = Middle::of(&self.zone.ground, stretch.spot(&self.zone.ground.roads.network));
        let all: Vec<Near> = self.rows.near(self.row_of[number]).collect();
        self.posts_of(&middle, all.iter())
    }

    fn posts_of<'n>(&self, middle: &Middle, near: impl Iterator<Item = &'n Near<'n>>) -> (Posts, Vec<usize>) {
        let (zone, rows) = (self.zone, &self.rows);
        let ground = &zone.ground;
        let turn = Seconds(ground.roads.table.delay.site_turnaround);
        let mut sites: Vec<usize> = Vec::new();
        // By site, then class.
        let mut trips: Vec<Option<LoopTimes>> = Vec::new();
        for near in near {
            let loops = rows.quick_loops(ground, near, middle);
            if loops.iter().any(Option::is_some) {
                sites.push(rows.sites[near.site]);
                trips.extend(loops.iter().map(|quick| quick.as_ref().map(|q| LoopTimes::of(q, turn))));
            }
        }
        let muster = Muster { problem: zone.problem, ground, draw: &zone.draw };
        let trip = |class: usize, site: usize| {
            let at = sites.iter().position(|known| *known == site)?;
            trips[at * ground.classes.len() + class]
        };
        let station =
            |class: usize, tanker: usize| zone.worked.stations.ms(ground, class, tanker, middle.spot());
        (muster.posts(&sites, &station, &trip), sites)
    }

    /// The same with those sites only that can be among the best few, worked alone or together: by what
    /// each yields at most, until no other can pass the last of these few.
    fn best_posts(&self, number: usize, stretch: &Stretch) -> (Posts, Vec<usize>) {
        let problem = self.zone.problem;
        let ground = &self.zone.ground;
        let middle = Middle::of(ground, stretch.spot(&ground.roads.network));
        let mut least = vec![None; ground.classes.len()];
        let mut by_yield: Vec<(f64, Near)> = Vec::new();
        for near in self.rows.near(self.row_of[number]) {
            self.rows.least_ms(ground, &near, &middle, &mut least);
            let gpm = self.yields.at_most_gpm(near.site, &least);
            if gpm > 0.0 {
                by_yield.push((gpm, near));
            }
        }
        by_yield.sort_by(|a, b| b.0.total_cmp(&a.0).then(a.1.site.cmp(&b.1.site)));
        let wanted = if self.yields.together { SITES_COMBINED } else { TOLD_ALONE };
        let mut taken = wanted;
        loop {
            let mut chosen: Vec<&Near> = by_yield.iter().take(taken).map(|(_, near)| near).collect();
            chosen.sort_unstable_by_key(|near| near.site);
            let (posts, sites) = self.posts_of(&middle, chosen.into_iter());
            if taken >= by_yield.len() {
                return (posts, sites);
            }
            let alone = posts.alone_gpm(problem.terms.period, &self.yields.due);
            let bar = alone.get(wanted - 1).copied().unwrap_or(0.0);
            let can_pass = by_yield.partition_point(|(gpm, _)| *gpm >= bar);
            if can_pass <= taken {
                return (posts, sites);
            }
            taken = can_pass;
        }
    }

    /// A stretch judged, with the shuttle if there is one.
    pub fn judge(&self, number: usize, stretch: &Stretch) -> Outcome<(Judged, Option<Shuttle>)> {
        let problem = self.zone.problem;
        let (posts, sites) = self.best_posts(number, stretch);
        let judged = judge::judge(&posts, &sites, &self.yields.due, problem.terms.period);
        judged.map_err(|e| Finding::from(e).into())
    }
}

/// Asks something of each stretch, in parallel and in pieces that are worked at once; the result is that of
/// one thread. The stretches need not be the zone's own list, but lie on its roads.
pub fn each<T: Send>(
    zone: &Zone,
    stretches: &[Stretch],
    ask: impl Fn(&Prepared, usize, &Stretch) -> Outcome<T> + Sync,
) -> Outcome<Vec<T>> {
    let mut answers = Vec::with_capacity(stretches.len());
    for piece in stretches.chunks(AT_ONCE) {
        let prepared = Prepared::of(zone, piece);
        let of = |(number, stretch)| ask(&prepared, number, stretch);
        let found: Outcome<Vec<T>> = piece.par_iter().enumerate().map(of).collect();
        answers.extend(found?);
    }
    Ok(answers)
}

/// Judges stretches.
pub fn work(zone: &Zone, stretches: &[Stretch]) -> Outcome<Vec<Judged>> {
    each(zone, stretches, |prepared, number, stretch| Ok(prepared.judge(number, stretch)?.0))
}
