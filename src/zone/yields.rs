//! What a fill site yields at most by itself, from driving times alone: most sites around a stretch need no
//! closer look.

use super::Zone;
use super::judge::TOLD_ALONE;
use crate::plan::Problem;
use crate::routing::topology::millis;
use crate::shuttle::SITES_COMBINED;
use crate::units::Seconds;
use crate::vehicle::Load;
use multiversion::multiversion;

/// Sums in another order may differ in the last digits.
const ROUNDING: f64 = 1.0 + 1e-9;

/// One tanker that is due at one site, without its driving.
#[derive(Clone, Copy)]
struct Stop {
    class: usize,
    load_gal: f64,
    /// Handling and service at both ends, without turning.
    stops_s: f64,
}

/// Of the sites of the ground.
pub struct Yields {
    /// By tanker of the fleet.
    pub due: Vec<bool>,
    /// By site.
    stops: Vec<Vec<Stop>>,
    /// What source, berths and what draws let through: gallons per minute.
    cap_gpm: Vec<f64>,
    /// Factors on loaded and empty driving.
    pace: [f64; 2],
    /// Longest driving, both legs.
    longest_s: f64,
}

/// What no site of several passes, by whole `STEP_S` of driving.
pub struct Envelope {
    pace: [f64; 2],
    gpm: Vec<f64>,
}

const STEP_S: f64 = 5.0;

impl Envelope {
    /// Under legs that are that long at least, by class.
    pub fn at_most_gpm(&self, least_ms: &[Option<[u32; 2]>]) -> f64 {
        let of_class = |ms: &Option<[u32; 2]>| driving_s(ms, self.pace);
        let driving_s = least_ms.iter().filter_map(of_class).fold(f64::INFINITY, f64::min);
        let step = (driving_s / STEP_S) as usize;
        self.gpm.get(step).or(self.gpm.last()).copied().unwrap_or(0.0)
    }
}

fn driving_s(least_ms: &Option<[u32; 2]>, pace: [f64; 2]) -> Option<f64> {
    least_ms.map(|ms| both_legs_s(ms.map(f64::from), pace))
}

fn both_legs_s([loaded_ms, empty_ms]: [f64; 2], pace: [f64; 2]) -> f64 {
    (loaded_ms * pace[0] + empty_ms * pace[1]) / 1000.0
}

/// Sites told of a stretch, or looked at for working them together.
pub fn sites_wanted(problem: &Problem) -> usize {
    let search = &problem.search;
    let together = search.fill_sites_at_once > 1 && search.fill_crews.is_none_or(|crews| crews > 1);
    if together { SITES_COMBINED } else { TOLD_ALONE }
}

/// Yields of some sites as columns, to be worked out side by side.
pub struct Columns {
    tankers: Vec<Column>,
    /// By site; nothing of what pads them.
    cap_gpm: Vec<f64>,
}

struct Column {
    class: usize,
    load_gal: f64,
    /// By site.
    stops_s: Vec<f64>,
}

impl Columns {
    /// What the sites yield at most, under driving that long at least, by class and site.
    pub fn at_most_gpm(&self, driving_s: &[Vec<f64>]) -> Vec<f64> {
        let mut gpm = vec![0.0; self.cap_gpm.len()];
        for Column { class, load_gal, stops_s } in &self.tankers {
            bring(*load_gal, stops_s, &driving_s[*class], &mut gpm);
        }
        let capped = gpm.iter().zip(&self.cap_gpm);
        capped.map(|(gpm, cap)| if gpm * ROUNDING < *cap { gpm * ROUNDING } else { *cap }).collect()
    }
}

/// What a tanker adds at each site.
#[multiversion(targets("x86_64+avx512f", "x86_64+avx2"))]
fn bring(load_gal: f64, stops_s: &[f64], driving_s: &[f64], gpm: &mut [f64]) {
    for ((gpm, stops_s), driving_s) in gpm.iter_mut().zip(stops_s).zip(driving_s) {
        *gpm += load_gal / (stops_s + driving_s) * 60.0;
    }
}

