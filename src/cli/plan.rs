//! `tankerloop plan`: one incident, best options.

use crate::cli::drive::Units;
use crate::cli::shown;
use crate::coordinates;
use crate::finding::{Code, Outcome, Refusal, Where};
use crate::output::{geojson, page, series, steps, table};
use crate::place::Place;
use crate::plan::{Answer, Overrides, Problem, in_time};
use crate::routing::Roads;
use crate::water::source::WaterLevel;
use clap::ValueHint;
use std::path::PathBuf;
use std::process::ExitCode;

/// Where to fill, where to dump, which way round, and what flow that sustains.
///
/// Reads a scenario (roads, fill sites, fleet, incident) and writes the options as GeoJSON; a short
/// table goes to stderr. Exit code 0: an option meets the needed flow; 1: none does, and the best is
/// written with what it lacks; 2: an error in input or use.
///
/// Example: tankerloop plan out/scenario.toml --need 750 --directions -o answer.geojson --page answer.html
#[derive(clap::Args)]
pub struct Args {
    /// Scenario file (TOML); `tankerloop demo out/` writes an example.
    #[arg(value_name = "SCENARIO.toml", value_hint = ValueHint::FilePath)]
    scenario: PathBuf,
    /// OpenStreetMap extract (.osm.pbf or saved by prepare) in place of the scenario's.
    #[arg(long, value_name = "FILE")]
    roads: Option<PathBuf>,
    /// Incident in place of the scenario's: longitude first in decimal degrees; or as 31°02.7'N 34°00.7'W, with
    /// seconds or not; or a grid reference (MGRS, USNG).
    #[arg(long, value_name = "LON,LAT", value_parser = coordinates::place, allow_hyphen_values = true)]
    incident: Option<Place>,
    /// The only dump site to try: the spot on the road nearest to it, longitude first.
    #[arg(long, value_name = "LON,LAT", value_parser = coordinates::place, allow_hyphen_values = true)]
    dump: Option<Place>,
    /// Needed flow in US gallons per minute in place of the scenario's.
    #[arg(long, value_name = "GPM", allow_hyphen_values = true)]
    need: Option<f64>,
    /// Month of the year, 1 to 12, for seasonal sites.
    #[arg(long)]
    month: Option<u8>,
    /// Local time of the incident, without a zone, for roads closed or limited at times.
    #[arg(long, value_name = "2026-01-15T14:00")]
    when: Option<String>,
    /// Overlay (GeoJSON: closures, known bridge weights, local speeds, ...) beside the scenario's; may be
    /// given more than once.
    #[arg(long, value_name = "FILE.geojson")]
    overlay: Vec<PathBuf>,
    /// Times fitted by `tankerloop drill`, in place of the scenario's.
    #[arg(long, value_name = "FILE.toml")]
    drill: Option<PathBuf>,
    /// Water level at which fill sites are rated, in place of the scenario's.
    #[arg(long, value_name = "drought|normal")]
    water: Option<WaterLevel>,
    /// A fill site that is out of service; may be given more than once.
    #[arg(long, value_name = "SITE")]
    without: Vec<String>,
    /// The only tankers there are, as T1,T2; the whole fleet if not given.
    #[arg(long, value_name = "ID,ID", value_delimiter = ',')]
    tankers: Option<Vec<String>>,
    /// A road that is closed, by the id of its OpenStreetMap way; may be given more than once.
    #[arg(long, value_name = "WAY")]
    close: Vec<i64>,
    /// Replications of the simulation.
    #[arg(long, value_name = "N")]
    replications: Option<u32>,
    /// Seed of the simulation: the same seed gives the same answer.
    #[arg(long)]
    seed: Option<u64>,
    /// Stop at the closed form: options with their ceilings, which they cannot pass, and nothing of how much
    /// less waiting leaves. Quick, for a first look.
    #[arg(long, conflicts_with_all = ["verify", "series"])]
    no_simulation: bool,
    /// Write the GeoJSON here instead of to stdout.
    #[arg(short, long, value_name = "FILE")]
    output: Option<PathBuf>,
    /// Write a map page here: one HTML file with map, options, chart, turn lists and findings that opens in
    /// any browser without a network, from a stick or a mail.
    #[arg(long, value_name = "FILE.html")]
    page: Option<PathBuf>,
    /// Write tank level, flow offered and flow drawn against time here: one row an option and minute over
    /// all replications, as CSV, or as JSON where the name ends in .json. Drawn is the option's sustained
    /// flow from each replication's own start of sustained supply.
    #[arg(long, value_name = "FILE.csv")]
    series: Option<PathBuf>,
    /// Recompute the answer by slow independent means and compare.
    #[arg(long)]
    verify: bool,
    /// Say nothing on stderr but errors.
    #[arg(short, long)]
    quiet: bool,
    /// Print the turn lists after the table: each loop's loaded leg, its empty leg, and what the tankers
    /// do at either site. Directions are those of travel after the turn, distances those to the next.
    #[arg(long)]
    directions: bool,
    /// Units of the table on stderr and of the page at first; the GeoJSON names its units.
    #[arg(long, value_enum, default_value_t = Units::Us)]
    units: Units,
}

