//! The request: a scenario file and the flags that override it, resolved into one validated
//! problem before any work is done.

use crate::drill::file;
use crate::finding::{Code, Finding, Findings, Outcome, Refusal, Where};
use crate::place::Place;
use crate::plan::need::{self, Need};
use crate::plan::scenario::{ScenarioFile, SearchSettings, SpreadFile};
use crate::plan::setting::{RoadInputs, Setting};
use crate::plan::timing::{self, Pace};
use crate::plan::what_if;
use crate::roads::network::Network;
use crate::shuttle::{Spread, Terms, Vary};
use crate::sites::fill::{FillSite, MappedSites, from_map};
use crate::sites::fill_file;
use crate::sites::rig::RigSettings;
use crate::sites::share;
use crate::units::{GallonsPerMinute, Seconds};
use crate::vehicle::Fleet;
use crate::water::source::{Conditions, WaterLevel};
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

/// What the command line overrides.
#[derive(Clone, Debug, Default)]
pub struct Overrides {
    pub roads: Option<PathBuf>,
    pub fleet: Option<PathBuf>,
    pub speeds: Option<PathBuf>,
    pub elevation: Vec<PathBuf>,
    /// Beside those of the scenario.
    pub overlay: Vec<PathBuf>,
    pub incident: Option<Place>,
    /// Where the officer wants the dump site.
    pub dump: Option<Place>,
    pub need: Option<f64>,
    pub month: Option<u8>,
    /// Local time of the incident, "2026-01-15T14:00".
    pub when: Option<String>,
    pub replications: Option<u32>,
    pub seed: Option<u64>,
    /// Times fitted from a drill.
    pub drill: Option<PathBuf>,
    /// Fill sites that are out of service, by name, listed or mapped.
    pub without: Vec<String>,
    /// The only tankers there are, by id; all of the fleet file if none.
    pub tankers: Option<Vec<String>>,
    /// Roads closed, by way id.
    pub closed_ways: Vec<i64>,
    /// Water level at which the fill sites are rated.
    pub water: Option<WaterLevel>,
    /// Stop at the closed form.
    pub no_simulation: bool,
}

/// A validated problem: everything but the roads, which are named.
#[derive(Clone, Debug)]
pub struct Problem {
    pub scenario: String,
    pub name: String,
    pub roads: RoadInputs,
    pub fleet: Fleet,
    pub fleet_file: String,
    /// Sites from lists; those from map tags are added once the roads are read.
    pub listed_sites: Vec<FillSite>,
    pub mapped_sites: MappedSites,
    /// Water level at which the fill sites are rated.
    pub level: WaterLevel,
    pub month: Option<u8>,
    /// The time from which it follows, as given.
    pub when: Option<String>,
    pub incident_name: String,
    /// None where every road of a zone is asked for.
    pub incident: Option<Place>,
    /// Where the officer wants the dump site; then no other is tried.
    pub dump: Option<Place>,
    pub need: GallonsPerMinute,
    /// How it was found, and what every method says.
    pub need_found: Need,
    pub terms: Terms,
    pub spread: Spread,
    pub pace: Pace,
    pub rig: RigSettings,
    pub search: SearchSettings,
    /// Fill sites out of service in this request that no list names: sites from map tags.
    pub without_mapped: Vec<String>,
    /// False for ceilings only.
    pub simulate: bool,
    pub findings: Findings,
}

impl Problem {
    /// Fill sites from map tags, if they are wanted; those that the request names are out of service.
    pub fn mapped(&self, network: &Network) -> Vec<FillSite> {
        let wanted = self.mapped_sites.wanted;
        let tagged = network.waters.iter().filter(|_| wanted).map(|w| from_map(w, &self.mapped_sites));
        let in_request = |mut site: FillSite| {
            site.in_service &= !self.without_mapped.contains(&site.name);
            site
        };
        tagged.map(in_request).collect()
    }

    /// What holds for all fill sites.
    pub fn conditions(&self) -> Conditions {
        Conditions {
            altitude_ft: self.rig.altitude,
            curve: self.rig.capacity_curve,
            level: self.level,
            fill_pump_gpm: self.fleet.fill_pumper().map(|p| p.rated),
            assumed_lift_ft: None,
        }
    }

    /// A problem with an incident.
    pub fn read(path: &Path, overrides: &Overrides) -> Outcome<Problem> {
        Problem::resolve(path, overrides, true)
    }

