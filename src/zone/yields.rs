//! What a fill site yields at most by itself, from driving times alone: most sites around a stretch need no
//! closer look.

use super::Zone;
use crate::routing::topology::seconds;
use crate::units::Seconds;
use crate::vehicle::Load;

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

/// Of the sites of a block.
pub struct Yields {
    /// By tanker of the fleet.
    pub due: Vec<bool>,
    /// Sites are worked together.
    pub together: bool,
    /// By site.
    stops: Vec<Vec<Stop>>,
    /// What source, berths and what draws let through: gallons per minute.
    cap_gpm: Vec<f64>,
    /// Factors on loaded and empty driving.
    pace: [f64; 2],
}

impl Yields {
    /// Of `sites`, by index into the ground's.
    pub fn of(zone: &Zone, sites: &[usize]) -> Yields {
        let problem = zone.problem;
        let ground = &zone.ground;
        let due = problem.fleet.due();
        let draw_gpm = zone.draw.iter().map(|limit| limit.flow.0).fold(f64::INFINITY, f64::min);
        let (mut stops, mut cap_gpm) = (Vec::new(), Vec::new());
        for placed in sites.iter().map(|site| &ground.sites[*site]) {
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
        let search = &problem.search;
        let together = search.fill_sites_at_once > 1 && search.fill_crews.is_none_or(|crews| crews > 1);
        let pace = [problem.pace.of(Load::Full), problem.pace.of(Load::Empty)];
        Yields { due, together, stops, cap_gpm, pace }
    }

    /// A flow that the site cannot pass by itself, whatever turns the legs need: `least_ms` are the least
    /// milliseconds of loaded and empty legs by class.
    pub fn at_most_gpm(&self, site: usize, least_ms: &[Option<[u32; 2]>]) -> f64 {
        let bring = |stop: &Stop| {
            let Some([loaded, empty]) = least_ms[stop.class] else { return 0.0 };
            let driving_s = seconds(loaded).0 * self.pace[0] + seconds(empty).0 * self.pace[1];
            stop.load_gal / (stop.stops_s + driving_s) * 60.0
        };
        let tankers: f64 = self.stops[site].iter().map(bring).sum();
        (tankers * ROUNDING).min(self.cap_gpm[site])
    }
}
