//! `tankerloop export`: an answer or a zone in another format.

use crate::cli::shown;
use crate::finding::Outcome;
use crate::output::export::{Format, read, write};
use clap::ValueHint;
use std::path::PathBuf;
use std::process::ExitCode;

/// An answer or a zone in another format: GeoPackage, GPX, KML or CSV.
///
/// Reads the GeoJSON that `plan -o` or `zone -o` wrote. The ending of the file tells the format. .gpkg: a table
/// a layer with typed columns, and a table `about` with cautions and attribution, for any GIS. .gpx: a route a
/// leg and a waypoint a place, for navigation units in vehicles; a unit that works out its own way between
/// route points may leave the road that was checked: compare before driving. .kml: a folder a layer, for earth
/// viewers. .csv: one table, a row a feature, shapes as well-known text in geometry_wkt; a text that a
/// spreadsheet would take for a formula has an apostrophe before it. What went in and what the format has no
/// place for is told on stderr. Exit code 0, or 2 on an error.
///
/// Example: tankerloop export answer.geojson -o answer.gpkg
#[derive(clap::Args)]
pub struct Args {
    /// GeoJSON written by plan or zone.
    #[arg(value_name = "ANSWER.geojson", value_hint = ValueHint::FilePath)]
    answer: PathBuf,
    /// Write this file; its ending is .gpkg, .gpx, .kml or .csv.
    #[arg(short, long, value_name = "FILE", value_hint = ValueHint::FilePath)]
    output: PathBuf,
    /// Say nothing on stderr but errors.
    #[arg(short, long)]
    quiet: bool,
}

pub fn run(args: Args) -> Outcome<ExitCode> {
    let format = Format::of(&args.output)?;
    let name = args.answer.display().to_string();
    let text = shown::written(&args.answer)?;
    let document = read(&text, &name)?;
    let written = write(&document, format, &args.output)
        .map_err(|e| shown::unwritable(args.output.display().to_string(), e))?;
    if !args.quiet {
        let listed = |layers: &[(String, usize)]| {
            layers.iter().map(|(layer, count)| format!("{count} {layer}")).collect::<Vec<_>>().join(", ")
        };
        eprintln!("{}: {}", args.output.display(), listed(&written.held));
        if !written.left_out.is_empty() {
            eprintln!("left out, this format has no place for them: {}", listed(&written.left_out));
        }
        eprintln!("{}\n{}", crate::output::CAUTIONS[0], crate::output::ATTRIBUTION);
    }
    Ok(ExitCode::SUCCESS)
}
