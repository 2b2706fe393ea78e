//! `tankerloop sheet`: an answer on paper.

use crate::cli::drive::Units;
use crate::cli::{print, shown};
use crate::finding::{Code, Outcome, Refusal, Where};
use crate::output::sheet::ground::{self, Ground};
use crate::output::sheet::{self, Said, Wish};
use crate::output::{ATTRIBUTION, CAUTIONS};
use crate::roads::buildings;
use crate::roads::network::Network;
use crate::routing::saved;
use crate::routing::speed::SpeedTable;
use clap::{ValueEnum, ValueHint};
use std::path::{Path, PathBuf};
use std::process::ExitCode;

#[derive(Clone, Copy, Debug, Default, ValueEnum)]
enum Paper {
    #[default]
    Letter,
    A4,
}

/// An answer on paper: a page for the water-supply officer, and cards for drivers, fill sites and dump site.
///
/// Reads the GeoJSON that `plan -o` wrote. The officer's page has the map, the numbers, what happens when, the
/// loops and what to call for, and on its back what was assumed and found. Each driver's card has the loop in
/// order with its turns, the signs on the way beside that truck's weights full and empty, narrow road, and how to
/// come to either site. Black on white: line and word tell loaded from empty, never colour. The ending tells the
/// format. FILE.html opens and prints in any browser, without a network. FILE.pdf is printed by a browser of the
/// Chromium family on the PATH, or the one named. Exit code 0, or 2 on an error.
///
/// Examples:
///   tankerloop sheet answer.geojson -o sheets.html --roads county.osm.pbf
///   tankerloop sheet answer.geojson -o sheets.pdf --paper a4 --units metric --option 2
#[derive(clap::Args)]
#[command(verbatim_doc_comment)]
pub struct Args {
    /// GeoJSON written by plan.
    #[arg(value_name = "ANSWER.geojson", value_hint = ValueHint::FilePath)]
    answer: PathBuf,
    /// Write this file; its ending is .html or .pdf.
    #[arg(short, long, value_name = "FILE", value_hint = ValueHint::FilePath)]
    output: PathBuf,
    /// Draw the roads and the water around the loops from this file: an extract (.osm.pbf), or a network saved by
    /// `prepare`.
    #[arg(long, value_name = "FILE", value_hint = ValueHint::FilePath)]
    roads: Option<PathBuf>,
    /// The option to print [default: the best, 1].
    #[arg(long, value_name = "N")]
    option: Option<u64>,
    #[arg(long, value_enum, default_value_t = Paper::Letter)]
    paper: Paper,
    #[arg(long, value_enum, default_value_t = Units::Us)]
    units: Units,
    /// Print PDF with this browser.
    #[arg(long, value_name = "PATH", value_hint = ValueHint::ExecutablePath)]
    browser: Option<PathBuf>,
    /// Say nothing on stderr but errors.
    #[arg(short, long)]
    quiet: bool,
}

pub fn run(args: Args) -> Outcome<ExitCode> {
    let ending = args.output.extension().map(|e| e.to_string_lossy().to_ascii_lowercase());
    let browser = match ending.as_deref() {
        Some("html" | "htm") => None,
        Some("pdf") => Some(print::browser(args.browser.as_deref())?),
        _ => {
            let place = Where::file(args.output.display());
            let cause = "its ending names no format of sheets";
            return Err(Refusal::new(Code::InputInvalid, place, cause, "end the name in .html or .pdf"));
        }
    };
    let name = args.answer.display().to_string();
    let said = sheet::read(&shown::written(&args.answer)?, &name)?;
    let paper = match args.paper {
        Paper::Letter => sheet::Paper::Letter,
        Paper::A4 => sheet::Paper::A4,
    };
    let wish = Wish { paper, units: args.units.into(), option: args.option };
    let ground = args.roads.as_deref().map(|file| around(file, &said, &wish, &name)).transpose()?.flatten();
    let html = sheet::write(&said, &wish, ground.as_ref(), &name)?;
    match browser {
        Some(browser) => print::pdf(&html, &browser, &args.output)?,
        None => shown::write(Some(&args.output), html.as_bytes())?,
    }
    if !args.quiet {
        eprintln!("wrote {}", args.output.display());
        if let Some(note) = ground.and_then(|ground| ground.note) {
            eprintln!("note: {note}");
        }
        eprintln!("{}\n{ATTRIBUTION}", CAUTIONS[0]);
    }
    Ok(ExitCode::SUCCESS)
}

/// Roads and water around what the map shows.
fn around(file: &Path, said: &Said, wish: &Wish, name: &str) -> Outcome<Option<Ground>> {
    let Some(bounds) = sheet::bounds(said, wish, name)? else { return Ok(None) };
    let network = match saved::open(file, buildings::Wish::default(), &SpeedTable::built_in()?)? {
        Some((network, _)) => network,
        None => Network::read(file, &mut shown::reading(file))?,
    };
    Ok(Some(ground::read(&network, file, &bounds)))
}
