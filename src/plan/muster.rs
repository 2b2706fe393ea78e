//! The fleet mustered around one dump site: every tanker with its arrival and its round trip to every fill
//! site, and what the dump site lets through.

use crate::plan::ground::{Ground, PlacedSite};
use crate::plan::options::{ASSUMED_ARRIVAL, LoopTimes, WORTH_A_SITE};
use crate::plan::request::Problem;
use crate::routing::topology::seconds;
use crate::shuttle::{DrawKind, DrawLimit, Dump, Fill, Main, Posts, Recruit, RoundTrip};
use crate::sites::rig::rig_of;
use crate::units::GallonsPerMinute;
use crate::vehicle::{self, Fleet, Load};
use crate::water::Checked;
use crate::water::rig::{RigLimit, SupplyLine};
use crate::water::transfer::TransferSettings;

/// Dump berths without a wish: one crew can set two tankers at a time (common practice, no source).
const MOST_DUMP_BERTHS: usize = 2;

pub struct Muster<'a, 'r> {
    pub problem: &'a Problem,
    pub ground: &'a Ground<'r>,
    /// What lets the water through at the dump site.
    pub draw: &'a [DrawLimit],
    /// Tankers and sites have their names; whoever looks at very many places needs none.
    pub names: bool,
}

impl Muster<'_, '_> {
    /// The posts of some sites, in their order, under given times: `station_ms` from a tanker's station
    /// to the dump site by class and tanker, `trip` by class and site.
    pub fn posts(
        &self,
        sites: &[usize],
        station_ms: &dyn Fn(usize, usize) -> Option<u32>,
        trip: &dyn Fn(usize, usize) -> Option<LoopTimes>,
    ) -> Posts {
        let (problem, ground) = (self.problem, self.ground);
        let named = |name: &String| if self.names { name.clone() } else { String::new() };
        let recruit = |(i, tanker): (usize, &vehicle::Tanker)| {
            let class = ground.class_of(i);
            let travel = match ground.stations[i] {
                None => Some(ASSUMED_ARRIVAL),
                Some(_) => {
                    let drive = station_ms(class, i).map(seconds);
                    drive.map(|drive| problem.pace.driven(Load::Full, drive))
                }
            };
            let trip = |site: &usize| {
                let time = trip(class, *site).filter(|_| travel.is_some())?;
                let handling = ground.sites[*site].site.handling.unwrap_or(tanker.fill_handling);
                Some(RoundTrip {
                    empty: problem.pace.driven(Load::Empty, time.empty),
                    loaded: problem.pace.driven(Load::Full, time.loaded),
                    fill_handling: handling + time.at_fill,
                    dump_handling: tanker.dump_handling + time.at_dump,
                })
            };
            Recruit {
                name: named(&tanker.chassis.id),
                load: tanker.usable,
                arrives: tanker.chassis.turnout + travel.unwrap_or(ASSUMED_ARRIVAL),
                intake: tanker.intake,
                dump_rate: tanker.dump_rate,
                at: sites.iter().map(trip).collect(),
            }
        };
        let fill = |site: &usize| {
            let placed: &PlacedSite = &ground.sites[*site];
            let state = placed.state.as_ref().ok();
            Fill {
                name: named(&placed.site.name),
                berths: placed.site.berths,
                flow: state.map_or(GallonsPerMinute::ZERO, |s| s.flow),
                volume: state.and_then(|s| s.volume),
            }
        };
        let tanks = &problem.fleet.portable_tanks;
        let berths = problem.rig.dump_berths.unwrap_or(tanks.len().clamp(1, MOST_DUMP_BERTHS) as u32);
        let draw_limits = self.draw.to_vec();
        let main = |site: &usize| {
            let details = &ground.sites[*site].site.details;
            details.shares.clone().map(|name| Main { name, flow: details.shared_flow })
        };
        Posts {
            tankers: problem.fleet.tankers.iter().enumerate().map(recruit).collect(),
            fills: sites.iter().map(fill).collect(),
            mains: sites.iter().map(main).collect(),
            dump: Dump { berths, tank_room: tanks.iter().copied().sum(), draw_limits },
            spread: problem.spread,
            most_sites: problem.search.fill_sites_at_once,
            crews: problem.search.fill_crews,
            worth_a_site: WORTH_A_SITE,
        }
    }
}

/// What pumper, suctions, tanks and siphons let through, and what the supply line carries, if it is laid.
pub fn draw_limits(
    problem: &Problem,
    fleet: &Fleet,
    line: Option<(SupplyLine, GallonsPerMinute)>,
) -> Checked<Vec<DrawLimit>> {
    let flow = line.as_ref().map(|(_, flow)| *flow);
    let rig = rig_of(fleet, &problem.rig, line.map(|(line, _)| line))?;
    let found = rig.at_the_tanks(&TransferSettings::default())?;
    let kind = match found.limit {
        RigLimit::PumpAtLift | RigLimit::PumpAtPressure => DrawKind::Pumper,
        RigLimit::Suction => DrawKind::Suction,
        RigLimit::Siphons | RigLimit::SingleTank => DrawKind::Siphons,
        RigLimit::SupplyLine => DrawKind::SupplyLine,
    };
    let line = flow.map(|flow| DrawLimit { kind: DrawKind::SupplyLine, flow });
    Ok(std::iter::once(DrawLimit { kind, flow: found.flow }).chain(line).collect())
}
