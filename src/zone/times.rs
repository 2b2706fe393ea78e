//! Drives between the fill sites and every stretch of a block: one search from each side of each fill site a
//! class and leg, instead of one from each stretch, and each no farther than the site matters; or all at once, swept
//! (`whole`), where the roads and the number of sites allow it.

use super::Zone;
use super::legs::NONE;
use super::reached::{Job, Tables};
use super::slots::Slots;
use super::whole::{self, Sought, Whole};
use crate::place::Bounds;
use crate::plan::ground::Ground;
use crate::routing::snap::Spot;
use crate::routing::topology::millis;
use rayon::prelude::*;

/// Neighbouring segments that share a table of times: sites that reach none of them cost nothing there.
pub const TOGETHER: usize = 64;

/// Milliseconds of one class and leg between a site and a segment, by side of the site and direction of the
/// segment: loaded from the site to where the arc ends, empty from there.
pub type Ms = [u32; 4];

/// One site, class and leg beside neighbouring segments.
pub(super) struct Table {
    pub site: u32,
    pub class: u8,
    pub leg: u8,
    pub rows: Box<[Ms; TOGETHER]>,
}

/// By group of sites, then slot: milliseconds.
pub(super) type Limits = Vec<Vec<u32>>;

/// The segments of a block, by their seats.
pub struct Rows<'p> {
    pub(super) segments: Vec<usize>,
    /// Fill sites that may be reached, by index into the ground's.
    pub sites: Vec<usize>,
    pub(super) fills: Vec<Spot>,
    /// By site: legs of so many milliseconds are known wherever they are, longer ones where it is among the nearest.
    pub(super) searched_ms: Vec<u32>,
    /// By `TOGETHER` rows; of each by site, then class and leg.
    pub(super) tables: Vec<Vec<Table>>,
    /// Instead of these, where the times of all sites were swept.
    pub(super) whole: Option<Whole<'p>>,
    /// Sites in the order in which they were searched, in groups that grow; all in one group, where nothing was cut
    /// off.
    pub groups: Vec<Vec<usize>>,
    /// By site.
    pub(super) group_of: Vec<u8>,
    /// By class and leg, then group, then slot: whoever of the group is farther was not looked for. None where
    /// nothing was cut off.
    pub(super) farther: Vec<Limits>,
    block: Slots,
    /// Longest leg.
    pub(super) longest_ms: u32,
}

/// With fewer sites than so many times those looked for, searching for all of them costs no more (measured on the Isle
/// of Man with 50 sites).
const WORTH: usize = 12;

/// How many sites are looked for around each stretch.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Wanted {
    /// Every one within reach.
    All,
    /// The nearest few.
    Nearest(usize),
}

impl Wanted {
    /// The same among so many.
    pub fn of(self, sites: usize) -> Wanted {
        match self {
            Wanted::Nearest(few) if sites <= few * WORTH => Wanted::All,
            other => other,
        }
    }
}

