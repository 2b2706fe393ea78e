//! The ceiling of many assignments of one crew, fast: the same closed form as `cycle::ceiling`, with all
//! that does not change between assignments worked out once. A test below holds the two equal.

use super::crew::{Assignment, Posts};
use super::cycle::ceiling_unchecked;
use crate::units::{GallonsPerMinute, Seconds};

/// One tanker at one fill site.
#[derive(Clone, Copy)]
struct Stop {
    load: f64,
    /// In the fill berth, in the dump berth, all the way round; seconds.
    fill_s: f64,
    dump_s: f64,
    cycle_s: f64,
}

pub(super) struct Bounds<'p> {
    posts: &'p Posts,
    period_min: f64,
    /// By tanker, then site.
    stops: Vec<Option<Stop>>,
    /// By site, all tankers, most water per second in the berth first.
    by_fill: Vec<usize>,
    /// Tanker and site, most water per second in the dump berth first.
    by_dump: Vec<(usize, usize)>,
    draw_gpm: f64,
}

impl<'p> Bounds<'p> {
    pub fn new(posts: &'p Posts, period_min: f64) -> Self {
        let sites = posts.fills.len();
        let mut stops = Vec::with_capacity(posts.tankers.len() * sites);
        for tanker in &posts.tankers {
            for (site, fill) in posts.fills.iter().enumerate() {
                stops.push(tanker.at.get(site).copied().flatten().map(|trip| {
                    let load = tanker.load.0;
                    let fill_s = trip.fill_handling.0 + load / tanker.intake.0.min(fill.flow.0) * 60.0;
                    let dump_s = trip.dump_handling.0 + load / tanker.dump_rate.0 * 60.0;
                    let cycle_s = fill_s + dump_s + trip.empty.0 + trip.loaded.0;
                    Stop { load, fill_s, dump_s, cycle_s }
                }));
            }
        }
        let water_per = |i: usize, of: &dyn Fn(&Stop) -> f64| -> f64 {
            stops[i].as_ref().map_or(0.0, |stop| stop.load / of(stop).max(1e-9))
        };
        let tankers = posts.tankers.len();
        let mut by_fill: Vec<usize> = (0..sites * tankers).map(|i| i % tankers).collect();
        for (site, order) in by_fill.chunks_exact_mut(tankers.max(1)).enumerate() {
            let rate = |t: usize| water_per(t * sites + site, &|stop| stop.fill_s);
            order.sort_by(|a, b| rate(*b).total_cmp(&rate(*a)));
        }
        let mut by_dump: Vec<(usize, usize)> = Vec::with_capacity(stops.len());
        by_dump.extend((0..stops.len()).filter(|i| stops[*i].is_some()).map(|i| (i / sites, i % sites)));
        let rate = |(t, s): (usize, usize)| water_per(t * sites + s, &|stop| stop.dump_s);
        by_dump.sort_by(|a, b| rate(*b).total_cmp(&rate(*a)));
        let draw_gpm = posts.dump.draw_limits.iter().map(|l| l.flow.0).fold(f64::INFINITY, f64::min);
        Bounds { posts, period_min, stops, by_fill, by_dump, draw_gpm }
    }

    fn stop(&self, tanker: usize, site: usize) -> Option<&Stop> {
        self.stops.get(tanker * self.posts.fills.len() + site)?.as_ref()
    }

    pub fn can(&self, tanker: usize, site: usize) -> bool {
        self.stop(tanker, site).is_some()
    }

    pub fn draw_gpm(&self) -> f64 {
        self.draw_gpm
    }

    /// What a site cannot pass, whoever of the free fills there.
    pub fn site_at_most_gpm(&self, site: usize, free: &[bool]) -> f64 {
        let fill = &self.posts.fills[site];
        let here = || (0..free.len()).filter(|t| free[*t]).filter_map(|t| self.stop(t, site));
        let per_berth = here().map(|stop| stop.load / stop.fill_s.max(1e-9)).fold(0.0, f64::max);
        let first_loads: f64 = here().map(|stop| stop.load).sum();
        let volume = fill.volume.map_or(f64::INFINITY, |v| (v.0 + first_loads) / self.period_min);
        (per_berth * 60.0 * f64::from(fill.berths)).min(fill.flow.0).min(volume)
    }