impl Yields {
    pub fn of(zone: &Zone) -> Yields {
        let problem = zone.problem;
        let ground = &zone.ground;
        let due = problem.fleet.due();
        let draw_gpm = zone.draw.iter().map(|limit| limit.flow.0).fold(f64::INFINITY, f64::min);
        let (mut stops, mut cap_gpm) = (Vec::new(), Vec::new());
        for placed in &ground.sites {
            let Ok(state) = &placed.state else {
                stops.push(Vec::new());
                cap_gpm.push(0.0);
                continue;
            };
            let mut here = Vec::new();
            let mut per_berth_gpm = 0.0_f64;
            for (i, tanker) in problem.fleet.tankers.iter().enumerate().filter(|(i, _)| due[*i]) {
                let handling = placed.site.handling.unwrap_or(tanker.fill_handling);
                let fill: Seconds = handling + tanker.usable.at(tanker.intake.min(state.flow));
                let dump: Seconds = tanker.dump_handling + tanker.usable.at(tanker.dump_rate);
                per_berth_gpm = per_berth_gpm.max(tanker.usable.0 / fill.minutes().max(1e-9));
                let stops_s = fill.0 + dump.0;
                here.push(Stop { class: ground.class_of(i), load_gal: tanker.usable.0, stops_s });
            }
            stops.push(here);
            let berths_gpm = per_berth_gpm * f64::from(placed.site.berths);
            cap_gpm.push(berths_gpm.min(state.flow.0).min(draw_gpm) * ROUNDING);
        }
        let pace = [problem.pace.of(Load::Full), problem.pace.of(Load::Empty)];
        let longest_s = problem.search.longest_leg_minutes * 60.0 * (pace[0] + pace[1]);
        Yields { due, stops, cap_gpm, pace, longest_s }
    }

    /// Of some ready sites of the ground, padded to whole sets of `together`.
    pub fn columns(&self, sites: &[usize], together: usize) -> Columns {
        let count = sites.len().next_multiple_of(together);
        let column = |(nth, stop): (usize, &Stop)| {
            let mut stops_s: Vec<f64> = sites.iter().map(|site| self.stops[*site][nth].stops_s).collect();
            stops_s.resize(count, 1.0);
            Column { class: stop.class, load_gal: stop.load_gal, stops_s }
        };
        let tankers = sites.first().map_or(&[][..], |site| &self.stops[*site]);
        let mut cap_gpm: Vec<f64> = sites.iter().map(|site| self.cap_gpm[*site]).collect();
        cap_gpm.resize(count, 0.0);
        Columns { tankers: tankers.iter().enumerate().map(column).collect(), cap_gpm }
    }

    /// Driving of two legs of so many milliseconds.
    pub fn driving_s(&self, both_ms: [f64; 2]) -> f64 {
        both_legs_s(both_ms, self.pace)
    }

    /// Of some sites of the ground.
    pub fn envelope(&self, sites: impl Iterator<Item = usize> + Clone) -> Envelope {
        let best = |driving_s: f64| {
            sites.clone().map(|site| self.by_driving(site, |_| Some(driving_s))).fold(0.0, f64::max)
        };
        let steps = (self.longest_s / STEP_S).ceil() as usize;
        Envelope { pace: self.pace, gpm: (0..=steps).map(|step| best(step as f64 * STEP_S)).collect() }
    }

    /// What a site cannot pass, however near.
    pub fn cap_gpm(&self, site: usize) -> f64 {
        self.cap_gpm[site]
    }

    fn by_driving(&self, site: usize, driving_s: impl Fn(usize) -> Option<f64>) -> f64 {
        let bring = |stop: &Stop| {
            driving_s(stop.class).map_or(0.0, |driving_s| stop.load_gal / (stop.stops_s + driving_s) * 60.0)
        };
        let tankers: f64 = self.stops[site].iter().map(bring).sum();
        (tankers * ROUNDING).min(self.cap_gpm[site])
    }

    /// The driving of both legs beyond which the site yields less than a flow, as milliseconds of a leg when the
    /// other takes none.
    pub fn farthest_ms(&self, site: usize, gpm: f64) -> u32 {
        let (mut near_s, mut far_s) = (0.0, self.longest_s);
        for _ in 0..24 {
            let middle_s = (near_s + far_s) / 2.0;
            if self.by_driving(site, |_| Some(middle_s)) >= gpm {
                near_s = middle_s
            } else {
                far_s = middle_s
            }
        }
        millis(far_s / self.pace[0].min(self.pace[1]).max(1e-3)).saturating_add(1)
    }

    /// A flow that the site cannot pass by itself, whatever turns the legs need: `least_ms` are the least
    /// milliseconds of loaded and empty legs by class.
    pub fn at_most_gpm(&self, site: usize, least_ms: &[Option<[u32; 2]>]) -> f64 {
        self.by_driving(site, |class| driving_s(&least_ms[class], self.pace))
    }
}
