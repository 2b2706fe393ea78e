//! `tankerloop completions`: what a shell needs to complete commands and options.

use crate::cli::{Cli, shown};
use crate::finding::Outcome;
use clap::CommandFactory;
use clap_complete::{Shell, generate};
use std::process::ExitCode;

/// A script by which a shell completes commands, options and file names, on stdout.
///
/// Example: tankerloop completions bash > ~/.local/share/bash-completion/completions/tankerloop
#[derive(clap::Args)]
pub struct Args {
    shell: Shell,
}

pub fn run(args: Args) -> Outcome<ExitCode> {
    let mut script = Vec::new();
    generate(args.shell, &mut Cli::command(), "tankerloop", &mut script);
    shown::write(None, &script)?;
    Ok(ExitCode::SUCCESS)
}
