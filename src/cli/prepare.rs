//! `tankerloop prepare`: an extract as a saved network.

use crate::cli::shown;
use crate::finding::{Code, Outcome, Refusal, Where};
use crate::routing::saved;
use std::path::PathBuf;
use std::process::ExitCode;

/// Save an extract's roads in a file that opens at once.
///
/// plan, drive and audit take the saved file wherever they take an .osm.pbf, and answer the same. It
/// holds all that the extract told, findings included; weights, policy, speeds and elevation are applied
/// later, so one file serves every fleet and speed table. It is refused when another version of
/// tankerloop saved it, and when the extract has changed since: prepare it again. Without the extract
/// beside it or in its old place it is taken as it is.
///
/// Example: tankerloop prepare county.osm.pbf -o county.roads
#[derive(clap::Args)]
pub struct Args {
    /// OpenStreetMap extract (.osm.pbf).
    #[arg(value_name = "FILE.osm.pbf")]
    extract: PathBuf,
    /// Write the saved network here; a file of that name is replaced.
    #[arg(short, long, value_name = "FILE.roads")]
    output: PathBuf,
}

pub fn run(args: Args) -> Outcome<ExitCode> {
    // Both exist and are one file: writing would destroy the extract.
    let same = match (args.extract.canonicalize(), args.output.canonicalize()) {
        (Ok(from), Ok(to)) => from == to,
        _ => false,
    };
    if same {
        return Err(Refusal::new(
            Code::InputInvalid,
            Where::file(args.output.display()),
            "the saved network would replace the extract it is made from",
            "name another file with -o",
        ));
    }
    let made = saved::prepare(&args.extract, &args.output, &mut shown::reading(&args.extract))?;
    eprintln!(
        "wrote {}: {} road segments on {} ways, {:.1} MB",
        args.output.display(),
        made.segments,
        made.ways,
        made.bytes as f64 / 1e6
    );
    Ok(ExitCode::SUCCESS)
}