pub fn run(args: Args) -> Outcome<ExitCode> {
    let overrides = Overrides {
        roads: args.roads,
        incident: args.incident,
        dump: args.dump,
        need: args.need,
        month: args.month,
        when: args.when,
        replications: args.replications,
        seed: args.seed,
        drill: args.drill,
        overlay: args.overlay,
        water: args.water,
        without: args.without,
        tankers: args.tankers,
        closed_ways: args.close,
        no_simulation: args.no_simulation,
        ..Overrides::default()
    };
    if args.page.is_some() && !page::built() {
        let (cause, action) = page::MISSING;
        return Err(Refusal::new(Code::InputInvalid, Where::default().named("--page"), cause, action));
    }
    let problem = Problem::read(&args.scenario, &overrides)?;
    let (answer, roads) = solve(&problem)?;
    if !args.quiet {
        eprint!("{}", table::write(&answer, args.units.into()));
        if args.directions {
            eprint!("{}", steps::write(&answer, args.units.into()));
        }
        eprintln!("\n{}", crate::output::CAUTIONS[0]);
    }
    let text = geojson::write(&answer);
    if args.verify {
        let count = verified(&problem, &roads, &text)?;
        if !args.quiet {
            eprintln!("verified: {count} checks passed");
        }
    }
    let series = if args.page.is_some() || args.series.is_some() {
        in_time::series(&problem, &answer)?
    } else {
        Vec::new()
    };
    if let Some(path) = &args.page {
        let found = page::Found { problem: &problem, answer: &answer, text: &text, series: &series };
        let html = page::write(&found, &roads.network, args.units.into());
        shown::write(Some(path), html.as_bytes())?;
    }
    if let Some(path) = &args.series {
        let json = path.extension().is_some_and(|e| e.eq_ignore_ascii_case("json"));
        let text = if json { series::json(&answer, &series) } else { series::csv(&answer, &series) };
        shown::write(Some(path), text.as_bytes())?;
    }
    shown::write(args.output.as_deref(), text.as_bytes())?;
    Ok(exit_code(&answer))
}

/// Recomputes the very text that is handed out. An answer that fails is an error, and not written.
fn verified(problem: &Problem, roads: &Roads, text: &str) -> Outcome<usize> {
    let unreadable = |e: serde_json::Error| {
        Refusal::new(Code::VerifyFailed, Where::default(), e.to_string(), "report it with its scenario")
    };
    let answer = serde_json::from_str(text).map_err(unreadable)?;
    let verification = crate::verify::verify(problem, roads, &answer);
    match verification.findings() {
        failures if failures.is_empty() => Ok(verification.checks.len()),
        failures => Err(Refusal(failures)),
    }
}

/// Reads the roads and plans.
pub fn solve(problem: &Problem) -> Outcome<(Answer, Roads)> {
    let roads = problem.roads.read(&mut shown::reading(&problem.roads.file))?;
    let answer = crate::plan::plan(problem, &roads)?;
    Ok((answer, roads))
}

pub fn exit_code(answer: &Answer) -> ExitCode {
    ExitCode::from(if answer.meets_need() { 0 } else { 1 })
}
