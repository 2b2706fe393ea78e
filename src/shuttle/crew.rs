//! Crews: which tanker fills at which site, how many berths are worked where. This file knows the closed
//! form only; `crew_flow` goes on from what it finds.

use super::crew_bounds::Bounds;
use super::share::{Main, Part, share_out};
use super::validate::check;
use super::{Dump, Fill, Shuttle, ShuttleError, Spread, Tanker};
use crate::units::{Gallons, GallonsPerMinute, Seconds};

/// Tankers, the sites they may fill at, and the site they dump at.
#[derive(Clone, Debug, PartialEq)]
pub struct Posts {
    pub tankers: Vec<Recruit>,
    /// With the most berths each can have.
    pub fills: Vec<Fill>,
    /// By fill: the main or pond it shares with others, if it does.
    pub mains: Vec<Option<Main>>,
    pub dump: Dump,
    pub spread: Spread,
    /// Most fill sites worked at once.
    pub most_sites: usize,
    /// Most fill berths worked in all, each by a crew; none if there are crews for every berth.
    pub crews: Option<u32>,
    /// What a further site must add to be worth it, as a share of the flow.
    pub worth_a_site: f64,
}

/// A tanker without a fill site yet.
#[derive(Clone, Debug, PartialEq)]
pub struct Recruit {
    pub name: String,
    /// Usable load.
    pub load: Gallons,
    /// At the dump site, full, from dispatch.
    pub arrives: Seconds,
    pub intake: GallonsPerMinute,
    pub dump_rate: GallonsPerMinute,
    /// By fill site; none where no loop is open to it.
    pub at: Vec<Option<RoundTrip>>,
}

/// One tanker's way between the dump site and one fill site.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct RoundTrip {
    pub empty: Seconds,
    pub loaded: Seconds,
    pub fill_handling: Seconds,
    pub dump_handling: Seconds,
}

/// Who fills where, through how many berths.
#[derive(Clone, Debug, PartialEq)]
pub struct Assignment {
    /// Fill site of each tanker; none where it stays out.
    pub site_of: Vec<Option<usize>>,
    /// By fill site; zero where nobody fills.
    pub berths: Vec<u32>,
    pub ceiling: GallonsPerMinute,
}

impl Assignment {
    pub fn sites(&self) -> Vec<usize> {
        (0..self.berths.len()).filter(|site| self.site_of.contains(&Some(*site))).collect()
    }

    pub fn members(&self) -> Vec<usize> {
        (0..self.site_of.len()).filter(|tanker| self.site_of[*tanker].is_some()).collect()
    }
}

/// Sets of sites are made of so many, the best by themselves: beyond them a set differs little.
pub const SITES_COMBINED: usize = 8;

impl Posts {
    /// The shuttle of an assignment, with the index of each of its tankers and fills here.
    pub fn shuttle(&self, assignment: &Assignment) -> (Shuttle, Vec<usize>, Vec<usize>) {
        let sites = assignment.sites();
        let mut members = Vec::new();
        let mut tankers = Vec::new();
        for (i, recruit) in self.tankers.iter().enumerate() {
            let Some(site) = assignment.site_of.get(i).copied().flatten() else { continue };
            let Some(trip) = recruit.at.get(site).copied().flatten() else { continue };
            members.push(i);
            tankers.push(Tanker {
                name: recruit.name.clone(),
                load: recruit.load,
                fill: sites.iter().position(|s| *s == site).unwrap_or(0),
                arrives: recruit.arrives,
                empty_travel: trip.empty,
                loaded_travel: trip.loaded,
                empty_lanes: Vec::new(),
                loaded_lanes: Vec::new(),
                intake: recruit.intake,
                dump_rate: recruit.dump_rate,
                fill_handling: trip.fill_handling,
                dump_handling: trip.dump_handling,
            });
        }
        let fill = |&site: &usize| Fill { berths: assignment.berths[site], ..self.fills[site].clone() };
        let mut fills: Vec<Fill> = sites.iter().map(fill).collect();
        self.share(&sites, &tankers, &mut fills);
        let shuttle =
            Shuttle { tankers, fills, dump: self.dump.clone(), lanes: Vec::new(), spread: self.spread };
        (shuttle, members, sites)
    }

    /// Cuts what sites on one main or pond give to their parts; `given` are the fills of `sites`.
    fn share(&self, sites: &[usize], tankers: &[Tanker], given: &mut [Fill]) {
        if self.mains.iter().all(Option::is_none) {
            return;
        }
        let part = |(nth, site): (usize, &usize)| {
            let main = self.mains[*site].as_ref();
            Part {
                shares: main.map(|main| main.name.clone()),
                shared_flow: main.and_then(|main| main.flow),
                flow: given[nth].flow,
                volume: given[nth].volume,
                loads: tankers.iter().filter(|t| t.fill == nth).map(|t| t.load).sum(),
            }
        };
        let mut parts: Vec<Part> = sites.iter().enumerate().map(part).collect();
        share_out(&mut parts);
        for (fill, part) in given.iter_mut().zip(parts) {
            (fill.flow, fill.volume) = (part.flow, part.volume);
        }
    }

