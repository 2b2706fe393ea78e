//! Crews by the simulated flow: who brings the most, and who of them is enough.
//!
//! The search climbs on the closed form first (`crew`), from several starts and over several sets of
//! sites, and then here on the simulated flow itself, from the best of what that found: the closed form
//! does not know waiting, and two assignments that it holds equal may differ by a tenth. An assignment
//! whose ceiling is below the best flow known is never simulated, for the ceiling is a true bound.
//! `tests/crew_oracle.rs` lays it beside all assignments there are.

use super::crew::{Assignment, Posts};
use super::crew_bounds::Bounds;
use super::sustained::{Case, chances};
use super::validate::{check, check_terms};
use super::{Shuttle, ShuttleError, Terms};
use crate::units::GallonsPerMinute;

/// So many assignments of the closed form are carried to the simulation.
const CARRIED: usize = 6;
/// From so many of them a climb is begun.
const CLIMBED: usize = 4;
/// Assignments simulated in one climb; a stop for shuttles in which nearly everything is equal.
const MOST_SIMULATED: usize = 400;
/// Sets of tankers of one size looked at, best first.
const SETS_OF_A_SIZE: usize = 600;
/// Of these, those that are simulated.
const SETS_SIMULATED: usize = 24;
/// A flow less than this above another is the same.
const SAME_GPM: f64 = 1.0;

impl Posts {
    /// The assignment that sustains the most, with its flow, by the simulation without narrow road. None
    /// where nobody can fill anywhere.
    pub fn most(&self, terms: &Terms) -> Result<Option<(Assignment, GallonsPerMinute)>, ShuttleError> {
        self.check()?;
        check_terms(terms)?;
        Ok(self.most_of(&Bounds::new(self, terms.period.minutes()), terms, &vec![true; self.tankers.len()]))
    }

    /// The same, climbing from assignments known. Tankers for which `free` is false stay as they are.
    pub fn refined(
        &self,
        terms: &Terms,
        from: &[Assignment],
        free: &[bool],
    ) -> Result<Option<(Assignment, GallonsPerMinute)>, ShuttleError> {
        self.check()?;
        check_terms(terms)?;
        let bounds = Bounds::new(self, terms.period.minutes());
        Ok(self.simulated(&bounds, terms, from, free, f64::INFINITY))
    }

    fn most_of(
        &self,
        bounds: &Bounds,
        terms: &Terms,
        free: &[bool],
    ) -> Option<(Assignment, GallonsPerMinute)> {
        self.simulated(bounds, terms, &self.ranked(bounds, free), free, f64::INFINITY)
    }

    /// Climbs on the simulated flow, and stops once it is `enough`.
    fn simulated(
        &self,
        bounds: &Bounds,
        terms: &Terms,
        from: &[Assignment],
        free: &[bool],
        enough_gpm: f64,
    ) -> Option<(Assignment, GallonsPerMinute)> {
        let luck = chances(&self.shuttle(from.first()?).0, terms, self.tankers.len());
        let mut left = MOST_SIMULATED;
        let mut best: Option<(Assignment, f64)> = None;
        // The flow, if it is worth more than the best known.
        let mut try_ = |candidate: &Assignment, best: &Option<(Assignment, f64)>| -> Option<f64> {
            let bar = best.as_ref().map_or(0.0, |(a, gpm)| self.worth(a, *gpm));
            let floor = if best.is_some() { bar * self.price(candidate) + SAME_GPM } else { 0.0 };
            if candidate.ceiling.0 < floor || left == 0 {
                return None;
            }
            left -= 1;
            Case::new(&self.shuttle(candidate).0, terms).flow_gpm(terms, &luck, floor)
        };
        // The best few by the closed form are each climbed from, for hills differ in their feet: first
        // from the best of them, then from the others as far as they lead above it.
        let all: Vec<usize> = (0..self.fills.len()).collect();
        let mut tops: Vec<Assignment> = Vec::new();
        for candidate in from.iter().take(CARRIED) {
            if let Some(gpm) = try_(candidate, &best) {
                best = Some((candidate.clone(), gpm));
            }
        }
        let mut best = best?;
        let feet = std::iter::once(best.0.clone()).chain(from.iter().take(CLIMBED).cloned());
        for foot in feet.collect::<Vec<_>>() {
            let mut here = foot;
            while best.1 < enough_gpm && !tops.contains(&here) {
                tops.push(here.clone());
                let mut next = self.neighbours(bounds, &here, &all, free);
                next.sort_by(|a, b| b.ceiling.0.total_cmp(&a.ceiling.0).then(a.site_of.cmp(&b.site_of)));
                let better = next.into_iter().find_map(|candidate| {
                    let gpm = try_(&candidate, &Some(best.clone()))?;
                    Some((candidate, gpm))
                });
                if let Some(better) = better {
                    here = better.0.clone();
                    best = better;
                }
            }
        }
        Some((best.0, GallonsPerMinute(best.1)))
    }

