//! The command line: one file per command, arguments parsed here and resolved before any work.

mod audit;
mod completions;
mod demo;
mod drill;
mod drive;
mod export;
mod manual;
mod need;
mod plan;
mod prepare;
mod print;
mod propose;
mod rig;
mod serve;
mod sheet;
mod shown;
mod what_if;
mod zone;

use clap::{Parser, Subcommand};
use std::process::ExitCode;

/// Plans one-way tanker shuttles for rural fire water supply on OpenStreetMap roads.
///
/// tankerloop answers, for a fire where there are no hydrants: where the tankers fill, where they
/// dump, which way round they drive, and what flow that sustains. It is a planning aid. Local
/// codes, the authority having jurisdiction and the officer on the ground decide.
#[derive(Parser)]
#[command(version, max_term_width = 100)]
struct Cli {
    #[command(subcommand)]
    command: Command,
}

#[derive(Subcommand)]
enum Command {
    Demo(demo::Args),
    Plan(plan::Args),
    Drive(drive::Args),
    Audit(audit::Args),
    Prepare(prepare::Args),
    Rig(rig::Args),
    Need(need::Args),
    Drill(drill::Args),
    Zone(zone::Args),
    Serve(serve::Args),
    Export(export::Args),
    Sheet(sheet::Args),
    Completions(completions::Args),
    Manual(manual::Args),
}

/// 0: an option meets the need (or the drive exists). 1: none does. 2: an error in input or use.
pub fn run() -> ExitCode {
    let result = match Cli::parse().command {
        Command::Demo(args) => demo::run(args),
        Command::Plan(args) => plan::run(args),
        Command::Drive(args) => drive::run(args),
        Command::Audit(args) => audit::run(args),
        Command::Prepare(args) => prepare::run(args),
        Command::Rig(args) => rig::run(args),
        Command::Need(args) => need::run(args),
        Command::Drill(args) => drill::run(args),
        Command::Zone(args) => zone::run(args),
        Command::Serve(args) => serve::run(args),
        Command::Export(args) => export::run(args),
        Command::Sheet(args) => sheet::run(args),
        Command::Completions(args) => completions::run(args),
        Command::Manual(args) => manual::run(args),
    };
    match result {
        Ok(code) => code,
        Err(refusal) => {
            eprintln!("{refusal}");
            ExitCode::from(2)
        }
    }
}