    /// Refuses what cannot be simulated: every tanker at every site it can fill at.
    pub fn check(&self) -> Result<(), ShuttleError> {
        for site in 0..self.fills.len() {
            let site_of: Vec<Option<usize>> =
                self.tankers.iter().map(|t| t.at.get(site).copied().flatten().map(|_| site)).collect();
            if site_of.iter().any(Option::is_some) {
                let berths = self.fills.iter().map(|f| f.berths).collect();
                check(&self.shuttle(&Assignment { site_of, berths, ceiling: GallonsPerMinute::ZERO }).0)?;
            }
        }
        Ok(())
    }

    /// Assignments by the closed form, the best first: of each set of sites the best found. Tankers for
    /// which `free` is false stay out.
    pub fn by_ceiling(&self, period: Seconds, free: &[bool]) -> Vec<Assignment> {
        self.ranked(&Bounds::new(self, period.minutes()), free)
    }

    pub(super) fn ranked(&self, bounds: &Bounds, free: &[bool]) -> Vec<Assignment> {
        let mut found: Vec<Assignment> = Vec::new();
        for set in self.sets(&self.alone(bounds, free)) {
            for here in self.best_of_set(bounds, &set, free) {
                if !found.iter().any(|known| known.site_of == here.site_of) {
                    found.push(here);
                }
            }
        }
        found.sort_by(|a, b| {
            self.worth(b, b.ceiling.0)
                .total_cmp(&self.worth(a, a.ceiling.0))
                .then(a.sites().len().cmp(&b.sites().len()))
                .then(a.site_of.cmp(&b.site_of))
        });
        found
    }

    /// Hilltops of one set of sites, climbed from its several feet.
    pub(super) fn best_of_set(&self, bounds: &Bounds, set: &[usize], free: &[bool]) -> Vec<Assignment> {
        let start = |site: &dyn Fn(usize) -> Option<usize>| -> Vec<Option<usize>> {
            (0..self.tankers.len()).map(|t| if free[t] { site(t) } else { None }).collect()
        };
        let nearest = |t: usize| {
            let open = set.iter().copied().filter(|s| bounds.can(t, *s));
            open.max_by(|a, b| bounds.own_gpm(t, *a).total_cmp(&bounds.own_gpm(t, *b)))
        };
        let mut starts = vec![start(&nearest)];
        for &first in set.iter().filter(|_| set.len() > 1) {
            starts.push(start(&|t| if bounds.can(t, first) { Some(first) } else { nearest(t) }));
        }
        let tops = starts.into_iter().map(|site_of| {
            let here = self.judged(bounds, site_of);
            if set.len() > 1 { self.climbed(bounds, here, set, free) } else { here }
        });
        tops.filter(|here| here.ceiling.0 > 0.0).collect()
    }

    /// A flow less what further sites must add to be worth their crews.
    pub(super) fn worth(&self, assignment: &Assignment, flow_gpm: f64) -> f64 {
        flow_gpm / self.price(assignment)
    }

    pub(super) fn price(&self, assignment: &Assignment) -> f64 {
        self.set_price(assignment.sites().len())
    }

    pub(super) fn set_price(&self, sites: usize) -> f64 {
        (1.0 + self.worth_a_site).powi(sites as i32 - 1)
    }

    /// Flow and site of those worked alone by everybody who can, the best first.
    pub(super) fn alone(&self, bounds: &Bounds, free: &[bool]) -> Vec<(f64, usize)> {
        let alone = |site: usize| -> f64 {
            let berths = self.fills[site].berths;
            if self.mains[site].is_none() && self.crews.is_none_or(|crews| berths <= crews) && berths > 0 {
                return bounds.alone_gpm(site, free, berths);
            }
            let mut all: Vec<Option<usize>> = vec![None; self.tankers.len()];
            for (t, slot) in all.iter_mut().enumerate() {
                *slot = (free[t] && bounds.can(t, site)).then_some(site);
            }
            self.judged(bounds, all).ceiling.0
        };
        let mut ranked: Vec<(f64, usize)> = (0..self.fills.len()).map(|s| (alone(s), s)).collect();
        ranked.retain(|(gpm, _)| *gpm > 0.0);
        ranked.sort_by(|a, b| b.0.total_cmp(&a.0).then(a.1.cmp(&b.1)));
        ranked
    }

    /// Sets of sites worth a look: each alone, and the best few combined.
    pub(super) fn sets(&self, ranked: &[(f64, usize)]) -> Vec<Vec<usize>> {
        let most = self.most_sites.min(self.crews.unwrap_or(u32::MAX) as usize);
        let mut sets: Vec<Vec<usize>> = ranked.iter().map(|(_, site)| vec![*site]).collect();
        if most < 2 {
            return sets;
        }
        let top: Vec<usize> = ranked.iter().map(|(_, site)| *site).take(SITES_COMBINED).collect();
        let mut last: Vec<Vec<usize>> = top.iter().map(|site| vec![*site]).collect();
        for _ in 1..most.min(top.len()) {
            let place = |site: &usize| top.iter().position(|s| s == site);
            let longer: Vec<Vec<usize>> = last
                .iter()
                .flat_map(|set| {
                    let behind = set.last().and_then(place).unwrap_or(0) + 1;
                    top[behind..].iter().map(|site| [set.as_slice(), &[*site]].concat())
                })
                .collect();
            sets.extend(longer.iter().cloned());
            last = longer;
        }
        sets
    }

