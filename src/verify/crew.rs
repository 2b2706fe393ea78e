//! The option's vehicles and water, read from the inputs, with travel times found on the road.

use crate::finding::Findings;
use crate::place::Place;
use crate::plan::Problem;
use crate::routing::Roads;
use crate::shuttle::share::{Part, share_out};
use crate::sites::dump::INTAKE_RESIDUAL;
use crate::sites::fill::{FillSite, Readiness, from_map, ready};
use crate::sites::rig::rig_of;
use crate::units::{Feet, Gallons, GallonsPerMinute, METRES_PER_FOOT, Metres};
use crate::vehicle::{Load, Tanker};
use crate::verify::answer::{PlanOption, Said};
use crate::verify::drive::{Garage, OnRoad};
use crate::verify::loops::DrivenLoop;
use crate::verify::narrow::{Lanes, Passage};
use crate::verify::{ROUNDED, Verification};
use crate::water::hose::{HoseSize, Lay};
use crate::water::rig::SupplyLine;
use crate::water::transfer::TransferSettings;

/// A fill site as the inputs have it, with its flow worked out; none where it cannot be used.
#[derive(Clone, Debug)]
pub struct Site {
    pub name: String,
    pub place: Place,
    pub berths: u32,
    pub handling_s: Option<f64>,
    pub water: Option<(f64, Option<f64>)>,
    /// Main or pond it shares, and what the list says that gives.
    pub shares: Option<String>,
    pub shared_flow: Option<GallonsPerMinute>,
}

/// All fill sites, compared with the answer's list of them.
pub fn sites(problem: &Problem, roads: &Roads, said: &Said, found: &mut Verification) -> Vec<Site> {
    let conditions = problem.conditions();
    let mapped = roads.network.waters.iter().filter(|_| problem.mapped_sites.wanted);
    let mapped = mapped.map(|raw| from_map(raw, &problem.mapped_sites));
    let all: Vec<FillSite> = problem.listed_sites.iter().cloned().chain(mapped).collect();
    let mut sites = Vec::new();
    for site in &all {
        let water = match ready(site, problem.month, &conditions, &mut Findings::new()) {
            Ok(Readiness::Ready { flow, volume, .. }) => Some((flow.0, volume.map(|v| v.0))),
            _ => None,
        };
        sites.push(Site {
            name: site.name.clone(),
            place: site.place,
            berths: site.berths,
            handling_s: site.handling.map(|s| s.0),
            water,
            shares: site.details.shares.clone(),
            shared_flow: site.details.shared_flow,
        });
    }
    for site in &sites {
        let title = &site.name;
        let listed = said.sites.iter().find(|(s, at)| s.name == *title && *at == site.place);
        let Some((stated, _)) = listed else {
            found.add("site.listed", None, false, format!("{title} is not in the answer"));
            continue;
        };
        found.add("site.listed", None, true, title.clone());
        let berths = stated.berths == site.berths;
        found.add("site.berths", None, berths, format!("{title}: {} of {}", stated.berths, site.berths));
        match (site.water, stated.used) {
            (None, true) => found.add("site.used", None, false, format!("{title} cannot be used")),
            (Some((gpm, gal)), true) => {
                let near = |a: Option<f64>, b: Option<f64>| match (a, b) {
                    (Some(a), Some(b)) => (a - b).abs() <= ROUNDED,
                    (a, b) => a == b,
                };
                let agrees = near(stated.flow_gpm, Some(gpm)) && near(stated.volume_gal, gal);
                let (flow, volume) = (stated.flow_gpm, stated.volume_gal);
                let detail = format!("{title}: stated {flow:?} gpm, {volume:?} gal; found {gpm}, {gal:?}");
                found.add("site.water", None, agrees, detail);
            }
            _ => {}
        }
    }
    sites
}

/// Water at a fill site in use.
#[derive(Clone, Debug)]
pub struct Source {
    /// Index into the sites.
    pub site: usize,
    pub flow_gpm: f64,
    pub volume_gal: Option<f64>,
    pub berths: u32,
}

/// A tanker on its loop; every time is its mean.
#[derive(Clone, Debug)]
pub struct Truck {
    pub id: String,
    /// Index into the option's loops.
    pub on_loop: usize,
    /// Index into the crew's sources.
    pub source: usize,
    pub load_gal: f64,
    /// From the call to the dump site, full, turnout included.
    pub arrival_s: f64,
    /// Handling includes turning round on the spot: nobody else gets into the berth meanwhile, and
    /// as it may be done before the water flows, the first water is reckoned with it.
    pub dump_handling_s: f64,
    pub dump_gpm: f64,
    /// Legs, driving alone.
    pub empty_s: f64,
    pub loaded_s: f64,
    /// Narrow road on them.
    pub empty_lanes: Vec<Passage>,
    pub loaded_lanes: Vec<Passage>,
    pub fill_handling_s: f64,
    pub intake_gpm: f64,
}