    /// A problem for every road: an incident is not asked for.
    pub fn read_zone(path: &Path, overrides: &Overrides) -> Outcome<Problem> {
        let mut problem = Problem::resolve(path, overrides, false)?;
        problem.roads.wish.buildings = true;
        Ok(problem)
    }

    fn resolve(path: &Path, overrides: &Overrides, incident_wanted: bool) -> Outcome<Problem> {
        let raw = ScenarioFile::read(path)?;
        let file = path.display().to_string();
        let folder = path.parent().unwrap_or(Path::new(""));
        let bad =
            |cause: String, action: &str| Finding::new(Code::InputInvalid, Where::file(&file), cause, action);
        let mut findings = Findings::new();

        let incident = raw.incident.clone().unwrap_or_default();
        let mut place = |key: &str, flag: Option<Place>, listed: Option<[f64; 2]>| {
            let listed = listed.map(|[lon, lat]| Place::from_lon_lat(lon, lat)).transpose();
            match (flag, listed) {
                (Some(place), _) => Some(place),
                (None, Ok(place)) => place,
                (None, Err(e)) => {
                    findings.add(bad(format!("{key}: {e}"), "write [longitude, latitude]"));
                    None
                }
            }
        };
        let at = place("incident.at", overrides.incident, incident.at);
        let dump = place("incident.dump", overrides.dump, incident.dump);
        if at.is_none() && incident_wanted && findings.is_empty() {
            findings.add(bad(
                "no incident is given".into(),
                "write `at = [lon, lat]` under [incident], or use --incident LON,LAT",
            ));
        }
        let need = need::resolve(&file, overrides.need, &incident)
            .map_err(|Refusal(errors)| errors.into_iter().for_each(|e| findings.add(e)))
            .ok();
        let mut range = |key: &str, value: f64, least: f64, most: f64, unit: &str| {
            if !(value.is_finite() && (least..=most).contains(&value)) {
                let cause = if value.is_nan() {
                    format!("{key} is not given or not a number")
                } else {
                    format!("{key} is {value}")
                };
                findings.add(bad(cause, &format!("give a value from {least} to {most} {unit}")));
            }
            value
        };
        let shuttle = raw.shuttle.clone();
        range("shuttle.period_min", shuttle.period_min, 1.0, 2_880.0, "minutes");
        range("shuttle.reliability", shuttle.reliability, 0.5, 0.999, "(share of replications)");
        let replications = overrides.replications.unwrap_or(shuttle.replications);
        range("shuttle.replications", f64::from(replications), 1.0, 100_000.0, "");
        let SpreadFile { travel, handling, service } = shuttle.spread;
        let mut spread = Spread { travel, handling, service };
        for (key, vary) in [("travel", travel), ("handling", handling), ("service", service)] {
            if let Vary::LogNormal { cv } = vary {
                range(&format!("shuttle.spread.{key}"), cv, 0.0, 3.0, "(cv)");
            }
        }
        range("search.longest_leg_min", raw.search.longest_leg_minutes, 1.0, 240.0, "minutes");
        range("search.site_to_road_m", raw.search.site_to_road.0, 1.0, 5_000.0, "m");
        range("search.options", raw.search.options as f64, 1.0, 50.0, "");
        range("search.fill_sites_at_once", raw.search.fill_sites_at_once as f64, 1.0, 10.0, "");
        range("search.fill_crews", f64::from(raw.search.fill_crews.unwrap_or(1)), 1.0, 50.0, "");
        range("search.dump_candidates", raw.search.dump_candidates as f64, 1.0, 500.0, "");
        range("rig.lift_ft", raw.rig.lift.0, 0.0, 25.0, "ft");
        range("rig.altitude_ft", raw.rig.altitude.0, -1_500.0, 20_000.0, "ft");
        range("rig.suction_in", raw.rig.suction.0, 2.0, 12.0, "in");
        range("rig.dump_berths", f64::from(raw.rig.dump_berths.unwrap_or(1)), 1.0, 20.0, "");
        let month = overrides.month.or(raw.month);
        range("month", f64::from(month.unwrap_or(1)), 1.0, 12.0, "(1 is January)");

        // All files are read before anything is refused, so that one run tells all that is wrong.
        let mut refused: Vec<Finding> = Vec::new();
        let mut keep = |refusal: Refusal| refused.extend(refusal.0);
        let setting = Setting::read(Some((path, &raw)), overrides, at, &mut findings).map_err(&mut keep).ok();
        let drilled = overrides.drill.clone().or(raw.drill.as_ref().map(|path| folder.join(path)));
        let drill = drilled.and_then(|path| {
            let read = file::read(&path).map_err(&mut keep).ok()?;
            Some((path.display().to_string(), read))
        });
        let mut listed_sites = Vec::new();
        for sites in &raw.sites {
            match fill_file::read(&folder.join(sites), &mut findings) {
                Ok(read) => listed_sites.extend(read),
                Err(refusal) => keep(refusal),
            }
        }
        share::agree(&mut listed_sites);
        refused.extend(same_names(&listed_sites));
        if let Err(Refusal(errors)) = findings.refuse_errors() {
            refused.extend(errors);
        }
        let (Some(Setting { mut roads, mut fleet, fleet_file }), Some(need), true) =
            (setting, need, refused.is_empty())
        else {
            return Err(Refusal(refused));
        };
        if let Some(ids) = &overrides.tankers {
            what_if::only_tankers(&mut fleet, ids)?;
        }
        let mapped = raw.mapped_sites.wanted;
        let without_mapped = what_if::out_of_service(&mut listed_sites, &overrides.without, mapped)?;
        what_if::close(&mut roads.overlay, &overrides.closed_ways);
        check_fleet(&fleet, &fleet_file)?;
        let pace = timing::apply(drill.as_ref(), &mut fleet, &mut spread, &mut findings);
        if listed_sites.is_empty() && !raw.mapped_sites.wanted {
            return Err(Refusal::new(
                Code::NoFillSite,
                Where::file(&file),
                "no fill site is listed and the extract's own are not asked for",
                "list some under `sites`, or set `use = true` under [mapped_sites]",
            ));
        }
        Ok(Problem {
            name: raw.name.unwrap_or_else(|| file.clone()),
            scenario: file,
            month: roads.policy.moment.month,
            when: match overrides.month {
                Some(_) => overrides.when.clone(),
                None => overrides.when.clone().or(raw.when),
            },
            roads,
            fleet,
            fleet_file,
            listed_sites,
            mapped_sites: raw.mapped_sites,
            level: overrides.water.unwrap_or(raw.water_level),
            incident_name: incident.name.unwrap_or_else(|| "incident".into()),
            incident: at,
            dump,
            need: need.flow,
            terms: Terms {
                need: need.flow,
                period: Seconds::from_minutes(shuttle.period_min),
                reliability: shuttle.reliability,
                replications,
                seed: overrides.seed.unwrap_or(shuttle.seed),
            },
            need_found: need,
            spread,
            pace,
            rig: raw.rig,
            search: raw.search,
            without_mapped,
            simulate: !overrides.no_simulation,
            findings,
        })
    }
}

