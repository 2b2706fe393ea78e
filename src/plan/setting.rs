//! What a plan and a single drive have in common: the roads with all that changes them, and the
//! fleet. Read from a scenario and the flags that override it, or from flags alone.

use crate::finding::{Code, Finding, Findings, Outcome, Refusal, Where};
use crate::overlay::{Overlay, Rules};
use crate::place::Place;
use crate::plan::request::Overrides;
use crate::plan::scenario::ScenarioFile;
use crate::roads::buildings::Wish;
use crate::roads::condition::Moment;
use crate::roads::elevation::Elevation;
use crate::routing::Roads;
use crate::routing::access::Policy;
use crate::routing::speed::SpeedTable;
use crate::vehicle::Fleet;
use std::path::{Path, PathBuf};

/// Everything that roads are made of, the road file itself only named. Equal ones read the same roads.
#[derive(Clone, Debug, PartialEq)]
pub struct RoadInputs {
    pub file: PathBuf,
    pub table: SpeedTable,
    pub elevation: Elevation,
    pub policy: Policy,
    pub overlay: Overlay,
    /// What is read beside the roads.
    pub wish: Wish,
}

impl RoadInputs {
    /// Reads the roads, and lays the overlay on what was read.
    pub fn read(&self, progress: &mut dyn FnMut(u64, u64)) -> Outcome<Roads> {
        let mut roads = self.bare(progress)?;
        self.lay(&mut roads);
        Ok(roads)
    }

    /// Reads the roads as they are without the overlay.
    pub fn bare(&self, progress: &mut dyn FnMut(u64, u64)) -> Outcome<Roads> {
        let mut roads =
            Roads::read_with(&self.file, self.wish, self.table.clone(), self.policy.clone(), progress)?;
        roads.elevate(&self.elevation);
        Ok(roads)
    }

    /// Lays the overlay. What turns and bends are made of stays as it was: a closure opens no
    /// place to turn.
    pub fn lay(&self, roads: &mut Roads) {
        if self.overlay.is_empty() {
            return;
        }
        let Roads { network, table, policy, notes, .. } = roads;
        let rules = Rules {
            moment: &policy.moment,
            open_ways: &policy.open_ways,
            limit: &|tags, forward| table.limit(tags, forward),
        };
        self.overlay.lay(network, &rules, notes);
    }
}

/// Roads and fleet.
#[derive(Clone, Debug)]
pub struct Setting {
    pub roads: RoadInputs,
    pub fleet: Fleet,
    pub fleet_file: String,
}

impl Setting {
    /// Of a scenario file that the command line names, if any, for a place.
    pub fn open(
        scenario: Option<&Path>,
        overrides: &Overrides,
        near: Place,
        findings: &mut Findings,
    ) -> Outcome<Setting> {
        let raw = scenario.map(ScenarioFile::read).transpose()?;
        Setting::read(scenario.zip(raw.as_ref()), overrides, Some(near), findings)
    }

    pub(super) fn read(
        scenario: Option<(&Path, &ScenarioFile)>,
        overrides: &Overrides,
        near: Option<Place>,
        findings: &mut Findings,
    ) -> Outcome<Setting> {
        let folder = scenario.and_then(|(path, _)| path.parent()).unwrap_or(Path::new(""));
        let raw = scenario.map(|(_, raw)| raw);
        let place = || match scenario {
            Some((path, _)) => Where::file(path.display()),
            None => Where::default().named("the command line"),
        };
        let mut refused: Vec<Finding> = Vec::new();
        let mut bad = |cause: String, action: &str| {
            refused.push(Finding::new(Code::InputInvalid, place(), cause, action));
        };
        // What the command line names counts from where the user stands.
        let one = |named: &Option<PathBuf>, listed: Option<&PathBuf>| {
            named.clone().or(listed.map(|path| folder.join(path)))
        };
        let file = one(&overrides.roads, raw.and_then(|r| r.roads.as_ref()));
        if file.is_none() {
            bad(
                "no road file is named".into(),
                "write `roads = \"FILE.osm.pbf\"` at the top of the scenario, or use --roads FILE",
            );
        }
        let fleet_file = one(&overrides.fleet, raw.map(|r| &r.fleet));
        if fleet_file.is_none() {
            bad("no fleet file is named".into(), "use --fleet FILE, or --scenario FILE that names one");
        }
        let written = raw.map_or((None, None), |r| (r.month, r.when.as_deref()));
        let mut moment = moment(overrides, written).unwrap_or_else(|cause| {
            bad(cause, "write local time without a zone, such as `when = \"2026-01-15T14:00\"`");
            Moment::default()
        });
        moment.south = near.is_some_and(|place| place.lat() < 0.0);

        let mut keep = |refusal: Refusal| refused.extend(refusal.0);
        let table = match one(&overrides.speeds, raw.and_then(|r| r.speeds.as_ref())) {
            Some(speeds) => SpeedTable::read(&speeds),
            None => SpeedTable::built_in(),
        };
        let table = table.map_err(&mut keep).ok();
        let listed = |paths: &[PathBuf]| paths.iter().map(|path| folder.join(path)).collect::<Vec<_>>();
        let tiles = match &overrides.elevation[..] {
            [] => raw.map_or_else(Vec::new, |r| listed(&r.elevation)),
            named => named.to_vec(),
        };
        let elevation = Elevation::read(&tiles).map_err(&mut keep).ok();
        let mut overlays = raw.map_or_else(Vec::new, |r| listed(&r.overlay));
        overlays.extend(overrides.overlay.iter().cloned());
        let overlay = Overlay::read(&overlays, findings).map_err(&mut keep).ok();
        let fleet = fleet_file.as_ref().and_then(|path| Fleet::read(path, findings).map_err(&mut keep).ok());

        let policy = raw.map_or_else(Policy::default, |r| r.policy.clone());
        match (file, table, elevation, overlay, fleet, fleet_file) {
            (Some(file), Some(table), Some(elevation), Some(overlay), Some(fleet), Some(fleet_file))
                if refused.is_empty() =>
            {
                let policy = Policy { moment, ..policy };
                let roads = RoadInputs { file, table, elevation, policy, overlay, wish: Wish::default() };
                Ok(Setting { roads, fleet, fleet_file: fleet_file.display().to_string() })
            }
            _ => Err(Refusal(refused)),
        }
    }
}

/// When the incident is. The month follows from the time; a month beside it must be the same. What
/// the command line gives replaces what the file says.
fn moment(overrides: &Overrides, written: (Option<u8>, Option<&str>)) -> Result<Moment, String> {
    let (month, when) = match (overrides.month, &overrides.when) {
        (month, Some(when)) => (month, Some(when.as_str())),
        (Some(month), None) => (Some(month), None),
        (None, None) => written,
    };
    let Some(text) = when else { return Ok(Moment::of_month(month)) };
    let moment =
        Moment::parse(text).ok_or_else(|| format!("when is \"{text}\", which is no date and time"))?;
    match (month, moment.month) {
        (Some(month), Some(of_time)) if month != of_time => {
            Err(format!("month is {month}, but when is \"{text}\""))
        }
        _ => Ok(moment),
    }
}
