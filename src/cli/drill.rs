//! `tankerloop drill`: a drill's log becomes the department's own times.

use crate::cli::shown;
use crate::drill::{Fitted, file, fit, log};
use crate::finding::{Code, Findings, Outcome, Refusal, Where};
use std::path::PathBuf;
use std::process::ExitCode;

/// The department's own driving, handling and spreads from a log of timed legs, fills and dumps.
///
/// The log is a CSV, one timed thing a row: tanker, what (loaded, empty, fill or dump), seconds; for a
/// leg modelled_s (the time `tankerloop drive` gives for it) or distance_mi; for a fill or dump gallons and,
/// if timed, water_s, the part of its seconds in which water moved. The file written is for `drill = FILE`
/// in a scenario, or `plan --drill FILE`. What cannot be fitted (fewer than six rows, all readings the
/// same, loads alike without water_s) is told and left to the tool's own figure; a log of which nothing
/// can be fitted is refused, and so is one with a malformed row. Exit code 0, or 2 on an error.
///
/// Example: tankerloop drill drill-may.csv -o ours.toml
#[derive(clap::Args)]
pub struct Args {
    /// Log of the drill (CSV).
    #[arg(value_name = "LOG.csv")]
    log: PathBuf,
    /// Write the fitted times (TOML) here instead of to stdout.
    #[arg(short, long, value_name = "FILE")]
    output: Option<PathBuf>,
}

pub fn run(args: Args) -> Outcome<ExitCode> {
    let mut findings = Findings::new();
    let rows = log::read(&args.log, &mut findings)?;
    let name = args.log.display().to_string();
    let fitted = fit::fit(&rows, &name, &mut findings);
    eprint!("{}\n{}", table(&fitted, rows.len()), shown::findings_text(&findings, 20));
    if fitted.is_empty() {
        return Err(Refusal::new(
            Code::InputInvalid,
            Where::file(&name),
            format!("nothing can be fitted from its {} rows", rows.len()),
            "time at least six of one thing",
        ));
    }
    shown::write(args.output.as_deref(), file::write(&fitted, &name, rows.len()).as_bytes())?;
    Ok(ExitCode::SUCCESS)
}

fn table(fitted: &Fitted, rows: usize) -> String {
    let mut text = format!("{rows} rows; value, 95 % interval, rows it rests on\n");
    for (name, estimate, unit) in fitted.named() {
        let digits = if unit == "s" { 0 } else { 2 };
        text.push_str(&match estimate {
            Some(e) => format!(
                "  {name:<42} {:>6.digits$} {unit:<5} {:.digits$} to {:.digits$}, {} rows\n",
                e.value, e.low, e.high, e.rows
            ),
            None => format!("  {name:<42} not fitted\n"),
        });
    }
    text
}
