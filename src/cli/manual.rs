//! `tankerloop manual`: the help as manual pages.

use crate::cli::{Cli, shown};
use crate::finding::Outcome;
use clap::CommandFactory;
use std::path::PathBuf;
use std::process::ExitCode;

/// Manual pages (roff) of the program and of each command, into a folder.
///
/// Example: tankerloop manual ~/.local/share/man/man1 && man tankerloop-plan
#[derive(clap::Args)]
pub struct Args {
    /// Folder for the pages; it is made where it is not there.
    #[arg(value_name = "FOLDER")]
    folder: PathBuf,
}

pub fn run(args: Args) -> Outcome<ExitCode> {
    std::fs::create_dir_all(&args.folder)
        .and_then(|()| clap_mangen::generate_to(Cli::command(), &args.folder))
        .map_err(|e| shown::unwritable(args.folder.display().to_string(), e))?;
    Ok(ExitCode::SUCCESS)
}
