//! `tankerloop drive`: the way one vehicle takes, or why there is none.

use crate::cli::shown;
use crate::coordinates;
use crate::finding::{Code, Findings, Outcome, Refusal, Where};
use crate::place::Place;
use crate::plan::{Overrides, Setting};
use crate::routing::explain::{Stretch, explain};
use crate::routing::path::Leg;
use crate::routing::trip::{Trip, trip};
use crate::routing::why::Obstacle;
use crate::shuttle::travel_time_per_leg;
use crate::units::{Seconds, Shown};
use crate::vehicle::Load;
use clap::ValueEnum;
use serde_json::json;
use std::path::PathBuf;
use std::process::ExitCode;

/// The way one vehicle takes between two places, full or empty.
///
/// Full and empty are two vehicles: a posted bridge may carry the one and stop the other. When
/// there is no way, the reason and its margin are told and the exit code is 1.
///
/// Example: tankerloop drive --scenario out/scenario.toml --vehicle T1 --load full --from=-34.05,31.02 --to=-34.01,31.03
#[derive(clap::Args)]
pub struct Args {
    /// Scenario file (TOML) from which roads, fleet, speeds, elevation, overlay, policy and time are
    /// taken; flags override it.
    #[arg(long, value_name = "SCENARIO.toml")]
    scenario: Option<PathBuf>,
    /// OpenStreetMap extract (.osm.pbf), or one saved by prepare.
    #[arg(long, value_name = "FILE", required_unless_present = "scenario")]
    roads: Option<PathBuf>,
    /// Start, longitude first, decimal degrees.
    #[arg(long, value_name = "LON,LAT", value_parser = coordinates::place, allow_hyphen_values = true)]
    from: Place,
    /// Destination, longitude first, decimal degrees.
    #[arg(long, value_name = "LON,LAT", value_parser = coordinates::place, allow_hyphen_values = true)]
    to: Place,
    /// Fleet file (TOML); `tankerloop demo out/` writes an example.
    #[arg(long, value_name = "FILE", required_unless_present = "scenario")]
    fleet: Option<PathBuf>,
    /// Id of a tanker or pumper of the fleet.
    #[arg(long, value_name = "ID")]
    vehicle: String,
    /// Tank full (towards the dump site) or empty (back to the fill site).
    #[arg(long, value_enum)]
    load: LoadArg,
    #[arg(long, value_enum, default_value_t = Format::Text)]
    format: Format,
    /// Speed table (TOML) in place of the built-in one.
    #[arg(long, value_name = "FILE")]
    speeds: Option<PathBuf>,
    /// Elevation tiles in SRTM format, such as N54W005.hgt; may be given more than once.
    #[arg(long, value_name = "FILE")]
    elevation: Vec<PathBuf>,
    /// Overlay (GeoJSON: closures, known bridge weights, local speeds, ...) beside the scenario's; may be
    /// given more than once.
    #[arg(long, value_name = "FILE.geojson")]
    overlay: Vec<PathBuf>,
    /// Month of the year, 1 to 12, for roads closed or limited at times.
    #[arg(long)]
    month: Option<u8>,
    /// Local time of the drive, without a zone, for roads closed or limited at times.
    #[arg(long, value_name = "2026-01-15T14:00")]
    when: Option<String>,
    /// Tell for each stretch the speed and what sets it.
    #[arg(long)]
    explain: bool,
    /// Units of the text output.
    #[arg(long, value_enum, default_value_t = Units::Us)]
    units: Units,
}

#[derive(Clone, Copy, ValueEnum)]
enum LoadArg {
    Full,
    Empty,
}

#[derive(Clone, Copy, PartialEq, ValueEnum)]
pub enum Format {
    Text,
    Json,
}

#[derive(Clone, Copy, ValueEnum)]
pub enum Units {
    Us,
    Metric,
}

impl From<Units> for Shown {
    fn from(units: Units) -> Shown {
        match units {
            Units::Us => Shown::Us,
            Units::Metric => Shown::Metric,
        }
    }
}