impl Truck {
    pub fn dump_s(&self) -> f64 {
        self.dump_handling_s + 60.0 * self.load_gal / self.dump_gpm
    }
    pub fn fill_s(&self, source: &Source) -> f64 {
        self.fill_handling_s + 60.0 * self.load_gal / self.intake_gpm.min(source.flow_gpm)
    }
    pub fn passages(&self) -> impl Iterator<Item = &Passage> {
        self.empty_lanes.iter().chain(&self.loaded_lanes)
    }
    /// Without any waiting.
    pub fn cycle_s(&self, sources: &[Source]) -> f64 {
        self.dump_s() + self.empty_s + self.fill_s(&sources[self.source]) + self.loaded_s
    }
}

/// An option's shuttle.
#[derive(Clone, Debug)]
pub struct Crew {
    pub trucks: Vec<Truck>,
    pub sources: Vec<Source>,
    /// Stretches of narrow road where trucks meet.
    pub lanes: usize,
    pub dump_berths: u32,
    pub room_gal: f64,
    pub period_s: f64,
    /// Least and greatest draw that line and rig allow.
    pub draw_gpm: (f64, f64),
}

impl Crew {
    pub fn without(&self, truck: usize) -> Crew {
        let mut crew = self.clone();
        crew.trucks.remove(truck);
        crew
    }
}

/// When a tanker without a known station is taken to arrive, after its turnout (a quarter of an
/// hour, as the answer's findings say).
const UNKNOWN_STATION_S: f64 = 900.0;

/// The option's shuttle. At a junction the dump site may mean any arm that all its loops use; the
/// one that explains the stated first water is taken.
pub fn muster(
    problem: &Problem,
    garage: &Garage,
    sites: &[Site],
    option: &PlanOption,
    drives: &[DrivenLoop],
) -> Result<Crew, String> {
    let first = drives.first().ok_or("it has no loop")?;
    let everyone =
        |arm: &&OnRoad| drives.iter().all(|drive| drive.dumps.iter().any(|dump| dump.segment == arm.segment));
    let mut arms: Vec<OnRoad> = first.dumps.iter().filter(everyone).copied().collect();
    if arms.is_empty() {
        arms.extend(first.dumps.first());
    }
    let stated = option.said.first_water_s;
    let off = |crew: &Crew| (super::shuttle::first_water_s(crew) - stated).abs();
    let crews: Vec<Result<Crew, String>> =
        arms.into_iter().map(|arm| at(problem, garage, sites, option, drives, arm)).collect();
    let bad = crews.iter().find_map(|crew| crew.as_ref().err().cloned());
    let best = crews.into_iter().flatten().min_by(|a, b| off(a).total_cmp(&off(b)));
    best.ok_or_else(|| bad.unwrap_or_else(|| "the dump site is not on the road".into()))
}

/// The shuttle as it stands at one of the places on the road that the dump site may mean.
fn at(
    problem: &Problem,
    garage: &Garage,
    sites: &[Site],
    option: &PlanOption,
    drives: &[DrivenLoop],
    dump: OnRoad,
) -> Result<Crew, String> {
    let turn_s = garage.ground.roads.table.delay.site_turnaround;
    let tanks = problem.fleet.portable_tanks.len() as u32;
    let lanes = Lanes::of(&garage.ground, drives);
    let mut crew = Crew {
        trucks: Vec::new(),
        sources: Vec::new(),
        lanes: lanes.count(),
        dump_berths: problem.rig.dump_berths.unwrap_or(tanks.min(2)),
        room_gal: problem.fleet.portable_tanks.iter().map(|t| t.0).sum(),
        period_s: problem.terms.period.0,
        draw_gpm: draw_gpm(problem, option)?,
    };
    for (nth, drive) in drives.iter().enumerate() {
        let of = option.loops.get(drive.index).ok_or("a loop is lost")?;
        let (site, water) = site_of(sites, of)?;
        let known = crew.sources.iter().position(|s| s.site == site);
        let source = known.unwrap_or(crew.sources.len());
        if known.is_none() {
            let berths = of.said.fill_berths;
            if berths == 0 || berths > sites[site].berths {
                return Err(format!("{} has {} berths, not {berths}", sites[site].name, sites[site].berths));
            }
            crew.sources.push(Source { site, flow_gpm: water.0, volume_gal: water.1, berths });
        }
        let turning = |turns: bool| if turns { turn_s } else { 0.0 };
        for id in of.tankers() {
            let tanker = problem.fleet.tankers.iter().find(|t| t.chassis.id == id);
            let tanker = tanker.ok_or_else(|| format!("the fleet has no tanker {id}"))?;
            let both = (garage.vehicle(id, Load::Full), garage.vehicle(id, Load::Empty));
            let (Some(full), Some(empty)) = both else { return Err(format!("no tanker {id}")) };
            let passages = lanes.of_truck(garage, nth, full, empty);
            let [mut loaded_lanes, mut empty_lanes] =
                passages.ok_or_else(|| format!("{id} cannot drive its loop"))?;
            let pace = problem.pace;
            for (lanes, factor) in [(&mut loaded_lanes, pace.loaded), (&mut empty_lanes, pace.empty)] {
                for passage in lanes.iter_mut() {
                    passage.after_s *= factor;
                    passage.take_s *= factor;
                }
            }
            crew.trucks.push(Truck {
                id: id.to_string(),
                on_loop: drive.index,
                source,
                load_gal: tanker.usable.0,
                arrival_s: arrival_s(garage, tanker, dump, pace.loaded)?,
                dump_handling_s: tanker.dump_handling.0 + turning(drive.turns_at_dump),
                dump_gpm: tanker.dump_rate.0,
                empty_s: pace.empty * drive.empty_ms as f64 / 1000.0,
                loaded_s: pace.loaded * drive.loaded_ms as f64 / 1000.0,
                empty_lanes,
                loaded_lanes,
                fill_handling_s: sites[site].handling_s.unwrap_or(tanker.fill_handling.0)
                    + turning(drive.turns_at_fill),
                intake_gpm: tanker.intake.0,
            });
        }
    }
    share(sites, &mut crew);
    // Who arrives at the same moment goes first in the order of the fleet file.
    let in_fleet = |id: &str| problem.fleet.tankers.iter().position(|t| t.chassis.id == id);
    crew.trucks.sort_by_key(|truck| in_fleet(&truck.id));
    let worked: u32 = crew.sources.iter().map(|source| source.berths).sum();
    if problem.search.fill_crews.is_some_and(|crews| worked > crews) {
        return Err(format!("{worked} fill berths are worked, more than there are crews"));
    }
    if crew.trucks.is_empty() { Err("no tanker drives it".into()) } else { Ok(crew) }
}

