//! `tankerloop drive`: the way one vehicle takes, or why there is none.

use crate::cli::shown;
use crate::finding::{Code, Findings, Outcome, Refusal, Where};
use crate::place::Place;
use crate::routing::Roads;
use crate::routing::access::Policy;
use crate::routing::path::Leg;
use crate::routing::speed::SpeedTable;
use crate::routing::trip::{Trip, trip};
use crate::routing::why::Obstacle;
use crate::units::Shown;
use crate::vehicle::{Fleet, Load};
use clap::ValueEnum;
use serde_json::json;
use std::path::PathBuf;
use std::process::ExitCode;

/// The way one vehicle takes between two places, full or empty.
///
/// Full and empty are two vehicles: a posted bridge may carry the one and stop the other. When
/// there is no way, the reason and its margin are told and the exit code is 1.
///
/// Example: tankerloop drive --roads out/county.osm.pbf --fleet out/fleet.toml --vehicle tanker-2
/// --load full --from=-34.05,31.02 --to=-34.01,31.03
#[derive(clap::Args)]
pub struct Args {
    /// OpenStreetMap extract (.osm.pbf), or one saved by prepare.
    #[arg(long, value_name = "FILE")]
    roads: PathBuf,
    /// Start, longitude first, decimal degrees.
    #[arg(long, value_name = "LON,LAT", allow_hyphen_values = true)]
    from: Place,
    /// Destination, longitude first, decimal degrees.
    #[arg(long, value_name = "LON,LAT", allow_hyphen_values = true)]
    to: Place,
    /// Fleet file (TOML); `tankerloop demo out/` writes an example.
    #[arg(long, value_name = "FILE")]
    fleet: PathBuf,
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
    let mut notes = Findings::new();
    let fleet = Fleet::read(&args.fleet, &mut notes)?;
    let chassis = fleet.chassis_or_refuse(&args.vehicle, &args.fleet.display().to_string())?;
    let load = match args.load {
        LoadArg::Full => Load::Full,
        LoadArg::Empty => Load::Empty,
    };
    let table = match &args.speeds {
        Some(path) => SpeedTable::read(path)?,
        None => SpeedTable::built_in()?,
    };
    if args.from == args.to {
        return Err(Refusal::new(
            Code::InputInvalid,
            Where::default().named("--from, --to").at(args.from),
            "start and destination are the same place",
            "give two places",
        ));
    }
    let roads = Roads::read(&args.roads, table, Policy::default(), &mut shown::reading(&args.roads))?;
    let found = trip(&roads, chassis.body(load), args.from, args.to)?;
    let text = match (args.format, &found) {
        (Format::Json, Trip::Found { leg, findings, .. }) => found_json(leg, findings),
        (Format::Json, Trip::None { obstacles }) => none_json(obstacles),
        (Format::Text, Trip::Found { leg, findings, .. }) => {
            let head = format!("{}, {}", args.vehicle, load.as_str());
            found_text(&head, leg, findings, args.units.into())
        }
        (Format::Text, Trip::None { obstacles }) => {
            format!("{}, {}: no way\n{}", args.vehicle, load.as_str(), reasons(obstacles))
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

fn found_text(head: &str, leg: &Leg, findings: &Findings, units: Shown) -> String {
    let ways: Vec<String> = leg.ways.iter().map(i64::to_string).collect();
    format!(
        "{head}: {} over {}\nstreets: {}\nways: {}\n{}",
        units.duration(leg.travel),
        units.distance(leg.distance),
        if leg.streets.is_empty() { "(none named)".to_string() } else { leg.streets.join(" → ") },
        ways.join(" "),
        shown::findings_text(findings, 20),
    )
}

fn found_json(leg: &Leg, findings: &Findings) -> String {
    let value = json!({
        "reachable": true,
        "travel_s": leg.travel.0,
        "distance_m": (leg.distance.0 * 10.0).round() / 10.0,
        "ways": leg.ways,
        "streets": leg.streets,
        "geometry": { "type": "LineString", "coordinates": leg.line },
        "findings": findings,
    });
    format!("{value:#}\n")
}

fn none_json(obstacles: &[Obstacle]) -> String {
    let findings: Vec<_> = obstacles
        .iter()
        .map(|o| {
            json!({
                "code": "closed",
                "severity": "error",
                "where": { "osm": o.osm, "name": o.name },
                "cause": o.to_string(),
                "action": "choose another way, source or vehicle; physical limits are never overridden",
            })
        })
        .collect();
    let value = json!({
        "reachable": false,
        "travel_s": null,
        "distance_m": null,
        "ways": [],
        "streets": [],
        "geometry": null,
        "reason": reasons(obstacles).trim(),
        "findings": findings,
    });
    format!("{value:#}\n")
}