pub fn run(args: Args) -> Outcome<ExitCode> {
    let overrides = Overrides {
        roads: args.roads,
        fleet: args.fleet,
        speeds: args.speeds,
        elevation: args.elevation,
        overlay: args.overlay,
        month: args.month,
        when: args.when,
        ..Overrides::default()
    };
    // Remarks on the rest of the fleet file are not about this drive.
    let mut notes = Findings::new();
    let setting = Setting::open(args.scenario.as_deref(), &overrides, args.from, &mut notes)?;
    let chassis = setting.fleet.chassis_or_refuse(&args.vehicle, &setting.fleet_file)?;
    let load = match args.load {
        LoadArg::Full => Load::Full,
        LoadArg::Empty => Load::Empty,
    };
    if args.from == args.to {
        return Err(Refusal::new(
            Code::InputInvalid,
            Where::default().named("--from, --to").at(args.from),
            "start and destination are the same place",
            "give two places",
        ));
    }
    let roads = setting.roads.read(&mut shown::reading(&setting.roads.file))?;
    let mut found = trip(&roads, chassis.body(load), args.from, args.to)?;
    if let Trip::Found { findings, .. } = &mut found {
        findings.extend(roads.notes.clone());
    }
    let stretches = match &found {
        Trip::Found { drive, .. } if args.explain => {
            Some(explain(&roads.graph(chassis.body(load)), &roads.table, drive))
        }
        _ => None,
    };
    let text = match (args.format, &found) {
        (Format::Json, Trip::Found { leg, findings, .. }) => found_json(leg, findings, stretches.as_deref()),
        (Format::Json, Trip::None { obstacles }) => none_json(obstacles, &roads.notes),
        (Format::Text, Trip::Found { leg, findings, .. }) => {
            let head = format!("{}, {}", args.vehicle, load.as_str());
            let units = args.units.into();
            let mut text = found_text(&head, leg, findings, units);
            text.push_str(&stretches.map_or(String::new(), |s| stretches_text(&s, load, units)));
            text
        }
        (Format::Text, Trip::None { obstacles }) => {
            let notes = shown::findings_text(&roads.notes, 20);
            format!("{}, {}: no way\n{}{notes}", args.vehicle, load.as_str(), reasons(obstacles))
        }
    };
    shown::write(None, text.as_bytes())?;
    Ok(match found {
        Trip::Found { .. } => ExitCode::SUCCESS,
        Trip::None { .. } => ExitCode::from(1),
    })
}

fn reasons(obstacles: &[Obstacle]) -> String {
    if obstacles.is_empty() {
        return "  no road of the extract connects the two places\n".to_string();
    }
    obstacles.iter().map(|o| format!("  {o}\n")).collect()
}

/// The published rounding of 60/35 mph in the standard's travel-time equation (ISO, from a RAND study).
const STANDARD_MINUTES_PER_MILE: f64 = 1.7;

/// The standard's time for this leg, for comparison.
fn standard_travel(leg: &Leg) -> Seconds {
    travel_time_per_leg(leg.distance.miles(), STANDARD_MINUTES_PER_MILE)
}

fn stretches_text(stretches: &[Stretch], load: Load, units: Shown) -> String {
    let set_by = |s: &Stretch| {
        let shares: Vec<String> = s
            .shares
            .iter()
            .map(|share| (share, share.travel.0 / s.travel.0.max(1e-9) * 100.0))
            .filter(|(_, percent)| *percent >= 1.0)
            .map(|(share, percent)| {
                let full = load == Load::Full && share.set_by.takes_full_factor();
                let factor = if full { " × full" } else { "" };
                format!("{}{factor} {percent:.0} %", share.set_by.as_str())
            })
            .collect();
        shares.join(", ")
    };
    let mut text = format!(
        "\n{:>12}  {:<24}  {:>8}  {:>8}  {:>8}  {:>6}  set by (share of time)\n",
        "way", "street", "length", "speed", "time", "delay"
    );
    for s in stretches {
        let street: String = s.street.chars().take(24).collect();
        text.push_str(&format!(
            "{:>12}  {street:<24}  {:>8}  {:>8}  {:>6.0} s  {:>4.0} s  {}\n",
            s.way,
            units.distance(s.length),
            units.speed(s.speed),
            s.travel.0,
            s.delay.0,
            set_by(s),
        ));
    }
    text
}

fn found_text(head: &str, leg: &Leg, findings: &Findings, units: Shown) -> String {
    let ways: Vec<String> = leg.ways.iter().map(i64::to_string).collect();
    format!(
        "{head}: {} over {}\nby the standard's equation (0.65 min + {} min/mi): {}\nstreets: {}\nways: {}\n{}",
        units.duration(leg.travel),
        units.distance(leg.distance),
        STANDARD_MINUTES_PER_MILE,
        units.duration(standard_travel(leg)),
        if leg.streets.is_empty() { "(none named)".to_string() } else { leg.streets.join(" → ") },
        ways.join(" "),
        shown::findings_text(findings, 20),
    )
}

fn found_json(leg: &Leg, findings: &Findings, stretches: Option<&[Stretch]>) -> String {
    let mut value = json!({
        "reachable": true,
        "travel_s": leg.travel.0,
        "standard_travel_s": (standard_travel(leg).0 * 10.0).round() / 10.0,
        "distance_m": (leg.distance.0 * 10.0).round() / 10.0,
        "ways": leg.ways,
        "streets": leg.streets,
        "geometry": { "type": "LineString", "coordinates": leg.line },
        "findings": findings,
    });
    if let Some(stretches) = stretches {
        value["stretches"] = json!(stretches);
    }
    format!("{value:#}\n")
}

fn none_json(obstacles: &[Obstacle], notes: &Findings) -> String {
    let closed = obstacles.iter().map(|o| {
        json!({
            "code": "closed",
            "severity": "error",
            "where": { "osm": o.osm, "name": o.name },
            "cause": o.to_string(),
            "action": "choose another way, source or vehicle; physical limits are never overridden",
        })
    });
    let findings: Vec<_> = closed.chain(notes.iter().map(|note| json!(note))).collect();
    let value = json!({
        "reachable": false,
        "travel_s": null,
        "standard_travel_s": null,
        "distance_m": null,
        "ways": [],
        "streets": [],
        "geometry": null,
        "reason": reasons(obstacles).trim(),
        "findings": findings,
    });
    format!("{value:#}\n")
}