    /// The fewest further tankers, beside those of `always`, that hold a flow together with them, and
    /// the assignment of all: of the sets of that size the one that has arrived first. None where
    /// all together do not hold it.
    pub fn fewest(
        &self,
        terms: &Terms,
        always: &[bool],
        need: GallonsPerMinute,
    ) -> Result<Option<(Assignment, GallonsPerMinute)>, ShuttleError> {
        self.check()?;
        check_terms(terms)?;
        let bounds = Bounds::new(self, terms.period.minutes());
        let own: Vec<f64> = (0..self.tankers.len()).map(|t| bounds.best_own_gpm(t)).collect();
        let base_gpm: f64 = (0..own.len()).filter(|t| always[*t]).map(|t| own[t]).sum();
        let mut extra: Vec<usize> = (0..own.len()).filter(|t| !always[*t] && own[*t] > 0.0).collect();
        extra.sort_by(|a, b| own[*b].total_cmp(&own[*a]).then(a.cmp(b)));
        for size in 0..=extra.len() {
            let most: f64 = base_gpm + extra[..size].iter().map(|t| own[*t]).sum::<f64>();
            if most < need.0 {
                continue;
            }
            let mut ready: Vec<(Vec<Assignment>, Vec<bool>, f64)> = Vec::new();
            for set in sets(&extra, size, SETS_OF_A_SIZE) {
                let mut free = always.to_vec();
                set.iter().for_each(|t| free[*t] = true);
                let found = self.ranked(&bounds, &free);
                let arrived = |t: &usize| self.tankers[*t].arrives.0;
                if found.iter().any(|a| a.ceiling.0 >= need.0) {
                    ready.push((found, free, set.iter().map(arrived).fold(0.0, f64::max)));
                }
            }
            // Half of those tried by their ceiling, so that a slow but able set is not left out.
            let top = |r: &(Vec<Assignment>, Vec<bool>, f64)| r.0.first().map_or(0.0, |a| a.ceiling.0);
            ready.sort_by(|a, b| top(b).total_cmp(&top(a)));
            ready.truncate(SETS_SIMULATED);
            ready.sort_by(|a, b| a.2.total_cmp(&b.2));
            for (found, free, _) in &ready {
                let best = self.simulated(&bounds, terms, found, free, need.0);
                if let Some(best) = best.filter(|(_, flow)| flow.0 >= need.0) {
                    return Ok(Some(best));
                }
            }
        }
        Ok(None)
    }

    /// The fewest fill and dump berths at which the assignment still holds a flow: one is taken away
    /// where the ceiling stays highest, as long as the simulation holds it.
    pub fn fewest_berths(
        &self,
        terms: &Terms,
        assignment: &Assignment,
        flow: GallonsPerMinute,
    ) -> Result<(Vec<u32>, u32), ShuttleError> {
        let shuttle = self.shuttle(assignment).0;
        let (fills, dump) = fewest_berths(&shuttle, terms, flow)?;
        let mut berths = vec![0; self.fills.len()];
        for (site, number) in assignment.sites().into_iter().zip(fills) {
            berths[site] = number;
        }
        Ok((berths, dump))
    }
}

/// The fewest fill and dump berths at which a shuttle still holds a flow, one less at a time.
pub fn fewest_berths(
    shuttle: &Shuttle,
    terms: &Terms,
    flow: GallonsPerMinute,
) -> Result<(Vec<u32>, u32), ShuttleError> {
    check(shuttle)?;
    check_terms(terms)?;
    let luck = chances(shuttle, terms, shuttle.tankers.len());
    let mut now = shuttle.clone();
    let holds = |s: &Shuttle| Case::new(s, terms).holds(terms, &luck, flow.0);
    let mut again = true;
    while std::mem::take(&mut again) {
        for site in 0..=now.fills.len() {
            let mut less = now.clone();
            let berths = match less.fills.get_mut(site) {
                Some(fill) => &mut fill.berths,
                None => &mut less.dump.berths,
            };
            if *berths > 1 {
                *berths -= 1;
                if holds(&less) {
                    (now, again) = (less, true);
                }
            }
        }
    }
    Ok((now.fills.iter().map(|f| f.berths).collect(), now.dump.berths))
}

/// Up to `most` sets of `size` of the things listed, in the order of the list.
fn sets(from: &[usize], size: usize, most: usize) -> Vec<Vec<usize>> {
    let mut out = Vec::new();
    let mut places: Vec<usize> = (0..size).collect();
    loop {
        out.push(places.iter().map(|p| from[*p]).collect());
        // The last place that can still go on.
        let Some(i) = (0..size).rev().find(|i| places[*i] + size - i < from.len()) else { return out };
        if out.len() >= most {
            return out;
        }
        places[i] += 1;
        for j in i + 1..size {
            places[j] = places[j - 1] + 1;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::sets;

    #[test]
    fn sets_of_a_size() {
        assert_eq!(sets(&[7, 8, 9], 2, 99), [vec![7, 8], vec![7, 9], vec![8, 9]]);
        assert_eq!(sets(&[7, 8, 9], 3, 99), [vec![7, 8, 9]]);
        assert_eq!(sets(&[7, 8], 0, 99), [Vec::<usize>::new()]);
        assert_eq!(sets(&[1, 2, 3, 4, 5, 6], 3, 99).len(), 20);
        assert_eq!(sets(&[1, 2, 3, 4, 5, 6], 3, 4).len(), 4);
    }
}
