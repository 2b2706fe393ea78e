//! Blocks of stretches: what is worked at once, and what is handed out to be worked elsewhere.

use super::Zone;
use super::judge::{self, Judged};
use super::stretches::Stretch;
use super::times::Rows;
use crate::finding::{Finding, Outcome};
use crate::plan::muster::Muster;
use crate::plan::options::LoopTimes;
use crate::shuttle::{Posts, Shuttle};
use crate::units::Seconds;
use rayon::prelude::*;
use std::ops::Range;

/// Most stretches worked at once: their times are what takes the memory. It changes no result.
const AT_ONCE: usize = 16_384;

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
}

impl<'z, 'a> Prepared<'z, 'a> {
    pub fn of(zone: &'z Zone<'a>, stretches: &[Stretch]) -> Self {
        let mut segments: Vec<usize> = Vec::new();
        let mut row_of = Vec::with_capacity(stretches.len());
        for stretch in stretches {
            // Stretches of a segment follow each other.
            if segments.last() != Some(&stretch.segment) {
                segments.push(stretch.segment);
            }
            row_of.push(segments.len() - 1);
        }
        let longest_s = zone.problem.search.longest_leg_minutes * 60.0;
        let rows = Rows::search(&zone.ground, segments, longest_s);
        Prepared { zone, rows, row_of }
    }

    /// The posts around a stretch, and the sites of the ground that are their fills: those with a loop.
    pub fn posts(&self, number: usize, stretch: &Stretch) -> (Posts, Vec<usize>) {
        let (zone, rows) = (self.zone, &self.rows);
        let ground = &zone.ground;
        let dump = stretch.spot(&ground.roads.network);
        let turn = Seconds(ground.roads.table.delay.site_turnaround);
        let classes = ground.classes.len();
        // By class, then site of the rows.
        let trips: Vec<Option<LoopTimes>> = (0..classes)
            .flat_map(|class| (0..rows.sites.len()).map(move |site| (class, site)))
            .map(|(class, site)| {
                let quick = rows.quick_loop(ground, class, site, self.row_of[number], &dump)?;
                Some(LoopTimes::of(&quick, turn))
            })
            .collect();
        let count = rows.sites.len();
        let reached: Vec<usize> =
            (0..count).filter(|site| (0..classes).any(|c| trips[c * count + site].is_some())).collect();
        let sites: Vec<usize> = reached.iter().map(|site| rows.sites[*site]).collect();
        let muster = Muster { problem: zone.problem, ground, draw: &zone.draw };
        let trip = |class: usize, site: usize| {
            // Sites are in order in both lists.
            let at = rows.sites.binary_search(&site).ok()?;
            trips[class * count + at]
        };
        let station = |class: usize, tanker: usize| zone.stations.ms(ground, class, tanker, &dump);
        (muster.posts(&sites, &station, &trip), sites)
    }

    /// A stretch judged, with the shuttle if there is one.
    pub fn judge(&self, number: usize, stretch: &Stretch) -> Outcome<(Judged, Option<Shuttle>)> {
        let problem = self.zone.problem;
        let (posts, sites) = self.posts(number, stretch);
        let judged = judge::judge(&posts, &sites, &problem.fleet.due(), problem.terms.period);
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