impl<'p> Rows<'p> {
    /// Searches for a block of segments, a little farther than the longest leg, as `plan` does. `first` orders
    /// the sites of the ground: those searched first are searched farthest.
    pub fn search(
        zone: &'p Zone,
        segments: &[usize],
        wanted: Wanted,
        first: impl Fn(usize) -> f64,
    ) -> Rows<'p> {
        let ground = &zone.ground;
        let longest_leg_s = zone.problem.search.longest_leg_minutes * 60.0;
        let network = &ground.roads.network;
        let around = Bounds::around(segments.iter().flat_map(|s| network.points(*s)).copied());
        let reach_m = longest_leg_s * zone.worked.extremes.fastest_mps * 1.05 + 100.0;
        let near = |spot: &Spot| around.is_some_and(|b| metres_outside(&b, spot) <= reach_m);
        let (sites, fills): (Vec<usize>, Vec<Spot>) = ground
            .sites
            .iter()
            .enumerate()
            .filter_map(|(i, site)| Some((i, site.state.as_ref().ok()?.spot)))
            .filter(|(_, spot)| near(spot))
            .unzip();
        let wanted = wanted.of(sites.len());
        let mut order: Vec<usize> = (0..sites.len()).collect();
        let worth: Vec<f64> = sites.iter().map(|site| first(*site)).collect();
        order.sort_by(|a, b| worth[*b].total_cmp(&worth[*a]).then(a.cmp(b)));
        let groups = grouped(&order, wanted);
        let mut group_of = vec![0; sites.len()];
        for (number, group) in (0..).zip(&groups) {
            group.iter().for_each(|site| group_of[*site] = number);
        }
        let mut rows = Rows {
            segments: segments.to_vec(),
            searched_ms: vec![if wanted == Wanted::All { NONE } else { 0 }; sites.len()],
            sites,
            fills,
            tables: Vec::new(),
            whole: None,
            groups,
            group_of,
            farther: Vec::new(),
            block: Slots::of(ground, segments),
            longest_ms: millis(longest_leg_s),
        };
        rows.tables.resize_with(segments.len().div_ceil(TOGETHER), Vec::new);
        match wanted {
            Wanted::All => {
                rows.whole = rows.sweep(zone);
                if rows.whole.is_none() {
                    let all: Vec<(usize, u32)> = order.iter().map(|site| (*site, rows.longest_ms)).collect();
                    rows.search_further(zone, &all);
                }
            }
            Wanted::Nearest(few) => rows.search_nearest(zone, few),
        }
        if rows.whole.is_none() {
            rows.in_order();
        }
        rows
    }

    fn sweep(&self, zone: &'p Zone) -> Option<Whole<'p>> {
        let Rows { segments, sites, fills, block, longest_ms, .. } = self;
        let ground = &zone.ground;
        let (sweeps, climbs) = zone.sweeps()?;
        let most_rows = whole::rows_at_once(sites.len(), ground.classes.len())?;
        let sought =
            Sought { ground, sweeps, climbs, block, segments, sites, fills, longest_ms: *longest_ms };
        if segments.len() <= most_rows { Whole::sweep(&sought, &zone.worked.pool) } else { None }
    }

    fn search_nearest(&mut self, zone: &Zone, few: usize) {
        let ground = &zone.ground;
        let seats = ground.roads.topology.seats(&ground.roads.network).len();
        let jobs: Vec<(usize, usize)> =
            (0..ground.classes.len()).flat_map(|class| [0, 1].map(|leg| (class, leg))).collect();
        let found: Vec<(Vec<(usize, Tables)>, Limits)> = jobs
            .par_iter()
            .map(|(class, leg)| {
                let mut lent = zone.worked.pool.take();
                // Each site stands in the lists by either side.
                lent.nearest.begin(seats, few * 2, turn_ms(ground));
                let job = self.job(zone, *class, *leg);
                let (mut found, mut limits) = (Vec::new(), Vec::new());
                for group in &self.groups {
                    let tables = |site: &usize| (*site, job.around(&mut lent, &self.fills[*site]));
                    found.extend(group.iter().map(tables));
                    limits.push(job.limits(&lent.nearest));
                }
                lent.nearest.clear();
                (found, limits)
            })
            .collect();
        for ((class, leg), (tables, limits)) in jobs.into_iter().zip(found) {
            tables.into_iter().for_each(|(site, tables)| self.lay(site, class, leg, tables));
            self.farther.push(limits);
        }
    }

    /// Searches around some sites until all their legs of so many milliseconds are known.
    pub fn complete(&mut self, zone: &Zone, sites: &[(usize, u32)]) {
        self.search_further(zone, sites);
        for (site, ms) in sites {
            self.searched_ms[*site] = if *ms >= self.longest_ms { NONE } else { *ms };
        }
        self.in_order();
    }

    fn search_further(&mut self, zone: &Zone, sites: &[(usize, u32)]) {
        let ground = &zone.ground;
        let of_site = |&(site, ms): &(usize, u32)| {
            (0..ground.classes.len()).flat_map(move |class| [0, 1].map(|leg| (site, ms, class, leg)))
        };
        let jobs: Vec<(usize, u32, usize, usize)> = sites.iter().flat_map(of_site).collect();
        let seats = ground.roads.topology.seats(&ground.roads.network).len();
        let found: Vec<Tables> = jobs
            .par_iter()
            .map_init(
                || zone.worked.pool.take(),
                |lent, (site, ms, class, leg)| {
                    lent.nearest.begin(seats, 0, 0);
                    let job = Job { bound: *ms, ..self.job(zone, *class, *leg) };
                    job.around(lent, &self.fills[*site])
                },
            )
            .collect();
        for ((site, _, class, leg), tables) in jobs.into_iter().zip(found) {
            self.lay_beside(site, class, leg, tables);
        }
    }

    fn job<'j>(&'j self, zone: &'j Zone, class: usize, leg: usize) -> Job<'j> {
        let longest_step_ms = zone.worked.extremes.longest_step_ms(&zone.ground, class);
        let (class, block) = (&zone.ground.classes[class], &self.block);
        let tiles = self.tables.len();
        Job { class, loaded: leg == 0, block, tiles, bound: self.longest_ms, longest_step_ms }
    }

    fn lay(&mut self, site: usize, class: usize, leg: usize, tables: Tables) {
        for (tile, rows) in tables {
            let (site, class, leg) = (site as u32, class as u8, leg as u8);
            self.tables[tile as usize].push(Table { site, class, leg, rows });
        }
    }

    /// The same where something may be known: it stays.
    fn lay_beside(&mut self, site: usize, class: usize, leg: usize, tables: Tables) {
        let mut fresh = Tables::new();
        for (tile, rows) in tables {
            let key = (site as u32, class as u8, leg as u8);
            let mut here = self.tables[tile as usize].iter_mut();
            match here.find(|table| (table.site, table.class, table.leg) == key) {
                Some(known) => {
                    let pairs = known.rows.iter_mut().flatten().zip(rows.iter().flatten());
                    pairs.for_each(|(known, ms)| *known = (*known).min(*ms));
                }
                None => fresh.push((tile, rows)),
            }
        }
        self.lay(site, class, leg, fresh);
    }

    fn in_order(&mut self) {
        let key = |table: &Table| (table.site, table.class, table.leg);
        self.tables.par_iter_mut().for_each(|tables| tables.sort_unstable_by_key(key));
    }
}

fn metres_outside(bounds: &Bounds, spot: &Spot) -> f64 {
    let clamp = |value: i32, low: i32, high: i32| value.clamp(low, high);
    let (low, high) = (bounds.west_south, bounds.east_north);
    let nearest = crate::place::Place::from_e7(
        clamp(spot.place.lon_e7(), low.lon_e7(), high.lon_e7()),
        clamp(spot.place.lat_e7(), low.lat_e7(), high.lat_e7()),
    );
    nearest.distance(spot.place).0
}

pub(super) fn turn_ms(ground: &Ground) -> u32 {
    millis(ground.roads.table.delay.site_turnaround)
}

/// The first group is of as many sites as are looked for, each further one of as many as all before it.
fn grouped(order: &[usize], wanted: Wanted) -> Vec<Vec<usize>> {
    let Wanted::Nearest(few) = wanted else { return vec![order.to_vec()] };
    let mut groups = Vec::new();
    let mut begin = 0;
    while begin < order.len() {
        let end = (begin * 2).max(few).min(order.len());
        groups.push(order[begin..end].to_vec());
        begin = end;
    }
    groups
}
