//! `tankerloop demo`: the invented county's scenario and its answer.

use crate::cli::plan::solve;
use crate::cli::shown;
use crate::finding::{Code, Outcome, Refusal, Where};
use crate::output::sheet::{self, Wish, ground};
use crate::output::{CAUTIONS, geojson, table};
use crate::plan::{Overrides, Problem};
use crate::units::Shown;
use std::path::PathBuf;
use std::process::ExitCode;

/// The county's files, written by examples/county and kept in data/county.
const FILES: [(&str, &[u8]); 5] = [
    ("county.osm.pbf", include_bytes!("../../data/county/county.osm.pbf")),
    ("fill-sites.geojson", include_bytes!("../../data/county/fill-sites.geojson")),
    ("extra-sites.csv", include_bytes!("../../data/county/extra-sites.csv")),
    ("fleet.toml", include_bytes!("../../data/county/fleet.toml")),
    ("scenario.toml", include_bytes!("../../data/county/scenario.toml")),
];

/// Write the scenario of an invented county and its answer into a folder.
///
/// The folder then holds roads, fill sites, fleet and scenario, to look at and to change, answer.geojson, to
/// open in any GIS, and sheets.html, to print. The ranked options go to stderr.
///
/// Example: tankerloop demo out/
#[derive(clap::Args)]
pub struct Args {
    /// Folder to write into; made if it is not there.
    #[arg(value_name = "FOLDER")]
    folder: PathBuf,
}

pub fn run(args: Args) -> Outcome<ExitCode> {
    std::fs::create_dir_all(&args.folder).map_err(|e| {
        Refusal::new(
            Code::FileUnreadable,
            Where::file(args.folder.display()),
            format!("the folder cannot be made ({e})"),
            "name a folder that can be written",
        )
    })?;
    for (name, bytes) in FILES {
        shown::write(Some(&args.folder.join(name)), bytes)?;
    }
    let scenario = args.folder.join("scenario.toml");
    let problem = Problem::read(&scenario, &Overrides::default())?;
    let (answer, roads) = solve(&problem)?;
    let to = args.folder.join("answer.geojson");
    let text = geojson::write(&answer);
    shown::write(Some(&to), text.as_bytes())?;
    let sheets = args.folder.join("sheets.html");
    let (name, wish) = (to.display().to_string(), Wish::default());
    let said = sheet::read(&text, &name)?;
    let around = sheet::bounds(&said, &wish, &name)?;
    let ground = around.map(|bounds| ground::read(&roads.network, &problem.roads.file, &bounds));
    shown::write(Some(&sheets), sheet::write(&said, &wish, ground.as_ref(), &name)?.as_bytes())?;
    eprint!("{}", table::write(&answer, Shown::Us));
    eprintln!("\nwrote {}, {} and {}", scenario.display(), to.display(), sheets.display());
    for caution in CAUTIONS {
        eprintln!("caution: {caution}");
    }
    // The demo has done its work whether or not its fleet meets the need.
    Ok(ExitCode::SUCCESS)
}