    /// What a tanker brings by itself, without waiting.
    pub fn own_gpm(&self, tanker: usize, site: usize) -> f64 {
        self.stop(tanker, site).map_or(0.0, |stop| stop.load / stop.cycle_s * 60.0)
    }

    /// The same at the site where it brings most.
    pub fn best_own_gpm(&self, tanker: usize) -> f64 {
        (0..self.posts.fills.len()).map(|site| self.own_gpm(tanker, site)).fold(0.0, f64::max)
    }

    /// What a site's tankers bring through its berths.
    pub fn site_gpm(&self, site_of: &[Option<usize>], site: usize, berths: u32) -> f64 {
        self.filled_gpm(|tanker| site_of[tanker] == Some(site), site, berths)
    }

    /// The same of those who fill there.
    fn filled_gpm(&self, fills: impl Fn(usize) -> bool, site: usize, berths: u32) -> f64 {
        let (mut tankers, mut through, mut first_loads) = (0.0, 0.0, 0.0);
        let mut left = f64::from(berths);
        let all = self.posts.tankers.len();
        for &tanker in &self.by_fill[site * all..(site + 1) * all] {
            let Some(stop) = self.stop(tanker, site).filter(|_| fills(tanker)) else {
                continue;
            };
            let own = stop.load / stop.cycle_s;
            let wanted = stop.fill_s / stop.cycle_s;
            tankers += own;
            first_loads += stop.load;
            through += own * if wanted > left { left / wanted } else { 1.0 };
            left = (left - wanted).max(0.0);
        }
        let fill = &self.posts.fills[site];
        let volume = fill.volume.map_or(f64::INFINITY, |v| (v.0 + first_loads) / self.period_min);
        (tankers * 60.0).min(through * 60.0).min(fill.flow.0).min(volume)
    }

    /// The closed form of an assignment.
    pub fn ceiling_gpm(&self, site_of: &[Option<usize>], berths: &[u32]) -> f64 {
        // What a main or pond gives to each of its sites depends on who fills where: the long way round.
        if (0..berths.len()).any(|site| self.posts.mains[site].is_some() && site_of.contains(&Some(site))) {
            let (site_of, berths) = (site_of.to_vec(), berths.to_vec());
            let given = Assignment { site_of, berths, ceiling: GallonsPerMinute::ZERO };
            let period = Seconds::from_minutes(self.period_min);
            return ceiling_unchecked(&self.posts.shuttle(&given).0, period).flow.0;
        }
        let mut filled = 0.0;
        for (site, number) in berths.iter().enumerate() {
            if site_of.contains(&Some(site)) {
                filled += self.site_gpm(site_of, site, *number);
            }
        }
        filled.min(self.dumped_gpm(|tanker, site| site_of[tanker] == Some(site))).min(self.draw_gpm)
    }

    /// The closed form where all the free fill at one site that shares its water with no other.
    pub fn alone_gpm(&self, site: usize, free: &[bool], berths: u32) -> f64 {
        let filled = self.filled_gpm(|tanker| free[tanker], site, berths);
        filled.min(self.dumped_gpm(|tanker, at| at == site && free[tanker])).min(self.draw_gpm)
    }

    /// What tankers bring through the dump berths from the sites where they fill.
    fn dumped_gpm(&self, fills: impl Fn(usize, usize) -> bool) -> f64 {
        let mut left = f64::from(self.posts.dump.berths);
        let mut dumped = 0.0;
        for &(tanker, site) in &self.by_dump {
            let Some(stop) = self.stop(tanker, site).filter(|_| fills(tanker, site)) else {
                continue;
            };
            let wanted = stop.dump_s / stop.cycle_s;
            dumped += stop.load / stop.cycle_s * if wanted > left { left / wanted } else { 1.0 };
            left = (left - wanted).max(0.0);
        }
        dumped * 60.0
    }
}