/// Sites of different lists that share a name: in the answer the name tells them apart.
fn same_names(sites: &[FillSite]) -> Vec<Finding> {
    let mut first: BTreeMap<&str, &FillSite> = BTreeMap::new();
    let mut found = Vec::new();
    for site in sites {
        match first.get(site.name.as_str()) {
            Some(other) => found.push(Finding::new(
                Code::InputInvalid,
                site.origin.clone().named(site.name.clone()),
                format!("another list has a site of this name ({})", other.origin),
                "give every site its own name",
            )),
            None => {
                first.insert(&site.name, site);
            }
        }
    }
    found
}

/// A shuttle needs tankers, somewhere to dump and a pump to draw from it.
fn check_fleet(fleet: &Fleet, file: &str) -> Outcome<()> {
    let mut missing = Vec::new();
    let mut need = |there: bool, code: Code, what: &str, how: &str| {
        if !there {
            missing.push(Finding::new(code, Where::file(file), format!("the fleet has no {what}"), how));
        }
    };
    need(
        fleet.due().contains(&true),
        Code::NoTanker,
        "tanker that comes without a call",
        "add a [[tanker]], or take `call` from one",
    );
    need(
        fleet.due_pumpers().next().is_some(),
        Code::NoPumper,
        "pumper that comes without a call",
        "add a [[pumper]] to draft at the dump site, or take `call` from one",
    );
    need(!fleet.portable_tanks.is_empty(), Code::NoPortableTank, "portable tank", "add a [[portable_tank]]");
    let hose = fleet.due_pumpers().any(|p| !p.hose.is_empty());
    need(
        hose,
        Code::InputInvalid,
        "supply hose",
        "add `hose = [{ diameter_in = 5, length_ft = 1000 }]` to a pumper",
    );
    if missing.is_empty() { Ok(()) } else { Err(Refusal(missing)) }
}