    /// With its berths and its ceiling.
    pub(super) fn judged(&self, bounds: &Bounds, site_of: Vec<Option<usize>>) -> Assignment {
        let mut berths: Vec<u32> = (0..self.fills.len())
            .map(|site| if site_of.contains(&Some(site)) { self.fills[site].berths } else { 0 })
            .collect();
        if let Some(crews) = self.crews.filter(|crews| berths.iter().sum::<u32>() > *crews) {
            berths = self.shared_out(bounds, &site_of, crews);
        }
        // A site whose tankers have no crew brings nothing.
        let open = |site: &Option<usize>| site.is_none_or(|s| berths[s] > 0);
        let ceiling = if site_of.iter().all(open) { bounds.ceiling_gpm(&site_of, &berths) } else { 0.0 };
        Assignment { site_of, berths, ceiling: GallonsPerMinute(ceiling) }
    }

    /// One crew to each site in use, the others one by one to where a berth more brings most.
    fn shared_out(&self, bounds: &Bounds, site_of: &[Option<usize>], crews: u32) -> Vec<u32> {
        let used = |site: usize| u32::from(site_of.contains(&Some(site)));
        let mut berths: Vec<u32> = (0..self.fills.len()).map(used).collect();
        let mut left = match crews.checked_sub(berths.iter().sum()) {
            Some(left) => left,
            None => return vec![0; berths.len()],
        };
        while left > 0 {
            let open = (0..berths.len()).filter(|s| berths[*s] > 0 && berths[*s] < self.fills[*s].berths);
            let gain = |site: usize| {
                let flow = |berths: u32| bounds.site_gpm(site_of, site, berths);
                flow(berths[site] + 1) - flow(berths[site])
            };
            let best = open.map(|s| (gain(s), s)).reduce(|a, b| if b.0 > a.0 { b } else { a });
            let Some((_, site)) = best else { break };
            berths[site] += 1;
            left -= 1;
        }
        berths
    }

    /// All assignments that differ from one by a tanker moved or left out, or by two exchanged. Leaving one
    /// out never raises the ceiling, but a small tanker in the berth keeps large ones waiting.
    pub(super) fn neighbours(
        &self,
        bounds: &Bounds,
        from: &Assignment,
        sites: &[usize],
        free: &[bool],
    ) -> Vec<Assignment> {
        let mut out: Vec<Assignment> = Vec::new();
        let mut add = |site_of: Vec<Option<usize>>| out.push(self.judged(bounds, site_of));
        let members: Vec<usize> = (0..self.tankers.len()).filter(|t| free[*t]).collect();
        for &t in &members {
            for &site in sites.iter().filter(|s| from.site_of[t] != Some(**s) && bounds.can(t, **s)) {
                let mut moved = from.site_of.clone();
                moved[t] = Some(site);
                add(moved);
            }
            if from.site_of[t].is_some() && from.members().len() > 1 {
                let mut without = from.site_of.clone();
                without[t] = None;
                add(without);
            }
            for &u in members.iter().filter(|u| **u > t) {
                let (Some(a), Some(b)) = (from.site_of[t], from.site_of[u]) else { continue };
                if a != b && bounds.can(t, b) && bounds.can(u, a) {
                    let mut exchanged = from.site_of.clone();
                    exchanged.swap(t, u);
                    add(exchanged);
                }
            }
        }
        // With crews to share out, one may stand elsewhere, or stand by: berths at a weak source fill tankers
        // together, one berth fills them one after the other.
        if self.crews.is_some() {
            for site in from.sites().into_iter().filter(|s| from.berths[*s] > 1) {
                let mut fewer = from.berths.clone();
                fewer[site] -= 1;
                let open = |to: &usize| *to != site && fewer[*to] > 0 && fewer[*to] < self.fills[*to].berths;
                let elsewhere = (0..fewer.len()).filter(open).map(|to| {
                    let mut moved = fewer.clone();
                    moved[to] += 1;
                    moved
                });
                for berths in std::iter::once(fewer.clone()).chain(elsewhere) {
                    let ceiling = GallonsPerMinute(bounds.ceiling_gpm(&from.site_of, &berths));
                    out.push(Assignment { berths, ceiling, site_of: from.site_of.clone() });
                }
            }
        }
        out.retain(|a| a.sites().len() <= self.most_sites);
        out
    }

    fn climbed(&self, bounds: &Bounds, from: Assignment, sites: &[usize], free: &[bool]) -> Assignment {
        let mut best = from;
        loop {
            let next = self.neighbours(bounds, &best, sites, free);
            let better = next.into_iter().reduce(|a, b| if b.ceiling.0 > a.ceiling.0 { b } else { a });
            match better.filter(|b| b.ceiling.0 > best.ceiling.0 + 1e-6) {
                Some(better) => best = better,
                None => return best,
            }
        }
    }
}
