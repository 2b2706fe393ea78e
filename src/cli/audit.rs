//! `tankerloop audit`: every finding on roads, sites and fleet.

use crate::cli::drive::Format;
use crate::cli::shown;
use crate::finding::{Code, Finding, Findings, Outcome, Severity, Where};
use crate::place::Place;
use crate::plan::ground::Ground;
use crate::plan::{Overrides, Problem};
use crate::roads::network::Network;
use crate::routing::Roads;
use serde_json::json;
use std::collections::BTreeSet;
use std::path::PathBuf;
use std::process::ExitCode;

/// Every finding on the scenario's roads, fill sites and fleet.
///
/// A finding has a code, a place, a cause and an action. Nothing unreadable, unknown, assumed or
/// left out is dropped in silence; this lists it all. Exit code 0, or 2 when the input cannot be used.
///
/// Example: tankerloop audit out/scenario.toml --format json > findings.json
#[derive(clap::Args)]
pub struct Args {
    /// Scenario file (TOML).
    #[arg(value_name = "SCENARIO.toml")]
    scenario: PathBuf,
    /// OpenStreetMap extract (.osm.pbf or saved by prepare) in place of the scenario's.
    #[arg(long, value_name = "FILE")]
    roads: Option<PathBuf>,
    /// Incident in place of the scenario's, longitude first.
    #[arg(long, value_name = "LON,LAT", allow_hyphen_values = true)]
    incident: Option<Place>,
    /// Overlay (GeoJSON) beside the scenario's; may be given more than once.
    #[arg(long, value_name = "FILE.geojson")]
    overlay: Vec<PathBuf>,
    /// Most findings of one code to list in the text; the rest is counted.
    #[arg(long, value_name = "N", default_value_t = 20)]
    most: usize,
    #[arg(long, value_enum, default_value_t = Format::Text)]
    format: Format,
    /// List the codes there are, with their meaning, and stop.
    #[arg(long)]
    codes: bool,
}

pub fn run(args: Args) -> Outcome<ExitCode> {
    if args.codes {
        let list: String = Code::ALL
            .iter()
            .map(|c| format!("{:<22} {:<8} {}\n", c.as_str(), severity(c.severity()), c.meaning()))
            .collect();
        shown::write(None, list.as_bytes())?;
        return Ok(ExitCode::SUCCESS);
    }
    let overrides = Overrides {
        roads: args.roads,
        overlay: args.overlay,
        incident: args.incident,
        // An audit needs no flow; a scenario without one can be audited.
        need: Some(1.0),
        ..Overrides::default()
    };
    let problem = Problem::read(&args.scenario, &overrides)?;
    let mut roads = problem.roads.read(&mut shown::reading(&problem.roads.file))?;
    let mut findings = problem.findings.clone();
    findings.absorb_new(std::mem::take(&mut roads.network.findings));
    findings.extend(left_out(&roads.network));
    findings.extend(roads.notes.clone());
    let mut placed = Findings::new();
    let ground = Ground::lay(&problem, &roads, &mut placed)?;
    for site in &ground.sites {
        if let Err(reason) = &site.state
            && !placed.iter().any(|f| f.place.name.as_deref() == Some(site.site.name.as_str()))
        {
            let place = site.site.origin.clone().named(site.site.name.clone());
            placed.add(Finding::new(
                Code::SiteUnreachable,
                place,
                reason.clone(),
                "Correct the site or its road",
            ));
        }
    }
    findings.absorb_new(placed);
    let text = match args.format {
        Format::Text => text(&problem, &roads, &findings, args.most),
        Format::Json => format!("{:#}\n", json!({ "findings": findings })),
    };
    shown::write(None, text.as_bytes())?;
    Ok(ExitCode::SUCCESS)
}

fn severity(severity: Severity) -> &'static str {
    match severity {
        Severity::Note => "note",
        Severity::Caution => "caution",
        Severity::Error => "error",
    }
}

/// Ways with a highway tag that are no road for a truck, counted by reason.
fn left_out(network: &Network) -> Vec<Finding> {
    network
        .left_out
        .iter()
        .map(|(reason, count)| {
            Finding::new(
                Code::WaysLeftOut,
                Where::file(&network.file),
                format!("{count} ways with a highway tag are no road for a truck: {}", reason.as_str()),
                "Nothing to do unless a road is missing on your map",
            )
        })
        .collect()
}

fn text(problem: &Problem, roads: &Roads, findings: &Findings, most: usize) -> String {
    let network = &roads.network;
    let count = |wanted: Severity| findings.iter().filter(|f| f.severity == wanted).count();
    format!(
        "{}: {} road segments on {} ways, {} turn restrictions applied; {} fill sites; {} tankers\n\
         {} cautions, {} notes\n\n{}",
        problem.name,
        network.segments.len(),
        network.ways.iter().map(|way| way.id).collect::<BTreeSet<_>>().len(),
        network.bans.applied,
        problem.listed_sites.len() + if problem.mapped_sites.wanted { network.waters.len() } else { 0 },
        problem.fleet.tankers.len(),
        count(Severity::Caution),
        count(Severity::Note),
        shown::findings_text(findings, most),
    )
}