/// Cuts what sites on one main or pond give to their parts.
fn share(sites: &[Site], crew: &mut Crew) {
    let part = |(nth, source): (usize, &Source)| {
        let loads = crew.trucks.iter().filter(|truck| truck.source == nth).map(|truck| truck.load_gal);
        let site = &sites[source.site];
        Part {
            shares: site.shares.clone(),
            shared_flow: site.shared_flow,
            flow: GallonsPerMinute(source.flow_gpm),
            volume: source.volume_gal.map(Gallons),
            loads: Gallons(loads.sum()),
        }
    };
    let mut parts: Vec<Part> = crew.sources.iter().enumerate().map(part).collect();
    share_out(&mut parts);
    for (source, part) in crew.sources.iter_mut().zip(parts) {
        (source.flow_gpm, source.volume_gal) = (part.flow.0, part.volume.map(|v| v.0));
    }
}

/// The site a loop fills at: by name, the nearest where two share it.
fn site_of(sites: &[Site], of: &super::answer::SaidLoop) -> Result<(usize, (f64, Option<f64>)), String> {
    let start = of.loaded.as_ref().and_then(|(_, line)| line.first());
    let away = |site: &Site| start.map_or(0.0, |p| p.distance(site.place).0);
    let named = sites.iter().enumerate().filter(|(_, s)| s.name == of.said.fill_site);
    let nearest = named.min_by(|a, b| away(a.1).total_cmp(&away(b.1)));
    let (index, site) = nearest.ok_or_else(|| format!("no fill site {}", of.said.fill_site))?;
    let water = site.water.ok_or_else(|| format!("{} cannot be used", site.name))?;
    Ok((index, water))
}

/// Seconds from the call until a tanker stands at the dump site, by the quickest drive, full.
fn arrival_s(garage: &Garage, tanker: &Tanker, dump: OnRoad, pace: f64) -> Result<f64, String> {
    let id = &tanker.chassis.id;
    let turnout_s = tanker.chassis.turnout.0;
    let Some(station) = tanker.chassis.station else { return Ok(turnout_s + UNKNOWN_STATION_S) };
    let spot = garage.nearest(station).ok_or_else(|| format!("the station of {id} is off the roads"))?;
    let vehicle = garage.vehicle(id, Load::Full).ok_or_else(|| format!("no tanker {id}"))?;
    let ways = spot.arcs().into_iter().flat_map(|out| dump.arcs().map(|into| (out, into)));
    let least = ways.filter_map(|(out, into)| vehicle.quickest(spot, out, dump, into)).min();
    let least = least.ok_or_else(|| format!("{id} finds no way from its station to the dump site"))?;
    Ok(turnout_s + pace * least as f64 / 1000.0)
}

/// The least and the greatest draw that hose, pump, suction and siphons allow: the rig with the
/// supply line as the answer has it, to the digits it is written with.
fn draw_gpm(problem: &Problem, option: &PlanOption) -> Result<(f64, f64), String> {
    let bad = |e: crate::water::BadInput| e.to_string();
    let (line, _) = option.supply.as_ref().ok_or("the option has no supply line")?;
    let diameter = HoseSize::from_inches(line.hose_in).map_err(bad)?;
    let line = SupplyLine {
        lay: Lay { diameter, length: Metres(line.length_m.max(METRES_PER_FOOT)).feet(), lines: line.lines },
        residual: INTAKE_RESIDUAL,
        gain: Feet::ZERO,
    };
    let rig = rig_of(&problem.fleet, &problem.rig, Some(line)).map_err(bad)?;
    let found = rig.to_the_attack(&TransferSettings::default()).map_err(bad)?.flow.0;
    // The length is rounded to a tenth of a metre.
    Ok((found * 0.999, found * 1.001))
}
